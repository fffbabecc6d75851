//! Chart of single values in their order, with limits from how much neighbours differ.
//!
//! The comparison of workshops shows a value a month by it.

/// d₂ of ranges of two values.
const D2: f64 = 1.128;
/// D₄ of ranges of two values.
const D4: f64 = 3.267;

/// Centre, limits, and which values lie outside.
#[derive(Clone, Debug, PartialEq)]
pub struct Chart {
    /// Mean of the values.
    pub centre: f64,
    /// Mean of the ranges between neighbours.
    pub mean_moving_range: f64,
    /// Lower limit.
    pub lower: f64,
    /// Upper limit.
    pub upper: f64,
    /// Upper limit of the ranges.
    pub range_upper: f64,
    /// Places of the values outside, from 0 on.
    pub outside: Vec<usize>,
    /// Places of the later value of each range outside, from 0 on.
    pub range_outside: Vec<usize>,
}

/// Chart of individuals with moving ranges of two; absent below two values or where one is no number.
///
/// `x̄ ± 3 MR/d₂`, ranges up to `D₄ MR`, MR the mean of `|xᵢ − xᵢ₋₁|`, d₂ = 1.128, D₄ = 3.267
///
/// * `values` – in their order, in any unit
///
/// # Source
/// ISO 7870-2:2023, control charts for individuals and moving ranges (constants for n = 2).
///
/// # Example
/// ```
/// // NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2 (from memory): 50.81, from 45.8159 to 55.8041.
/// use standpipe_engine::formula::individuals_chart::chart;
/// let flow = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];
/// let found = chart(&flow).unwrap();
/// assert!((found.lower - 45.8159).abs() < 5e-5 && (found.upper - 55.8041).abs() < 5e-5);
/// ```
#[must_use]
pub fn chart(values: &[f64]) -> Option<Chart> {
    if values.len() < 2 || values.iter().any(|value| !value.is_finite()) {
        return None;
    }
    let count = values.iter().map(|_| 1.0).sum::<f64>();
    let centre = values.iter().sum::<f64>() / count;
    let ranges: Vec<f64> =
        values.iter().zip(values.iter().skip(1)).map(|(before, value)| (value - before).abs()).collect();
    let mean_moving_range = ranges.iter().sum::<f64>() / (count - 1.0);
    let half = 3.0 * mean_moving_range / D2;
    let (lower, upper, range_upper) = (centre - half, centre + half, D4 * mean_moving_range);
    let places = |outside: Vec<bool>, first: usize| {
        let each = outside.into_iter().enumerate();
        each.filter_map(|(place, outside)| outside.then_some(place + first)).collect::<Vec<_>>()
    };
    Some(Chart {
        centre,
        mean_moving_range,
        lower,
        upper,
        range_upper,
        outside: places(values.iter().map(|value| *value < lower || *value > upper).collect(), 0),
        range_outside: places(ranges.iter().map(|range| *range > range_upper).collect(), 1),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_value_has_no_limits_and_what_is_no_number_neither() {
        assert_eq!(chart(&[1.0]), None);
        assert_eq!(chart(&[1.0, f64::NAN, 2.0]), None);
    }

    #[test]
    fn values_that_are_all_alike_have_nothing_outside() {
        let found = chart(&[0.2; 5]).unwrap();
        assert!(found.outside.is_empty() && found.range_outside.is_empty());
    }
}
