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
//! from scan tool, thermometer or means not stated, never an infrared reading of the pan; none from a time that has not
//! come yet, which was typed wrongly; and not the temperature of a look that repeats the reading just before it, since
//! the step hands it over.

use crate::formula::level_forecast::{FRESH_MINUTES, Timed};
use crate::job::Stated;
use crate::kind::Fact;
use crate::kind::words::{Answer, Condition, DrainedFrom, TemperatureMeans, TemperatureOf};
use crate::quantity::Celsius;

/// How far a station's clock may run before the server's: house value.
const CLOCK_AHEAD_US: i64 = 5_000_000;
const MINUTE_US: f64 = 60e6;
/// Most readings of a line, the latest: an hour of an instrument that states one every half minute.
const READINGS_MAX: usize = 120;

/// Temperatures on one line, and whether the engine ran.
#[derive(Debug, Default)]
pub(super) struct Line {
    /// The readings, in the order of their times.
    pub readings: Vec<Timed>,
    /// Whether the engine runs; absent where no entry tells.
    pub running: Option<bool>,
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
            && stated.time_us <= now_us.saturating_add(CLOCK_AHEAD_US)
    };
    for stated in facts.filter(|stated| not_before(stated)) {
        let Some(celsius) = fluid_celsius(&stated.fact) else { continue };
        let reading = Timed { time_us: stated.time_us, celsius };
        let repeats = |last: &Timed| last.celsius == celsius && is_just_before(last, &reading);
        if !(matches!(stated.fact, Fact::LevelCheck(_)) && line.readings.last().is_some_and(repeats)) {
            line.readings.push(reading);
        }
    }
    line.readings.sort_by_key(|reading| reading.time_us);
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

/// The temperature of the fluid in the transmission that a fact states, however it was read but from outside.
fn fluid_celsius(fact: &Fact) -> Option<Celsius> {
    let (celsius, means) = match fact {
        Fact::TemperatureReading(reading) if reading.of == Some(TemperatureOf::TransmissionFluid) => {
            (reading.celsius, reading.means)
        }
        Fact::LevelCheck(check) => (check.celsius, check.means),
        _ => return None,
    };
    Celsius::new(celsius).ok().filter(|_| means != Some(TemperatureMeans::Infrared))
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
