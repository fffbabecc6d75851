//! The settings that judge the fluid's condition: limits, empty unless the workshop states them with a source, and how
//! certain a laboratory's figures are.
//!
//! Part of `workshop.toml`: tables `[condition.*]` and `[laboratory.*]`. Never here: what a figure speaks for.

use super::reader::{Bounds, Fields};
use super::workshop::SOURCE_LENGTH_MAX;
use crate::formula::condition::{Limit, Limits};
use crate::formula::particles::UPPER_LIMITS_PER_MILLILITRE;
use crate::quantity::Estimate;

/// What is written where nobody stated another source: a third of the reproducibility that the methods name
/// (ASTM D445, D664 and D6304, from memory), rounded up.
const HOUSE_VALUE: &str = "house value, no source";

const RELATIVE: Bounds = (0.0, 0.5, "of 1");

/// How certain a figure of a laboratory is: a part of the figure, and never less than a least.
#[derive(Clone, Debug, PartialEq)]
pub struct FigureUncertainty {
    /// Standard uncertainty as a part of the figure.
    pub relative: f64,
    /// Least standard uncertainty, in the unit of the figure.
    pub least: f64,
    /// Where both come from.
    pub source: String,
}

impl FigureUncertainty {
    /// A figure with its uncertainty.
    #[must_use]
    pub fn estimate(&self, value: f64) -> Estimate {
        Estimate::known(value, (self.relative * value.abs()).max(self.least))
    }
}

/// Settings of the fluid's condition.
#[derive(Clone, Debug, PartialEq)]
pub struct ConditionSettings {
    /// Limits that the workshop stated; a number without one says nothing.
    pub limits: Limits,
    /// Uncertainty of a viscosity, in mm²/s.
    pub viscosity: FigureUncertainty,
    /// Uncertainty of an acid number, in mg KOH/g.
    pub acid_number: FigureUncertainty,
    /// Uncertainty of a water content, in mg/kg.
    pub water: FigureUncertainty,
}

/// Reads the settings; what is wrong is noted in the document.
pub(super) fn read(fields: &mut Fields<'_>) -> ConditionSettings {
    let limits = fields.table_optional("condition").map(limits).unwrap_or_default();
    let mut laboratory = fields.table_optional("laboratory");
    let mut of = |table: &str, least_key: &str, bounds: Bounds, defaults: (f64, f64)| {
        let stated = laboratory.as_mut().and_then(|laboratory| laboratory.table_optional(table));
        let read = stated.and_then(|table| uncertainty(table, least_key, bounds));
        let (relative, least) = defaults;
        read.unwrap_or_else(|| FigureUncertainty { relative, least, source: HOUSE_VALUE.to_owned() })
    };
    let per_second = "least_square_millimetres_per_second";
    let viscosity = of("viscosity", per_second, (0.0, 10.0, "mm²/s"), (0.005, 0.01));
    let per_gram = "least_milligrams_per_gram";
    let acid_number = of("acid_number", per_gram, (0.0, 5.0, "mg KOH/g"), (0.15, 0.05));
    let water = of("water", "least_milligrams_per_kilogram", (0.0, 5_000.0, "mg/kg"), (0.1, 20.0));
    if let Some(laboratory) = laboratory {
        laboratory.finish();
    }
    ConditionSettings { limits, viscosity, acid_number, water }
}

fn limits(mut fields: Fields<'_>) -> Limits {
    let limits = Limits {
        colour_difference: limit(&mut fields, "colour_difference", "greatest", (0.0, 100.0, "of CIEDE2000")),
        viscosity_change: limit(&mut fields, "viscosity_change", "relative", (0.0, 1.0, "of 1")),
        acid_rise: limit(&mut fields, "acid_rise", "milligrams_per_gram", (0.0, 20.0, "mg KOH/g")),
        water_rise: limit(&mut fields, "water_rise", "milligrams_per_kilogram", (0.0, 50_000.0, "mg/kg")),
        particles: fields.table_optional("particles").and_then(particles),
        distance: limit(&mut fields, "distance", "kilometres", (1_000.0, 500_000.0, "km")),
    };
    fields.finish();
    limits
}

fn limit(fields: &mut Fields<'_>, table: &str, key: &str, bounds: Bounds) -> Option<Limit<f64>> {
    let mut table = fields.table_optional(table)?;
    let value = table.number(key, bounds);
    let source = table.text("source", SOURCE_LENGTH_MAX);
    table.finish();
    Some(Limit { value: value?, source: source? })
}

/// Greatest scale numbers of ISO 4406; a size that is left out does not count.
fn particles(mut table: Fields<'_>) -> Option<Limit<[Option<u8>; 3]>> {
    let greatest = u32::try_from(UPPER_LIMITS_PER_MILLILITRE.len() - 1).unwrap_or_default();
    let value = ["greatest_4", "greatest_6", "greatest_14"].map(|key| {
        let number = table.whole_optional(key, 0, greatest);
        number.and_then(|number| u8::try_from(number).ok())
    });
    if value.iter().all(Option::is_none) {
        table.problem(
            "greatest_4",
            "or greatest_6 or greatest_14 is missing; state at least one scale number",
        );
    }
    let source = table.text("source", SOURCE_LENGTH_MAX);
    table.finish();
    value.iter().any(Option::is_some).then_some(())?;
    Some(Limit { value, source: source? })
}

fn uncertainty(mut table: Fields<'_>, least_key: &str, bounds: Bounds) -> Option<FigureUncertainty> {
    let relative = table.number("relative_standard_uncertainty", RELATIVE);
    let least = table.number(least_key, bounds);
    let source = table.text("source", SOURCE_LENGTH_MAX);
    table.finish();
    Some(FigureUncertainty { relative: relative?, least: least?, source: source? })
}
