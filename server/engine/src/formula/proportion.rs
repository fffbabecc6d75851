//! The share of jobs of which something is so, with its interval.
//!
//! Few jobs give a wide interval, and none that came back is not a rate of zero. The comparison of workshops calls this.

/// Two-sided 95 % quantile of the normal distribution.
pub const Z_95: f64 = 1.959_963_984_540_054;

/// Ends of an interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval {
    /// Lower end.
    pub least: f64,
    /// Upper end.
    pub greatest: f64,
}

/// 95 % interval of a share; absent where there is no job, or more are counted than there are.
///
/// `(p + z²/2n ± z √(p(1 − p)/n + z²/4n²)) / (1 + z²/n)`, with p = x/n
///
/// * `events` – x, 0 to n
/// * `jobs` – n, 1 or more
///
/// # Source
/// E. B. Wilson, Journal of the American Statistical Association 22 (1927) 209-212; R. G. Newcombe, Statistics in
/// Medicine 17 (1998) 857-872, table I, method 3 (printed values from memory, all reproduced).
///
/// # Example
/// ```
/// // Newcombe 1998, table I: 81 of 263 is 0.2553 to 0.3662.
/// let found = standpipe_engine::formula::proportion::wilson(81, 263).unwrap();
/// assert!((found.least - 0.2553).abs() < 5e-5 && (found.greatest - 0.3662).abs() < 5e-5);
/// ```
#[must_use]
#[allow(clippy::cast_precision_loss, reason = "no owner has so many jobs")]
pub fn wilson(events: u64, jobs: u64) -> Option<Interval> {
    if jobs == 0 || events > jobs {
        return None;
    }
    let (x, n) = (events as f64, jobs as f64);
    let (p, z2) = (x / n, Z_95 * Z_95);
    let centre = p + z2 / (2.0 * n);
    let half = Z_95 * (p * (1.0 - p) / n + z2 / (4.0 * n * n)).sqrt();
    let all = 1.0 + z2 / n;
    // None and all are the ends to the last digit, not to rounding.
    let least = if events == 0 { 0.0 } else { ((centre - half) / all).max(0.0) };
    let greatest = if events == jobs { 1.0 } else { ((centre + half) / all).min(1.0) };
    Some(Interval { least, greatest })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn nothing_is_said_of_no_job_or_of_more_than_all() {
        assert_eq!(wilson(0, 0), None);
        assert_eq!(wilson(3, 2), None);
    }

    proptest! {
        #[test]
        fn the_interval_holds_the_share_and_stays_a_share(jobs in 1_u64..100_000, part in 0.0_f64..=1.0) {
            #[allow(clippy::cast_precision_loss, clippy::cast_possible_truncation, clippy::cast_sign_loss)]
            let events = ((jobs as f64) * part).floor() as u64;
            let found = wilson(events, jobs).unwrap();
            #[allow(clippy::cast_precision_loss)]
            let share = events as f64 / jobs as f64;
            prop_assert!(0.0 <= found.least && found.least <= share + 1e-12);
            prop_assert!(share - 1e-12 <= found.greatest && found.greatest <= 1.0);
        }
    }
}
