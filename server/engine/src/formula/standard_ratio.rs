//! How often something happened beside how often it would be expected of the same work elsewhere.
//!
//! A workshop that has more of the difficult transmissions is expected to have more that comes back. The comparison of
//! workshops calls this.

use super::proportion::Interval;
use statrs::distribution::{
    ChiSquared, Continuous as _, ContinuousCDF as _, DiscreteCDF as _, NegativeBinomial,
};

/// Observed beside expected, with its 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ratio {
    /// Observed divided by expected.
    pub ratio: f64,
    /// 95 % interval.
    pub interval: Interval,
}

/// Expected events of a workshop, by the rates of all workshops of each sort of job.
///
/// `E = Σ nᵥ xᵥ / Nᵥ`, and the variance of chance `Σ nᵥ pᵥ (1 − pᵥ)`, with pᵥ = xᵥ / Nᵥ
///
/// * `sorts` – of each sort nᵥ the jobs of the workshop, xᵥ the events and Nᵥ the jobs of all
///
/// # Source
/// Indirect standardisation: N. E. Breslow, N. E. Day, Statistical Methods in Cancer Research II, IARC 1987, chapter 2
/// (from memory).
#[must_use]
pub fn expected(sorts: &[(f64, f64, f64)]) -> (f64, f64) {
    let rate =
        |(own, events, all): &(f64, f64, f64)| if *all > 0.0 { (*own, events / all) } else { (*own, 0.0) };
    let rates: Vec<(f64, f64)> = sorts.iter().map(rate).collect();
    let sum = rates.iter().map(|(own, rate)| own * rate).sum();
    let variance = rates.iter().map(|(own, rate)| own * rate * (1.0 - rate)).sum();
    (sum, variance)
}

/// Observed divided by expected, with exact limits; absent where nothing is expected.
///
/// `from χ²(0.025; 2x)/2E to χ²(0.975; 2x + 2)/2E`
///
/// * `events` – x, observed
/// * `expected` – E, more than 0
///
/// # Source
/// F. Garwood, Biometrika 28 (1936) 437-442, limits of a Poisson mean; K. Ulm, American Journal of Epidemiology 131
/// (1990) 373-375, for standardised ratios (both from memory).
///
/// # Deviation
/// Events of few of many jobs are taken as Poisson, which makes the interval a little wide where they are frequent.
///
/// # Example
/// ```
/// // Garwood 1936 (from memory): 10 observed are compatible with 4.795 to 18.390 expected.
/// let found = standpipe_engine::formula::standard_ratio::ratio(10, 1.0).unwrap();
/// assert!((found.interval.least - 4.795).abs() < 5e-4 && (found.interval.greatest - 18.390).abs() < 1e-3);
/// ```
#[must_use]
#[allow(clippy::cast_precision_loss, reason = "no owner has so many jobs")]
pub fn ratio(events: u64, expected: f64) -> Option<Ratio> {
    if !(expected.is_finite() && expected > 0.0) {
        return None;
    }
    let x = events as f64;
    let least = if events == 0 { 0.0 } else { quantile(2.0 * x, 0.025)? / 2.0 };
    let greatest = quantile(2.0 * x + 2.0, 0.975)? / 2.0;
    let interval = Interval { least: least / expected, greatest: greatest / expected };
    Some(Ratio { ratio: x / expected, interval })
}

/// How much workshops differ in what happens to the same work, beyond chance: the variance of the true ratios.
///
/// `τ² = Σ ((x − E)² − V) / Σ E²`, not below 0
///
/// * `workshops` – of each x observed, E expected, V the variance of chance, as [`expected`] gives them
///
/// # Source
/// Moments of a gamma mixture of Poisson counts: D. Clayton, J. Kaldor, Biometrics 43 (1987) 671-681 (from memory).
///
/// # Deviation
/// All workshops weigh by what is expected of them, and none is pulled in: one far off makes the others look alike less,
/// which is on the safe side for whoever would be named.
#[must_use]
pub fn between(workshops: &[(f64, f64, f64)]) -> f64 {
    let beyond: f64 = workshops.iter().map(|(x, expected, variance)| (x - expected).powi(2) - variance).sum();
    let squares: f64 = workshops.iter().map(|(_, expected, _)| expected * expected).sum();
    if squares > 0.0 { (beyond / squares).max(0.0) } else { 0.0 }
}

/// Probability of so many or more where the true ratios of workshops scatter about 1.
///
/// `P(X ≥ x)`, X negative binomial with mean E and variance `E + τ² E²`
///
/// * `events` – x
/// * `expected` – E, more than 0
/// * `between` – τ², more than 0; see [`between`]
///
/// # Source
/// As [`between`].
///
/// # Example
/// ```
/// // Shape 4 and mean 8, against the sum of its terms.
/// let found = standpipe_engine::formula::standard_ratio::chance_of_as_many(20, 8.0, 0.25);
/// let mut sum = 1.0;
/// let mut part = (1.0_f64 / 3.0).powi(4);
/// for x in 0..20 {
///     sum -= part;
///     part *= (4.0 + f64::from(x)) / (f64::from(x) + 1.0) * 2.0 / 3.0;
/// }
/// assert!((found - sum).abs() < 1e-9);
/// ```
#[must_use]
pub fn chance_of_as_many(events: u64, expected: f64, between: f64) -> f64 {
    let Some(fewer) = events.checked_sub(1) else { return 1.0 };
    let shape = 1.0 / between;
    NegativeBinomial::new(shape, shape / (shape + expected)).map_or(1.0, |chance| chance.sf(fewer))
}

/// The library's inverse stops early; Newton steps on its distribution give the digits.
fn quantile(degrees_of_freedom: f64, p: f64) -> Option<f64> {
    let chi = ChiSquared::new(degrees_of_freedom).ok()?;
    let mut quantile = chi.inverse_cdf(p);
    for _ in 0..3 {
        let step = (chi.cdf(quantile) - p) / chi.pdf(quantile);
        if step.is_finite() && (quantile - step) > 0.0 {
            quantile -= step;
        }
    }
    Some(quantile)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn limits_equal_the_table_of_poisson_means() {
        // Garwood 1936 (from memory), 95 %.
        for (events, least, greatest) in
            [(0, 0.0, 3.689), (1, 0.0253, 5.572), (5, 1.623, 11.668), (20, 12.217, 30.889)]
        {
            let found = ratio(events, 1.0).unwrap().interval;
            assert!((found.least - least).abs() < 1e-3, "{events}: {found:?}");
            assert!((found.greatest - greatest).abs() < 1e-3, "{events}: {found:?}");
        }
    }

    #[test]
    fn workshops_that_differ_by_chance_alone_do_not_differ() {
        assert!(between(&[(9.0, 10.0, 10.0), (12.0, 10.0, 10.0), (8.0, 10.0, 10.0)]).abs() < 1e-12);
        // (20 − 10)² − 10 twice, by 3 × 100.
        let found = between(&[(20.0, 10.0, 10.0), (0.0, 10.0, 10.0), (10.0, 10.0, 0.0)]);
        assert!((found - 0.6).abs() < 1e-12, "{found}");
        assert!(between(&[]).abs() < 1e-12);
    }

    #[test]
    fn nothing_expected_is_no_ratio() {
        assert_eq!(ratio(3, 0.0), None);
        assert_eq!(ratio(3, f64::NAN), None);
    }

    #[test]
    fn a_workshop_with_more_difficult_work_is_expected_to_have_more() {
        let easy = (10.0, 10.0, 1_000.0);
        let difficult = (90.0, 50.0, 500.0);
        let (events, variance) = expected(&[easy, difficult]);
        assert!((events - 9.1).abs() < 1e-12 && (variance - (0.099 + 8.1)).abs() < 1e-12);
        assert_eq!(expected(&[(5.0, 0.0, 0.0)]), (0.0, 0.0));
    }
}
