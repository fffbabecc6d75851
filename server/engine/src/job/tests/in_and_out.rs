//! Fluid in and out of whole jobs: short on arrival, not accounted for, and what is left to refill.

use super::*;

/// A whole service with so many litres pushed in and out, and so many kilograms drained and refilled; level set.
fn job(pushed_in: f64, came_out: f64, drained_out: f64, filled: f64) -> Journal {
    let mut journal = settled_job();
    journal.add(container("Linden")).add(pushed(0.0, None, None, false));
    journal.add_typed(
        pushed(pushed_in, Some(75), Some(came_out), true),
        &[
            ("volume_in_litres", &format!("{pushed_in:.1} L")),
            ("volume_out_litres", &format!("{came_out:.1} L")),
        ],
    );
    journal.add_typed(drained(drained_out), &[("mass_kilograms", &format!("{drained_out:.2} kg"))]);
    journal.add_typed(refilled(filled, "Linden"), &[("mass_kilograms", &format!("{filled:.2} kg"))]);
    journal
}

fn said_of(journal: &Journal) -> String {
    let balance = journal.view().balance.unwrap();
    balance.said().map(said).collect::<Vec<_>>().join(" ").replace('\u{a0}', " ")
}

fn texts(view: &JobView) -> String {
    view.findings
        .iter()
        .map(|finding| said(&finding.text))
        .collect::<Vec<_>>()
        .join(" | ")
        .replace('\u{a0}', " ")
}

#[test]
fn a_vehicle_that_took_a_litre_more_arrived_short_and_the_leak_is_looked_for() {
    let mut journal = job(4.0, 4.0, 3.00, 4.20);
    assert!(!said_of(&journal).contains("arrived"), "the level is not set yet: {}", said_of(&journal));
    journal.add(level(43.0, 2));
    let text = said_of(&journal);
    assert!(text.contains("The vehicle arrived 1.") && text.contains(" L short (from "), "{text}");
    let view = journal.view();
    assert!(texts(&view).contains("look for the leak"), "{}", texts(&view));
    assert!(all(&view.please_note).contains("have the leak looked for"));
    let difference = view.balance.as_ref().unwrap().difference.unwrap();
    let normalised = view.balance.as_ref().unwrap().normalised_difference.unwrap();
    assert!((normalised - difference.value / (2.0 * difference.standard_uncertainty)).abs() < 1e-12);
    // A litre beyond what carries itself out with parts: 1.2 kg of 847 kg/m³ less 0.25 L and the 0.13 L that the hot
    // litres shrink by.
    assert!((difference.value - (1.2 / 0.847 - 0.25)).abs() < 0.2, "{difference:?}");
    for page_one in [&view.please_note, &view.in_short] {
        let text = all(page_one);
        for word in ["degrees of freedom", "normalised", "uncertainty"] {
            assert!(!text.contains(word), "{word}: {text}");
        }
    }
}

#[test]
fn parts_carry_fluid_out_so_that_a_usual_job_is_not_short() {
    let mut journal = job(9.4, 9.3, 3.05, 3.20);
    journal.add(level(43.0, 2));
    let view = journal.view();
    assert!(view.balance.as_ref().unwrap().arrived.is_none(), "{}", said_of(&journal));
    assert!(!texts(&view).contains("short") && !all(&view.please_note).contains("leak looked for"));
}

#[test]
fn an_unfinished_balance_says_nothing_of_the_arrival() {
    let mut journal = settled_job();
    journal.add(container("Linden")).add(pushed(6.0, Some(75), None, true));
    journal.add(drained(2.0));
    let balance = journal.view().balance.unwrap();
    assert!(balance.difference.is_none() && balance.arrived.is_none() && balance.unexplained.is_none());
    assert!(balance.normalised_difference.is_none());
    journal.add(refilled(3.8, "Linden")).add(level(43.0, 2));
    let balance = journal.view().balance.unwrap();
    assert!(balance.arrived.is_none(), "what came out in the exchange was not measured");
}

#[test]
fn without_a_level_a_clear_loss_is_a_finding_once_the_job_is_closed() {
    let mut journal = job(4.0, 4.0, 3.00, 4.20);
    assert!(!texts(&journal.view()).contains("not accounted for"));
    journal.add(Kind::Closing(v1::Closing { outcome: 1, odometer_kilometres: None }));
    let view = journal.view();
    assert!(texts(&view).contains("went in and is not accounted for"), "{}", texts(&view));
    assert!(view.balance.unwrap().arrived.is_none());
    assert!(!all(&view.please_note).contains("arrived"), "page one says only what is clear");
}

#[test]
fn what_is_left_to_refill_is_one_figure_until_it_is_in() {
    let mut journal = settled_job();
    assert!(journal.view().figures.iter().all(|figure| !figure.key.starts_with("refill")));
    journal.add_typed(drained(3.05), &[("mass_kilograms", "3.05 kg")]);
    let view = journal.view();
    let figure = view.figures.iter().find(|figure| figure.key == "refill_kilograms").unwrap();
    assert_eq!((figure.unit, figure.estimate.value), ("kg", 3.05));
    assert!(figure.estimate.standard_uncertainty > 0.0 && said(&figure.text) == "3.05\u{a0}kg");
    let amount = Some(v1::drain::Amount::VolumeLitres(1.0));
    let more =
        v1::Drain { place: 1, amount, means: 1, temperature_celsius: Some(60.0), ..Default::default() };
    journal.add_typed(Kind::Drain(more), &[("volume_litres", "1.0 L")]);
    let view = journal.view();
    let figure = view.figures.iter().find(|figure| figure.key == "refill_litres").unwrap();
    assert_eq!(figure.unit, "L");
    assert!((figure.estimate.value - 4.6).abs() < 0.11, "{figure:?}");
    journal.add(refilled(3.9, "Linden"));
    assert!(journal.view().figures.iter().all(|figure| !figure.key.starts_with("refill")));
}

#[test]
fn litres_out_that_came_by_feed_are_proposed_as_waste_when_the_last_reading_shows_none() {
    let proposed = |journal: &Journal| {
        let steps = journal.with(crate::steps::remaining);
        let waste = steps.into_iter().find(|step| step.name == "waste").unwrap();
        waste.fields[0].proposal.clone().unwrap().value
    };
    let mut shown = settled_job();
    shown.add(pushed(9.0, None, Some(8.9), true));
    let mut fed = settled_job();
    fed.add(pushed(6.0, None, Some(5.9), false)).add(pushed(9.0, None, Some(8.9), false));
    fed.add(pushed(9.4, None, None, true));
    assert_eq!(proposed(&fed), proposed(&shown));
}

#[test]
fn no_exchange_done_after_litres_were_pushed_in_is_contradicted_until_it_is_corrected() {
    let mut journal = settled_job();
    journal.add(container("Linden")).add(pushed(12.5, None, Some(12.4), true));
    journal.add(Kind::Closing(v1::Closing { outcome: 2, ..Default::default() }));
    let view = journal.view();
    assert!(!view.head.no_exchange_done, "the record does not contradict itself");
    let told = |view: &JobView, what: &str| {
        let findings = view.findings.iter().map(|finding| &finding.text);
        findings.chain(view.open_points.iter().map(|point| &point.text)).any(|text| said(text).contains(what))
    };
    assert!(told(&view, "‘no exchange done’, but"));
    assert!(said(&view.open_points[0].text).starts_with("Closed as ‘no exchange done’ although 12.5"));
    let closing = journal.entries.len();
    journal.add(Kind::Correction(Box::new(v1::Correction {
        corrected_entry_id: Journal::id(closing),
        reason: "wrong key".into(),
        outcome: Some(Outcome::Replacement(Box::new(v1::Fact {
            kind: Some(Kind::Closing(v1::Closing { outcome: 1, ..Default::default() })),
        }))),
    })));
    assert!(!told(&journal.view(), "no exchange done"));
}
