//! THE table of steps: what each asks, what it proposes, when it is answered (common practice, no source).

use super::done::{self, exchange, fitted, gears, hookup, leaks, level, pan, plug, refill, screws};
use super::looked::{self, codes, drive_after, drive_before, filter, fluid, sample, variant, vin};
use super::{Facts, Field};
use crate::gates::Gate;
use crate::kind::Kind;
use crate::kind::arrival::Arrival;
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
use crate::kind::level_check::LevelCheck;
use crate::kind::part_checked::PartChecked;
use crate::kind::part_fitted::PartFitted;
use crate::kind::plug_closed::PlugClosed;
use crate::kind::road_test::RoadTest;
use crate::kind::tightening::Tightening;
use crate::kind::vin_reading::VinReading;
use crate::kind::waste::Waste;
use crate::kind::words::{
    Answer, CautionGroup, Condition, DrainedFrom, FillPurpose, LeakFound, Moment, Overflow, Part, SampleTime,
    ScrewGroup,
};
use crate::text::{Sentence, number, sentence};

/// One row of the table.
pub(super) struct Row {
    pub name: &'static str,
    pub question: fn(&Facts<'_>) -> Sentence,
    pub kind: &'static str,
    pub preset: &'static [(&'static str, &'static str)],
    pub fields: fn(&Facts<'_>) -> Vec<Field>,
    pub answered: fn(&Facts<'_>) -> bool,
    pub gate: Option<Gate>,
    pub safety: bool,
    pub repeats: bool,
    pub caution: Option<fn() -> Sentence>,
    pub after: Option<&'static str>,
    pub known: fn(&Facts<'_>) -> Vec<(&'static str, String)>,
}

/// A row that is asked once, needs no gate and may be skipped.
const fn row(
    name: &'static str,
    question: fn(&Facts<'_>) -> Sentence,
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
        after: None,
        known: nothing_known,
    }
}

/// A row that only asks to read and confirm.
const fn caution(
    name: &'static str,
    question: fn(&Facts<'_>) -> Sentence,
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
    question: fn(&Facts<'_>) -> Sentence,
    preset: &'static [(&'static str, &'static str)],
    answered: fn(&Facts<'_>) -> bool,
) -> Row {
    Row { safety: true, ..row(name, question, "condition_confirmed", preset, no_fields, answered) }
}

/// A row whose work comes after that of another step.
const fn after(step: &'static str, row: Row) -> Row {
    Row { after: Some(step), ..row }
}

/// A row that is not begun without the yes of a gate.
const fn gated(gate: Gate, row: Row) -> Row {
    Row { gate: Some(gate), ..row }
}

/// A row that is never skipped.
const fn safe(row: Row) -> Row {
    Row { safety: true, ..row }
}

pub(super) const STEPS: &[Row] = &[
    Row {
        known: looked::arrival_known,
        ..row(
            "odometer",
            |_| sentence::step_odometer(),
            "arrival",
            &[],
            looked::odometer,
            |facts| {
                let arrival = facts.folded.last::<Arrival>();
                arrival.is_none_or(|(_, arrival)| arrival.odometer_kilometres.is_some())
            },
        )
    },
    row("vin", |_| sentence::step_vin(), "vin_reading", &[("source", "body-plate")], vin, vin_answered),
    row(
        "variant",
        |_| sentence::step_variant(),
        "variant_settled",
        &[],
        variant,
        |facts| facts.identity.variant.is_some(),
    ),
    row(
        "codes-before",
        |_| sentence::step_codes_before(),
        "fault_codes",
        &[("moment", "before")],
        codes,
        |facts| any::<FaultCodes>(facts, |codes| codes.moment == Some(Moment::Before)),
    ),
    row(
        "drive-before",
        |_| sentence::step_drive_before(),
        "road_test",
        &[("moment", "before")],
        drive_before,
        |facts| any::<RoadTest>(facts, |drive| drive.moment == Some(Moment::Before)),
    ),
    caution(
        "caution-lifted",
        |_| sentence::step_caution_lifted(),
        &[("group", "lifted")],
        |facts| read(facts, CautionGroup::Lifted),
        sentence::caution_lift,
    ),
    after(
        "caution-lifted",
        confirm(
            "lift-locked",
            |_| sentence::step_lift_locked(),
            &[("conditions", "lift-locked")],
            |facts| confirmed(facts, Condition::LiftLocked, 0),
        ),
    ),
    Row {
        caution: Some(sentence::caution_high_voltage),
        ..confirm(
            "high-voltage",
            |_| sentence::step_high_voltage(),
            &[("conditions", "high-voltage-isolated")],
            |facts| {
                !crate::job::high_voltage(facts.folded) || confirmed(facts, Condition::HighVoltageIsolated, 0)
            },
        )
    },
    Row {
        caution: Some(sentence::caution_hot_fluid),
        after: Some("lift-locked"),
        ..row(
            "sample-before",
            |_| sentence::step_sample_before(),
            "fluid_sample",
            &[("moment", "before")],
            sample,
            |facts| any::<FluidSample>(facts, |sample| sample.moment == Some(SampleTime::Before)),
        )
    },
    row(
        "fluid",
        |_| sentence::step_fluid(),
        "part_checked",
        &[("part", "fluid-container"), ("read_by", "eye")],
        fluid,
        |facts| facts.identity.fluid_agrees,
    ),
    row(
        "filter",
        |_| sentence::step_filter(),
        "part_checked",
        &[("part", "filter"), ("read_by", "eye")],
        filter,
        |facts| checked(facts, Part::Filter),
    ),
    caution(
        "caution-line",
        |_| sentence::step_caution_line(),
        &[("group", "line-opening")],
        |facts| read(facts, CautionGroup::LineOpening),
        sentence::caution_line,
    ),
    after(
        "caution-line",
        row(
            "hookup",
            |_| sentence::step_hookup(),
            "hookup",
            &[],
            hookup,
            |facts| any::<Hookup>(facts, |hookup| hookup.direction_tested == Some(Answer::Yes)),
        ),
    ),
    caution(
        "caution-engine",
        |_| sentence::step_caution_engine(),
        &[("group", "engine-running")],
        |facts| read(facts, CautionGroup::EngineRunning),
        sentence::caution_engine,
    ),
    gated(
        Gate::Exchange,
        Row {
            repeats: true,
            caution: Some(sentence::caution_engine),
            after: Some("hookup"),
            ..row(
                "exchange",
                |_| sentence::step_exchange(),
                "exchange_reading",
                &[],
                exchange,
                |facts| any::<ExchangeReading>(facts, |reading| reading.last),
            )
        },
    ),
    confirm(
        "engine-off",
        |_| sentence::step_engine_off(),
        &[("conditions", "engine-off,line-closed")],
        |facts| {
            confirmed(facts, Condition::EngineOff, last_exchange(facts))
                && confirmed(facts, Condition::LineClosed, last_exchange(facts))
        },
    ),
    caution(
        "caution-pan",
        |_| sentence::step_caution_pan(),
        &[("group", "pan-and-hot")],
        |facts| read(facts, CautionGroup::PanAndHot),
        sentence::caution_hot_fluid,
    ),
    gated(
        Gate::Pan,
        Row {
            caution: Some(sentence::caution_hot_fluid),
            after: Some("caution-pan"),
            ..row(
                "pan",
                |_| sentence::step_pan(),
                "drain",
                &[("place", "pan")],
                pan,
                |facts| any::<Drain>(facts, |drain| drain.place == Some(DrainedFrom::Pan)),
            )
        },
    ),
    after(
        "pan",
        row(
            "pan-seen",
            |_| sentence::step_standpipe(),
            "part_checked",
            &[("part", "standpipe"), ("read_by", "eye")],
            looked::standpipe,
            |facts| checked(facts, Part::Standpipe),
        ),
    ),
    after(
        "pan",
        row(
            "old-filter",
            |_| sentence::step_old_filter(),
            "part_checked",
            &[("part", "old-filter"), ("read_by", "eye")],
            looked::old_filter,
            |facts| checked(facts, Part::OldFilter),
        ),
    ),
    after(
        "pan",
        row(
            "fitted",
            |_| sentence::step_fitted(),
            "part_fitted",
            &[],
            fitted,
            |facts| any::<PartFitted>(facts, |_| true),
        ),
    ),
    after(
        "fitted",
        row(
            "screws",
            |_| sentence::step_screws(),
            "tightening",
            &[("group", "pan")],
            screws,
            |facts| any::<Tightening>(facts, |tightening| tightening.group == Some(ScrewGroup::Pan)),
        ),
    ),
    gated(
        Gate::Refill,
        after(
            "screws",
            row(
                "refill",
                |_| sentence::step_refill(),
                "fill",
                &[("purpose", "refill")],
                refill,
                |facts| any::<Fill>(facts, |fill| fill.purpose == Some(FillPurpose::Refill)),
            ),
        ),
    ),
    after(
        "refill",
        confirm(
            "clear",
            |_| sentence::step_clear(),
            &[("conditions", "pan-closed,tools-and-people-clear")],
            |facts| {
                let fills = facts.folded.each::<Fill>();
                let mut refills = fills.filter(|(_, fill)| fill.purpose == Some(FillPurpose::Refill));
                let refilled = refills.next_back().map_or(0, |(stated, _)| stated.seq);
                confirmed(facts, Condition::ToolsAndPeopleClear, refilled)
            },
        ),
    ),
    caution(
        "caution-gears",
        |_| sentence::step_caution_gears(),
        &[("group", "gears-and-level")],
        |facts| read(facts, CautionGroup::GearsAndLevel),
        sentence::caution_gears,
    ),
    gated(
        Gate::StartEngine,
        Row {
            safety: true,
            caution: Some(sentence::caution_gears),
            after: Some("clear"),
            ..row(
                "gears",
                |_| sentence::step_gears(),
                "gear_cycle",
                &[],
                gears,
                |facts| any::<GearCycle>(facts, |cycle| cycle.nobody_under_vehicle == Some(Answer::Yes)),
            )
        },
    ),
    after(
        "gears",
        row(
            "level-added",
            |_| sentence::step_level_added(),
            "fill",
            &[("purpose", "level")],
            done::added,
            |facts| !level_wants_more(facts),
        ),
    ),
    safe(after(
        "gears",
        Row {
            repeats: true,
            ..row(
                "temperature",
                ask_temperature,
                "temperature_reading",
                &[("place", "transmission-fluid"), ("means", "scan-tool")],
                done::temperature,
                temperature_answered,
            )
        },
    )),
    gated(
        Gate::Level,
        Row {
            repeats: true,
            safety: true,
            caution: Some(sentence::caution_gears),
            after: Some("temperature"),
            known: done::level_known,
            ..row("level", ask_level, "level_check", &[], level, |facts| {
                crate::job::level_is_set(facts.folded, facts.identity)
            })
        },
    ),
    safe(after(
        "level",
        Row {
            caution: Some(sentence::caution_hot_fluid),
            ..row(
                "plug",
                |_| sentence::step_plug(),
                "plug_closed",
                &[],
                plug,
                |facts| any::<PlugClosed>(facts, |_| true),
            )
        },
    )),
    safe(after(
        "plug",
        row(
            "leaks",
            |_| sentence::step_leaks(),
            "leak_check",
            &[],
            leaks,
            |facts| {
                let last = facts.folded.last::<LeakCheck>();
                last.is_some_and(|(_, look)| {
                    look.found == Some(LeakFound::Dry) && look.line_closed != Some(Answer::No)
                })
            },
        ),
    )),
    row(
        "codes-after",
        |_| sentence::step_codes_after(),
        "fault_codes",
        &[("moment", "after")],
        codes,
        |facts| any::<FaultCodes>(facts, |codes| codes.moment == Some(Moment::After)),
    ),
    gated(
        Gate::RoadTest,
        after(
            "leaks",
            row(
                "drive-after",
                |_| sentence::step_drive_after(),
                "road_test",
                &[("moment", "after")],
                drive_after,
                |facts| any::<RoadTest>(facts, |drive| drive.moment == Some(Moment::After)),
            ),
        ),
    ),
    row(
        "waste",
        |_| sentence::step_waste(),
        "waste",
        &[("kind", "used-fluid")],
        done::waste,
        |facts| any::<Waste>(facts, |_| true),
    ),
    gated(
        Gate::Close,
        after(
            "drive-after",
            row("closing", |_| sentence::step_closing(), "closing", &[], done::closing, |_| false),
        ),
    ),
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

fn nothing_known(_: &Facts<'_>) -> Vec<(&'static str, String)> {
    Vec::new()
}

/// The level was looked at inside the window, nothing came, and nothing was added since.
fn level_wants_more(facts: &Facts<'_>) -> bool {
    let Some((look, check)) = facts.folded.last::<LevelCheck>() else { return false };
    let window = facts.identity.variant.as_ref().and_then(|variant| variant.level_window_celsius);
    let inside = window.is_some_and(|(least, greatest)| (least..=greatest).contains(&check.celsius));
    let added = facts
        .folded
        .each::<Fill>()
        .any(|(stated, fill)| stated.seq > look.seq && fill.purpose == Some(FillPurpose::Level));
    inside && check.overflow == Some(Overflow::Nothing) && !added
}

/// The temperature is known for now: the level is set, or the last reading is fresh and allows a look.
fn temperature_answered(facts: &Facts<'_>) -> bool {
    let window = facts.identity.variant.as_ref().and_then(|variant| variant.level_window_celsius);
    let fresh = crate::gates::fresh_temperature(facts.context, facts.folded);
    let allows = fresh.is_some_and(|reading| {
        window.is_none_or(|(least, greatest)| (least..=greatest).contains(&reading.celsius))
    });
    allows || crate::job::level_is_set(facts.folded, facts.identity)
}

/// Asks for the temperature, and says what the last one meant.
fn ask_temperature(facts: &Facts<'_>) -> Sentence {
    let window = facts.identity.variant.as_ref().and_then(|variant| variant.level_window_celsius);
    let Some((least, greatest)) = window else { return sentence::step_temperature() };
    let (to, from) = (number::celsius(greatest, 0), number::fixed(least, 0));
    match crate::gates::fresh_temperature(facts.context, facts.folded) {
        Some(reading) if reading.celsius > greatest => {
            sentence::step_temperature_hot(to, from, number::celsius(reading.celsius, 0))
        }
        Some(reading) if reading.celsius < least => {
            sentence::step_temperature_cold(to, from, number::celsius(reading.celsius, 0))
        }
        _ => sentence::step_temperature_window(to, from),
    }
}

fn ask_level(facts: &Facts<'_>) -> Sentence {
    match crate::gates::fresh_temperature(facts.context, facts.folded) {
        Some(reading) => sentence::step_level_at(number::celsius(reading.celsius, 0)),
        None => sentence::step_level(),
    }
}
