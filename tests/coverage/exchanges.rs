//! Simulated exchanges, and what the engine's shares are worth over many of them.

use standpipe_engine::formula::exchange::{Exchange, Look, TUBES_COMMON_PART};
use standpipe_engine::formula::fit::Prior;
use standpipe_engine::formula::flow::{Flow, Tanks, TwoCompartments};
use standpipe_engine::formula::forecast::{
    Known, SLOW_EXCHANGE_PRIOR, SLOW_PART_PRIOR, TANKS_PRIOR, assess, tanks_of, two_compartments_of,
};
use standpipe_engine::formula::pan_first::PanFirst;
use standpipe_engine::formula::refill::{Fill, Refill, new_share_after, old_after_pan};
use standpipe_engine::formula::seen::Seen;
use standpipe_engine::formula::tubes::Tubes;
use standpipe_engine::quantity::{Estimate, Litres, Share};

/// Exchanges a regime.
const JOBS: u32 = 1_000;
/// Fill of the catalogue, in litres; the true one differs by 5 %.
const FILL: f64 = 9.0;
/// Litres of the pan.
const PAN: f64 = 3.5;

/// A small generator (Knuth's MMIX constants) so that a study is the same on every machine.
pub struct Dice(pub u64);

impl Dice {
    pub fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        // The upper 53 bits are the good ones, and exactly what an f64 holds.
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Box and Muller.
    pub fn normal(&mut self) -> f64 {
        let (one, other) = (1.0 - self.uniform(), self.uniform());
        (-2.0 * one.ln()).sqrt() * (std::f64::consts::TAU * other).cos()
    }

    fn of(&mut self, prior: Prior) -> f64 {
        prior.mean + prior.standard_deviation * self.normal()
    }
}

/// How the fluid truly flows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Truth {
    Tanks,
    SlowPart,
    /// One of the two, equally likely.
    Either,
    /// Two tanks with a slow part at the second; in half of the exchanges a tenth returns by a short path.
    Neither,
}

/// How the share is seen.
#[derive(Clone, Copy, Debug)]
pub enum Means {
    Instrument { at: &'static [f64], sigma: f64 },
    Tubes { at: &'static [f64], eye: f64 },
}

/// The true course of one exchange.
pub enum Course {
    Tanks(Tanks),
    SlowPart(TwoCompartments),
    Steps { step: f64, outlet_and_mean: Vec<(f64, f64)> },
}

impl Course {
    pub fn draw(truth: Truth, dice: &mut Dice) -> (Self, f64) {
        let fill = FILL * (0.05 * dice.normal()).exp();
        let truth = match truth {
            Truth::Either if dice.uniform() < 0.5 => Truth::Tanks,
            Truth::Either => Truth::SlowPart,
            other => other,
        };
        let course = match truth {
            Truth::Tanks => Self::Tanks(tanks_of(&[fill.ln(), dice.of(TANKS_PRIOR)]).unwrap()),
            Truth::SlowPart | Truth::Either => {
                let parameters = [fill.ln(), dice.of(SLOW_PART_PRIOR), dice.of(SLOW_EXCHANGE_PRIOR)];
                Self::SlowPart(two_compartments_of(&parameters).unwrap())
            }
            Truth::Neither => {
                let (slow, exchange) = (dice.of(SLOW_PART_PRIOR), dice.of(SLOW_EXCHANGE_PRIOR).exp());
                let returned = if dice.uniform() < 0.5 { 0.1 } else { 0.0 };
                Self::by_steps(fill, 1.0 / (1.0 + (-slow).exp()), exchange, returned)
            }
        };
        (course, fill)
    }

    /// Two tanks, the second of which exchanges with a slow part: integrated by the midpoint rule.
    fn by_steps(fill: f64, slow_part: f64, exchange: f64, returned: f64) -> Self {
        const STEP: f64 = 0.02;
        let (tank, slow) = (fill * (1.0 - slow_part) / 2.0, fill * slow_part);
        let slope = |[first, second, third]: [f64; 3]| {
            let over = exchange * (second - third);
            [-first / tank, (first - second - over) / tank, over / slow].map(|each| each * (1.0 - returned))
        };
        let mut state = [1.0; 3];
        let mut outlet_and_mean = Vec::new();
        for _ in 0..=1_000 {
            let mean = (tank * (state[0] + state[1]) + slow * state[2]) / fill;
            outlet_and_mean.push(((1.0 - returned) * state[1], mean));
            let half = slope(state);
            let middle: [f64; 3] = std::array::from_fn(|at| state[at] + half[at] * STEP / 2.0);
            let whole = slope(middle);
            state = std::array::from_fn(|at| state[at] + whole[at] * STEP);
        }
        Self::Steps { step: STEP, outlet_and_mean }
    }

    /// Old share at the outlet and in the whole.
    pub fn at(&self, litres: f64) -> (f64, f64) {
        match self {
            Self::Tanks(flow) => (flow.outlet(litres), flow.mean(litres)),
            Self::SlowPart(flow) => (flow.outlet(litres), flow.mean(litres)),
            Self::Steps { step, outlet_and_mean } => {
                outlet_and_mean[((litres / step).round() as usize).min(outlet_and_mean.len() - 1)]
            }
        }
    }
}

/// What the shares of one regime are worth.
#[derive(Clone, Debug, Default)]
pub struct Study {
    what: String,
    jobs: f64,
    covered: f64,
    sum: f64,
    squares: f64,
}

impl Study {
    fn add(&mut self, share: Estimate, truth: f64) {
        assert!(share.value.is_finite() && share.standard_uncertainty.is_finite());
        let (low, high) = share.interval95_within((0.0, 1.0));
        self.jobs += 1.0;
        self.covered += if (low..=high).contains(&truth) { 1.0 } else { 0.0 };
        self.sum += share.value - truth;
        self.squares += (share.value - truth).powi(2);
    }

    pub fn coverage(&self) -> f64 {
        self.covered / self.jobs
    }

    pub fn bias(&self) -> f64 {
        self.sum / self.jobs
    }
}

impl std::fmt::Display for Study {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let rmse = (self.squares / self.jobs).sqrt();
        write!(f, "{}: coverage {:.3}, bias {:+.4}, rmse {rmse:.4}", self.what, self.coverage(), self.bias())
    }
}

/// Shares at the end of the exchange, and after pan and refill.
pub struct Studies {
    pub now: Study,
    pub handover: Study,
}

pub fn look(at: f64, new_share: f64, standard_uncertainty: f64) -> Seen {
    let (litres, new_share) = (Litres::new(at).unwrap(), Share::new(new_share.clamp(0.0, 1.0)).unwrap());
    Seen { look: Look { litres, new_share, standard_uncertainty }, saturated: false }
}

pub fn known(taken: &[Seen], pushed: f64, common_part: f64) -> Known<'_> {
    Known {
        taken,
        pushed: Litres::new(pushed).unwrap(),
        hose: Litres::new(0.0).unwrap(),
        fill: Some(Estimate::known(FILL, 0.05 * FILL)),
        display_relative_uncertainty: 0.03 / 3.0_f64.sqrt(),
        reference_relative_uncertainty: 0.0,
        common_part,
    }
}

fn seen(means: Means, dice: &mut Dice, outlet: impl Fn(f64) -> f64) -> Vec<Seen> {
    match means {
        Means::Instrument { at, sigma } => at
            .iter()
            .map(|litres| look(*litres, 1.0 - outlet(*litres) + sigma * dice.normal(), sigma))
            .collect(),
        Means::Tubes { at, eye } => {
            let tubes = Tubes::default();
            at.iter()
                .map(|litres| {
                    let share = 1.0 - outlet(*litres) + eye * dice.normal();
                    let distance = |tube: &f64| (tube - share).abs();
                    let shares = tubes.shares().iter().copied();
                    let tube = shares.min_by(|one, other| distance(one).total_cmp(&distance(other))).unwrap();
                    look(*litres, tube, tubes.look_uncertainty(Share::new(tube).unwrap()))
                })
                .collect()
        }
    }
}

/// The true shares of so many tanks in a row of which the last held the pan, changed first: old share at the outlet and
/// in the whole after some litres, by the midpoint rule.
fn after_pan_first(fill: f64, count: usize, litres: f64) -> (f64, f64) {
    const STEP: f64 = 0.01;
    let tank = fill / count as f64;
    let mut state = vec![1.0; count];
    let mut pan = PAN;
    for old in state.iter_mut().rev() {
        let new = pan.min(tank);
        *old = 1.0 - new / tank;
        pan -= new;
    }
    let slope = |state: &[f64]| -> Vec<f64> {
        let before = std::iter::once(0.0).chain(state.iter().copied());
        before.zip(state).map(|(before, own)| (before - own) / tank).collect()
    };
    let moved = |state: &[f64], slope: &[f64], by: f64| -> Vec<f64> {
        state.iter().zip(slope).map(|(own, slope)| own + slope * by).collect()
    };
    for _ in 0..(litres / STEP).round() as u32 {
        let half = moved(&state, &slope(&state), STEP / 2.0);
        state = moved(&state, &slope(&half), STEP);
    }
    (state[count - 1], state.iter().sum::<f64>() / count as f64)
}

/// A thousand exchanges after the pan was changed, with looks at 3, 6 and 9 L.
pub fn pan_first(count: usize, means: Means) -> Study {
    let mut dice = Dice(20_260_318);
    let mut study = Study { what: format!("{count} tanks, pan first, {means:?}"), ..Study::default() };
    let (refilled, at_start) = (Estimate::known(PAN, 0.03), Estimate::known(FILL, 0.05 * FILL));
    let common_part = if matches!(means, Means::Tubes { .. }) { TUBES_COMMON_PART } else { 0.0 };
    for _ in 0..JOBS {
        let fill = FILL * (0.05 * dice.normal()).exp();
        let true_litres = 1.0 + 0.03 * (2.0 * dice.uniform() - 1.0);
        let truth = |litres: f64| after_pan_first(fill, count, litres * true_litres);
        let looks: Vec<Look> =
            seen(means, &mut dice, |litres| truth(litres).0).iter().map(|seen| seen.look).collect();
        let pushed = looks.last().map(|look| look.litres).unwrap();
        let exchange = Exchange {
            looks: &looks,
            pushed,
            hose: Litres::new(0.0).unwrap(),
            litres_relative_uncertainty: 0.03 / 3.0_f64.sqrt(),
            reference_relative_uncertainty: 0.0,
            common_part,
        };
        let share = PanFirst::of(&exchange, refilled).unwrap().share(at_start);
        study.add(share, 1.0 - truth(pushed.get()).1);
    }
    study
}

/// A thousand exchanges of one regime, judged after `litres` on the display.
pub fn run(truth: Truth, means: Means, litres: f64) -> Studies {
    let what = format!("{truth:?}, {means:?}, at {litres} L");
    let mut dice = Dice(20_260_318);
    let mut now = Study { what: format!("{what}, now"), ..Study::default() };
    let mut handover = Study { what: format!("{what}, handover"), ..Study::default() };
    let amount = Estimate::known(PAN, 0.03);
    let refill = Refill { drained: amount, refilled: amount, ..Refill::default() };
    let common_part = if matches!(means, Means::Tubes { .. }) { TUBES_COMMON_PART } else { 0.0 };
    for _ in 0..JOBS {
        let (course, fill) = Course::draw(truth, &mut dice);
        let true_litres = 1.0 + 0.03 * (2.0 * dice.uniform() - 1.0);
        let taken = seen(means, &mut dice, |litres| course.at(litres * true_litres).0);
        let pushed = taken.last().map_or(litres, |last| last.look.litres.get());
        let forecast = assess(&known(&taken, pushed, common_part)).forecast.unwrap();
        let (outlet, mean) = course.at(litres * true_litres);
        now.add(forecast.share_at(litres), 1.0 - mean);
        let pan = outlet + dice.uniform() * (mean - outlet);
        let after = new_share_after(&forecast.kept_at(litres), Fill::OnArrival(forecast.fill()), &refill);
        handover.add(after, 1.0 - old_after_pan(mean, pan, PAN, fill));
    }
    Studies { now, handover }
}
