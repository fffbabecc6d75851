//! What is told beside a question: the gate, the server away, what changes what is done, who works.

use super::*;

#[test]
fn an_estimate_stands_with_the_answer_and_not_while_the_look_is_asked() {
    let mut bay = Bay::only("exchange");
    bay.now = vec!["About 62 of 100 parts are new.".into()];
    bay.shown.clear();
    bay.press("0\n");
    assert_eq!(bay.shown.matches("> About 62 of 100 parts are new.").count(), 1, "{}", bay.shown);
    bay.shown.clear();
    // Asked for the reason, gone back, asked again: the look stands alone.
    bay.press("w3\nb3\nw");
    assert!(!bay.shown.contains("62 of 100"), "{}", bay.shown);
    bay.press("21");
    let look = "kept: exchange_reading\n> About 62 of 100 parts are new.\n\n---";
    assert!(bay.shown.contains(look) && bay.entries.len() == 2, "{}", bay.shown);
}

#[test]
fn what_changes_what_is_done_stands_above_the_question_and_not_twice_beside_what_stops() {
    let (mut questions, _) = Questions::begin("HL-26-0001", &["A".into()], None);
    let stop = Finding { text: "Wrong fluid.".into(), stops: true, seqs: vec![3] };
    let now = vec!["Wrong fluid.".into(), "Refill 3.6 L: what ran out of the pan.".into()];
    let remaining = Remaining { steps: normal_job(), last_seq: 1, stops: vec![stop], now, away: None };
    let mut shown = String::new();
    for action in questions.step(Event::Steps(remaining)) {
        if let Action::Say(text) | Action::Head(text) = action {
            shown.push_str(&text);
        }
    }
    assert_eq!(shown.matches("Wrong fluid.").count(), 1, "{shown}");
    assert!(shown.starts_with("> Refill 3.6 L: what ran out of the pan.\n\n---"), "{shown}");
}

#[test]
fn a_no_of_the_gate_is_shown_with_every_reason_and_blocks_no_answer() {
    let mut bay = Bay::only("engine-off");
    bay.steps = normal_job().into_iter().filter(|step| step.name == "pan").collect();
    let point =
        |text: &str, stops| MissingPoint { text: text.into(), stops, key: "k".into(), decidable: false };
    let missing = vec![point("The fluid is another one.", true), point("The engine is not off.", false)];
    bay.gate = Ok(Box::new(MayResponse { missing, ..MayResponse::default() }));
    bay.press("1");
    assert!(
        bay.shown.contains(
            "No go-ahead for pan:\n  STOP  The fluid is another one. Nobody can override this.\n  The engine is not off.\n"
        ),
        "{}",
        bay.shown
    );
    bay.press("3.6l\n2");
    assert_eq!(bay.entries.len(), 2);
}

#[test]
fn offline_there_is_no_go_ahead() {
    let mut bay = Bay::new();
    bay.away = Some("the shop server is away".into());
    bay.steps =
        normal_job().into_iter().filter(|step| ["vin", "pan"].contains(&step.name.as_str())).collect();
    bay.press("XRH04217\n");
    assert!(bay.shown.contains("offline: the shop server is away"), "{}", bay.shown);
    assert!(bay.shown.contains("No go-ahead for pan is known"), "{}", bay.shown);
    assert!(!bay.shown.contains("Yes, go-ahead"));
}

#[test]
fn what_could_not_be_kept_is_asked_again() {
    let mut bay = Bay::only("leaks");
    bay.refuses = Some("the disk is full".into());
    bay.press("11");
    assert!(bay.entries.is_empty() && bay.shown.contains("! the disk is full"), "{}", bay.shown);
    bay.press("11");
    assert_eq!(bay.entries.len(), 1);
}

#[test]
fn the_person_is_asked_by_one_key_when_several_worked_here() {
    let mut bay = Bay::with(normal_job(), &["A", "B"]);
    assert!(bay.shown.contains("Who works?\n  1  A\n  2  B\nEnter: A\n"), "{}", bay.shown);
    bay.press("x2");
    assert!(bay.shown.contains("[B]") && bay.shown.contains("Which VIN"), "{}", bay.shown);
}

#[test]
fn a_step_of_a_newer_server_is_told_and_passed() {
    let mut steps = normal_job();
    steps.truncate(1);
    steps.insert(0, Step { kind: "tea_break".into(), question: "Is there tea?".into(), ..Step::default() });
    let mut bay = Bay::with(steps, &["A"]);
    assert!(bay.shown.contains("cannot state 'Is there tea?'"), "{}", bay.shown);
    bay.press("XRH04217\n");
    assert_eq!(bay.entries.len(), 1);
}
