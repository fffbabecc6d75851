//! The fitter: a curve through readings, with what was known before as further readings.
//!
//! The search itself is the MINPACK method of the crate `levenberg-marquardt`, which is kept, pure Rust and gives
//! the certified digits of NIST's exponential sets through [`fit`], the entry point that the exchange uses too.
//! Here are only the residuals, their slopes and the covariance. No random numbers and a fixed start: the same
//! readings give the same answer. What the curves mean is in `flow`.

use levenberg_marquardt::{LeastSquaresProblem, LevenbergMarquardt};
use nalgebra::{DMatrix, DVector, Dyn, Owned};

use crate::quantity::Estimate;

/// A number that was read along a curve.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// Where along the curve, for example litres.
    pub at: f64,
    /// What was read.
    pub value: f64,
    /// Its standard uncertainty, more than 0.
    pub standard_uncertainty: f64,
    /// Whether the reading only says "at least this much", since the instrument could not show more.
    pub at_least: bool,
}

/// What is known of a parameter before any reading: a normal distribution.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Prior {
    /// Mean.
    pub mean: f64,
    /// Standard deviation; infinite where nothing is known.
    pub standard_deviation: f64,
}

impl Prior {
    /// A normal distribution.
    #[must_use]
    pub const fn normal(mean: f64, standard_deviation: f64) -> Self {
        Self { mean, standard_deviation }
    }

    /// Nothing is known; the search starts at `start`.
    #[must_use]
    pub const fn free(start: f64) -> Self {
        Self { mean: start, standard_deviation: f64::INFINITY }
    }
}

/// The parameters that fit best.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fit<const P: usize> {
    /// The parameters.
    pub parameters: [f64; P],
    /// Their covariance, for readings whose uncertainties are right.
    pub covariance: [[f64; P]; P],
    /// Square root of the covariance: column j is one step that moves all parameters together.
    pub root: [[f64; P]; P],
    /// Sum of the squared weighted residuals, those of the priors included.
    pub cost: f64,
    /// The same without the priors.
    pub readings_cost: f64,
    /// Logarithm of the evidence, up to a constant that is the same for all curves through the same readings.
    pub log_evidence: f64,
}

impl<const P: usize> Fit<P> {
    /// The parameters moved along each column of the root, up and down, by `width` standard deviations.
    #[must_use]
    pub fn steps(&self, width: f64) -> [[[f64; P]; 2]; P] {
        std::array::from_fn(|column| {
            [width, -width].map(|width| {
                std::array::from_fn(|row| {
                    let step = self.root.get(row).and_then(|cells| cells.get(column)).copied().unwrap_or(0.0);
                    self.parameters.get(row).copied().unwrap_or(0.0) + width * step
                })
            })
        })
    }

    /// What follows from the parameters, with the uncertainty that they carry into it.
    ///
    /// `u² = Σ ((f(θ + h L_j) - f(θ - h L_j)) / 2h)²` with `L Lᵀ = C`, h = 0.1
    ///
    /// * `result` – f; nothing comes back where it has no value at one of the points
    ///
    /// # Source
    /// JCGM 100:2008, 5.2.2 (correlated inputs), by differences as in 5.1.3 note 2.
    #[must_use]
    pub fn carried(&self, result: impl Fn(&[f64; P]) -> Option<f64>) -> Option<Estimate> {
        /// Short enough for the slope, long enough for the rounding of a search for a root.
        const WIDTH: f64 = 0.1;
        let mut variance = 0.0;
        for [up, down] in &self.steps(WIDTH) {
            variance += ((result(up)? - result(down)?) / (2.0 * WIDTH)).powi(2);
        }
        Some(Estimate::known(result(&self.parameters)?, variance.sqrt()))
    }
}

/// Fits a curve to readings and priors.
///
/// `θ = argmin Σ ((y_i - f(x_i; θ)) / u_i)² + Σ ((θ_j - m_j) / s_j)²`, `C = (JᵀJ)⁻¹`,
/// `ln ev = -cost / 2 + ½ ln det C - Σ ln s_j`
///
/// * `curve` – gives, for parameters, the function of the place
/// * `readings` – x, y and u; one that is `at_least` counts only where the curve lies below it
/// * `priors` – m and s of each parameter; the search starts at the means
///
/// Nothing comes back if a number is not finite, if there is less to go by than there are parameters, or if some
/// parameter does not matter to any reading.
///
/// # Source
/// Moré, The Levenberg-Marquardt algorithm: implementation and theory, 1978 (MINPACK lmder); covariance and priors
/// as readings: JCGM 102:2011 and Gelman et al., Bayesian Data Analysis, 14.8 (from memory); evidence: Laplace's
/// method, Kass and Raftery, J. Am. Stat. Assoc. 90 (1995) 773 (from memory).
///
/// # Example
/// ```
/// use standpipe_engine::formula::fit::{Prior, Reading, fit};
/// // NIST StRD, Misra1a: b1 (1 - exp(-b2 x)); certified 238.94212918 and 0.00055015643181.
/// let x = [77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760.0];
/// let y = [10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.4, 75.47, 81.78];
/// let read = |(at, value): (f64, f64)| Reading { at, value, standard_uncertainty: 1.0, at_least: false };
/// let readings: Vec<Reading> = x.into_iter().zip(y).map(read).collect();
/// let curve = |b: &[f64; 2]| {
///     let b = *b;
///     move |x: f64| b[0] * (1.0 - (-b[1] * x).exp())
/// };
/// let fitted = fit(curve, &readings, &[Prior::free(250.0), Prior::free(0.0005)]).unwrap();
/// assert!((fitted.parameters[0] / 238.942_129_18 - 1.0).abs() < 1e-7);
/// assert!((fitted.parameters[1] / 0.000_550_156_431_81 - 1.0).abs() < 1e-7);
/// ```
#[must_use]
pub fn fit<const P: usize, C, F>(curve: C, readings: &[Reading], priors: &[Prior; P]) -> Option<Fit<P>>
where
    C: Fn(&[f64; P]) -> F,
    F: Fn(f64) -> f64,
{
    let informed = priors.iter().filter(|prior| prior.standard_deviation.is_finite()).count();
    let sound = readings.iter().all(|reading| {
        reading.at.is_finite()
            && reading.value.is_finite()
            && reading.standard_uncertainty > 0.0
            && reading.standard_uncertainty.is_finite()
    });
    let known = priors.iter().all(|prior| prior.mean.is_finite() && prior.standard_deviation > 0.0);
    if !sound || !known || readings.len() + informed < P {
        return None;
    }
    let problem = Problem { curve, readings, priors, parameters: priors.map(|prior| prior.mean) };
    // 1e-10 is far below what any reading here can tell; asking for more only meets the rounding of the slopes.
    let search = LevenbergMarquardt::new().with_ftol(1e-14).with_xtol(1e-10).with_gtol(1e-12);
    let (problem, report) = search.minimize(problem);
    let stopped_at_rounding =
        matches!(report.termination, levenberg_marquardt::TerminationReason::NoImprovementPossible(_));
    if !report.termination.was_successful() && !stopped_at_rounding {
        return None;
    }
    problem.found()
}

struct Problem<'a, const P: usize, C> {
    curve: C,
    readings: &'a [Reading],
    priors: &'a [Prior; P],
    parameters: [f64; P],
}

impl<const P: usize, C, F> Problem<'_, P, C>
where
    C: Fn(&[f64; P]) -> F,
    F: Fn(f64) -> f64,
{
    fn weighted(&self, parameters: &[f64; P]) -> DVector<f64> {
        let curve = (self.curve)(parameters);
        let of_readings = self.readings.iter().map(|reading| {
            let difference = curve(reading.at) - reading.value;
            let counted = if reading.at_least { difference.min(0.0) } else { difference };
            counted / reading.standard_uncertainty
        });
        let of_priors = self.priors.iter().zip(parameters).filter_map(|(prior, parameter)| {
            let known = prior.standard_deviation.is_finite();
            known.then(|| (parameter - prior.mean) / prior.standard_deviation)
        });
        DVector::from_vec(of_readings.chain(of_priors).collect())
    }

    /// Central differences: their error is far below the uncertainty of any reading.
    fn slopes(&self) -> DMatrix<f64> {
        /// Cube root of the machine's rounding, which balances rounding against curvature.
        const STEP: f64 = 6e-6;
        let columns: Vec<DVector<f64>> = (0..P)
            .map(|column| {
                let scale = self.priors.get(column).map_or(1.0, |prior| {
                    let known = prior.standard_deviation.is_finite();
                    if known { prior.standard_deviation } else { prior.mean.abs() }
                });
                let moved = |sign: f64| {
                    let mut parameters = self.parameters;
                    if let Some(parameter) = parameters.get_mut(column) {
                        *parameter += sign * STEP * parameter.abs().max(scale);
                    }
                    parameters
                };
                let (up, down) = (moved(1.0), moved(-1.0));
                let width: f64 = up.iter().zip(&down).map(|(one, other)| one - other).sum();
                (self.weighted(&up) - self.weighted(&down)) / width
            })
            .collect();
        DMatrix::from_columns(&columns)
    }

    fn found(&self) -> Option<Fit<P>> {
        let weighted = self.weighted(&self.parameters);
        let slopes = self.slopes();
        // Columns of one length first: the parameters may differ by many powers of ten.
        let lengths: Vec<f64> = slopes.column_iter().map(|column| column.norm()).collect();
        if lengths.iter().any(|length| !(*length > 0.0 && length.is_finite())) {
            return None;
        }
        let mut scaled = slopes;
        for (mut column, length) in scaled.column_iter_mut().zip(&lengths) {
            column /= *length;
        }
        let inverse = (scaled.transpose() * &scaled).cholesky()?.inverse();
        let root = inverse.clone().cholesky()?.l();
        let cell = |matrix: &DMatrix<f64>, row: usize, column: usize| {
            matrix.get((row, column)).copied().unwrap_or(f64::NAN)
        };
        let length = |at: usize| lengths.get(at).copied().unwrap_or(f64::NAN);
        let covariance = std::array::from_fn(|row| {
            std::array::from_fn(|column| cell(&inverse, row, column) / (length(row) * length(column)))
        });
        let root_cells =
            std::array::from_fn(|row| std::array::from_fn(|column| cell(&root, row, column) / length(row)));
        let half_log_determinant: f64 = (0..P).map(|at| (cell(&root, at, at) / length(at)).ln()).sum();
        let widths: f64 = self
            .priors
            .iter()
            .filter(|prior| prior.standard_deviation.is_finite())
            .map(|prior| prior.standard_deviation.ln())
            .sum();
        let cost = weighted.norm_squared();
        let readings_cost = weighted.iter().take(self.readings.len()).map(|part| part * part).sum();
        let log_evidence = half_log_determinant - cost / 2.0 - widths;
        log_evidence.is_finite().then_some(Fit {
            parameters: self.parameters,
            covariance,
            root: root_cells,
            cost,
            readings_cost,
            log_evidence,
        })
    }
}

impl<const P: usize, C, F> LeastSquaresProblem<f64, Dyn, Dyn> for Problem<'_, P, C>
where
    C: Fn(&[f64; P]) -> F,
    F: Fn(f64) -> f64,
{
    type ResidualStorage = Owned<f64, Dyn>;
    type JacobianStorage = Owned<f64, Dyn, Dyn>;
    type ParameterStorage = Owned<f64, Dyn>;

    fn set_params(&mut self, parameters: &DVector<f64>) {
        for (own, given) in self.parameters.iter_mut().zip(parameters.iter()) {
            *own = *given;
        }
    }

    fn params(&self) -> DVector<f64> {
        DVector::from_column_slice(&self.parameters)
    }

    fn residuals(&self) -> Option<DVector<f64>> {
        Some(self.weighted(&self.parameters))
    }

    fn jacobian(&self) -> Option<DMatrix<f64>> {
        Some(self.slopes())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(parameters: &[f64; 2]) -> impl Fn(f64) -> f64 + use<> {
        let [start, slope] = *parameters;
        move |at| start + slope * at
    }

    fn read(at: f64, value: f64) -> Reading {
        Reading { at, value, standard_uncertainty: 0.5, at_least: false }
    }

    #[test]
    fn a_line_through_two_readings_meets_both_with_the_textbook_covariance() {
        let free = [Prior::free(1.0), Prior::free(1.0)];
        let fitted = fit(line, &[read(0.0, 2.0), read(4.0, 10.0)], &free).unwrap();
        assert!((fitted.parameters[0] - 2.0).abs() < 1e-8 && (fitted.parameters[1] - 2.0).abs() < 1e-8);
        // u(start)² = u², u(slope)² = 2 u² / 16, cov = -u² / 4.
        assert!((fitted.covariance[0][0] - 0.25).abs() < 1e-8);
        assert!((fitted.covariance[1][1] - 0.031_25).abs() < 1e-8);
        assert!((fitted.covariance[0][1] + 0.0625).abs() < 1e-8);
        assert!(fitted.cost < 1e-12);
    }

    #[test]
    fn without_readings_the_prior_comes_back() {
        let priors = [Prior::normal(3.0, 0.2), Prior::normal(-1.0, 0.5)];
        let fitted = fit(line, &[], &priors).unwrap();
        assert_eq!(fitted.parameters, [3.0, -1.0]);
        assert!(
            (fitted.covariance[0][0] - 0.04).abs() < 1e-9 && (fitted.covariance[1][1] - 0.25).abs() < 1e-9
        );
        assert!(fitted.log_evidence.abs() < 1e-8 && fitted.cost == 0.0);
    }

    #[test]
    fn one_reading_and_a_prior_meet_at_their_weighted_mean() {
        // Start known to 0.5, reading of it to 0.5: the middle, with the spread of two equal readings.
        let priors = [Prior::normal(0.0, 0.5), Prior::normal(1.0, 0.1)];
        let fitted = fit(line, &[read(0.0, 1.0)], &priors).unwrap();
        assert!((fitted.parameters[0] - 0.5).abs() < 1e-9);
        assert!((fitted.covariance[0][0] - 0.125).abs() < 1e-9);
        assert!((fitted.readings_cost - 1.0).abs() < 1e-8 && (fitted.cost - 2.0).abs() < 1e-8);
    }

    #[test]
    fn a_reading_that_says_at_least_only_pushes_up() {
        let priors = [Prior::normal(0.0, 0.5), Prior::normal(1.0, 0.1)];
        let bound = |value: f64| Reading { at_least: true, ..read(0.0, value) };
        let below = fit(line, &[bound(-1.0)], &priors).unwrap();
        assert!(below.parameters[0].abs() < 1e-9 && (below.covariance[0][0] - 0.25).abs() < 1e-9);
        let above = fit(line, &[bound(1.0)], &priors).unwrap();
        assert!((above.parameters[0] - 0.5).abs() < 1e-9);
    }

    #[test]
    fn what_cannot_be_fitted_gives_nothing() {
        let free = [Prior::free(1.0), Prior::free(1.0)];
        assert!(fit(line, &[read(1.0, 2.0)], &free).is_none());
        assert!(fit(line, &[read(1.0, 2.0), read(1.0, 2.0)], &free).is_none());
        assert!(fit(line, &[read(1.0, f64::NAN), read(2.0, 3.0)], &free).is_none());
        assert!(
            fit(line, &[read(1.0, 2.0), Reading { standard_uncertainty: 0.0, ..read(2.0, 3.0) }], &free)
                .is_none()
        );
    }
}
