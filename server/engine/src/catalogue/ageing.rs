//! What the workshop assumes of the fluid's ageing with temperature.
//!
//! Part of `workshop.toml`: table `[ageing]`. Never here: a rate, which is [`crate::formula::ageing`]'s, or a
//! temperature that was driven, which the job's entries state.

use super::reader::{Bounds, Fields};
use super::workshop::SOURCE_LENGTH_MAX;
use crate::formula::ageing::Assumption;
use crate::quantity::Celsius;

/// Where the interval of a workshop is meant to hold: no fluid works colder or hotter for long (common practice, no
/// source).
const REFERENCE: Bounds = (40.0, 150.0, "°C");
/// Activation energies that oxidation is given (common practice, no source).
const ENERGY: Bounds = (10.0, 200.0, "kJ/mol");
/// What is written where nobody stated another source.
const SOURCE: &str = "energy customary for mean kinetic temperature, USP 1150; 90 °C is a house value";

/// Settings of the ageing; printed beside every figure that stands on them.
#[derive(Clone, Debug, PartialEq)]
pub struct AgeingSettings {
    /// Fluid temperature at which the workshop's interval is meant to hold.
    pub reference: Celsius,
    /// Activation energy, in kJ/mol.
    pub activation_energy_kilojoules_per_mole: f64,
    /// Where both come from.
    pub source: String,
}

impl AgeingSettings {
    /// The assumption that the formulas ask for.
    #[must_use]
    pub fn assumption(&self) -> Assumption {
        Assumption::ActivationEnergy(self.activation_energy_kilojoules_per_mole * 1_000.0)
    }
}

/// Reads the settings; what is wrong is noted in the document.
pub(super) fn read(fields: &mut Fields<'_>) -> Option<AgeingSettings> {
    let Some(mut table) = fields.table_optional("ageing") else {
        return Some(AgeingSettings {
            reference: Celsius::new(90.0).ok()?,
            // The figure of `Assumption::CUSTOMARY`.
            activation_energy_kilojoules_per_mole: 83.144,
            source: SOURCE.to_owned(),
        });
    };
    let reference = table.number("reference_celsius", REFERENCE);
    let energy = table.number("activation_energy_kilojoules_per_mole", ENERGY);
    let source = table.text("source", SOURCE_LENGTH_MAX);
    table.finish();
    Some(AgeingSettings {
        reference: Celsius::new(reference?).ok()?,
        activation_energy_kilojoules_per_mole: energy?,
        source: source?,
    })
}
