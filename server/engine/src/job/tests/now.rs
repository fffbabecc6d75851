//! What changes what the bay does next: ranked, short, and each line only while it matters.

use super::gates::{codes, conditions, decision, drive, sample, screws, skipped};
use super::*;

fn now(journal: &Journal) -> Vec<String> {
    let view = journal.view();
    assert!(view.now.len() <= 5, "{:?}", view.now);
    view.now.iter().map(|line| said(line).replace('\u{a0}', " ")).collect()
}

fn plug() -> Kind {
    Kind::PlugClosed(v1::PlugClosed {
        seal_new: 1,
        plug_new: 1,
        torque_newton_metres: Some(22.0),
        tool: "TW-2".into(),
    })
}

fn closing(outcome: i32) -> Kind {
    Kind::Closing(v1::Closing { outcome, odometer_kilometres: None })
}

#[test]
fn nothing_is_said_while_nothing_changes_what_is_done() {
    let mut journal = Journal::new();
    journal.add(arrival());
    assert!(now(&journal).is_empty());
    assert!(now(&settled_job()).is_empty(), "what speaks for a plan was not looked at yet");
}

#[test]
fn the_wrong_fluid_stands_before_everything_and_goes_with_the_right_one() {
    let mut journal = settled_job();
    journal.add(codes(1, &["P0741"])).add(container("Bramble"));
    let lines = now(&journal);
    assert!(lines[0].contains("needs Linden") && lines[1].contains("P0741"), "{lines:?}");
    journal.add(container("Linden"));
    assert!(now(&journal).iter().all(|line| !line.contains("needs Linden")));
}

#[test]
fn a_sample_that_says_look_inside_holds_until_a_named_person_decides_or_the_exchange_is_over() {
    let mut journal = settled_job();
    journal.add(sample(1, 3, 1));
    assert!(now(&journal)[0].contains("look inside before exchanging"), "{:?}", now(&journal));
    journal.add(decision("look-inside-first"));
    assert!(now(&journal).is_empty(), "{:?}", now(&journal));
    let mut journal = settled_job();
    journal.add(sample(1, 3, 1)).add(container("Linden")).add(pushed(9.0, None, None, true));
    assert!(!now(&journal).concat().contains("look inside"), "the fluid is spent: {:?}", now(&journal));
    let mut journal = settled_job();
    journal.add(sample(1, 3, 1)).add(skipped("exchange"));
    assert!(now(&journal).is_empty(), "no exchange is done: {:?}", now(&journal));
}

#[test]
fn pan_first_or_last_is_said_from_the_sample_on_until_the_work_begins() {
    let mut journal = settled_job();
    journal.add(codes(1, &[])).add(drive(1));
    assert!(now(&journal).is_empty());
    journal.add(sample(1, 1, 1));
    let lines = now(&journal);
    assert!(lines.len() == 1 && lines[0].starts_with("Pan, then exchange (burnt smell"), "{lines:?}");
    journal.add(container("Linden")).add(pushed(0.0, None, None, false));
    let at_zero = now(&journal);
    assert!(
        at_zero.len() == 2
            && at_zero[0].ends_with("are left for pushing; the rest is for pan, level and hoses.")
    );
    assert_eq!(at_zero[1], lines[0], "a counter at zero is no beginning");
    journal.add(pushed(2.0, Some(25), None, false));
    let lines = now(&journal);
    assert!(lines[1].contains("cannot be watched"), "{lines:?}");
    assert!(lines[2].starts_with("After 2.0 L ") && lines.len() == 4, "{lines:?}");
    assert!(!lines.iter().any(|line| line.contains("Pan, then exchange")), "{lines:?}");
}

#[test]
fn more_out_than_in_is_said_while_the_exchange_runs() {
    let mut journal = settled_job();
    journal.add(container("Linden")).add(pushed(3.0, None, Some(3.8), false));
    assert_eq!(now(&journal), ["Stop the engine: 0.7 L more has left than entered, both taken at 15 °C."]);
}

#[test]
fn a_stop_stays_first_after_the_end_until_the_engine_is_off_or_the_pan_comes_off() {
    let ended = || {
        let mut journal = settled_job();
        journal.add(container("Linden"));
        journal.add(pushed(4.0, Some(25), None, false)).add(pushed(8.0, Some(50), None, false));
        journal.add(pushed(9.0, None, Some(11.0), true));
        journal
    };
    let lines = now(&ended());
    assert!(lines[0].starts_with("Stop the engine: 1.7 L more has left than entered"), "{lines:?}");
    let mut journal = ended();
    journal.add(conditions(&[2]));
    assert!(!now(&journal).concat().contains("Stop the engine"), "{:?}", now(&journal));
    let mut journal = ended();
    journal.add(drained(3.05));
    assert!(!now(&journal).concat().contains("Stop the engine"), "{:?}", now(&journal));
}

#[test]
fn a_stop_and_what_cannot_be_watched_are_never_cut_and_several_codes_are_one_line() {
    let mut journal = settled_job();
    journal.add(codes(1, &["P0741", "P0750", "P0962", "P1744"])).add(sample(1, 3, 1));
    let lines = now(&journal);
    assert!(lines[0].starts_with("Fault codes P0741, P0750, ") && lines.len() == 2, "{lines:?}");
    journal.add(container("Linden")).add(pushed(3.0, Some(25), None, false));
    assert!(now(&journal).iter().any(|line| line.contains("cannot be watched")), "{:?}", now(&journal));
    journal.add(pushed(5.0, Some(25), Some(6.0), false));
    assert!(now(&journal)[0].starts_with("Stop the engine: 0.8 L"), "{:?}", now(&journal));
}

#[test]
fn what_is_wrong_with_the_reading_just_made_stands_with_it_and_goes_with_the_next() {
    let mut journal = settled_job();
    journal.add(container("Linden")).add(pushed(6.0, Some(50), Some(5.9), false));
    journal.add(pushed(4.0, Some(25), Some(3.9), false));
    let lines = now(&journal);
    assert!(lines[0].starts_with("The litre counter went back from 6.0 L to 4.0 L"), "{lines:?}");
    journal.add(pushed(8.0, Some(50), Some(7.9), false));
    assert!(!now(&journal).concat().contains("went back"), "{:?}", now(&journal));
}

#[test]
fn what_came_of_the_exchange_stands_until_the_pan_comes_off() {
    let lines = now(&exchanged_job());
    assert_eq!(lines.len(), 1);
    assert!(lines[0].starts_with("Pushed 9.4 L: "), "{lines:?}");
    assert!(
        lines[0].contains(" of 100 parts inside are new (from ")
            && lines[0].contains("; after pan and refill about ")
    );
}

#[test]
fn after_the_pan_the_lines_give_the_share_by_the_balance_and_what_is_left_without_the_pan() {
    let mut journal = settled_job();
    journal.add(drained(3.05)).add(container("Linden")).add(refilled(3.07, "Linden"));
    for (litres, tube) in [(2.0, 25), (4.0, 50), (6.0, 75)] {
        journal.add(pushed(litres, Some(tube), Some(litres - 0.1), false));
    }
    let lines = now(&journal);
    assert!(lines[0].starts_with("After 6.0 L "), "{lines:?}");
    assert!(lines[1].ends_with("are left for pushing; the rest is for level and hoses, the pan is done."));
    journal.add(pushed(7.0, Some(75), Some(6.9), true));
    let lines = now(&journal);
    assert!(lines[0].starts_with("Pushed 7.0 L: ") && !lines[0].contains("after pan"), "{lines:?}");
}

#[test]
fn the_refill_figure_stands_only_between_pan_and_refill() {
    let mut journal = exchanged_job();
    assert!(!now(&journal).concat().contains("Refill"), "{:?}", now(&journal));
    journal.add_typed(drained(3.05), &[("mass_kilograms", "3.05 kg")]);
    assert_eq!(now(&journal), ["Refill 3.05 kg: what ran out of the pan."]);
    journal.add_typed(refilled(2.0, "Linden"), &[("mass_kilograms", "2.0 kg")]);
    assert_eq!(now(&journal), ["Refill 1.05 kg: what ran out of the pan."]);
    journal.add_typed(refilled(1.05, "Linden"), &[("mass_kilograms", "1.05 kg")]);
    assert!(now(&journal).is_empty(), "{:?}", now(&journal));
}

#[test]
fn a_look_that_does_not_count_is_said_until_one_does_and_then_what_keeps_the_vehicle_up() {
    let mut journal = exchanged_job();
    journal.add_typed(drained(3.05), &[("mass_kilograms", "3.05 kg")]);
    let fitted = v1::PartFitted { kit: "A8-II".into(), fitted: vec![1, 2, 3, 4], ..Default::default() };
    journal.add(Kind::PartFitted(fitted)).add(screws(13));
    journal.add_typed(refilled(3.07, "Linden"), &[("mass_kilograms", "3.07 kg")]);
    journal.add(level(61.0, 3));
    let lines = now(&journal);
    assert!(lines.len() == 1 && lines[0].starts_with("Too hot: 61 °C."), "{lines:?}");
    journal.add(level(44.0, 3));
    let lines = now(&journal);
    let again = lines.last().unwrap();
    assert!(again.starts_with("Level at ") && again.contains("still running out"), "{lines:?}");
    journal.add(level(43.0, 2));
    assert_eq!(now(&journal), ["Before the vehicle comes down: Close the level plug with a new seal."]);
    journal.add(plug());
    assert_eq!(now(&journal), ["Before the vehicle comes down: Look whether it is dry."]);
}

#[test]
fn nothing_is_said_after_the_closing() {
    for outcome in [1, 2] {
        let mut journal = exchanged_job();
        journal.add(container("Bramble")).add(drained(3.05));
        assert!(!now(&journal).is_empty());
        journal.add(closing(outcome));
        assert!(now(&journal).is_empty());
    }
}

#[test]
fn litres_that_are_not_accounted_for_stay_until_they_are() {
    let right = Box::new(v1::Fact { kind: Some(pushed(9.0, None, Some(8.9), true)) });
    let mut journal = settled_job();
    journal.add(container("Linden")).add(pushed(9.0, None, Some(4.1), true)).add(conditions(&[2, 3]));
    let told = |journal: &Journal| now(journal).concat().contains("went in and is not accounted for");
    assert!(told(&journal), "{:?}", now(&journal));
    journal.add(Kind::Correction(Box::new(v1::Correction {
        corrected_entry_id: Journal::id(journal.entries.len() - 1),
        reason: "read wrongly".into(),
        outcome: Some(Outcome::Replacement(right)),
    })));
    assert!(!told(&journal), "{:?}", now(&journal));
    let mut less = settled_job();
    less.add(container("Linden")).add(pushed(9.0, None, Some(7.4), true)).add(conditions(&[2, 3]));
    assert!(now(&less).concat().contains("more has entered than left"), "{:?}", now(&less));
    less.add(drained(3.05));
    assert!(now(&less).concat().contains("more has entered than left"), "{:?}", now(&less));
}

#[test]
fn a_counter_that_went_back_is_told_at_once_whatever_else_is_wrong_and_with_the_last_reading_too() {
    for last in [false, true] {
        let mut journal = settled_job();
        journal.add(codes(1, &["P0741"])).add(container("Linden"));
        journal.add(pushed(6.2, None, None, false)).add(pushed(3.0, None, None, last));
        assert!(now(&journal)[0].starts_with("The litre counter went back from 6.2 L to 3.0 L"), "{last}");
    }
}
