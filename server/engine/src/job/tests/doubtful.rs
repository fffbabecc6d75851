//! Slips of a long day: ten times the torque, litres that cannot be, a pan left dry, leaks, what was declined.

use super::gates::{decision, dry, pan_off};
use super::undone::leaks;
use super::*;

fn texts(journal: &Journal) -> String {
    let view = journal.view();
    let found = view.findings.iter().map(|finding| said(&finding.text)).collect::<Vec<_>>().join(" ");
    [all(&view.in_short), all(&view.please_note), found].join(" | ").replace('\u{a0}', " ")
}

fn screws(torque: f64) -> Kind {
    Kind::Tightening(v1::Tightening {
        group: 1,
        screw_count: 13,
        new_screw_count: 13,
        torque_newton_metres: torque,
        order_kept: 1,
        tool: "TW-1".into(),
        screws: Vec::new(),
    })
}

#[test]
fn another_torque_than_the_catalogue_s_waits_for_a_named_decision() {
    // The demo's catalogue: 9 N·m for the screws, 22 N·m for the plug.
    for (torque, open) in [(9.0, false), (9.9, false), (8.1, false), (10.0, true), (90.0, true), (8.0, true)]
    {
        let mut journal = pan_off();
        journal.add(screws(torque));
        assert_eq!(journal.missing(Gate::Refill).contains("the catalogue says 9"), open, "{torque}");
    }
    let mut journal = pan_off();
    journal.add(screws(90.0)).add(decision("screws-torque"));
    assert!(!journal.missing(Gate::Refill).contains("the catalogue says"));
    journal.add(screws(95.0));
    assert!(journal.missing(Gate::Refill).contains("95"), "a decision is of what was known");
    let mut journal = dry();
    assert_eq!(journal.missing(Gate::RoadTest), "");
    let plug = v1::PlugClosed { seal_new: 1, torque_newton_metres: Some(220.0), ..Default::default() };
    journal.add(Kind::PlugClosed(plug));
    assert!(journal.missing(Gate::RoadTest).contains("220"), "{}", journal.missing(Gate::RoadTest));
}

#[test]
fn litres_that_go_back_or_are_many_times_the_fill_are_told() {
    let reading = |litres: f64, last| {
        Kind::ExchangeReading(v1::ExchangeReading { volume_in_litres: litres, last, ..Default::default() })
    };
    let mut journal = settled_job();
    journal.add(reading(50.0, false)).add(reading(7.5, true));
    let told = texts(&journal);
    assert!(told.contains("ended at 7.5 L, but 50.0 L was read before"), "{told}");
    assert!(told.contains("50.0 L pushed in is many times the 9.0 L"), "{told}");
    let mut journal = settled_job();
    journal.add(reading(7.5, false)).add(reading(12.0, true));
    assert!(!texts(&journal).contains("read before") && !texts(&journal).contains("many times"));
}

#[test]
fn a_pan_that_was_drained_and_not_refilled_is_said_first_and_no_share_is_claimed() {
    let mut journal = pan_off();
    let told = texts(&journal);
    assert!(told.contains("from the pan; nothing was refilled."), "{told}");
    assert!(told.contains("How much of the fluid is new is said once the pan is refilled"), "{told}");
    let refill = v1::fill::Amount::VolumeLitres(3.6);
    journal.add(Kind::Fill(v1::Fill { purpose: 1, amount: Some(refill), ..Default::default() }));
    assert!(texts(&journal).contains("and refilled 3.6 L"), "{}", texts(&journal));
}

#[test]
fn a_leak_that_was_mended_stays_on_the_record() {
    let look = |found| leaks(found, 1);
    let row = |journal: &Journal| {
        let rows = journal.view().before_and_after;
        let row = rows.iter().find(|row| said(&row.label) == "Leaks");
        row.and_then(|row| row.after.as_ref()).map(said)
    };
    let mut journal = settled_job();
    assert_eq!(row(&journal), None);
    journal.add(look(2)).add(look(3));
    assert_eq!(row(&journal).as_deref(), Some("dripping"));
    journal.add(look(1));
    assert_eq!(row(&journal).as_deref(), Some("first dripping, then dry"));
}

#[test]
fn the_customer_reads_of_flakes_of_a_drive_left_out_and_of_what_was_declined() {
    let mut journal = settled_job();
    let flakes = v1::Drain {
        place: 1,
        amount: Some(v1::drain::Amount::VolumeLitres(3.6)),
        debris: 4,
        ..Default::default()
    };
    journal.add(Kind::Drain(flakes));
    journal.add(Kind::Skipped(v1::Skipped { step: "drive-after".into(), reason: 5 }));
    journal.add(Kind::CustomerAnswer(v1::CustomerAnswer { topic: 3, said: 3 }));
    journal.add(Kind::CustomerAnswer(v1::CustomerAnswer { topic: 5, said: 3 }));
    let notes = all(&journal.view().please_note);
    for part in [
        "Flakes or chips in the pan",
        "The vehicle was not driven after the work",
        "without an exchange; you declined what we advised.",
        "what we advised: a leak.",
    ] {
        assert!(notes.contains(part), "{part}: {notes}");
    }
}

#[test]
fn a_high_voltage_system_that_an_earlier_job_knew_of_is_not_forgotten() {
    let earlier = EarlierJob {
        number: "HL-25-0007".into(),
        opened_us: 0,
        closed: true,
        serviced: true,
        fluid: None,
        high_voltage: true,
        kilometres: None,
    };
    let arrived = |answer| {
        Kind::Arrival(v1::Arrival { plate: "PH 482 K".into(), high_voltage: answer, ..Default::default() })
    };
    for (answer, waits) in [(0, true), (1, true), (3, true), (2, false)] {
        let mut journal = Journal::new();
        journal.earlier = vec![earlier.clone()];
        journal.add(arrived(answer));
        assert_eq!(journal.missing(Gate::Exchange).contains("qualified person"), waits, "{answer}");
    }
}

#[test]
fn a_part_that_is_used_again_needs_a_person_who_answers_for_it_by_name() {
    let mut journal = pan_off();
    let fitted = v1::PartFitted { fitted: vec![1], excepted: vec![2], ..Default::default() };
    journal.add(Kind::PartFitted(fitted));
    assert!(journal.missing(Gate::Refill).contains("new pan seal"), "{}", journal.missing(Gate::Refill));
    journal.add(decision("parts-fitted"));
    assert!(!journal.missing(Gate::Refill).contains("new pan seal"), "{}", journal.missing(Gate::Refill));
    let mut journal = dry();
    journal.add(Kind::PlugClosed(v1::PlugClosed { seal_new: 2, ..Default::default() }));
    assert!(journal.missing(Gate::RoadTest).contains("new seal"), "{}", journal.missing(Gate::RoadTest));
    journal.add(decision("plug-closed"));
    assert!(!journal.missing(Gate::RoadTest).contains("new seal"), "{}", journal.missing(Gate::RoadTest));
    assert!(
        all(&journal.view().please_note)
            .contains("seal of the level plug was used again; responsible: technician A")
    );
}
