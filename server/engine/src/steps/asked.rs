//! THE table of steps: what each asks, what it proposes, when it is answered (common practice, no source).

use super::Field;
use super::done::{self, exchange, fitted, gears, hookup, leaks, level, pan, plug, refill, screws};
use super::equipped;
use super::looked::{self, codes, drive_after, drive_before, filter, fluid, sample, variant, vin};
use crate::gates::{Facts, Gate, Need, asks_which_equipment, is_met, is_work_begun};
use crate::job::Folded;
use crate::job::identity::{SETTLE_AGAIN, VIN_CHECK_DIGIT};
use crate::kind::Kind;
use crate::kind::arrival::Arrival;
use crate::kind::exchange_reading::ExchangeReading;
use crate::kind::fill::Fill;
use crate::kind::level_check::LevelCheck;
use crate::kind::part_checked::PartChecked;
use crate::kind::road_test::RoadTest;
use crate::kind::vin_reading::VinReading;
use crate::kind::words::{FillPurpose, Moment, Part};
use crate::text::{Sentence, sentence};

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

/// Steps that mean nothing while the pan stays on.
pub(super) const ABOUT_PAN: [&str; 5] = ["pan-seen", "old-filter", "fitted", "screws", "refill"];

/// The step at which cautions are read first, before anybody goes under the vehicle.
pub(super) const FIRST_CAUTION: &str = "caution-lifted";

/// Whether a step can no longer be done, so that nobody is asked for it.
pub(super) fn is_too_late(step: &str, folded: &Folded) -> bool {
    step == "drive-before" && is_work_begun(folded)
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
    row("variant", ask_variant, "variant_settled", &[], variant, is_variant_settled),
    row(
        "codes-before",
        |_| sentence::step_codes_before(),
        "fault_codes",
        &[("moment", "before")],
        codes,
        |facts| is_met(facts, Need::CodesBefore),
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
        FIRST_CAUTION,
        |_| sentence::step_caution_lifted(),
        &[("group", "lifted")],
        |facts| is_met(facts, Need::CautionLifted),
        sentence::caution_lift,
    ),
    after(
        "caution-lifted",
        confirm(
            "lift-locked",
            |_| sentence::step_lift_locked(),
            &[("conditions", "lift-locked")],
            |facts| is_met(facts, Need::LiftLocked),
        ),
    ),
    // Not behind a caution: to have read one is not to have isolated anything.
    confirm(
        "high-voltage",
        |_| sentence::step_high_voltage(),
        &[("conditions", "high-voltage-isolated")],
        |facts| is_met(facts, Need::HighVoltageIsolated),
    ),
    Row {
        caution: Some(sentence::caution_hot_fluid),
        after: Some("lift-locked"),
        ..row(
            "sample-before",
            |_| sentence::step_sample_before(),
            "fluid_sample",
            &[("moment", "before")],
            sample,
            |facts| is_met(facts, Need::SampleBefore),
        )
    },
    row(
        "fluid",
        |_| sentence::step_fluid(),
        "part_checked",
        &[("part", "fluid-container"), ("read_by", "eye")],
        fluid,
        fluid_answered,
    ),
    row(
        "filter",
        |_| sentence::step_filter(),
        "part_checked",
        &[("part", "filter"), ("read_by", "eye")],
        filter,
        |facts| checked(facts, Part::Filter),
    ),
    // Asked only where a register is kept and what it says is nothing or does not fit.
    Row {
        known: equipped::equipment_known,
        ..row(
            "equipment-contents",
            equipped::ask_contents,
            "equipment_contents",
            &[],
            equipped::contents,
            |facts| {
                // Which equipment is meant, the hook-up says.
                crate::site::equipment::begun_at(facts.folded).is_some()
                    || asks_which_equipment(facts)
                    || is_met(facts, Need::EquipmentContents)
            },
        )
    },
    caution(
        "caution-line",
        |_| sentence::step_caution_line(),
        &[("group", "line-opening")],
        |facts| is_met(facts, Need::CautionLineOpening),
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
            |facts| facts.is_hookup_done() && !asks_which_equipment(facts),
        ),
    ),
    caution(
        "caution-engine",
        |_| sentence::step_caution_engine(),
        &[("group", "engine-running")],
        |facts| is_met(facts, Need::CautionEngineRunning),
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
        // Later the engine runs again, for gears and level.
        |facts| facts.engine_off_since_exchange() && is_met(facts, Need::LineClosed),
    ),
    caution(
        "caution-pan",
        |_| sentence::step_caution_pan(),
        &[("group", "pan-and-hot")],
        |facts| is_met(facts, Need::CautionPanAndHot),
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
                |facts| facts.is_pan_drained() && !is_to_drain(facts),
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
            |facts| is_met(facts, Need::StandpipeSeen),
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
            |facts| is_met(facts, Need::OldFilterSeen),
        ),
    ),
    after(
        "pan",
        row("fitted", |_| sentence::step_fitted(), "part_fitted", &[], fitted, |facts| facts.is_fitted()),
    ),
    after(
        "fitted",
        row("screws", equipped::ask_screws, "tightening", &[("group", "pan")], screws, |facts| {
            is_met(facts, Need::ScrewsTightened)
        }),
    ),
    gated(
        Gate::Refill,
        after(
            "screws",
            row("refill", |_| sentence::step_refill(), "fill", &[("purpose", "refill")], refill, is_refilled),
        ),
    ),
    after(
        "refill",
        confirm(
            "clear",
            |_| sentence::step_clear(),
            &[("conditions", "pan-closed,tools-and-people-clear")],
            |facts| is_met(facts, Need::ToolsAndPeopleClear),
        ),
    ),
    caution(
        "caution-gears",
        |_| sentence::step_caution_gears(),
        &[("group", "gears-and-level")],
        |facts| is_met(facts, Need::CautionGearsAndLevel),
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
                |facts| is_met(facts, Need::GearsMoved),
            )
        },
    ),
    after(
        "gears",
        row("level-added", ask_added, "fill", &[("purpose", "level")], done::added, |facts| {
            !level_wants_more(facts)
        }),
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
            ..row("level", ask_level, "level_check", &[], level, |facts| is_met(facts, Need::LevelSet))
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
                |facts| is_met(facts, Need::PlugClosed),
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
            |facts| is_met(facts, Need::Dry) && is_met(facts, Need::LineClosed),
        ),
    )),
    row(
        "codes-after",
        |_| sentence::step_codes_after(),
        "fault_codes",
        &[("moment", "after")],
        codes,
        |facts| is_met(facts, Need::CodesAfter),
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
                |facts| is_met(facts, Need::DriveAfter),
            ),
        ),
    ),
    row(
        "waste",
        |_| sentence::step_waste(),
        "waste",
        &[("kind", "used-fluid")],
        done::waste,
        |facts| is_met(facts, Need::WasteWritten),
    ),
    gated(
        Gate::Close,
        after(
            "drive-after",
            row("closing", |_| sentence::step_closing(), "closing", &[], done::closing, |_| false),
        ),
    ),
];

/// What is done until the pan is drained, in a job that stops for it.
const UNTIL_DRAINED: [&str; 6] =
    ["caution-lifted", "lift-locked", "high-voltage", "engine-off", "caution-pan", "pan"];
/// What pushing needs.
const PUSHING: [&str; 4] = ["caution-line", "hookup", "caution-engine", "exchange"];
/// The last step before the engine runs again after the pan.
const ENGINE_MAY_RUN: &str = "clear";

/// Puts what pushes fluid behind the pan while the pan is off, and draining the pan before everything while wrong fluid
/// is in it: what is asked is what can be done now.
pub(super) fn pan_before_pushing<S>(facts: &Facts<'_>, steps: &mut [S], name: impl Fn(&S) -> &'static str) {
    let to_drain = is_to_drain(facts);
    let pan_off = facts.is_pan_drained() && !is_met(facts, Need::PanBack);
    if !to_drain && !pan_off {
        return;
    }
    let place = |name: &str| STEPS.iter().position(|row| row.name == name).unwrap_or_default();
    steps.sort_by_key(|step| {
        let name = name(step);
        match name {
            name if to_drain && UNTIL_DRAINED.contains(&name) => (0, 0, place(name)),
            name if PUSHING.contains(&name) => (1, place(ENGINE_MAY_RUN), 1 + place(name)),
            name => (1, place(name), 0),
        }
    });
}

/// Wrong fluid has to come out of the pan again.
fn is_to_drain(facts: &Facts<'_>) -> bool {
    facts.identity.wrong_fluid.as_ref().is_some_and(|wrong| !wrong.is_out_of_pan())
}

fn any<K: Kind + 'static>(facts: &Facts<'_>, fits: impl Fn(&K) -> bool) -> bool {
    facts.folded.each::<K>().any(|(_, kind)| fits(kind))
}

fn checked(facts: &Facts<'_>, part: Part) -> bool {
    any::<PartChecked>(facts, |check| check.part == Some(part))
}

/// Something was refilled, and not less than ran out.
fn is_refilled(facts: &Facts<'_>) -> bool {
    any::<Fill>(facts, |fill| fill.purpose == Some(FillPurpose::Refill))
        && is_met(facts, Need::RefilledAsDrained)
}

/// The container agrees; or one was read, and nobody knows yet which fluid is the right one.
fn fluid_answered(facts: &Facts<'_>) -> bool {
    facts.identity.fluid_agrees || (!is_fluid_known(facts) && checked(facts, Part::FluidContainer))
}

/// A variant is settled, and nothing asks for it again.
fn is_variant_settled(facts: &Facts<'_>) -> bool {
    is_fluid_known(facts) && !facts.identity.asks(&SETTLE_AGAIN)
}

/// Asks for the variant, or for it again with the reason.
fn ask_variant(facts: &Facts<'_>) -> Sentence {
    let again = facts.identity.open.iter().find(|question| SETTLE_AGAIN.contains(&question.key));
    again.map_or_else(sentence::step_variant, |question| question.text.clone())
}

/// A variant is settled, and with it the only fluid that may go in.
fn is_fluid_known(facts: &Facts<'_>) -> bool {
    facts.identity.variant.as_ref().is_some_and(|variant| variant.fluid.is_some())
}

fn vin_answered(facts: &Facts<'_>) -> bool {
    let readings = facts.folded.each::<VinReading>().count();
    facts.identity.vin.is_some() && readings >= 2 && !facts.identity.asks(&[VIN_CHECK_DIGIT])
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
    inside && check.is_low() && !added
}

/// The temperature is known for now: the level is set, or the last reading is fresh and allows a look.
fn temperature_answered(facts: &Facts<'_>) -> bool {
    let window = facts.identity.variant.as_ref().and_then(|variant| variant.level_window_celsius);
    let fresh = crate::job::fresh_temperature(facts.context, facts.folded);
    let allows = fresh.is_some_and(|reading| {
        window.is_none_or(|(least, greatest)| (least..=greatest).contains(&reading.celsius))
    });
    allows || is_met(facts, Need::LevelSet)
}

/// Asks for the temperature, and says what the last one meant.
fn ask_temperature(facts: &Facts<'_>) -> Sentence {
    let window = facts.identity.variant.as_ref().and_then(|variant| variant.level_window_celsius);
    let Some((least, greatest)) = window else { return sentence::step_temperature() };
    let (from, to) = crate::job::edges((least, greatest));
    let read = |celsius: f64| crate::job::celsius_beside(celsius, window);
    let dipstick = facts.identity.has_dipstick();
    match crate::job::fresh_temperature(facts.context, facts.folded) {
        Some(reading) if reading.celsius > greatest && dipstick => {
            sentence::step_temperature_hot_dipstick(to, from, read(reading.celsius))
        }
        Some(reading) if reading.celsius < least && dipstick => {
            sentence::step_temperature_cold_dipstick(to, from, read(reading.celsius))
        }
        Some(reading) if reading.celsius > greatest => {
            sentence::step_temperature_hot(to, from, read(reading.celsius))
        }
        Some(reading) if reading.celsius < least => {
            sentence::step_temperature_cold(to, from, read(reading.celsius))
        }
        _ => sentence::step_temperature_window(to, from),
    }
}

fn ask_level(facts: &Facts<'_>) -> Sentence {
    let window = facts.identity.variant.as_ref().and_then(|variant| variant.level_window_celsius);
    let method = done::level_method(facts).code();
    match crate::job::fresh_temperature(facts.context, facts.folded) {
        Some(reading) => sentence::step_level_at(method, crate::job::celsius_beside(reading.celsius, window)),
        None => sentence::step_level(method),
    }
}

fn ask_added(facts: &Facts<'_>) -> Sentence {
    let by_dipstick = facts.folded.last::<LevelCheck>().is_some_and(|(_, check)| check.dipstick.is_some());
    if by_dipstick { sentence::step_level_added_dipstick() } else { sentence::step_level_added() }
}
