//! An earlier fact that no longer holds opens no gate: what was undone, contradicted or left out since.

use super::gates::{
    caution, closed_pan, codes, conditions, decision, dry, hookup, lacks, level_read, pan_off,
    pushed_through, ready_to_push, sample, screws, skipped, step, temperature,
};
use super::*;

pub(super) fn gears(nobody_under_vehicle: i32) -> Kind {
    Kind::GearCycle(v1::GearCycle { driver_person_code: "A".into(), nobody_under_vehicle })
}

pub(super) fn plug() -> Kind {
    Kind::PlugClosed(v1::PlugClosed { seal_new: 1, torque_newton_metres: Some(22.0), ..Default::default() })
}

pub(super) fn leaks(found: i32, line_closed: i32) -> Kind {
    Kind::LeakCheck(v1::LeakCheck { found, line_closed, after_drive: false })
}

fn fitted(parts: &[i32]) -> Kind {
    Kind::PartFitted(v1::PartFitted { fitted: parts.to_vec(), ..Default::default() })
}

fn drained_litres(litres: f64, celsius: f64, debris: i32) -> Kind {
    let amount = Some(v1::drain::Amount::VolumeLitres(litres));
    let temperature_celsius = Some(celsius);
    Kind::Drain(v1::Drain { place: 1, amount, means: 1, debris, temperature_celsius })
}

fn stopped() -> Kind {
    Kind::Closing(v1::Closing { outcome: 2, ..Default::default() })
}

pub(super) fn done_at(journal: &mut Journal, kind: Kind, minute: i64) {
    journal.add(kind);
    let (_, bytes) = journal.entries.last_mut().unwrap();
    let mut entry = v1::Entry::decode(bytes.as_slice()).unwrap();
    let seconds = START_US / 1_000_000 + minute * 60;
    entry.header.as_mut().unwrap().done_time = Some(prost_types::Timestamp { seconds, nanos: 0 });
    *bytes = entry.encode_to_vec();
}

#[test]
fn a_pan_drained_again_is_open_until_it_is_screwed_on_with_a_new_seal() {
    let mut journal = closed_pan();
    journal.add(refilled(3.05, "Linden")).add(conditions(&[4, 5])).add(drained(3.0));
    assert_eq!(lacks(&journal, Gate::Refill), ["parts-fitted", "screws-tightened"]);
    for name in ["fitted", "screws", "refill", "clear"] {
        assert!(step(&journal, name).is_some(), "{name} is asked again");
    }
    journal.add(fitted(&[2])).add(screws(13));
    assert_eq!(lacks(&journal, Gate::Refill), [""; 0], "the new filter is still in it");
    assert_eq!(lacks(&journal, Gate::StartEngine), ["refilled", "clear"]);
}

#[test]
fn gears_moved_before_the_pan_was_off_again_do_not_count() {
    let mut journal = level_read();
    journal.add(drained(3.0)).add(temperature(43.0));
    assert_eq!(lacks(&journal, Gate::Level), ["pan-closed", "refilled", "clear", "gears-moved"]);
    journal.add(fitted(&[2])).add(screws(13)).add(refilled(3.0, "Linden")).add(conditions(&[5]));
    journal.add(temperature(43.0));
    assert_eq!(lacks(&journal, Gate::Level), ["gears-moved"]);
    assert!(step(&journal, "gears").is_some());
}

#[test]
fn somebody_under_the_vehicle_later_takes_the_gears_back() {
    let mut journal = level_read();
    journal.add(gears(2)).add(temperature(43.0));
    assert_eq!(lacks(&journal, Gate::Level), ["gears-moved"]);
}

#[test]
fn a_plug_opened_again_for_a_look_is_not_closed_and_not_dry() {
    let mut journal = dry();
    journal.add(level(43.0, 2));
    assert_eq!(lacks(&journal, Gate::RoadTest), ["plug-closed"]);
    assert!(step(&journal, "plug").is_some());
    journal.add(plug());
    assert_eq!(lacks(&journal, Gate::RoadTest), ["dry"], "dry before the plug was closed says nothing");
    assert!(step(&journal, "leaks").is_some());
}

#[test]
fn a_plug_closed_with_its_old_seal_is_asked_again() {
    let mut journal = level_read();
    journal.add(Kind::PlugClosed(v1::PlugClosed { seal_new: 2, ..Default::default() }));
    assert!(lacks(&journal, Gate::RoadTest).contains(&"plug-closed"));
    assert!(step(&journal, "plug").is_some());
}

#[test]
fn a_line_hooked_up_again_or_seen_open_is_not_closed() {
    let mut journal = pushed_through();
    journal.add(conditions(&[2, 3])).add(caution(4)).add(hookup(1));
    assert_eq!(lacks(&journal, Gate::Pan), ["line-closed"]);
    let mut journal = closed_pan();
    journal.add(refilled(3.05, "Linden")).add(conditions(&[4, 5])).add(leaks(1, 2));
    assert_eq!(lacks(&journal, Gate::StartEngine), ["line-closed"]);
    journal.add(conditions(&[3]));
    assert_eq!(lacks(&journal, Gate::StartEngine), [""; 0], "what was said last counts");
}

#[test]
fn the_drive_after_waits_for_a_line_that_nobody_said_is_closed() {
    let mut journal = pushed_through();
    journal.add(level(43.0, 2)).add(plug()).add(leaks(1, 0));
    assert_eq!(lacks(&journal, Gate::RoadTest), ["line-closed"]);
}

#[test]
fn a_direction_tested_before_the_equipment_was_connected_anew_is_not_tested() {
    let mut journal = ready_to_push();
    journal.add(hookup(2));
    assert_eq!(lacks(&journal, Gate::Exchange), ["direction-tested"]);
    assert!(step(&journal, "hookup").is_some());
}

#[test]
fn a_lift_locked_before_the_drive_is_not_locked_after_it() {
    let mut journal = ready_to_push();
    journal.add(super::gates::drive(1));
    assert_eq!(lacks(&journal, Gate::Exchange), ["lift-locked"]);
    journal.add(conditions(&[1])).add(super::gates::drive(2));
    assert_eq!(lacks(&journal, Gate::Exchange), [""; 0], "the drive after is the end of the work");
}

#[test]
fn an_engine_that_ran_for_gears_or_level_since_is_not_off() {
    let mut journal = level_read();
    assert_eq!(lacks(&journal, Gate::Pan), ["engine-off"]);
    journal.add(conditions(&[2]));
    assert_eq!(lacks(&journal, Gate::Pan), [""; 0]);
    assert!(step(&level_read(), "engine-off").is_none(), "it runs for the level");
}

#[test]
fn an_engine_off_that_is_typed_late_counts_from_when_it_was_done() {
    let mut journal = pushed_through();
    let ended = journal.minute;
    journal.add(caution(4));
    journal.minute += 10;
    done_at(&mut journal, conditions(&[2, 3]), ended - 5);
    assert_eq!(lacks(&journal, Gate::Pan), ["engine-off", "line-closed"]);
}

#[test]
fn a_temperature_from_the_future_is_not_fresh() {
    let mut journal = closed_pan();
    journal.add(refilled(3.05, "Linden")).add(conditions(&[4, 5])).add(caution(5)).add(gears(1));
    let minute = journal.minute + 60;
    done_at(&mut journal, temperature(43.0), minute);
    assert_eq!(lacks(&journal, Gate::Level), ["temperature"]);
}

#[test]
fn the_pan_comes_off_only_on_a_locked_lift_and_with_the_high_voltage_isolated() {
    let mut journal = settled_job();
    journal.add(conditions(&[2, 3])).add(caution(4));
    assert_eq!(lacks(&journal, Gate::Pan), ["caution", "lift-locked"]);
    let hybrid =
        v1::Arrival { plate: "PH 482 K".into(), reasons: vec![1], high_voltage: 1, ..Default::default() };
    journal.add(Kind::Arrival(hybrid)).add(caution(1)).add(conditions(&[1]));
    assert_eq!(lacks(&journal, Gate::Pan), ["high-voltage"]);
    journal.add(conditions(&[6]));
    assert_eq!(lacks(&journal, Gate::Pan), [""; 0]);
}

#[test]
fn a_decision_covers_the_codes_that_were_known_and_no_other_point() {
    let mut journal = ready_to_push();
    journal.add(codes(1, &["P1789", "P0741"])).add(decision("maker-specific"));
    assert_eq!(lacks(&journal, Gate::Exchange), ["repair-first"], "one point decided is not the other");
    journal.add(decision("repair-first")).add(codes(1, &["P0741"]));
    assert_eq!(lacks(&journal, Gate::Exchange), [""; 0], "the same code read again is decided");
    journal.add(codes(1, &["P0730"]));
    assert_eq!(lacks(&journal, Gate::Exchange), ["repair-first"], "a code read later is not");
}

#[test]
fn a_clear_sample_after_a_spoiled_one_does_not_make_it_good() {
    let mut journal = ready_to_push();
    journal.add(sample(1, 3, 1)).add(sample(1, 1, 1));
    assert_eq!(lacks(&journal, Gate::Exchange), ["look-inside-first"]);
    journal.add(decision("look-inside-first")).add(sample(1, 2, 4));
    assert_eq!(lacks(&journal, Gate::Exchange), ["look-inside-first"], "decided before it was seen");
}

#[test]
fn flakes_in_a_pan_that_comes_first_withhold_the_exchange() {
    let mut journal = ready_to_push();
    journal.add(conditions(&[2, 3])).add(caution(4)).add(drained_litres(3.5, 60.0, 4));
    assert!(lacks(&journal, Gate::Exchange).contains(&"look-inside-first"));
    let mut after = pan_off();
    after.add(drained_litres(0.2, 60.0, 4));
    assert!(!lacks(&after, Gate::Exchange).contains(&"look-inside-first"), "it is over by then");
}

#[test]
fn an_exchange_skipped_before_it_began_still_has_to_end() {
    let mut journal = ready_to_push();
    journal.add(skipped("exchange")).add(pushed(3.0, Some(25), None, false));
    journal.add(conditions(&[2, 3])).add(caution(4));
    assert_eq!(lacks(&journal, Gate::Pan), ["exchange-ended"]);
    journal.add(skipped("exchange"));
    assert_eq!(lacks(&journal, Gate::Pan), [""; 0], "nobody knows how it ended");
}

#[test]
fn a_reason_for_the_standpipe_says_nothing_of_the_old_filter() {
    let mut journal = pushed_through();
    journal.add(conditions(&[2, 3])).add(caution(4)).add(drained(3.05)).add(skipped("pan-seen"));
    journal.add(fitted(&[1, 2])).add(screws(13));
    assert_eq!(lacks(&journal, Gate::Refill), ["old-filter"]);
    journal.add(skipped("old-filter"));
    assert_eq!(lacks(&journal, Gate::Refill), [""; 0]);
}

#[test]
fn an_engine_is_not_started_on_a_fluid_that_contradicts() {
    let mut journal = closed_pan();
    journal.add(refilled(3.05, "Bramble")).add(conditions(&[4, 5]));
    assert_eq!(lacks(&journal, Gate::StartEngine), ["wrong-fluid-inside", "wrong-fluid-drained"]);
    journal.add(container("Bramble"));
    assert!(lacks(&journal, Gate::StartEngine).contains(&"contradiction"));
}

#[test]
fn a_stopped_job_leaves_no_open_line_and_no_open_plug() {
    let mut journal = ready_to_push();
    journal.add(stopped());
    assert_eq!(lacks(&journal, Gate::Close), ["line-closed"]);
    let mut journal = settled_job();
    journal.add(level(43.0, 2)).add(stopped());
    assert_eq!(lacks(&journal, Gate::Close), ["plug-closed", "dry"]);
}

#[test]
fn what_ran_out_hot_is_refilled_cold_as_one_figure() {
    let proposed = |journal: &Journal| {
        let step = step(journal, "refill").unwrap();
        let field = step.fields.into_iter().find(|field| field.name == "amount").unwrap();
        field.proposal.unwrap().value
    };
    let mut journal = pushed_through();
    journal.add(drained(3.05));
    assert_eq!(proposed(&journal), "3.05 kg", "what was weighed is weighed");
    journal.add(drained(0.41));
    assert_eq!(proposed(&journal), "3.46 kg", "both drains of the pan");
    journal.add(refilled(2.0, "Linden"));
    assert_eq!(proposed(&journal), "1.46 kg", "less what went in already");
    let mut journal = pushed_through();
    journal.add(drained_litres(4.0, 80.0, 2));
    // Oil shrinks by about 0.00075 of its volume a °C (from memory): 4.0 L at 80 °C are 3.8 L at 20 °C.
    assert_eq!(proposed(&journal), "3.8 L");
}

#[test]
fn the_distance_added_later_loses_neither_the_complaint_nor_the_high_voltage() {
    let mut journal = Journal::new();
    let booked = v1::Arrival {
        plate: "PH 482 K".into(),
        reasons: vec![1],
        complaint_about_job: "HL-26-0007".into(),
        high_voltage: 1,
        ..Default::default()
    };
    journal.add(Kind::Arrival(booked));
    let known = step(&journal, "odometer").unwrap().preset;
    for row in [("complaint_about_job", "HL-26-0007"), ("high_voltage", "yes")] {
        assert!(known.contains(&(row.0, row.1.to_owned())), "{known:?}");
    }
}

#[test]
fn a_job_closed_with_an_open_line_or_plug_says_so_on_its_record() {
    let closed = |journal: &Journal| {
        all(&journal.view().findings.into_iter().map(|finding| finding.text).collect::<Vec<_>>())
    };
    let mut journal = ready_to_push();
    journal.add(stopped());
    assert!(
        closed(&journal).contains("The job was closed with this open: Close the cooler line"),
        "{}",
        closed(&journal)
    );
    journal.add(conditions(&[3]));
    assert!(!closed(&journal).contains("closed with this open"));
    let mut journal = level_read();
    journal.add(Kind::Closing(v1::Closing { outcome: 1, ..Default::default() }));
    assert!(closed(&journal).contains("closed with this open: Close the level plug"), "{}", closed(&journal));
}

#[test]
fn a_pan_that_was_left_out_leaves_no_question_about_its_parts() {
    let mut journal = pushed_through();
    journal.add(conditions(&[2, 3])).add(caution(4)).add(skipped("pan"));
    for name in ["pan-seen", "old-filter", "fitted", "screws", "refill"] {
        assert!(step(&journal, name).is_none(), "{name} is asked although the pan stays on");
    }
    assert!(step(&journal, "clear").is_some(), "tools and people clear is safety");
    let open = journal.view().open_points;
    assert!(open.iter().all(|point| !["pan", "refill"].contains(&point.gate)), "{open:?}");
    journal.add(drained(3.0));
    assert!(step(&journal, "pan-seen").is_some(), "it came off all the same");
}

#[test]
fn an_exchange_that_was_left_out_is_no_open_point() {
    let mut journal = settled_job();
    journal.add(skipped("exchange"));
    assert!(journal.view().open_points.iter().all(|point| point.gate != "exchange"));
    journal.add(pushed(3.0, None, None, false));
    assert!(journal.view().open_points.iter().any(|point| point.gate == "exchange"));
}

#[test]
fn what_only_pushing_needs_is_no_open_point_once_the_exchange_is_over() {
    let asks = |journal: &Journal| {
        let open = journal.view().open_points;
        open.iter().any(|point| said(&point.text).contains("Hook up the equipment"))
    };
    let mut journal = settled_job();
    assert!(asks(&journal));
    journal.add(hookup(1)).add(pushed(9.0, None, None, false));
    journal.add(pushed(9.4, None, None, true)).add(conditions(&[2, 3]));
    assert!(!asks(&journal), "{:?}", journal.view().open_points);
    // Who would push again is told all the same, and what comes later keeps its needs.
    assert!(lacks(&journal, Gate::Exchange).contains(&"direction-tested"));
    assert!(journal.view().open_points.iter().any(|point| point.gate == "start-engine"));
}

#[test]
fn a_container_read_before_anybody_knows_the_right_fluid_is_not_asked_for_ever() {
    let mut journal = Journal::new();
    let (second_series, _) = second_series(&journal.revision);
    journal.add(arrival()).add(vin(&second_series)).add(settled("X-OTHER"));
    assert!(step(&journal, "fluid").is_some());
    journal.add(container("Linden"));
    assert!(step(&journal, "fluid").is_none());
}
