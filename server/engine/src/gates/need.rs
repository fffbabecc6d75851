//! What is lacking for one need, with its sentence and its key.
//!
//! Read by [`super`] only. A need is looked up in the facts that count; nothing is remembered.

use super::{Missing, Need, inside, tools};
use crate::formula::fault_code::{FaultClass, classify};
use crate::job::{Context, Folded, Identity, Stated};
use crate::kind::caution_read::CautionRead;
use crate::kind::condition_confirmed::ConditionConfirmed;
use crate::kind::decision::Decision;
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
use crate::kind::torque::Torque;
use crate::kind::waste::Waste;
use crate::kind::words::{
    Answer, CautionGroup, Condition, DrainedFrom, FillPurpose, LeakFound, Moment, Part, SampleTime,
    ScrewGroup, ServicePart,
};
use crate::kind::{Fact, Kind};
use crate::quantity::Estimate;
use crate::site::lot_good;
use crate::text::{Sentence, number, sentence};

/// How far a torque may be from the one that the catalogue states, as a part of it (common practice, no source); a
/// click wrench of class A itself may be 4 % off (ISO 6789-1, from memory).
const TORQUE_OFF_RELATIVE: f64 = 0.1;

/// What a named person may decide of a pan that was off, before the vehicle is driven.
const PAN_DECIDED: [&str; 3] = ["parts-fitted", "screws-tightened", "refilled"];

/// What needs are looked up in, by gates and by steps.
pub(crate) struct Facts<'a> {
    /// What the job is read with.
    pub context: &'a Context<'a>,
    /// The facts that count.
    pub folded: &'a Folded,
    /// Vehicle, variant and fluid.
    pub identity: &'a Identity,
}

impl Facts<'_> {
    fn any<K: Kind + 'static>(&self, fits: impl Fn(&K) -> bool) -> bool {
        self.folded.each::<K>().any(|(_, kind)| fits(kind))
    }

    fn caution(&self, group: CautionGroup) -> bool {
        self.any::<CautionRead>(|read| read.group == Some(group))
    }

    /// Whether a fact was stated after everything that undoes it.
    fn stands(&self, stated: &Stated, undoes: impl Fn(&Fact) -> bool) -> bool {
        let mut undoing = self.folded.facts.iter().filter(|other| undoes(&other.fact));
        undoing.all(|other| stated.is_after(other))
    }

    /// Whether a fact of the kind fits and was not undone since.
    fn still<K: Kind + 'static>(
        &self,
        fits: impl Fn(&K) -> bool,
        undoes: impl Fn(&Fact) -> bool + Copy,
    ) -> bool {
        self.folded.each::<K>().any(|(stated, kind)| fits(kind) && self.stands(stated, undoes))
    }

    /// Whether the condition was confirmed and not undone since.
    fn confirmed(&self, condition: Condition, undoes: impl Fn(&Fact) -> bool + Copy) -> bool {
        self.still::<ConditionConfirmed>(|confirmed| confirmed.conditions.contains(&condition), undoes)
    }

    /// Whether the engine was confirmed off since the last reading of the exchange.
    pub(crate) fn engine_off_since_exchange(&self) -> bool {
        self.confirmed(Condition::EngineOff, pushes)
    }

    /// Whether a fact was stated after every reading of the exchange.
    pub(super) fn is_since_exchange(&self, stated: &Stated) -> bool {
        self.stands(stated, pushes)
    }

    /// The last hook-up, where the direction of flow was tested with it.
    fn connected(&self) -> Option<&Stated> {
        let last = self.folded.last::<Hookup>();
        last.filter(|(_, hookup)| hookup.direction_tested == Some(Answer::Yes)).map(|(stated, _)| stated)
    }

    /// Whether the equipment need not be connected now: it is, the exchange is over, or the line was closed for a pan
    /// that comes first and is not back yet.
    pub(crate) fn is_hookup_done(&self) -> bool {
        let closed_for_pan =
            self.connected().is_some() && !(self.is_pan_drained() && lacking(self, Need::PanBack).is_empty());
        lacking(self, Need::DirectionTested).is_empty()
            || self.any::<ExchangeReading>(|reading| reading.last)
            || closed_for_pan
    }

    /// Whether it was said what was fitted new, since the pan was off last.
    pub(crate) fn is_fitted(&self) -> bool {
        self.still::<PartFitted>(|_| true, opens_pan)
    }

    /// Whether the pan came off after every reading of the exchange.
    pub(crate) fn is_pan_off_since_exchange(&self) -> bool {
        self.folded.facts.iter().any(|stated| opens_pan(&stated.fact) && self.is_since_exchange(stated))
    }

    /// Whether the pan was drained.
    pub(crate) fn is_pan_drained(&self) -> bool {
        self.folded.facts.iter().any(|stated| opens_pan(&stated.fact))
    }
}

/// A reading of the exchange: the engine runs and the line is open.
fn pushes(fact: &Fact) -> bool {
    matches!(fact, Fact::ExchangeReading(_))
}

/// Draining the pan takes it off.
pub(crate) fn opens_pan(fact: &Fact) -> bool {
    matches!(fact, Fact::Drain(drain) if drain.place == Some(DrainedFrom::Pan))
}

/// Who refills looks again before the engine starts; adding at the level is done with the engine running.
fn opens_pan_or_refills(fact: &Fact) -> bool {
    opens_pan(fact) || matches!(fact, Fact::Fill(fill) if fill.purpose == Some(FillPurpose::Refill))
}

/// What is done with a running engine.
fn runs_engine(fact: &Fact) -> bool {
    match fact {
        Fact::GearCycle(_) => true,
        Fact::LevelCheck(check) => check.engine_idling == Some(Answer::Yes),
        other => pushes(other),
    }
}

fn opens_line(fact: &Fact) -> bool {
    matches!(fact, Fact::Hookup(_)) || pushes(fact)
}

fn closes_line(fact: &Fact) -> bool {
    match fact {
        Fact::LeakCheck(check) => check.line_closed == Some(Answer::Yes),
        Fact::ConditionConfirmed(confirmed) => confirmed.conditions.contains(&Condition::LineClosed),
        _ => false,
    }
}

/// Only the drive before: the one after ends the work on the lift.
fn drives_before(fact: &Fact) -> bool {
    matches!(fact, Fact::RoadTest(drive) if drive.moment == Some(Moment::Before))
}

/// Everything that one need lacks; empty when it is met.
pub(super) fn lacking(facts: &Facts<'_>, need: Need) -> Vec<Missing> {
    match need {
        Need::NoContradiction => {
            let stops = facts.identity.contradictions.iter();
            let missing = |text: &Sentence| Missing { key: "contradiction", text: text.clone(), stops: true };
            stops.map(|contradiction| missing(&contradiction.text)).collect()
        }
        Need::WrongFluidDecided
        | Need::WrongFluidDrained
        | Need::WrongFluidWorkedOn
        | Need::WrongFluidPutRight => inside::lacking(facts, need),
        Need::SettledVariant => {
            let open = facts.identity.open.iter();
            open.map(|it| Missing { key: it.key, text: it.text.clone(), stops: false }).collect()
        }
        Need::FluidCompared => fluid_compared(facts),
        Need::LotGood => {
            let known = |stated: &Stated| decided(facts, lot_good::EXPIRED, stated);
            lot_good::lacking(facts.context, facts.folded, known)
        }
        Need::CodesBefore => {
            Missing::unless(codes(facts, Moment::Before), "codes-before", sentence::need_codes_before)
        }
        Need::NothingToRepairFirst => repair_first(facts),
        Need::DriveBefore => {
            // Once the work has begun nobody can drive before it any more; the record says that nobody did.
            let met = driven(facts, Moment::Before) || super::is_work_begun(facts.folded);
            Missing::unless(met, "drive-before", sentence::need_drive_before)
        }
        Need::SampleBefore => {
            let met = facts.any::<FluidSample>(|sample| sample.moment == Some(SampleTime::Before));
            Missing::unless(met, "sample-before", sentence::need_sample_before)
        }
        Need::NothingToLookAtInside => look_inside(facts),
        Need::CautionLifted => {
            Missing::unless(facts.caution(CautionGroup::Lifted), "caution", sentence::need_caution_lifted)
        }
        Need::CautionLineOpening => {
            Missing::unless(facts.caution(CautionGroup::LineOpening), "caution", sentence::need_caution_line)
        }
        Need::CautionEngineRunning => Missing::unless(
            facts.caution(CautionGroup::EngineRunning),
            "caution",
            sentence::need_caution_engine,
        ),
        Need::CautionPanAndHot => {
            Missing::unless(facts.caution(CautionGroup::PanAndHot), "caution", sentence::need_caution_pan)
        }
        Need::CautionGearsAndLevel => Missing::unless(
            facts.caution(CautionGroup::GearsAndLevel),
            "caution",
            sentence::need_caution_gears,
        ),
        Need::LiftLocked => {
            let met = facts.confirmed(Condition::LiftLocked, drives_before);
            Missing::unless(met, "lift-locked", sentence::need_lift_locked)
        }
        Need::HighVoltageIsolated => {
            let met = !crate::job::high_voltage(facts.context, facts.folded)
                || facts.confirmed(Condition::HighVoltageIsolated, drives_before);
            Missing::unless(met, "high-voltage", sentence::need_high_voltage)
        }
        Need::DirectionTested => {
            let met = facts.connected().is_some_and(|hookup| facts.stands(hookup, closes_line));
            Missing::unless(met, "direction-tested", sentence::need_direction)
        }
        _ => later(facts, need),
    }
}

/// The needs from the end of the exchange on.
fn later(facts: &Facts<'_>, need: Need) -> Vec<Missing> {
    match need {
        Need::ExchangeEnded => {
            let met = exchange_ended(facts);
            Missing::unless(met, "exchange-ended", sentence::open_exchange_not_ended)
        }
        Need::EngineOff => {
            let met = facts.confirmed(Condition::EngineOff, runs_engine);
            Missing::unless(met, "engine-off", sentence::need_engine_off)
        }
        Need::LineClosed => Missing::unless(line_closed(facts), "line-closed", sentence::need_line_closed),
        Need::StandpipeSeen => {
            let met = seen(facts, Part::Standpipe) || !facts.identity.may_have_standpipe();
            Missing::unless(met, "pan-seen", sentence::need_standpipe)
        }
        Need::OldFilterSeen => {
            Missing::unless(seen(facts, Part::OldFilter), "old-filter", sentence::need_old_filter)
        }
        Need::PartsFitted => Missing::unless(parts_fitted(facts), "parts-fitted", sentence::need_parts),
        Need::ScrewsTightened => {
            let mut missing = Missing::unless(screwed(facts), "screws-tightened", sentence::need_screws);
            missing.extend(screws_torque(facts));
            missing
        }
        Need::PanClosed => {
            let met = screwed(facts) || facts.confirmed(Condition::PanClosed, opens_pan);
            Missing::unless(met, "pan-closed", sentence::need_pan_closed)
        }
        Need::RefilledAsDrained => refilled(facts),
        Need::PanBack => pan_back(facts),
        Need::PanDone => pan_done(facts),
        Need::ScrewsRight => screws_right(facts),
        Need::ToolsAndPeopleClear => {
            let met = facts.confirmed(Condition::ToolsAndPeopleClear, opens_pan_or_refills);
            Missing::unless(met, "clear", sentence::need_clear)
        }
        Need::GearsMoved => {
            let last = facts.folded.last::<GearCycle>();
            let met = last.is_some_and(|(stated, cycle)| {
                cycle.nobody_under_vehicle == Some(Answer::Yes) && facts.stands(stated, opens_pan_or_refills)
            });
            Missing::unless(met, "gears-moved", sentence::need_gears)
        }
        Need::TemperatureInWindow => temperature(facts),
        Need::LevelSet => {
            let met = crate::job::level_is_set(facts.folded, facts.identity);
            let dipstick = facts.identity.has_dipstick();
            Missing::unless(
                met,
                "level-set",
                if dipstick { sentence::open_level_dipstick } else { sentence::open_level },
            )
        }
        Need::EquipmentContents => tools::equipment_contents(facts),
        Need::ScrewTool => tools::screw_tool(facts),
        Need::ScrewsAsAsked => tools::screws_as_asked(facts),
        Need::ScrewsNotUsedAgain => tools::screws_used_again(facts),
        Need::PlugTool => tools::plug_tool(facts),
        Need::PlugClosed => plug_closed(facts),
        Need::Dry => dry(facts),
        Need::CodesAfter => {
            Missing::unless(codes(facts, Moment::After), "codes-after", sentence::need_codes_after)
        }
        Need::DriveAfter => {
            Missing::unless(driven(facts, Moment::After), "drive-after", sentence::need_drive_after)
        }
        Need::WasteWritten => Missing::unless(facts.any::<Waste>(|_| true), "waste", sentence::need_waste),
        _ => Vec::new(),
    }
}

/// A level that is read on a dipstick opens no plug; one that was opened all the same is closed again.
fn plug_closed(facts: &Facts<'_>) -> Vec<Missing> {
    const KEY: &str = "plug-closed";
    let last = facts.folded.last::<PlugClosed>();
    if last.is_none() && !level_opens_plug(facts) {
        return Vec::new();
    }
    let met = last.is_some_and(|(stated, plug)| {
        let good = plug.seal_new == Some(Answer::Yes) || decided(facts, KEY, stated);
        good && facts.stands(stated, opens_plug)
    });
    let open = (!met).then(|| Missing { key: KEY, text: sentence::need_plug(), stops: false });
    open.into_iter().chain(plug_torque(facts)).collect()
}

/// A look at the overflow opens the plug; one on the dipstick does not.
fn opens_plug(fact: &Fact) -> bool {
    matches!(fact, Fact::LevelCheck(check) if check.dipstick.is_none())
}

/// Whether the plug has to be opened for the level, or was.
fn level_opens_plug(facts: &Facts<'_>) -> bool {
    let opened = facts.folded.facts.iter().any(|stated| opens_plug(&stated.fact));
    let by_dipstick =
        facts.identity.has_dipstick() || facts.any::<LevelCheck>(|check| check.dipstick.is_some());
    opened || !by_dipstick
}

fn parts_fitted(facts: &Facts<'_>) -> bool {
    let filter = facts.any::<PartFitted>(|fitted| fitted.is_new(ServicePart::Filter));
    let seal = facts.still::<PartFitted>(|fitted| fitted.is_new(ServicePart::PanSeal), opens_pan);
    // What is used again is a named person's decision, made when it was known.
    let used_again = facts
        .folded
        .last::<PartFitted>()
        .is_some_and(|(stated, _)| facts.stands(stated, opens_pan) && decided(facts, "parts-fitted", stated));
    (filter && seal) || used_again
}

/// Pan first, exchange afterwards, is an order of work too: only an exchange that began must have ended.
fn exchange_ended(facts: &Facts<'_>) -> bool {
    !facts.any::<ExchangeReading>(|_| true) || facts.any::<ExchangeReading>(|reading| reading.last)
}

/// What was said last of the cooler line counts: confirmed closed, or seen when looking for leaks.
fn line_closed(facts: &Facts<'_>) -> bool {
    let mut said = facts.folded.facts.iter().filter_map(|stated| match &stated.fact {
        Fact::LeakCheck(check) => check.line_closed.map(|answer| (stated, answer == Answer::Yes)),
        Fact::ConditionConfirmed(confirmed) => {
            confirmed.conditions.contains(&Condition::LineClosed).then_some((stated, true))
        }
        _ => None,
    });
    said.next_back().is_some_and(|(stated, closed)| closed && facts.stands(stated, opens_line))
}

fn seen(facts: &Facts<'_>, part: Part) -> bool {
    facts.any::<PartChecked>(|check| check.part == Some(part))
}

fn screwed(facts: &Facts<'_>) -> bool {
    facts.still::<Tightening>(|tightening| tightening.group == Some(ScrewGroup::Pan), opens_pan)
}

/// The pan's screws were tightened with another torque than the catalogue states, and nobody decided that it is right.
fn screws_torque(facts: &Facts<'_>) -> Option<Missing> {
    const KEY: &str = "screws-torque";
    let tightened = facts.folded.each::<Tightening>().rfind(|(_, it)| it.group == Some(ScrewGroup::Pan));
    let (stated, tightening) = tightened?;
    let asked = facts.identity.variant.as_ref()?.pan_screw_torque_newton_metres?;
    let open = is_off(tightening.torque.newton_metres, asked) && !decided(facts, KEY, stated);
    let text = || sentence::need_screws_torque(torque_in_words(asked), tightening.torque.as_read());
    open.then(|| Missing { key: KEY, text: text(), stops: false })
}

/// The same for the level plug.
fn plug_torque(facts: &Facts<'_>) -> Option<Missing> {
    const KEY: &str = "plug-torque";
    let (stated, plug) = facts.folded.last::<PlugClosed>()?;
    let asked = facts.identity.variant.as_ref()?.plug_torque_newton_metres?;
    let set = plug.torque.as_ref()?;
    let open = is_off(set.newton_metres, asked) && !decided(facts, KEY, stated);
    let text = || sentence::need_plug_torque(torque_in_words(asked), set.as_read());
    open.then(|| Missing { key: KEY, text: text(), stops: false })
}

pub(super) fn is_off(newton_metres: f64, asked: f64) -> bool {
    // What is typed to the digit on the limit is inside it.
    (newton_metres - asked).abs() > asked * TORQUE_OFF_RELATIVE + 1e-9
}

pub(super) fn torque_in_words(newton_metres: f64) -> String {
    Torque::new(newton_metres, None).as_read().to_owned()
}

/// Whether a named person decided a point after what it is about was known.
pub(super) fn decided(facts: &Facts<'_>, key: &str, known: &Stated) -> bool {
    let mut decisions = facts.folded.each::<Decision>();
    decisions.any(|(stated, decision)| decision.point == key && stated.is_after(known))
}

pub(super) fn fluid_compared(facts: &Facts<'_>) -> Vec<Missing> {
    let identity = facts.identity;
    if identity.variant_contradicted {
        // The fluid of a contradicted variant may be the other series'.
        return Vec::new();
    }
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
    codes_against(facts).into_iter().map(|(_, missing)| missing).collect()
}

/// The codes that were read before and speak against the exchange, each with its point.
pub(super) fn codes_against<'a>(facts: &'a Facts<'_>) -> Vec<(&'a str, Missing)> {
    // Every reading counts: a memory that was cleared meanwhile does not make the fault go away.
    let before = facts.folded.each::<FaultCodes>().filter(|(_, codes)| codes.moment == Some(Moment::Before));
    let mut read: Vec<(&String, &Stated)> =
        before.flat_map(|(stated, codes)| codes.codes.iter().map(move |code| (code, stated))).collect();
    // The sort keeps the order of the journal, so that the first reading of each code is left.
    read.sort_by_key(|(code, _)| *code);
    read.dedup_by_key(|(code, _)| *code);
    let missing = |(code, known): (&'a String, &Stated)| {
        let (key, text) = match classify(code) {
            FaultClass::RepairFirst => ("repair-first", sentence::need_repair_first(code)),
            FaultClass::SignedDecision => ("signed-decision", sentence::need_signed_decision(code)),
            FaultClass::MakerSpecific => ("maker-specific", sentence::need_maker_code(code)),
            FaultClass::LookFurther | FaultClass::NoteOnly => return None,
        };
        (!decided(facts, key, known)).then_some((code.as_str(), Missing { key, text, stops: false }))
    };
    read.into_iter().filter_map(missing).collect()
}

/// What was seen says: look inside before any fluid is spent. The condition of the fluid decides that, by its first
/// rule; another sample that is clear does not take it back.
fn look_inside(facts: &Facts<'_>) -> Vec<Missing> {
    const KEY: &str = "look-inside-first";
    if crate::job::says_look_inside(facts.folded, |stated| decided(facts, KEY, stated)) {
        vec![Missing { key: KEY, text: sentence::need_look_inside(), stops: false }]
    } else {
        Vec::new()
    }
}

fn refilled(facts: &Facts<'_>) -> Vec<Missing> {
    if !facts.is_pan_drained() {
        return Vec::new();
    }
    let (drained, refilled) = crate::job::drained_and_refilled(facts.context, facts.folded, facts.identity);
    let short = drained.value - refilled.value;
    let any = facts.any::<Fill>(|fill| fill.purpose == Some(FillPurpose::Refill));
    if any && short <= crate::job::REFILL_SHORT_LITRES {
        return Vec::new();
    }
    let litres = |estimate: Estimate| number::litres(estimate.value, 1);
    let text = sentence::need_refill(litres(drained), litres(refilled));
    vec![Missing { key: "refilled", text, stops: false }]
}

/// Torque and count of the pan's screws, and that none for one use went back.
fn screws_right(facts: &Facts<'_>) -> Vec<Missing> {
    let mut missing: Vec<Missing> = screws_torque(facts).into_iter().collect();
    let needs = [Need::ScrewTool, Need::ScrewsAsAsked, Need::ScrewsNotUsedAgain];
    missing.extend(needs.into_iter().flat_map(|need| lacking(facts, need)));
    missing
}

/// A pan that was off has its new parts, its screws and its fluid again before anybody drives off, or a named person
/// decided on it since. What was added at the level is fluid again too.
fn pan_done(facts: &Facts<'_>) -> Vec<Missing> {
    let off = facts.folded.facts.iter().rfind(|stated| opens_pan(&stated.fact));
    let Some(off) = off else { return Vec::new() };
    let screws = || vec![Missing { key: "screws-tightened", text: sentence::need_screws(), stops: false }];
    let mut missing = lacking(facts, Need::PartsFitted);
    missing.extend(if screwed(facts) { Vec::new() } else { screws() });
    missing.extend(screws_right(facts));
    missing.extend(if is_filled_again(facts) { Vec::new() } else { refilled(facts) });
    missing.retain(|missing| !PAN_DECIDED.contains(&missing.key) || !decided(facts, missing.key, off));
    missing
}

fn is_filled_again(facts: &Facts<'_>) -> bool {
    let (drained, refilled) = crate::job::drained_and_refilled(facts.context, facts.folded, facts.identity);
    let added = crate::job::added(facts.context, facts.folded, facts.identity);
    drained.value - refilled.value - added.value <= crate::job::REFILL_SHORT_LITRES
}

/// Pushing runs the engine: a pan that was off before is closed and refilled first.
fn pan_back(facts: &Facts<'_>) -> Vec<Missing> {
    if !facts.is_pan_drained() {
        return Vec::new();
    }
    let needs = [Need::PanClosed, Need::RefilledAsDrained, Need::ToolsAndPeopleClear];
    needs.into_iter().flat_map(|need| lacking(facts, need)).collect()
}

fn temperature(facts: &Facts<'_>) -> Vec<Missing> {
    let missing = |text: Sentence| vec![Missing { key: "temperature", text, stops: false }];
    let right = facts.identity.variant.as_ref().filter(|_| !facts.identity.variant_contradicted);
    let window = right.and_then(|variant| variant.level_window_celsius);
    let Some((least, greatest)) = window else {
        return missing(sentence::level_window_unknown());
    };
    let (least_said, greatest_said) = crate::job::edges((least, greatest));
    match crate::job::fresh_temperature(facts.context, facts.folded) {
        Some(reading) if reading.celsius >= least && reading.celsius <= greatest => Vec::new(),
        Some(reading) => {
            let read = crate::job::celsius_beside(reading.celsius, window);
            missing(match facts.identity.has_dipstick() {
                true => sentence::need_temperature_window_dipstick(greatest_said, least_said, read),
                false => sentence::need_temperature_window(greatest_said, least_said, read),
            })
        }
        None if facts.identity.has_dipstick() => {
            missing(sentence::need_temperature_dipstick(greatest_said, least_said))
        }
        None => missing(sentence::need_temperature(greatest_said, least_said)),
    }
}

fn dry(facts: &Facts<'_>) -> Vec<Missing> {
    let missing = |text: fn() -> Sentence| vec![Missing { key: "dry", text: text(), stops: false }];
    // Where no plug is closed at the end, it is looked for leaks after the level.
    let closes = |fact: &Fact| match fact {
        Fact::PlugClosed(_) => true,
        Fact::LevelCheck(check) => check.dipstick.is_some(),
        _ => false,
    };
    match facts.folded.last::<LeakCheck>().filter(|(stated, _)| facts.stands(stated, closes)) {
        None => missing(sentence::need_leak_check),
        Some((_, check)) if check.found != Some(LeakFound::Dry) => missing(sentence::need_dry),
        Some(_) => Vec::new(),
    }
}
