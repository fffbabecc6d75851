//! THE table of steps: what each asks, what it proposes, when it is answered (common practice, no source).

use super::{Facts, Field, Input, Proposal};
use crate::gates::Gate;
use crate::kind::Kind;
use crate::kind::caution_read::CautionRead;
use crate::kind::condition_confirmed::ConditionConfirmed;
use crate::kind::drain::Drain;
use crate::kind::exchange_reading::ExchangeReading;
use crate::kind::fault_codes::FaultCodes;
use crate::kind::fill::Fill;
use crate::kind::fluid_sample::FluidSample;
use crate::kind::gear_cycle::GearCycle;
use crate::kind::hookup::Hookup;
use crate::kind::leak_check::LeakCheck;
use crate::kind::part_checked::PartChecked;
use crate::kind::part_fitted::PartFitted;
use crate::kind::plug_closed::PlugClosed;
use crate::kind::road_test::RoadTest;
use crate::kind::tightening::Tightening;
use crate::kind::vin_reading::VinReading;
use crate::kind::waste::Waste;
use crate::kind::words::{
    CautionGroup, Condition, DrainedFrom, FillPurpose, Moment, Part, SampleTime, ScrewGroup,
};
use crate::text::{Sentence, number, sentence};

/// One row of the table.
pub(super) struct Row {
    pub name: &'static str,
    pub question: fn() -> Sentence,
    pub kind: &'static str,
    pub preset: &'static [(&'static str, &'static str)],
    pub fields: fn(&Facts<'_>) -> Vec<Field>,
    pub answered: fn(&Facts<'_>) -> bool,
    pub gate: Option<Gate>,
    pub safety: bool,
    pub repeats: bool,
    pub caution: Option<fn() -> Sentence>,
}

/// A row that is asked once, needs no gate and may be skipped.
const fn row(
    name: &'static str,
    question: fn() -> Sentence,
    kind: &'static str,
    preset: &'static [(&'static str, &'static str)],
    fields: fn(&Facts<'_>) -> Vec<Field>,
    answered: fn(&Facts<'_>) -> bool,
) -> Row {
    Row {
        name,
        question,
        kind,
        preset,
        fields,
        answered,
        gate: None,
        safety: false,
        repeats: false,
        caution: None,
    }
}

/// A row that only asks to read and confirm.
const fn caution(
    name: &'static str,
    question: fn() -> Sentence,
    preset: &'static [(&'static str, &'static str)],
    answered: fn(&Facts<'_>) -> bool,
    text: fn() -> Sentence,
) -> Row {
    Row {
        safety: true,
        caution: Some(text),
        ..row(name, question, "caution_read", preset, no_fields, answered)
    }
}

const fn confirm(
    name: &'static str,
    question: fn() -> Sentence,
    preset: &'static [(&'static str, &'static str)],
    answered: fn(&Facts<'_>) -> bool,
) -> Row {
    Row { safety: true, ..row(name, question, "condition_confirmed", preset, no_fields, answered) }
}

pub(super) const STEPS: &[Row] = &[
    row("vin", sentence::step_vin, "vin_reading", &[("source", "body-plate")], vin, vin_answered),
    row("variant", sentence::step_variant, "variant_settled", &[], variant, |facts| {
        facts.identity.variant.is_some()
    }),
    row(
        "codes-before",
        sentence::step_codes_before,
        "fault_codes",
        &[("moment", "before")],
        codes,
        |facts| any::<FaultCodes>(facts, |codes| codes.moment == Some(Moment::Before)),
    ),
    row("drive-before", sentence::step_drive_before, "road_test", &[("moment", "before")], drive, |facts| {
        any::<RoadTest>(facts, |drive| drive.moment == Some(Moment::Before))
    }),
    caution(
        "caution-lifted",
        sentence::step_caution_lifted,
        &[("group", "lifted")],
        |facts| read(facts, CautionGroup::Lifted),
        sentence::caution_lift,
    ),
    confirm("lift-locked", sentence::step_lift_locked, &[("conditions", "lift-locked")], |facts| {
        confirmed(facts, Condition::LiftLocked, 0)
    }),
    confirm(
        "high-voltage",
        sentence::step_high_voltage,
        &[("conditions", "high-voltage-isolated")],
        |facts| {
            !crate::job::high_voltage(facts.folded) || confirmed(facts, Condition::HighVoltageIsolated, 0)
        },
    ),
    row(
        "sample-before",
        sentence::step_sample_before,
        "fluid_sample",
        &[("moment", "before")],
        sample,
        |facts| any::<FluidSample>(facts, |sample| sample.moment == Some(SampleTime::Before)),
    ),
    row(
        "fluid",
        sentence::step_fluid,
        "part_checked",
        &[("part", "fluid-container"), ("read_by", "eye")],
        fluid,
        |facts| facts.identity.fluid_agrees,
    ),
    row(
        "filter",
        sentence::step_filter,
        "part_checked",
        &[("part", "filter"), ("read_by", "eye")],
        filter,
        |facts| checked(facts, Part::Filter),
    ),
    caution(
        "caution-line",
        sentence::step_caution_line,
        &[("group", "line-opening")],
        |facts| read(facts, CautionGroup::LineOpening),
        sentence::caution_line,
    ),
    row("hookup", sentence::step_hookup, "hookup", &[], hookup, |facts| any::<Hookup>(facts, |_| true)),
    caution(
        "caution-engine",
        sentence::step_caution_engine,
        &[("group", "engine-running")],
        |facts| read(facts, CautionGroup::EngineRunning),
        sentence::caution_engine,
    ),
    Row {
        gate: Some(Gate::Exchange),
        repeats: true,
        caution: Some(sentence::caution_engine),
        ..row("exchange", sentence::step_exchange, "exchange_reading", &[], exchange, |facts| {
            any::<ExchangeReading>(facts, |reading| reading.last)
        })
    },
    confirm("engine-off", sentence::step_engine_off, &[("conditions", "engine-off,line-closed")], |facts| {
        confirmed(facts, Condition::EngineOff, last_exchange(facts))
            && confirmed(facts, Condition::LineClosed, last_exchange(facts))
    }),
    caution(
        "caution-pan",
        sentence::step_caution_pan,
        &[("group", "pan-and-hot")],
        |facts| read(facts, CautionGroup::PanAndHot),
        sentence::caution_hot_fluid,
    ),
    Row {
        gate: Some(Gate::Pan),
        caution: Some(sentence::caution_hot_fluid),
        ..row("pan", sentence::step_pan, "drain", &[("place", "pan")], pan, |facts| {
            any::<Drain>(facts, |drain| drain.place == Some(DrainedFrom::Pan))
        })
    },
    row(
        "pan-seen",
        sentence::step_standpipe,
        "part_checked",
        &[("part", "standpipe"), ("read_by", "eye")],
        code,
        |facts| checked(facts, Part::Standpipe),
    ),
    row(
        "old-filter",
        sentence::step_old_filter,
        "part_checked",
        &[("part", "old-filter"), ("read_by", "eye")],
        code,
        |facts| checked(facts, Part::OldFilter),
    ),
    row("fitted", sentence::step_fitted, "part_fitted", &[], fitted, |facts| {
        any::<PartFitted>(facts, |_| true)
    }),
    row("screws", sentence::step_screws, "tightening", &[("group", "pan")], screws, |facts| {
        any::<Tightening>(facts, |tightening| tightening.group == Some(ScrewGroup::Pan))
    }),
    Row {
        gate: Some(Gate::Refill),
        ..row("refill", sentence::step_refill, "fill", &[("purpose", "refill")], refill, |facts| {
            any::<Fill>(facts, |fill| fill.purpose == Some(FillPurpose::Refill))
        })
    },
    confirm("clear", sentence::step_clear, &[("conditions", "pan-closed,tools-and-people-clear")], |facts| {
        let refilled = facts.folded.last::<Fill>().map_or(0, |(stated, _)| stated.seq);
        confirmed(facts, Condition::ToolsAndPeopleClear, refilled)
    }),
    caution(
        "caution-gears",
        sentence::step_caution_gears,
        &[("group", "gears-and-level")],
        |facts| read(facts, CautionGroup::GearsAndLevel),
        sentence::caution_gears,
    ),
    Row {
        gate: Some(Gate::StartEngine),
        safety: true,
        caution: Some(sentence::caution_gears),
        ..row("gears", sentence::step_gears, "gear_cycle", &[], gears, |facts| {
            any::<GearCycle>(facts, |_| true)
        })
    },
    Row {
        gate: Some(Gate::Level),
        repeats: true,
        safety: true,
        caution: Some(sentence::caution_gears),
        ..row("level", sentence::step_level, "level_check", &[("means", "scan-tool")], level, |facts| {
            crate::job::level_is_set(facts.folded, facts.identity)
        })
    },
    Row {
        safety: true,
        ..row("plug", sentence::step_plug, "plug_closed", &[], plug, |facts| {
            any::<PlugClosed>(facts, |_| true)
        })
    },
    Row {
        safety: true,
        ..row("leaks", sentence::step_leaks, "leak_check", &[], leaks, |facts| {
            any::<LeakCheck>(facts, |_| true)
        })
    },
    row("codes-after", sentence::step_codes_after, "fault_codes", &[("moment", "after")], codes, |facts| {
        any::<FaultCodes>(facts, |codes| codes.moment == Some(Moment::After))
    }),
    Row {
        gate: Some(Gate::RoadTest),
        ..row(
            "drive-after",
            sentence::step_drive_after,
            "road_test",
            &[("moment", "after")],
            drive,
            |facts| any::<RoadTest>(facts, |drive| drive.moment == Some(Moment::After)),
        )
    },
    row(
        "sample-after",
        sentence::step_sample_after,
        "fluid_sample",
        &[("moment", "after")],
        sample,
        |facts| any::<FluidSample>(facts, |sample| sample.moment == Some(SampleTime::After)),
    ),
    row("waste", sentence::step_waste, "waste", &[("kind", "used-fluid")], waste, |facts| {
        any::<Waste>(facts, |_| true)
    }),
    Row {
        gate: Some(Gate::Close),
        ..row("closing", sentence::step_closing, "closing", &[], closing, |_| false)
    },
];

fn any<K: Kind + 'static>(facts: &Facts<'_>, fits: impl Fn(&K) -> bool) -> bool {
    facts.folded.each::<K>().any(|(_, kind)| fits(kind))
}

fn read(facts: &Facts<'_>, group: CautionGroup) -> bool {
    any::<CautionRead>(facts, |read| read.group == Some(group))
}

fn checked(facts: &Facts<'_>, part: Part) -> bool {
    any::<PartChecked>(facts, |check| check.part == Some(part))
}

fn confirmed(facts: &Facts<'_>, condition: Condition, since: u64) -> bool {
    let mut later = facts.folded.each::<ConditionConfirmed>().filter(|(stated, _)| stated.seq > since);
    later.any(|(_, confirmed)| confirmed.conditions.contains(&condition))
}

fn last_exchange(facts: &Facts<'_>) -> u64 {
    facts.folded.last::<ExchangeReading>().map_or(0, |(stated, _)| stated.seq)
}

fn vin_answered(facts: &Facts<'_>) -> bool {
    let readings = facts.folded.each::<VinReading>().count();
    facts.identity.vin.is_some() && readings >= 2
}

fn no_fields(_: &Facts<'_>) -> Vec<Field> {
    Vec::new()
}

fn field(name: &'static str, ask: Sentence, input: Input) -> Field {
    Field { name, ask, input, proposal: None, needed: true }
}

fn optional(name: &'static str, ask: Sentence, input: Input) -> Field {
    Field { needed: false, ..field(name, ask, input) }
}

fn proposed(field: Field, value: Option<String>, why: fn() -> Sentence) -> Field {
    Field { proposal: value.map(|value| Proposal { value, why: why() }), ..field }
}

/// A choice of words that one sentence shows, each under its own form.
fn choice(words: &[&'static str], shown: impl Fn(&'static str) -> Sentence) -> Input {
    Input::Choice(words.iter().map(|word| (*word, shown(word))).collect())
}

fn litres() -> Input {
    Input::Quantity { units: &["L"] }
}

fn yes_no() -> Input {
    choice(&["yes", "no"], sentence::answer)
}

fn vin(facts: &Facts<'_>) -> Vec<Field> {
    let name = if facts.identity.vin.is_some() { "last_eight" } else { "vin" };
    let ask = if name == "vin" { sentence::ask_vin() } else { sentence::ask_last_eight() };
    vec![field(name, ask, Input::Text)]
}

fn variant(facts: &Facts<'_>) -> Vec<Field> {
    let vin = facts.identity.vin.as_deref().and_then(crate::formula::vin::Vin::from_exact);
    let fitting = vin.map(|vin| facts.context.revision.match_vin(&vin).variants).unwrap_or_default();
    let only = match fitting.as_slice() {
        [only] => Some(only.code.clone()),
        _ => None,
    };
    let means = only.as_ref().map(|_| "catalogue-rule".to_owned());
    let ways = choice(&["catalogue-rule", "looked-up", "transmission-plate"], sentence::means_of_settling);
    vec![
        proposed(field("variant_code", sentence::ask_variant(), Input::Text), only, sentence::why_rule),
        proposed(field("means", sentence::ask_settled_by(), ways), means, sentence::why_rule),
        optional("source", sentence::ask_source(), Input::Text),
        field(
            "transmission_plate_agrees",
            sentence::ask_plate(),
            choice(&["yes", "no", "not-seen"], sentence::answer),
        ),
    ]
}

fn codes(_: &Facts<'_>) -> Vec<Field> {
    vec![
        field(
            "state",
            sentence::ask_codes_state(),
            choice(&["none", "read", "not-readable"], sentence::codes_state),
        ),
        optional("codes", sentence::ask_codes(), Input::Text),
    ]
}

fn drive(_: &Facts<'_>) -> Vec<Field> {
    let words = ["normal", "late", "harsh", "flare", "shudder", "noise", "slip", "bang"];
    let ticks = words.map(|word| (word, sentence::drive_tick(word)));
    vec![
        field("ticks", sentence::ask_ticks(), Input::Choices(ticks.to_vec())),
        field("warmth", sentence::ask_warmth(), choice(&["cold", "warm"], sentence::warmth)),
    ]
}

fn sample(_: &Facts<'_>) -> Vec<Field> {
    let specks = ["none", "fine-grey-paste", "glitter", "flakes-or-chips"];
    vec![
        field(
            "colour",
            sentence::row_colour(),
            choice(&["as-fresh", "darker", "brown", "black"], sentence::colour_seen),
        ),
        field("clouding", sentence::row_clouding(), choice(&["clear", "hazy", "milky"], sentence::clouding)),
        field(
            "smell",
            sentence::row_smell(),
            choice(&["as-fresh", "slightly-sharp", "burnt"], sentence::smell),
        ),
        field("specks", sentence::row_specks(), choice(&specks, sentence::debris)),
    ]
}

fn code(_: &Facts<'_>) -> Vec<Field> {
    vec![field("code", sentence::ask_code(), Input::Text)]
}

fn fluid(facts: &Facts<'_>) -> Vec<Field> {
    let own = facts.identity.variant.as_ref().and_then(|variant| variant.fluid.as_ref());
    let code = own.map(|(code, _)| code.clone());
    vec![
        proposed(field("code", sentence::ask_code(), Input::Text), code, sentence::why_variant_needs),
        optional("lot", sentence::ask_lot(), Input::Text),
    ]
}

fn filter(facts: &Facts<'_>) -> Vec<Field> {
    let code = facts.identity.variant.as_ref().and_then(|variant| variant.filter.clone());
    vec![proposed(field("code", sentence::ask_code(), Input::Text), code, sentence::why_variant_needs)]
}

fn hookup(_: &Facts<'_>) -> Vec<Field> {
    vec![
        field(
            "place",
            sentence::ask_hookup_place(),
            choice(&["cooler-line", "transmission"], sentence::hookup_place),
        ),
        field("direction_tested", sentence::ask_direction(), yes_no()),
    ]
}

fn exchange(facts: &Facts<'_>) -> Vec<Field> {
    const PERCENTS: [&str; 6] = ["0", "25", "50", "75", "90", "100"];
    let begun = any::<ExchangeReading>(facts, |_| true);
    let mut fields = vec![field("volume_in_litres", sentence::ask_pushed(), litres())];
    if begun {
        let tubes = Input::Choice(PERCENTS.map(|percent| (percent, sentence::tube(percent))).to_vec());
        fields.push(optional("tube_percent", sentence::ask_tube(), tubes));
        fields.push(field("last", sentence::ask_last(), choice(&["no", "yes"], sentence::answer)));
        fields.push(optional("volume_out_litres", sentence::ask_out(), litres()));
    }
    fields
}

fn pan(_: &Facts<'_>) -> Vec<Field> {
    let debris = ["none", "fine-grey-paste", "glitter", "flakes-or-chips"];
    vec![
        field("amount", sentence::ask_drained(), Input::Quantity { units: &["L", "kg"] }),
        field("debris", sentence::row_pan(), choice(&debris, sentence::debris)),
    ]
}

fn fitted(_: &Facts<'_>) -> Vec<Field> {
    let parts = [
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
    let shown = |parts: &[&'static str]| {
        Input::Choices(parts.iter().map(|part| (*part, sentence::service_part(*part))).collect())
    };
    let usual = Some("filter,pan-seal,magnets,pan-screws".to_owned());
    vec![
        proposed(field("fitted", sentence::ask_fitted(), shown(&parts)), usual, sentence::why_kit),
        optional("excepted", sentence::ask_excepted(), shown(&parts)),
    ]
}

fn screws(facts: &Facts<'_>) -> Vec<Field> {
    let variant = facts.identity.variant.as_ref();
    let count = variant.and_then(|variant| variant.pan_screw_count).map(|count| count.to_string());
    let torque = variant
        .and_then(|variant| variant.pan_screw_torque_newton_metres)
        .map(|torque| format!("{} N·m", number::fixed(torque, 0)));
    let tool =
        facts.folded.last::<Tightening>().map(|(_, last)| last.tool.clone()).filter(|tool| !tool.is_empty());
    let newton_metres = Input::Quantity { units: &["N·m"] };
    vec![
        proposed(
            field("screw_count", sentence::ask_screws(), Input::Count),
            count.clone(),
            sentence::why_catalogue,
        ),
        proposed(
            field("new_screw_count", sentence::ask_new_screws(), Input::Count),
            count,
            sentence::why_single_use,
        ),
        proposed(
            field("torque_newton_metres", sentence::ask_torque(), newton_metres),
            torque,
            sentence::why_catalogue,
        ),
        field("order_kept", sentence::ask_order(), yes_no()),
        proposed(optional("tool", sentence::ask_tool(), Input::Text), tool, sentence::why_last_tool),
    ]
}

fn refill(facts: &Facts<'_>) -> Vec<Field> {
    let drained = facts.folded.each::<Drain>().rfind(|(_, drain)| drain.place == Some(DrainedFrom::Pan));
    let amount = drained.map(|(_, drain)| drain.amount.as_read().replace('\u{a0}', " "));
    let own = facts.identity.variant.as_ref().and_then(|variant| variant.fluid.as_ref());
    let fluid = own.map(|(code, _)| code.clone());
    let by = Input::Quantity { units: &["L", "kg"] };
    vec![
        proposed(field("amount", sentence::ask_refilled(), by), amount, sentence::why_as_drained),
        proposed(
            field("fluid_code", sentence::ask_with_what(), Input::Text),
            fluid,
            sentence::why_variant_needs,
        ),
    ]
}

fn gears(facts: &Facts<'_>) -> Vec<Field> {
    let person = facts.folded.story.last().map(|line| line.person.clone());
    vec![
        proposed(
            field("driver_person_code", sentence::ask_driver(), Input::Text),
            person,
            sentence::why_person,
        ),
        field("nobody_under_vehicle", sentence::ask_nobody_under(), yes_no()),
    ]
}

fn level(_: &Facts<'_>) -> Vec<Field> {
    vec![
        field("temperature_celsius", sentence::ask_temperature(), Input::Quantity { units: &["°C"] }),
        field(
            "overflow",
            sentence::ask_overflow(),
            choice(&["nothing", "drops", "stream"], sentence::overflow),
        ),
        field("engine_idling", sentence::ask_idling(), yes_no()),
        field("vehicle_level", sentence::ask_vehicle_level(), yes_no()),
        field(
            "selector",
            sentence::ask_selector(),
            choice(&["park", "neutral", "other"], sentence::selector),
        ),
        optional("caught_litres", sentence::ask_caught(), litres()),
    ]
}

fn plug(facts: &Facts<'_>) -> Vec<Field> {
    let torque = facts.identity.variant.as_ref().and_then(|variant| variant.plug_torque_newton_metres);
    let torque = torque.map(|torque| format!("{} N·m", number::fixed(torque, 0)));
    let newton_metres = Input::Quantity { units: &["N·m"] };
    vec![
        field("seal_new", sentence::ask_seal_new(), yes_no()),
        proposed(
            optional("torque_newton_metres", sentence::ask_torque(), newton_metres),
            torque,
            sentence::why_catalogue,
        ),
        optional("tool", sentence::ask_tool(), Input::Text),
    ]
}

fn leaks(_: &Facts<'_>) -> Vec<Field> {
    vec![
        field("found", sentence::ask_leaks(), choice(&["dry", "damp", "dripping"], sentence::leak_found)),
        field("line_closed", sentence::ask_line_closed(), yes_no()),
    ]
}

fn waste(facts: &Facts<'_>) -> Vec<Field> {
    let out = crate::job::came_out(facts.context, facts.folded, facts.identity);
    let proposal = out.map(|litres| format!("{} L", number::fixed(litres.value, 1)));
    vec![proposed(field("amount", sentence::ask_waste(), litres()), proposal, sentence::why_came_out)]
}

fn closing(_: &Facts<'_>) -> Vec<Field> {
    vec![
        field("outcome", sentence::ask_outcome(), choice(&["done", "no-exchange-done"], sentence::outcome)),
        optional("odometer_kilometres", sentence::ask_odometer(), Input::Quantity { units: &["km"] }),
    ]
}
