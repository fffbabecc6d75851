//! The engine of the questions by itself: keys in, entries out.

use super::*;
use crate::next::present;
use crate::tests::steps::{as_begun, normal_job};
use proptest::prelude::*;
use standpipe_proto::check;
use standpipe_proto::v1::{Entry, Fact, Header, MayResponse, MissingPoint, fact::Kind, header::Subject};

#[path = "order.rs"]
mod order;
#[path = "slips.rs"]
mod slips;
#[path = "told.rs"]
mod told;

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
