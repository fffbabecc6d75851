//! Every gate and every rule of the work, one test each, named after it.

use super::*;
use crate::steps;

fn kind_of_gate(keys: &[&str], journal: &Journal, gate: Gate) -> Vec<&'static str> {
    let go_ahead = journal.with(|context, entries| may(context, entries, gate));
    go_ahead
        .missing
        .iter()
        .map(|missing| missing.key)
        .filter(|key| keys.is_empty() || keys.contains(key))
        .collect()
}

pub(super) fn lacks(journal: &Journal, gate: Gate) -> Vec<&'static str> {
    kind_of_gate(&[], journal, gate)
}

pub(super) fn caution(group: i32) -> Kind {
    Kind::CautionRead(v1::CautionRead { group })
}

pub(super) fn conditions(conditions: &[i32]) -> Kind {
    Kind::ConditionConfirmed(v1::ConditionConfirmed { conditions: conditions.to_vec() })
}

pub(super) fn codes(moment: i32, codes: &[&str]) -> Kind {
    let state = if codes.is_empty() { 1 } else { 2 };
    let codes = codes.iter().map(|code| (*code).to_owned()).collect();
    Kind::FaultCodes(v1::FaultCodes { moment, state, codes, adaptation_done: 0, ..Default::default() })
}

pub(super) fn drive(moment: i32) -> Kind {
    Kind::RoadTest(v1::RoadTest { moment, ticks: vec![1], gear: None, warmth: 2 })
}

pub(super) fn sample(moment: i32, clouding: i32, specks: i32) -> Kind {
    let sample = v1::FluidSample { moment, colour: 3, clouding, smell: 3, specks, ..Default::default() };
    Kind::FluidSample(sample)
}

pub(super) fn hookup(direction_tested: i32) -> Kind {
    Kind::Hookup(v1::Hookup { place: 1, direction_tested, ..Default::default() })
}

pub(super) fn part(part: i32, code: &str) -> Kind {
    Kind::PartChecked(v1::PartChecked { part, code: code.into(), lot: String::new(), read_by: 1 })
}

pub(super) fn skipped(step: &str) -> Kind {
    Kind::Skipped(v1::Skipped { step: step.into(), reason: 1 })
}

pub(super) fn decision(point: &str) -> Kind {
    Kind::Decision(v1::Decision { point: point.into(), reason: "agreed with the customer".into() })
}

pub(super) fn screws(new: i32) -> Kind {
    let group = v1::Tightening {
        group: 1,
        screw_count: 13,
        new_screw_count: new,
        torque_newton_metres: 9.0,
        order_kept: 1,
        tool: "T-07".into(),
        screws: Vec::new(),
    };
    Kind::Tightening(group)
}

pub(super) fn temperature(celsius: f64) -> Kind {
    Kind::TemperatureReading(v1::TemperatureReading {
        temperature_celsius: celsius,
        place: 1,
        means: 1,
        ..Default::default()
    })
}

/// Everything before the exchange, in the order of the work.
pub(super) fn ready_to_push() -> Journal {
    let mut journal = settled_job();
    for kind in [
        codes(1, &[]),
        drive(1),
        caution(1),
        conditions(&[1]),
        sample(1, 2, 1),
        container("Linden"),
        part(2, "F8-20"),
        caution(2),
        hookup(1),
        caution(3),
    ] {
        journal.add(kind);
    }
    journal
}

pub(super) fn pushed_through() -> Journal {
    let mut journal = ready_to_push();
    for (litres, tube) in [(3.0, 25), (6.0, 50), (9.0, 75)] {
        journal.add(pushed(litres, Some(tube), None, false));
    }
    journal.add(pushed(12.0, Some(75), Some(11.9), true));
    journal
}

pub(super) fn pan_off() -> Journal {
    let mut journal = pushed_through();
    journal.add(conditions(&[2, 3])).add(caution(4)).add(drained(3.05));
    journal.add(part(4, "SP-68")).add(part(5, "F8-20"));
    journal
}

pub(super) fn closed_pan() -> Journal {
    let mut journal = pan_off();
    let fitted = v1::PartFitted { kit: "A8-II".into(), fitted: vec![1, 2, 3, 4], ..Default::default() };
    journal.add(Kind::PartFitted(fitted)).add(screws(13));
    journal
}

pub(super) fn level_read() -> Journal {
    let mut journal = closed_pan();
    journal.add(refilled(3.05, "Linden")).add(conditions(&[4, 5]));
    journal.add(caution(5));
    journal.add(Kind::GearCycle(v1::GearCycle { driver_person_code: "A".into(), nobody_under_vehicle: 1 }));
    journal.add(temperature(43.0)).add(level(43.0, 2));
    journal
}

pub(super) fn dry() -> Journal {
    let mut journal = level_read();
    let plug = v1::PlugClosed { seal_new: 1, torque_newton_metres: Some(22.0), ..Default::default() };
    journal.add(Kind::PlugClosed(plug));
    journal.add(Kind::LeakCheck(v1::LeakCheck { found: 1, line_closed: 1, after_drive: false }));
    journal
}

#[test]
fn each_gate_of_a_normal_job_opens_when_its_work_is_done_and_not_before() {
    for (before, gate) in [
        (settled_job(), Gate::Exchange),
        (ready_to_push(), Gate::Pan),
        (pan_off(), Gate::Refill),
        (closed_pan(), Gate::StartEngine),
        (closed_pan(), Gate::Level),
        (closed_pan(), Gate::RoadTest),
        (dry(), Gate::Close),
    ] {
        assert!(!lacks(&before, gate).is_empty(), "{gate:?} is open too early");
    }
    assert_eq!(lacks(&ready_to_push(), Gate::Exchange), [""; 0]);
    let mut journal = pushed_through();
    journal.add(conditions(&[2, 3])).add(caution(4));
    assert_eq!(lacks(&journal, Gate::Pan), [""; 0]);
    assert_eq!(lacks(&closed_pan(), Gate::Refill), [""; 0]);
    let mut journal = closed_pan();
    journal.add(refilled(3.05, "Linden")).add(conditions(&[5]));
    assert_eq!(lacks(&journal, Gate::StartEngine), [""; 0]);
    assert_eq!(lacks(&level_read(), Gate::Level), [""; 0]);
    assert_eq!(lacks(&dry(), Gate::RoadTest), [""; 0]);
    let mut journal = dry();
    let waste =
        v1::Waste { kind: 1, amount: Some(v1::waste::Amount::VolumeLitres(15.4)), container: "W-2".into() };
    journal.add(codes(2, &[])).add(drive(2)).add(Kind::Waste(waste));
    assert_eq!(lacks(&journal, Gate::Close), [""; 0]);
}

#[test]
fn skipping_with_a_reason_stands_in_but_never_for_safety() {
    let mut journal = settled_job();
    let steps = [
        "codes-before",
        "drive-before",
        "sample-before",
        "caution-lifted",
        "lift-locked",
        "hookup",
        "caution-line",
    ];
    for step in steps {
        journal.add(skipped(step));
    }
    let lacking = lacks(&journal, Gate::Exchange);
    for key in ["codes-before", "drive-before", "sample-before"] {
        assert!(!lacking.contains(&key), "{key} was skipped with a reason");
    }
    for key in ["caution", "lift-locked", "direction-tested", "fluid"] {
        assert!(lacking.contains(&key), "{key} cannot be skipped: {lacking:?}");
    }
    let remaining = journal.with(steps::remaining);
    let names: Vec<&str> = remaining.iter().map(|step| step.name).collect();
    assert!(
        names.contains(&"caution-lifted")
            && names.contains(&"lift-locked")
            && !names.contains(&"drive-before")
    );
}

#[test]
fn a_code_to_repair_first_withholds_the_exchange_until_a_named_decision() {
    let mut journal = ready_to_push();
    journal.add(codes(1, &["P0741"]));
    assert_eq!(lacks(&journal, Gate::Exchange), ["repair-first"]);
    assert!(journal.missing(Gate::Exchange).contains("does not repair this fault"));
    journal.add(codes(1, &[]));
    assert_eq!(lacks(&journal, Gate::Exchange), ["repair-first"], "clearing the memory repairs nothing");
    journal.add(decision("repair-first"));
    assert_eq!(lacks(&journal, Gate::Exchange), [""; 0]);
}

#[test]
fn a_sample_that_says_look_inside_first_withholds_the_exchange() {
    for spoiled in [sample(1, 3, 1), sample(1, 2, 4)] {
        let mut journal = ready_to_push();
        journal.add(spoiled);
        assert_eq!(lacks(&journal, Gate::Exchange), ["look-inside-first"]);
        journal.add(decision("look-inside-first"));
        assert_eq!(lacks(&journal, Gate::Exchange), [""; 0]);
    }
}

#[test]
fn no_decision_overrides_a_contradicting_code() {
    let mut journal = ready_to_push();
    journal.add(container("Bramble"));
    for point in ["contradiction", "fluid", "variant"] {
        journal.add(decision(point));
    }
    assert_eq!(lacks(&journal, Gate::Exchange), ["contradiction"]);
}

#[test]
fn a_wrong_standpipe_seen_at_pan_off_stops_the_refill() {
    let mut journal = closed_pan();
    journal.add(part(4, "SP-52"));
    let go_ahead = journal.with(|context, entries| may(context, entries, Gate::Refill));
    assert!(go_ahead.missing.iter().any(|missing| missing.stops && said(&missing.text).contains("SP-52")));
}

#[test]
fn an_engine_confirmed_off_before_the_last_reading_is_not_off_now() {
    let mut journal = ready_to_push();
    journal.add(conditions(&[2, 3])).add(caution(4)).add(pushed(9.0, None, None, true));
    assert_eq!(lacks(&journal, Gate::Pan), ["engine-off", "line-closed"]);
}

#[test]
fn the_engine_starts_only_when_what_ran_out_was_refilled() {
    let mut journal = closed_pan();
    journal.add(refilled(2.0, "Linden")).add(conditions(&[4, 5]));
    assert_eq!(lacks(&journal, Gate::StartEngine), ["refilled"]);
    assert!(journal.missing(Gate::StartEngine).contains("a dry pump ruins the transmission"));
    journal.add(refilled(0.9, "Linden"));
    assert_eq!(lacks(&journal, Gate::StartEngine), ["clear"], "who refills again looks again");
    journal.add(conditions(&[5]));
    assert_eq!(lacks(&journal, Gate::StartEngine), [""; 0]);
}

#[test]
fn the_plug_is_opened_only_on_a_fresh_temperature_inside_the_window() {
    let mut journal = closed_pan();
    journal.add(refilled(3.05, "Linden")).add(conditions(&[4, 5])).add(caution(5));
    journal.add(Kind::GearCycle(v1::GearCycle { driver_person_code: "A".into(), nobody_under_vehicle: 1 }));
    assert_eq!(lacks(&journal, Gate::Level), ["temperature"]);
    journal.add(temperature(61.0));
    assert!(journal.missing(Gate::Level).contains("The fluid has 61"));
    journal.add(temperature(43.0));
    assert_eq!(lacks(&journal, Gate::Level), [""; 0]);
    journal.minute += 3;
    journal.add(part(2, "F8-20"));
    assert_eq!(lacks(&journal, Gate::Level), ["temperature"], "three minutes later it must be read again");
}

#[test]
fn nobody_under_the_vehicle_while_gears_are_engaged() {
    let mut journal = closed_pan();
    journal.add(refilled(3.05, "Linden")).add(conditions(&[4, 5])).add(caution(5));
    journal.add(Kind::GearCycle(v1::GearCycle { driver_person_code: "A".into(), nobody_under_vehicle: 2 }));
    journal.add(temperature(43.0));
    assert_eq!(lacks(&journal, Gate::Level), ["gears-moved"]);
}

#[test]
fn the_drive_after_waits_for_level_plug_and_dry() {
    let journal = level_read();
    assert_eq!(lacks(&journal, Gate::RoadTest), ["plug-closed", "dry"]);
    let mut journal = dry();
    journal.add(Kind::LeakCheck(v1::LeakCheck { found: 3, line_closed: 1, after_drive: false }));
    assert_eq!(lacks(&journal, Gate::RoadTest), ["dry"]);
}

#[test]
fn a_job_that_ends_without_an_exchange_can_be_closed() {
    let mut journal = settled_job();
    journal.add(Kind::Closing(v1::Closing { outcome: 2, ..Default::default() }));
    assert_eq!(lacks(&journal, Gate::Close), [""; 0]);
    assert!(journal.view().open_points.iter().all(|point| point.gate.is_empty()));
}

#[test]
fn the_first_step_that_remains_follows_the_order_of_the_work() {
    let first = |journal: &Journal| journal.with(steps::remaining).first().map(|step| step.name);
    let mut journal = Journal::new();
    journal.add(arrival());
    assert_eq!(first(&journal), Some("vin"));
    assert_eq!(first(&settled_job()), Some("codes-before"));
    assert_eq!(first(&ready_to_push()), Some("exchange"));
    assert_eq!(first(&pushed_through()), Some("engine-off"));
    assert_eq!(first(&pan_off()), Some("fitted"));
    assert_eq!(first(&closed_pan()), Some("refill"));
    assert_eq!(first(&level_read()), Some("plug"));
    assert_eq!(first(&dry()), Some("codes-after"));
}

#[test]
fn a_reading_is_never_proposed() {
    let readings = [
        "volume_in_litres",
        "tube_percent",
        "temperature_celsius",
        "overflow",
        "volume_out_litres",
        "caught_litres",
    ];
    for journal in [settled_job(), ready_to_push(), pushed_through(), pan_off(), closed_pan(), level_read()] {
        for step in journal.with(steps::remaining) {
            for field in &step.fields {
                let measured =
                    readings.contains(&field.name) || (step.name == "pan" && field.name == "amount");
                assert!(!measured || field.proposal.is_none(), "{}.{} is proposed", step.name, field.name);
            }
        }
    }
}

fn remaining(journal: &Journal) -> Vec<steps::Step> {
    journal.with(steps::remaining)
}

pub(super) fn step(journal: &Journal, name: &str) -> Option<steps::Step> {
    remaining(journal).into_iter().find(|step| step.name == name)
}

#[test]
fn an_exchange_after_the_pan_waits_until_the_pan_is_back() {
    let mut journal = ready_to_push();
    journal.add(conditions(&[2, 3])).add(caution(4));
    assert_eq!(lacks(&journal, Gate::Pan), [""; 0], "pan first is an order of work too");
    journal.add(drained(3.05));
    assert_eq!(lacks(&journal, Gate::Exchange), ["direction-tested", "pan-closed", "refilled", "clear"]);
    assert!(step(&journal, "hookup").is_none(), "the pan comes first");
    journal.add(screws(13)).add(refilled(3.05, "Linden")).add(conditions(&[4, 5]));
    assert_eq!(
        lacks(&journal, Gate::Exchange),
        ["direction-tested"],
        "the line was closed with clip and cap"
    );
    assert!(step(&journal, "hookup").is_some());
    journal.add(hookup(1));
    assert_eq!(lacks(&journal, Gate::Exchange), [""; 0]);
    journal.add(pushed(12.0, None, None, true)).add(conditions(&[2, 3]));
    assert!(step(&journal, "hookup").is_none(), "it is over");
    // An exchange that began has to end before the pan comes off.
    let mut begun = ready_to_push();
    begun.add(pushed(3.0, Some(25), None, false)).add(conditions(&[2, 3])).add(caution(4));
    assert_eq!(lacks(&begun, Gate::Pan), ["exchange-ended"]);
}

#[test]
fn a_job_stopped_after_fluid_was_moved_still_needs_level_plug_and_dry() {
    let stopped = || Kind::Closing(v1::Closing { outcome: 2, ..Default::default() });
    let mut journal = pan_off();
    journal.add(stopped());
    let pan = ["parts-fitted", "screws-tightened", "refilled"];
    assert_eq!(lacks(&journal, Gate::Close), [&pan[..], &["level-set", "plug-closed", "dry"]].concat());
    let mut zero = ready_to_push();
    zero.add(pushed(0.0, None, None, false)).add(conditions(&[3])).add(stopped());
    assert_eq!(lacks(&zero, Gate::Close), [""; 0], "a display at zero moved nothing");
}

#[test]
fn the_codes_to_read_are_those_of_all_variants_and_none_is_proposed() {
    let mut journal = settled_job();
    for (name, codes) in [("fluid", ["BR-861", "LN-847"]), ("filter", ["F8-10", "F8-20"])] {
        let step = step(&journal, name).unwrap();
        let field = step.fields.first().unwrap();
        let steps::Input::Choice(choices) = &field.input else { panic!("{name} is typed") };
        let words: Vec<&str> = choices.iter().map(|choice| choice.word.as_str()).collect();
        assert_eq!(words, [codes[0], codes[1], "another"]);
        assert!(step.fields.iter().all(|field| field.proposal.is_none()), "{name}");
    }
    journal.add(container("Bramble"));
    assert!(step(&journal, "fluid").is_some(), "a container that contradicts is read again");
}

#[test]
fn an_untested_direction_and_a_leak_are_asked_again() {
    let mut journal = settled_job();
    journal.add(hookup(2));
    assert!(step(&journal, "hookup").is_some());
    journal.add(hookup(1));
    assert!(step(&journal, "hookup").is_none());
    let mut journal = dry();
    assert!(step(&journal, "leaks").is_none());
    journal.add(Kind::LeakCheck(v1::LeakCheck { found: 2, line_closed: 1, after_drive: false }));
    assert!(step(&journal, "leaks").is_some());
}

#[test]
fn a_temperature_is_not_typed_twice_and_is_asked_again_when_it_is_too_hot_or_old() {
    let known = |journal: &Journal| {
        let preset = step(journal, "level").unwrap().preset;
        preset.into_iter().find(|(name, _)| *name == "temperature_celsius").map(|(_, value)| value)
    };
    let mut journal = closed_pan();
    journal.add(refilled(3.05, "Linden")).add(conditions(&[4, 5])).add(caution(5));
    assert!(step(&journal, "temperature").is_some() && known(&journal).is_none());
    journal.add(temperature(61.0));
    let hot = step(&journal, "temperature").unwrap();
    assert!(said(&hot.question).contains("61") && said(&hot.question).contains("too hot"));
    assert_eq!((hot.safety, step(&journal, "level").unwrap().after), (true, Some("temperature")));
    journal.add(temperature(43.0));
    assert!(step(&journal, "temperature").is_none());
    assert_eq!(known(&journal).as_deref(), Some("43 °C"));
    journal.minute += 3;
    journal.add(part(2, "F8-20"));
    assert!(step(&journal, "temperature").is_some() && known(&journal).is_none());
}

#[test]
fn fluid_is_added_where_nothing_came_inside_the_window() {
    let mut journal = closed_pan();
    journal.add(refilled(3.05, "Linden")).add(conditions(&[4, 5])).add(temperature(44.0)).add(level(44.0, 1));
    assert!(step(&journal, "level-added").is_some());
    let amount = Some(v1::fill::Amount::VolumeLitres(0.3));
    let added = v1::Fill { purpose: 2, amount, fluid_code: "Linden".into(), ..Default::default() };
    journal.add(Kind::Fill(added));
    assert!(step(&journal, "level-added").is_none());
    assert!(step(&journal, "clear").is_none(), "adding at the level is done with the engine running");
}

#[test]
fn an_empty_catalogue_blocks_no_job() {
    let mut journal = Journal::new();
    journal.add(arrival()).add(vin("AZTWA8M47LA042317"));
    let fields = step(&journal, "variant").unwrap().fields;
    let looked_up =
        ["source", "fluid_code", "total_fill_litres", "level_least_celsius", "level_greatest_celsius"];
    assert!(looked_up.iter().all(|name| fields.iter().any(|field| field.name == *name && !field.needed)));
    let settled = |fluid_code: &str| {
        Kind::VariantSettled(v1::VariantSettled {
            variant_code: "X-9".into(),
            means: 2,
            source: "the maker's own pages".into(),
            fluid_code: fluid_code.into(),
            level_least_celsius: Some(40.0),
            level_greatest_celsius: Some(50.0),
            ..Default::default()
        })
    };
    journal.revision = Revision::parse(vec![("workshop.toml".into(), WORKSHOP.as_bytes().to_vec())]).unwrap();
    journal.add(settled(""));
    assert!(step(&journal, "variant").is_some(), "nobody knows yet which fluid goes in");
    journal.add(settled("Linden")).add(container("Linden"));
    assert!(step(&journal, "variant").is_none());
    assert!(
        !lacks(&journal, Gate::Exchange)
            .iter()
            .any(|key| ["variant", "fluid", "contradiction"].contains(key))
    );
    journal.add(level(43.0, 2));
    assert!(!lacks(&journal, Gate::RoadTest).contains(&"level-set"));
}

#[test]
fn a_pan_that_was_off_is_asked_for_again_before_the_drive_and_the_closing() {
    let mut journal = pan_off();
    journal.add(temperature(43.0)).add(level(43.0, 2));
    for gate in [Gate::RoadTest, Gate::Close] {
        let lacks = lacks(&journal, gate);
        for key in ["parts-fitted", "screws-tightened", "refilled"] {
            assert!(lacks.contains(&key), "{key}: {lacks:?}");
        }
    }
    journal.add(decision("refilled"));
    assert!(!lacks(&journal, Gate::Close).contains(&"refilled"));
}

#[test]
fn a_decision_that_decides_nothing_is_told_and_one_that_does_is_what_a_yes_rests_on() {
    let told = |journal: &Journal| {
        journal.view().findings.iter().map(|finding| said(&finding.text)).collect::<Vec<_>>().join("\n")
    };
    let mut journal = ready_to_push();
    journal.add(decision("fluid-color"));
    assert!(told(&journal).contains("Nothing of that name waits"), "{}", told(&journal));
    assert!(journal.view().decisions.is_empty());
    let mut journal = ready_to_push();
    journal.add(codes(1, &["P0711"]));
    let no = journal.with(|context, entries| may(context, entries, Gate::Exchange));
    assert!(!no.decidable.is_empty() && no.decidable.iter().all(|key| !key.contains("caution")), "{no:?}");
    for key in no.decidable {
        journal.add(decision(key));
    }
    let yes = journal.with(|context, entries| may(context, entries, Gate::Exchange));
    assert!(yes.yes && all(&yes.basis).contains("Decided by"), "{yes:?}");
    assert!(!told(&journal).contains("Nothing of that name waits"));
}
