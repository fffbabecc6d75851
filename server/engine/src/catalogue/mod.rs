//! The catalogue: what the workshop knows about transmissions, and its settings, as one revision.
//!
//! A revision is a set of TOML files that never changes; its id is a digest of their bytes, so that a job can
//! say for ever what it was judged by. The files are read completely or not at all, and every mistake in them is
//! named at once. Nothing here reads a folder: the server brings the bytes, the views ask the revision.
//!
//! # Framing of the id
//! SHA-256 over the files in the byte order of their names, each as: length of the name in bytes (64 bits, most
//! significant byte first), the name in UTF-8, length of the content in bytes (the same way), the content. Two
//! sets of files have the same input only if they are equal.

mod ageing;
mod condition;
mod difference;
mod exchange_settings;
mod reader;
mod remark;
mod revision;
mod rule_index;
mod screw_stages;
mod screws;
mod transmission;
mod variant_tables;
pub mod vin_rule;
mod waste_codes;
mod workshop;

pub use ageing::AgeingSettings;
pub use condition::{ConditionSettings, FigureUncertainty};
pub use difference::{Change, Difference, Otherwise, VariantChange, difference};
pub use exchange_settings::ExchangeSettings;
pub use remark::{Gap, LeftOut, Overlap, Remarks, SharedCode, remarks};
pub(crate) use revision::plain_code;
pub use revision::{Revision, RevisionId, VinMatch, same_code};
pub use screw_stages::{ScrewStages, ToolCheckSettings};
pub use screws::{GroupOfScrews, Screws};
pub use transmission::{Fluid, FluidColour, LevelMethod, Variant};
pub use variant_tables::{Hookup, Kit, UseInterval};
pub use waste_codes::WasteCodes;
pub use workshop::{PlanMinutes, Stated, StatedRange, Workshop};

use std::fmt;

/// Name of the file with the workshop's settings; every other file is a transmission.
pub const WORKSHOP_FILE: &str = "workshop.toml";
/// Most files of a revision.
pub const FILES_MAX: usize = standpipe_proto::limits::CATALOGUE_FILES_MAX;
/// Most bytes of one file.
pub const FILE_BYTES_MAX: usize = standpipe_proto::limits::CATALOGUE_FILE_BYTES_MAX;
/// Most VIN rules of a revision.
pub const RULES_MAX: usize = standpipe_proto::limits::CATALOGUE_RULES_MAX;

/// One thing that is wrong with the catalogue.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CatalogueProblem {
    /// Name of the file.
    pub file: String,
    /// Line in it, counted from 1, where there is one.
    pub line: Option<usize>,
    /// Full key, for example `variant[2].total_fill_litres`; empty for the file itself.
    pub key: String,
    /// What is wrong and what to do.
    pub what: String,
}

impl fmt::Display for CatalogueProblem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.file)?;
        if let Some(line) = self.line {
            write!(f, ":{line}")?;
        }
        write!(f, ": ")?;
        if !self.key.is_empty() {
            write!(f, "{} ", self.key)?;
        }
        write!(f, "{}", self.what)
    }
}

/// The files are no catalogue; nothing of them is kept.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the catalogue has {} mistake(s); correct them and import again:\n{}", problems.len(), lines(problems))]
pub struct CatalogueError {
    /// Every mistake, in the order of files and lines.
    pub problems: Vec<CatalogueProblem>,
}

fn lines(problems: &[CatalogueProblem]) -> String {
    problems.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n")
}

#[cfg(test)]
mod schema_tests;
#[cfg(test)]
mod tests;
