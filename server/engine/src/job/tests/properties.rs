//! Gates and steps over generated journals: any facts in any order, none of them refused.

use super::gates::{
    caution, codes, conditions, decision, drive, hookup, part, sample, screws, skipped, temperature,
};
use super::undone::{gears, leaks, plug};
use super::*;
use crate::steps;
use proptest::prelude::*;
use std::collections::BTreeSet;

/// Most drains of the pan in one journal, so that one refill can put back what ran out.
const DRAINS_MAX: usize = 3;

fn fitted() -> Kind {
    Kind::PartFitted(v1::PartFitted { fitted: vec![1, 2, 3, 4], ..Default::default() })
}

fn waste() -> Kind {
    let amount = Some(v1::waste::Amount::VolumeLitres(15.4));
    Kind::Waste(v1::Waste { kind: 1, amount, container: "W-2".into() })
}

/// What meets a point, by the key of its sentence; for two looks, both.
fn met_by(point: &str) -> Vec<Kind> {
    match point {
        "need-codes-before" => vec![codes(1, &[])],
        "need-drive-before" => vec![drive(1)],
        "need-sample-before" => vec![sample(1, 2, 1)],
        "need-caution-lifted" => vec![caution(1)],
        "need-caution-line" => vec![caution(2)],
        "need-caution-engine" => vec![caution(3)],
        "need-caution-pan" => vec![caution(4)],
        "need-caution-gears" => vec![caution(5)],
        "need-lift-locked" => vec![conditions(&[1])],
        "need-engine-off" => vec![conditions(&[2])],
        "need-line-closed" => vec![conditions(&[3]), leaks(1, 1)],
        "need-pan-closed" => vec![conditions(&[4])],
        "need-clear" => vec![conditions(&[5])],
        "need-direction" => vec![hookup(1)],
        "gate-fluid-not-compared" => vec![container("Linden")],
        "need-repair-first" => vec![decision("repair-first")],
        "need-look-inside" => vec![decision("look-inside-first")],
        "open-exchange-not-ended" => vec![pushed(12.0, None, None, true)],
        "need-standpipe" => vec![part(4, "SP-68")],
        "need-old-filter" => vec![part(5, "F8-20")],
        "need-parts" => vec![fitted()],
        "need-screws" => vec![screws(13)],
        "need-refill" => vec![refilled(9.9, "Linden")],
        "need-gears" => vec![gears(1)],
        "need-temperature" | "need-temperature-window" => vec![temperature(43.0)],
        "open-level" => vec![level(43.0, 2)],
        "need-plug" => vec![plug()],
        "need-leak-check" | "need-dry" => vec![leaks(1, 1)],
        "need-codes-after" => vec![codes(2, &[])],
        "need-drive-after" => vec![drive(2)],
        "need-waste" => vec![waste()],
        _ => Vec::new(),
    }
}

/// What may be lacking anew because the work itself goes on: who refills looks again and sets the level anew, an exchange that ends ends with
/// the engine running and the line open, a vehicle that was driven is lifted anew, a look at the level opens the plug.
fn begun_by(point: &str) -> &'static [&'static str] {
    match point {
        "need-refill" => &["need-clear", "need-gears", "open-level", "open-level-dipstick"],
        "need-drive-before" => &["need-lift-locked"],
        "open-level" => &["need-plug"],
        "need-plug" => &["need-leak-check"],
        "open-exchange-not-ended" => &["need-engine-off", "need-line-closed"],
        _ => &[],
    }
}

/// Facts of a job, good and bad.
fn fact() -> impl Strategy<Value = Kind> {
    let good = [
        codes(1, &[]),
        drive(1),
        sample(1, 2, 1),
        caution(1),
        caution(2),
        caution(3),
        caution(4),
        caution(5),
        conditions(&[1]),
        conditions(&[2, 3]),
        conditions(&[4, 5]),
        hookup(1),
        container("Linden"),
        pushed(3.0, Some(25), None, false),
        pushed(12.0, None, Some(11.9), true),
        drained(3.05),
        part(4, "SP-68"),
        part(5, "F8-20"),
        fitted(),
        screws(13),
        refilled(3.05, "Linden"),
        gears(1),
        temperature(43.0),
        level(43.0, 2),
        plug(),
        leaks(1, 1),
        codes(2, &[]),
        drive(2),
        waste(),
    ];
    let bad = [
        codes(1, &["P0741"]),
        sample(1, 3, 4),
        hookup(2),
        container("Bramble"),
        part(4, "SP-52"),
        refilled(1.0, "Linden"),
        gears(2),
        temperature(61.0),
        level(61.0, 3),
        level(44.0, 1),
        leaks(3, 2),
        skipped("exchange"),
        skipped("level"),
    ];
    prop_oneof![4 => prop::sample::select(good.to_vec()), 1 => prop::sample::select(bad.to_vec())]
}

fn journal(facts: &[Kind]) -> Journal {
    let mut journal = settled_job();
    let mut drains = 0;
    for kind in facts {
        drains += usize::from(matches!(kind, Kind::Drain(_)));
        if drains <= DRAINS_MAX || !matches!(kind, Kind::Drain(_)) {
            journal.add(kind.clone());
        }
    }
    journal
}

/// What a gate lacks: the key of each sentence with its words.
fn points(journal: &Journal, gate: Gate) -> BTreeSet<(&'static str, String)> {
    let go_ahead = journal.with(|context, entries| may(context, entries, gate));
    go_ahead.missing.iter().map(|missing| (missing.text.key(), said(&missing.text))).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn an_entry_that_meets_a_point_removes_it_and_adds_none(
        facts in prop::collection::vec(fact(), 0..30),
        gate in prop::sample::select(Gate::ALL.to_vec()),
    ) {
        for (point, words) in points(&journal(&facts), gate) {
            let mut journal = journal(&facts);
            let mut steps = met_by(point);
            let Some(last) = steps.pop() else { continue };
            for kind in steps {
                journal.add(kind);
            }
            let before = points(&journal, gate);
            // No time passes: a temperature does not get old by the entry.
            journal.minute -= 1;
            journal.add(last);
            let after = points(&journal, gate);
            prop_assert!(!after.contains(&(point, words.clone())), "{gate:?}: '{words}' is met and still there");
            for (new, text) in after.difference(&before) {
                prop_assert!(begun_by(point).contains(new), "{gate:?}: meeting '{words}' added '{text}'");
            }
        }
    }

    #[test]
    fn skipping_never_hides_a_point_of_safety(facts in prop::collection::vec(fact(), 0..30)) {
        // What a reason may stand in for; everything else has to be met.
        const STANDS_IN: [&str; 9] = [
            "need-codes-before", "need-drive-before", "need-sample-before", "open-exchange-not-ended",
            "need-standpipe", "need-old-filter", "need-codes-after", "need-drive-after", "need-waste",
        ];
        let plain = journal(&facts);
        let mut skipping = journal(&facts);
        for step in steps::names() {
            skipping.minute -= 1;
            skipping.add(skipped(step));
        }
        for gate in Gate::ALL {
            let (before, after) = (points(&plain, *gate), points(&skipping, *gate));
            prop_assert!(after.is_subset(&before));
            for (point, words) in before.difference(&after) {
                prop_assert!(STANDS_IN.contains(point), "{gate:?}: skipping hid '{words}'");
            }
        }
        let safe = |journal: &Journal| {
            let remaining = journal.with(steps::remaining);
            remaining.into_iter().filter(|step| step.safety).map(|step| step.name).collect::<Vec<_>>()
        };
        prop_assert_eq!(safe(&plain), safe(&skipping));
    }

    #[test]
    fn what_a_tap_states_too_is_a_later_field_of_its_step(facts in prop::collection::vec(fact(), 0..30)) {
        for step in journal(&facts).with(steps::remaining) {
            for (at, field) in step.fields.iter().enumerate() {
                let steps::Input::Choice(choices) = &field.input else { continue };
                prop_assert!(!field.name.is_empty() || field.proposal.is_none(), "{}: Enter says it all", step.name);
                for (name, _) in choices.iter().flat_map(|choice| &choice.also) {
                    let later = step.fields.iter().skip(at + 1).any(|field| field.name == *name);
                    prop_assert!(later, "{}: {name} is not asked later", step.name);
                }
            }
        }
    }
}
