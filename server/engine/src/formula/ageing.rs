//! Ageing of the fluid with temperature: how much faster it goes when hot.
//!
//! Every result here stands on an assumption that the workshop chose; it is printed beside the figure. Nothing
//! here is a measurement of the fluid. The next due date and the condition call it.

use super::viscosity::KELVIN_OFFSET;
use crate::quantity::{Celsius, Share};

/// Molar gas constant in J/(mol K): CODATA 2018, exact.
const GAS_CONSTANT: f64 = 8.314_462_618;

/// What is assumed of the ageing; a figure without it says nothing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Assumption {
    /// The rate follows Arrhenius with this activation energy, in J/mol.
    ActivationEnergy(f64),
    /// The rate doubles every so many kelvin. Disputed for modern fluids; far from the reference temperature it
    /// gives more than any constant activation energy.
    DoublesEvery(f64),
}

impl Assumption {
    /// 83.144 kJ/mol, the customary figure for mean kinetic temperature (USP 1150).
    pub const CUSTOMARY: Self = Self::ActivationEnergy(83_144.0);

    /// Rate at one temperature as a multiple of the rate at the reference temperature.
    ///
    /// `k(T) / k(T_ref) = exp(E_a / R (1/T_ref - 1/T))`, or `2^((t - t_ref) / Δ)`
    ///
    /// * `temperature`, `reference` – t and t_ref in °C; T in K
    ///
    /// Nothing where the assumption is no positive number or the rate leaves all bounds.
    ///
    /// # Source
    /// Arrhenius rate law; R from CODATA 2018.
    ///
    /// # Example
    /// ```
    /// use standpipe_engine::{formula::ageing::Assumption, quantity::Celsius};
    /// let at = |t| Celsius::new(t).unwrap();
    /// // Computed: 70 kJ/mol from 90 to 130 °C is 9.98 times, doubling every 10 K is 16 times.
    /// let arrhenius = Assumption::ActivationEnergy(70_000.0).acceleration(at(130.0), at(90.0)).unwrap();
    /// let doubling = Assumption::DoublesEvery(10.0).acceleration(at(130.0), at(90.0)).unwrap();
    /// assert!((arrhenius - 9.98).abs() < 0.005 && (doubling - 16.0).abs() < 1e-9);
    /// ```
    #[must_use]
    pub fn acceleration(self, temperature: Celsius, reference: Celsius) -> Option<f64> {
        let factor = match self {
            Self::ActivationEnergy(energy) if energy > 0.0 => {
                (energy / GAS_CONSTANT * (1.0 / kelvin(reference) - 1.0 / kelvin(temperature))).exp()
            }
            Self::DoublesEvery(step) if step > 0.0 => ((temperature.get() - reference.get()) / step).exp2(),
            _ => return None,
        };
        (factor > 0.0 && factor.is_finite()).then_some(factor)
    }
}

/// Activation energy in J/mol for which the rate grows by `factor` from t to t + Δ.
///
/// `E_a = R ln f / (1/T - 1/(T + Δ))`
///
/// * `temperature` – t in °C
/// * `factor` – f, more than 0; 2 for the doubling rule
/// * `step_kelvin` – Δ in K, not 0
///
/// # Source
/// Arrhenius rate law, solved for the energy.
///
/// # Example
/// ```
/// use standpipe_engine::{formula::ageing::activation_energy, quantity::Celsius};
/// // "Doubles per 10 K" means 73.91 kJ/mol at 80 °C and 82.40 at 100 °C (computed): no one energy.
/// let energy = activation_energy(Celsius::new(80.0).unwrap(), 2.0, 10.0).unwrap();
/// assert!((energy - 73_910.0).abs() < 5.0);
/// ```
#[must_use]
pub fn activation_energy(temperature: Celsius, factor: f64, step_kelvin: f64) -> Option<f64> {
    let start = kelvin(temperature);
    let energy = GAS_CONSTANT * factor.ln() / (1.0 / start - 1.0 / (start + step_kelvin));
    energy.is_finite().then_some(energy)
}

/// Which part of the distance was driven at which fluid temperature. The parts make 1.
#[derive(Clone, Debug, PartialEq)]
pub struct Histogram(Vec<(Celsius, f64)>);

impl Histogram {
    /// Makes the parts add to 1; nothing without any part.
    ///
    /// * `parts` – fluid temperature in °C and part of the distance; any unit, since only the ratio counts
    #[must_use]
    pub fn new(parts: &[(Celsius, Share)]) -> Option<Self> {
        let whole: f64 = parts.iter().map(|(_, share)| share.get()).sum();
        (whole > 0.0).then(|| Self(parts.iter().map(|(at, share)| (*at, share.get() / whole)).collect()))
    }

    /// Mean rate over the distance, as a multiple of the rate at the reference temperature.
    ///
    /// `f = Σ w_i k(T_i) / k(T_ref)`
    ///
    /// * `reference` – t_ref in °C: where the base interval is meant to hold; 90 °C by custom of this house
    ///
    /// Nothing under an assumption that gives no number.
    ///
    /// # Source
    /// Weighted mean of [`Assumption::acceleration`].
    ///
    /// # Example
    /// ```
    /// use standpipe_engine::{formula::ageing::{Assumption, Histogram}, quantity::{Celsius, Share}};
    /// let part = |t, w| (Celsius::new(t).unwrap(), Share::new(w).unwrap());
    /// let driven = Histogram::new(&[part(70.0, 0.3), part(90.0, 0.5), part(110.0, 0.2)]).unwrap();
    /// // Computed: 1.40220; a base of 50 000 km becomes 35 658 km.
    /// let factor = driven.mean_factor(Assumption::CUSTOMARY, Celsius::new(90.0).unwrap()).unwrap();
    /// assert!((factor - 1.402_20).abs() < 5e-6);
    /// assert!((50_000.0 / factor - 35_658.0).abs() < 0.5);
    /// ```
    #[must_use]
    pub fn mean_factor(&self, assumption: Assumption, reference: Celsius) -> Option<f64> {
        let mut sum = 0.0;
        for (temperature, share) in &self.0 {
            sum += share * assumption.acceleration(*temperature, reference)?;
        }
        (sum > 0.0 && sum.is_finite()).then_some(sum)
    }

    /// Mean kinetic temperature: the one temperature that ages as much as all of them, in °C.
    ///
    /// `T_k = (E_a / R) / -ln(Σ w_i exp(-E_a / (R T_i)))`
    ///
    /// * `energy` – E_a in J/mol, more than 0
    ///
    /// # Source
    /// USP 1150 and 1160; Haynes 1971 (read in public pages).
    ///
    /// # Example
    /// ```
    /// use standpipe_engine::{formula::ageing::Histogram, quantity::{Celsius, Share}};
    /// let part = |t, w| (Celsius::new(t).unwrap(), Share::new(w).unwrap());
    /// let driven = Histogram::new(&[part(70.0, 0.3), part(90.0, 0.5), part(110.0, 0.2)]).unwrap();
    /// // Computed: 94.513 °C.
    /// assert!((driven.mean_kinetic_celsius(83_144.0).unwrap() - 94.513).abs() < 5e-4);
    /// ```
    #[must_use]
    pub fn mean_kinetic_celsius(&self, energy: f64) -> Option<f64> {
        let over_gas = energy / GAS_CONSTANT;
        let mean: f64 = self.0.iter().map(|(at, share)| share * (-over_gas / kelvin(*at)).exp()).sum();
        let found = over_gas / -mean.ln() - KELVIN_OFFSET;
        (energy > 0.0 && found.is_finite()).then_some(found)
    }
}

fn kelvin(temperature: Celsius) -> f64 {
    temperature.get() + KELVIN_OFFSET
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn celsius(value: f64) -> Celsius {
        Celsius::new(value).unwrap()
    }

    fn histogram() -> impl Strategy<Value = Histogram> {
        proptest::collection::vec((-20.0_f64..150.0, 0.01_f64..1.0), 1..12).prop_map(|parts| {
            let parts: Vec<_> =
                parts.into_iter().map(|(t, w)| (celsius(t), Share::new(w).unwrap())).collect();
            Histogram::new(&parts).unwrap()
        })
    }

    #[test]
    fn an_assumption_that_is_none_gives_no_figure() {
        let (hot, reference) = (celsius(120.0), celsius(90.0));
        for bad in [0.0, -5.0, f64::NAN] {
            assert_eq!(Assumption::ActivationEnergy(bad).acceleration(hot, reference), None);
            assert_eq!(Assumption::DoublesEvery(bad).acceleration(hot, reference), None);
        }
        assert_eq!(Assumption::ActivationEnergy(1e12).acceleration(hot, reference), None);
        assert_eq!(activation_energy(hot, -1.0, 10.0), None);
        assert_eq!(activation_energy(hot, 2.0, 0.0), None);
        assert_eq!(Histogram::new(&[]), None);
        assert_eq!(Histogram::new(&[(hot, Share::new(0.0).unwrap())]), None);
    }

    proptest! {
        #[test]
        fn at_the_reference_temperature_nothing_is_faster(t in -20.0_f64..150.0, energy in 1e3_f64..2e5) {
            let found = Assumption::ActivationEnergy(energy).acceleration(celsius(t), celsius(t)).unwrap();
            prop_assert!((found - 1.0).abs() < 1e-12);
        }

        #[test]
        fn the_energy_of_a_factor_gives_that_factor_back(
            t in 40.0_f64..120.0, factor in 1.1_f64..4.0, step in 2.0_f64..30.0,
        ) {
            let energy = activation_energy(celsius(t), factor, step).unwrap();
            let back = Assumption::ActivationEnergy(energy).acceleration(celsius(t + step), celsius(t)).unwrap();
            prop_assert!((back / factor - 1.0).abs() < 1e-9);
        }

        #[test]
        fn the_mean_kinetic_temperature_ages_like_the_whole_histogram(driven in histogram()) {
            let energy = 83_144.0;
            let mean = driven.mean_kinetic_celsius(energy).unwrap();
            let (least, greatest) = driven.0.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), (at, _)| {
                (low.min(at.get()), high.max(at.get()))
            });
            prop_assert!(mean >= least - 1e-6 && mean <= greatest + 1e-6);
            let assumption = Assumption::ActivationEnergy(energy);
            let one = assumption.acceleration(celsius(mean), celsius(90.0)).unwrap();
            let all = driven.mean_factor(assumption, celsius(90.0)).unwrap();
            prop_assert!((one / all - 1.0).abs() < 1e-6);
        }
    }
}
