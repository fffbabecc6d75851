//! The full procedure of 2004 for volume and temperature, at 60 °F.
//!
//! The bay computes with the short form of [`super::volume`]; this is the yardstick that shows how near that is,
//! with the published examples of all groups. Only tests and comparisons call it.

/// Coefficients of the shift from the temperature scale of 1990 to that of 1968.
///
/// Source: API MPMS chapter 11.1-2004, section 11.1.5.3.
const SCALE_SHIFT: [f64; 8] =
    [-0.148_759, -0.267_408, 1.080_760, 1.269_056, -4.089_591, -1.871_251, 7.438_081, -3.536_296];

/// Shift of the reference point of 60 °F between the scales, in °F (section 11.1.5.4).
const D60: f64 = 0.013_749_795_47;

/// 60 °F of the scale of 1990 on the scale of 1968.
const REFERENCE_68: f64 = 60.006_874_9;

/// Constants of a group of fluids; densities in kg/m³ at 60 °F, per °F.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Group {
    /// K0 in (kg/m³)²/°F.
    pub k0: f64,
    /// K1 in (kg/m³)/°F.
    pub k1: f64,
    /// K2 in 1/°F.
    pub k2: f64,
}

impl Group {
    /// Lubricating oils (read in seven public implementations).
    pub const LUBRICATING: Self = Self { k0: 0.0, k1: 0.348_78, k2: 0.0 };
}

/// What the procedure computes on its way and at its end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Correction {
    /// Temperature on the scale of 1968, in °F.
    pub fahrenheit_68: f64,
    /// Density at 60 °F of that scale, in kg/m³.
    pub density_68: f64,
    /// Coefficient of expansion at 60 °F, per °F.
    pub coefficient: f64,
    /// Factor from the volume at this temperature to the volume at 60 °F.
    pub factor: f64,
}

/// The correction of a volume at a temperature to 60 °F.
///
/// `t68 = t90 - Σ a_i τ^i`, `τ = t_C / 630`; `A = d60/2 ((K0/ρ + K1)/ρ + K2)`,
/// `B = (2 K0 + K1 ρ) / (K0 + (K1 + K2 ρ) ρ)`,
/// `ρ* = ρ (1 + (exp(A (1 + 0.8 A)) - 1) / (1 + A (1 + 1.6 A) B))`, `α = (K0/ρ* + K1)/ρ* + K2`,
/// `CTL = exp(-α Δ (1 + 0.8 α (Δ + d60)))`, `Δ = t68 - 60.0068749`
///
/// * `fahrenheit` – t90 in °F, -58 to 302
/// * `density_60` – ρ in kg/m³ at 60 °F, by group; lubricating oils 800.9 to 1163.5
/// * `group` – constants of the group
///
/// Nothing where the numbers lie outside or give none.
///
/// # Source
/// API MPMS chapter 11.1-2004, ASTM D1250-04, sections 11.1.5 and 11.1.6.1.
///
/// # Example
/// ```
/// use standpipe_engine::formula::volume_2004::{Group, correction};
/// // Published example 1, crude oil at -27.7 °F: 1.033011591958.
/// let crude = Group { k0: 341.0957, k1: 0.0, k2: 0.0 };
/// let found = correction(-27.7, 946.918_739_324, crude).unwrap();
/// assert!((found.factor - 1.033_011_591_958).abs() < 2e-12);
/// ```
#[must_use]
pub fn correction(fahrenheit: f64, density_60: f64, group: Group) -> Option<Correction> {
    let inside = (-58.0..=302.0).contains(&fahrenheit) && density_60 > 0.0 && density_60.is_finite();
    if !inside {
        return None;
    }
    let fahrenheit_68 = shifted(fahrenheit);
    let Group { k0, k1, k2 } = group;
    let a = D60 / 2.0 * ((k0 / density_60 + k1) / density_60 + k2);
    let b = (2.0 * k0 + k1 * density_60) / (k0 + (k1 + k2 * density_60) * density_60);
    let growth = ((a * (1.0 + 0.8 * a)).exp() - 1.0) / (1.0 + a * (1.0 + 1.6 * a) * b);
    let density_68 = density_60 * (1.0 + growth);
    let coefficient = (k0 / density_68 + k1) / density_68 + k2;
    let difference = fahrenheit_68 - REFERENCE_68;
    let factor = (-coefficient * difference * (1.0 + 0.8 * coefficient * (difference + D60))).exp();
    factor.is_finite().then_some(Correction { fahrenheit_68, density_68, coefficient, factor })
}

/// The correction of a volume of lubricating oil at a temperature to 15 °C, by the full procedure.
///
/// `VCF15 = CTL(t) / CTL(15 °C)`, with ρ at 60 °F from `ρ15 = ρ60 CTL(59 °F)` by repeating
///
/// * `celsius` – t in °C, -50 to 150
/// * `density_15` – ρ15 in kg/m³
///
/// Gives the density at 60 °F in kg/m³ and the factor.
///
/// # Source
/// As [`correction`], section 11.1.7 (other base temperatures).
///
/// # Example
/// ```
/// // Computed: 850 kg/m³ at 60 °C is 0.966455 by the full procedure too.
/// let (_, factor) = standpipe_engine::formula::volume_2004::lubricating_to_15(60.0, 850.0).unwrap();
/// assert!((factor - 0.966_455).abs() < 5e-6);
/// ```
#[must_use]
pub fn lubricating_to_15(celsius: f64, density_15: f64) -> Option<(f64, f64)> {
    // The factor from 15 to 15.56 °C hardly moves with density: each round gains four digits.
    let mut density_60 = density_15;
    for _ in 0..8 {
        density_60 = density_15 / correction(59.0, density_60, Group::LUBRICATING)?.factor;
    }
    let at = |celsius: f64| correction(celsius * 1.8 + 32.0, density_60, Group::LUBRICATING);
    Some((density_60, at(celsius)?.factor / at(15.0)?.factor))
}

fn shifted(fahrenheit: f64) -> f64 {
    let celsius = (fahrenheit - 32.0) / 1.8;
    let tau = celsius / 630.0;
    let shift = SCALE_SHIFT.iter().rev().fold(0.0, |sum, coefficient| (sum + coefficient) * tau);
    (celsius - shift) * 1.8 + 32.0
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::formula::volume::correction_to_15;
    use crate::quantity::{Celsius, KilogramsPerCubicMetre};

    #[test]
    fn outside_its_range_the_procedure_gives_nothing() {
        for (fahrenheit, density) in
            [(-60.0, 850.0), (303.0, 850.0), (f64::NAN, 850.0), (60.0, f64::NAN), (60.0, 0.0)]
        {
            assert_eq!(correction(fahrenheit, density, Group::LUBRICATING), None);
        }
    }

    proptest! {
        #[test]
        fn at_the_reference_nothing_changes(density in 801.0_f64..1163.0) {
            prop_assert!((correction(60.0, density, Group::LUBRICATING).unwrap().factor - 1.0).abs() < 1e-9);
            prop_assert!((lubricating_to_15(15.0, density).unwrap().1 - 1.0).abs() < 1e-12);
        }

        #[test]
        fn the_short_form_of_the_bay_stays_near(density in 830.0_f64..880.0, celsius in -20.0_f64..120.0) {
            let (_, full) = lubricating_to_15(celsius, density).unwrap();
            let short = correction_to_15(
                KilogramsPerCubicMetre::new(density).unwrap(),
                Celsius::new(celsius).unwrap(),
            );
            prop_assert!((full - short).abs() <= 6.8e-6);
        }
    }
}
