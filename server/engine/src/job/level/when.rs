//! When to read the temperature for the level: a clock time from the readings, in the site's zone.
//!
//! Asked only while the level is not set, the job is open, and what ran out of the pan is back. A forecast never says
//! that anything may be opened; that takes a reading inside the window that is not older than two minutes, and even
//! then the sentence names the time until which it counts, since it may be read later than it was written.

use super::readings::{Line, since_last_change};
use crate::formula::level_forecast::{
    Caveat, Direction, Forecast, LevelTime, Priors, SCAN_TOOL_KELVIN, Window, level_time,
};
use crate::gates::{Facts, Need, is_met, is_pan_left_out};
use crate::job::{Context, Folded, Identity};
use crate::kind::Fact;
use crate::kind::closing::Closing;
use crate::quantity::Celsius;
use crate::text::{Sentence, number, sentence};
use crate::view::LevelForecast;

const MINUTE_US: i64 = 60_000_000;
/// Caveats that stand beside one time at most, so that the sentence stays short.
const CAVEATS_MAX: usize = 2;

/// What is said, and the times behind it.
#[derive(Default)]
pub(super) struct When {
    /// The sentence.
    pub said: Option<Sentence>,
    /// The times; absent where there is no forecast.
    pub forecast: Option<LevelForecast>,
}

/// When to read the temperature again; nothing once the level is set, and before it can be looked at.
pub(super) fn of(context: &Context<'_>, folded: &Folded, identity: &Identity, set: bool) -> When {
    let edges = identity.variant.as_ref().and_then(|variant| variant.level_window_celsius);
    let Some((edges, window)) = edges.and_then(|edges| Some((edges, window(edges)?))) else {
        return When::default();
    };
    if set || !is_due(context, folded, identity) {
        return When::default();
    }
    let line = since_last_change(folded.facts.iter(), context.as_of_us);
    let Some(last) = line.readings.last() else { return When::default() };
    let spoken = Spoken {
        context,
        read: number::celsius(last.celsius.get(), 0),
        clock: stamp(context, last.time_us),
        least: number::fixed(edges.0, 0),
        greatest: number::celsius(edges.1, 0),
    };
    let now_us = context.as_of_us;
    let found = level_time(&line.readings, SCAN_TOOL_KELVIN, &window, &Priors::default(), now_us);
    match found {
        LevelTime::Later(forecast) if !is_cold_and_off(forecast.direction, &line) => {
            let reasons = reasons(&forecast, line.readings.len());
            let said = spoken.later(&forecast, &reasons);
            When { said: Some(said), forecast: Some(times(&forecast, reasons)) }
        }
        other => When { said: spoken.without_time(&other, &line), forecast: None },
    }
}

/// Whether the level is the next thing that the temperature is read for.
fn is_due(context: &Context<'_>, folded: &Folded, identity: &Identity) -> bool {
    let facts = Facts { context, folded, identity };
    let begun = |stated: &crate::job::Stated| matches!(stated.fact, Fact::GearCycle(_) | Fact::LevelCheck(_));
    folded.last::<Closing>().is_none()
        && (facts.is_pan_drained() || is_pan_left_out(folded) || folded.facts.iter().any(begun))
        && is_met(&facts, Need::RefilledAsDrained)
}

fn window((least, greatest): (f64, f64)) -> Option<Window> {
    Window::new(Celsius::new(least).ok()?, Celsius::new(greatest).ok()?)
}

/// Fluid warms only with the engine idling.
fn is_cold_and_off(direction: Direction, line: &Line) -> bool {
    direction == Direction::Warming && line.running == Some(false)
}

/// Clock time at the site, with its day where that is not today.
fn stamp(context: &Context<'_>, us: i64) -> String {
    let today = context.day(us) == context.day(context.as_of_us);
    if today { context.clock(us) } else { context.day_and_clock(us) }
}

/// What the sentences have in common.
struct Spoken<'a> {
    context: &'a Context<'a>,
    read: String,
    clock: String,
    least: String,
    greatest: String,
}

impl Spoken<'_> {
    fn later(self, forecast: &Forecast, reasons: &[Sentence]) -> Sentence {
        let Self { context, read, clock, least, greatest } = self;
        // A clock cuts the seconds off; the end of an interval is not moved inwards by that.
        let again = stamp(context, forecast.read_again_us.saturating_add(MINUTE_US / 2));
        if forecast.read_again_us <= context.as_of_us {
            return sentence::level_when_due(again, clock, greatest, least, read);
        }
        let earliest = stamp(context, forecast.earliest_us);
        let latest = stamp(context, forecast.latest_us.saturating_add(MINUTE_US - 1));
        let said = match forecast.direction {
            Direction::Cooling => sentence::level_when_hot(again, earliest, latest, read),
            Direction::Warming => sentence::level_when_cold(again, earliest, latest, read),
        };
        reasons.iter().cloned().fold(said, |said, also| sentence::level_when_also(also, said))
    }

    fn without_time(self, found: &LevelTime, line: &Line) -> Option<Sentence> {
        let Self { context, read, clock, least, greatest } = self;
        Some(match found {
            LevelTime::NotRead => return None,
            LevelTime::Inside { until_us } => {
                sentence::level_when_inside(clock, greatest, least, read, stamp(context, *until_us))
            }
            LevelTime::ReadAgain => sentence::level_when_read_again(clock, greatest, least, read),
            LevelTime::MovesAway(direction)
            | LevelTime::NoForecast(direction)
            | LevelTime::Later(Forecast { direction, .. })
                if is_cold_and_off(*direction, line) =>
            {
                sentence::level_when_cold_engine_off(read)
            }
            LevelTime::MovesAway(Direction::Cooling) => sentence::level_when_not_cooling(clock, read),
            LevelTime::MovesAway(Direction::Warming) => sentence::level_when_not_warming(clock, read),
            LevelTime::NoForecast(Direction::Warming) => {
                sentence::level_when_stays_cold(greatest, least, read)
            }
            LevelTime::NoForecast(Direction::Cooling) | LevelTime::Later(_) => {
                sentence::level_when_stays_hot(greatest, least, read)
            }
        })
    }
}

/// What has to be known beside a forecast, the most important first.
fn reasons(forecast: &Forecast, readings: usize) -> Vec<Sentence> {
    let said = |caveat: &Caveat| match caveat {
        Caveat::MayNotArrive => sentence::level_when_may_not_arrive(),
        Caveat::NotOneCurve => sentence::level_when_not_one_curve(),
        Caveat::MostlyPrior if readings < 2 => sentence::level_when_guess(),
        Caveat::MostlyPrior => sentence::level_when_one_more(),
    };
    let order = [Caveat::MayNotArrive, Caveat::NotOneCurve, Caveat::MostlyPrior];
    order.iter().filter(|caveat| forecast.caveats.contains(caveat)).take(CAVEATS_MAX).map(said).collect()
}

fn times(forecast: &Forecast, reasons: Vec<Sentence>) -> LevelForecast {
    LevelForecast {
        read_again_us: forecast.read_again_us,
        earliest_us: forecast.earliest_us,
        likely_us: forecast.likely_us,
        latest_us: forecast.latest_us,
        leaves_us: forecast.leaves_us,
        reasons,
    }
}
