//! Physical quantities with their bounds, and estimates with their uncertainty.
//!
//! A newtype here can only hold a number inside its bounds, so no formula meets NaN or infinity. An
//! [`Estimate`] is what formulas give back. Nothing here knows where a number came from; the kinds of entries,
//! the catalogue and the formulas use it.

use statrs::distribution::{Continuous, ContinuousCDF, StudentsT};

/// A number outside the bounds of its quantity.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error(
    "{quantity} must be from {least} to {greatest} {unit}, found {value}; read it again and enter it with its unit"
)]
pub struct OutOfBounds {
    /// What was measured.
    pub quantity: &'static str,
    /// The number that was refused.
    pub value: f64,
    /// Least value allowed.
    pub least: f64,
    /// Greatest value allowed.
    pub greatest: f64,
    /// Unit of the three numbers.
    pub unit: &'static str,
}

/// Refuses a number outside `least..=greatest`; asks for "inside", so that NaN is refused too.
fn bounded(
    quantity: &'static str,
    value: f64,
    (least, greatest): (f64, f64),
    unit: &'static str,
) -> Result<f64, OutOfBounds> {
    if value >= least && value <= greatest {
        Ok(value)
    } else {
        Err(OutOfBounds { quantity, value, least, greatest, unit })
    }
}

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $label:literal, $unit:literal, $least:literal, $greatest:literal) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
        pub struct $name(f64);

        impl $name {
            /// Least value allowed.
            pub const LEAST: f64 = $least;
            /// Greatest value allowed.
            pub const GREATEST: f64 = $greatest;
            /// Unit of the value.
            pub const UNIT: &'static str = $unit;

            /// The quantity, if the number lies inside the bounds (both included).
            ///
            /// # Errors
            /// [`OutOfBounds`] for any other number, NaN included.
            pub fn new(value: f64) -> Result<Self, OutOfBounds> {
                bounded($label, value, ($least, $greatest), $unit).map(Self)
            }

            /// The number in the unit of the type.
            #[must_use]
            pub const fn get(self) -> f64 {
                self.0
            }
        }
    };
}

quantity!(
    /// Volume of fluid in litres, 0 to 1000: more than any vehicle or container of a bay holds.
    Litres, "volume", "L", 0.0, 1000.0
);
quantity!(
    /// Mass of fluid in kilograms, 0 to 1000.
    Kilograms, "mass", "kg", 0.0, 1000.0
);
quantity!(
    /// Temperature in degrees Celsius, -60 to 250: colder than any bay, hotter than any fluid that still runs.
    Celsius, "temperature", "°C", -60.0, 250.0
);
quantity!(
    /// Distance in kilometres, 0 to 5 million.
    Kilometres, "distance", "km", 0.0, 5_000_000.0
);
quantity!(
    /// Torque in newton metres, 0 to 1000.
    NewtonMetres, "torque", "N·m", 0.0, 1000.0
);
quantity!(
    /// Density in kilograms per cubic metre, 800.9 to 1163.5.
    ///
    /// # Source
    /// Range of the lubricating group of API MPMS chapter 11.1-2004 (read once, in a public implementation).
    KilogramsPerCubicMetre, "density", "kg/m³", 800.9, 1163.5
);
quantity!(
    /// A part of a whole, 0 to 1.
    Share, "share", "of 1", 0.0, 1.0
);

/// A computed value with its standard uncertainty, both in the same unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// The value.
    pub value: f64,
    /// Standard uncertainty, 0 or greater.
    pub standard_uncertainty: f64,
    /// Effective degrees of freedom of the uncertainty; infinite where the uncertainty is taken as known.
    pub degrees_of_freedom: f64,
}

/// A value and its 95 % interval, rounded to the same decimal place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rounded {
    /// The value.
    pub value: f64,
    /// Lower end of the interval.
    pub least: f64,
    /// Upper end of the interval.
    pub greatest: f64,
    /// Decimals to print; 0 where the rounding is to units, tens or more.
    pub decimals: usize,
}

impl Estimate {
    /// A value whose standard uncertainty is taken as known (infinite degrees of freedom).
    #[must_use]
    pub const fn known(value: f64, standard_uncertainty: f64) -> Self {
        Self { value, standard_uncertainty, degrees_of_freedom: f64::INFINITY }
    }

    /// A value of which nothing is known but that it lies within `limit` of `value`.
    ///
    /// # Source
    /// JCGM 100:2008, 4.3.7 (rectangular distribution).
    #[must_use]
    pub fn within(value: f64, limit: f64) -> Self {
        Self::known(value, limit / 3.0_f64.sqrt())
    }

    /// As [`Estimate::within`], where the middle is the most likely.
    ///
    /// # Source
    /// JCGM 100:2008, 4.3.9 (triangular distribution).
    #[must_use]
    pub fn within_likely_middle(value: f64, limit: f64) -> Self {
        Self::known(value, limit / 6.0_f64.sqrt())
    }

    /// The same estimate in another unit: value and uncertainty times `factor`.
    #[must_use]
    pub fn scaled(self, factor: f64) -> Self {
        Self {
            value: self.value * factor,
            standard_uncertainty: self.standard_uncertainty * factor.abs(),
            ..self
        }
    }

    /// Half the width of the 95 % interval: `U = k(95 %, ν) u`.
    #[must_use]
    pub fn expanded95(&self) -> f64 {
        coverage_factor(self.degrees_of_freedom, 0.95) * self.standard_uncertainty
    }

    /// Lower and upper end of the 95 % interval.
    #[must_use]
    pub fn interval95(&self) -> (f64, f64) {
        let half = self.expanded95();
        (self.value - half, self.value + half)
    }

    /// The 95 % interval cut to what can exist, for example 0 to 1 for a share.
    #[must_use]
    pub fn interval95_within(&self, (least, greatest): (f64, f64)) -> (f64, f64) {
        let (low, high) = self.interval95();
        (low.max(least).min(greatest), high.min(greatest).max(least))
    }

    /// Value and interval for display, rounded by the uncertainty and cut to `bounds`.
    ///
    /// All three are rounded to the place of the first significant digit of the standard uncertainty, or one
    /// place finer if that digit is 1 (a step of 1 in 1 would be as coarse as the uncertainty itself). Without
    /// an uncertainty six decimals remain.
    #[must_use]
    pub fn rounded_within(&self, bounds: (f64, f64)) -> Rounded {
        let place = rounding_place(self.standard_uncertainty);
        let (low, high) = self.interval95_within(bounds);
        Rounded {
            value: round_to(self.value, place),
            least: round_to(low, place),
            greatest: round_to(high, place),
            decimals: usize::try_from(-place).unwrap_or(0),
        }
    }
}

/// Six decimals at most: finer than anything measured here.
const FINEST_PLACE: i32 = -6;

/// Power of ten to round to, for example -2 for an uncertainty of 0.19 and -1 for 0.23.
fn rounding_place(uncertainty: f64) -> i32 {
    if !(uncertainty.is_finite() && uncertainty > 0.0) {
        return FINEST_PLACE;
    }
    let place = uncertainty.log10().floor();
    let leading = uncertainty / 10.0_f64.powf(place);
    // The value is far inside the range of i32: an f64 has exponents up to 308.
    #[allow(clippy::cast_possible_truncation)]
    let place = place as i32;
    let place = if leading < 2.0 { place - 1 } else { place };
    place.max(FINEST_PLACE)
}

fn round_to(value: f64, place: i32) -> f64 {
    let rounded = if place < 0 {
        // Multiplying by a whole power of ten is exact enough that 1.15 keeps its digits; dividing by 0.01 is not.
        let factor = 10.0_f64.powi(-place);
        (value * factor).round() / factor
    } else {
        let factor = 10.0_f64.powi(place);
        (value / factor).round() * factor
    };
    if rounded == 0.0 { 0.0 } else { rounded }
}

/// `k`, so that `±k u` holds the stated probability: the two-sided quantile of Student's t.
///
/// `k = t(1 - (1 - p)/2; floor(ν + 0.005))`
///
/// * `degrees_of_freedom` – ν, 1 or more (less is taken as 1); infinite gives the normal distribution
/// * `probability` – p, inside 0 to 1 (both excluded)
///
/// # Source
/// JCGM 100:2008, G.3.2, G.4.1 note 1 and table G.2.
///
/// # Deviation
/// The Guide cuts ν to the next lower integer. Its own example in G.4.1 has 18.9987, prints 19.0 and takes
/// k = 2.09, which a plain cut misses (18, 2.10); hence the guard of 0.005.
///
/// # Example
/// ```
/// // JCGM 100:2008, table G.2: ν = 16, p = 99 % gives 2.92.
/// let k = standpipe_engine::quantity::coverage_factor(16.6, 0.99);
/// assert!((k - 2.92).abs() < 0.005);
/// ```
#[must_use]
pub fn coverage_factor(degrees_of_freedom: f64, probability: f64) -> f64 {
    let upper = 0.5 + probability / 2.0;
    let whole = (degrees_of_freedom + 0.005).floor().max(1.0);
    let Ok(student) = StudentsT::new(0.0, 1.0, whole) else {
        return f64::NAN;
    };
    if !whole.is_finite() || whole > 1e6 {
        return normal_quantile(upper);
    }
    // The library's inverse stops early; two Newton steps on its distribution give all the digits.
    let mut quantile = student.inverse_cdf(upper);
    for _ in 0..2 {
        quantile -= (student.cdf(quantile) - upper) / student.pdf(quantile);
    }
    quantile
}

fn normal_quantile(upper: f64) -> f64 {
    statrs::distribution::Normal::standard().inverse_cdf(upper)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const ANYWHERE: (f64, f64) = (f64::NEG_INFINITY, f64::INFINITY);

    #[test]
    fn bounds_are_included_and_nan_is_refused() {
        assert!(Litres::new(0.0).is_ok() && Litres::new(1000.0).is_ok());
        assert!(Litres::new(-0.001).is_err() && Litres::new(1000.001).is_err());
        assert!(Celsius::new(f64::NAN).is_err() && Share::new(f64::INFINITY).is_err());
    }

    #[test]
    fn a_refusal_names_quantity_value_bounds_and_unit() {
        let refused = NewtonMetres::new(-3.0).unwrap_err();
        assert_eq!(
            refused.to_string(),
            "torque must be from 0 to 1000 N·m, found -3; read it again and enter it with its unit"
        );
    }

    #[test]
    fn coverage_factors_equal_the_guide_s_table() {
        // JCGM 100:2008, table G.2, columns 95 % and 99 % (from memory): half the last printed digit.
        for (freedom, probability, printed) in [
            (1.0, 0.95, 12.71),
            (2.0, 0.95, 4.30),
            (5.0, 0.95, 2.57),
            (10.0, 0.95, 2.23),
            (19.0, 0.95, 2.09),
            (50.0, 0.95, 2.01),
            (100.0, 0.95, 1.984),
            (f64::INFINITY, 0.95, 1.960),
            (5.0, 0.99, 4.03),
            (16.0, 0.99, 2.92),
        ] {
            let found = coverage_factor(freedom, probability);
            assert!((found - printed).abs() <= 0.005, "{freedom}: {found}, printed {printed}");
        }
    }

    #[test]
    fn known_uncertainty_uses_the_normal_quantile() {
        assert!((coverage_factor(f64::INFINITY, 0.95) - 1.959_963_984_540_054).abs() < 1e-12);
    }

    #[test]
    fn the_place_of_rounding_follows_the_first_digit_of_the_uncertainty() {
        for (uncertainty, value, expected, decimals) in [
            (0.194, 1.1537, 1.15, 2),
            (0.2276, -0.8349, -0.8, 1),
            (0.0123, 7.30762, 7.308, 3),
            (0.96, 12.34, 12.3, 1),
            (1.4, 84.26, 84.3, 1),
            (4.1, 84.26, 84.0, 0),
            (41.0, 1234.0, 1230.0, 0),
        ] {
            let rounded = Estimate::known(value, uncertainty).rounded_within(ANYWHERE);
            assert!((rounded.value - expected).abs() < 1e-9, "{uncertainty}: {rounded:?}");
            assert_eq!(rounded.decimals, decimals, "{uncertainty}");
        }
    }

    #[test]
    fn an_interval_can_be_cut_to_what_exists() {
        let share = Estimate::known(0.97, 0.04);
        assert_eq!(share.interval95_within((0.0, 1.0)).1, 1.0);
        assert_eq!(share.rounded_within((0.0, 1.0)).greatest, 1.0);
    }

    proptest! {
        #[test]
        fn the_interval_holds_the_value_and_never_narrows_with_fewer_degrees(
            value in -1e3_f64..1e3, uncertainty in 0.0_f64..10.0, freedom in 1.0_f64..200.0,
        ) {
            let known = Estimate::known(value, uncertainty);
            let (low, high) = known.interval95();
            prop_assert!(low <= value && value <= high);
            let unsure = Estimate { degrees_of_freedom: freedom, ..known };
            prop_assert!(unsure.expanded95() >= known.expanded95() - 1e-9);
        }
    }
}
