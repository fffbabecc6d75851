//! How a camera writes light down, learnt from grey steps in the same picture.
//!
//! Only ratios of light count, so gains of a channel and the strength of the light fall out. The reading of photos
//! calls it for each channel.

use super::colour::linear_of;
use nalgebra::{SMatrix, SVector};

/// Terms by which a curve may differ from that of sRGB.
const TERMS: usize = 4;
/// How far each term may lie from nothing, one standard deviation: a quarter in the power, and an S of the size that
/// cameras give pictures (common practice, no source).
const BEFOREHAND: [f64; TERMS] = [0.25, 1.0, 1.0, 0.15];
/// Least value of a channel that is told from black.
const LEAST: f64 = 2.0 / 255.0;
/// Standard uncertainty of a printed step, as a part of its light, and of black on top of it (common practice, no
/// source).
const PRINTED: (f64, f64) = (0.03, 0.004);
/// Squared misfit for each step above which the steps are no curve.
const MISFIT_MOST: f64 = 9.0;

/// A grey step as it was seen beside white.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SeenStep {
    /// Light of the step as a part of the white beside it, above 0.
    pub reflectance: f64,
    /// Value of the channel on the step, 0 to 1.
    pub step: f64,
    /// Value of the channel on the white beside it, 0 to 1.
    pub white: f64,
}

/// The curve of one channel.
#[derive(Clone, Debug, PartialEq)]
pub struct CameraCurve {
    terms: [f64; TERMS],
    directions: [[f64; TERMS]; TERMS],
}

/// Finds the curve of one channel.
///
/// `h(v) = ln linear(v) + Σ t_k φ_k(v)`, `φ = (ln linear(v), v, v², (ln linear(v))² / 4)`;
/// least squares of `h(step) - h(white) = ln reflectance`, each t_k with a pseudo-reading of 0
///
/// * `steps` – the steps; each reflectance is printed twice on the sheet, so both err alike
///
/// # Source
/// Comparing a curve with known ratios of light: Mann and Picard 1995; Debevec and Malik 1997 (both from memory). Transfer
/// function: IEC 61966-2-1. Least squares with its covariance: JCGM 100:2008, H.3.
///
/// # Deviation
/// Four smooth terms instead of a table. Nothing comes back where the curve would not rise, or where the steps miss it by
/// more than three standard uncertainties in the mean of squares.
///
/// # Example
/// ```
/// use standpipe_engine::formula::camera_curve::{SeenStep, curve};
/// // IEC 61966-2-1: 188 is 0.50289 and 137 is 0.25016 of full light, 255 all of it (computed).
/// let steps = [(0.50289, 188.0), (0.25016, 137.0), (0.10224, 90.0), (0.04971, 63.0)];
/// let steps = steps.map(|(reflectance, step)| SeenStep { reflectance, step: step / 255.0, white: 1.0 });
/// let found = curve(&steps).unwrap();
/// assert!((found.log_light(137.0 / 255.0) - found.log_light(1.0) - 0.25016_f64.ln()).abs() < 2e-3);
/// ```
#[must_use]
pub fn curve(steps: &[SeenStep]) -> Option<CameraCurve> {
    let beforehand = SVector::<f64, TERMS>::from(BEFOREHAND.map(|sd| sd.powi(-2)));
    let mut normal = SMatrix::<f64, TERMS, TERMS>::from_diagonal(&beforehand);
    let mut right = SVector::<f64, TERMS>::zeros();
    let rows: Vec<(SVector<f64, TERMS>, f64, f64)> = steps.iter().map(row).collect();
    for (row, value, u) in &rows {
        normal += row * row.transpose() / (u * u);
        right += row * (*value / (u * u));
    }
    let covariance = normal.try_inverse()?;
    let terms = covariance * right;
    let misfit: f64 = rows.iter().map(|(row, value, u)| ((value - row.dot(&terms)) / u).powi(2)).sum();
    #[allow(clippy::cast_precision_loss)]
    let count = steps.len() as f64;
    let lower = covariance.cholesky()?.l();
    let directions = std::array::from_fn(|at| lower.column(at).into_owned().into());
    let found = CameraCurve { terms: terms.into(), directions };
    (misfit <= MISFIT_MOST * count && found.rises(steps)).then_some(found)
}

fn row(seen: &SeenStep) -> (SVector<f64, TERMS>, f64, f64) {
    let (step, white) = (parts(seen.step), parts(seen.white));
    let row = SVector::from(step) - SVector::from(white);
    let value = seen.reflectance.ln() - (log_srgb(seen.step) - log_srgb(seen.white));
    (row, value, std::f64::consts::SQRT_2 * PRINTED.0.hypot(PRINTED.1 / seen.reflectance))
}

fn log_srgb(value: f64) -> f64 {
    linear_of(value.max(LEAST)).ln()
}

fn parts(value: f64) -> [f64; TERMS] {
    let log = log_srgb(value);
    [log, value, value * value, log * log / 4.0]
}

impl CameraCurve {
    /// Natural logarithm of the light behind a value of the channel, 0 to 1, up to a constant.
    #[must_use]
    pub fn log_light(&self, value: f64) -> f64 {
        log_srgb(value) + dot(&self.terms, value)
    }

    /// By how much `log_light` of two values moves apart with each of the independent ways in which the curve may be
    /// wrong, by one standard uncertainty.
    #[must_use]
    pub fn shifts(&self, one: f64, other: f64) -> [f64; TERMS] {
        self.directions.map(|direction| dot(&direction, one) - dot(&direction, other))
    }

    fn rises(&self, steps: &[SeenStep]) -> bool {
        let seen = || steps.iter().flat_map(|seen| [seen.step, seen.white]);
        let (least, greatest) = (seen().fold(1.0, f64::min), seen().fold(0.0, f64::max));
        let at = |part: i32| self.log_light(least + (greatest - least) * f64::from(part) / 32.0);
        greatest > least && (0..32).all(|part| at(part) < at(part + 1))
    }
}

fn dot(terms: &[f64; TERMS], value: f64) -> f64 {
    terms.iter().zip(parts(value)).map(|(term, part)| term * part).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::photo::sheet::STEPS;

    fn seen(camera: impl Fn(f64) -> f64) -> Vec<SeenStep> {
        let steps = STEPS.iter().chain(&STEPS);
        steps
            .map(|step| SeenStep { reflectance: *step, step: camera(0.7 * step), white: camera(0.7) })
            .collect()
    }

    fn worst(camera: impl Fn(f64) -> f64) -> f64 {
        let found = curve(&seen(&camera)).unwrap();
        let lights = (4..=40).map(|part| f64::from(part) / 40.0 * 0.7);
        let off = |light: f64| {
            (found.log_light(camera(light)) - found.log_light(camera(0.7)) - (light / 0.7).ln()).abs()
        };
        lights.map(off).fold(0.0, f64::max)
    }

    #[test]
    fn curves_of_powers_and_of_an_s_are_found_within_two_parts_of_a_hundred() {
        for power in [1.8, 2.2, 2.4] {
            let plain = move |light: f64| light.powf(1.0 / power);
            let bent = move |light: f64| {
                let value = plain(light);
                0.7 * value + 0.3 * value * value * (3.0 - 2.0 * value)
            };
            assert!(worst(plain) < 0.02, "{power}: {}", worst(plain));
            assert!(worst(bent) < 0.03, "{power} bent: {}", worst(bent));
        }
    }

    #[test]
    fn steps_that_do_not_fall_give_no_curve() {
        let mut steps = seen(|light| light.powf(1.0 / 2.2));
        steps[2].step = 0.2;
        assert!(curve(&steps).is_none());
        assert!(curve(&seen(|_| 0.5)).is_none());
    }
}
