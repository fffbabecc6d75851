//! The work in a few lines beside the question, and the gates that stand with it.

use super::gates::{
    caution, closed_pan, codes, drive, dry, hookup, lacks, level_read, pan_off, pushed_through,
    ready_to_push, skipped,
};
use super::*;
use crate::steps::{AtBay, at_bay, remaining_with_view};

fn bay(journal: &Journal) -> AtBay {
    journal.with(at_bay)
}

/// What is found in each line, by the name of the line; the current one in brackets.
fn lines(journal: &Journal) -> Vec<String> {
    let shown = bay(journal).overview.into_iter().map(|line| {
        let found = line.found.map(|found| said(&found)).unwrap_or_default();
        let name = if line.current { format!("[{}]", line.name) } else { line.name.to_owned() };
        format!("{name}: {found}").replace('\u{a0}', " ").trim_end().to_owned()
    });
    shown.collect()
}

#[test]
fn before_anything_is_found_only_the_first_line_is_current() {
    let lines = lines(&Journal::new());
    assert_eq!(lines[0], "[arrival]:");
    assert!(lines[1..].iter().all(|line| line.ends_with(':')), "{lines:?}");
}

#[test]
fn each_line_says_in_a_few_words_what_was_found() {
    let expected = [
        "arrival: done",
        "drive-before: as it should be",
        "sample: burnt smell",
        "fluid: agrees",
        "hookup: done",
        "[exchange]:",
        "pan:",
        "fitted:",
        "refill:",
        "gears:",
        "level: 40 to 50 °C",
        "plug:",
        "drive-after:",
        "hand-over:",
    ];
    assert_eq!(lines(&ready_to_push()), expected);
    assert_eq!(lines(&pushed_through())[5], "[exchange]: 12.0 L pushed", "the engine still runs");
    assert_eq!(lines(&pan_off())[7], "[fitted]:");
    assert_eq!(lines(&level_read())[10], "level: set at 43 °C");
    assert_eq!(lines(&dry())[11], "plug: done");
}

#[test]
fn codes_and_what_was_left_out_are_named() {
    let mut journal = settled_job();
    journal.add(codes(1, &["P0741", "P0776", "P0700"])).add(skipped("drive-before"));
    let lines = lines(&journal);
    assert_eq!(lines[0], "arrival: P0741, P0776 and one more");
    assert_eq!(lines[1], "drive-before: left out");
}

#[test]
fn the_share_of_new_fluid_stands_in_no_line() {
    for journal in [pushed_through(), closed_pan()] {
        let text = lines(&journal).concat();
        assert!(!text.contains("100") && !text.contains('%'), "{text}");
    }
}

#[test]
fn steps_view_and_gates_are_those_that_are_asked_one_by_one() {
    for journal in [Journal::new(), ready_to_push(), dry()] {
        let bay = bay(&journal);
        assert_eq!((bay.steps.clone(), bay.view), journal.with(remaining_with_view));
        assert!(!bay.gates.is_empty());
        for (gate, answer) in bay.gates {
            assert_eq!(answer, journal.with(|context, entries| may(context, entries, gate)));
            assert!(bay.steps.iter().any(|step| step.gate == Some(gate)));
        }
    }
    let mut journal = dry();
    journal.add(drive(2));
    assert!(lines(&journal)[12].starts_with("[drive-after]: as it should be"), "codes are still open");
}

#[test]
fn a_caution_alone_or_what_was_put_off_is_not_done() {
    let mut journal = settled_job();
    let put_off = v1::Skipped { step: "drive-before".into(), reason: 5 };
    journal.add(Kind::Skipped(put_off)).add(caution(2)).add(skipped("hookup"));
    let shown = lines(&journal);
    assert_eq!(shown[1], "drive-before: put off");
    assert_eq!(shown[4], "hookup: left out");
    // Pushed all the same: nobody stated that it was connected.
    let mut journal = settled_job();
    journal.add(caution(2)).add(pushed(9.0, None, None, true));
    assert_eq!(lines(&journal)[4], "hookup: not stated");
    journal.add(hookup(1));
    assert_eq!(lines(&journal)[4], "hookup: done");
    let mut journal = settled_job();
    journal.add(skipped("pan"));
    assert_eq!(lines(&journal)[7], "fitted: left out");
    assert_eq!(lines(&journal)[8], "refill:", "tools and people are still to be clear");
}

#[test]
fn nobody_is_asked_to_drive_before_the_work_once_it_has_begun() {
    let asked = |journal: &Journal| bay(journal).steps.iter().any(|step| step.name == "drive-before");
    for begun in [drained(3.05), pushed(3.0, None, None, false)] {
        let mut journal = settled_job();
        journal.add(pushed(0.0, None, None, false));
        assert!(asked(&journal), "a counter at zero is no beginning");
        journal.add(begun);
        assert!(!asked(&journal));
        let view = journal.view();
        assert!(all(&view.not_measured).contains("Drive before"), "{}", all(&view.not_measured));
        assert!(!view.open_points.iter().any(|point| said(&point.text).contains("before, or say")));
        assert!(!lacks(&journal, Gate::Exchange).contains(&"drive-before"));
    }
    let mut journal = settled_job();
    journal.add(skipped("drive-before")).add(pushed(3.0, None, None, false));
    assert!(all(&journal.view().skipped).contains("drive"), "its reason stays on the record");
}
