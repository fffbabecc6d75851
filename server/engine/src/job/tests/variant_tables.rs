//! What the catalogue states of a variant beside its fluid, where the work meets it: kit, adapter, litres carried out,
//! cautions of the vehicle's maker, and the filter it was built with.

use super::gates::{pan_off, step};
use super::*;
use crate::steps::{Choice, Input};

/// A job under other lines of the transmission's file.
fn under(alder: &str, journal: &mut Journal) {
    let files = [("workshop.toml", WORKSHOP), ("alder-8.toml", alder)];
    let files = files.map(|(name, text)| (name.to_owned(), text.as_bytes().to_vec()));
    journal.revision = Revision::parse(files.to_vec()).unwrap();
}

/// The choices of a step's first field.
fn choices(journal: &Journal, name: &str) -> Vec<Choice> {
    match step(journal, name).unwrap().fields.into_iter().next().unwrap().input {
        Input::Choice(choices) => choices,
        other => panic!("{other:?}"),
    }
}

#[test]
fn the_kit_of_the_catalogue_is_said_by_one_tap_and_the_usual_parts_without_one() {
    let mut journal = pan_off();
    let all = choices(&journal, "fitted").remove(0);
    assert_eq!(said(&all.text), "all of kit K8-20: filter, pan seal, magnets, pan screws");
    let stated = [("kit", "K8-20"), ("fitted", "filter,pan-seal,magnets,pan-screws")];
    assert_eq!(all.also, stated.map(|(name, value)| (name, value.to_owned())));
    let (before, kit) = ALDER.split_once("[variant.kit]\ncode = \"K8-20\"").unwrap();
    let without = format!("{before}{}", kit.split_once("new_screw_count = 13\n").unwrap().1);
    under(&without, &mut journal);
    let fields = step(&journal, "fitted").unwrap().fields;
    assert_eq!(fields[0].proposal.as_ref().unwrap().value, "filter,pan-seal,magnets,pan-screws");
}

#[test]
fn an_adapter_is_named_at_the_hookup_and_asked_for_only_where_one_is_known() {
    let mut journal = settled_job();
    let [line, at, _] = choices(&journal, "hookup").try_into().unwrap();
    assert_eq!(
        said(&line.text),
        "in the cooler line with adapter AD-14, direction tested: at the cooler, the upper line"
    );
    assert!(line.also.contains(&("adapter", "AD-14".to_owned())), "{line:?}");
    assert!(at.also.contains(&("adapter", "AD-31".to_owned())), "{at:?}");
    let lines: String =
        ALDER.lines().filter(|line| !line.contains("AD-14")).map(|line| format!("{line}\n")).collect();
    under(&lines, &mut journal);
    let line = choices(&journal, "hookup").remove(0);
    assert!(
        said(&line.text).starts_with("in the cooler line, direction")
            && line.also.contains(&("adapter", String::new()))
    );
}

#[test]
fn litres_carried_out_are_the_variant_s_own_where_they_are_stated() {
    let carried = |alder: &str| {
        let mut journal = settled_job();
        under(alder, &mut journal);
        journal.add(container("Linden")).add(drained(3.05)).add(refilled(3.05, "Linden"));
        let balance = journal.view().balance.unwrap();
        let row = balance.came_out.iter().find(|row| said(&row.label).contains("carried out")).unwrap();
        (row.litres.value, row.litres.standard_uncertainty)
    };
    let more = ALDER.replace("carried_out_litres = 0.25", "carried_out_litres = 0.6");
    let none = ALDER.replace("carried_out_litres = 0.25\ncarried_out_limit_litres = 0.10\n", "");
    let within = 0.10 / 3.0_f64.sqrt();
    for (alder, litres) in [(ALDER, 0.25), (&more, 0.6), (&none, 0.25)] {
        let (value, uncertainty) = carried(alder);
        assert!((value - litres).abs() < 1e-12 && (uncertainty - within).abs() < 1e-12, "{value}");
    }
}

#[test]
fn what_the_vehicle_maker_warns_of_is_said_before_anybody_goes_under_and_on_the_record() {
    let journal = settled_job();
    let warned = "The vehicle maker says: Never raise the engine speed above idle while the level is read.";
    let first = said(&step(&journal, "caution-lifted").unwrap().caution.unwrap());
    assert!(first.starts_with("Lift locked") && first.ends_with(warned), "{first}");
    assert!(all(&journal.view().cautions).contains(warned));
    let mut unsettled = Journal::new();
    unsettled.add(Kind::Arrival(v1::Arrival {
        plate: "PH 482 K".into(),
        reasons: vec![1],
        ..Default::default()
    }));
    assert!(!all(&unsettled.view().cautions).contains("maker says"));
}

#[test]
fn the_filter_that_the_vehicle_was_built_with_contradicts_nothing() {
    let old =
        ALDER.replace("filter_code = \"F8-20\"", "filter_code = \"F8-20\"\nold_filter_code = \"F8-02\"");
    for (code, contradicts) in [("F8-02", false), ("F8-20", false), ("F8-10", true)] {
        let mut journal = settled_job();
        under(&old, &mut journal);
        journal.add(Kind::PartChecked(v1::PartChecked {
            part: 5,
            code: code.into(),
            read_by: 1,
            ..Default::default()
        }));
        let stopped = journal.view().findings.iter().any(|finding| finding.weight == Weight::Stops);
        assert_eq!(stopped, contradicts, "{code}");
    }
}
