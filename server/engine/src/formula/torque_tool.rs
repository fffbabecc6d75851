//! Torque tools: how far one is off, and until when it may be used.
//!
//! Pure numbers and days. Which tool was used and what its checks were is the site's register.

use jiff::{Span, civil::Date};

/// Relative deviation of a torque tool, in percent.
///
/// `a = 100 (X_a − X_r) / X_r`
///
/// * `shown` – X_a, what the tool showed or was set to, in N·m
/// * `reference` – X_r, what the reference showed, in N·m, more than 0
///
/// # Source
/// ISO 6789-1:2017, relative deviation.
///
/// # Example
/// ```
/// use standpipe_engine::formula::torque_tool::deviation_percent;
/// assert!((deviation_percent(10.0, 10.35) + 3.381_643).abs() < 5e-7);
/// ```
#[must_use]
pub fn deviation_percent(shown: f64, reference: f64) -> f64 {
    100.0 * (shown - reference) / reference
}

/// Largest deviation in percent where neither the tool nor its certificate states one: the larger of the two that
/// ISO 6789-1:2017 has by type, class and range (class table from memory).
pub const LIMIT_TAKEN_PERCENT: f64 = 6.0;

/// Whether a deviation lies inside the limit, the limit included.
///
/// The deviation is rounded to six decimals before, so that a torque typed on the limit is inside it. What is no
/// number is outside.
///
/// * `deviation` – in percent
/// * `limit` – largest deviation, in percent; ISO 6789-1 has 4 and 6 by type, class and range (class table from memory)
#[must_use]
pub fn is_inside(deviation: f64, limit: f64) -> bool {
    (deviation * 1e6).round().abs() <= limit * 1e6
}

/// The last day on which a tool may be used: the day of its last good check, so many months later.
///
/// The day itself is included; 29 February becomes 28 February where the year has no other.
///
/// * `checked` – day of the last good check
/// * `months` – months between checks, 12 where the workshop has no procedure of its own
///
/// # Source
/// ISO 6789-1:2017, conformance test during use (from memory): 12 months or 5 000 cycles, whichever comes first.
#[must_use]
pub fn due_on(checked: Date, months: u16) -> Date {
    checked.saturating_add(Span::new().months(i64::from(months)))
}

/// What is known of a tool on the day it is used.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Standing {
    /// The last day by its last good check; absent where it was never checked.
    pub due_on: Option<Date>,
    /// Day of the use.
    pub day: Date,
    /// Uses since the last good check.
    pub uses: f64,
    /// Uses between checks.
    pub uses_most: f64,
    /// Whether it was overloaded, dropped or repaired since.
    pub overloaded: bool,
}

/// Why a tool may not be used.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unusable {
    /// It was never checked.
    NeverChecked,
    /// Its check is older than the months between checks.
    Old,
    /// It was used more often than between checks.
    Worn,
    /// It was overloaded, dropped or repaired since its check.
    Overloaded,
}

/// Every reason why a tool may not be used; empty where it may.
///
/// The last day and the last use are included: a limit is "more than".
///
/// # Source
/// ISO 6789-1:2017, conformance test during use (from memory), also after overload or repair.
#[must_use]
pub fn unusable(standing: &Standing) -> Vec<Unusable> {
    let Some(due_on) = standing.due_on else {
        // What happened to it counts although nothing is known from before.
        let overloaded = standing.overloaded.then_some(Unusable::Overloaded);
        return [Unusable::NeverChecked].into_iter().chain(overloaded).collect();
    };
    [
        (standing.day > due_on, Unusable::Old),
        (standing.uses > standing.uses_most, Unusable::Worn),
        (standing.overloaded, Unusable::Overloaded),
    ]
    .into_iter()
    .filter_map(|(is, why)| is.then_some(why))
    .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_no_number_is_outside() {
        assert!(!is_inside(deviation_percent(10.0, 0.0), 4.0));
        assert!(!is_inside(f64::NAN, 4.0));
    }

    #[test]
    fn all_reasons_are_told_at_once() {
        let standing = Standing {
            due_on: Some(Date::constant(2026, 1, 1)),
            day: Date::constant(2026, 1, 2),
            uses: 5_001.0,
            uses_most: 5_000.0,
            overloaded: true,
        };
        assert_eq!(unusable(&standing), [Unusable::Old, Unusable::Worn, Unusable::Overloaded]);
        let never = Standing { due_on: None, ..standing };
        assert_eq!(unusable(&never), [Unusable::NeverChecked, Unusable::Overloaded]);
    }
}
