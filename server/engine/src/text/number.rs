//! Numbers as a reader expects them: decimal point, true minus, no-break spaces.
//!
//! A thousand is set off by U+202F (narrow no-break space) and a unit by U+00A0 (no-break space); whoever
//! draws the text chooses the glyphs for both after the lines are broken. Nothing here decides how many
//! decimals are honest: an estimate brings them along, a reading is shown as it was typed.

use crate::quantity::Estimate;

/// Between groups of three digits.
const THOUSANDS_SPACE: char = '\u{202F}';
/// Between a number and its unit.
const UNIT_SPACE: char = '\u{00A0}';
/// The minus sign, which is as wide as a digit; the hyphen is not.
const MINUS: char = '\u{2212}';
/// More decimals than any instrument here has.
const DECIMALS_MAX: usize = 9;

/// A number with a fixed count of decimals (at most 9), for example `118 240`, `−0.55`.
///
/// Zero is never negative. What is not finite is shown as a dash, since it is no number that a person could
/// use.
#[must_use]
pub fn fixed(value: f64, decimals: usize) -> String {
    if !value.is_finite() {
        return "–".to_owned();
    }
    let plain = format!("{:.*}", decimals.min(DECIMALS_MAX), value.abs());
    let (whole, rest) = match plain.split_once('.') {
        Some((whole, rest)) => (whole, Some(rest)),
        None => (plain.as_str(), None),
    };
    let mut text = String::with_capacity(plain.len() + 8);
    // The sign is looked for after rounding: -0.4 with no decimals is 0, not -0.
    if value < 0.0 && plain.bytes().any(|digit| matches!(digit, b'1'..=b'9')) {
        text.push(MINUS);
    }
    for (index, digit) in whole.chars().enumerate() {
        if index > 0 && (whole.len() - index).is_multiple_of(3) {
            text.push(THOUSANDS_SPACE);
        }
        text.push(digit);
    }
    if let Some(rest) = rest {
        text.push('.');
        text.push_str(rest);
    }
    text
}

/// A number as it was stated: with the decimals it has, at most 4.
#[must_use]
pub fn plain(value: f64) -> String {
    let decimals = (0..4).find(|decimals| {
        let step = 10_f64.powi(*decimals);
        ((value * step).round() / step - value).abs() < 1e-9
    });
    fixed(value, decimals.and_then(|decimals| usize::try_from(decimals).ok()).unwrap_or(4))
}

/// A number with a unit after a no-break space, for example `3.05 kg`.
#[must_use]
pub fn with_unit(number: &str, unit: &str) -> String {
    format!("{number}{UNIT_SPACE}{unit}")
}

/// Litres, for example `9.40 L`.
#[must_use]
pub fn litres(value: f64, decimals: usize) -> String {
    with_unit(&fixed(value, decimals), "L")
}

/// Kilograms, for example `3.05 kg`.
#[must_use]
pub fn kilograms(value: f64, decimals: usize) -> String {
    with_unit(&fixed(value, decimals), "kg")
}

/// Degrees Celsius, for example `43 °C`.
#[must_use]
pub fn celsius(value: f64, decimals: usize) -> String {
    with_unit(&fixed(value, decimals), "°C")
}

/// Whole kilometres, for example `118 240 km`.
#[must_use]
pub fn kilometres(value: f64) -> String {
    with_unit(&fixed(value, 0), "km")
}

/// Newton metres, for example `22 N·m`.
#[must_use]
pub fn newton_metres(value: f64, decimals: usize) -> String {
    with_unit(&fixed(value, decimals), "N·m")
}

/// An estimate in figures: the value and the ends of its 95 % interval with the same decimals.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct EstimateText {
    /// The value.
    pub value: String,
    /// Lower end of the interval.
    pub least: String,
    /// Upper end of the interval.
    pub greatest: String,
}

/// An estimate rounded by its uncertainty, for example `0.55` from `0.31` to `0.79`.
///
/// `bounds` are the least and greatest value that can exist at all, for example (0, 1) for a share.
#[must_use]
pub fn estimate(estimate: &Estimate, bounds: (f64, f64)) -> EstimateText {
    let rounded = estimate.rounded_within(bounds);
    EstimateText {
        value: fixed(rounded.value, rounded.decimals),
        least: fixed(rounded.least, rounded.decimals),
        greatest: fixed(rounded.greatest, rounded.decimals),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn zero_is_never_negative() {
        assert_eq!(fixed(-0.4, 0), "0");
        assert_eq!(fixed(-0.0, 2), "0.00");
        assert_eq!(fixed(-0.004, 2), "0.00");
        assert_eq!(fixed(-0.006, 2), "−0.01");
    }

    #[test]
    fn thousands_are_set_off_by_a_narrow_no_break_space() {
        assert_eq!(fixed(118_240.0, 0), "118\u{202F}240");
        assert_eq!(fixed(1_000.5, 1), "1\u{202F}000.5");
        assert_eq!(fixed(999.0, 0), "999");
        assert_eq!(fixed(-1_234_567.0, 0), "−1\u{202F}234\u{202F}567");
    }

    #[test]
    fn a_unit_stands_after_a_no_break_space() {
        assert_eq!(litres(9.4, 2), "9.40\u{00A0}L");
        assert_eq!(celsius(-20.0, 0), "−20\u{00A0}°C");
        assert_eq!(kilometres(118_240.0), "118\u{202F}240\u{00A0}km");
        assert_eq!(newton_metres(22.0, 0), "22\u{00A0}N·m");
        assert_eq!(kilograms(3.05, 2), "3.05\u{00A0}kg");
    }

    #[test]
    fn what_is_not_finite_is_a_dash() {
        assert_eq!(fixed(f64::NAN, 1), "–");
        assert_eq!(fixed(f64::NEG_INFINITY, 1), "–");
    }

    #[test]
    fn an_estimate_brings_its_decimals() {
        let balance = Estimate::known(-0.8, 0.227_596);
        let text = estimate(&balance, (f64::NEG_INFINITY, f64::INFINITY));
        assert_eq!(
            (text.value.as_str(), text.least.as_str(), text.greatest.as_str()),
            ("−0.8", "−1.2", "−0.4")
        );
    }
}
