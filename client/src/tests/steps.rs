//! The steps of a job in the manner of the shop server (common practice, no source), for tests of the questions, with the
//! words of the invented scenario. Here most is typed; how the server's own table is answered is tested with the server.

use crate::words::answer;
use standpipe_proto::v1::{Entry, PresetField, Step, StepChoice, StepField, StepInput};

fn step(name: &str, question: &str, kind: &str, preset: &[(&str, &str)], fields: Vec<StepField>) -> Step {
    let preset =
        preset.iter().map(|(name, value)| PresetField { name: (*name).into(), value: (*value).into() });
    Step {
        name: name.into(),
        question: question.into(),
        kind: kind.into(),
        fields,
        preset: preset.collect(),
        ..Step::default()
    }
}

fn gated(gate: &str, step: Step) -> Step {
    Step { gate: gate.into(), ..step }
}

fn caution(name: &str, group: &str) -> Step {
    Step {
        safety: true,
        caution: "The vehicle maker's instructions come first. Keep clear of hot fluid and moving parts."
            .into(),
        ..step(name, "Read this and confirm it.", "caution_read", &[("group", group)], Vec::new())
    }
}

fn confirm(name: &str, conditions: &str) -> Step {
    let question = "Look, and confirm it.";
    let step = step(name, question, "condition_confirmed", &[("conditions", conditions)], Vec::new());
    Step { safety: true, ..step }
}

fn field(name: &str, input: StepInput) -> StepField {
    StepField {
        name: name.into(),
        ask: name.replace('_', " "),
        input: input.into(),
        needed: true,
        ..StepField::default()
    }
}

fn of(words: &[&str], field: StepField) -> StepField {
    let choice = |word: &&str| StepChoice {
        word: (*word).into(),
        text: word.replace('-', " "),
        ..StepChoice::default()
    };
    StepField { choices: words.iter().map(choice).collect(), ..field }
}

fn choice(name: &str, words: &[&str]) -> StepField {
    of(words, field(name, StepInput::Choice))
}

fn quantity(name: &str, units: &[&str]) -> StepField {
    let units = units.iter().map(|unit| (*unit).to_owned()).collect();
    StepField { units, ..field(name, StepInput::Quantity) }
}

fn text(name: &str) -> StepField {
    field(name, StepInput::Text)
}

fn optional(field: StepField) -> StepField {
    StepField { needed: false, ..field }
}

fn spare(field: StepField) -> StepField {
    StepField { spare: true, ..optional(field) }
}

fn proposed(value: &str, field: StepField) -> StepField {
    StepField { proposal: value.into(), proposal_reason: "as the catalogue has it".into(), ..field }
}

/// A question that is no field itself: its choices state others.
fn together(ask: &str, choices: &[(&str, &[(&str, &str)])]) -> StepField {
    let stated = |(name, value): &(&str, &str)| PresetField { name: (*name).into(), value: (*value).into() };
    let choice = |(word, also): &(&str, &[(&str, &str)])| StepChoice {
        word: (*word).into(),
        text: word.replace('-', " "),
        also: also.iter().map(stated).collect(),
    };
    let choices = choices.iter().map(choice).collect();
    StepField { name: String::new(), ask: ask.into(), choices, ..field("", StepInput::Choice) }
}

const DEBRIS: &[&str] = &["none", "fine-grey-paste", "glitter", "flakes-or-chips"];
const YES_NO: &[&str] = &["yes", "no"];
const TICKS: &[&str] = &["normal", "late", "harsh", "flare", "shudder", "noise", "slip", "bang"];
const PARTS: &[&str] = &[
    "filter",
    "pan-seal",
    "magnets",
    "pan-screws",
    "pan",
    "standpipe",
    "plug",
    "plug-seal",
    "wiring-sleeve",
];

fn drive(name: &str, moment: &str) -> Step {
    let fields = vec![of(TICKS, field("ticks", StepInput::Choices)), choice("warmth", &["cold", "warm"])];
    step(name, "How does it drive?", "road_test", &[("moment", moment)], fields)
}

fn sample(name: &str, moment: &str) -> Step {
    let fields = vec![
        choice("colour", &["as-fresh", "darker", "brown", "black"]),
        choice("clouding", &["clear", "hazy", "milky"]),
        choice("smell", &["as-fresh", "slightly-sharp", "burnt"]),
        choice("specks", DEBRIS),
    ];
    step(name, "What does a sample look like?", "fluid_sample", &[("moment", moment)], fields)
}

fn codes(name: &str, moment: &str) -> Step {
    let fields = vec![choice("state", &["none", "read", "not-readable"]), optional(text("codes"))];
    step(name, "Which fault codes are stored?", "fault_codes", &[("moment", moment)], fields)
}

fn exchange_fields(begun: bool) -> Vec<StepField> {
    let mut fields = vec![quantity("volume_in_litres", &["L"])];
    if begun {
        fields.push(optional(choice("tube_percent", &["0", "25", "50", "75", "90", "100"])));
        fields.push(choice("last", &["no", "yes"]));
        fields.push(optional(quantity("volume_out_litres", &["L"])));
    }
    fields
}

/// All steps of a normal job whose VIN the office has entered from the papers.
#[allow(clippy::too_many_lines)] // One table, a row a step.
pub(crate) fn normal_job() -> Vec<Step> {
    let checked = |part| [("part", part), ("read_by", "eye")];
    let mut steps = vec![
        step(
            "vin",
            "Which VIN does the body plate show?",
            "vin_reading",
            &[("source", "body-plate")],
            vec![text("last_eight")],
        ),
        step(
            "variant",
            "Which transmission is it?",
            "variant_settled",
            &[],
            vec![
                proposed("ALDER-8-2", text("variant_code")),
                proposed(
                    "catalogue-rule",
                    choice("means", &["catalogue-rule", "looked-up", "transmission-plate"]),
                ),
                optional(text("source")),
                choice("transmission_plate_agrees", &["yes", "no", "not-seen"]),
            ],
        ),
        codes("codes-before", "before"),
        drive("drive-before", "before"),
        caution("caution-lifted", "lifted"),
        confirm("lift-locked", "lift-locked"),
        sample("sample-before", "before"),
        step(
            "fluid",
            "What does the container say?",
            "part_checked",
            &checked("fluid-container"),
            vec![proposed("LINDEN", text("code")), spare(text("lot"))],
        ),
        step(
            "filter",
            "What does the filter say?",
            "part_checked",
            &checked("filter"),
            vec![proposed("F82", text("code"))],
        ),
        caution("caution-line", "line-opening"),
        step(
            "hookup",
            "Where is it connected?",
            "hookup",
            &[],
            vec![choice("place", &["cooler-line", "transmission"]), choice("direction_tested", YES_NO)],
        ),
        caution("caution-engine", "engine-running"),
    ];
    steps.push(gated(
        "exchange",
        Step {
            repeats: true,
            ..step(
                "exchange",
                "What do display and glass show?",
                "exchange_reading",
                &[],
                exchange_fields(false),
            )
        },
    ));
    steps.extend([
        confirm("engine-off", "engine-off,line-closed"),
        caution("caution-pan", "pan-and-hot"),
        gated(
            "pan",
            step(
                "pan",
                "What ran out of the pan?",
                "drain",
                &[("place", "pan")],
                vec![quantity("amount", &["L", "kg"]), choice("debris", DEBRIS)],
            ),
        ),
        step(
            "pan-seen",
            "What is marked on the standpipe?",
            "part_checked",
            &checked("standpipe"),
            vec![
                together(
                    "Which standpipe?",
                    &[("S1", &[("code", "S1")]), ("S2", &[("code", "S2")]), ("another", &[])],
                ),
                text("code"),
            ],
        ),
        step(
            "old-filter",
            "What is marked on the old filter?",
            "part_checked",
            &checked("old-filter"),
            vec![text("code")],
        ),
        step(
            "fitted",
            "What was fitted new?",
            "part_fitted",
            &[],
            vec![
                proposed(
                    "filter,pan-seal,magnets,pan-screws",
                    of(PARTS, field("fitted", StepInput::Choices)),
                ),
                spare(of(PARTS, field("excepted", StepInput::Choices))),
            ],
        ),
        step(
            "screws",
            "How were the pan's screws tightened?",
            "tightening",
            &[("group", "pan")],
            vec![
                proposed("13", field("screw_count", StepInput::Count)),
                proposed("13", field("new_screw_count", StepInput::Count)),
                proposed("10 N·m", quantity("torque_newton_metres", &["N·m"])),
                choice("order_kept", YES_NO),
                spare(text("tool")),
            ],
        ),
        gated(
            "refill",
            step(
                "refill",
                "What was refilled?",
                "fill",
                &[("purpose", "refill")],
                vec![
                    proposed("3.6 L", quantity("amount", &["L", "kg"])),
                    proposed("LINDEN", text("fluid_code")),
                ],
            ),
        ),
        confirm("clear", "pan-closed,tools-and-people-clear"),
        caution("caution-gears", "gears-and-level"),
        gated(
            "start-engine",
            Step {
                safety: true,
                ..step(
                    "gears",
                    "Who moves the selector?",
                    "gear_cycle",
                    &[],
                    vec![proposed("A", text("driver_person_code")), choice("nobody_under_vehicle", YES_NO)],
                )
            },
        ),
        gated(
            "level",
            Step {
                safety: true,
                repeats: true,
                ..step(
                    "level",
                    "What comes out?",
                    "level_check",
                    &[("means", "scan-tool")],
                    vec![
                        quantity("temperature_celsius", &["°C"]),
                        choice("overflow", &["nothing", "drops", "stream"]),
                        together(
                            "All three?",
                            &[
                                (
                                    "all",
                                    &[
                                        ("engine_idling", "yes"),
                                        ("vehicle_level", "yes"),
                                        ("selector", "park"),
                                    ],
                                ),
                                ("each", &[]),
                            ],
                        ),
                        choice("engine_idling", YES_NO),
                        choice("vehicle_level", YES_NO),
                        choice("selector", &["park", "neutral", "other"]),
                        spare(quantity("caught_litres", &["L"])),
                    ],
                )
            },
        ),
        Step {
            safety: true,
            ..step(
                "plug",
                "How was the plug closed?",
                "plug_closed",
                &[],
                vec![
                    choice("seal_new", YES_NO),
                    optional(proposed("9 N·m", quantity("torque_newton_metres", &["N·m"]))),
                    spare(text("tool")),
                ],
            )
        },
        Step {
            safety: true,
            ..step(
                "leaks",
                "Is it dry?",
                "leak_check",
                &[],
                vec![choice("found", &["dry", "damp", "dripping"]), choice("line_closed", YES_NO)],
            )
        },
        codes("codes-after", "after"),
        gated("road-test", drive("drive-after", "after")),
        sample("sample-after", "after"),
        step(
            "waste",
            "How much waste is it?",
            "waste",
            &[("kind", "used-fluid")],
            vec![proposed("15.7 L", quantity("amount", &["L"]))],
        ),
        gated(
            "close",
            step(
                "closing",
                "How did it end?",
                "closing",
                &[],
                vec![
                    choice("outcome", &["done", "no-exchange-done"]),
                    spare(quantity("odometer_kilometres", &["km"])),
                ],
            ),
        ),
    ]);
    steps
}

/// The steps that remain after these entries, as a shop server would give them.
pub(crate) fn as_begun(steps: &[Step], entries: &[Entry]) -> Vec<Step> {
    let facts: Vec<_> = entries.iter().filter_map(|entry| entry.fact.as_ref()).collect();
    let mut left = Vec::new();
    for step in steps {
        let skipped = facts.iter().any(|fact| {
            matches!(&fact.kind, Some(standpipe_proto::v1::fact::Kind::Skipped(skipped)) if skipped.step == step.name)
        });
        let answers: Vec<_> = facts.iter().filter(|fact| answer::answers(fact, step).unwrap()).collect();
        let ended = match (step.name.as_str(), answers.last()) {
            (_, None) => skipped && !step.safety,
            ("exchange", Some(last)) => answer::is_last(last, step).unwrap() == Some(true),
            _ => true,
        };
        if !ended {
            let mut step = step.clone();
            if step.name == "exchange" {
                step.fields = exchange_fields(!answers.is_empty());
            }
            left.push(step);
        }
    }
    left
}
