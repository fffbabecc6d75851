//! Chart of an exponentially weighted moving average: small shifts that last are seen sooner than by single values.
//!
//! The comparison of workshops shows a value a month by it.

/// Weight of the newest value for litres and temperatures of workshops (ISO 7870-6 has 0.05 to 0.5; ours).
pub const WEIGHT: f64 = 0.2;
/// Width of the limits for the same, in standard deviations (ours).
pub const WIDTH: f64 = 2.9;

/// How a chart is drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settings {
    /// Where the average begins and should stay.
    pub target: f64,
    /// λ, weight of the newest value, more than 0 and at most 1.
    pub weight: f64,
    /// L, width of the limits in standard deviations, more than 0.
    pub width: f64,
    /// Whether the limits are those of an average that has run for long from the first value on.
    pub steady: bool,
}

/// One value as the chart has it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// The average.
    pub average: f64,
    /// Lower limit.
    pub lower: f64,
    /// Upper limit.
    pub upper: f64,
}

impl Point {
    /// Whether the average is outside its limits.
    #[must_use]
    pub fn is_outside(&self) -> bool {
        self.average < self.lower || self.average > self.upper
    }
}

/// The averages with their limits; nothing where a value or a setting is no number or out of its range.
///
/// `zᵢ = λ xᵢ + (1 − λ) zᵢ₋₁`, z₀ the target; limits `target ± L σᵢ √(λ/(2 − λ) (1 − (1 − λ)²ⁱ))`, without the last
/// factor where they are steady
///
/// * `values` – each with its standard deviation σᵢ, 0 or more, in the same unit
/// * `settings` – target, λ, L
///
/// # Source
/// ISO 7870-6:2016, EWMA control charts.
///
/// # Deviation
/// Months have unlike numbers of jobs, so each value may have a standard deviation of its own. The limits then follow
/// the variance of the average itself, `σ²(zᵢ) = λ² σᵢ² + (1 − λ)² σ²(zᵢ₋₁)`, which for equal σ is the equation above.
///
/// # Example
/// ```
/// // NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4: 52, 47, 53 about 50 give 50.60, 49.52, 50.56.
/// use standpipe_engine::formula::ewma_chart::{Settings, chart};
/// let settings = Settings { target: 50.0, weight: 0.3, width: 3.0, steady: true };
/// let found = chart(&[(52.0, 2.0539), (47.0, 2.0539), (53.0, 2.0539)], &settings);
/// assert!((found[2].average - 50.56).abs() < 0.005 && (found[2].upper - 52.5884).abs() < 5e-5);
/// ```
#[must_use]
pub fn chart(values: &[(f64, f64)], settings: &Settings) -> Vec<Point> {
    let Settings { target, weight, width, steady } = *settings;
    let number = |(value, sigma): &(f64, f64)| value.is_finite() && sigma.is_finite() && *sigma >= 0.0;
    let drawn = target.is_finite() && weight > 0.0 && weight <= 1.0 && width.is_finite() && width > 0.0;
    if !drawn || !values.iter().all(number) {
        return Vec::new();
    }
    let mut average = target;
    let mut variance = 0.0;
    let mut points = Vec::with_capacity(values.len());
    for (value, sigma) in values {
        average = weight * value + (1.0 - weight) * average;
        variance = weight * weight * sigma * sigma + (1.0 - weight) * (1.0 - weight) * variance;
        let settled = sigma * sigma * weight / (2.0 - weight);
        let half = width * (if steady { settled } else { variance }).sqrt();
        points.push(Point { average, lower: target - half, upper: target + half });
    }
    points
}

#[cfg(test)]
mod tests {
    use super::*;

    const SETTINGS: Settings = Settings { target: 0.0, weight: WEIGHT, width: WIDTH, steady: false };

    #[test]
    fn what_is_no_number_or_out_of_range_draws_nothing() {
        assert!(chart(&[(f64::NAN, 1.0)], &SETTINGS).is_empty());
        assert!(chart(&[(1.0, -1.0)], &SETTINGS).is_empty());
        assert!(chart(&[(1.0, 1.0)], &Settings { weight: 0.0, ..SETTINGS }).is_empty());
    }

    #[test]
    fn with_equal_deviations_the_limits_are_those_of_the_standard() {
        let points = chart(&[(0.0, 2.0); 12], &SETTINGS);
        for (place, point) in (1..).zip(&points) {
            let factor = WEIGHT / (2.0 - WEIGHT) * (1.0 - (1.0 - WEIGHT).powi(2 * place));
            assert!((point.upper - WIDTH * 2.0 * factor.sqrt()).abs() < 1e-12);
        }
    }
}
