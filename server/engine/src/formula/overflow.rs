//! The level at a standpipe and the temperature: what a wrong temperature costs, and what runs over by warming.
//!
//! Fluid that warms expands and keeps dripping at the right level. The correction is used only where a drip was
//! measured; a bay answers nothing, drops or a stream, and those words are never turned into a number here.

use super::volume::correction_to_15;
use crate::quantity::{Celsius, Estimate, KilogramsPerCubicMetre, Litres};

/// Millilitres per litre.
const MILLILITRES: f64 = 1000.0;

/// Volume of one drop of fluid in mL: 0.02 to 0.06, rectangular.
///
/// # Source
/// Tate's law with usual edges and surface tensions (from memory); a trade table for engine oil gives 0.034 mL.
pub const DROP_MILLILITRES: Estimate = Estimate::known(0.04, 0.012);

/// Coefficient of expansion at a temperature, per K.
///
/// `α = a (1 + 1.6 a ΔT)`, `a = 0.6278 / ρ15`, `ΔT = t - 15`
///
/// # Source
/// Derivative of [`correction_to_15`], as a part of the volume at 15 °C.
///
/// # Example
/// ```
/// use standpipe_engine::formula::overflow::expansion_coefficient;
/// use standpipe_engine::quantity::{Celsius, KilogramsPerCubicMetre};
/// let density = KilogramsPerCubicMetre::new(850.0).unwrap();
/// // 850 kg/m³ at 45 °C: 0.000764773 per K (computed).
/// let found = expansion_coefficient(density, Celsius::new(45.0).unwrap());
/// assert!((found - 0.000_764_773).abs() < 5e-10);
/// ```
#[must_use]
pub fn expansion_coefficient(density: KilogramsPerCubicMetre, temperature: Celsius) -> f64 {
    let coefficient = 0.6278 / density.get();
    coefficient * (1.0 + 1.6 * coefficient * (temperature.get() - super::volume::REFERENCE_CELSIUS))
}

/// By how much the fluid stands above the standpipe once it has the stated temperature, in litres; negative below.
///
/// `ΔV = V (VCF(t) / VCF(t_s) - 1)`
///
/// * `volume` – V in litres inside, filled to the standpipe at t
/// * `checked_at` – t in °C
/// * `stated` – t_s in °C
///
/// # Source
/// As [`correction_to_15`].
///
/// # Example
/// ```
/// use standpipe_engine::formula::overflow::volume_off;
/// use standpipe_engine::quantity::{Celsius, KilogramsPerCubicMetre, Litres};
/// let (at, density) = (|t| Celsius::new(t).unwrap(), KilogramsPerCubicMetre::new(850.0).unwrap());
/// // 9 L checked at 25 instead of 45 °C: 137 mL too much once warm (computed).
/// let off = volume_off(Litres::new(9.0).unwrap(), density, at(25.0), at(45.0));
/// assert!((off - 0.137).abs() < 5e-4);
/// ```
#[must_use]
pub fn volume_off(
    volume: Litres,
    density: KilogramsPerCubicMetre,
    checked_at: Celsius,
    stated: Celsius,
) -> f64 {
    volume.get() * (correction_to_15(density, checked_at) / correction_to_15(density, stated) - 1.0)
}

/// What runs over a full standpipe because the fluid warms, in mL/min; 0 while it cools.
///
/// `q = V α(t) dT/dt`
///
/// * `volume` – V in litres
/// * `temperature` – t in °C
/// * `kelvin_per_minute` – dT/dt, as read; nothing if it is no number
///
/// # Source
/// As [`expansion_coefficient`].
///
/// # Example
/// ```
/// use standpipe_engine::formula::overflow::expansion_flow;
/// use standpipe_engine::quantity::{Celsius, KilogramsPerCubicMetre, Litres};
/// let density = KilogramsPerCubicMetre::new(850.0).unwrap();
/// // 8 L that warm by 1 K/min at 45 °C: 6.12 mL/min, about 150 drops (computed).
/// let flow = expansion_flow(Litres::new(8.0).unwrap(), density, Celsius::new(45.0).unwrap(), 1.0).unwrap();
/// assert!((flow - 6.12).abs() < 0.005);
/// ```
#[must_use]
pub fn expansion_flow(
    volume: Litres,
    density: KilogramsPerCubicMetre,
    temperature: Celsius,
    kelvin_per_minute: f64,
) -> Option<f64> {
    let expansion = expansion_coefficient(density, temperature);
    let flow = volume.get() * MILLILITRES * expansion * kelvin_per_minute;
    flow.is_finite().then_some(flow.max(0.0))
}

/// Volume of a drop that falls from an edge, in mL.
///
/// `m g = 2 π r γ f`, `V = m / ρ`
///
/// * `radius_metres` – r of the edge in m, more than 0
/// * `surface_tension` – γ in N/m, about 0.03 for oil
/// * `density` – ρ in kg/m³ of the fluid as it drops, more than 0
/// * `part_that_falls` – f, 0.6 to 0.7
///
/// # Source
/// Tate's law with the factor of Harkins and Brown, 1919 (from memory); g = 9.80665 m/s².
///
/// # Example
/// ```
/// // 4 mm, 0.03 N/m, 830 kg/m³, 0.62: 0.0574 mL (computed).
/// let drop = standpipe_engine::formula::overflow::drop_millilitres(0.004, 0.03, 830.0, 0.62).unwrap();
/// assert!((drop - 0.0574).abs() < 5e-5);
/// ```
#[must_use]
pub fn drop_millilitres(
    radius_metres: f64,
    surface_tension: f64,
    density: f64,
    part_that_falls: f64,
) -> Option<f64> {
    const GRAVITY: f64 = 9.806_65;
    let mass = 2.0 * std::f64::consts::PI * radius_metres * surface_tension * part_that_falls / GRAVITY;
    let volume = mass / density * 1e6;
    (volume > 0.0 && volume.is_finite()).then_some(volume)
}

/// Volume of a layer on the free surface, in mL: `ΔV = A Δh`.
///
/// * `height_millimetres` – Δh
/// * `surface_square_metres` – A, free surface of the fluid at the standpipe
///
/// # Source
/// Geometry.
///
/// # Example
/// ```
/// // 2 mm on 0.09 m² are 180 mL.
/// assert!((standpipe_engine::formula::overflow::layer_millilitres(2.0, 0.09) - 180.0).abs() < 1e-9);
/// ```
#[must_use]
pub fn layer_millilitres(height_millimetres: f64, surface_square_metres: f64) -> f64 {
    height_millimetres * surface_square_metres * MILLILITRES
}

/// What a measured drip says of the level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Drip {
    /// Only what warming drives out: the level is reached.
    Reached,
    /// More than that, in mL/min: fluid still stands above the standpipe.
    Surplus(Estimate),
    /// Less than that, in mL/min: the fluid still rises below the edge.
    NotYet(Estimate),
}

/// Judges a measured drip against the expansion; only where it was measured.
///
/// Reached if `|q_drip - q| ≤ 2 u(q_drip)`, with `q_drip = n V_drop`.
///
/// * `drops_per_minute` – n as counted, with its uncertainty
/// * `drop` – V_drop in mL, [`DROP_MILLILITRES`] unless it was caught and measured
/// * `expansion` – q in mL/min, from [`expansion_flow`]
///
/// Nothing where a figure is no number.
///
/// # Source
/// JCGM 100:2008, 5.1.2; the factor 2 as in 6.3.3.
///
/// # Example
/// ```
/// use standpipe_engine::{formula::overflow::{DROP_MILLILITRES, Drip, drip}, quantity::Estimate};
/// // 150 drops a minute while 8 L warm by 1 K/min (6.12 mL/min): nothing stands above the standpipe.
/// assert_eq!(drip(Estimate::known(150.0, 10.0), DROP_MILLILITRES, 6.12), Some(Drip::Reached));
/// ```
#[must_use]
pub fn drip(drops_per_minute: Estimate, drop: Estimate, expansion: f64) -> Option<Drip> {
    let flow = drops_per_minute.value * drop.value;
    let uncertainty = (drops_per_minute.standard_uncertainty * drop.value)
        .hypot(drop.standard_uncertainty * drops_per_minute.value);
    let usable = flow >= 0.0 && flow.is_finite() && uncertainty.is_finite() && expansion.is_finite();
    if !usable {
        return None;
    }
    let excess = Estimate::known(flow - expansion, uncertainty);
    Some(if excess.value.abs() <= 2.0 * uncertainty {
        Drip::Reached
    } else if excess.value > 0.0 {
        Drip::Surplus(excess)
    } else {
        Drip::NotYet(excess.scaled(-1.0))
    })
}

/// What still comes of a surplus that fades, in mL: `V = q t_d` for `q exp(-t / t_d)`.
///
/// * `surplus_per_minute` – q in mL/min now, beyond the expansion
/// * `fading_minutes` – t_d in min
///
/// # Source
/// Integral of the exponential.
///
/// # Example
/// ```
/// // 5 mL/min that fade with 3 min: 15 mL still to come.
/// assert!((standpipe_engine::formula::overflow::surplus_to_come(5.0, 3.0) - 15.0).abs() < 1e-12);
/// ```
#[must_use]
pub fn surplus_to_come(surplus_per_minute: f64, fading_minutes: f64) -> f64 {
    surplus_per_minute * fading_minutes
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn oil() -> KilogramsPerCubicMetre {
        KilogramsPerCubicMetre::new(850.0).unwrap()
    }

    fn celsius(value: f64) -> Celsius {
        Celsius::new(value).unwrap()
    }

    #[test]
    fn cooling_drives_nothing_out() {
        let flow = |rate| expansion_flow(Litres::new(8.0).unwrap(), oil(), celsius(60.0), rate);
        assert_eq!(flow(-2.0), Some(0.0));
        assert_eq!(flow(f64::NAN), None);
    }

    #[test]
    fn a_drip_is_judged_after_the_expansion_is_taken_from_it() {
        let drop = Estimate::known(0.04, 0.002);
        let judged = |drops| drip(Estimate::known(drops, 2.0), drop, 6.0).unwrap();
        assert_eq!(judged(150.0), Drip::Reached);
        assert!(matches!(judged(300.0), Drip::Surplus(more) if (more.value - 6.0).abs() < 1e-9));
        assert!(matches!(judged(20.0), Drip::NotYet(less) if (less.value - 5.2).abs() < 1e-9));
        assert_eq!(drip(Estimate::known(f64::NAN, 1.0), drop, 6.0), None);
        assert_eq!(drip(Estimate::known(10.0, 1.0), drop, f64::NAN), None);
        assert_eq!(drop_millilitres(0.004, 0.03, 0.0, 0.62), None);
    }

    proptest! {
        #[test]
        fn the_right_temperature_leaves_the_level(volume in 1.0_f64..15.0, t in 0.0_f64..120.0, other in 0.0_f64..120.0) {
            let volume = Litres::new(volume).unwrap();
            prop_assert_eq!(volume_off(volume, oil(), celsius(t), celsius(t)), 0.0);
            // Checked too cold, it stands too high once warm, and the other way round.
            let off = volume_off(volume, oil(), celsius(t), celsius(other));
            prop_assert!(off * (other - t) >= 0.0);
        }
    }
}
