//! The engine of the questions by itself: keys in, entries out.

use super::*;
use crate::next::present;
use crate::tests::steps::{as_begun, normal_job};
use proptest::prelude::*;
use standpipe_proto::check;
use standpipe_proto::v1::{Entry, Fact, Header, MayResponse, MissingPoint, fact::Kind, header::Subject};

#[path = "slips.rs"]
mod slips;

/// A bay without a network: answers what the questions ask of the outside, and keeps what they want kept.
struct Bay {
    questions: Questions,
    steps: Vec<Step>,
    entries: Vec<Entry>,
    shown: String,
    ended: bool,
    gate: Result<Box<MayResponse>, String>,
    away: Option<String>,
    stops: Vec<Finding>,
    now: Vec<String>,
    refuses: Option<String>,
    corrections: Vec<(String, Option<Fact>, String)>,
    answers: usize,
}

impl Bay {
    fn with(steps: Vec<Step>, persons: &[&str]) -> Self {
        let persons: Vec<_> = persons.iter().map(|code| (*code).to_owned()).collect();
        let (questions, actions) = Questions::begin("HL-26-0001 TW 4711", &persons, None);
        let mut bay = Self {
            questions,
            steps,
            entries: Vec::new(),
            shown: String::new(),
            ended: false,
            gate: Ok(Box::new(MayResponse { yes: true, ..MayResponse::default() })),
            away: None,
            stops: Vec::new(),
            now: Vec::new(),
            refuses: None,
            corrections: Vec::new(),
            answers: 0,
        };
        bay.carry_out(actions);
        bay
    }

    fn new() -> Self {
        Self::with(normal_job(), &["A"])
    }

    fn only(name: &str) -> Self {
        Self::with(normal_job().into_iter().filter(|step| step.name == name).collect(), &["A"])
    }

    fn step(&mut self, event: Event) {
        let actions = self.questions.step(event);
        self.carry_out(actions);
    }

    fn carry_out(&mut self, actions: Vec<Action>) {
        let mut left: std::collections::VecDeque<_> = actions.into();
        while let Some(action) = left.pop_front() {
            let event = match action {
                Action::Say(text) | Action::Head(text) | Action::Echo(text) | Action::Prompt(text) => {
                    self.answers += usize::from(text.starts_with("  = "));
                    self.shown.push_str(&text);
                    continue;
                }
                Action::Person(code) => {
                    self.shown.push_str(&format!("[{code}]"));
                    continue;
                }
                Action::End => {
                    self.ended = true;
                    continue;
                }
                Action::AskGate(_) => Event::Gate(self.gate.clone()),
                Action::Fetch => Event::Steps(Remaining {
                    steps: as_begun(&self.steps, &self.entries),
                    last_seq: self.entries.len() as i64,
                    stops: self.stops.clone(),
                    now: self.now.clone(),
                    away: self.away.clone(),
                }),
                Action::Keep { fact, kind } => match self.refuses.take() {
                    Some(why) => Event::NotKept(why),
                    None => {
                        let entry = entry(fact.fact, fact.as_typed, self.entries.len());
                        assert_eq!(check::entry(&entry), Ok(()), "{kind}");
                        let entry_id = entry.header.as_ref().map(|header| header.entry_id.clone());
                        self.entries.push(entry);
                        Event::Kept { entry_id, line: format!("kept: {kind}") }
                    }
                },
                Action::Correct { entry_id, instead, reason, .. } => {
                    assert!((3..=400).contains(&reason.chars().count()));
                    self.corrections.push((entry_id, instead.map(|fact| fact.fact), reason));
                    Event::Kept { entry_id: None, line: "kept: correction".into() }
                }
            };
            left.extend(self.questions.step(event));
        }
    }

    /// Presses keys: a line break is Enter.
    fn press(&mut self, keys: &str) -> &mut Self {
        for sign in keys.chars() {
            self.step(Event::Key(if sign == '\n' { Key::Enter } else { Key::Sign(sign) }));
        }
        self
    }

    fn last(&self) -> &Kind {
        self.entries.last().unwrap().fact.as_ref().unwrap().kind.as_ref().unwrap()
    }
}

fn entry(fact: Fact, as_typed: Vec<standpipe_proto::v1::AsTyped>, count: usize) -> Entry {
    let header = Header {
        entry_id: format!("01890a5d-ac96-774b-bcce-{:012x}", count + 1),
        subject: Some(Subject::JobId("01890a5d-ac96-774b-bcce-b302099a8057".into())),
        station_id: "bay-1".into(),
        station_epoch: "0".repeat(32),
        station_number: count as i64 + 1,
        person_code: "A".into(),
        station_time: Some(prost_types::Timestamp { seconds: 1_770_000_000, nanos: 0 }),
        boot_id: "0".repeat(32),
        as_typed,
        ..Header::default()
    };
    Entry { header: Some(header), fact: Some(fact) }
}

/// The keys of a normal job, step by step.
pub(crate) const NORMAL_JOB: &[(&str, &str)] = &[
    ("vin", "XRH04217\n"),
    ("variant", "\n\n1"),
    ("codes-before", "1"),
    ("drive-before", "35\n2"),
    ("caution-lifted", "1"),
    ("sample-before", "3112"),
    ("fluid", "\n"),
    ("filter", "\n"),
    ("caution-line", "1"),
    ("hookup", "11"),
    ("caution-engine", "1"),
    ("exchange", "0\n"),
    ("exchange", "4\n21"),
    ("exchange", "8\n31"),
    ("exchange", "12\n42\n"),
    ("engine-off", "1"),
    ("pan", "3.6l\n2"),
    ("pan-seen", "2"),
    ("old-filter", "F82\n"),
    ("fitted", "\n"),
    ("screws", "\n\n\n1"),
    ("refill", "\n\n"),
    ("clear", "1"),
    ("gears", "\n1"),
    ("level", "43\n21"),
    ("plug", "1\n"),
    ("leaks", "11"),
    ("codes-after", "1"),
    ("drive-after", "1\n2"),
    ("sample-after", "1111"),
    ("waste", "\n"),
    ("closing", "1"),
];

#[test]
fn a_normal_job_needs_at_most_ninety_key_presses() {
    let mut bay = Bay::new();
    for (_, keys) in NORMAL_JOB {
        bay.press(keys);
    }
    assert!(bay.ended && bay.shown.ends_with("nothing is left to ask\n"), "{}", bay.shown);
    // Two steps that are only confirmed are confirmed by one key three times.
    assert_eq!(bay.entries.len(), NORMAL_JOB.len() + 3);
    assert!(bay.questions.presses() <= 90, "{} key presses", bay.questions.presses());
    assert!(bay.answers <= 70, "{} answers", bay.answers);
}

#[test]
fn no_line_is_longer_than_eighty_columns_and_a_reading_is_never_proposed() {
    let mut bay = Bay::new();
    for (_, keys) in NORMAL_JOB {
        bay.press(keys);
        bay.press("w");
    }
    for line in bay.shown.lines() {
        assert!(line.chars().count() <= present::COLUMNS, "{line}");
    }
    let mut reading = Bay::only("level");
    reading.press("\n");
    assert!(reading.shown.contains("an answer is needed here; nothing is proposed"), "{}", reading.shown);
    assert!(reading.entries.is_empty());
}

#[test]
fn a_quantity_takes_each_of_its_units() {
    let mut litres = Bay::only("pan");
    litres.press("3,65l\n2");
    assert!(litres.shown.contains("  = 3.65\u{a0}L\n"), "{}", litres.shown);
    let Kind::Drain(drain) = litres.last() else { panic!() };
    assert_eq!(drain.amount, Some(standpipe_proto::v1::drain::Amount::VolumeLitres(3.65)));
    assert_eq!(litres.entries[0].header.as_ref().unwrap().as_typed[0].text, "3,65 L");
    let mut kilograms = Bay::only("pan");
    kilograms.press("3.05 kg\n2");
    let Kind::Drain(drain) = kilograms.last() else { panic!() };
    assert_eq!(drain.amount, Some(standpipe_proto::v1::drain::Amount::MassKilograms(3.05)));
}

#[test]
fn what_is_outside_its_bounds_is_told_at_once_and_asked_again() {
    let mut bay = Bay::only("pan");
    bay.press("300l\n");
    assert!(bay.shown.contains("! volume litres: 300 is outside 0 to 30 L"), "{}", bay.shown);
    bay.press("3 bar\n");
    assert!(bay.shown.contains("is no unit for this"), "{}", bay.shown);
    bay.press("3k\n1");
    assert_eq!(bay.entries.len(), 1);
    let mut vin = Bay::only("vin");
    vin.press("XRHO4217\n");
    assert!(vin.shown.contains("if it is a 0 there") && vin.entries.is_empty(), "{}", vin.shown);
}

#[test]
fn what_does_not_fit_together_is_told_and_the_field_asked_again() {
    let mut bay = Bay::only("screws");
    bay.press("3\n\n\n1");
    assert!(bay.shown.contains("! new screw count: 13 new screws are more than the 3"), "{}", bay.shown);
    assert!(bay.entries.is_empty());
    bay.press("3\n\n1");
    let Kind::Tightening(screws) = bay.last() else { panic!() };
    assert_eq!((screws.screw_count, screws.new_screw_count), (3, 3));
}

#[test]
fn codes_are_asked_only_when_some_were_read_and_are_then_needed() {
    let mut none = Bay::only("codes-before");
    none.press("1");
    assert_eq!(none.entries.len(), 1);
    let mut read = Bay::only("codes-before");
    read.press("2\n");
    assert!(read.entries.is_empty() && read.shown.contains("an answer is needed"), "{}", read.shown);
    read.press("P0741,P0700\n");
    let Kind::FaultCodes(codes) = read.last() else { panic!() };
    assert_eq!(codes.codes, ["P0741", "P0700"]);
}

#[test]
fn a_field_that_may_stay_empty_is_asked_on_request() {
    let mut bay = Bay::only("fluid");
    assert!(bay.shown.contains(".m also: lot"), "{}", bay.shown);
    bay.press(".m\nL-77\n");
    let Kind::PartChecked(checked) = bay.last() else { panic!() };
    assert_eq!((checked.code.as_str(), checked.lot.as_str()), ("LINDEN", "L-77"));
}

#[test]
fn a_text_may_begin_with_any_letter_since_commands_come_after_a_full_stop() {
    let mut bay = Bay::only("old-filter");
    bay.press("b-2\n");
    let Kind::PartChecked(checked) = bay.last() else { panic!() };
    assert_eq!(checked.code, "b-2");
    let mut quits = Bay::only("old-filter");
    quits.press(".q");
    assert!(quits.ended && quits.entries.is_empty());
}

#[test]
fn one_tap_states_several_fields_and_otherwise_each_is_asked() {
    let mut all = Bay::only("level");
    all.press("43\n21");
    let Kind::LevelCheck(look) = all.last() else { panic!() };
    assert_eq!((look.engine_idling, look.vehicle_level, look.selector), (1, 1, 1));
    let mut each = Bay::only("level");
    each.press("43\n22").press("12").press("2");
    let Kind::LevelCheck(look) = each.last() else { panic!("{}", each.shown) };
    assert_eq!((look.engine_idling, look.vehicle_level, look.selector), (1, 2, 2));
    // Going back takes back all that the tap stated.
    let mut back = Bay::only("level");
    back.press("43\nm21b2").press("121\n");
    let Kind::LevelCheck(look) = back.last() else { panic!("{}", back.shown) };
    assert_eq!((look.engine_idling, look.vehicle_level, look.selector), (1, 2, 1));
}

#[test]
fn enter_takes_none_of_the_codes_that_could_be_read() {
    let mut bay = Bay::only("pan-seen");
    bay.press("\n\n");
    assert!(bay.entries.is_empty() && bay.shown.contains("press the number of a choice"), "{}", bay.shown);
    bay.press("3").press("S-7\n");
    let Kind::PartChecked(checked) = bay.last() else { panic!() };
    assert_eq!(checked.code, "S-7");
}

#[test]
fn what_is_known_is_not_asked() {
    let mut steps = normal_job();
    steps.retain(|step| step.name == "level");
    let known = [("temperature_celsius", "43 °C")]
        .map(|(name, value)| standpipe_proto::v1::PresetField { name: name.into(), value: value.into() });
    steps[0].preset.extend(known);
    let mut bay = Bay::with(steps, &["A"]);
    bay.press("21");
    let Kind::LevelCheck(look) = bay.last() else { panic!("{}", bay.shown) };
    assert_eq!((look.temperature_celsius, look.overflow), (43.0, 2));
}

#[test]
fn what_was_known_too_long_ago_is_found_out_again() {
    let mut steps = normal_job();
    steps.retain(|step| step.name == "level");
    let known = [("temperature_celsius", "43 °C")]
        .map(|(name, value)| standpipe_proto::v1::PresetField { name: name.into(), value: value.into() });
    let mut bay = Bay::with(steps.clone(), &["A"]);
    bay.step(Event::Aged);
    assert!(bay.shown.ends_with("temperature celsius (°C): "), "nothing is known here: {}", bay.shown);
    steps[0].preset.extend(known);
    let mut bay = Bay::with(steps.clone(), &["A"]);
    bay.press("2");
    // Meanwhile the shop server does not know the temperature any more.
    bay.steps = normal_job();
    bay.steps.retain(|step| step.name == "level");
    bay.step(Event::Aged);
    assert!(bay.shown.contains("too long ago") && bay.entries.is_empty(), "{}", bay.shown);
    assert!(bay.shown.ends_with("temperature celsius (°C): "), "{}", bay.shown);
}

#[test]
fn two_steps_that_are_only_confirmed_take_one_key_and_are_two_entries() {
    let both = |step: &Step| ["caution-lifted", "lift-locked"].contains(&step.name.as_str());
    let mut bay = Bay::with(normal_job().into_iter().filter(both).collect(), &["A"]);
    assert!(bay.shown.contains("Read this and confirm it.") && bay.shown.contains("Look, and confirm it."));
    bay.press("1");
    assert!(bay.ended, "{}", bay.shown);
    let kinds: Vec<_> = bay.entries.iter().map(|entry| entry.fact.clone().unwrap().kind.unwrap()).collect();
    assert!(matches!(kinds[..], [Kind::CautionRead(_), Kind::ConditionConfirmed(_)]), "{kinds:?}");
}

#[test]
fn two_conditions_of_safety_never_take_one_key() {
    let mut steps = normal_job();
    steps.retain(|step| step.name == "lift-locked");
    let isolated =
        standpipe_proto::v1::PresetField { name: "conditions".into(), value: "high-voltage-isolated".into() };
    let mut second = steps[0].clone();
    (second.name, second.preset) = ("high-voltage".into(), vec![isolated]);
    steps.push(second);
    let mut bay = Bay::with(steps, &["A"]);
    bay.press("1");
    assert!(!bay.ended && bay.entries.len() == 1, "{}", bay.shown);
    bay.press("1");
    assert!(bay.ended && bay.entries.len() == 2, "{}", bay.shown);
}

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
fn lines_are_as_wide_as_the_terminal() {
    let (_, actions) = Questions::begin("HL-26-0001", &["A".into(), "B".into()], Some(40));
    let mut questions = Questions::begin("HL-26-0001", &["A".into()], Some(40)).0;
    let mut shown = format!("{actions:?}");
    assert!(shown.contains("Who works?"));
    shown.clear();
    let steps =
        Remaining { steps: normal_job(), last_seq: 1, stops: Vec::new(), now: Vec::new(), away: None };
    for action in questions.step(Event::Steps(steps)) {
        if let Action::Say(text) | Action::Head(text) = action {
            shown.push_str(&text);
        }
    }
    assert!(shown.lines().all(|line| line.chars().count() <= 40), "{shown}");
    assert!(shown.contains(&"-".repeat(40)));
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

#[test]
fn a_no_of_the_gate_is_shown_with_every_reason_and_blocks_no_answer() {
    let mut bay = Bay::only("engine-off");
    bay.steps = normal_job().into_iter().filter(|step| step.name == "pan").collect();
    let point = |text: &str, stops| MissingPoint { text: text.into(), stops, key: "k".into() };
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

#[test]
fn lines_answer_where_single_keys_cannot_be_read() {
    let mut bay = Bay::new();
    for line in ["XRH04217", "", "", "1", "1", "3 5", "2"] {
        bay.step(Event::Line(line.into()));
    }
    let Kind::RoadTest(drive) = bay.last() else { panic!("{}", bay.shown) };
    assert_eq!(drive.ticks.len(), 2);
    bay.step(Event::Line("1".into()));
    bay.step(Event::Line("12".into()));
    assert!(bay.shown.contains("one key answers this") || bay.shown.contains("press 1"), "{}", bay.shown);
    bay.step(Event::Line("q".into()));
    assert!(bay.ended);
}

fn key() -> impl Strategy<Value = Event> {
    let sign = prop_oneof![
        6 => prop::sample::select(vec!['1', '2', '3', '4', '5', '0', '.', ',', '-']),
        2 => prop::sample::select(vec!['b', 'l', 'w', 's', 'm', 'k', 'g', 'L', 'X', ' ', '°', '\u{202e}']),
    ];
    prop_oneof![
        12 => sign.prop_map(|sign| Event::Key(Key::Sign(sign))),
        6 => Just(Event::Key(Key::Enter)),
        1 => Just(Event::Key(Key::Backspace)),
        1 => "[ -~]{0,6}".prop_map(Event::Line),
        1 => Just(Event::NotKept("no".into())),
        1 => Just(Event::Gate(Err("no".into()))),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

    // What is kept is checked where it is kept, in carry_out.
    #[test]
    fn no_sequence_of_keys_panics_and_every_completed_step_is_a_checked_fact(
        keys in prop::collection::vec(key(), 0..250),
        from in 0_usize..35,
    ) {
        let mut bay = Bay::with(normal_job().into_iter().skip(from).collect(), &["A", "B"]);
        bay.press("\n");
        for event in keys {
            bay.step(event);
        }
        for line in bay.shown.lines() {
            // Typed signs follow the beginning of their line and are the person's own.
            prop_assert!(line.chars().count() <= 2 * present::COLUMNS || !line.starts_with("  "), "{}", line);
        }
    }
}
