//! The order of the steps as the person makes it: chosen, put off, skipped, gone back to, stopped.

use super::*;

#[test]
fn a_step_is_chosen_from_the_list_of_those_that_remain() {
    let mut bay = Bay::new();
    bay.press(".o");
    assert!(bay.shown.contains("Which step?") && bay.shown.contains("  01  Which VIN"), "{}", bay.shown);
    bay.press("03").press("1");
    assert!(matches!(bay.last(), Kind::FaultCodes(_)));
    assert!(bay.shown.ends_with("last eight: "), "the order of the work goes on: {}", bay.shown);
    // Enter stays.
    bay.press(".o\n");
    assert!(bay.shown.ends_with("last eight: "), "{}", bay.shown);
}

#[test]
fn what_comes_after_a_step_that_was_put_off_is_not_asked_by_itself() {
    let mut steps: Vec<_> = normal_job()
        .into_iter()
        .filter(|step| ["level", "plug", "waste"].contains(&step.name.as_str()))
        .collect();
    steps[1].after = "level".into();
    let mut bay = Bay::with(steps, &["A"]);
    bay.press("l\n");
    assert!(matches!(bay.last(), Kind::Waste(_)), "{}", bay.shown);
    assert!(bay.shown.contains("what was put off is asked again"), "{}", bay.shown);
    assert!(bay.shown.ends_with("temperature celsius (°C): "), "{}", bay.shown);
}

#[test]
fn the_job_is_stopped_from_any_question_with_why_and_what_the_customer_says() {
    let mut bay = Bay::new();
    bay.press(".x").press("2").press("1");
    assert!(bay.entries.is_empty() && bay.shown.contains("no exchange done"), "{}", bay.shown);
    bay.press("1");
    let kinds: Vec<_> = bay.entries.iter().map(|entry| entry.fact.clone().unwrap().kind.unwrap()).collect();
    let [Kind::Decision(decision), Kind::CustomerAnswer(said), Kind::Closing(closing)] = &kinds[..] else {
        panic!("{kinds:?}")
    };
    assert!(decision.point == "no-exchange" && decision.reason.contains("look inside first"));
    assert_eq!((said.topic, said.said, closing.outcome), (2, 1, 2));
    // Enter goes on at each place, and who could not ask the customer states nothing of it.
    let mut goes_on = Bay::new();
    goes_on.press(".x\n").press(".x1\n").press(".x14\n");
    assert!(goes_on.entries.is_empty());
    goes_on.press(".x14").press("1");
    assert_eq!(goes_on.entries.len(), 2);
}

#[test]
fn enter_never_confirms_a_caution() {
    let mut bay = Bay::only("caution-lifted");
    bay.press("\n\n\n");
    assert!(bay.entries.is_empty() && bay.shown.contains("press 1 to confirm"), "{}", bay.shown);
    bay.press("1");
    assert_eq!(bay.entries.len(), 1);
}

#[test]
fn a_safety_step_is_put_off_but_never_skipped() {
    let mut bay = Bay::new();
    bay.press("XRH04217\n\n\n11").press("1\n2");
    assert!(bay.shown.contains("Read this and confirm it."));
    bay.press("s");
    assert!(bay.shown.contains("it is never skipped"), "{}", bay.shown);
    let before = bay.entries.len();
    bay.press("l");
    assert_eq!(bay.entries.len(), before);
    assert!(bay.shown.ends_with("q quit\n") && bay.shown.contains("Look, and confirm it."), "{}", bay.shown);
}

#[test]
fn a_step_is_skipped_with_a_numbered_reason() {
    let mut bay = Bay::only("sample-after");
    bay.press("s\n").press("s2");
    let Kind::Skipped(skipped) = bay.last() else { panic!() };
    assert_eq!(skipped.step, "sample-after");
    assert_eq!(skipped.reason(), standpipe_proto::v1::SkipReason::NotOrdered);
    assert!(bay.ended);
}

#[test]
fn what_was_put_off_is_asked_again_at_the_end() {
    let mut bay =
        Bay::with(normal_job().into_iter().filter(|step| step.kind == "fluid_sample").collect(), &["A"]);
    bay.press("l1111");
    let Kind::FluidSample(sample) = bay.last() else { panic!() };
    assert_eq!(sample.moment(), standpipe_proto::v1::SampleTime::After);
    assert!(bay.shown.contains("what was put off is asked again"), "{}", bay.shown);
    bay.press("3112");
    assert!(bay.ended && bay.entries.len() == 2);
}

#[test]
fn back_goes_to_the_field_before_and_then_to_the_entry_before() {
    let mut bay = Bay::new();
    bay.press("XRH04217\n\n\n1").press("1");
    // In the drive: ticks, then back from cold or warm to the ticks.
    bay.press("1\nb").press("3\n2");
    let Kind::RoadTest(drive) = bay.last() else { panic!() };
    assert_eq!(drive.ticks, [standpipe_proto::v1::DriveTick::Harsh as i32]);
    let entries = bay.entries.len();
    bay.press("b2").press("1\n1").press("1");
    assert_eq!(bay.entries.len(), entries);
    let (entry_id, instead, reason) = bay.corrections.last().unwrap();
    assert_eq!(entry_id, &bay.entries.last().unwrap().header.as_ref().unwrap().entry_id);
    assert!(matches!(&instead.as_ref().unwrap().kind, Some(Kind::RoadTest(drive)) if drive.ticks == [1]));
    assert_eq!(reason, "typed wrongly");
    // A confirmation can only be withdrawn.
    bay.press("1b").press("2").press("13");
    assert!(bay.corrections.last().unwrap().1.is_none());
}
