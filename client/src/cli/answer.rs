//! The answer of a command and its exit code.

use super::Console;
use crate::config::Output;
use crate::error::ClientError;
use serde_json::Value;
use std::io;
use std::path::Path;

/// How a command ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Exit {
    /// Sent, done, or yes.
    Done,
    /// `may` says no.
    No,
    /// The command was not understood.
    Usage,
    /// The fact or question was refused.
    Refused,
    /// The disk of this station failed.
    Disk,
    /// Kept unsent, or the shop server is away.
    Kept,
    /// This station may not.
    NotPermitted,
}

impl Exit {
    /// The code that the process ends with.
    #[must_use]
    pub fn code(self) -> u8 {
        match self {
            Self::Done => 0,
            Self::No => 1,
            Self::Usage => 64,
            Self::Refused => 65,
            Self::Disk => 74,
            Self::Kept => 75,
            Self::NotPermitted => 77,
        }
    }

    /// How a command ends that failed so.
    #[must_use]
    pub fn of(error: &ClientError) -> Self {
        match error {
            ClientError::NotJoined { .. }
            | ClientError::OtherStation { .. }
            | ClientError::NoPerson
            | ClientError::NoJob
            | ClientError::Typed { .. }
            | ClientError::Usage(_)
            | ClientError::Folder { .. }
            | ClientError::Dial(_)
            | ClientError::NotHere { .. } => Self::Usage,
            ClientError::EntryUnknown { .. }
            | ClientError::CorrectionUnfit(_)
            | ClientError::Outside(_)
            | ClientError::Vin { .. }
            | ClientError::Untrusted(_)
            | ClientError::Refused { .. } => Self::Refused,
            ClientError::Disk { .. }
            | ClientError::Instrument { .. }
            | ClientError::NoRandomness(_)
            | ClientError::Descriptor(_) => Self::Disk,
            ClientError::JobUnknown { .. }
            | ClientError::Full { .. }
            | ClientError::Locked { .. }
            | ClientError::Away(_)
            | ClientError::NoGoAhead(_) => Self::Kept,
            ClientError::NotPermitted(_) => Self::NotPermitted,
        }
    }
}

/// What a command answers.
pub(crate) struct Answer {
    /// For people: lines, each with its end.
    pub(crate) text: String,
    /// For programs.
    pub(crate) json: Value,
    /// For spreadsheets, where the answer is a list.
    pub(crate) csv: String,
    /// Bytes to write instead of all of these.
    pub(crate) raw: Option<Vec<u8>>,
    /// An entry that counts only once it is signed.
    pub(crate) to_sign: Option<super::sign::ToSign>,
    /// Sentences for stderr.
    pub(crate) notes: Vec<String>,
    /// How it ended.
    pub(crate) exit: Exit,
}

impl Answer {
    pub(crate) fn new(text: String, json: Value) -> Self {
        Self { text, json, csv: String::new(), raw: None, to_sign: None, notes: Vec::new(), exit: Exit::Done }
    }

    pub(crate) fn noting(mut self, notes: impl IntoIterator<Item = String>) -> Self {
        self.notes.extend(notes);
        self
    }

    pub(crate) fn ending(mut self, exit: Exit) -> Self {
        self.exit = exit;
        self
    }

    /// Writes the answer; a reader that went away is no failure.
    pub(crate) fn written(self, output: Output, console: &mut Console<'_>) -> Result<Exit, ClientError> {
        let bytes = match (self.raw, output) {
            (Some(raw), _) => raw,
            (None, Output::Text) => printable(&self.text).into_bytes(),
            (None, Output::Json) => format!("{:#}\n", self.json).into_bytes(),
            (None, Output::Csv) => self.csv.into_bytes(),
        };
        for note in &self.notes {
            let _ = writeln!(console.err, "{}", printable(note).trim_end());
        }
        let wrote = console.out.write_all(&bytes).and_then(|()| console.out.flush());
        match wrote {
            Err(cause) if cause.kind() != io::ErrorKind::BrokenPipe => {
                Err(ClientError::disk("writing the answer to", Path::new("stdout"), cause))
            }
            _ => Ok(self.exit),
        }
    }
}

/// A text without anything that could steer a terminal: controls and marks that turn the direction of writing are
/// shown as their code. Texts of other stations and of the server pass through here.
pub(crate) fn printable(text: &str) -> String {
    let mut printable = String::with_capacity(text.len());
    for character in text.chars() {
        let turns =
            matches!(character, '\u{200E}' | '\u{200F}' | '\u{2028}'..='\u{202E}' | '\u{2066}'..='\u{2069}');
        if (character.is_control() && character != '\n') || turns {
            printable.extend(character.escape_unicode());
        } else {
            printable.push(character);
        }
    }
    printable
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_text_cannot_steer_the_terminal() {
        assert_eq!(printable("a\u{1b}[31m\u{202e}b\nc"), "a\\u{1b}[31m\\u{202e}b\nc");
    }
}
