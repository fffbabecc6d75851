//! One site in one SQLite file. A single writer task owns the only connection that writes; reads go through a few
//! connections that may only query. The server opens one of these for each data folder and holds the folder's lock.
//!
//! An append is answered after its commit has returned, in write-ahead mode with `synchronous = full`, so the answer
//! means that the disk said it has the entry. Rows of the derived job list are written by a second connection that
//! does not sync: losing one costs a computation, not a fact.

mod audit;
mod audit_book;
mod beside;
mod carry;
mod cause;
mod copy;
mod forwarded;
mod insert;
mod journal;
mod look_up;
mod open;
mod read;
mod schema;
mod tallies;
mod tokens;
mod writer;

#[cfg(test)]
mod tests;

use crate::broken::Faults;
use crate::entry::{Epoch, Head};
use crate::error::StoreError;
use crate::finder::SharedFinder;
use crate::journal::JOB_ENTRIES_MAX;
use sqlx::SqlitePool;
use std::path::{Path, PathBuf};
use tokio::sync::{mpsc, watch};
use writer::Command;

/// How a store is opened.
#[derive(Debug, Clone)]
pub struct SqliteOptions {
    /// Most entries a job may have, at least 1.
    pub job_entries_max: u64,
    /// Connections that read, at least 1.
    pub readers: u32,
    /// Most pages the file may have; a small number stands for a full disk in tests.
    page_count_max: Option<u32>,
    faults: Faults,
}

/// One site in one SQLite file.
#[derive(Debug)]
pub struct SqliteStore {
    path: PathBuf,
    readers: SqlitePool,
    /// `None` if opened for reading only.
    commands: Option<mpsc::Sender<Command>>,
    published: watch::Receiver<Published>,
    finder: SharedFinder,
}

/// What the writer lets everybody see.
#[derive(Debug, Clone)]
struct Published {
    head: Head,
    /// Why nothing more is taken.
    stopped: Option<StoreError>,
}

impl Default for SqliteOptions {
    fn default() -> Self {
        Self { job_entries_max: JOB_ENTRIES_MAX, readers: 4, page_count_max: None, faults: Faults::default() }
    }
}

impl SqliteOptions {
    /// The same with a fault put in on purpose.
    #[cfg(feature = "broken")]
    pub fn with_fault(mut self, fault: crate::Fault) -> Self {
        self.faults = Faults::only(fault);
        self
    }
}

impl SqliteStore {
    /// Creates the journal of a new site and opens it. The file appears under its name only when it is complete.
    ///
    /// # Errors
    /// [`StoreError::AlreadyExists`]; [`StoreError::ReadOnly`], [`StoreError::DiskFull`] or [`StoreError::Disk`].
    pub async fn create(path: &Path, site: &str, epoch: Epoch) -> Result<Self, StoreError> {
        Self::create_with(path, site, epoch, SqliteOptions::default()).await
    }

    /// The same with options.
    ///
    /// # Errors
    /// See [`SqliteStore::create`].
    pub async fn create_with(
        path: &Path,
        site: &str,
        epoch: Epoch,
        options: SqliteOptions,
    ) -> Result<Self, StoreError> {
        open::create_file(path, site, epoch).await?;
        Self::open_with(path, options).await
    }

    /// Opens an existing journal, bringing its schema up to date.
    ///
    /// # Errors
    /// [`StoreError::Missing`], [`StoreError::Truncated`], [`StoreError::NotADatabase`], [`StoreError::Foreign`],
    /// [`StoreError::NewerSchema`], [`StoreError::ReadOnly`] or [`StoreError::Damaged`], each in one sentence.
    /// Never creates a file beside a lost one.
    pub async fn open(path: &Path) -> Result<Self, StoreError> {
        Self::open_with(path, SqliteOptions::default()).await
    }

    /// The same with options.
    ///
    /// # Errors
    /// See [`SqliteStore::open`].
    pub async fn open_with(path: &Path, options: SqliteOptions) -> Result<Self, StoreError> {
        open::open_for_writing(path, options).await
    }

    /// Opens an existing journal for reading only, also one that is too damaged to be appended to: for `verify`.
    /// Appends are refused; the schema is not brought up to date.
    ///
    /// # Errors
    /// As [`SqliteStore::open`], without the comparison of the site row with the entries.
    pub async fn open_for_reading(path: &Path) -> Result<Self, StoreError> {
        open::open_for_reading(path).await
    }

    /// The file.
    pub fn path(&self) -> &Path {
        &self.path
    }
}
