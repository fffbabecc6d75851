//! When no share is given although litres and looks are there, and what a surplus and an open pan mean for it.

use super::exchange::{exchange, findings, instrument, looked, plain};
use super::*;
use crate::view::ExchangeView;

/// Pan, refill and level in litres of which nobody read a temperature.
fn drain_litres(litres: f64) -> Kind {
    let amount = Some(v1::drain::Amount::VolumeLitres(litres));
    Kind::Drain(v1::Drain { place: 1, amount, means: 1, debris: 2, ..Default::default() })
}

fn fill_litres(litres: f64, purpose: i32) -> Kind {
    let amount = Some(v1::fill::Amount::VolumeLitres(litres));
    Kind::Fill(v1::Fill { purpose, amount, means: 1, fluid_code: "Linden".into(), ..Default::default() })
}

fn no_share(journal: &Journal, why: &str) -> ExchangeView {
    let view = journal.view();
    let exchange = view.exchange.clone().unwrap();
    let told = plain(&exchange.remarks);
    assert!(told.contains(why), "{told}");
    assert!(exchange.share_after_exchange.is_none() && exchange.share_after_pan.is_none());
    let progress = &exchange.progress;
    assert!(progress.share_now.is_none() && progress.share_expected.is_none() && progress.to_go.is_none());
    assert!(progress.next_litre_gain.is_none() && progress.kept_litres.is_none());
    assert!(
        exchange.curve.is_empty() && !view.figures.iter().any(|figure| figure.key.starts_with("new_fluid"))
    );
    assert!(plain(&view.in_short).contains("How much of the fluid is now new was not found out."));
    exchange
}

#[test]
fn what_came_in_beyond_what_came_out_is_counted_with_the_litres_inside() {
    // 6 L in and 4 L out, one look of 50: some 5.5 of 11 L are new, and some 62 of 100 after the pan.
    let mut journal = looked(&[]);
    journal.add(pushed(6.0, Some(50), Some(4.0), true)).add(drained(3.05)).add(refilled(3.05, "Linden"));
    let share = exchange(&journal).share_after_pan.unwrap().value;
    assert!((share - 0.62).abs() < 0.03, "{share}");

    // 12.0 L in and 10.5 L out, looks of 25, 50, 90; pan 3.0 L out and in, and 0.6 L more until the level is right.
    // At 15 °C 11.96 L and 10.15 L, 2.90 L and 2.99 L, 0.60 L: 9 L and 0.25 L on the parts less all of that arrived,
    // 6.75 L. The looks keep 7.2 × 10.15 / 11.96 = 6.11 L, so 7.92 of 8.56 L are new, and with a pan of 0.91
    // it is (7.92 - 3.15 × 0.91 + 3.59) / 9.
    let mut journal = looked(&[(4.0, 25), (8.0, 50)]);
    journal.add(pushed(12.0, Some(90), Some(10.5), true));
    let before = exchange(&journal);
    journal.add(drain_litres(3.0)).add(fill_litres(3.0, 1)).add(fill_litres(0.6, 2)).add(level(43.0, 2));
    let view = exchange(&journal);
    let (after, now) = (view.share_after_exchange.unwrap(), view.share_after_pan.unwrap());
    assert!((after.value - 0.925).abs() < 0.02, "{after:?}");
    assert!((now.value - 0.96).abs() < 0.02 && now.value > after.value, "{now:?}");
    assert!(after.value > before.share_after_exchange.unwrap().value + 0.1, "it had arrived short");
}

#[test]
fn litres_that_no_vehicle_is_off_by_give_no_share() {
    let mut journal = looked(&[(4.0, 25), (8.0, 50)]);
    journal.add(pushed(12.0, Some(75), Some(8.0), true));
    let view = no_share(&journal, "an amount is missing or wrong; no share is given");
    assert_eq!(view.looks.len(), 3);
}

#[test]
fn looks_and_litres_that_contradict_each_other_give_no_share() {
    // Only old fluid in 12 L that came out: 11 of at most 9 L would be new.
    let mut journal = looked(&[]);
    for (litres, new) in [(3.0, 8.0), (6.0, 10.0), (9.0, 10.0), (12.0, 12.0)] {
        journal.add(instrument(litres, new, 3.0));
    }
    no_share(&journal, "The litres and the looks contradict each other");
}

#[test]
fn fluid_that_never_reached_the_glass_or_came_back_at_once_gives_no_share_and_the_customer_reads_it() {
    let nothing = looked(&[(2.0, 0), (4.0, 0), (6.0, 0)]);
    no_share(&nothing, "no fresh fluid reached the glass");
    assert!(plain(&nothing.view().please_note).contains("no fresh fluid came out again"));
    let mut at_once = looked(&[(0.3, 50), (0.6, 75), (4.0, 90), (8.0, 100)]);
    at_once.add(pushed(9.0, Some(100), None, true)).add(drained(3.05)).add(refilled(3.05, "Linden"));
    no_share(&at_once, "fresh fluid came back straight away");
    assert!(plain(&at_once.view().please_note).contains("came back straight away"));
    let usual = plain(&exchanged_job().view().please_note);
    assert!(!usual.contains("fresh fluid") && !usual.contains("straight away"));
}

#[test]
fn litres_that_would_leave_nothing_old_behind_a_glass_half_old_give_no_share() {
    // By the trapezoid 9.0 of 9 L would be new: 4 × 0.875 + 4 × 0.75 + 4 × 0.625.
    no_share(&looked(&[(4.0, 25), (8.0, 25), (12.0, 50)]), "contradict each other");
}

#[test]
fn two_looks_that_no_way_of_flowing_explains_give_no_share() {
    let darker = looked(&[(4.0, 75), (6.5, 0)]);
    no_share(&darker, "the looks do not fit any usual way of flowing");
    assert!(findings(&darker).contains("do not fit any usual way"));
}

#[test]
fn a_pan_refilled_in_part_has_a_forecast_and_no_share_yet() {
    let mut journal = exchanged_job();
    journal.add(drained(3.05));
    let open = exchange(&journal).progress.share_expected.unwrap();
    journal.add(refilled(1.0, "Linden"));
    let view = journal.view();
    let exchange_view = view.exchange.as_ref().unwrap();
    assert!(exchange_view.share_after_pan.is_none() && exchange_view.progress.share_now.is_none());
    let expected = exchange_view.progress.share_expected.unwrap();
    assert!((expected.value - open.value).abs() < 1e-9, "the rest is still to come");
    assert!(
        plain(&exchange_view.remarks).contains("3.6 L ran out of the pan and only 1.2 L are refilled yet.")
    );
    assert!(plain(&view.in_short).contains("is said once the pan is refilled"), "{}", plain(&view.in_short));
    journal.add(refilled(2.05, "Linden"));
    let done = exchange(&journal);
    assert!(done.share_after_pan.is_some() && done.progress.share_expected.is_none());
    assert!(!plain(&journal.view().in_short).contains("once the pan is refilled"));
}

#[test]
fn three_thousand_looks_are_all_read_while_the_exchange_runs_and_after_it() {
    let mut journal = looked(&[]);
    for look in 1..=3_000 {
        let litres = f64::from(look) * 0.02;
        let new = 100.0 * (1.0 - (-litres / 9.0_f64).exp());
        let away = |tube: &i32| (f64::from(*tube) - new).abs();
        let tubes = [0, 25, 50, 75, 90, 100].into_iter();
        let tube = tubes.min_by(|one, other| away(one).total_cmp(&away(other)));
        journal.add(pushed(litres, tube, None, false));
    }
    let view = exchange(&journal);
    assert!(view.looks.len() == 3_000 && view.share_after_exchange.is_some());
    journal.add(pushed(60.0, Some(100), None, true));
    let view = exchange(&journal);
    assert!(view.looks.len() == 3_001 && view.share_after_exchange.is_some());
    // One mixed volume: all but e^(-60 / 9) is new.
    assert!(view.share_after_exchange.unwrap().value > 0.9);
}
