//! The temperatures of the transmission's fluid that lie on one line of cooling or warming.
//!
//! They are those read since the engine was last started or stopped, or the fluid was otherwise made warmer or colder,
//! as far as the entries tell. A new line begins
//!
//! * with the selector moved through all positions (the engine was started for it), an engine confirmed off, a reading
//!   of the exchange, a drive: the source of heat is another one then;
//! * with fluid that went in or ran out of the pan: fluid of another temperature is mixed in;
//! * with a look at the level with the engine idling where it was off before, or the other way round: its own
//!   temperature is the first of the new line.
//!
//! Lifting, closing a plug or a line, photos and words change nothing. An engine that is switched off without anybody
//! saying so goes unseen: readings that then turn round get no time (see the forecast). Of the readings count those
//! from scan tool, thermometer or means not stated, never an infrared reading of the pan; of the looks at the level
//! those with a thermometer or scan tool; none from a time that has not come yet, which was typed wrongly; and not the
//! temperature of a look that repeats the reading just before it, since the step hands it over. The gate of the level
//! and the steps ask [`fresh_temperature`], so that they and the forecast rest on the same entries.

use crate::formula::level_forecast::{CLOCK_AHEAD_US, FRESH_MINUTES, Timed, is_fresh};
use crate::job::{Context, Folded, Stated};
use crate::kind::Fact;
use crate::kind::words::{Answer, Condition, DrainedFrom, TemperatureMeans, TemperatureOf};
use crate::quantity::Celsius;

const MINUTE_US: f64 = 60e6;
/// Most readings of a line, the latest: an hour of an instrument that states one every half minute.
const READINGS_MAX: usize = 120;

/// The last temperature that a look at the level may rest on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct FreshReading {
    /// The temperature, in °C.
    pub celsius: f64,
    /// How it was read; absent when that was not stated.
    pub means: Option<TemperatureMeans>,
}

/// The last temperature of the fluid in the transmission, while it is fresh.
pub(crate) fn fresh_temperature(context: &Context<'_>, folded: &Folded) -> Option<FreshReading> {
    let now_us = context.as_of_us;
    let counting = folded.facts.iter().filter(|stated| has_come(stated, now_us));
    let counting = counting.filter(|stated| fluid_celsius(&stated.fact).is_some());
    let last = counting.max_by_key(|stated| stated.time_us)?;
    let (celsius, means) = stated_temperature(&last.fact)?;
    is_fresh(last.time_us, now_us).then_some(FreshReading { celsius, means })
}

/// Temperatures on one line, and whether the engine ran.
#[derive(Debug, Default)]
pub(super) struct Line {
    /// The readings, in the order of their times.
    pub readings: Vec<Timed>,
    /// Whether the engine runs; absent where no entry tells.
    pub running: Option<bool>,
    /// Whether the pan was read by infrared after the last reading that counts.
    pub infrared: bool,
}

/// The readings of the last line up to now.
pub(super) fn since_last_change<'a>(facts: impl Iterator<Item = &'a Stated> + Clone, now_us: i64) -> Line {
    let mut line = Line::default();
    let mut start: Option<&Stated> = None;
    for stated in facts.clone() {
        let Some((begins, running)) = change(&stated.fact, line.running) else { continue };
        if start.is_some_and(|start| !stated.is_after(start)) {
            continue;
        }
        line.running = running;
        if begins {
            start = Some(stated);
        }
    }
    let not_before = |stated: &Stated| {
        start.is_none_or(|start| stated.seq == start.seq || stated.is_after(start))
            && has_come(stated, now_us)
    };
    let mut infrared_us = None;
    for stated in facts.filter(|stated| not_before(stated)) {
        if matches!(stated_temperature(&stated.fact), Some((_, Some(TemperatureMeans::Infrared)))) {
            infrared_us = infrared_us.max(Some(stated.time_us));
        }
        let Some(celsius) = fluid_celsius(&stated.fact) else { continue };
        let reading = Timed { time_us: stated.time_us, celsius };
        let repeats = |last: &Timed| last.celsius == celsius && is_just_before(last, &reading);
        if !(matches!(stated.fact, Fact::LevelCheck(_)) && line.readings.last().is_some_and(repeats)) {
            line.readings.push(reading);
        }
    }
    line.readings.sort_by_key(|reading| reading.time_us);
    line.infrared = infrared_us > line.readings.last().map(|reading| reading.time_us);
    line.readings.drain(..line.readings.len().saturating_sub(READINGS_MAX));
    line
}

/// Minutes from one reading to another.
pub(super) fn minutes_between(one: &Timed, other: &Timed) -> f64 {
    // Microseconds of any job are far below 2⁵³.
    #[allow(clippy::cast_precision_loss)]
    let microseconds = other.time_us.saturating_sub(one.time_us) as f64;
    microseconds / MINUTE_US
}

fn is_just_before(one: &Timed, other: &Timed) -> bool {
    (0.0..=FRESH_MINUTES).contains(&minutes_between(one, other))
}

/// Whether the time of a fact has come: one that has not was typed wrongly and says nothing of now.
fn has_come(stated: &Stated, now_us: i64) -> bool {
    stated.time_us <= now_us.saturating_add(CLOCK_AHEAD_US)
}

/// The temperature of the fluid in the transmission that a fact states, and how it was read.
fn stated_temperature(fact: &Fact) -> Option<(f64, Option<TemperatureMeans>)> {
    match fact {
        Fact::TemperatureReading(reading) if reading.of == Some(TemperatureOf::TransmissionFluid) => {
            Some((reading.celsius, reading.means))
        }
        Fact::LevelCheck(check) => Some((check.celsius, check.means)),
        _ => None,
    }
}

/// The same where it counts: not from outside, and a look only with its means.
fn fluid_celsius(fact: &Fact) -> Option<Celsius> {
    let (celsius, means) = stated_temperature(fact)?;
    let counts = match means {
        Some(TemperatureMeans::ScanTool | TemperatureMeans::Thermometer) => true,
        Some(TemperatureMeans::Infrared) => false,
        None => matches!(fact, Fact::TemperatureReading(_)),
    };
    Celsius::new(celsius).ok().filter(|_| counts)
}

/// Whether a new line begins with a fact, and whether the engine runs after it; nothing for a fact that tells nothing
/// of heat.
fn change(fact: &Fact, running: Option<bool>) -> Option<(bool, Option<bool>)> {
    Some(match fact {
        Fact::GearCycle(_) | Fact::ExchangeReading(_) => (true, Some(true)),
        Fact::ConditionConfirmed(confirmed) if confirmed.conditions.contains(&Condition::EngineOff) => {
            (true, Some(false))
        }
        Fact::RoadTest(_) => (true, None),
        Fact::Fill(_) => (true, running),
        Fact::Drain(drain) if drain.place == Some(DrainedFrom::Pan) => (true, running),
        Fact::LevelCheck(check) => {
            let seen = match check.engine_idling? {
                Answer::Yes => Some(true),
                Answer::No => Some(false),
                Answer::NotSeen => return None,
            };
            (running.is_some() && seen != running, seen)
        }
        _ => return None,
    })
}
