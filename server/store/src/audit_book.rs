//! The book of who was let in and who was turned away, and the kinds of facts that a station may state. Both stand
//! beside the journal. The server calls it through `dyn AuditBook`; nothing in it decides anything.

use crate::error::StoreError;
use async_trait::async_trait;
use std::collections::BTreeMap;

/// Most lines of the book; the oldest go.
pub const AUDIT_LINES_MAX: usize = 100_000;

/// What happened once, or several times in a row.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct AuditLine {
    /// Unix microseconds of the first time.
    pub at_us: i64,
    /// Unix microseconds of the last time.
    pub until_us: i64,
    /// How often, at least 1.
    pub times: u64,
    /// Word of the server; not interpreted here.
    pub what: String,
    /// Whether it was allowed.
    pub allowed: bool,
    /// Station id; empty if none is known.
    pub station: String,
    /// Person code; empty if none is known.
    pub person: String,
    /// Network address; empty if none is known.
    pub address: String,
    /// For example the job or the method.
    pub about: String,
}

/// The book, and the kinds of stations.
#[async_trait]
pub trait AuditBook: Send + Sync {
    /// Writes a line. One that differs from a line at the same `at_us` in nothing but `until_us` and `times` is added
    /// to it. Lost at a power cut at worst: what counts is in the journal.
    async fn put_audit(&self, line: AuditLine) -> Result<(), StoreError>;

    /// Lines that ended at or after a time, the latest written first, at most [`AUDIT_LINES_MAX`].
    async fn audit_since(&self, since_us: i64) -> Result<Vec<AuditLine>, StoreError>;

    /// Limits a station to these kinds of facts, whose names hold no comma; none means all that its role may.
    ///
    /// # Errors
    /// [`StoreError::StationUnknown`].
    async fn set_station_kinds(&self, station_id: &str, kinds: &[String]) -> Result<(), StoreError>;

    /// The kinds of each station that is limited to some, as they were given.
    async fn station_kinds(&self) -> Result<BTreeMap<String, Vec<String>>, StoreError>;
}
