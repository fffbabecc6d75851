//! Facts in words: what is typed or chosen for a kind of fact, and what was understood, at a terminal and on a page.
//!
//! Names, choices and units come from the messages and the table of bounds; nothing is named twice, so a new kind needs
//! nothing here. Never here: a command line, a page, or what a fact means.

pub mod again;
pub mod answer;
pub mod descriptor;
pub mod reading;
pub mod row;
pub mod vin;

use crate::check::CheckError;
use crate::typed::TypedError;
use crate::v1::{AsTyped, Fact};
use vin::VinError;

/// Why words make no fact. Nothing was kept.
#[derive(Debug, thiserror::Error)]
pub enum WordsError {
    /// A typed quantity could not be read.
    #[error("{flag}: {why}")]
    Typed {
        /// The flag or field.
        flag: String,
        /// Why not.
        why: TypedError,
    },
    /// A typed vehicle identification number could not be taken.
    #[error("{flag}: {why}")]
    Vin {
        /// The flag or field.
        flag: String,
        /// Why not.
        why: VinError,
    },
    /// Something is outside its bounds.
    #[error("{0}")]
    Outside(#[from] CheckError),
    /// Something was written in a way that is not understood.
    #[error("{0}")]
    Usage(String),
    /// A kind or field that these messages do not have.
    #[error("this program cannot state '{field}' of '{kind}'; the shop server is newer, update the station")]
    Unknown {
        /// As named.
        kind: String,
        /// As named.
        field: String,
    },
    /// The messages of this program contradict each other: a mistake of ours.
    #[error("this program's own list of messages is damaged ({0}); install it again")]
    Descriptor(String),
}

/// A fact as it was typed.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadFact {
    /// The fact.
    pub fact: Fact,
    /// Numbers and vehicle identification numbers as they were typed.
    pub as_typed: Vec<AsTyped>,
    /// What was understood, field by field.
    pub understood: Vec<Understood>,
}

/// One field as it was understood.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Understood {
    /// The flag of the field without its hyphens, for example `volume`.
    pub flag: String,
    /// What was understood, for example `3.6 L`; empty for one that is yes by being there.
    pub text: String,
}

impl std::fmt::Display for Understood {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let gap = if self.text.is_empty() { "" } else { " " };
        write!(f, "{}{gap}{}", self.flag.replace('-', " "), self.text)
    }
}

/// A name of the messages as it is typed: `exchange_reading` becomes `exchange-reading`.
#[must_use]
pub fn kebab(name: &str) -> String {
    name.to_lowercase().replace('_', "-")
}
