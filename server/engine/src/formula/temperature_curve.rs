//! The curve on which a fluid warms or cools, from few readings and what is known before.
//!
//! Newton's law with a constant source of heat; start, end and time constant are fitted together. Without prior
//! knowledge early readings hold no end temperature, and a straight line through them misleads. Nothing here knows
//! clock times or windows. The level forecast calls it.
//!
//! For a given time constant the other two follow in closed form (two linear equations), so the fit is a search in
//! one variable that always ends at the same place; a general fitter gives the same three numbers and covariance.

use crate::quantity::{Celsius, Estimate};

/// A temperature at a time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// Minutes from the start of the curve.
    pub minutes: f64,
    /// Temperature of the fluid.
    pub celsius: Celsius,
}

/// What is known before any reading: each a mean and a standard deviation of a normal distribution.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Prior {
    /// End temperature in °C.
    pub end: (f64, f64),
    /// Natural logarithm of the time constant in minutes.
    pub ln_time_constant: (f64, f64),
}

impl Prior {
    /// Engine idling, fluid warming: end 85 ± 12 °C, time constant 20 min within a factor of 1.4.
    ///
    /// # Source
    /// House values, no source; better from earlier jobs on the same variant.
    pub const WARMING: Self = Self { end: (85.0, 12.0), ln_time_constant: (2.995_732_273_553_991, 0.35) };

    /// Engine off, fluid cooling: end 20 ± 6 °C (the air of the bay), time constant 64 min within a factor of 1.4,
    /// which is 45 to 90 min.
    ///
    /// # Source
    /// A guess from memory, no source; better from earlier jobs on the same variant.
    pub const COOLING: Self = Self { end: (20.0, 6.0), ln_time_constant: (4.153_331_246_209_957, 0.35) };

    /// Nothing is known: only for readings that hold the whole curve.
    pub const NOTHING: Self = Self { end: (0.0, f64::INFINITY), ln_time_constant: (0.0, f64::INFINITY) };
}

/// A fitted curve.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Curve {
    /// Temperature at minute 0, in °C.
    pub start: f64,
    /// Temperature that the fluid tends to, in °C.
    pub end: f64,
    /// Natural logarithm of the time constant in minutes.
    pub ln_time_constant: f64,
    /// Covariance of the three, in this order.
    pub covariance: [[f64; 3]; 3],
    /// Weighted sum of squares of the readings alone.
    pub chi_square: f64,
    /// How many readings were used.
    pub readings: usize,
}

/// Time constants that can be one, in minutes: from a cup to a day.
const TIME_CONSTANTS: (f64, f64) = (1.0, 1440.0);

/// Fits start, end and time constant to readings.
///
/// `T = T_end + (T_start - T_end) exp(-t / τ)`; least
/// `Σ ((T_i - T(t_i)) / u)² + ((T_end - m_e) / s_e)² + ((ln τ - m_τ) / s_τ)²`
///
/// * `readings` – one or more; three times at least without a prior
/// * `uncertainty` – u of one reading in K, more than 0
/// * `prior` – m and s of the end temperature and of ln τ
///
/// Nothing where readings and prior together do not hold a curve.
///
/// # Source
/// Newton 1701; lumped capacity, Incropera and DeWitt, Fundamentals of Heat and Mass Transfer, chapter 5 (from
/// memory). Covariance: inverse of the Gauss-Newton matrix.
#[must_use]
pub fn fit(readings: &[Reading], uncertainty: f64, prior: &Prior) -> Option<Curve> {
    // Three unknowns need three readings, or what is known before in their place.
    let known =
        [prior.end.1, prior.ln_time_constant.1].iter().filter(|deviation| deviation.is_finite()).count();
    let usable = !readings.is_empty()
        && readings.len() + known >= 3
        && uncertainty > 0.0
        && uncertainty.is_finite()
        && readings.iter().all(|reading| reading.minutes.is_finite());
    if !usable {
        return None;
    }
    let problem = Problem { readings, weight: uncertainty.powi(-2), prior };
    let (low, high) = (TIME_CONSTANTS.0.ln(), TIME_CONSTANTS.1.ln());
    let steps = 48_u32;
    let at = |step: u32| low + (high - low) * f64::from(step) / f64::from(steps);
    let costs = (0..=steps).filter_map(|step| problem.at(at(step)).map(|found| (step, found)));
    let (best, found) = costs.min_by(|(_, one), (_, other)| one.cost.total_cmp(&other.cost))?;
    // A least value at the edge is none: the readings ask for a straight line or a jump.
    if best == 0 || best == steps {
        return None;
    }
    let (mut left, mut right) =
        if found.slope > 0.0 { (at(best - 1), at(best)) } else { (at(best), at(best + 1)) };
    for _ in 0..45 {
        let middle = f64::midpoint(left, right);
        if problem.at(middle)?.slope > 0.0 {
            right = middle;
        } else {
            left = middle;
        }
    }
    problem.curve(f64::midpoint(left, right))
}

impl Curve {
    /// Time constant in minutes.
    #[must_use]
    pub fn time_constant(&self) -> f64 {
        self.ln_time_constant.exp()
    }

    /// Temperature at a minute, in °C.
    #[must_use]
    pub fn at(&self, minutes: f64) -> f64 {
        self.end + (self.start - self.end) * (-minutes / self.time_constant()).exp()
    }

    /// When the curve passes a temperature, in minutes; nothing if it never does.
    ///
    /// `t = -τ ln((w - T_end) / (T_start - T_end))`, `u² = gᵀ C g` with the full covariance: end and time constant
    /// go together, and their combination is known far better than each.
    ///
    /// * `celsius` – w in °C
    ///
    /// # Source
    /// Newton's law solved for the time; JCGM 100:2008, 5.2.2 (correlated inputs).
    ///
    /// # Example
    /// ```
    /// use standpipe_engine::formula::temperature_curve::Curve;
    /// // From 20 to 85 °C with 18 min: 40 °C after 6.619 min, 50 °C after 11.143 min (computed).
    /// let curve = Curve {
    ///     start: 20.0, end: 85.0, ln_time_constant: 18.0_f64.ln(),
    ///     covariance: [[0.0; 3]; 3], chi_square: 0.0, readings: 0,
    /// };
    /// assert!((curve.passes(40.0).unwrap().value - 6.619).abs() < 5e-4);
    /// assert!((curve.passes(50.0).unwrap().value - 11.143).abs() < 5e-4);
    /// ```
    #[must_use]
    pub fn passes(&self, celsius: f64) -> Option<Estimate> {
        let (way, left) = (self.start - self.end, celsius - self.end);
        let tau = self.time_constant();
        let value = -tau * (left / way).ln();
        let gradient = [tau / way, tau / left - tau / way, value];
        let variance = product(&gradient, &self.covariance, &gradient);
        let usable = value.is_finite() && variance >= 0.0 && variance.is_finite();
        usable.then(|| Estimate::known(value, variance.sqrt()))
    }

    /// The same curve with the covariance that the scatter of the readings gives: `C s²`, `s² = χ² / (n - 3)`;
    /// nothing with three readings or fewer.
    ///
    /// # Source
    /// Least squares with an unknown uncertainty of the readings.
    #[must_use]
    pub fn scaled_by_scatter(&self) -> Option<Self> {
        let freedom = u32::try_from(self.readings.checked_sub(3)?).ok().filter(|freedom| *freedom > 0)?;
        let factor = self.chi_square / f64::from(freedom);
        Some(Self { covariance: self.covariance.map(|row| row.map(|part| part * factor)), ..*self })
    }
}

/// All curves that readings and prior allow, each with how likely it is: the basis of an interval.
///
/// The time at which a temperature is passed is skewed as long as the time constant is uncertain; the delta method
/// of [`Curve::passes`] then holds the truth in 90 to 92 of 100 cases instead of 95 (measured). For one time constant
/// the temperature at any time is exactly normal, so the sum over time constants needs no approximation.
#[derive(Clone, Debug, PartialEq)]
pub struct Spread(Vec<Slice>);

/// Curves of one time constant.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Slice {
    weight: f64,
    tau: f64,
    start: f64,
    end: f64,
    /// Variance of the start, covariance, variance of the end.
    covariance: [f64; 3],
}

/// The spread of curves around the fitted one.
///
/// `p(ln τ) ∝ exp(-cost/2) / √det A`, with A the matrix of the two linear equations, over 5 standard deviations of
/// ln τ on either side
///
/// * `curve` – what [`fit`] gave for the same readings, uncertainty and prior
///
/// # Source
/// Normal linear model with one nonlinear parameter, integrated on a grid (textbook).
#[must_use]
pub fn spread(readings: &[Reading], uncertainty: f64, prior: &Prior, curve: &Curve) -> Option<Spread> {
    /// Places on either side of the fitted time constant, and how many make a standard deviation.
    const PLACES: (i32, f64) = (20, 4.0);
    let problem = Problem { readings, weight: uncertainty.powi(-2), prior };
    let [_, _, [_, _, variance]] = curve.covariance;
    let least = problem.at(curve.ln_time_constant)?.cost;
    let mut slices = Vec::new();
    for place in -PLACES.0..=PLACES.0 {
        let ln_tau = curve.ln_time_constant + variance.sqrt() * f64::from(place) / PLACES.1;
        if let Some(profile) = problem.at(ln_tau) {
            let weight = ((least - profile.cost) / 2.0).exp() * profile.spread.sqrt();
            let Profile { start, end, covariance, .. } = profile;
            slices.push(Slice { weight, tau: ln_tau.exp(), start, end, covariance });
        }
    }
    let whole: f64 = slices.iter().map(|slice| slice.weight).sum();
    for slice in &mut slices {
        slice.weight /= whole;
    }
    (whole > 0.0 && whole.is_finite()).then_some(Spread(slices))
}

impl Spread {
    /// How likely the fluid is at or below a temperature at a minute, 0 to 1.
    ///
    /// `P = Σ p(τ) Φ((w - T(t)) / σ_T)`; the minute may be infinite: then the fluid is at its end temperature.
    #[must_use]
    pub fn at_or_below(&self, celsius: f64, minutes: f64) -> f64 {
        let part = |slice: &Slice| {
            let kept = (-minutes / slice.tau).exp();
            let gone = 1.0 - kept;
            let [ss, se, ee] = slice.covariance;
            let deviation = (kept * kept * ss + 2.0 * kept * gone * se + gone * gone * ee).max(0.0).sqrt();
            let above = celsius - (kept * slice.start + gone * slice.end);
            // Without any spread the temperature is known.
            let standard = if deviation > 0.0 { above / deviation } else { above.signum() * f64::INFINITY };
            slice.weight * statrs::function::erf::erfc(-standard / std::f64::consts::SQRT_2) / 2.0
        };
        self.0.iter().map(part).sum()
    }
}

struct Problem<'a> {
    readings: &'a [Reading],
    weight: f64,
    prior: &'a Prior,
}

/// Best start and end for one time constant, with the cost there and half its slope in ln τ.
struct Profile {
    start: f64,
    end: f64,
    cost: f64,
    chi_square: f64,
    slope: f64,
    /// Covariance of start and end for this time constant, and its determinant.
    covariance: [f64; 3],
    spread: f64,
}

impl Problem<'_> {
    fn prior_weights(&self) -> (f64, f64) {
        (self.prior.end.1.powi(-2), self.prior.ln_time_constant.1.powi(-2))
    }

    fn at(&self, ln_tau: f64) -> Option<Profile> {
        let tau = ln_tau.exp();
        let (end_weight, tau_weight) = self.prior_weights();
        let (mut ss, mut se, mut ee) = (0.0, 0.0, end_weight);
        let (mut s, mut e) = (0.0, end_weight * self.prior.end.0);
        for reading in self.readings {
            let kept = (-reading.minutes / tau).exp();
            let (gone, celsius) = (1.0 - kept, reading.celsius.get());
            ss += self.weight * kept * kept;
            se += self.weight * kept * gone;
            ee += self.weight * gone * gone;
            s += self.weight * kept * celsius;
            e += self.weight * gone * celsius;
        }
        let determinant = ss * ee - se * se;
        if determinant.is_nan() || determinant <= 1e-12 * ss * ee {
            return None;
        }
        let (start, end) = ((ee * s - se * e) / determinant, (ss * e - se * s) / determinant);
        let (mut chi_square, mut slope) = (0.0, 0.0);
        for reading in self.readings {
            let kept = (-reading.minutes / tau).exp();
            let miss = end + (start - end) * kept - reading.celsius.get();
            chi_square += self.weight * miss * miss;
            slope += self.weight * miss * (start - end) * kept * reading.minutes / tau;
        }
        let from_prior = ln_tau - self.prior.ln_time_constant.0;
        slope += tau_weight * from_prior;
        let cost =
            chi_square + end_weight * (end - self.prior.end.0).powi(2) + tau_weight * from_prior * from_prior;
        let covariance = [ee, -se, ss].map(|cell| cell / determinant);
        let spread = determinant.recip();
        cost.is_finite().then_some(Profile { start, end, cost, chi_square, slope, covariance, spread })
    }

    fn curve(&self, ln_time_constant: f64) -> Option<Curve> {
        let Profile { start, end, chi_square, .. } = self.at(ln_time_constant)?;
        let tau = ln_time_constant.exp();
        let (end_weight, tau_weight) = self.prior_weights();
        let mut matrix = [[0.0, 0.0, 0.0], [0.0, end_weight, 0.0], [0.0, 0.0, tau_weight]];
        for reading in self.readings {
            let kept = (-reading.minutes / tau).exp();
            let row = [kept, 1.0 - kept, (start - end) * kept * reading.minutes / tau];
            for (line, one) in matrix.iter_mut().zip(row) {
                for (cell, other) in line.iter_mut().zip(row) {
                    *cell += self.weight * one * other;
                }
            }
        }
        let covariance = inverse(&matrix)?;
        let readings = self.readings.len();
        Some(Curve { start, end, ln_time_constant, covariance, chi_square, readings })
    }
}

fn product(left: &[f64; 3], matrix: &[[f64; 3]; 3], right: &[f64; 3]) -> f64 {
    let row = |row: &[f64; 3]| row.iter().zip(right).map(|(cell, other)| cell * other).sum::<f64>();
    matrix.iter().zip(left).map(|(line, one)| one * row(line)).sum()
}

/// Inverse of a symmetric matrix by its cofactors; nothing if it has none.
fn inverse(matrix: &[[f64; 3]; 3]) -> Option<[[f64; 3]; 3]> {
    let [[a, b, c], [_, d, e], [_, _, f]] = *matrix;
    let (aa, bb, cc) = (d * f - e * e, c * e - b * f, b * e - c * d);
    let determinant = a * aa + b * bb + c * cc;
    let (dd, ee, ff) = (a * f - c * c, b * c - a * e, a * d - b * b);
    let cells = [[aa, bb, cc], [bb, dd, ee], [cc, ee, ff]].map(|row| row.map(|cell| cell / determinant));
    // Below this, rounding has eaten what the readings say of one direction.
    let usable = determinant > 1e-13 * a * d * f && cells.iter().flatten().all(|cell| cell.is_finite());
    usable.then_some(cells)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn reading(minutes: f64, celsius: f64) -> Reading {
        Reading { minutes, celsius: Celsius::new(celsius).unwrap() }
    }

    #[test]
    fn one_reading_and_the_prior_hold_a_curve() {
        let curve = fit(&[reading(0.0, 80.0)], 0.5, &Prior::COOLING).unwrap();
        assert!((curve.start - 80.0).abs() < 1e-9 && (curve.end - 20.0).abs() < 1e-9);
        assert!((curve.time_constant() - 63.64).abs() < 0.01);
        assert!((curve.covariance[2][2].sqrt() - 0.35).abs() < 1e-9);
    }

    #[test]
    fn too_little_or_no_curve_gives_nothing() {
        assert_eq!(fit(&[], 0.5, &Prior::COOLING), None);
        assert_eq!(fit(&[reading(0.0, 80.0)], 0.5, &Prior::NOTHING), None);
        let two = [reading(0.0, 80.0), reading(5.0, 75.0)];
        assert_eq!(fit(&two, 0.5, &Prior::NOTHING), None);
        let straight = [reading(0.0, 20.0), reading(1.0, 23.0), reading(2.0, 26.0), reading(3.0, 29.1)];
        assert_eq!(fit(&straight, 0.5, &Prior::NOTHING), None);
        assert_eq!(fit(&two, 0.0, &Prior::COOLING), None);
        assert_eq!(fit(&two, f64::NAN, &Prior::COOLING), None);
        assert_eq!(fit(&[reading(f64::NAN, 80.0)], 0.5, &Prior::COOLING), None);
    }

    #[test]
    fn a_temperature_beyond_the_end_is_never_passed() {
        let curve = fit(&[reading(0.0, 80.0), reading(10.0, 71.0)], 0.5, &Prior::COOLING).unwrap();
        assert_eq!(curve.passes(-5.0), None);
        assert!(curve.passes(90.0).unwrap().value < 0.0);
        assert!(curve.scaled_by_scatter().is_none());
    }

    proptest! {
        #[test]
        fn readings_on_a_curve_give_that_curve_back(
            start in 60.0_f64..95.0, end in 10.0_f64..35.0, tau in 20.0_f64..110.0, step in 4.0_f64..12.0,
        ) {
            let truth = |t: f64| end + (start - end) * (-t / tau).exp();
            let readings: Vec<Reading> =
                (0..12).map(|at| f64::from(at) * step).map(|t| reading(t, truth(t))).collect();
            let curve = fit(&readings, 0.5, &Prior::NOTHING).unwrap();
            prop_assert!((curve.start - start).abs() < 1e-5 && (curve.end - end).abs() < 1e-4);
            prop_assert!((curve.time_constant() / tau - 1.0).abs() < 1e-5);
        }

        #[test]
        fn the_spread_and_the_delta_method_agree_where_much_is_known(end in 15.0_f64..25.0, tau in 50.0_f64..80.0) {
            let truth = |t: f64| end + (85.0 - end) * (-t / tau).exp();
            let readings: Vec<Reading> =
                (0..12).map(|at| f64::from(at) * 3.0).map(|t| reading(t, truth(t))).collect();
            let curve = fit(&readings, 0.05, &Prior::COOLING).unwrap();
            let spread = spread(&readings, 0.05, &Prior::COOLING, &curve).unwrap();
            let passes = curve.passes(50.0).unwrap();
            let at = |k: f64| spread.at_or_below(50.0, passes.value + k * passes.standard_uncertainty);
            prop_assert!((at(0.0) - 0.5).abs() < 0.03);
            prop_assert!((at(-1.96) - 0.025).abs() < 0.01 && (at(1.96) - 0.975).abs() < 0.01);
            prop_assert!(spread.at_or_below(50.0, f64::INFINITY) > 0.999);
        }

        #[test]
        fn any_readings_give_a_curve_of_numbers_or_none(
            parts in proptest::collection::vec((-5.0_f64..200.0, -60.0_f64..250.0), 1..12), warming in any::<bool>(),
            level in -20.0_f64..120.0,
        ) {
            let readings: Vec<Reading> = parts.into_iter().map(|(t, c)| reading(t, c)).collect();
            let prior = if warming { Prior::WARMING } else { Prior::COOLING };
            if let Some(curve) = fit(&readings, 0.5, &prior) {
                prop_assert!(curve.start.is_finite() && curve.end.is_finite() && curve.ln_time_constant.is_finite());
                if let Some(passes) = curve.passes(level) {
                    prop_assert!(passes.value.is_finite() && passes.standard_uncertainty.is_finite());
                }
            }
        }
    }
}
