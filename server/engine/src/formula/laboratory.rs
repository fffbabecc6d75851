//! What a laboratory letter says, as differences from fresh fluid, each with its uncertainty.
//!
//! Figures of used fluid mean something only beside the same figure of the fresh fluid: fluids begin with unlike
//! acid numbers and viscosities. Nothing here knows a limit; the condition compares with the workshop's.

use super::balance::{Term, combined, sum};
use crate::quantity::Estimate;

/// A difference from fresh fluid.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Difference {
    /// The difference, in the unit of the figure or as a part of 1.
    pub estimate: Estimate,
    /// Whether the difference is greater than its own uncertainty at 95 %. Without that it is no change.
    pub clear: bool,
}

impl Difference {
    /// Nothing if the figures gave no number.
    fn of(estimate: Estimate) -> Option<Self> {
        let usable = estimate.value.is_finite() && estimate.expanded95().is_finite();
        usable.then(|| Self { estimate, clear: estimate.value.abs() > estimate.expanded95() })
    }
}

/// Rise of the acid number over fresh fluid, in mg KOH/g.
///
/// `ΔAN = AN_used - AN_fresh`, `u² = u(AN_used)² + u(AN_fresh)²`
///
/// * `used`, `fresh` – acid numbers in mg KOH/g, 0 or more, by the same method
///
/// Nothing for figures that cannot be acid numbers.
///
/// # Source
/// Methods: ASTM D664 or D974. Difference: JCGM 100:2008, 5.1.2 and G.4.1.
///
/// # Example
/// ```
/// use standpipe_engine::{formula::laboratory::acid_rise, quantity::Estimate};
/// // JCGM 100:2008, 5.1.2: 0.30 and 0.40 combine to 0.50.
/// let rise = acid_rise(Estimate::known(2.5, 0.3), Estimate::known(0.5, 0.4)).unwrap();
/// assert!((rise.estimate.standard_uncertainty - 0.5).abs() < 1e-12 && rise.clear);
/// ```
#[must_use]
pub fn acid_rise(used: Estimate, fresh: Estimate) -> Option<Difference> {
    difference(used, fresh)
}

/// Rise of the water content over fresh fluid, in mg/kg.
///
/// `Δw = w_used - w_fresh`, `u² = u(w_used)² + u(w_fresh)²`
///
/// * `used`, `fresh` – water by titration in mg/kg (the trade says ppm), 0 or more
///
/// Nothing for figures that cannot be water contents.
///
/// # Source
/// Method: ASTM D6304 (from memory). Difference: JCGM 100:2008, 5.1.2 and G.4.1.
///
/// # Example
/// ```
/// use standpipe_engine::{formula::laboratory::water_rise, quantity::Estimate};
/// let rise = water_rise(Estimate::known(310.0, 30.0), Estimate::known(250.0, 40.0)).unwrap();
/// // 60 with an uncertainty of 50 is no clear rise.
/// assert!((rise.estimate.value - 60.0).abs() < 1e-9 && !rise.clear);
/// ```
#[must_use]
pub fn water_rise(used: Estimate, fresh: Estimate) -> Option<Difference> {
    difference(used, fresh)
}

/// Change of the kinematic viscosity against fresh fluid at the same temperature, as a part of 1.
///
/// `r = ν_used / ν_fresh - 1`, `u² = (u(ν_used) / ν_fresh)² + (ν_used u(ν_fresh) / ν_fresh²)²`
///
/// * `used`, `fresh` – mm²/s at one temperature, more than 0; brought there by [`super::viscosity::Line`]
///
/// Nothing for figures that cannot be viscosities.
///
/// # Source
/// JCGM 100:2008, 5.1.2 and G.4.1.
///
/// # Example
/// ```
/// use standpipe_engine::{formula::laboratory::viscosity_change, quantity::Estimate};
/// // 27 against 30 mm²/s: one tenth thinner.
/// let change = viscosity_change(Estimate::known(27.0, 0.1), Estimate::known(30.0, 0.1)).unwrap();
/// assert!((change.estimate.value + 0.1).abs() < 1e-12 && change.clear);
/// ```
#[must_use]
pub fn viscosity_change(used: Estimate, fresh: Estimate) -> Option<Difference> {
    let possible = possible(used) && possible(fresh) && used.value > 0.0 && fresh.value > 0.0;
    if !possible {
        return None;
    }
    let by_used = used.standard_uncertainty / fresh.value;
    let by_fresh = used.value * fresh.standard_uncertainty / fresh.value.powi(2);
    let (standard_uncertainty, degrees_of_freedom) =
        combined([(by_used, used.degrees_of_freedom), (by_fresh, fresh.degrees_of_freedom)]);
    let value = used.value / fresh.value - 1.0;
    Difference::of(Estimate { value, standard_uncertainty, degrees_of_freedom })
}

fn difference(used: Estimate, fresh: Estimate) -> Option<Difference> {
    let possible = possible(used) && possible(fresh);
    possible.then(|| sum(&[Term::plus(used), Term::minus(fresh)])).and_then(Difference::of)
}

/// A figure of a letter that can be true: not negative, with an uncertainty that can be one.
fn possible(figure: Estimate) -> bool {
    figure.value >= 0.0
        && figure.value.is_finite()
        && figure.standard_uncertainty >= 0.0
        && figure.standard_uncertainty.is_finite()
        && figure.degrees_of_freedom >= 1.0
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn figures_that_cannot_be_true_give_no_difference() {
        let good = Estimate::known(1.0, 0.1);
        for bad in [
            Estimate::known(-0.1, 0.1),
            Estimate::known(f64::NAN, 0.1),
            Estimate::known(1.0, f64::NAN),
            Estimate::known(1.0, -0.1),
            Estimate { degrees_of_freedom: f64::NAN, ..good },
        ] {
            for found in [acid_rise(bad, good), acid_rise(good, bad), water_rise(bad, good)] {
                assert_eq!(found, None, "{bad:?}");
            }
            assert_eq!(viscosity_change(bad, good), None);
            assert_eq!(viscosity_change(good, bad), None);
        }
        assert_eq!(viscosity_change(good, Estimate::known(0.0, 0.1)), None);
    }

    #[test]
    fn few_degrees_of_freedom_keep_a_difference_from_being_clear() {
        let (used, fresh) = (Estimate::known(1.3, 0.1), Estimate::known(1.0, 0.0));
        assert!(acid_rise(used, fresh).unwrap().clear);
        let few = Estimate { degrees_of_freedom: 2.0, ..used };
        assert!(!acid_rise(few, fresh).unwrap().clear);
    }

    proptest! {
        #[test]
        fn equal_fluids_show_no_change(value in 0.1_f64..500.0, relative in 0.0_f64..0.3) {
            let figure = Estimate::known(value, relative * value);
            for found in [acid_rise(figure, figure), water_rise(figure, figure), viscosity_change(figure, figure)] {
                let found = found.unwrap();
                prop_assert!(found.estimate.value.abs() < 1e-12 && !found.clear);
            }
        }

        #[test]
        fn the_change_does_not_depend_on_the_unit(
            used in 5.0_f64..60.0, fresh in 5.0_f64..60.0, u in 0.01_f64..2.0, factor in 0.1_f64..10.0,
        ) {
            let plain = viscosity_change(Estimate::known(used, u), Estimate::known(fresh, u)).unwrap();
            let scaled = |value: f64| Estimate::known(value, u).scaled(factor);
            let other = viscosity_change(scaled(used), scaled(fresh)).unwrap();
            prop_assert!((plain.estimate.value - other.estimate.value).abs() < 1e-9);
            prop_assert!((plain.estimate.standard_uncertainty - other.estimate.standard_uncertainty).abs() < 1e-9);
        }
    }
}
