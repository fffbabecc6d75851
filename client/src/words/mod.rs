//! Facts in words: what a person types for a kind of fact, and what the station understood.
//!
//! Flags, choices and help come from the messages, their comments and the table of bounds; nothing is named twice, so
//! a new kind needs nothing here. Never here: what a fact means.

pub(crate) mod answer;
pub mod descriptor;
pub mod done;
pub mod flags;
mod row;
pub mod vin;

use crate::error::ClientError;
use clap::Command;
use descriptor::Words;
use standpipe_proto::v1::{AsTyped, Fact};

/// A fact as it was typed.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadFact {
    /// The fact.
    pub fact: Fact,
    /// Numbers and vehicle identification numbers as they were typed.
    pub as_typed: Vec<AsTyped>,
    /// What was understood, flag by flag.
    pub understood: Vec<Understood>,
}

/// One flag as it was understood.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Understood {
    /// The flag without its hyphens, for example `volume`.
    pub flag: String,
    /// What was understood, for example `3.6 L`; empty for a flag that is yes by being there.
    pub text: String,
}

impl std::fmt::Display for Understood {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let gap = if self.text.is_empty() { "" } else { " " };
        write!(f, "{}{gap}{}", self.flag.replace('-', " "), self.text)
    }
}

/// Reads a fact from a kind and its flags, as they stand after `standpipe add`.
///
/// # Errors
/// When the kind or a flag is not known, a needed flag is missing, or a text cannot be read.
///
/// ```
/// let read = standpipe_client::words::read_fact("drain", &["--place", "pan", "--mass", "3,05 kg"])?;
/// assert_eq!(read.as_typed[0].text, "3,05 kg");
/// # Ok::<(), standpipe_client::ClientError>(())
/// ```
pub fn read_fact(kind: &str, flags: &[&str]) -> Result<ReadFact, ClientError> {
    let words = Words::get()?;
    let known = words.kind(kind).ok_or_else(|| {
        let names: Vec<_> = words.kinds().map(descriptor::KindWords::flag_name).collect();
        ClientError::Usage(format!("'{kind}' is no kind of fact; the kinds are {}", names.join(", ")))
    })?;
    let command =
        flags::with_flags(Command::new("fact").no_binary_name(true), &known.message, &flags::FLAGS)?;
    let matches =
        command.try_get_matches_from(flags).map_err(|error| ClientError::Usage(clap_sentence(&error)))?;
    let read = flags::read(&known.message, &matches, &flags::FLAGS)?;
    words.fact(known, read)
}

/// A name of the messages as it is typed: `exchange_reading` becomes `exchange-reading`.
#[must_use]
pub fn kebab(name: &str) -> String {
    name.to_lowercase().replace('_', "-")
}

/// The first words of what clap says, as one sentence without its own decoration.
pub(crate) fn clap_sentence(error: &clap::Error) -> String {
    let text = error.render().to_string();
    let told = text.lines().take_while(|line| !line.starts_with("Usage:") && !line.starts_with("For more"));
    let told: Vec<_> = told.map(str::trim).filter(|line| !line.is_empty()).collect();
    let sentence = told.join(" ");
    sentence.strip_prefix("error: ").unwrap_or(&sentence).to_owned()
}
