//! When the level can be read: from temperatures with clock times to the instant at which to read again.
//!
//! After a drive and an exchange the fluid is too hot and cools; after a cold start it warms. A forecast only says
//! when to read the temperature again, never that anything may be opened: that takes a reading inside the window,
//! not older than two minutes. The view calls it with the readings since the engine was last started or stopped.

use statrs::distribution::{ChiSquared, ContinuousCDF};

use super::temperature_curve::{Prior, Reading, fit, spread};
use crate::quantity::Celsius;

/// Age after which a reading no longer says what the temperature is now, in minutes.
///
/// # Source
/// Rule of this house, for safety.
pub const FRESH_MINUTES: f64 = 2.0;

/// How far the clock of a station may run before the one that asks, in microseconds: house value.
pub const CLOCK_AHEAD_US: i64 = 5_000_000;

/// Standard uncertainty of a temperature from the scan tool that shows whole degrees, in K (common practice, no
/// source).
pub const SCAN_TOOL_KELVIN: f64 = 0.5;

const MICROSECONDS_PER_MINUTE: f64 = 60e6;
const MINUTES_PER_DAY: f64 = 1440.0;

/// A fluid temperature that was read at an instant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Timed {
    /// Microseconds since 1970-01-01 UTC.
    pub time_us: i64,
    /// Temperature of the fluid.
    pub celsius: Celsius,
}

/// The temperatures between which the level may be read, both included.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Window {
    least: Celsius,
    greatest: Celsius,
}

impl Window {
    /// A window; nothing if its least temperature is not below its greatest.
    #[must_use]
    pub fn new(least: Celsius, greatest: Celsius) -> Option<Self> {
        (least < greatest).then_some(Self { least, greatest })
    }

    fn holds(&self, celsius: Celsius) -> bool {
        (self.least..=self.greatest).contains(&celsius)
    }
}

/// Which way the fluid has to go.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Direction {
    /// Too hot: it cools with the engine off.
    Cooling,
    /// Too cold: it warms with the engine idling.
    Warming,
}

/// What has to be said beside a forecast.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Caveat {
    /// The readings cover too little to add to what is known before: the forecast is mostly a guess.
    MostlyPrior,
    /// The readings scatter more than their uncertainty explains; the interval was widened.
    NotOneCurve,
    /// The fluid may come to rest before the window.
    MayNotArrive,
}

/// When the fluid enters the window, as instants.
#[derive(Clone, Debug, PartialEq)]
pub struct Forecast {
    /// Which way it goes.
    pub direction: Direction,
    /// When to read the temperature again: the likely entry, or the earliest one where waiting for the likely one
    /// could miss the window.
    pub read_again_us: i64,
    /// Earliest entry (95 % interval).
    pub earliest_us: i64,
    /// Likely entry.
    pub likely_us: i64,
    /// Latest entry (95 % interval).
    pub latest_us: i64,
    /// Likely end of the window; absent if the fluid comes to rest inside it.
    pub leaves_us: Option<i64>,
    /// What has to be said beside it.
    pub caveats: Vec<Caveat>,
}

/// What the readings say about reading the level.
#[derive(Clone, Debug, PartialEq)]
pub enum LevelTime {
    /// Nobody read a temperature yet.
    NotRead,
    /// The last reading lies inside the window and is fresh until this instant.
    Inside {
        /// When the reading is too old.
        until_us: i64,
    },
    /// The last reading lies inside the window, but is too old or of a later time than now: read again.
    ReadAgain,
    /// Not yet: a forecast.
    Later(Forecast),
    /// The readings move away from the window: too hot and not cooling, or too cold and not warming.
    MovesAway(Direction),
    /// The fluid comes to rest before the window, or the readings hold no forecast.
    NoForecast(Direction),
}

/// What is known before the readings, by direction.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Priors {
    /// While cooling.
    pub cooling: Prior,
    /// While warming.
    pub warming: Prior,
}

impl Default for Priors {
    fn default() -> Self {
        Self { cooling: Prior::COOLING, warming: Prior::WARMING }
    }
}

/// When the level can be read.
///
/// The curves of [`super::temperature_curve`] with the prior of the direction; entry at the near edge of the window at
/// the 2.5, 50 and 97.5 % points of their spread, never before the last reading. If the readings' own χ² exceeds its
/// 99 % quantile, their uncertainty is widened by `√(χ² / n)`.
///
/// * `readings` – in any order, those of one instant in the order in which they were stated, all since the engine was last started or stopped
/// * `uncertainty` – of one reading in K, more than 0, for example [`SCAN_TOOL_KELVIN`]
/// * `window` – of the variant
/// * `priors` – house values, or what earlier jobs on the variant gave
/// * `now_us` – the instant of the question, in microseconds since 1970-01-01 UTC
///
/// # Source
/// As [`super::temperature_curve::fit`] and [`super::temperature_curve::spread`].
#[must_use]
pub fn level_time(
    readings: &[Timed],
    uncertainty: f64,
    window: &Window,
    priors: &Priors,
    now_us: i64,
) -> LevelTime {
    let mut sorted = readings.to_vec();
    sorted.sort_by_key(|timed| timed.time_us);
    let (Some(first), Some(last)) = (sorted.first().copied(), sorted.last().copied()) else {
        return LevelTime::NotRead;
    };
    if window.holds(last.celsius) {
        let until_us = after(last.time_us, FRESH_MINUTES);
        return if is_fresh(last.time_us, now_us) {
            LevelTime::Inside { until_us }
        } else {
            LevelTime::ReadAgain
        };
    }
    let direction = if last.celsius > window.greatest { Direction::Cooling } else { Direction::Warming };
    if moves_away(&sorted, uncertainty, direction) {
        return LevelTime::MovesAway(direction);
    }
    let prior = match direction {
        Direction::Cooling => priors.cooling,
        Direction::Warming => priors.warming,
    };
    let minutes: Vec<Reading> = sorted
        .iter()
        .map(|timed| Reading { minutes: between(first.time_us, timed.time_us), celsius: timed.celsius })
        .collect();
    let last_minute = between(first.time_us, last.time_us);
    entry(&minutes, uncertainty, &prior, window, direction)
        .map_or(LevelTime::NoForecast(direction), |entry| {
            LevelTime::Later(entry.at_instants(first.time_us, last_minute, direction))
        })
}

/// Whether a reading of one instant says at another what the temperature is: not older than [`FRESH_MINUTES`], and not
/// of a time that has not come yet, [`CLOCK_AHEAD_US`] allowed.
#[must_use]
pub fn is_fresh(read_us: i64, now_us: i64) -> bool {
    (read_us.saturating_sub(CLOCK_AHEAD_US)..=after(read_us, FRESH_MINUTES)).contains(&now_us)
}

/// Whether the last reading is farther from the window than one before it, by more than both uncertainties.
fn moves_away(sorted: &[Timed], uncertainty: f64, direction: Direction) -> bool {
    let sign = match direction {
        Direction::Cooling => 1.0,
        Direction::Warming => -1.0,
    };
    let recent = sorted.iter().rev().take(4).map(|timed| sign * timed.celsius.get());
    let last = sorted.last().map_or(f64::NAN, |timed| sign * timed.celsius.get());
    let nearest = recent.fold(f64::INFINITY, f64::min);
    last - nearest > 2.0 * 2.0_f64.sqrt() * uncertainty
}

/// Entry into the window in minutes of the curve.
struct Entry {
    earliest: f64,
    likely: f64,
    latest: f64,
    leaves: Option<f64>,
    caveats: Vec<Caveat>,
}

fn entry(
    readings: &[Reading],
    uncertainty: f64,
    prior: &Prior,
    window: &Window,
    direction: Direction,
) -> Option<Entry> {
    let mut caveats = Vec::new();
    let (mut uncertainty, mut curve) = (uncertainty, fit(readings, uncertainty, prior)?);
    let count = u32::try_from(readings.len()).ok().map(f64::from)?;
    if ChiSquared::new(count).is_ok_and(|expected| curve.chi_square > expected.inverse_cdf(0.99)) {
        uncertainty *= (curve.chi_square / count).sqrt();
        curve = fit(readings, uncertainty, prior)?;
        caveats.push(Caveat::NotOneCurve);
    }
    let [_, _, [_, _, variance]] = curve.covariance;
    if variance.sqrt() > 0.8 * prior.ln_time_constant.1 {
        caveats.push(Caveat::MostlyPrior);
    }
    let spread = spread(readings, uncertainty, prior, &curve)?;
    // How likely the fluid has passed an edge of the window by a minute.
    let passed = |edge: Celsius, minutes: f64| match direction {
        Direction::Cooling => spread.at_or_below(edge.get(), minutes),
        Direction::Warming => 1.0 - spread.at_or_below(edge.get(), minutes),
    };
    let (near, far) = match direction {
        Direction::Cooling => (window.greatest, window.least),
        Direction::Warming => (window.least, window.greatest),
    };
    let arrives = passed(near, f64::INFINITY);
    if arrives.is_nan() || arrives < 0.5 {
        return None;
    }
    if arrives < 0.975 {
        caveats.push(Caveat::MayNotArrive);
    }
    let when = |edge, part: f64| minute_of(|minutes| passed(edge, minutes) >= part);
    let leaves = (passed(far, f64::INFINITY) > 0.5).then(|| when(far, 0.5));
    // If it may not arrive, the three times are those of the cases in which it does.
    let [earliest, likely, latest] = [0.025, 0.5, 0.975].map(|part| when(near, part * arrives));
    Some(Entry { earliest, likely, latest, leaves, caveats })
}

/// The first minute of a day on either side at which something that stays has come, by halving to a twentieth of a
/// second: the clock shows minutes.
fn minute_of(has_come: impl Fn(f64) -> bool) -> f64 {
    let (mut low, mut high) = (-MINUTES_PER_DAY, MINUTES_PER_DAY);
    for _ in 0..22 {
        let middle = f64::midpoint(low, high);
        if has_come(middle) {
            high = middle;
        } else {
            low = middle;
        }
    }
    high
}

impl Entry {
    fn at_instants(self, start_us: i64, last_minute: f64, direction: Direction) -> Forecast {
        let [earliest, likely, latest] =
            [self.earliest, self.likely, self.latest].map(|minute| minute.max(last_minute));
        let leaves = self.leaves.map(|leaves| leaves.max(likely));
        // Whoever comes at the likely time must still find the window open if the fluid is as fast as it may be.
        let inside = leaves.map_or(f64::INFINITY, |leaves| leaves - likely);
        let read_again = if likely - earliest > inside { earliest } else { likely };
        let at = |minute| after(start_us, minute);
        Forecast {
            direction,
            read_again_us: at(read_again),
            earliest_us: at(earliest),
            likely_us: at(likely),
            latest_us: at(latest),
            leaves_us: leaves.map(at),
            caveats: self.caveats,
        }
    }
}

/// Minutes from one instant to a later one.
fn between(from_us: i64, to_us: i64) -> f64 {
    // Microseconds of any job are far below 2⁵³.
    #[allow(clippy::cast_precision_loss)]
    let microseconds = to_us.saturating_sub(from_us) as f64;
    microseconds / MICROSECONDS_PER_MINUTE
}

/// The instant some minutes after another; the last one there is if it lies beyond.
fn after(from_us: i64, minutes: f64) -> i64 {
    // A cast from f64 stops at the bounds of i64, and turns NaN into 0.
    #[allow(clippy::cast_possible_truncation)]
    let microseconds = (minutes * MICROSECONDS_PER_MINUTE).round() as i64;
    from_us.saturating_add(microseconds)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Half past nine in the morning of some day.
    const START_US: i64 = 1_790_000_000_000_000;

    fn timed(minutes: f64, celsius: f64) -> Timed {
        Timed { time_us: after(START_US, minutes), celsius: Celsius::new(celsius).unwrap() }
    }

    fn window() -> Window {
        Window::new(Celsius::new(40.0).unwrap(), Celsius::new(50.0).unwrap()).unwrap()
    }

    fn asked(readings: &[Timed], minutes: f64) -> LevelTime {
        level_time(readings, 0.5, &window(), &Priors::default(), after(START_US, minutes))
    }

    #[test]
    fn too_hot_is_the_normal_case_and_says_when_to_read_again() {
        // From 80 to 20 °C with 60 min: 50 °C after 41.6 min, 40 °C after 65.9 min.
        let truth = |t: f64| 20.0 + 60.0 * (-t / 60.0_f64).exp();
        let readings = [0.0, 5.0, 10.0].map(|t| timed(t, truth(t)));
        let LevelTime::Later(forecast) = asked(&readings, 10.0) else { panic!() };
        assert_eq!(forecast.direction, Direction::Cooling);
        let minutes = between(START_US, forecast.likely_us);
        assert!((minutes - 41.6).abs() < 2.0, "{minutes}");
        assert!(forecast.earliest_us < forecast.likely_us && forecast.likely_us < forecast.latest_us);
        assert_eq!(forecast.read_again_us, forecast.likely_us);
        assert!((between(START_US, forecast.leaves_us.unwrap()) - 65.9).abs() < 5.0);
    }

    #[test]
    fn one_reading_gives_a_guess_that_says_so() {
        let LevelTime::Later(forecast) = asked(&[timed(0.0, 80.0)], 0.0) else { panic!() };
        assert!(forecast.caveats.contains(&Caveat::MostlyPrior));
        // The interval is wider than the window lasts, so the fluid is looked at early.
        assert!(forecast.read_again_us <= forecast.likely_us);
    }

    #[test]
    fn only_a_fresh_reading_inside_counts() {
        assert_eq!(asked(&[], 0.0), LevelTime::NotRead);
        let inside = [timed(0.0, 60.0), timed(20.0, 49.0)];
        assert_eq!(asked(&inside, 21.0), LevelTime::Inside { until_us: after(START_US, 22.0) });
        assert_eq!(asked(&inside, 22.5), LevelTime::ReadAgain);
        assert_eq!(asked(&inside, 19.0), LevelTime::ReadAgain, "a clock that goes back");
        let edges = [timed(0.0, 50.0)];
        assert!(matches!(asked(&edges, 0.0), LevelTime::Inside { .. }));
    }

    #[test]
    fn what_moves_away_gets_no_time() {
        let heating = [timed(0.0, 60.0), timed(2.0, 62.0), timed(4.0, 64.0)];
        assert_eq!(asked(&heating, 4.0), LevelTime::MovesAway(Direction::Cooling));
        let chilling = [timed(0.0, 30.0), timed(2.0, 27.0)];
        assert_eq!(asked(&chilling, 2.0), LevelTime::MovesAway(Direction::Warming));
    }

    #[test]
    fn a_window_below_the_air_of_the_bay_is_not_promised() {
        let cold = Window::new(Celsius::new(5.0).unwrap(), Celsius::new(10.0).unwrap()).unwrap();
        let found = level_time(&[timed(0.0, 60.0)], 0.5, &cold, &Priors::default(), START_US);
        assert_eq!(found, LevelTime::NoForecast(Direction::Cooling));
        let near = Window::new(Celsius::new(20.0).unwrap(), Celsius::new(26.0).unwrap()).unwrap();
        let LevelTime::Later(forecast) =
            level_time(&[timed(0.0, 60.0)], 0.5, &near, &Priors::default(), START_US)
        else {
            panic!()
        };
        assert!(forecast.caveats.contains(&Caveat::MayNotArrive));
        assert_eq!(forecast.leaves_us, None);
        assert_eq!(Window::new(Celsius::new(50.0).unwrap(), Celsius::new(40.0).unwrap()), None);
    }

    #[test]
    fn readings_that_jump_widen_the_interval_and_say_so() {
        let jumping = [timed(0.0, 90.0), timed(5.0, 72.0), timed(10.0, 80.0), timed(15.0, 66.0)];
        let LevelTime::Later(forecast) = asked(&jumping, 15.0) else { panic!() };
        assert!(forecast.caveats.contains(&Caveat::NotOneCurve));
    }

    proptest! {
        #[test]
        fn the_order_of_arrival_does_not_matter_and_instants_rise(
            parts in proptest::collection::vec((0.0_f64..120.0, -40.0_f64..140.0), 1..9), turn in 0_usize..8,
        ) {
            let readings: Vec<Timed> = parts.into_iter().map(|(t, c)| timed(t, c)).collect();
            let mut turned = readings.clone();
            turned.rotate_left(turn % readings.len());
            let found = asked(&readings, 60.0);
            prop_assert_eq!(&found, &asked(&turned, 60.0));
            if let LevelTime::Later(forecast) = found {
                let last = readings.iter().map(|timed| timed.time_us).max().unwrap();
                prop_assert!(last <= forecast.earliest_us + 1);
                prop_assert!(forecast.earliest_us <= forecast.read_again_us);
                prop_assert!(forecast.read_again_us <= forecast.likely_us);
                prop_assert!(forecast.likely_us <= forecast.latest_us);
            }
        }
    }
}
