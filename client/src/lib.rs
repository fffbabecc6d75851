//! The station: makes entries of what people state, keeps them until the shop server acknowledged them, and shows
//! its answers.
//!
//! [`Station`] is the library; [`cli`] is the command `standpipe` on top of it. One reading, always forward:
//! arguments ([`words`]) or keys ([`next`]) → check → unsent list ([`unsent`], [`folder`]) → send → show. The crate
//! never computes a result, opens no database, and reads the environment in `config.rs` only.

mod asking;
mod attaching;
pub mod cli;
pub mod clock;
pub mod config;
mod correcting;
pub mod disk;
pub mod doctor;
mod error;
pub mod feed;
pub mod folder;
mod frame;
mod joining;
pub mod next;
mod overview;
mod remote;
mod seal;
mod sending;
mod signing;
mod station;
pub mod unsent;
pub mod words;

pub use asking::{FoundEntry, UnsentReport, WaitingEntry};
pub use attaching::Attached;
pub use error::{ClientError, is_permanent};
pub use folder::archive::{RefusedEntry, SentEntry, WrittenRefusal};
pub use folder::state::{Joined, LocalJob};
pub use overview::Asked;
pub use remote::Deadlines;
pub use sending::{SendEnd, SendReport};
pub use station::{Change, Kept, Station, StationOptions};

#[cfg(test)]
mod tests;
