//! What is lacking for one need, with its sentence and its key.
//!
//! Read by [`super`] only. A need is looked up in the facts that count; nothing is remembered.

use super::{Missing, Need};
use crate::formula::fault_code::{FaultClass, classify};
use crate::job::{Context, Folded, Identity, Stated};
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
use crate::kind::temperature_reading::TemperatureReading;
use crate::kind::tightening::Tightening;
use crate::kind::waste::Waste;
use crate::kind::words::{
    Answer, CautionGroup, Clouding, Condition, Debris, DrainedFrom, FillPurpose, LeakFound, Moment, Part,
    SampleTime, ScrewGroup, ServicePart, TemperatureMeans, TemperatureOf,
};
use crate::quantity::Estimate;
use crate::text::{Sentence, number, sentence};

/// How much less than drained may be refilled before the engine starts, in L: a dry pump ruins the
/// transmission (common practice, no source).
const REFILL_SHORT_LITRES: f64 = 0.5;
/// How old a temperature may be when the plug is opened on it.
const TEMPERATURE_FRESH_US: i64 = 2 * 60 * 1_000_000;

/// What the needs are looked up in.
pub(super) struct Facts<'a> {
    pub context: &'a Context<'a>,
    pub folded: &'a Folded,
    pub identity: &'a Identity,
}

impl Facts<'_> {
    fn any<K: Kind + 'static>(&self, fits: impl Fn(&K) -> bool) -> bool {
        self.folded.each::<K>().any(|(_, kind)| fits(kind))
    }

    fn caution(&self, group: CautionGroup) -> bool {
        self.any::<CautionRead>(|read| read.group == Some(group))
    }

    /// The condition was confirmed, and not before the given place in the journal.
    fn confirmed(&self, condition: Condition, since: u64) -> bool {
        let confirmed = self.folded.each::<ConditionConfirmed>();
        let mut later = confirmed.filter(|(stated, _)| stated.seq > since);
        later.any(|(_, confirmed)| confirmed.conditions.contains(&condition))
    }

    /// Place in the journal of the last exchange reading; 0 without one.
    fn exchange_seq(&self) -> u64 {
        self.folded.last::<ExchangeReading>().map_or(0, |(stated, _)| stated.seq)
    }

    fn pan_drained(&self) -> Option<(&Stated, &Drain)> {
        self.folded.each::<Drain>().rfind(|(_, drain)| drain.place == Some(DrainedFrom::Pan))
    }
}

/// The keys by which a decision can name what a need lacks.
pub(super) fn keys(need: Need) -> &'static [&'static str] {
    match need {
        Need::NothingToRepairFirst => &["repair-first", "signed-decision", "maker-specific"],
        Need::NothingToLookAtInside => &["look-inside-first"],
        _ => &[],
    }
}

/// Everything that one need lacks; empty when it is met.
pub(super) fn lacking(facts: &Facts<'_>, need: Need) -> Vec<Missing> {
    let one = |met: bool, key: &'static str, text: fn() -> Sentence| {
        if met { Vec::new() } else { vec![Missing { key, text: text(), stops: false }] }
    };
    match need {
        Need::NoContradiction => {
            let stops = facts.identity.contradictions.iter();
            let missing = |text: &Sentence| Missing { key: "contradiction", text: text.clone(), stops: true };
            stops.map(|contradiction| missing(&contradiction.text)).collect()
        }
        Need::SettledVariant => {
            let open = facts.identity.open.iter();
            open.map(|text| Missing { key: "variant", text: text.clone(), stops: false }).collect()
        }
        Need::FluidCompared => fluid_compared(facts),
        Need::CodesBefore => one(codes(facts, Moment::Before), "codes-before", sentence::need_codes_before),
        Need::NothingToRepairFirst => repair_first(facts),
        Need::DriveBefore => one(driven(facts, Moment::Before), "drive-before", sentence::need_drive_before),
        Need::SampleBefore => {
            let met = facts.any::<FluidSample>(|sample| sample.moment == Some(SampleTime::Before));
            one(met, "sample-before", sentence::need_sample_before)
        }
        Need::NothingToLookAtInside => {
            one(!look_inside(facts), "look-inside-first", sentence::need_look_inside)
        }
        Need::CautionLifted => {
            one(facts.caution(CautionGroup::Lifted), "caution", sentence::need_caution_lifted)
        }
        Need::CautionLineOpening => {
            one(facts.caution(CautionGroup::LineOpening), "caution", sentence::need_caution_line)
        }
        Need::CautionEngineRunning => {
            one(facts.caution(CautionGroup::EngineRunning), "caution", sentence::need_caution_engine)
        }
        Need::CautionPanAndHot => {
            one(facts.caution(CautionGroup::PanAndHot), "caution", sentence::need_caution_pan)
        }
        Need::CautionGearsAndLevel => {
            one(facts.caution(CautionGroup::GearsAndLevel), "caution", sentence::need_caution_gears)
        }
        Need::LiftLocked => {
            one(facts.confirmed(Condition::LiftLocked, 0), "lift-locked", sentence::need_lift_locked)
        }
        Need::HighVoltageIsolated => {
            let met =
                !crate::job::high_voltage(facts.folded) || facts.confirmed(Condition::HighVoltageIsolated, 0);
            one(met, "high-voltage", sentence::need_high_voltage)
        }
        Need::DirectionTested => {
            let met = facts.any::<Hookup>(|hookup| hookup.direction_tested == Some(Answer::Yes));
            one(met, "direction-tested", sentence::need_direction)
        }
        _ => later(facts, need),
    }
}

/// The needs from the end of the exchange on.
fn later(facts: &Facts<'_>, need: Need) -> Vec<Missing> {
    let one = |met: bool, key: &'static str, text: fn() -> Sentence| {
        if met { Vec::new() } else { vec![Missing { key, text: text(), stops: false }] }
    };
    let exchanged = facts.exchange_seq();
    match need {
        Need::ExchangeEnded => {
            let met = exchange_ended(facts);
            one(met, "exchange-ended", sentence::open_exchange_not_ended)
        }
        Need::EngineOff => {
            one(facts.confirmed(Condition::EngineOff, exchanged), "engine-off", sentence::need_engine_off)
        }
        Need::LineClosed => {
            let mut seen = facts.folded.each::<LeakCheck>().filter(|(stated, _)| stated.seq > exchanged);
            let closed = seen.any(|(_, check)| check.line_closed == Some(Answer::Yes));
            let met = closed || facts.confirmed(Condition::LineClosed, exchanged);
            one(met, "line-closed", sentence::need_line_closed)
        }
        Need::StandpipeSeen => {
            let seen = |part: Part| facts.any::<PartChecked>(|check| check.part == Some(part));
            one(seen(Part::Standpipe) && seen(Part::OldFilter), "pan-seen", sentence::need_standpipe)
        }
        Need::PartsFitted => {
            let new = |part: ServicePart| {
                facts.any::<PartFitted>(|fitted| {
                    fitted.fitted.contains(&part) && !fitted.excepted.contains(&part)
                })
            };
            one(new(ServicePart::Filter) && new(ServicePart::PanSeal), "parts-fitted", sentence::need_parts)
        }
        Need::ScrewsTightened => {
            let met = facts.any::<Tightening>(|tightening| tightening.group == Some(ScrewGroup::Pan));
            one(met, "screws-tightened", sentence::need_screws)
        }
        Need::PanClosed => {
            let drained = facts.pan_drained().map_or(0, |(stated, _)| stated.seq);
            let screwed = facts.folded.each::<Tightening>().any(|(stated, tightening)| {
                stated.seq > drained && tightening.group == Some(ScrewGroup::Pan)
            });
            one(
                screwed || facts.confirmed(Condition::PanClosed, drained),
                "pan-closed",
                sentence::need_pan_closed,
            )
        }
        Need::RefilledAsDrained => refilled(facts),
        Need::PanBack => pan_back(facts),
        Need::ToolsAndPeopleClear => {
            let met = facts.confirmed(Condition::ToolsAndPeopleClear, refill_seq(facts));
            one(met, "clear", sentence::need_clear)
        }
        Need::GearsMoved => {
            let met = facts.any::<GearCycle>(|cycle| cycle.nobody_under_vehicle == Some(Answer::Yes));
            one(met, "gears-moved", sentence::need_gears)
        }
        Need::TemperatureInWindow => temperature(facts),
        Need::LevelSet => {
            let met = crate::job::level_is_set(facts.folded, facts.identity);
            one(met, "level-set", sentence::open_level)
        }
        Need::PlugClosed => {
            let met = facts.any::<PlugClosed>(|plug| plug.seal_new == Some(Answer::Yes));
            one(met, "plug-closed", sentence::need_plug)
        }
        Need::Dry => dry(facts),
        Need::CodesAfter => one(codes(facts, Moment::After), "codes-after", sentence::need_codes_after),
        Need::DriveAfter => one(driven(facts, Moment::After), "drive-after", sentence::need_drive_after),
        Need::WasteWritten => one(facts.any::<Waste>(|_| true), "waste", sentence::need_waste),
        _ => Vec::new(),
    }
}

/// Pan first, exchange afterwards, is an order of work too: only an exchange that began must have ended.
fn exchange_ended(facts: &Facts<'_>) -> bool {
    !facts.any::<ExchangeReading>(|_| true) || facts.any::<ExchangeReading>(|reading| reading.last)
}

/// Place in the journal of the last refill; 0 without one. Who refills looks again before the engine starts; adding
/// at the level is done with the engine running.
fn refill_seq(facts: &Facts<'_>) -> u64 {
    let mut fills = facts.folded.each::<Fill>();
    let refill = fills.rfind(|(_, fill)| fill.purpose == Some(FillPurpose::Refill));
    refill.map_or(0, |(stated, _)| stated.seq)
}

fn fluid_compared(facts: &Facts<'_>) -> Vec<Missing> {
    let identity = facts.identity;
    match identity.variant.as_ref().and_then(|variant| variant.fluid.as_ref()) {
        // Asking to read the container again would hide that it was read and is wrong.
        Some((_, name)) if !identity.fluid_agrees && !identity.container_contradicts => {
            vec![Missing { key: "fluid", text: sentence::gate_fluid_not_compared(name), stops: false }]
        }
        _ => Vec::new(),
    }
}

fn codes(facts: &Facts<'_>, moment: Moment) -> bool {
    facts.any::<FaultCodes>(|codes| codes.moment == Some(moment) && codes.state.is_some())
}

fn driven(facts: &Facts<'_>, moment: Moment) -> bool {
    facts.any::<RoadTest>(|drive| drive.moment == Some(moment))
}

fn repair_first(facts: &Facts<'_>) -> Vec<Missing> {
    // Every reading counts: a memory that was cleared meanwhile does not make the fault go away.
    let before = facts.folded.each::<FaultCodes>().filter(|(_, codes)| codes.moment == Some(Moment::Before));
    let mut codes: Vec<&String> = before.flat_map(|(_, codes)| &codes.codes).collect();
    codes.sort();
    codes.dedup();
    let missing = |code: &String| {
        let (key, text) = match classify(code) {
            FaultClass::RepairFirst => ("repair-first", sentence::need_repair_first(code)),
            FaultClass::SignedDecision => ("signed-decision", sentence::need_signed_decision(code)),
            FaultClass::MakerSpecific => ("maker-specific", sentence::need_maker_code(code)),
            FaultClass::LookFurther | FaultClass::NoteOnly => return None,
        };
        Some(Missing { key, text, stops: false })
    };
    codes.into_iter().filter_map(missing).collect()
}

/// Flakes in the sample or milky fluid: look inside before any fluid is spent.
fn look_inside(facts: &Facts<'_>) -> bool {
    let before =
        facts.folded.each::<FluidSample>().rfind(|(_, sample)| sample.moment == Some(SampleTime::Before));
    before.is_some_and(|(_, sample)| {
        sample.clouding == Some(Clouding::Milky) || sample.specks == Some(Debris::FlakesOrChips)
    })
}

fn refilled(facts: &Facts<'_>) -> Vec<Missing> {
    if facts.pan_drained().is_none() {
        return Vec::new();
    }
    let (drained, refilled) = crate::job::drained_and_refilled(facts.context, facts.folded, facts.identity);
    let short = drained.value - refilled.value;
    let any = facts.any::<Fill>(|fill| fill.purpose == Some(FillPurpose::Refill));
    if any && short <= REFILL_SHORT_LITRES {
        return Vec::new();
    }
    let litres = |estimate: Estimate| number::litres(estimate.value, 1);
    let text = sentence::need_refill(litres(drained), litres(refilled));
    vec![Missing { key: "refilled", text, stops: false }]
}

/// Pushing runs the engine: a pan that was off before is closed and refilled first.
fn pan_back(facts: &Facts<'_>) -> Vec<Missing> {
    if facts.pan_drained().is_none() {
        return Vec::new();
    }
    let needs = [Need::PanClosed, Need::RefilledAsDrained, Need::ToolsAndPeopleClear];
    needs.into_iter().flat_map(|need| lacking(facts, need)).collect()
}

/// The last reading of the fluid's temperature that a look at the level may rest on, while it is fresh.
pub(super) fn fresh_temperature<'a>(
    context: &Context<'_>,
    folded: &'a Folded,
) -> Option<&'a TemperatureReading> {
    let mut readings = folded.each::<TemperatureReading>();
    let last = readings.rfind(|(_, reading)| {
        reading.of == Some(TemperatureOf::TransmissionFluid)
            && reading.means != Some(TemperatureMeans::Infrared)
    });
    let fresh = |stated: &Stated| context.as_of_us.saturating_sub(stated.time_us) <= TEMPERATURE_FRESH_US;
    last.filter(|(stated, _)| fresh(stated)).map(|(_, reading)| reading)
}

fn temperature(facts: &Facts<'_>) -> Vec<Missing> {
    let missing = |text: Sentence| vec![Missing { key: "temperature", text, stops: false }];
    let window = facts.identity.variant.as_ref().and_then(|variant| variant.level_window_celsius);
    let Some((least, greatest)) = window else {
        return missing(sentence::level_window_unknown());
    };
    let (greatest_said, least_said) = (number::celsius(greatest, 0), number::fixed(least, 0));
    match fresh_temperature(facts.context, facts.folded) {
        Some(reading) if reading.celsius >= least && reading.celsius <= greatest => Vec::new(),
        Some(reading) => {
            let read = number::celsius(reading.celsius, 0);
            missing(sentence::need_temperature_window(greatest_said, least_said, read))
        }
        None => missing(sentence::need_temperature(greatest_said, least_said)),
    }
}

fn dry(facts: &Facts<'_>) -> Vec<Missing> {
    let missing = |text: fn() -> Sentence| vec![Missing { key: "dry", text: text(), stops: false }];
    match facts.folded.last::<LeakCheck>() {
        None => missing(sentence::need_leak_check),
        Some((_, check)) if check.found != Some(LeakFound::Dry) => missing(sentence::need_dry),
        Some((_, check)) if check.line_closed == Some(Answer::No) => missing(sentence::need_line_closed),
        Some(_) => Vec::new(),
    }
}
