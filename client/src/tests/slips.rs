//! Slips of the hand and of the tools: what stops the work, units, scanned codes, contradicting ticks.

use super::*;

fn stop(text: &str) -> Finding {
    Finding { text: text.into(), stops: true, seqs: vec![2, 5] }
}

#[test]
fn what_stops_the_work_stands_above_every_question_until_it_is_put_right() {
    let mut bay = Bay::new();
    assert!(!bay.shown.contains("STOP"), "{}", bay.shown);
    bay.stops = vec![stop("The VIN readings differ.")];
    bay.press("XRH04217\n");
    let told =
        "STOP  The VIN readings differ.\n      it rests on places 2 and 5 in the journal; put it right:";
    assert!(bay.shown.contains(told) && bay.shown.contains("standpipe correct"), "{}", bay.shown);
    bay.press("\n\n11");
    assert!(bay.shown.matches("STOP").count() > 1, "{}", bay.shown);
    bay.stops.clear();
    bay.shown.clear();
    bay.press("35\n2");
    assert!(bay.answers > 0 && !bay.shown.contains("STOP"), "{}", bay.shown);
}

#[test]
fn a_unit_is_never_guessed_between_two() {
    let mut bay = Bay::only("pan");
    bay.press("3,05\n");
    assert!(bay.entries.is_empty() && bay.shown.contains("say L or kg, for example 3,05l"), "{}", bay.shown);
    bay.press("3,05k\n2");
    let Kind::Drain(drain) = bay.last() else { panic!() };
    assert_eq!(drain.amount, Some(standpipe_proto::v1::drain::Amount::MassKilograms(3.05)));
    // What is proposed has its unit.
    let mut bay = Bay::only("refill");
    bay.press("\n");
    assert!(bay.shown.contains("  = 3.6\u{a0}L\n"), "{}", bay.shown);
}

/// A step whose code is one of those on the labels, or another.
fn codes_to_read() -> Bay {
    let mut steps: Vec<Step> = normal_job().into_iter().filter(|step| step.name == "old-filter").collect();
    let states = |word: &str, also: &[(&str, &str)]| standpipe_proto::v1::StepChoice {
        word: word.into(),
        text: word.into(),
        also: also
            .iter()
            .map(|(name, value)| standpipe_proto::v1::PresetField {
                name: (*name).into(),
                value: (*value).into(),
            })
            .collect(),
    };
    let menu = standpipe_proto::v1::StepField {
        ask: "Which code?".into(),
        input: standpipe_proto::v1::StepInput::Choice.into(),
        choices: vec![
            states("BR-861", &[("code", "BR-861")]),
            states("LN-847", &[("code", "LN-847")]),
            states("another", &[]),
        ],
        needed: true,
        ..standpipe_proto::v1::StepField::default()
    };
    steps[0].fields.insert(0, menu);
    Bay::with(steps, &["A"])
}

fn code(bay: &Bay) -> String {
    let Kind::PartChecked(checked) = bay.last() else { panic!() };
    checked.code.clone()
}

#[test]
fn a_scanned_code_chooses_itself_or_another_code() {
    let mut bay = codes_to_read();
    bay.step(Event::Text("ln-847".into()));
    assert_eq!(code(&bay), "LN-847", "{}", bay.shown);
    let mut bay = codes_to_read();
    bay.step(Event::Text("XQ-111".into()));
    assert_eq!(code(&bay), "XQ-111", "{}", bay.shown);
    // The keys of the menu still choose.
    let mut bay = codes_to_read();
    bay.press("1");
    assert_eq!(code(&bay), "BR-861");
}

#[test]
fn a_scanned_code_chooses_nothing_where_no_code_is_asked() {
    for name in ["drive-before", "engine-off", "sample-before"] {
        let mut bay = Bay::only(name);
        bay.step(Event::Text("LN-847".into()));
        assert!(bay.shown.contains("'LN-847' came at once") && !bay.ended, "{name}: {}", bay.shown);
        assert!(bay.entries.is_empty() && bay.answers == 0, "{name}");
    }
    let mut bay = Bay::with(normal_job(), &["LN-847", "A"]);
    bay.step(Event::Text("LN-847".into()));
    assert!(!bay.shown.contains("[LN-847]"), "{}", bay.shown);
}

#[test]
fn a_scanned_text_is_what_is_typed() {
    let mut bay = Bay::only("vin");
    bay.step(Event::Text("XRH04217".into()));
    assert_eq!(bay.entries.len(), 1, "{}", bay.shown);
}

#[test]
fn a_tick_that_denies_all_others_stands_alone() {
    let mut bay = Bay::only("drive-before");
    bay.press("13\n");
    assert!(bay.shown.contains("'normal' does not go together with another"), "{}", bay.shown);
    assert_eq!(bay.answers, 0);
    bay.press("1\n2");
    let Kind::RoadTest(drive) = bay.last() else { panic!() };
    assert_eq!(drive.ticks, [standpipe_proto::v1::DriveTick::Harsh as i32]);
}

#[test]
fn a_step_is_chosen_by_its_number_only() {
    let mut bay = Bay::new();
    bay.press(".o");
    assert!(bay.shown.contains("  01  ") && bay.shown.contains("Enter: stay here"), "{}", bay.shown);
    bay.press("q");
    assert!(!bay.ended && bay.shown.contains("press both digits"), "{}", bay.shown);
    bay.press("02");
    let second = &normal_job()[1].question;
    let after = bay.shown.rsplit("press both digits").next().unwrap();
    assert!(after.contains(second.as_str()), "{after}");
}

#[test]
fn more_fields_are_named_when_they_are_asked() {
    let mut bay = Bay::only("fluid");
    bay.press(".m");
    assert!(bay.shown.contains("asked too in this step, each when its turn comes: lot"), "{}", bay.shown);
}
