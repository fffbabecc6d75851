//! Viscosity index: how little a fluid thins between 40 and 100 °C.
//!
//! Computed from the two viscosities of a laboratory letter or data sheet. It says which kind of fluid this is,
//! not whether it is worn. The laboratory letter calls it.

mod table;

/// Which procedure of the standard gave the index.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Procedure {
    /// Up to 100.
    A,
    /// Above 100.
    B,
}

/// A viscosity index.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ViscosityIndex {
    /// The index, not rounded.
    pub value: f64,
    /// Which procedure gave it.
    pub procedure: Procedure,
    /// L in mm²/s: viscosity at 40 °C of the oil of index 0 that is as thick at 100 °C.
    pub l: f64,
    /// H in mm²/s: the same of the oil of index 100.
    pub h: f64,
}

impl ViscosityIndex {
    /// The index as the standard reports it: whole, a half to the even number.
    ///
    /// # Source
    /// ASTM D2270, section 5 (rounding by ASTM E29).
    #[must_use]
    pub fn rounded(&self) -> f64 {
        self.value.round_ties_even()
    }
}

/// Viscosity index from the viscosities at 40 and at 100 °C.
///
/// A (U ≥ H): `VI = 100 (L - U) / (L - H)`.
/// B (U < H): `N = log₁₀(H / U) / log₁₀ Y`, `VI = 100 + (10^N - 1) / 0.00715`.
/// L and H from table 1 by linear interpolation for Y from 2 to 70, else
/// `L = 0.8353 Y² + 14.67 Y - 216`, `H = 0.1684 Y² + 11.85 Y - 97`.
///
/// * `at_40` – U, kinematic viscosity at 40 °C in mm²/s, more than at 100 °C
/// * `at_100` – Y, kinematic viscosity at 100 °C in mm²/s, 2 or more
///
/// Nothing below 2 mm²/s at 100 °C, where the index is not defined, and where the fluid would thicken.
///
/// # Source
/// ASTM D2270 (ISO 2909), sections 5 and 6.
///
/// # Deviation
/// The worked example of procedure B rounds H to 28.97 first and prints 156.37; without that it is 156.42.
///
/// # Example
/// ```
/// // Worked example of procedure A: 73.30 and 8.86 mm²/s give 92.43, reported as 92.
/// let index = standpipe_engine::formula::viscosity_index::viscosity_index(73.30, 8.86).unwrap();
/// assert!((index.value - 92.43).abs() < 0.005);
/// assert_eq!(index.rounded(), 92.0);
/// ```
#[must_use]
pub fn viscosity_index(at_40: f64, at_100: f64) -> Option<ViscosityIndex> {
    let usable = at_100 >= 2.0 && at_40 > at_100 && at_40.is_finite();
    if !usable {
        return None;
    }
    let (l, h) = reference_oils(at_100)?;
    let (value, procedure) = if at_40 >= h {
        (100.0 * (l - at_40) / (l - h), Procedure::A)
    } else {
        let n = (h / at_40).log10() / at_100.log10();
        (100.0 + (10.0_f64.powf(n) - 1.0) / 0.00715, Procedure::B)
    };
    value.is_finite().then_some(ViscosityIndex { value, procedure, l, h })
}

/// L and H for a viscosity at 100 °C of 2 mm²/s or more.
fn reference_oils(at_100: f64) -> Option<(f64, f64)> {
    let pair = table::ROWS.windows(2).find_map(|pair| match pair {
        [low, high] if (low.0..=high.0).contains(&at_100) => Some((*low, *high)),
        _ => None,
    });
    if let Some((low, high)) = pair {
        let share = (at_100 - low.0) / (high.0 - low.0);
        return Some((low.1 + share * (high.1 - low.1), low.2 + share * (high.2 - low.2)));
    }
    let square = at_100 * at_100;
    (at_100 > 70.0)
        .then_some((0.8353 * square + 14.67 * at_100 - 216.0, 0.1684 * square + 11.85 * at_100 - 97.0))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn there_is_no_index_where_the_standard_defines_none() {
        for (at_40, at_100) in
            [(7.0, 1.99), (5.0, 5.0), (4.0, 8.0), (f64::NAN, 5.0), (20.0, f64::NAN), (f64::INFINITY, 5.0)]
        {
            assert!(viscosity_index(at_40, at_100).is_none(), "{at_40} {at_100}");
        }
    }

    #[test]
    fn the_table_and_the_equation_meet_at_70() {
        let (inside, outside) = (reference_oils(70.0).unwrap(), reference_oils(70.0 + 1e-9).unwrap());
        assert!((inside.0 / outside.0 - 1.0).abs() < 1e-3 && (inside.1 / outside.1 - 1.0).abs() < 1e-3);
    }

    proptest! {
        #[test]
        fn both_procedures_meet_at_100(at_100 in 2.0_f64..120.0) {
            let (_, h) = reference_oils(at_100).unwrap();
            let (below, above) =
                (viscosity_index(h, at_100).unwrap(), viscosity_index(h * (1.0 - 1e-12), at_100).unwrap());
            prop_assert_eq!((below.procedure, above.procedure), (Procedure::A, Procedure::B));
            prop_assert!((below.value - 100.0).abs() < 1e-9 && (above.value - 100.0).abs() < 1e-6);
        }

        #[test]
        fn what_is_thicker_at_40_has_the_lower_index(at_100 in 2.0_f64..80.0, ratio in 1.5_f64..12.0) {
            let thin = viscosity_index(at_100 * ratio, at_100).unwrap();
            let thick = viscosity_index(at_100 * ratio * 1.01, at_100).unwrap();
            prop_assert!(thick.value < thin.value);
        }
    }
}
