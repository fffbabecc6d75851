//! Facts in words: what a person types for a kind of fact, and what the station understood.
//!
//! What can be typed and what it says is shared with the page of the bay ([`standpipe_proto::words`]); here are the flags
//! of the command line, which come from the same messages, comments and bounds. Never here: what a fact means.

pub mod done;
pub mod flags;

use crate::error::ClientError;
use clap::Command;
use descriptor::Words;
pub(crate) use standpipe_proto::words::answer;
pub use standpipe_proto::words::{ReadFact, Understood, descriptor, kebab, vin};

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
    Ok(words.fact(known, read)?)
}

/// The first words of what clap says, as one sentence without its own decoration.
pub(crate) fn clap_sentence(error: &clap::Error) -> String {
    let text = error.render().to_string();
    let told = text.lines().take_while(|line| !line.starts_with("Usage:") && !line.starts_with("For more"));
    let told: Vec<_> = told.map(str::trim).filter(|line| !line.is_empty()).collect();
    let sentence = told.join(" ");
    sentence.strip_prefix("error: ").unwrap_or(&sentence).to_owned()
}

#[cfg(test)]
#[path = "../tests/answer.rs"]
mod answer_tests;
