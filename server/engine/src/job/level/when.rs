//! When to read the temperature for the level: a clock time from the readings, in the site's zone.
//!
//! Asked only while the level is not set, the job is open, no exchange runs, and what ran out of the pan is back. No
//! sentence says that anything may be opened: inside the window it names the time until which the reading counts, and
//! that the go-ahead is asked for, since it may be read later than it was written.

use super::celsius_beside;
use super::readings::{Line, minutes_between, since_last_change};
use crate::formula::level_forecast::{
    Caveat, Direction, Forecast, LevelTime, Priors, SCAN_TOOL_KELVIN, Timed, Window, level_time,
};
use crate::gates::{Facts, Need, is_met, is_pan_left_out};
use crate::job::{Context, Folded, Identity};
use crate::kind::Fact;
use crate::kind::closing::Closing;
use crate::kind::exchange_reading::ExchangeReading;
use crate::quantity::Celsius;
use crate::text::{Sentence, sentence};
use crate::view::LevelForecast;

const MINUTE_US: i64 = 60_000_000;
/// Caveats that stand beside one time at most, so that the sentence stays short.
const CAVEATS_MAX: usize = 2;
/// No fluid warms or cools by more than this in so many minutes (common practice, no source).
const JUMP_KELVIN: f64 = 30.0;
const JUMP_MINUTES: f64 = 2.0;

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
    let Some(last) = line.readings.last() else {
        return When { said: line.infrared.then(sentence::level_when_infrared_alone), forecast: None };
    };
    let read = |reading: &Timed| celsius_beside(reading.celsius.get(), Some(edges));
    let jumped =
        line.readings.windows(2).rposition(|pair| matches!(pair, [one, other] if is_jump(one, other)));
    let fitting = line.readings.get(jumped.map_or(0, |at| at + 1)..).unwrap_or_default();
    if let (Some(before), [_]) = (jumped.and_then(|at| line.readings.get(at)), fitting) {
        let [first, clock] = [before, last].map(|reading| stamp(context, reading.time_us));
        let said = sentence::level_when_jump(read(before), clock, first, read(last));
        return When { said: Some(said), forecast: None };
    }
    let (least, greatest) = super::edges(edges);
    let dipstick = identity.has_dipstick();
    let clock = stamp(context, last.time_us);
    let spoken = Spoken { context, dipstick, read: read(last), clock, least, greatest };
    let now_us = context.as_of_us;
    let found = level_time(fitting, SCAN_TOOL_KELVIN, &window, &Priors::default(), now_us);
    match found {
        LevelTime::Later(forecast) if !is_cold_and_off(forecast.direction, &line) => {
            let reasons = reasons(&forecast, fitting.len());
            let said = infrared_too(spoken.later(&forecast, &reasons), &line);
            When { said: Some(said), forecast: Some(times(&forecast, reasons)) }
        }
        other => {
            let said = spoken.without_time(&other, &line);
            When { said: said.map(|said| infrared_too(said, &line)), forecast: None }
        }
    }
}

/// The sentence, with what an infrared reading since then is worth.
fn infrared_too(said: Sentence, line: &Line) -> Sentence {
    if line.infrared { sentence::level_when_also(sentence::level_when_infrared(), said) } else { said }
}

/// Whether two readings lie farther apart than any fluid gets in that time.
fn is_jump(one: &Timed, other: &Timed) -> bool {
    (one.celsius.get() - other.celsius.get()).abs() > JUMP_KELVIN
        && minutes_between(one, other) < JUMP_MINUTES
}

/// Whether the level is the next thing that the temperature is read for.
fn is_due(context: &Context<'_>, folded: &Folded, identity: &Identity) -> bool {
    let facts = Facts { context, folded, identity };
    let begun = |stated: &crate::job::Stated| matches!(stated.fact, Fact::GearCycle(_) | Fact::LevelCheck(_));
    let exchange_runs = folded.last::<ExchangeReading>().is_some() && !is_met(&facts, Need::ExchangeEnded);
    folded.last::<Closing>().is_none()
        && !exchange_runs
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
    dipstick: bool,
    read: String,
    clock: String,
    least: String,
    greatest: String,
}

impl Spoken<'_> {
    fn later(self, forecast: &Forecast, reasons: &[Sentence]) -> Sentence {
        let Self { context, read, clock, least, greatest, .. } = self;
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
        let Self { context, dipstick, read, clock, least, greatest } = self;
        Some(match found {
            LevelTime::NotRead => return None,
            LevelTime::Inside { until_us } if dipstick => {
                let until = stamp(context, *until_us);
                sentence::level_when_inside_dipstick(clock, greatest, least, read, until)
            }
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
