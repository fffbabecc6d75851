//! The steps of the work as rows of boxes, in the order in which the work is done, as one table.

use standpipe_engine::kind::words::CautionGroup;
use standpipe_engine::text::{Sentence, sentence};

use super::SheetInput;
use super::form::{Field, Step};

/// Looks at the fluid that have boxes.
const LOOKS: u32 = 4;
/// Looks at the level that have boxes.
const LEVEL_LOOKS: u32 = 3;

fn named(step: &str) -> Sentence {
    sentence::sheet_step("1", step)
}

fn row(name: Sentence, fields: Vec<(f64, Sentence)>) -> Step {
    let fields = fields.into_iter().map(|(share, label)| Field { label, share }).collect();
    Step { caution: None, name, fields }
}

fn after(group: CautionGroup, step: Step) -> Step {
    Step { caution: Some(group), ..step }
}

/// All steps.
pub(super) fn of_the_work(input: &SheetInput) -> Vec<Step> {
    let mut steps = before_lifting();
    steps.extend(exchange());
    steps.extend(pan_and_refill(input));
    steps.extend(level(input.dipstick));
    if !input.dipstick {
        steps.push(plug());
    }
    steps.extend(afterwards());
    steps
}

fn before_lifting() -> Vec<Step> {
    vec![
        row(
            named("arrival"),
            vec![
                (1.0, sentence::sheet_distance()),
                (1.9, sentence::sheet_last_eight()),
                (1.5, sentence::sheet_agrees()),
                (1.0, sentence::sheet_person()),
            ],
        ),
        row(named("codes-before"), vec![(1.0, sentence::sheet_codes())]),
        row(named("drive-before"), drive()),
    ]
}

fn drive() -> Vec<(f64, Sentence)> {
    vec![(4.2, sentence::sheet_felt()), (0.7, sentence::sheet_gear()), (0.9, sentence::sheet_warmth())]
}

fn exchange() -> Vec<Step> {
    let looks = (1..=LOOKS)
        .flat_map(|look| [(1.2, sentence::sheet_litres(look.to_string())), (0.8, sentence::sheet_tube())]);
    vec![
        after(
            CautionGroup::Lifted,
            row(
                named("sample"),
                vec![
                    (2.0, sentence::sheet_colour()),
                    (1.3, sentence::sheet_clouding()),
                    (1.4, sentence::sheet_smell()),
                    (0.5, sentence::sheet_celsius()),
                ],
            ),
        ),
        row(
            named("fluid"),
            vec![
                (1.0, sentence::sheet_code()),
                (1.0, sentence::sheet_lot()),
                (1.0, sentence::sheet_filter_code()),
                (1.5, sentence::sheet_held()),
            ],
        ),
        after(
            CautionGroup::LineOpening,
            row(
                named("hookup"),
                vec![
                    (1.5, sentence::sheet_place()),
                    (1.0, sentence::sheet_adapter()),
                    (1.5, sentence::sheet_direction()),
                ],
            ),
        ),
        after(CautionGroup::EngineRunning, row(named("exchange"), looks.collect())),
        row(
            named("exchange-end"),
            vec![
                (1.0, sentence::sheet_in()),
                (1.0, sentence::sheet_out()),
                (1.0, sentence::sheet_celsius()),
                (2.0, sentence::sheet_line_closed()),
            ],
        ),
    ]
}

fn pan_and_refill(input: &SheetInput) -> Vec<Step> {
    let new = match &input.pan_screw_count {
        Some(count) => sentence::sheet_new_of(count.as_str()),
        None => sentence::sheet_new_of_all(),
    };
    vec![
        after(
            CautionGroup::PanAndHot,
            row(
                named("pan"),
                vec![
                    (0.9, sentence::sheet_amount()),
                    (2.2, sentence::sheet_debris()),
                    (1.1, sentence::sheet_standpipe_seen()),
                    (1.1, sentence::sheet_old_filter()),
                ],
            ),
        ),
        row(named("fitted"), vec![(1.0, sentence::sheet_kit()), (1.0, sentence::sheet_except())]),
        row(
            named("screws"),
            vec![
                (1.0, new),
                (1.0, sentence::sheet_torque_set()),
                (1.2, sentence::sheet_order()),
                (1.0, sentence::sheet_tool()),
            ],
        ),
        row(named("refill"), vec![(1.0, sentence::sheet_amount()), (2.0, sentence::sheet_with())]),
    ]
}

fn level(dipstick: bool) -> Vec<Step> {
    let (seen, taken) = if dipstick {
        (sentence::sheet_stands(), sentence::sheet_taken())
    } else {
        (sentence::sheet_came(), sentence::sheet_caught())
    };
    let gears = vec![(1.0, sentence::sheet_driver()), (1.0, sentence::sheet_nobody_under())];
    let mut steps = vec![after(CautionGroup::GearsAndLevel, row(named("gears"), gears))];
    steps.extend((1..=LEVEL_LOOKS).map(|look| {
        row(
            sentence::sheet_step(look.to_string(), "level"),
            vec![
                (0.9, sentence::sheet_clock()),
                (0.7, sentence::sheet_celsius()),
                (2.2, seen.clone()),
                (0.9, sentence::sheet_added()),
                (0.9, taken.clone()),
            ],
        )
    }));
    steps
}

fn plug() -> Step {
    let boxes = vec![
        (1.2, sentence::sheet_seal_new()),
        (1.2, sentence::sheet_plug_new()),
        (1.0, sentence::sheet_torque_set()),
        (0.8, sentence::sheet_tool()),
    ];
    row(named("plug"), boxes)
}

fn afterwards() -> Vec<Step> {
    vec![
        row(named("leaks"), vec![(1.2, sentence::sheet_dry()), (1.0, sentence::sheet_person())]),
        row(named("codes-after"), vec![(2.6, sentence::sheet_codes()), (1.2, sentence::sheet_adaptation())]),
        row(named("drive-after"), drive()),
        row(named("waste"), vec![(1.0, sentence::sheet_waste()), (1.5, sentence::sheet_container())]),
        row(
            named("closing"),
            vec![
                (2.0, sentence::sheet_outcome()),
                (1.0, sentence::sheet_distance()),
                (1.0, sentence::sheet_person()),
            ],
        ),
    ]
}
