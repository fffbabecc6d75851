//! How often the stated 95 % interval of the level forecast holds the truth: drawn jobs with a fixed seed.
//!
//! The truth of each job comes from the prior of its direction, the readings from the truth with noise. Bounds are
//! those of the study that the formulas were chosen by: 0.92 to 0.97.

use rand_chacha::ChaCha12Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use standpipe_engine::formula::level_forecast::{LevelTime, Priors, Timed, Window, level_time};
use standpipe_engine::formula::temperature_curve::Prior;
use standpipe_engine::quantity::Celsius;

const JOBS: u32 = 1000;
const SEED: u64 = 20_261_125;
const START_US: i64 = 1_790_000_000_000_000;

struct Draws(ChaCha12Rng);

impl Draws {
    fn uniform(&mut self) -> f64 {
        // 53 bits, and never 0, so that a logarithm can be taken.
        #[allow(clippy::cast_precision_loss)]
        let draw = ((self.0.next_u64() >> 11) as f64 + 0.5) / 9_007_199_254_740_992.0;
        draw
    }

    /// Box and Muller.
    fn normal(&mut self, (mean, deviation): (f64, f64)) -> f64 {
        let (radius, angle) = ((-2.0 * self.uniform().ln()).sqrt(), std::f64::consts::TAU * self.uniform());
        mean + deviation * radius * angle.cos()
    }

    fn between(&mut self, least: f64, greatest: f64) -> f64 {
        least + (greatest - least) * self.uniform()
    }
}

struct Regime {
    name: &'static str,
    prior: Prior,
    start: (f64, f64),
    window: (f64, f64),
    minutes: &'static [f64],
    noise: f64,
}

/// What came of a regime: jobs with a forecast, with none, the part covered, and the root mean square error.
struct Outcome {
    forecasts: u32,
    without: u32,
    cover: f64,
    error: f64,
}

fn study(regime: &Regime) -> Outcome {
    let mut draws = Draws(ChaCha12Rng::seed_from_u64(SEED));
    let celsius = |value: f64| Celsius::new(value).unwrap();
    let window = Window::new(celsius(regime.window.0), celsius(regime.window.1)).unwrap();
    let (mut forecasts, mut without, mut held, mut squares) = (0_u32, 0_u32, 0_u32, 0.0);
    while forecasts + without < JOBS {
        let start = draws.between(regime.start.0, regime.start.1);
        let end = draws.normal(regime.prior.end);
        let tau = draws.normal(regime.prior.ln_time_constant).exp();
        let truth = |minutes: f64| end + (start - end) * (-minutes / tau).exp();
        let near = if start > regime.window.1 { regime.window.1 } else { regime.window.0 };
        let readings: Vec<Timed> = regime
            .minutes
            .iter()
            .map(|minutes| Timed {
                time_us: at(*minutes),
                celsius: celsius(draws.normal((truth(*minutes), regime.noise))),
            })
            .collect();
        let reached = -tau * ((near - end) / (start - end)).ln();
        let last = *regime.minutes.last().unwrap();
        // A job that is inside the window already, or never gets there, asks for no forecast.
        if !(reached.is_finite() && reached > last) {
            continue;
        }
        match level_time(&readings, regime.noise, &window, &Priors::default(), at(last)) {
            LevelTime::Later(forecast) => {
                let reached_us = at(reached);
                forecasts += 1;
                held += u32::from((forecast.earliest_us..=forecast.latest_us).contains(&reached_us));
                #[allow(clippy::cast_precision_loss)]
                let off = (forecast.likely_us - reached_us) as f64 / 60e6;
                squares += off * off;
            }
            _ => without += 1,
        }
    }
    let count = f64::from(forecasts);
    Outcome { forecasts, without, cover: f64::from(held) / count, error: (squares / count).sqrt() }
}

fn at(minutes: f64) -> i64 {
    #[allow(clippy::cast_possible_truncation)]
    let microseconds = (minutes * 60e6).round() as i64;
    START_US + microseconds
}

const HALF_MINUTES_TO_3: &[f64] = &[0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0];
const HALF_MINUTES_TO_5: &[f64] = &[0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 3.5, 4.0, 4.5, 5.0];

#[test]
fn coverage_of_the_level_forecast_is_what_it_states() {
    let warming = |name, minutes, noise| Regime {
        name,
        prior: Prior::WARMING,
        start: (18.0, 28.0),
        window: (45.0, 55.0),
        minutes,
        noise,
    };
    let cooling = |name, minutes, noise| Regime {
        name,
        prior: Prior::COOLING,
        start: (65.0, 90.0),
        window: (40.0, 50.0),
        minutes,
        noise,
    };
    let regimes = [
        warming("warming, 3 min, 0.3 K", HALF_MINUTES_TO_3, 0.3),
        warming("warming, 5 min, 0.3 K", HALF_MINUTES_TO_5, 0.3),
        warming("warming, 5 min, 1 K", HALF_MINUTES_TO_5, 1.0),
        cooling("cooling, one look, 0.5 K", &[0.0], 0.5),
        cooling("cooling, two looks in 5 min, 0.5 K", &[0.0, 5.0], 0.5),
        cooling("cooling, three looks in 10 min, 0.5 K", &[0.0, 5.0, 10.0], 0.5),
        cooling("cooling, four looks in 15 min, 1 K", &[0.0, 5.0, 10.0, 15.0], 1.0),
    ];
    let mut outside = Vec::new();
    for regime in &regimes {
        let Outcome { forecasts, without, cover, error } = study(regime);
        let line = format!(
            "{}: {forecasts} forecasts, {without} without, cover {cover:.3}, root mean square {error:.2} min (seed {SEED})",
            regime.name
        );
        println!("{line}");
        if !(0.92..=0.97).contains(&cover) || without > JOBS / 50 {
            outside.push(line);
        }
    }
    assert!(
        outside.is_empty(),
        "outside 0.92 to 0.97, or too many without a forecast:\n{}",
        outside.join("\n")
    );
}
