//! What the catalogue's rules for a VIN say of a settled variant.
//!
//! All rules are asked, never only the first that fits, so their order does not matter.

use crate::catalogue::{Revision, Variant, same_code};
use crate::formula::vin::Vin;
use crate::text::{Sentence, sentence};

/// What the rules say of one variant.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum ByRule {
    /// They name it and no other.
    Settled,
    /// They name only others: these.
    Others(String),
    /// They name it among these.
    Several(String),
    /// None fits the VIN.
    NoRule,
    /// All 17 characters are not known.
    NoVin,
}

impl ByRule {
    /// Asks the rules of a revision.
    pub(super) fn ask(revision: &Revision, vin: Option<&Vin>, code: &str) -> Self {
        let Some(vin) = vin else { return Self::NoVin };
        let found = revision.match_vin(vin).variants;
        match found.as_slice() {
            [] => Self::NoRule,
            [only] if same_code(&only.code, code) => Self::Settled,
            several if several.iter().any(|one| same_code(&one.code, code)) => Self::Several(names(several)),
            others => Self::Others(names(others)),
        }
    }

    /// Key and sentence of the question that they leave open; nothing where they decide.
    pub(super) fn question(&self, vin: Option<&Vin>) -> Option<(&'static str, Sentence)> {
        match self {
            Self::Settled | Self::Others(_) => None,
            Self::Several(names) => Some(("several-rules", sentence::gate_rules_fit_several(names))),
            Self::NoRule => {
                Some(("no-rule", sentence::gate_no_rule(vin.map(Vin::as_str).unwrap_or_default())))
            }
            Self::NoVin => Some((super::VARIANT, sentence::gate_vin_not_read())),
        }
    }
}

fn names(found: &[&Variant]) -> String {
    let names: Vec<String> =
        found.iter().map(|variant| format!("{}, {}", variant.transmission, variant.label)).collect();
    names.join("; ")
}
