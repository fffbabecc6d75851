//! The plan before the work: the same litres compared, what comes first, and numbers that a closed form knows.

use super::exchange_live::workshop_without;
use super::gates::{codes, decision, drive, sample};
use super::*;
use crate::formula::flow::{Flow, Tanks, TwoCompartments};
use crate::formula::sequence::{exchange_then_pan, pan_then_tanks, pan_then_two_compartments};
use crate::plan::{Asked, Choice, Plan, Way, plan};

fn planned(journal: &Journal, kit_litres: Option<f64>) -> Plan {
    journal.with(|context, entries| plan(context, entries, Asked { kit_litres }))
}

fn choice(plan: &Plan, way: Way) -> &Choice {
    plan.choices.iter().find(|choice| choice.way == way).unwrap()
}

fn advised(plan: &Plan) -> Option<Way> {
    plan.choices.iter().find(|choice| choice.advised).map(|choice| choice.way)
}

/// A job with another text of the workshop's settings.
fn settled_with(change: impl Fn(&str) -> String) -> Journal {
    let mut journal = settled_job();
    let files = [("workshop.toml", change(&without_signing())), ("alder-8.toml", ALDER.to_owned())];
    let files = files.map(|(name, text)| (name.to_owned(), text.into_bytes()));
    journal.revision = Revision::parse(files.to_vec()).unwrap();
    journal
}

/// Without the interval no distance is high.
fn settled_plainly() -> Journal {
    settled_with(|text| {
        let (before, after) = text.split_once("[service_interval]").unwrap();
        let (_, after) = after.split_once("[late_entry]").unwrap();
        format!("{before}[late_entry]{after}")
    })
}

#[test]
fn one_drain_is_the_closed_form_of_dilution_and_more_never_exceed_it() {
    // Fill and display known exactly; 3.6 of 9.0 L: 1 - 0.6ⁿ, where all of it mixes in between.
    let journal = settled_with(|text| {
        let text =
            text.replace("relative_standard_uncertainty = 0.05", "relative_standard_uncertainty = 0.0");
        text.replace("relative_error_limit = 0.03", "relative_error_limit = 0.0")
            .replace("new_share = 0.80", "new_share = 0.99")
    });
    let plan = planned(&journal, Some(20.0));
    let once = choice(&plan, Way::DrainAndFill(1)).share;
    assert!((once.value - 0.4).abs() < 1e-12, "{once:?}");
    assert!((once.standard_uncertainty - 0.18 / 9.0).abs() < 1e-9, "by the pan’s own litres: {once:?}");
    for (times, new) in [(1, 0.4), (2, 0.64), (3, 0.784), (4, 0.8704)] {
        let row = choice(&plan, Way::DrainAndFill(times));
        let (_, greatest) = row.share.interval95();
        assert!(row.share.value <= new + 1e-12 && greatest > new - 1e-12, "{times}: {:?}", row.share);
        assert!((row.litres - (3.6 * f64::from(times) + 0.5)).abs() < 1e-9);
        assert!((row.minutes - 15.0 * f64::from(times)).abs() < 1e-9);
    }
}

/// The mean and the spread of a share over what is usual, by a grid over the priors: independent of the steps of a
/// whole standard deviation that the plan takes.
fn over_the_priors(
    pushed: f64,
    tanks: impl Fn(&Tanks, f64) -> f64,
    slow: impl Fn(&TwoCompartments, f64) -> f64,
) -> (f64, f64) {
    const STEPS: i32 = 12;
    let nodes: Vec<(f64, f64)> = (-STEPS..=STEPS)
        .map(|step| 3.5 * f64::from(step) / f64::from(STEPS))
        .map(|z| (z, (-z * z / 2.0).exp()))
        .collect();
    let fill_sd = 0.05_f64.hypot(0.03 / 3.0_f64.sqrt());
    let (mut weights, mut sum, mut squares) = (0.0, 0.0, 0.0);
    let mut take = |weight: f64, old: f64| {
        weights += weight;
        sum += weight * (1.0 - old);
        squares += weight * (1.0 - old).powi(2);
    };
    let all: f64 = nodes.iter().map(|(_, weight)| weight).sum();
    for (z, one) in &nodes {
        let fill = 9.0 * (fill_sd * z).exp();
        for (z, two) in &nodes {
            let flow = Tanks::new(fill, 1.7 * (0.40 * z).exp()).unwrap();
            take(one * two * all, tanks(&flow, pushed));
            let part = 1.0 / (1.0 + (1.386_294_4 - 0.7 * z).exp());
            for (z, three) in &nodes {
                let exchange = 0.05 * (0.8 * z).exp();
                let flow = TwoCompartments::new(fill * (1.0 - part), fill * part, exchange).unwrap();
                take(one * two * three, slow(&flow, pushed));
            }
        }
    }
    let mean = sum / weights;
    (mean, (squares / weights - mean * mean).sqrt())
}

#[test]
fn shares_are_those_of_an_integration_over_what_is_usual() {
    let plan = planned(&settled_plainly(), Some(14.0));
    let (pushed, alone) = (9.4, 13.0);
    let rows = [
        (Way::ExchangeOnly, over_the_priors(alone, |flow, v| flow.mean(v), |flow, v| flow.mean(v))),
        (
            Way::ExchangeThenPan,
            over_the_priors(
                pushed,
                |flow, v| exchange_then_pan(flow, v, 3.6),
                |flow, v| exchange_then_pan(flow, v, 3.6),
            ),
        ),
        (
            Way::PanThenExchange,
            over_the_priors(
                pushed,
                |flow, v| pan_then_tanks(flow, v, 3.6),
                |flow, v| pan_then_two_compartments(flow, v, 3.6),
            ),
        ),
        (
            Way::DrainAndFill(3),
            over_the_priors(
                0.0,
                |flow, _| (1.0 - 3.6 / flow.fill()).powi(3),
                |flow, _| {
                    let flowing = flow.flowing_litres();
                    1.0 - flowing / flow.fill() * (1.0 - (1.0 - 3.6 / flowing).powi(3))
                },
            ),
        ),
    ];
    for (way, (mean, spread)) in rows {
        let row = choice(&plan, way);
        println!("{way:?}: {:?}; integrated {mean:.4} ± {spread:.4}", row.share);
        assert!((row.share.value - mean).abs() < 0.01, "{way:?}: {:?}, {mean}", row.share);
        assert!(
            (row.share.standard_uncertainty - spread).abs() < 0.015,
            "{way:?}: {:?}, {spread}",
            row.share
        );
        let drains = matches!(way, Way::DrainAndFill(_));
        assert!(drains || (row.litres - 14.0).abs() < 1e-9, "the same litres are compared");
    }
}

#[test]
fn a_normal_job_is_exchanged_first_since_that_brings_most_new_fluid() {
    let mut journal = settled_plainly();
    journal.add(codes(1, &["P0420"])).add(drive(1));
    let plan = planned(&journal, Some(14.0));
    assert!(plan.first.is_empty() && plan.missing.is_empty(), "{plan:?}");
    assert_eq!(advised(&plan), Some(Way::ExchangeThenPan));
    assert_eq!(
        said(plan.advice.as_ref().unwrap()),
        "Exchange, then pan: most new fluid for the same litres."
    );
    let then = choice(&plan, Way::ExchangeThenPan);
    assert!((then.pushed_litres - 9.3).abs() < 1e-9 && (then.minutes - (15.0 + 18.6 + 25.0)).abs() < 1e-9);
    let keys: Vec<&str> = plan.choices.iter().map(|choice| choice.way.key()).collect();
    assert_eq!(
        keys,
        [
            "exchange-only",
            "exchange-then-pan",
            "pan-then-exchange",
            "drain-and-fill",
            "drain-and-fill",
            "drain-and-fill"
        ]
    );
    let basis = all(&plan.basis);
    assert!(basis.contains("3.6\u{a0}L are for the pan"), "{basis}");
    assert!(basis.contains("9.3\u{a0}L to push, or 12.9\u{a0}L where the pan stays on"), "{basis}");
    assert!(basis.contains("common practice, no source"), "{basis}");
}

#[test]
fn what_speaks_for_looking_inside_puts_the_pan_first() {
    let signs: [(Kind, &str); 4] = [
        (codes(1, &["P0700"]), "fault code P0700"),
        (sample(1, 1, 1), "burnt smell"),
        (sample(1, 1, 3), "glitter in the sample"),
        (
            Kind::Arrival(v1::Arrival {
                plate: "PH 482 K".into(),
                reasons: vec![v1::VisitReason::Slip.into()],
                ..Default::default()
            }),
            "slipping",
        ),
    ];
    for (kind, word) in signs {
        let mut journal = settled_plainly();
        journal.add(kind);
        let plan = planned(&journal, Some(14.0));
        assert_eq!(advised(&plan), Some(Way::PanThenExchange), "{word}");
        let advice = said(plan.advice.as_ref().unwrap());
        assert!(advice.starts_with("Pan, then exchange (") && advice.contains(word), "{advice}");
        assert!(advice.contains("the debris is seen before fluid is spent"), "{advice}");
    }
    // 118 240 km are more than twice the interval of 50 000 km.
    let far = planned(&settled_job(), Some(14.0));
    assert!(
        said(far.advice.as_ref().unwrap()).contains("118\u{202f}240\u{a0}km without a service known here")
    );
}

#[test]
fn signs_without_litres_for_the_pan_are_said_and_promise_nothing() {
    let mut journal = settled_plainly();
    journal.add(sample(1, 1, 3));
    let plan = planned(&journal, Some(4.2));
    let advice = said(plan.advice.as_ref().unwrap());
    assert!(plan.choices.iter().all(|choice| choice.way != Way::PanThenExchange));
    assert!(
        advice.ends_with(
            "Pan, then exchange (burnt smell, glitter in the sample) is not possible with these litres."
        ),
        "{advice}"
    );
    assert!(!advice.contains("debris"), "{advice}");
}

#[test]
fn a_lead_of_less_than_two_parts_gives_way_to_seeing_the_debris_first() {
    let mut close = 0;
    for kit in [4.6, 5.0, 6.0, 8.0, 10.0, 14.0, 20.0, 30.0, 45.0, 60.0] {
        let plan = planned(&settled_plainly(), Some(kit));
        let Some(first) = plan.choices.iter().find(|choice| choice.way == Way::PanThenExchange) else {
            continue;
        };
        let most = plan.choices.iter().map(|choice| choice.share.value).fold(0.0, f64::max);
        let is_close = most - first.share.value < 0.02;
        assert_eq!(advised(&plan) == Some(Way::PanThenExchange), is_close, "{kit}");
        if is_close && most > first.share.value {
            let advice = said(plan.advice.as_ref().unwrap());
            assert!(advice.contains("the debris is seen before fluid is spent"), "{advice}");
            close += 1;
        }
    }
    assert!(close > 0, "some litres make the ways alike");
}

#[test]
fn what_withholds_the_exchange_is_said_and_nothing_is_compared() {
    let spoiled: [(Kind, &str); 3] = [
        (sample(1, 3, 1), "look inside before exchanging"),
        (codes(1, &["P0741"]), "P0741"),
        (container("Bramble"), "needs Linden"),
    ];
    for (kind, word) in spoiled {
        let mut journal = settled_plainly();
        journal.add(kind);
        let plan = planned(&journal, Some(14.0));
        assert!(all(&plan.first).contains(word), "{:?}", plan.first);
        assert!(plan.choices.is_empty() && plan.advice.is_none() && plan.basis.is_empty(), "{plan:?}");
    }
    let mut journal = settled_plainly();
    journal.add(sample(1, 3, 1)).add(decision("look-inside-first"));
    assert!(!planned(&journal, None).choices.is_empty(), "a named person decided");
    // A code that a named person has to decide about is said first; the plan stands.
    let mut journal = settled_plainly();
    journal.add(codes(1, &["P0218"]));
    let plan = planned(&journal, None);
    assert!(all(&plan.first).contains("a named person decides") && !plan.choices.is_empty(), "{plan:?}");
}

#[test]
fn a_missing_fact_is_named_and_no_number_is_given() {
    let mut journal = Journal::new();
    journal.add(arrival());
    let plan = planned(&journal, Some(14.0));
    assert!(all(&plan.missing).contains("is not settled"), "{plan:?}");
    assert!(plan.choices.is_empty() && plan.basis.is_empty() && plan.advice.is_none());

    let looked_up = |total_fill_litres| {
        let mut journal = Journal::new();
        let stated = v1::VariantSettled {
            variant_code: "Birch-6".into(),
            means: 2,
            source: "maker's list".into(),
            fluid_code: "Hazel".into(),
            total_fill_litres,
            ..Default::default()
        };
        journal.add(Kind::VariantSettled(stated));
        planned(&journal, Some(14.0))
    };
    let plan = looked_up(None);
    assert!(all(&plan.missing).contains("How much Birch-6 holds is not known"), "{plan:?}");
    assert!(plan.choices.is_empty());
    let plan = looked_up(Some(8.0));
    assert!(all(&plan.missing).contains("the pan of Birch-6"), "{plan:?}");
    let advice = said(plan.advice.as_ref().unwrap());
    assert!(
        advice.contains("nobody knows what the pan holds") && !advice.contains("nothing else"),
        "{advice}"
    );
    let keys: Vec<&str> = plan.choices.iter().map(|choice| choice.way.key()).collect();
    assert_eq!(keys, ["exchange-only"]);
    assert_eq!(
        said(plan.advice.as_ref().unwrap()),
        "Exchange only: the only way that can be compared while nobody knows what the pan holds."
    );
}

#[test]
fn without_a_kit_the_litres_are_those_that_reach_the_target_or_as_many_as_are_usual() {
    let plan = planned(&settled_plainly(), None);
    assert!((choice(&plan, Way::ExchangeThenPan).litres - 17.0).abs() < 1e-9, "the workshop's own kit");
    assert!(all(&plan.basis).contains("17.0\u{a0}L of new fluid that this workshop keeps for a job"));

    let plan = planned(&settled_with(|_| workshop_without("kit")), None);
    let then = choice(&plan, Way::ExchangeThenPan);
    assert!(then.share.value >= 0.80 && then.share.value < 0.84, "{:?}", then.share);
    assert!((then.pushed_litres * 2.0).fract() == 0.0, "{}", then.pushed_litres);
    assert!(
        all(&plan.basis).contains("exchange, then pan, comes to 80 of 100 parts"),
        "{:?}",
        all(&plan.basis)
    );

    let far = |_: &str| workshop_without("kit").replace("new_share = 0.80", "new_share = 1.0");
    let plan = planned(&settled_with(far), None);
    assert!((choice(&plan, Way::ExchangeThenPan).pushed_litres - 12.0).abs() < 1e-9);
    assert!(all(&plan.basis).contains("of which 12.0\u{a0}L are pushed"), "{:?}", all(&plan.basis));
}

#[test]
fn a_kit_that_leaves_nothing_to_push_compares_only_what_it_allows() {
    let plan = planned(&settled_plainly(), Some(4.2));
    assert!(all(&plan.basis).contains("leave nothing to push"), "{:?}", all(&plan.basis));
    let keys: Vec<&str> = plan.choices.iter().map(|choice| choice.way.key()).collect();
    assert_eq!(keys, ["exchange-only", "drain-and-fill"]);
    let plan = planned(&settled_plainly(), Some(0.5));
    assert!(plan.choices.is_empty() && plan.advice.is_none(), "{plan:?}");
}

#[test]
fn a_plan_comes_before_the_work() {
    let mut journal = settled_plainly();
    journal.add(container("Linden")).add(pushed(0.0, None, None, false));
    assert!(!planned(&journal, None).choices.is_empty(), "a counter at zero pushed nothing");
    journal.add(pushed(2.0, Some(25), None, false));
    let plan = planned(&journal, None);
    assert!(all(&plan.first).contains("a plan is made before that") && plan.choices.is_empty(), "{plan:?}");
    let mut journal = settled_plainly();
    journal.add(drained(3.05));
    assert!(planned(&journal, None).choices.is_empty());
}

#[test]
fn whatever_the_kit_every_number_is_one() {
    for kit in [0.0, 0.1, 1.0, 5.0, 14.0, 40.0, 60.0] {
        let plan = planned(&settled_job(), Some(kit));
        for choice in &plan.choices {
            let (least, greatest) = choice.share.interval95_within((0.0, 1.0));
            for number in
                [choice.litres, choice.pushed_litres, choice.minutes, choice.share.value, least, greatest]
            {
                assert!(number.is_finite() && number >= 0.0, "{kit}: {choice:?}");
            }
            assert!(choice.litres <= kit + 1e-9, "no more than there is: {choice:?}");
        }
        assert!(!all(&plan.basis).contains('–'), "{:?}", all(&plan.basis));
    }
}
