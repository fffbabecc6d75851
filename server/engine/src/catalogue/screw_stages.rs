//! In which stages a ring of screws is tightened, where the maker states none, and when torque tools are checked.
//!
//! Part of `workshop.toml`: tables `[screw_stages]` and `[tool_check]`. Never here: an order, which is
//! [`crate::formula::screw_order`]'s, or what a tool's checks were, which the site's facts state.

use super::reader::{Bounds, Fields};
use super::workshop::SOURCE_LENGTH_MAX;

/// Stages in percent of the final torque.
pub(super) const STAGE: Bounds = (1.0, 100.0, "%");
/// Most stages.
pub(super) const STAGES_MAX: usize = 6;
/// What is written where nobody stated another source.
const STAGES_SOURCE: &str = "common practice, no source";
const CHECK_SOURCE: &str = "ISO 6789-1:2017, from memory; the display's months are a house value";

/// In which stages a ring is tightened.
#[derive(Clone, Debug, PartialEq)]
pub struct ScrewStages {
    /// Rising percents of the final torque, the last one 100; each runs the whole order before the next.
    pub percents: Vec<f64>,
    /// Where they come from.
    pub source: String,
}

/// After what time and how much use a tool is checked again.
#[derive(Clone, Debug, PartialEq)]
pub struct ToolCheckSettings {
    /// Months between checks of a torque tool whose check names no day of its own.
    pub months: u16,
    /// Screws that may be tightened with it between checks.
    pub uses: f64,
    /// Months between checks of a litre display.
    pub display_months: u16,
    /// Where they come from.
    pub source: String,
}

/// Reads the stages; what is wrong is noted in the document.
pub(super) fn read(fields: &mut Fields<'_>) -> Option<ScrewStages> {
    let Some(mut table) = fields.table_optional("screw_stages") else {
        return Some(ScrewStages { percents: vec![30.0, 60.0, 100.0], source: STAGES_SOURCE.to_owned() });
    };
    let percents = stages(&mut table, "percents");
    if percents.is_empty() {
        table.problem("percents", "is missing; add it, such as [30, 60, 100]");
    }
    let source = table.text("source", SOURCE_LENGTH_MAX);
    table.finish();
    Some(ScrewStages { percents, source: source? })
}

/// Reads the settings of checks; what is wrong is noted in the document.
pub(super) fn read_checks(fields: &mut Fields<'_>) -> Option<ToolCheckSettings> {
    const MONTHS_MAX: u32 = 120;
    let Some(mut table) = fields.table_optional("tool_check") else {
        let source = CHECK_SOURCE.to_owned();
        return Some(ToolCheckSettings { months: 12, uses: 5_000.0, display_months: 12, source });
    };
    let mut months = |key: &str| {
        let months = table.whole_optional(key, 1, MONTHS_MAX);
        if months.is_none() {
            table.problem(key, format!("must be there, a whole number from 1 to {MONTHS_MAX}"));
        }
        months.and_then(|months| u16::try_from(months).ok())
    };
    let (tool, display) = (months("months"), months("display_months"));
    let uses = table.number("uses", (1.0, 1_000_000.0, "screws"));
    let source = table.text("source", SOURCE_LENGTH_MAX);
    table.finish();
    Some(ToolCheckSettings { months: tool?, uses: uses?, display_months: display?, source: source? })
}

/// A list of rising percents that ends at 100; empty where there is none.
pub(super) fn stages(fields: &mut Fields<'_>, key: &str) -> Vec<f64> {
    let percents = fields.numbers(key, STAGES_MAX, STAGE);
    let rising = percents.iter().zip(percents.iter().skip(1)).all(|(one, next)| one < next);
    // Percents are typed as whole or decimal numbers, so 100 is exact.
    let ends = percents.last().is_none_or(|last| *last >= 100.0);
    if !(rising && ends) {
        fields.problem(key, "must rise and end at 100, such as [30, 60, 100]");
    }
    percents
}
