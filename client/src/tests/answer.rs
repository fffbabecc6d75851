//! One answered field, and the fact of a whole step.

use super::read_fact;
use crate::tests::steps::normal_job;
use standpipe_proto::v1::fact::Kind;
use standpipe_proto::v1::{Fact, Step, StepField, StepInput};
use standpipe_proto::words::answer::{answers, fact, read, stated};

fn step(name: &str) -> Step {
    normal_job().into_iter().find(|step| step.name == name).unwrap()
}

#[test]
fn every_choice_and_proposal_of_every_step_is_understood() {
    for step in normal_job() {
        for field in &step.fields {
            for choice in &field.choices {
                for also in &choice.also {
                    let later = step.fields.iter().find(|later| later.name == also.name).unwrap();
                    let answered = read(&step.kind, later, &also.value);
                    assert!(answered.is_ok(), "{}.{}: {answered:?}", step.name, choice.word);
                }
                if field.name.is_empty() {
                    continue;
                }
                let answered = read(&step.kind, field, &choice.word);
                assert!(answered.is_ok(), "{}.{}: {answered:?}", step.name, choice.word);
            }
            if !field.proposal.is_empty() {
                let answered = read(&step.kind, field, &field.proposal);
                assert!(answered.is_ok(), "{}.{}: {answered:?}", step.name, field.name);
            }
        }
    }
}

#[test]
fn one_letter_is_enough_for_a_unit_and_is_kept_as_the_unit() {
    let units = vec!["L".to_owned(), "kg".to_owned()];
    let field =
        StepField { name: "amount".into(), input: StepInput::Quantity.into(), units, ..StepField::default() };
    for (typed, kept) in [("3.05k", "3.05 kg"), ("3,05 KG", "3,05 kg"), ("3.6l", "3.6 L")] {
        let answer = read("drain", &field, typed).unwrap();
        assert_eq!(answer.text, kept, "{typed}: {answer:?}");
    }
    assert!(read("drain", &field, "3 m").is_err());
}

#[test]
fn plain_yes_and_no_are_kept_as_they_are() {
    let last = StepField { name: "last".into(), input: StepInput::Choice.into(), ..StepField::default() };
    for word in ["yes", "no"] {
        let answer = read("exchange_reading", &last, word).unwrap();
        assert_eq!((answer.field.as_str(), answer.text.as_str()), ("last", word));
    }
}

#[test]
fn a_step_makes_the_same_fact_as_add() {
    let screws = step("screws");
    let given = ["13", "13", "10", "yes"];
    let answers: Vec<_> = screws
        .fields
        .iter()
        .zip(given)
        .map(|(field, text)| read(&screws.kind, field, text).unwrap())
        .collect();
    let made = fact(&screws, answers.iter()).unwrap();
    let flags =
        ["--group=pan", "--screw-count=13", "--new-screw-count=13", "--torque=10 N·m", "--order-kept=yes"];
    assert_eq!(made, read_fact("tightening", &flags).unwrap());
    assert!(answers_step(&made.fact, &screws));
    assert!(!answers_step(&made.fact, &step("plug")));
}

fn answers_step(fact: &Fact, step: &Step) -> bool {
    answers(fact, step).unwrap()
}

#[test]
fn more_new_screws_than_were_tightened_are_told_when_the_step_is_complete() {
    let screws = step("screws");
    let given = ["3", "13", "10 N·m", "yes"];
    let answers: Vec<_> = screws
        .fields
        .iter()
        .zip(given)
        .map(|(field, text)| read(&screws.kind, field, text).unwrap())
        .collect();
    let told = fact(&screws, answers.iter()).unwrap_err().to_string();
    assert!(told.starts_with("new screw count: 13 new screws are more than the 3"), "{told}");
}

#[test]
fn a_field_of_a_newer_server_is_told() {
    let field = StepField { name: "mood".into(), ..StepField::default() };
    assert!(read("drain", &field, "good").unwrap_err().to_string().contains("update the station"));
    assert!(read("tea", &field, "good").unwrap_err().to_string().contains("update the station"));
}

#[test]
fn a_negative_temperature_is_no_flag() {
    let level = step("level");
    let answered = read(&level.kind, &level.fields[0], "-5").unwrap();
    assert_eq!((answered.field.as_str(), answered.text.as_str()), ("temperature_celsius", "-5 °C"));
}

#[test]
fn fields_make_a_fact_in_any_order_and_an_empty_text_states_nothing() {
    let fields = [("debris", "none"), ("amount", "3,05 kg"), ("means", ""), ("place", "pan")];
    let made = stated("drain", &fields).unwrap();
    assert_eq!(made, read_fact("drain", &["--place=pan", "--mass=3,05 kg", "--debris=none"]).unwrap());
    let made =
        stated("road-test", &[("moment", "before"), ("ticks", "late, harsh"), ("warmth", "cold")]).unwrap();
    let Some(Kind::RoadTest(drive)) = made.fact.kind else { panic!("a drive") };
    assert_eq!(drive.ticks.len(), 2);
}

#[test]
fn what_fields_cannot_say_is_told_with_the_field() {
    for (kind, fields, words) in [
        ("drain", &[("place", "pan"), ("place", "pan")][..], "place: place is stated already"),
        (
            "drain",
            &[("volume_litres", "3 L"), ("mass_kilograms", "2 kg")],
            "mass kilograms: volume litres is stated",
        ),
        ("drain", &[("place", "roof")], "place: 'roof' is none of the choices"),
        ("drain", &[("place", "pan"), ("amount", "3")], "volume litres: '3' has no unit"),
        ("exchange_reading", &[("last", "perhaps")], "last: 'perhaps' is neither yes nor no"),
        ("fluid_sample", &[("colour", "brown")], "moment: "),
    ] {
        let told = stated(kind, fields).unwrap_err().to_string();
        assert!(told.starts_with(words), "{told}");
    }
}
