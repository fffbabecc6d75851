//! The level by dipstick and at a hole in the side, from the question to the closed job.

use super::gates::{
    caution, codes, conditions, drive, dry, lacks, level_read, pan_off, pushed_through, screws, step,
    temperature,
};
use super::*;
use crate::steps::Input;

fn by_method(method: &str) -> Revision {
    let alder =
        ALDER.replace("level_method = \"standpipe_overflow\"", &format!("level_method = \"{method}\""));
    with_alder(&alder)
}

fn with_alder(alder: &str) -> Revision {
    let files = [("workshop.toml", WORKSHOP), ("alder-8.toml", alder)];
    Revision::parse(files.map(|(name, text)| (name.to_owned(), text.as_bytes().to_vec())).to_vec()).unwrap()
}

fn dipstick(celsius: f64, dipstick: i32) -> Kind {
    let Kind::LevelCheck(check) = level(celsius, 0) else { panic!() };
    Kind::LevelCheck(v1::LevelCheck { dipstick, ..check })
}

/// Everything up to the moment when the level is read, with a variant of this method.
fn before_level(method: &str) -> Journal {
    let mut journal = pan_off();
    let fitted = v1::PartFitted { fitted: vec![1, 2, 3, 4], ..Default::default() };
    journal.add(Kind::PartFitted(fitted)).add(screws(13)).add(refilled(3.05, "Linden"));
    journal.add(conditions(&[4, 5])).add(caution(5));
    journal.add(Kind::GearCycle(v1::GearCycle { driver_person_code: "A".into(), nobody_under_vehicle: 1 }));
    journal.revision = by_method(method);
    journal
}

fn leaks() -> Kind {
    Kind::LeakCheck(v1::LeakCheck { found: 1, line_closed: 1, after_drive: false })
}

fn waste() -> Kind {
    let amount = Some(v1::waste::Amount::VolumeLitres(15.4));
    Kind::Waste(v1::Waste { kind: 1, amount, container: "W-2".into() })
}

#[test]
fn a_level_between_the_marks_closes_a_job_without_a_plug() {
    let mut journal = before_level("dipstick");
    assert!(journal.missing(Gate::Level).contains("the dipstick counts only between 40 and 50"));
    journal.add(temperature(43.0));
    let go_ahead = journal.with(|context, entries| may(context, entries, Gate::Level));
    assert!(go_ahead.yes, "{:?}", go_ahead.missing);
    let cautions = all(&go_ahead.cautions);
    assert!(cautions.contains("clear of belts and fan") && cautions.contains("nobody under the vehicle"));
    let asked = step(&journal, "level").unwrap();
    assert!(said(&asked.question).contains("pull the dipstick"), "{}", said(&asked.question));
    assert!(said(asked.caution.as_ref().unwrap()).contains("clear of belts and fan"));
    let Input::Choice(marks) = &asked.fields.iter().find(|field| field.name == "dipstick").unwrap().input
    else {
        panic!()
    };
    assert_eq!(
        marks.iter().map(|mark| mark.word.as_str()).collect::<Vec<_>>(),
        ["below", "between", "above"]
    );
    assert!(!asked.fields.iter().any(|field| field.name == "overflow"));
    assert!(lacks(&journal, Gate::RoadTest).contains(&"level-set"));
    assert!(journal.missing(Gate::RoadTest).contains("between the marks of the dipstick"));
    journal.add(leaks()).add(dipstick(43.0, 2));
    assert!(step(&journal, "plug").is_none() && step(&journal, "level").is_none());
    assert_eq!(lacks(&journal, Gate::RoadTest), ["dry"], "looked for leaks after the level, not before");
    journal.add(leaks()).add(codes(2, &[])).add(drive(2)).add(waste());
    assert_eq!(lacks(&journal, Gate::Close), [""; 0]);
    let view = journal.view();
    assert_eq!(view.level.set_celsius, Some(43.0));
    let attempt = said(&view.level.attempts[0].text);
    assert!(attempt.contains("between the marks; this look counts"), "{attempt}");
    assert!(all(&view.level.remarks).contains("The level is read on the dipstick."));
    assert!(all(&view.cautions).contains("clear of belts and fan"));
    assert!(!all(&view.not_measured).contains("level plug"), "no plug was opened");
}

#[test]
fn below_and_above_the_marks_do_not_count_and_say_what_to_do() {
    let mut journal = before_level("dipstick");
    journal.add(temperature(43.0)).add(dipstick(43.0, 1));
    let told = |journal: &Journal| said(&journal.view().level.attempts.last().unwrap().text);
    assert!(told(&journal).contains("too low, add fluid and look again"));
    assert_eq!(
        said(&step(&journal, "level-added").unwrap().question),
        "The dipstick shows too little: add fluid. How much?"
    );
    journal.add(dipstick(43.0, 3));
    assert!(told(&journal).contains("too high, take fluid out and look again"));
    assert!(step(&journal, "level-added").is_none());
    journal.add(dipstick(61.0, 2));
    assert!(told(&journal).contains("too hot"));
    journal.add(dipstick(43.0, 2)).add(dipstick(44.0, 3));
    let view = journal.view();
    assert!(said(&view.level.attempts[3].text).contains("a later look saw another level"));
    assert_eq!(view.level.set_celsius, None);
}

#[test]
fn what_is_taken_out_at_a_dipstick_stands_in_the_fluid_in_and_out() {
    let mut journal = before_level("dipstick");
    let Kind::LevelCheck(above) = dipstick(43.0, 3) else { panic!() };
    journal.add(Kind::LevelCheck(v1::LevelCheck { caught_litres: Some(0.4), ..above }));
    let view = journal.view();
    assert!(
        view.balance
            .unwrap()
            .came_out
            .iter()
            .any(|row| said(&row.label).starts_with("taken out at the level"))
    );
    assert!(view.story.iter().any(|line| said(&line.text).contains("0.4\u{a0}L taken out")));
}

#[test]
fn a_look_by_another_method_than_the_variants_does_not_count() {
    let mut journal = before_level("dipstick");
    journal.add(temperature(43.0)).add(level(43.0, 2));
    assert!(said(&journal.view().level.attempts[0].text).contains("this transmission has a dipstick"));
    assert!(lacks(&journal, Gate::Close).contains(&"plug-closed"), "the plug was opened all the same");
    let mut journal = before_level("standpipe_overflow");
    journal.add(temperature(43.0)).add(dipstick(43.0, 2));
    assert!(said(&journal.view().level.attempts[0].text).contains("set at the overflow, not by a dipstick"));
    assert!(lacks(&journal, Gate::Close).contains(&"level-set"));
}

#[test]
fn a_hole_in_the_side_answers_like_an_overflow_and_needs_its_plug() {
    let mut journal = before_level("side_hole");
    journal.add(temperature(43.0));
    let asked = step(&journal, "level").unwrap();
    assert!(said(&asked.question).contains("open the plug at the side"));
    let ask = asked.fields.iter().find(|field| field.name == "overflow").unwrap();
    assert_eq!(said(&ask.ask), "At the hole in the side you see");
    journal.add(level(43.0, 2));
    assert_eq!(journal.view().level.set_celsius, Some(43.0));
    assert!(all(&journal.view().level.remarks).contains("The level is read at the hole in the side."));
    assert!(lacks(&journal, Gate::RoadTest).contains(&"plug-closed"));
}

#[test]
fn a_looked_up_variant_without_a_method_is_asked_for_the_overflow_and_takes_a_dipstick_too() {
    let mut journal = Journal::new();
    journal.revision = Revision::parse(vec![("workshop.toml".into(), WORKSHOP.as_bytes().to_vec())]).unwrap();
    let looked_up = v1::VariantSettled {
        variant_code: "Birch-6".into(),
        means: 2,
        source: "maker's list".into(),
        fluid_code: "Hazel".into(),
        level_least_celsius: Some(70.0),
        level_greatest_celsius: Some(80.0),
        ..Default::default()
    };
    journal.add(arrival()).add(Kind::VariantSettled(looked_up));
    assert!(step(&journal, "level").unwrap().fields.iter().any(|field| field.name == "overflow"));
    assert!(lacks(&journal, Gate::Close).contains(&"plug-closed"));
    journal.add(dipstick(75.0, 2));
    assert_eq!(journal.view().level.set_celsius, Some(75.0));
    assert!(!lacks(&journal, Gate::Close).contains(&"plug-closed"));
}

#[test]
fn a_standpipe_keeps_its_words() {
    let journal = level_read();
    let attempt = said(&journal.view().level.attempts[0].text);
    assert!(attempt.contains("drops; this look counts"), "{attempt}");
    assert!(!all(&journal.view().level.remarks).contains("The level is read"));
    assert_eq!(lacks(&dry(), Gate::RoadTest), [""; 0]);
}

#[test]
fn where_the_level_is_read_elsewhere_nobody_looks_for_a_standpipe() {
    for method in ["dipstick", "side_hole"] {
        let mut journal = pushed_through();
        journal.add(conditions(&[2, 3])).add(caution(4)).add(drained(3.05));
        let alder = ALDER.replace("standpipe_overflow", method).replace("standpipe_code = \"SP-68\"\n", "");
        journal.revision = with_alder(&alder.replace("standpipe_label = \"long\"\n", ""));
        assert!(step(&journal, "pan-seen").is_none(), "{method}");
        assert!(!lacks(&journal, Gate::Refill).contains(&"pan-seen"), "{method}");
        assert!(!all(&journal.view().not_measured).contains("tandpipe"), "{method}");
        journal.revision = by_method(method);
        assert!(lacks(&journal, Gate::Refill).contains(&"pan-seen"), "{method}: the catalogue names one");
    }
}
