//! What a share rests on: litres, looks by tube, photo and instrument, what is wrong with them, and pan first.

use super::*;
use crate::formula::colour::linear;
use crate::formula::flow::{Flow, Tanks};
use crate::view::{ExchangeView, LookMeans, ShareBasis};

/// Looks by comparison tube: litres and percent.
pub(super) fn looked(looks: &[(f64, i32)]) -> Journal {
    let mut journal = settled_job();
    journal.add(container("Linden"));
    for (litres, tube) in looks {
        journal.add(pushed(*litres, Some(*tube), None, false));
    }
    journal
}

pub(super) fn exchange(journal: &Journal) -> ExchangeView {
    journal.view().exchange.unwrap()
}

pub(super) fn plain(sentences: &[Sentence]) -> String {
    all(sentences).replace('\u{a0}', " ")
}

pub(super) fn findings(journal: &Journal) -> String {
    let view = journal.view();
    plain(&view.findings.iter().map(|finding| finding.text.clone()).collect::<Vec<_>>())
}

pub(super) fn instrument(litres: f64, new_percent: f64, uncertainty_percent: f64) -> Kind {
    Kind::ExchangeReading(v1::ExchangeReading {
        volume_in_litres: litres,
        instrument_new_percent: Some(new_percent),
        instrument_uncertainty_percent: Some(uncertainty_percent),
        ..Default::default()
    })
}

const BEFORE: [u8; 3] = [140, 80, 60];
const FRESH: [u8; 3] = [225, 150, 130];
const WHITE: [u8; 3] = [250, 250, 250];

fn written([red, green, blue]: [u8; 3]) -> String {
    format!("#{red:02X}{green:02x}{blue:02x}")
}

fn photo(litres: f64, glass: [u8; 3]) -> v1::ExchangeReading {
    v1::ExchangeReading {
        volume_in_litres: litres,
        glass_colour: written(glass),
        before_colour: written(BEFORE),
        fresh_colour: written(FRESH),
        white_colour: written(WHITE),
        ..Default::default()
    }
}

/// The glass that holds so much of the fluid before: absorbance adds up (ISO 80000-7), coded as IEC 61966-2-1 says.
fn glass(old: f64) -> [u8; 3] {
    std::array::from_fn(|at| {
        let white = linear(WHITE[at]);
        let [before, fresh] = [linear(BEFORE[at]) / white, linear(FRESH[at]) / white];
        let wanted = before.powf(old) * fresh.powf(1.0 - old) * white;
        let off = |coded: &u8| (linear(*coded) - wanted).abs();
        (0..=255).min_by(|one, other| off(one).total_cmp(&off(other))).unwrap()
    })
}

#[test]
fn litres_alone_give_a_share_and_say_so_wherever_it_stands() {
    let mut journal = looked(&[]);
    journal.add(pushed(12.0, None, None, true));
    let view = journal.view();
    let exchange = view.exchange.as_ref().unwrap();
    assert_eq!(exchange.progress.basis, Some(ShareBasis::Litres));
    // Simulated from the same priors (our own study): 12 L into 9 L leave 53 to 90 of 100 parts new.
    let (least, greatest) = exchange.share_after_exchange.unwrap().interval95_within((0.0, 1.0));
    assert!((least - 0.53).abs() < 0.06 && (greatest - 0.90).abs() < 0.06, "{least} {greatest}");
    assert!(exchange.curve.len() > 10 && exchange.curve[0].share == 0.0);
    assert!(!exchange.progress.two_ways_fit, "nobody looked, so nothing fits anything");
    assert!(all(&view.in_short).contains("by litres alone: nobody looked at the fluid"));
    assert!(all(&exchange.remarks).contains("by the litres alone"));
    assert!(all(&exchange.remarks).contains("a little too hopeful"));
    assert!(all(&view.not_measured).contains("Looks at the fluid that came out"));
}

#[test]
fn one_look_corrects_what_is_usual_and_three_spaced_ones_carry_the_balance() {
    let mut alone = looked(&[]);
    alone.add(pushed(12.0, None, None, true));
    let alone = exchange(&alone);
    let one = exchange(&looked(&[(12.0, 75)]));
    let three = exchange(&looked(&[(4.0, 25), (8.0, 50), (12.0, 75)]));
    let u = |view: &ExchangeView| view.share_after_exchange.unwrap().standard_uncertainty;
    assert_eq!(one.progress.basis, Some(ShareBasis::Models));
    assert!(plain(&one.remarks).contains("fewer than three spaced looks"));
    assert_eq!(three.progress.basis, Some(ShareBasis::Balance));
    assert!(u(&alone) > u(&one) && u(&one) > u(&three), "{} {} {}", u(&alone), u(&one), u(&three));
    assert!(one.progress.kept_litres.is_none());
    // Trapezoid over (0, 1), (4, .75), (8, .5), (12, .25): 4 × (.875 + .625 + .375) L.
    assert!((three.progress.kept_litres.unwrap().value - 7.5).abs() < 1e-9);
    assert_eq!(three.curve.last().unwrap().share, three.share_after_exchange.unwrap().value);
}

#[test]
fn the_curve_starts_at_nothing_ends_at_the_share_and_has_no_step() {
    for looks in [&[][..], &[(6.0, 50)][..], &[(3.0, 25), (6.0, 50), (9.0, 75)][..]] {
        let mut journal = looked(looks);
        journal.add(pushed(12.0, None, None, true));
        let view = exchange(&journal);
        let (first, last) = (view.curve[0], *view.curve.last().unwrap());
        assert_eq!((first.litres, first.share), (0.0, 0.0));
        assert!((last.litres - 12.0).abs() < 1e-9 && last.share == view.share_after_exchange.unwrap().value);
        for pair in view.curve.windows(2) {
            assert!(pair[1].litres > pair[0].litres && pair[1].share - pair[0].share < 0.06, "{pair:?}");
            assert!(pair[1].least <= pair[1].share && pair[1].share <= pair[1].greatest, "{pair:?}");
        }
    }
}

#[test]
fn readings_of_an_instrument_give_the_share_of_two_tanks() {
    let mut journal = looked(&[]);
    let tanks = Tanks::new(9.0, 2.0).unwrap();
    for litre in 1..=12 {
        let litres = f64::from(litre);
        journal.add(instrument(litres, (1.0 - tanks.outlet(litres)) * 100.0, 2.0));
    }
    let view = exchange(&journal);
    // Two tanks in a row of 9 L, 12 L pushed: 1 - e^(-a) (1 + a / 2), a = 24 / 9 (Levenspiel, tanks in series).
    let a: f64 = 24.0 / 9.0;
    let inside = 1.0 - (-a).exp() * (1.0 + a / 2.0);
    let share = view.share_after_exchange.unwrap();
    assert!((share.value - inside).abs() < 0.02, "{share:?} {inside}");
    assert!(view.looks.iter().all(|look| look.means == LookMeans::Instrument && !look.at_most));
    assert!(plain(&view.remarks).contains("12 looks by instrument"));
}

#[test]
fn colours_of_one_photo_are_read_as_what_was_mixed() {
    let mut journal = looked(&[]);
    let tanks = Tanks::new(9.0, 1.7).unwrap();
    for litres in [3.0, 6.0, 9.0, 12.0] {
        journal.add(Kind::ExchangeReading(photo(litres, glass(tanks.outlet(litres)))));
    }
    let view = exchange(&journal);
    for look in &view.looks {
        assert!((1.0 - look.glass_new_share - tanks.outlet(look.litres)).abs() < 0.03, "{look:?}");
        assert!(look.means == LookMeans::Photo && look.standard_uncertainty > 0.02);
    }
    let inside = 1.0 - tanks.mean(12.0);
    let (least, greatest) = view.share_after_exchange.unwrap().interval95();
    assert!(least < inside && inside < greatest, "{inside}");
    assert!(plain(&view.remarks).contains("4 looks by phone photo"));
    let text = plain(&journal.view().story.iter().map(|line| line.text.clone()).collect::<Vec<_>>());
    assert!(text.contains("colours in one photo: glass #"), "{text}");
}

#[test]
fn the_best_means_of_a_reading_counts_and_a_doubtful_photo_stands_back() {
    let sound = v1::ExchangeReading { tube_percent: Some(50), ..photo(4.0, glass(0.6)) };
    let mut journal = looked(&[]);
    journal.add(Kind::ExchangeReading(sound.clone()));
    let view = exchange(&journal);
    assert_eq!(view.looks[0].means, LookMeans::Photo);
    assert!(plain(&view.remarks).contains("At 4.0 L several means were read; the photo counts."));
    let all_three = v1::ExchangeReading {
        instrument_new_percent: Some(42.0),
        instrument_uncertainty_percent: Some(2.0),
        ..sound
    };
    let mut journal = looked(&[]);
    journal.add(Kind::ExchangeReading(all_three));
    let look = exchange(&journal).looks[0];
    assert!(look.means == LookMeans::Instrument && (look.glass_new_share - 0.42).abs() < 1e-12);

    let turned = v1::ExchangeReading {
        before_colour: written(FRESH),
        fresh_colour: written(BEFORE),
        tube_percent: Some(50),
        ..photo(4.0, glass(0.3))
    };
    let mut journal = looked(&[]);
    journal.add(Kind::ExchangeReading(turned.clone()));
    assert_eq!(exchange(&journal).looks[0].means, LookMeans::Tube);
    assert!(findings(&journal).contains("look whether the two were exchanged"));
    let mut journal = looked(&[]);
    journal.add(Kind::ExchangeReading(v1::ExchangeReading { tube_percent: None, ..turned }));
    assert!(exchange(&journal).looks.is_empty(), "a photo of which something is wrong is no look");
    assert!(findings(&journal).contains("look whether the two were exchanged"));
}

#[test]
fn colours_that_carry_no_share_say_why() {
    let bright = v1::ExchangeReading { white_colour: "#808080".into(), ..photo(4.0, glass(0.1)) };
    let black = v1::ExchangeReading { white_colour: "#000000".into(), ..photo(4.0, glass(0.1)) };
    let alike = v1::ExchangeReading { before_colour: written(FRESH), ..photo(4.0, FRESH) };
    for (reading, said) in [
        (bright, "brighter than the white ground"),
        (black, "its white ground is black"),
        (alike, "look too much alike"),
    ] {
        let mut journal = looked(&[]);
        journal.add(Kind::ExchangeReading(reading));
        assert!(findings(&journal).contains(said), "{said}: {}", findings(&journal));
        assert!(exchange(&journal).looks.is_empty(), "{said}");
    }
    let mut journal = looked(&[]);
    journal.add(Kind::ExchangeReading(photo(2.0, [20, 8, 6])));
    assert!(exchange(&journal).looks[0].at_most);
    let told = findings(&journal);
    assert!(told.contains("At 2.0 L the fluid was too dark to be read: "), "{told}");
    assert!(!told.contains("100 of 100"), "{told}");
    assert!(plain(&exchange(&journal).remarks).contains("A short bar with a line down"));
    let mut journal = looked(&[]);
    journal.add(instrument(9.0, 112.0, 2.0)).add(instrument(10.0, 101.0, 2.0));
    let told = findings(&journal);
    assert!(told.contains("The instrument showed 112 of 100 new at 9.0 L; it is taken as 100."), "{told}");
    assert!(!told.contains("at 10.0 L"), "a little above 100 is noise: {told}");
}

#[test]
fn looks_that_do_not_fit_are_told_with_their_entries() {
    let twice = looked(&[(4.0, 25), (4.0, 25), (8.0, 50)]);
    let view = twice.view();
    let finding =
        view.findings.iter().find(|finding| said(&finding.text).starts_with("Several looks at 4.0"));
    let finding = finding.unwrap();
    assert!(!finding.on_record && finding.seqs == [6, 7], "{finding:?}");
    assert!(findings(&looked(&[(4.0, 0), (4.0, 75)])).contains("differ by more than looking can explain"));
    let back = looked(&[(6.0, 25), (4.0, 50), (8.0, 50)]);
    assert!(
        findings(&back).contains("The litre counter went back from 6.0 L to 4.0 L"),
        "{}",
        findings(&back)
    );
    assert!(!findings(&looked(&[(4.0, 25), (6.0, 50)])).contains("went back"));
    let darker = looked(&[(4.0, 75), (8.0, 0)]);
    assert!(findings(&darker).contains("The look at 8.0 L shows more old fluid than the look at 4.0 L"));
    assert!(exchange(&darker).share_after_exchange.is_none(), "no usual way of flowing explains them");
    for journal in [&twice, &back] {
        let share = exchange(journal).share_after_exchange.unwrap();
        assert!(share.value.is_finite() && share.standard_uncertainty > 0.02, "the number stands beside it");
    }
}

#[test]
fn without_the_fill_there_is_no_share_but_the_litres_kept() {
    let mut journal = Journal::new();
    journal.add(arrival()).add(Kind::VariantSettled(v1::VariantSettled {
        variant_code: "Birch-6".into(),
        means: 2,
        source: "maker's list".into(),
        fluid_code: "Hazel".into(),
        transmission_plate_agrees: 1,
        ..Default::default()
    }));
    for (litres, tube) in [(4.0, 25), (8.0, 50), (12.0, 75)] {
        journal.add(pushed(litres, Some(tube), None, litres > 11.0));
    }
    let view = journal.view();
    let exchange = view.exchange.as_ref().unwrap();
    assert!(exchange.share_after_exchange.is_none() && exchange.curve.is_empty());
    assert!(exchange.progress.basis.is_none() && exchange.progress.to_go.is_none());
    assert!((exchange.progress.kept_litres.unwrap().value - 7.5).abs() < 1e-9);
    assert!(plain(&exchange.remarks).contains("How much the whole transmission holds is not known"));
    assert!(findings(&journal).contains("no share of new fluid is given"));
    assert!(all(&view.in_short).contains("was not measured"));
}

#[test]
fn before_the_pan_the_share_at_handover_is_a_forecast_that_comes_true() {
    let mut journal = exchanged_job();
    let before = journal.view();
    let expected = before.exchange.as_ref().unwrap().progress.share_expected.unwrap();
    let figure = before.figures.iter().find(|figure| figure.key == "new_fluid_share_after_pan").unwrap();
    assert!(said(&figure.label).contains("a forecast") && figure.estimate == expected);
    assert!(plain(&before.exchange.unwrap().remarks).contains("Forecast: after pan and refill about"));
    journal.add(drained(3.05));
    let drained = exchange(&journal).progress.share_expected.unwrap();
    journal.add(refilled(3.07, "Linden"));
    let view = journal.view();
    let exchange = view.exchange.as_ref().unwrap();
    let done = exchange.share_after_pan.unwrap();
    assert!(exchange.progress.share_expected.is_none());
    // The catalogue states 3.6 L, 3.05 kg at 0.847 kg/L are 3.60 L; the 0.25 L of the parts come at the level.
    assert!((expected.value - done.value).abs() < 0.03 && (drained.value - done.value).abs() < 0.03);
    let figure = view.figures.iter().find(|figure| figure.key == "new_fluid_share_after_pan").unwrap();
    assert!(!said(&figure.label).contains("forecast"));
    let now = view.figures.iter().find(|figure| figure.key == "new_fluid_share_now").unwrap();
    assert_eq!(now.estimate, done);
}

#[test]
fn a_pan_that_is_left_out_foretells_nothing() {
    let mut journal = looked(&[(4.0, 25)]);
    assert!(exchange(&journal).progress.share_expected.is_some());
    journal.add(Kind::Skipped(v1::Skipped { step: "pan".into(), reason: 2 }));
    let view = exchange(&journal);
    assert!(view.progress.share_expected.is_none());
    // 17 L at hand less 0.5 L for the level and 0.6 L in the hoses: nothing is kept for the pan.
    assert!((view.progress.left_litres.unwrap() - 11.9).abs() < 1e-9);
}

#[test]
fn a_pan_changed_first_gives_the_share_by_the_balance_alone() {
    let mut journal = settled_job();
    journal.add(container("Linden")).add(drained(3.05)).add(refilled(3.05, "Linden"));
    for (litres, tube) in [(3.0, 50), (6.0, 50), (9.0, 75)] {
        journal.add(pushed(litres, Some(tube), None, litres > 8.0));
    }
    let view = journal.view();
    let exchange = view.exchange.as_ref().unwrap();
    assert_eq!(exchange.progress.basis, Some(ShareBasis::PanFirst));
    // 3.05 kg at 0.847 kg/L are 3.601 L. The outlet starts between all old and all new, in the middle 0.5:
    // 3 × .5 + 3 × .5 + 3 × .375 = 4.125 L kept beyond them. 0.25 L left with the parts and are not made up for.
    let by_hand = (3.601 + 3.0 * 0.5 + 3.0 * 0.5 + 3.0 * 0.375) / (9.0 - 0.25);
    let share = exchange.share_after_pan.unwrap();
    let kept = exchange.progress.kept_litres.unwrap().value;
    assert!((kept + 3.601 - 8.75 * by_hand).abs() < 0.02 && exchange.progress.alarms.is_empty());
    assert!((share.value - by_hand).abs() < 2e-3, "{share:?} {by_hand}");
    let last = looked(&[(3.0, 50), (6.0, 50), (9.0, 75)]);
    let last = super::exchange::exchange(&last).share_after_exchange.unwrap();
    assert!(share.standard_uncertainty > last.standard_uncertainty, "the start is less certain");
    let curve = (exchange.curve[0], exchange.curve.last().unwrap());
    assert!(
        (curve.0.share - 3.601 / 8.75).abs() < 2e-3 && (curve.1.share - by_hand).abs() < 2e-3,
        "{curve:?}"
    );
    assert!(plain(&exchange.remarks).contains("The pan was changed before the exchange"));
    assert!(
        plain(&exchange.remarks).contains("At the end ") && !plain(&exchange.remarks).contains("After pan")
    );
    let figure = view.figures.iter().find(|figure| figure.key == "new_fluid_share_after_pan").unwrap();
    assert_eq!(said(&figure.label), "New fluid inside at the end");
    let parts = format!("About {:.0} of 100 parts", share.value * 100.0);
    assert!(plain(&view.in_short).contains(&parts), "{}", plain(&view.in_short));
}

#[test]
fn a_pan_first_with_few_looks_or_in_between_gives_no_share() {
    let mut first = settled_job();
    first.add(container("Linden")).add(drained(3.05)).add(refilled(3.05, "Linden"));
    first.add(pushed(9.0, Some(75), None, true));
    let mut between = settled_job();
    between.add(container("Linden")).add(pushed(3.0, Some(25), None, false));
    between.add(drained(3.05)).add(refilled(3.05, "Linden"));
    for litres in [6.0, 9.0] {
        between.add(pushed(litres, Some(50), None, litres > 8.0));
    }
    let mut empty = settled_job();
    empty.add(container("Linden")).add(drained(3.05)).add(refilled(0.5, "Linden"));
    for litres in [3.0, 6.0, 9.0] {
        empty.add(pushed(litres, Some(50), None, litres > 8.0));
    }
    for (journal, why) in
        [(first, "below three spaced looks"), (between, "not certain"), (empty, "not certain")]
    {
        let view = exchange(&journal);
        assert!(
            view.share_after_exchange.is_none() && view.share_after_pan.is_none() && view.curve.is_empty()
        );
        assert!(plain(&view.remarks).contains(why), "{}", plain(&view.remarks));
        assert!(all(&journal.view().in_short).contains("was not measured"));
    }
}

#[test]
fn two_ways_of_flowing_are_said_on_the_expert_s_page_only() {
    let view = exchanged_job().view();
    let exchange = view.exchange.as_ref().unwrap();
    assert_eq!(exchange.progress.two_ways_fit, all(&exchange.remarks).contains("Two ways of flowing"));
    let many: Vec<(f64, i32)> = vec![(3.0, 50), (6.0, 75), (9.0, 75), (12.0, 90)];
    let both = [&many[..], &[(4.0, 25), (8.0, 50), (12.0, 75)][..], &[(12.0, 75)][..]];
    assert!(both.iter().any(|looks| super::exchange::exchange(&looked(looks)).progress.two_ways_fit));
    for looks in both {
        let view = looked(looks).view();
        assert!(
            !all(&view.in_short).contains("ways of flowing")
                && !all(&view.exchange.unwrap().advice).contains("ways of")
        );
    }
}

#[test]
fn a_mean_over_readings_carries_the_scatter_and_never_counts_as_better_than_its_instrument() {
    let fed = |litres: f64, new: f64, spread: f64, count: i32| {
        let Kind::ExchangeReading(reading) = instrument(litres, new, 2.0) else { panic!("it is a reading") };
        Kind::ExchangeReading(v1::ExchangeReading {
            sample_count: Some(count),
            instrument_spread_percent: Some(spread),
            ..reading
        })
    };
    let mut journal = looked(&[]);
    // 6 / √4 = 3 beside 2: √13 of 100 parts (JCGM 100:2008, 4.2.3 and 5.1.2).
    journal.add(fed(4.0, 40.0, 6.0, 4));
    journal.add(fed(4.0, 41.0, 0.0, 4));
    let view = journal.view();
    let looks = &view.exchange.as_ref().unwrap().looks;
    assert!((looks[0].standard_uncertainty - 13.0_f64.sqrt() / 100.0).abs() < 1e-12, "{looks:?}");
    assert!((looks[1].standard_uncertainty - 0.02).abs() < 1e-12);
    let story = plain(&view.story.iter().map(|line| line.text.clone()).collect::<Vec<_>>());
    assert!(
        story.contains("instrument 40.0 of 100 new (± 3.6 standard uncertainty), mean of 4 lines"),
        "{story}"
    );
    // An instrument goes on while nothing flows; nobody looked twice by mistake.
    assert!(!findings(&journal).contains("Several looks at"), "{}", findings(&journal));
}
