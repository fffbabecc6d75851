//! What remains without the server.

use super::*;
use crate::disk::SystemDisk;
use crate::tests::steps::normal_job;
use crate::tests::{arrival, drained, nobody, options, write_joined};
use crate::words::read_fact;
use standpipe_proto::v1::{Fact, StepField};
use std::sync::Arc;

fn entry(kind: &str, flags: &[&str]) -> Entry {
    Entry { header: None, fact: Some(read_fact(kind, flags).unwrap().fact) }
}

fn names(since: &[Entry]) -> Vec<String> {
    let answer = NextResponse { steps: normal_job(), ..NextResponse::default() };
    remaining(answer, since, "away").unwrap().steps.into_iter().map(|step| step.name).collect()
}

#[test]
fn a_step_is_answered_by_its_kind_and_what_it_knows_itself() {
    let all = names(&[]);
    let before = entry("fault-codes", &["--moment", "before", "--state", "none"]);
    let left = names(std::slice::from_ref(&before));
    assert_eq!(left.len(), all.len() - 1);
    assert!(!left.contains(&"codes-before".to_owned()) && left.contains(&"codes-after".to_owned()));
    let off = entry("condition-confirmed", &["--conditions", "engine-off,line-closed"]);
    assert!(!names(&[off]).contains(&"engine-off".to_owned()));
    let half = entry("condition-confirmed", &["--conditions", "engine-off"]);
    assert!(names(&[half]).contains(&"engine-off".to_owned()));
}

#[test]
fn a_step_that_repeats_ends_with_its_last_answer_and_skipping_hides_no_safety() {
    let look = entry("exchange-reading", &["--volume-in", "4L"]);
    assert!(names(std::slice::from_ref(&look)).contains(&"exchange".to_owned()));
    let last = entry("exchange-reading", &["--volume-in", "12L", "--last"]);
    assert!(!names(&[look, last]).contains(&"exchange".to_owned()));
    let skipped = |step: &str| {
        let step = format!("--step={step}");
        names(&[entry("skipped", &[&step, "--reason", "not-ordered"])])
    };
    assert!(!skipped("sample-after").contains(&"sample-after".to_owned()));
    assert!(skipped("plug").contains(&"plug".to_owned()));
}

#[test]
fn a_no_never_answers_a_step_of_safety() {
    let gears =
        |answer| entry("gear-cycle", &["--driver-person-code", "A", "--nobody-under-vehicle", answer]);
    assert!(names(&[gears("no")]).contains(&"gears".to_owned()));
    assert!(!names(&[gears("yes")]).contains(&"gears".to_owned()));
    assert!(names(&[gears("yes"), gears("no")]).contains(&"gears".to_owned()), "the last one counts");
    let leaks = |found| entry("leak-check", &["--found", found, "--line-closed", "yes"]);
    assert!(names(&[leaks("damp")]).contains(&"leaks".to_owned()));
    assert!(!names(&[leaks("damp"), leaks("dry")]).contains(&"leaks".to_owned()));
    let plug = entry("plug-closed", &["--seal-new", "no"]);
    assert!(names(&[plug]).contains(&"plug".to_owned()));
}

#[test]
fn what_repeats_without_an_end_lets_the_next_question_come_and_is_asked_again_after_it() {
    let (mut temperature, mut level) = (normal_job(), normal_job());
    level.retain(|step| step.name == "level");
    temperature.retain(|step| step.name == "level");
    let read = &mut temperature[0];
    (read.name, read.kind, read.preset) = ("temperature".into(), "temperature_reading".into(), Vec::new());
    let left = |since: &[Entry]| -> Vec<String> {
        let steps = temperature.iter().chain(&level).cloned().collect();
        let answer = NextResponse { steps, ..NextResponse::default() };
        remaining(answer, since, "away").unwrap().steps.into_iter().map(|step| step.name).collect()
    };
    let reading = entry(
        "temperature-reading",
        &["--temperature", "43°C", "--place", "transmission-fluid", "--means", "scan-tool"],
    );
    let look =
        entry("level-check", &["--temperature", "43°C", "--means", "scan-tool", "--overflow", "nothing"]);
    assert_eq!(left(std::slice::from_ref(&reading)), ["level"]);
    assert_eq!(left(&[reading.clone(), look.clone()]), ["temperature"]);
    assert_eq!(left(&[reading.clone(), look, reading]), ["level"], "nobody here knows whether it is set");
}

#[test]
fn proposals_end_with_the_next_entry() {
    let proposals = |since: &[Entry]| {
        let answer = NextResponse { steps: normal_job(), ..NextResponse::default() };
        let steps = remaining(answer, since, "away").unwrap().steps;
        steps.iter().flat_map(|step| &step.fields).filter(|field| !field.proposal.is_empty()).count()
    };
    assert!(proposals(&[]) > 5);
    assert_eq!(proposals(&[entry("hookup", &["--place", "cooler-line"])]), 0);
}

#[test]
fn the_steps_survive_the_end_of_the_program_and_a_damaged_file_says_nothing() {
    let home = tempfile::tempdir().unwrap();
    write_joined(&SystemDisk, home.path(), &nobody());
    let open = || crate::Station::open(home.path(), options(Arc::new(SystemDisk), 5)).unwrap();
    let mut station = open();
    station.set_person("A").unwrap();
    let job = station.open_job(arrival(), Vec::new(), None).unwrap().job;
    assert!(
        matches!(station.remaining_here(&job, "away"), Err(ClientError::Away(why)) if why.contains("connected"))
    );
    let lock = station.turn().unwrap();
    let answer = NextResponse { steps: normal_job(), last_seq: 7, ..NextResponse::default() };
    station.folder.write_steps(&lock, &job.job_id, &answer).unwrap();
    drop((lock, station));
    let mut station = open();
    let all = station.remaining_here(&job, "away").unwrap();
    let (fact, typed): (Fact, _) = drained(3.6);
    station.add(fact, typed, None).unwrap();
    let left = station.remaining_here(&job, "away").unwrap();
    assert_eq!((left.last_seq, left.steps.len()), (7, all.steps.len() - 1));
    let file = home.path().join("steps").join(&job.job_id);
    let whole = std::fs::read(&file).unwrap();
    for cut in [0, 10, 40, whole.len() - 1] {
        std::fs::write(&file, &whole[..cut]).unwrap();
        assert!(open().remaining_here(&job, "away").is_err(), "{cut}");
        assert!(!file.exists());
    }
}

#[test]
fn without_the_server_nothing_is_claimed_to_stop_the_work() {
    let stops = vec![standpipe_proto::v1::Finding { stops: true, ..Default::default() }];
    let answer = NextResponse { steps: normal_job(), stops, ..NextResponse::default() };
    assert!(remaining(answer, &[], "away").unwrap().stops.is_empty());
}

#[test]
fn without_the_server_a_question_means_the_equipment_that_was_hooked_up_last() {
    let preset = vec![PresetField { name: "equipment".into(), value: "X-1".into() }];
    let contents =
        Step { name: "contents".into(), kind: "equipment_contents".into(), preset, ..Step::default() };
    let asked = |since: &[Entry]| -> Vec<String> {
        let answer = NextResponse { steps: vec![contents.clone()], ..NextResponse::default() };
        let steps = remaining(answer, since, "away").unwrap().steps;
        steps.into_iter().flat_map(|step| step.preset).map(|preset| preset.value).collect()
    };
    let hookup = entry("hookup", &["--place", "cooler-line", "--equipment", "X-2"]);
    let said = |code: &str| entry("equipment-contents", &["--equipment", code, "--held", "nothing"]);
    assert_eq!(asked(&[]), ["X-1"]);
    assert_eq!(asked(std::slice::from_ref(&hookup)), ["X-2"]);
    assert_eq!(asked(&[hookup.clone(), said("X-1")]), ["X-2"], "said of the equipment of another job");
    assert!(asked(&[hookup, said("X-2")]).is_empty());
}

#[test]
fn a_step_of_the_site_is_kept_for_the_site_and_is_answered_while_it_waits() {
    let home = tempfile::tempdir().unwrap();
    write_joined(&SystemDisk, home.path(), &nobody());
    let mut station = crate::Station::open(home.path(), options(Arc::new(SystemDisk), 5)).unwrap();
    station.set_person("A").unwrap();
    let job = station.open_job(arrival(), Vec::new(), None).unwrap().job;
    let contents = Step { name: "contents".into(), kind: "equipment_contents".into(), ..Step::default() };
    let answer = NextResponse { steps: vec![contents], ..NextResponse::default() };
    let lock = station.turn().unwrap();
    station.folder.write_steps(&lock, &job.job_id, &answer).unwrap();
    drop(lock);
    assert_eq!(station.remaining_here(&job, "away").unwrap().steps.len(), 1);
    let flags = ["--equipment", "X-1", "--held", "fluid", "--fluid-code", "LN-847"];
    let read = read_fact("equipment-contents", &flags).unwrap();
    let kept = station.add_for(&job, read.fact, read.as_typed, None).unwrap();
    assert_eq!(kept.job, LocalJob::default());
    let waiting = station.unsent().unwrap().waiting.pop().unwrap();
    assert_eq!((job_of(&waiting.entry), waiting.job.job_id.as_str()), ("", ""));
    assert_eq!(station.remaining_here(&job, "away").unwrap().steps, []);
    assert_eq!(station.current_job().unwrap().job_id, job.job_id, "the job in use stays");
}

#[test]
fn a_question_that_speaks_of_a_reading_is_asked_without_it_once_it_counts_no_more() {
    let field = StepField {
        name: "temperature_celsius".into(),
        ask: "Fluid temperature".into(),
        ..Default::default()
    };
    let hot = Step {
        name: "temperature".into(),
        kind: "temperature_reading".into(),
        question: "Too hot: 61 °C. Read the temperature again.".into(),
        fields: vec![field],
        repeats: true,
        ..Step::default()
    };
    let level = Step { name: "level".into(), kind: "level_check".into(), repeats: false, ..hot.clone() };
    let known = PresetField { name: "temperature_celsius".into(), value: "43 °C".into() };
    let level = Step { question: "At 43 °C: what comes?".into(), preset: vec![known], ..level };
    let asked = |since: &[Entry]| -> Vec<String> {
        let answer = NextResponse { steps: vec![hot.clone(), level.clone()], ..NextResponse::default() };
        let steps = remaining(answer, since, "away").unwrap().steps;
        steps.into_iter().map(|step| step.question).collect()
    };
    // What was known while the answer was fresh is looked at again, so its words go at once.
    assert_eq!(asked(&[]), [hot.question.as_str(), "Fluid temperature"]);
    let reading = |place| {
        entry("temperature-reading", &["--temperature", "48°C", "--place", place, "--means", "scan-tool"])
    };
    let other = entry("leak-check", &["--found", "dry", "--line-closed", "yes"]);
    let since = [reading("transmission-fluid"), other];
    assert_eq!(asked(&since), ["Fluid temperature", "Fluid temperature"]);
}
