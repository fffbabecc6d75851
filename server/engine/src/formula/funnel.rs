//! Limits of chance for a workshop's rate beside the rate of all, by its number of jobs.
//!
//! A small workshop is often far from the rate of all by chance alone; the limits say how far. Where workshops differ
//! more than chance has it without anything being wrong, the limits are widened. The comparison of workshops calls this.

use statrs::distribution::{Binomial, DiscreteCDF as _};

/// Fewer workshops than these do not tell how much they differ among each other (common practice, no source).
pub const SITES_FOR_SPREAD: usize = 10;

/// Limits of chance for a rate: 95 % and 99.8 %.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// Lower 99.8 % limit.
    pub least_998: f64,
    /// Lower 95 % limit.
    pub least_95: f64,
    /// Upper 95 % limit.
    pub greatest_95: f64,
    /// Upper 99.8 % limit.
    pub greatest_998: f64,
}

/// Where a rate lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Place {
    /// Inside the 95 % limits.
    Inside,
    /// Outside these, inside those of 99.8 %.
    Outside95,
    /// Outside the 99.8 % limits.
    Outside998,
}

impl Limits {
    /// Where a rate lies; on a limit is inside.
    #[must_use]
    pub fn place(&self, rate: f64) -> Place {
        if (self.least_95..=self.greatest_95).contains(&rate) {
            Place::Inside
        } else if (self.least_998..=self.greatest_998).contains(&rate) {
            Place::Outside95
        } else {
            Place::Outside998
        }
    }

    /// The limits widened about a target by a factor, for rates that differ more than by chance.
    ///
    /// # Source
    /// As [`spread`]: limits on the scale of z times √φ.
    #[must_use]
    pub fn widened(&self, target: f64, factor: f64) -> Self {
        let wide = |limit: f64| (target + factor * (limit - target)).clamp(0.0, 1.0);
        Self {
            least_998: wide(self.least_998),
            least_95: wide(self.least_95),
            greatest_95: wide(self.greatest_95),
            greatest_998: wide(self.greatest_998),
        }
    }
}

/// Exact binomial limits with interpolation; absent where there is no job or the target is no share.
///
/// `y_p = (r_p − α) / N`, r_p the least r with `P(R ≤ r) ≥ p`, `α = (P(R ≤ r_p) − p) / (P(R ≤ r_p) − P(R ≤ r_p − 1))`
///
/// * `jobs` – N, 1 or more
/// * `target` – rate of all, 0 to 1
///
/// # Source
/// D. J. Spiegelhalter, Statistics in Medicine 24 (2005) 1185-1202, appendix A.1.1; limits 95 % and 99.8 %.
///
/// # Deviation
/// A limit below zero is shown as zero.
///
/// # Example
/// ```
/// // 400 jobs at a rate of 3 of 100, by SciPy's binomial distribution: 1.31 to 4.66 of 100.
/// let found = standpipe_engine::formula::funnel::limits(400, 0.03).unwrap();
/// assert!((found.least_95 - 0.013_110_123).abs() < 1e-8 && (found.greatest_95 - 0.046_629_235).abs() < 1e-8);
/// ```
#[must_use]
pub fn limits(jobs: u64, target: f64) -> Option<Limits> {
    let chance = Binomial::new(target, jobs).ok().filter(|_| jobs > 0 && (0.0..=1.0).contains(&target))?;
    let limit = |p: f64| limit(&chance, jobs, p);
    Some(Limits {
        least_998: limit(0.001),
        least_95: limit(0.025),
        greatest_95: limit(0.975),
        greatest_998: limit(0.999),
    })
}

#[allow(clippy::cast_precision_loss, reason = "no owner has so many jobs")]
fn limit(chance: &Binomial, jobs: u64, p: f64) -> f64 {
    let (mut low, mut high) = (0, jobs);
    while low < high {
        let middle = low + (high - low) / 2;
        if chance.cdf(middle) >= p { high = middle } else { low = middle + 1 }
    }
    let up_to = chance.cdf(low);
    let before = low.checked_sub(1).map_or(0.0, |before| chance.cdf(before));
    let part = up_to - before;
    let alpha = if part > 0.0 { (up_to - p) / part } else { 0.0 };
    ((low as f64 - alpha) / jobs as f64).max(0.0)
}

/// Probability of so many or more by chance alone.
///
/// `P(R ≥ r)`, R binomial with N and θ
///
/// * `events` – r, 0 to N
/// * `jobs` – N
/// * `target` – θ, rate of all, 0 to 1
///
/// # Source
/// The exact tail of the distribution that [`limits`] are quantiles of.
#[must_use]
pub fn chance_of_as_many(events: u64, jobs: u64, target: f64) -> f64 {
    let Some(fewer) = events.checked_sub(1) else { return 1.0 };
    Binomial::new(target, jobs).map_or(1.0, |chance| chance.sf(fewer))
}

/// How much workshops differ beyond chance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread {
    /// Mean of the winsorised squares; 1 is chance alone.
    pub phi: f64,
    /// By how much limits are widened; 1 where they are not.
    pub factor: f64,
}

/// Distance of a rate from the target in standard deviations of chance.
///
/// `z = (x − Nθ) / √(Nθ(1 − θ))`
///
/// * `events` – x
/// * `expected` – Nθ; where jobs of several sorts are expected to differ, the sum over the sorts
/// * `variance` – Nθ(1 − θ), the sum over the sorts
#[must_use]
pub fn distance(events: f64, expected: f64, variance: f64) -> f64 {
    if variance > 0.0 { (events - expected) / variance.sqrt() } else { 0.0 }
}

/// How much workshops differ beyond chance, by the squares of their distances.
///
/// `φ = mean of z²`, a tenth of the distances at each end pulled in to the next one; limits are widened by √φ where
/// `φ > 1 + 2 √(2/k)`
///
/// * `distances` – z of k workshops, as [`distance`] gives them
///
/// # Source
/// D. J. Spiegelhalter, Statistics in Medicine 24 (2005) 1185-1202, section on over-dispersion. A tenth of k is cut to
/// the next lower whole number.
///
/// # Deviation
/// None; whether there are enough workshops for it is decided by the caller, see [`SITES_FOR_SPREAD`].
#[must_use]
pub fn spread(distances: &[f64]) -> Spread {
    let mut ordered: Vec<f64> = distances.iter().copied().filter(|z| z.is_finite()).collect();
    ordered.sort_by(f64::total_cmp);
    let pulled = ordered.len() / 10;
    let (Some(low), Some(high)) = (ordered.get(pulled).copied(), ordered.iter().rev().nth(pulled).copied())
    else {
        return Spread { phi: 1.0, factor: 1.0 };
    };
    let count = ordered.iter().map(|_| 1.0).sum::<f64>();
    let phi = ordered.iter().map(|z| z.clamp(low, high).powi(2)).sum::<f64>() / count;
    let widen = phi > 1.0 + 2.0 * (2.0 / count).sqrt();
    Spread { phi, factor: if widen { phi.sqrt() } else { 1.0 } }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn nothing_is_said_of_no_job_or_of_what_is_no_share() {
        assert_eq!(limits(0, 0.1), None);
        assert_eq!(limits(20, 1.1), None);
        assert_eq!(limits(20, f64::NAN), None);
        assert!((chance_of_as_many(0, 20, 0.1) - 1.0).abs() < 1e-15);
    }

    #[test]
    fn one_workshop_far_off_does_not_widen_the_limits_of_ten() {
        let mut distances = vec![0.3, -0.8, 0.5, -0.2, 0.9, -1.1, 0.1, -0.4, 0.7];
        distances.push(9.0);
        assert!((spread(&distances).factor - 1.0).abs() < 1e-12, "{:?}", spread(&distances));
        assert!((spread(&[]).factor - 1.0).abs() < 1e-12);
    }

    proptest! {
        #[test]
        fn limits_hold_the_target_and_stand_in_order(jobs in 1_u64..3_000, target in 0.001_f64..0.9) {
            let found = limits(jobs, target).unwrap();
            let ordered = [found.least_998, found.least_95, found.greatest_95, found.greatest_998];
            prop_assert!(ordered.windows(2).all(|pair| pair[0] <= pair[1] + 1e-12), "{found:?}");
            prop_assert!(found.least_95 <= target);
            let wide = found.widened(target, 2.0);
            prop_assert!(wide.least_998 <= found.least_998 + 1e-12 && wide.greatest_998 + 1e-12 >= found.greatest_998.min(1.0));
        }
    }
}
