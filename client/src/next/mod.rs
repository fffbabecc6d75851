//! The questions of the work, one at a time.
//!
//! [`Remaining`] is what is left to ask; [`Questions`] turns keys and answers into what is to be done, without any
//! input or output of its own; `present.rs` has the words around the server's words. The command line carries out
//! what [`Action`] says. Never here: keys of a terminal, the network, or the meaning of a fact.

mod asked;
pub(crate) mod present;
mod questions;
mod remaining;

pub use questions::Questions;
pub use remaining::Remaining;

use crate::words::ReadFact;
use standpipe_proto::v1::MayResponse;

/// Something that happened.
#[derive(Debug, Clone, PartialEq)]
pub enum Event {
    /// The steps that remain are known.
    Steps(Remaining),
    /// A key was pressed.
    Key(Key),
    /// A text came at once, as a scanner types it.
    Text(String),
    /// A line was read where single keys cannot be.
    Line(String),
    /// The gate of the step was asked; the words say why there is no answer.
    Gate(Result<Box<MayResponse>, String>),
    /// The entry is kept. `line` tells it; `entry_id` is nothing where it was refused at once.
    Kept {
        /// Identity of the entry, as long as it can be put right.
        entry_id: Option<String>,
        /// What became of it.
        line: String,
    },
    /// The entry could not be kept, and why.
    NotKept(String),
    /// The steps were found out so long ago that what was known then is not known any more.
    Aged,
    /// There is no more input.
    Closed,
}

/// A key.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Key {
    /// A letter, digit or sign.
    Sign(char),
    /// The key that ends a line.
    Enter,
    /// Takes back the last sign.
    Backspace,
    /// Ends the questions wherever they are.
    Interrupt,
}

/// Something to do.
#[derive(Debug, Clone, PartialEq)]
pub enum Action {
    /// Shows lines, each with its end.
    Say(String),
    /// Shows the question of the current step, the only lines that may be set off from the others.
    Head(String),
    /// Shows signs without ending the line; only where keys are read singly.
    Echo(String),
    /// Shows the beginning of a line that is then typed.
    Prompt(String),
    /// Makes this person the one who states facts.
    Person(String),
    /// Asks whether the gate may begin, and tells it with [`Event::Gate`].
    AskGate(String),
    /// Keeps an entry, and tells it with [`Event::Kept`] or [`Event::NotKept`].
    Keep {
        /// The fact, checked against the table of bounds.
        fact: Box<ReadFact>,
        /// Its kind.
        kind: String,
    },
    /// Puts an entry right or withdraws it, and tells it like an entry.
    Correct {
        /// The entry.
        entry_id: String,
        /// Its kind.
        kind: String,
        /// What counts instead; nothing to withdraw it.
        instead: Option<Box<ReadFact>>,
        /// Why.
        reason: String,
    },
    /// Finds out what remains, and tells it with [`Event::Steps`].
    Fetch,
    /// Ends the questions.
    End,
}
