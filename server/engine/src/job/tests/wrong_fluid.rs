//! Wrong fluid that went in: taking it out gets its yes, the drive and the end wait for a named person.

use super::gates::{
    caution, closed_pan, codes, conditions, decision, drive, hookup, lacks, part, ready_to_push, screws,
    step, temperature,
};
use super::signed::correction;
use super::undone::{done_at, gears, leaks, plug};
use super::*;
use proptest::prelude::*;

const INSIDE: &str = "wrong-fluid-inside";
const PUT_RIGHT: &str = "put-right";

/// A container of the other series, four litres of it pushed in, then the right container.
fn by_exchange() -> Journal {
    let mut journal = ready_to_push();
    journal.add(container("Bramble")).add(pushed(4.0, None, Some(3.9), false)).add(container("Linden"));
    journal
}

/// The other series filled by its own name, whatever container was compared.
fn by_fill() -> Journal {
    let mut journal = closed_pan();
    journal.add(refilled(3.05, "Bramble")).add(conditions(&[4, 5]));
    journal
}

fn basis(journal: &Journal, gate: Gate) -> String {
    plain(&all(&journal.with(|context, entries| may(context, entries, gate)).basis))
}

fn plain(text: &str) -> String {
    text.replace('\u{a0}', " ")
}

fn now(journal: &Journal) -> Vec<String> {
    journal.view().now.iter().map(|line| plain(&said(line))).collect()
}

/// Pan off and back with the right fluid, up to the start of the engine.
fn drain_and_refill(journal: &mut Journal) {
    journal.add(conditions(&[2, 3])).add(caution(4)).add(drained(3.05));
    journal.add(part(4, "SP-68")).add(part(5, "F8-20"));
    let fitted = v1::PartFitted { kit: "A8-II".into(), fitted: vec![1, 2, 3, 4], ..Default::default() };
    journal.add(Kind::PartFitted(fitted)).add(screws(13));
    journal.add(refilled(3.05, "Linden")).add(conditions(&[4, 5]));
}

/// Everything from the gears to the look for leaks.
fn finish(journal: &mut Journal) {
    journal.add(caution(5)).add(gears(1)).add(temperature(43.0)).add(level(43.0, 2));
    journal.add(plug()).add(leaks(1, 1));
}

fn end(journal: &mut Journal) {
    let amount = Some(v1::waste::Amount::VolumeLitres(15.4));
    let waste = v1::Waste { kind: 1, amount, container: "W-2".into() };
    journal.add(codes(2, &[])).add(drive(2)).add(Kind::Waste(waste));
}

#[test]
fn the_right_container_read_afterwards_opens_no_gate_but_the_one_that_takes_it_out() {
    let mut journal = by_exchange();
    let first = now(&journal).remove(0);
    assert_eq!(
        first,
        "Wrong fluid is inside: 4.0 L of Bramble, as far as it was measured. Engine off, do not drive: drain it, refill \
         with Linden and exchange again, as the vehicle maker’s instructions decide."
    );
    assert_eq!(lacks(&journal, Gate::Exchange), [INSIDE, "wrong-fluid-drained"]);
    for gate in [Gate::Refill, Gate::StartEngine, Gate::Level] {
        assert!(lacks(&journal, gate).contains(&INSIDE), "{gate:?}");
    }
    for gate in [Gate::RoadTest, Gate::Close] {
        assert!(lacks(&journal, gate).contains(&PUT_RIGHT), "{gate:?}");
    }
    journal.add(conditions(&[2, 3])).add(caution(4));
    assert_eq!(
        lacks(&journal, Gate::Pan),
        [""; 0],
        "an exchange that pushed it in does not go on to its end"
    );
    assert!(basis(&journal, Gate::Pan).starts_with("Wrong fluid is inside: 4.0 L of Bramble"));
}

#[test]
fn a_contradicting_container_at_hand_has_no_override_while_it_is_put_right() {
    let mut journal = by_exchange();
    journal.add(decision(INSIDE));
    assert_eq!(lacks(&journal, Gate::Exchange), ["wrong-fluid-drained"], "the engine runs for it");
    journal.add(conditions(&[2, 3])).add(caution(4));
    drain_and_refill(&mut journal);
    journal.add(hookup(1));
    assert_eq!(lacks(&journal, Gate::Exchange), [""; 0]);
    assert!(basis(&journal, Gate::Exchange).contains("Wrong fluid went in: 4.0 L of Bramble"));
    assert!(basis(&journal, Gate::Exchange).contains("Decided by"));
    journal.add(container("Bramble"));
    assert_eq!(lacks(&journal, Gate::Exchange), ["contradiction"]);
    let go_ahead = journal.with(|context, entries| may(context, entries, Gate::Level));
    assert!(go_ahead.missing.iter().any(|missing| missing.stops), "{:?}", go_ahead.missing);
}

#[test]
fn a_whole_remedy_goes_step_by_step_to_the_end_and_the_record_keeps_it() {
    let mut journal = by_exchange();
    journal.add(decision(INSIDE));
    assert!(now(&journal)[0].starts_with("Wrong fluid went in: 4.0 L of Bramble. Do not drive until"));
    journal.add(conditions(&[2, 3])).add(caution(4));
    assert!(lacks(&journal, Gate::StartEngine).contains(&"wrong-fluid-drained"));
    drain_and_refill(&mut journal);
    assert_eq!(lacks(&journal, Gate::StartEngine), [""; 0]);
    journal.add(hookup(1));
    assert_eq!(lacks(&journal, Gate::Exchange), [""; 0]);
    journal.add(pushed(10.0, None, Some(9.8), false)).add(pushed(16.0, None, Some(15.8), true));
    journal.add(conditions(&[2, 3]));
    finish(&mut journal);
    assert_eq!(lacks(&journal, Gate::RoadTest), [PUT_RIGHT]);
    let asked = plain(&journal.missing(Gate::RoadTest));
    assert!(
        asked.starts_with("4.0 L of Bramble went in and do not belong inside. Of the wrong fluid "),
        "{asked}"
    );
    assert!(asked.contains("are computed still to be inside, by litres alone"), "{asked}");
    let go_ahead = journal.with(|context, entries| may(context, entries, Gate::RoadTest));
    assert_eq!(go_ahead.decidable, [PUT_RIGHT]);
    journal.add(decision(PUT_RIGHT));
    assert_eq!(lacks(&journal, Gate::RoadTest), [""; 0]);
    assert!(!now(&journal).concat().contains("Bramble"), "{:?}", now(&journal));
    end(&mut journal);
    assert_eq!(lacks(&journal, Gate::Close), [""; 0]);
    journal.add(Kind::Closing(v1::Closing { outcome: 1, ..Default::default() }));
    let view = journal.view();
    let kept = view.findings.iter().find(|finding| said(&finding.text).starts_with("Wrong fluid went in"));
    let kept = kept.expect("the record keeps it");
    assert!(kept.weight == Weight::Stops && kept.on_record);
    assert!(all(&view.please_note).contains("Wrong fluid went in"));
    assert!(all(&view.identity).contains("computed still to be inside"));
    let exchange = view.exchange.unwrap();
    assert!(exchange.share_after_exchange.is_none() && exchange.share_after_pan.is_none());
    assert!(all(&exchange.remarks).contains("some of what went in was the wrong fluid"));
}

#[test]
fn fluid_that_is_moved_afterwards_asks_for_the_decision_again() {
    let mut journal = by_exchange();
    journal.add(decision(INSIDE)).add(pushed(12.0, None, None, true)).add(decision(PUT_RIGHT));
    assert!(!lacks(&journal, Gate::Close).contains(&PUT_RIGHT));
    for later in [pushed(13.0, None, None, true), refilled(0.4, "Linden"), drained(1.0)] {
        let mut journal = by_exchange();
        journal.add(decision(INSIDE)).add(pushed(12.0, None, None, true)).add(decision(PUT_RIGHT));
        journal.add(later.clone());
        assert!(lacks(&journal, Gate::Close).contains(&PUT_RIGHT), "{later:?}");
        assert!(lacks(&journal, Gate::RoadTest).contains(&PUT_RIGHT), "{later:?}");
    }
}

#[test]
fn the_steps_of_the_remedy_are_asked_first_and_pushing_after_the_pan() {
    let asked = |journal: &Journal| journal.with(crate::steps::remaining).first().map(|step| step.name);
    let mut journal = by_exchange();
    assert_eq!(asked(&journal), Some("engine-off"), "what went in is drained before anything is pushed");
    journal.add(conditions(&[2, 3]));
    assert_eq!(asked(&journal), Some("caution-pan"));
    journal.add(caution(4));
    assert_eq!(asked(&journal), Some("pan"));
    journal.add(drained(3.05));
    assert_eq!(asked(&journal), Some("pan-seen"), "the pan is off: nothing is pushed");
    let mut whole = by_exchange();
    whole.add(decision(INSIDE)).add(conditions(&[2, 3])).add(caution(4));
    drain_and_refill(&mut whole);
    assert_eq!(asked(&whole), Some("hookup"));
}

#[test]
fn a_container_that_another_station_reads_later_changes_nothing_of_what_went_in() {
    let mut journal = ready_to_push();
    journal.add(container("Bramble")).add(pushed(8.0, None, None, false));
    let before = now(&journal).remove(0);
    assert!(before.starts_with("Wrong fluid is inside: 8.0 L of Bramble"), "{before}");
    // In the same minute: whose clock is right nobody knows, and the journal has it last.
    journal.minute -= 1;
    journal.add(container("Linden"));
    let (_, last) = journal.entries.last_mut().unwrap();
    let mut entry = v1::Entry::decode(last.as_slice()).unwrap();
    let header = entry.header.as_mut().unwrap();
    (header.station_id, header.station_number, header.boot_id) = ("bay-2".into(), 1, "1".repeat(32));
    *last = entry.encode_to_vec();
    assert_eq!(now(&journal).remove(0), before);
}

#[test]
fn the_record_says_how_much_went_in_of_each_and_that_it_was_put_right() {
    let mut journal = by_exchange();
    journal.add(pushed(16.0, None, Some(15.7), true)).add(decision(PUT_RIGHT));
    let done: Vec<String> = journal
        .view()
        .done
        .iter()
        .map(|row| {
            plain(&format!("{} {}", said(&row.what), row.amount.as_ref().map(said).unwrap_or_default()))
        })
        .collect();
    assert!(done.iter().any(|row| row.contains("Linden") && row.contains("12.0 L")), "{done:?}");
    assert!(done.iter().any(|row| row.contains("Bramble") && row.contains("4.0 L")), "{done:?}");
    assert!(plain(&all(&journal.view().please_note)).contains("decided that it was put right"));
}

#[test]
fn closing_a_job_takes_nothing_out_of_the_vehicle() {
    let mut journal = by_exchange();
    journal.add(Kind::Closing(v1::Closing { outcome: 2, ..Default::default() }));
    let view = journal.view();
    assert!(view.head.closed && view.head.stop_stands);
    assert!(plain(&all(&view.please_note)).contains("do not drive"), "{}", all(&view.please_note));
}

#[test]
fn without_a_pan_the_right_fluid_pushed_through_lets_the_engine_start() {
    let mut journal = by_exchange();
    journal.add(decision(INSIDE));
    assert!(lacks(&journal, Gate::StartEngine).contains(&"wrong-fluid-drained"));
    journal.add(pushed(8.0, None, Some(7.8), false)).add(pushed(16.0, None, Some(15.7), true));
    assert!(!lacks(&journal, Gate::StartEngine).contains(&"wrong-fluid-drained"));
}

#[test]
fn the_decision_that_it_is_put_right_answers_how_it_is_put_right_too() {
    let mut journal = by_exchange();
    journal.add(pushed(16.0, None, Some(15.7), true)).add(decision(PUT_RIGHT));
    assert!(!lacks(&journal, Gate::Exchange).contains(&INSIDE));
    journal.add(conditions(&[2, 3])).add(caution(4));
    let rests_on = basis(&journal, Gate::Pan);
    assert!(rests_on.starts_with("Wrong fluid went in") && !rests_on.contains("Engine off"), "{rests_on}");
    assert!(!journal.view().head.stop_stands, "what is put right stops nobody");
}

#[test]
fn a_decision_stops_nothing_from_standing_while_nothing_took_it_out() {
    let mut journal = by_exchange();
    journal.add(decision(PUT_RIGHT));
    assert!(journal.view().head.stop_stands);
    assert!(now(&journal)[0].contains("Bramble"), "{:?}", now(&journal));
}

#[test]
fn small_steps_of_a_counter_add_up() {
    let mut journal = ready_to_push();
    journal.add(container("Bramble"));
    for step in 1..=100 {
        journal.add(pushed(f64::from(step) * 0.04, None, None, false));
    }
    journal.add(container("Linden"));
    assert!(now(&journal)[0].starts_with("Wrong fluid is inside: 4.0 L of Bramble"), "{:?}", now(&journal));
}

#[test]
fn a_decision_made_before_a_correction_told_of_it_does_not_count() {
    let mut journal = closed_pan();
    journal.add(refilled(3.05, "Linden"));
    let of = journal.entries.len();
    journal.add(decision(PUT_RIGHT)).add(correction(of, refilled(3.05, "Bramble")));
    assert!(lacks(&journal, Gate::RoadTest).contains(&PUT_RIGHT));
    journal.add(drained(3.05)).add(refilled(3.05, "Linden")).add(decision(PUT_RIGHT));
    assert!(!lacks(&journal, Gate::RoadTest).contains(&PUT_RIGHT));
}

#[test]
fn nobody_drives_by_a_decision_alone_while_nothing_took_it_out() {
    let mut journal = by_fill();
    finish(&mut journal);
    journal.add(decision(INSIDE)).add(decision(PUT_RIGHT));
    assert_eq!(lacks(&journal, Gate::RoadTest), ["wrong-fluid-worked-on"]);
    let go_ahead = journal.with(|context, entries| may(context, entries, Gate::RoadTest));
    assert_eq!(go_ahead.decidable, [""; 0]);
}

#[test]
fn a_fill_by_its_own_name_counts_whatever_container_was_compared_and_the_pan_is_asked_for_again() {
    let mut journal = by_fill();
    assert!(plain(&journal.missing(Gate::StartEngine)).contains("of Bramble went in"));
    assert!(lacks(&journal, Gate::StartEngine).contains(&"wrong-fluid-drained"));
    assert!(step(&journal, "pan").is_some(), "what was filled comes out of the pan again");
    journal.add(decision(INSIDE));
    drain_and_refill(&mut journal);
    assert!(step(&journal, "pan").is_none());
    assert_eq!(lacks(&journal, Gate::StartEngine), [""; 0]);
    finish(&mut journal);
    let asked = journal.missing(Gate::RoadTest);
    assert!(asked.contains("is not known: it was drained before the engine had mixed it."), "{asked}");
}

#[test]
fn without_a_look_before_the_first_look_afterwards_says_what_went_in() {
    let push = |look: &str| {
        let mut journal = settled_job();
        journal.add(pushed(4.0, None, None, false)).add(container(look)).add(container("Linden"));
        journal
    };
    assert!(lacks(&push("Bramble"), Gate::Exchange).contains(&INSIDE));
    assert!(lacks(&push("Bramble"), Gate::Close).contains(&PUT_RIGHT));
    assert!(!lacks(&push("Linden"), Gate::Exchange).contains(&INSIDE));
    // What is decided before anybody knows it decides nothing.
    let mut journal = settled_job();
    journal.add(pushed(4.0, None, None, true)).add(decision(INSIDE)).add(decision(PUT_RIGHT));
    journal.add(container("Bramble")).add(container("Linden"));
    assert!(lacks(&journal, Gate::Close).contains(&PUT_RIGHT));
}

#[test]
fn a_look_that_is_typed_later_counts_for_what_was_done_after_it_and_for_no_decision_before() {
    let mut journal = ready_to_push();
    journal.minute += 20;
    journal.add(pushed(4.0, None, None, true)).add(decision(INSIDE)).add(decision(PUT_RIGHT));
    done_at(&mut journal, container("Bramble"), 18);
    assert!(lacks(&journal, Gate::Close).contains(&PUT_RIGHT), "{:?}", now(&journal));
}

#[test]
fn a_counter_that_stands_still_or_a_withdrawn_fill_put_nothing_in() {
    let mut journal = ready_to_push();
    journal.add(pushed(4.0, None, None, false)).add(container("Bramble")).add(pushed(4.0, None, None, true));
    assert!(!lacks(&journal, Gate::Close).contains(&PUT_RIGHT));
    let mut journal = by_fill();
    let fill = journal.entries.len() - 1;
    journal.add(Kind::Correction(Box::new(v1::Correction {
        corrected_entry_id: Journal::id(fill),
        reason: "wrong job".into(),
        outcome: Some(Outcome::Withdrawn(true)),
    })));
    assert!(!lacks(&journal, Gate::Close).contains(&PUT_RIGHT));
}

#[test]
fn what_is_left_is_computed_from_litres_or_it_is_said_why_not() {
    let left = |journal: &Journal| plain(&all(&journal.view().identity));
    let litres = |journal: &Journal| {
        let text = left(journal);
        let at = text.find("Of the wrong fluid ").expect(&text) + "Of the wrong fluid ".len();
        text[at..].split(' ').next().unwrap().parse::<f64>().unwrap()
    };
    // 4 L pushed into 9 L, then 12 L, which exchange 53 to 90 of 100 parts (simulated with what is usual of both ways of
    // flowing, from memory): 0.4 to 1.9 L of them are left.
    let mut journal = by_exchange();
    journal.add(decision(INSIDE)).add(pushed(16.0, None, None, true));
    let after = litres(&journal);
    assert!((0.3..2.0).contains(&after), "{after}: {}", left(&journal));
    // The same, with a pan of about 3.6 L drained first: less is left.
    let mut drained_first = by_exchange();
    drained_first.add(decision(INSIDE)).add(drained(3.05)).add(refilled(3.05, "Linden"));
    let pan = litres(&drained_first);
    assert!((1.0..3.5).contains(&pan), "{pan}");
    drained_first.add(pushed(16.0, None, None, true));
    assert!(litres(&drained_first) < after, "{}", left(&drained_first));
    let mut back = by_exchange();
    back.add(decision(INSIDE)).add(drained(3.05)).add(refilled(3.05, "Linden"));
    back.add(pushed(3.0, None, None, false));
    assert!(left(&back).contains("is not known: the litre counter went back"), "{}", left(&back));
}

/// What may happen around a container.
#[derive(Debug, Clone, Copy)]
enum Deed {
    Look(bool),
    Push,
    Fill(&'static str),
    Drain,
    Decide,
    PutRight,
}

fn deeds() -> impl Strategy<Value = Vec<Deed>> {
    let deed = prop_oneof![
        any::<bool>().prop_map(Deed::Look),
        Just(Deed::Push),
        prop_oneof![Just("Linden"), Just("Bramble"), Just("")].prop_map(Deed::Fill),
        Just(Deed::Drain),
        Just(Deed::Decide),
        Just(Deed::PutRight),
    ];
    proptest::collection::vec(deed, 1..14)
}

/// Whether wrong fluid went in, and whether that was put right since, told one deed after the other.
fn told(deeds: &[Deed]) -> (bool, bool) {
    let (mut look, mut unknown, mut wrong, mut right) = (None, false, false, false);
    for deed in deeds {
        let code_agrees =
            |code: &str, look: Option<bool>| if code.is_empty() { look } else { Some(code == "Linden") };
        let went_in = match deed {
            Deed::Look(agrees) => {
                if look.is_none() && unknown && !agrees {
                    (wrong, right) = (true, false);
                }
                look = Some(*agrees);
                None
            }
            Deed::Push => Some(code_agrees("", look)),
            Deed::Fill(code) => Some(code_agrees(code, look)),
            Deed::Drain => {
                right = false;
                None
            }
            Deed::Decide => None,
            Deed::PutRight => {
                right = true;
                None
            }
        };
        if let Some(agrees) = went_in {
            right = false;
            unknown |= agrees.is_none();
            wrong |= agrees == Some(false);
        }
    }
    (wrong, right)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]
    #[test]
    fn no_order_of_facts_drives_or_closes_after_wrong_fluid_without_a_decision_that_it_is_put_right(
        deeds in deeds(),
    ) {
        let mut journal = settled_job();
        let mut counter = 0.0;
        for deed in &deeds {
            journal.add(match deed {
                Deed::Look(agrees) => container(if *agrees { "Linden" } else { "Bramble" }),
                Deed::Push => {
                    counter += 1.0;
                    pushed(counter, None, None, false)
                }
                Deed::Fill(code) => refilled(1.0, code),
                Deed::Drain => drained(1.0),
                Deed::Decide => decision(INSIDE),
                Deed::PutRight => decision(PUT_RIGHT),
            });
        }
        let (wrong, right) = told(&deeds);
        for gate in [Gate::RoadTest, Gate::Close] {
            prop_assert_eq!(lacks(&journal, gate).contains(&PUT_RIGHT), wrong && !right, "{:?}", gate);
        }
        let view = journal.view();
        let kept = view.findings.iter().any(|it| it.weight == Weight::Stops && said(&it.text).starts_with("Wrong fluid"));
        prop_assert_eq!(kept, wrong);
        prop_assert!(!wrong || right || view.now[0..1].iter().all(|line| said(line).starts_with("Wrong fluid")));
    }
}
