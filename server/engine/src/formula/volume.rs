//! Fluid volume, temperature and mass: everything to litres at 15 °C.
//!
//! Warm fluid fills more than cold fluid, so litres are only compared at one temperature. The balance and the
//! share after the pan use these litres; what a person poured or drained is shown as it was read.

use super::balance::combined;
use crate::quantity::{Celsius, Estimate, KilogramsPerCubicMetre};

/// Reference temperature of all volumes, in °C.
pub const REFERENCE_CELSIUS: f64 = 15.0;

/// Constant of the lubricating group in kg/(m³ K).
///
/// Source: API/ASTM-IP table 54D of 1980 (ISO 91), read in six public implementations.
const K1: f64 = 0.6278;

/// Litres per cubic metre.
const LITRES_PER_CUBIC_METRE: f64 = 1000.0;

/// Factor that brings a volume at temperature t to 15 °C.
///
/// `VCF = exp(-a ΔT (1 + 0.8 a ΔT))`, `a = 0.6278 / ρ15`, `ΔT = t - 15`
///
/// * `density` – ρ15 in kg/m³, 800.9 to 1163.5
/// * `temperature` – t in °C, -50 to 150
///
/// # Source
/// Table 54D of 1980 (lubricating oils), ISO 91; API MPMS chapter 11.1.
///
/// # Deviation
/// The full procedure of 2004 differs by at most 6.8e-6 from this form over -20 to 120 °C and 830 to 880 kg/m³
/// (computed), far less than a bay can measure. Outside -50 to 150 °C the form is extended as it stands.
///
/// # Example
/// ```
/// use standpipe_engine::formula::volume::correction_to_15;
/// use standpipe_engine::quantity::{Celsius, KilogramsPerCubicMetre};
/// // 850 kg/m³ at 60 °C: 0.966455.
/// let factor = correction_to_15(KilogramsPerCubicMetre::new(850.0).unwrap(), Celsius::new(60.0).unwrap());
/// assert!((factor - 0.966_455).abs() < 5e-7);
/// ```
#[must_use]
pub fn correction_to_15(density: KilogramsPerCubicMetre, temperature: Celsius) -> f64 {
    factor(density.get(), temperature.get())
}

/// Density at temperature t, in kg/m³: `ρ(t) = ρ15 VCF(t)`.
///
/// * `density` – ρ15 in kg/m³, 800.9 to 1163.5
/// * `temperature` – t in °C, -50 to 150
///
/// # Source
/// As [`correction_to_15`]; the mass does not change with temperature.
///
/// # Example
/// ```
/// use standpipe_engine::formula::volume::density_at;
/// use standpipe_engine::quantity::{Celsius, KilogramsPerCubicMetre};
/// // 850 × 0.9361935 = 795.76 kg/m³ at 100 °C.
/// let density = density_at(KilogramsPerCubicMetre::new(850.0).unwrap(), Celsius::new(100.0).unwrap());
/// assert!((density - 795.76).abs() < 0.005);
/// ```
#[must_use]
pub fn density_at(density: KilogramsPerCubicMetre, temperature: Celsius) -> f64 {
    density.get() * correction_to_15(density, temperature)
}

/// A volume at 15 °C in litres, from a volume at another temperature.
///
/// `V15 = V VCF(t)`, `u² = (VCF u(V))² + (V VCF a (1 + 1.6 a ΔT) u(t))²`
///
/// * `litres` – V in litres as read
/// * `celsius` – t in °C with its uncertainty
/// * `density` – ρ15 in kg/m³; a wrong density of a few percent changes VCF by less than 0.2 % and is left out
///
/// # Source
/// As [`correction_to_15`]; the sensitivity is its derivative. JCGM 100:2008, 5.1.2.
///
/// # Example
/// ```
/// use standpipe_engine::formula::volume::volume_at_15;
/// use standpipe_engine::quantity::{Estimate, KilogramsPerCubicMetre};
/// let density = KilogramsPerCubicMetre::new(850.0).unwrap();
/// let cold = volume_at_15(Estimate::known(4.0, 0.03), Estimate::known(60.0, 10.0), density);
/// assert!((cold.value - 3.865_82).abs() < 5e-6);
/// ```
#[must_use]
pub fn volume_at_15(litres: Estimate, celsius: Estimate, density: KilogramsPerCubicMetre) -> Estimate {
    let correction = factor(density.get(), celsius.value);
    let coefficient = K1 / density.get();
    let slope = coefficient * (1.0 + 1.6 * coefficient * (celsius.value - REFERENCE_CELSIUS));
    let by_volume = correction * litres.standard_uncertainty;
    let by_temperature = litres.value * correction * slope * celsius.standard_uncertainty;
    let parts = [(by_volume, litres.degrees_of_freedom), (by_temperature, celsius.degrees_of_freedom)];
    let (standard_uncertainty, degrees_of_freedom) = combined(parts);
    Estimate { value: litres.value * correction, standard_uncertainty, degrees_of_freedom }
}

/// A volume at 15 °C in litres, from a mass; the temperature does not matter.
///
/// `V15 = 1000 m / ρ15`, `u² = (1000 u(m) / ρ15)² + (V15 u(ρ15) / ρ15)²`
///
/// * `kilograms` – m in kg
/// * `density` – ρ15 in kg/m³ with its uncertainty, 800.9 to 1163.5
///
/// # Source
/// Definition of density; JCGM 100:2008, 5.1.2.
///
/// # Deviation
/// The buoyancy of air is left out: about 0.13 % for oil (1.2 kg/m³ of air against 850 and 8000 kg/m³).
///
/// # Example
/// ```
/// use standpipe_engine::formula::volume::volume_at_15_from_mass;
/// use standpipe_engine::quantity::Estimate;
/// let volume = volume_at_15_from_mass(Estimate::known(3.4, 0.01), Estimate::known(850.0, 0.0));
/// assert!((volume.value - 4.0).abs() < 1e-12);
/// ```
#[must_use]
pub fn volume_at_15_from_mass(kilograms: Estimate, density: Estimate) -> Estimate {
    let value = LITRES_PER_CUBIC_METRE * kilograms.value / density.value;
    let by_mass = LITRES_PER_CUBIC_METRE * kilograms.standard_uncertainty / density.value;
    let by_density = value * density.standard_uncertainty / density.value;
    let (standard_uncertainty, degrees_of_freedom) =
        combined([(by_mass, kilograms.degrees_of_freedom), (by_density, density.degrees_of_freedom)]);
    Estimate { value, standard_uncertainty, degrees_of_freedom }
}

fn factor(density: f64, celsius: f64) -> f64 {
    let coefficient = K1 / density;
    let difference = celsius - REFERENCE_CELSIUS;
    (-coefficient * difference * (1.0 + 0.8 * coefficient * difference)).exp()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn density(value: f64) -> KilogramsPerCubicMetre {
        KilogramsPerCubicMetre::new(value).unwrap()
    }

    proptest! {
        #[test]
        fn at_15_degrees_nothing_changes(rho in 801.0_f64..1163.0, litres in 0.1_f64..20.0) {
            prop_assert_eq!(correction_to_15(density(rho), Celsius::new(15.0).unwrap()), 1.0);
            let same = volume_at_15(Estimate::known(litres, 0.01), Estimate::known(15.0, 0.0), density(rho));
            prop_assert_eq!(same, Estimate::known(litres, 0.01));
        }

        #[test]
        fn warmer_fluid_is_less_fluid(rho in 801.0_f64..1163.0, t in -20.0_f64..119.0) {
            let cold = correction_to_15(density(rho), Celsius::new(t).unwrap());
            let warm = correction_to_15(density(rho), Celsius::new(t + 1.0).unwrap());
            prop_assert!(warm < cold);
        }

        #[test]
        fn litres_and_kilograms_of_one_drain_agree(rho in 801.0_f64..1163.0, t in -20.0_f64..120.0, v in 0.5_f64..10.0) {
            let celsius = Celsius::new(t).unwrap();
            let mass = v * density_at(density(rho), celsius) / LITRES_PER_CUBIC_METRE;
            let by_mass = volume_at_15_from_mass(Estimate::known(mass, 0.0), Estimate::known(rho, 0.0));
            let by_volume = volume_at_15(Estimate::known(v, 0.0), Estimate::known(t, 0.0), density(rho));
            prop_assert!((by_mass.value - by_volume.value).abs() < 1e-9);
        }

        #[test]
        fn the_temperature_part_of_the_uncertainty_is_the_slope(t in -20.0_f64..120.0, u in 0.1_f64..2.0) {
            let at = |t: f64| volume_at_15(Estimate::known(9.0, 0.0), Estimate::known(t, u), density(850.0));
            let step = (at(t - u).value - at(t + u).value) / 2.0;
            prop_assert!((at(t).standard_uncertainty - step).abs() < 1e-5);
        }
    }
}
