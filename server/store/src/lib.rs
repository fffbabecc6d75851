//! The journal of one site and what stands beside it: all SQL of the project.
//!
//! Three stores share their traits: [`SqliteStore`] keeps one site in one file, [`PostgresStore`] one of several in a
//! database, [`MemoryStore`] is the plain reference they are compared with. [`Journal`] appends and reads; nothing in it changes or removes an entry.
//! [`Beside`] holds what may change and be erased: stations, tokens, names, customers, the derived job list, settings.
//! [`AuditBook`] says who was let in and who was turned away. On an owner's server, [`Replica`] keeps copies of other
//! journals, [`ForkBook`] what is known of those who forward them, [`Tallies`] rows of their jobs and the sums.
//!
//! This crate never decodes an entry's payload, never updates or deletes an entry, never reads the clock and
//! knows no other crate of the workspace. The server calls it; nobody else opens the database.

mod audit_book;
mod batch;
mod beside;
mod broken;
mod carry;
mod change;
#[cfg(any(test, feature = "conformance"))]
pub mod conformance;
mod entry;
mod error;
mod finder;
mod journal;
mod memory;
mod postgres;
mod replica;
mod row;
mod sqlite;
mod tallies;
mod tokens;
pub mod tree;
mod verify;

pub use audit_book::{AUDIT_LINES_MAX, AuditBook, AuditLine};
pub use beside::{
    Beside, Customer, JobSummary, Person, Station, SummaryFilter, SummaryOrder, SummaryPlace, TokenDigest,
};
#[cfg(feature = "broken")]
pub use broken::Fault;
pub use carry::{Carried, Told, carry_beside, carry_to_postgres, carry_to_sqlite};
pub use entry::{Appended, EntryId, Epoch, Head, JobId, JobNumber, JobRow, NewEntry, StoredEntry};
pub use error::StoreError;
pub use journal::{JOB_ENTRIES_MAX, Journal, PAGE_ROWS_MAX, PendingAppend};
pub use memory::MemoryStore;
pub use postgres::{PostgresAddress, PostgresOptions, PostgresStore};
pub use replica::{FORKS_OF_SITE_MAX, Fork, ForkBook, Replica, ReplicaBatch, ReplicaEntry, Replicated};
pub use sqlite::{SqliteOptions, SqliteStore};
pub use tallies::{
    TALLY_COUNTER_MAX, TALLY_COUNTERS_MAX, Tallies, TallyBy, TallyFilter, TallyReached, TallyRow, TallySum,
};
pub use tokens::{CodeUse, KeptCode, KeptToken, ShownCode, Tokens};
pub use verify::{Damage, DamageKind, Inspect, VerifyReport};

/// All traits at once, for callers that keep one handle, whichever store it is.
#[async_trait::async_trait]
pub trait Store: Journal + Beside + AuditBook + Replica + ForkBook + Tallies {
    /// Copies everything as it stands at one moment into a new SQLite file, while entries go on being appended, and says
    /// how far the copy reaches. It is on the disk when this returns.
    ///
    /// # Errors
    /// [`StoreError::AlreadyExists`]; or when either place refuses, and nothing is left then.
    async fn copy_to(&self, path: &std::path::Path) -> Result<Head, StoreError>;
}
