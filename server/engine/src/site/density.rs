//! Litres of the store and kilograms of waste: which fluid a code means, and how heavy it is.

use crate::catalogue::{Revision, same_code};
use crate::formula::volume::density_at;
use crate::quantity::{Celsius, KilogramsPerCubicMetre};

const LITRES_PER_CUBIC_METRE: f64 = 1000.0;

/// Whether two codes or names stand for the same fluid.
pub(crate) fn same_fluid(revision: &Revision, one: &str, other: &str) -> bool {
    if same_code(one, other) {
        return true;
    }
    let known = revision.fluid(one).zip(revision.fluid(other));
    known.is_some_and(|(one, other)| same_code(&one.code, &other.code))
}

/// Density of a fluid at 15 °C in kg/m³: as the catalogue states it, else the workshop's.
pub(crate) fn density_15(revision: &Revision, code: &str) -> f64 {
    let known = revision.fluid(code).map(|fluid| fluid.density_at_15_celsius.get());
    known.unwrap_or(revision.workshop().fluid_density.value)
}

/// Litres at the temperature of new fluid in the bay, from kilograms.
pub(crate) fn weighed_litres(
    revision: &Revision,
    code: &str,
    density_at_15: Option<f64>,
    kilograms: f64,
) -> f64 {
    let at_15 = density_at_15.unwrap_or_else(|| density_15(revision, code));
    let bay = Celsius::new(revision.workshop().new_fluid_celsius.value);
    // Outside what a fluid can have there is nothing to correct by.
    let density = match (KilogramsPerCubicMetre::new(at_15), bay) {
        (Ok(at_15), Ok(bay)) => density_at(at_15, bay),
        _ => at_15,
    };
    LITRES_PER_CUBIC_METRE * kilograms / density
}

/// Density at 15 °C in kg/L with three decimals, as the waste register prints it and computes with it.
pub(crate) fn printed_density(kilograms_per_cubic_metre: f64) -> f64 {
    kilograms_per_cubic_metre.round() / LITRES_PER_CUBIC_METRE
}
