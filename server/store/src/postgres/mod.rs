//! Sites in one PostgreSQL database, each store one of them. A single writer task owns the only connection that writes the
//! journal; reads go through a few connections that may only query. The server opens one of these for each site.
//!
//! An append is answered after its commit has returned with `synchronous_commit = on`, whatever the database's default.
//! A server holds a lock of its site as long as it is connected, so a second one is refused; and each commit grows the site
//! row only from the size and by the server that it was planned with, so one that was cut off can never write between the
//! entries of another. When the database goes away, the writer connects again by itself and looks whether its last commit
//! took place before it answers.

mod address;
mod audit;
mod audit_book;
mod beside;
mod carry;
mod cause;
mod forwarded;
mod insert;
mod journal;
mod link;
mod locks;
mod look_up;
mod open;
mod read;
mod schema;
mod tallies;
mod tokens;
mod writer;

#[cfg(test)]
#[path = "../../../../tests/support/postgres.rs"]
pub(crate) mod database;
#[cfg(test)]
mod tests;

pub use address::PostgresAddress;
pub(crate) use carry::{arrival, arrived, shelf};

use crate::broken::Faults;
use crate::entry::{Epoch, Head};
use crate::error::StoreError;
use crate::finder::SharedFinder;
use crate::journal::JOB_ENTRIES_MAX;
use sqlx::PgPool;
use std::time::Duration;
use tokio::sync::{mpsc, watch};
use writer::Command;

/// How a store is opened.
#[derive(Debug, Clone)]
pub struct PostgresOptions {
    /// Most entries a job may have, at least 1.
    pub job_entries_max: u64,
    /// Connections that read, at least 1.
    pub readers: u32,
    /// How long entries wait for a database that went away before they are answered with what is known of them.
    pub settle_within: Duration,
    /// How long opening waits for another server of the site to end.
    pub wait_for_other: Duration,
    faults: Faults,
}

/// One site in a PostgreSQL database.
#[derive(Debug)]
pub struct PostgresStore {
    address: PostgresAddress,
    site: String,
    readers: PgPool,
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
    /// Why nothing is taken just now.
    away: Option<StoreError>,
}

impl Published {
    fn health(&self) -> Result<(), StoreError> {
        self.stopped.clone().or_else(|| self.away.clone()).map_or(Ok(()), Err)
    }
}

impl Default for PostgresOptions {
    fn default() -> Self {
        Self {
            job_entries_max: JOB_ENTRIES_MAX,
            readers: 4,
            settle_within: Duration::from_secs(5),
            wait_for_other: Duration::from_secs(5),
            faults: Faults::default(),
        }
    }
}

impl PostgresOptions {
    /// The same with a fault put in on purpose.
    #[cfg(feature = "broken")]
    pub fn with_fault(mut self, fault: crate::Fault) -> Self {
        self.faults = Faults::only(fault);
        self
    }
}

impl PostgresStore {
    /// Creates the journal of a new site in a database and opens it. Tables are made if there are none.
    ///
    /// # Errors
    /// [`StoreError::SiteThere`]; [`StoreError::Unusable`] or [`StoreError::Away`].
    pub async fn create(address: &PostgresAddress, site: &str, epoch: Epoch) -> Result<Self, StoreError> {
        Self::create_with(address, site, epoch, PostgresOptions::default()).await
    }

    /// The same with options.
    ///
    /// # Errors
    /// See [`PostgresStore::create`].
    pub async fn create_with(
        address: &PostgresAddress,
        site: &str,
        epoch: Epoch,
        options: PostgresOptions,
    ) -> Result<Self, StoreError> {
        open::create_site(address, site, epoch, open::State::Here).await?;
        Self::open_with(address, site, options).await
    }

    /// Opens the journal of a site, bringing the schema up to date.
    ///
    /// # Errors
    /// [`StoreError::SiteMissing`], [`StoreError::SiteHeld`], [`StoreError::Moving`], [`StoreError::Unusable`],
    /// [`StoreError::Away`], [`StoreError::NewerSchema`] or [`StoreError::Damaged`], each in one sentence.
    pub async fn open(address: &PostgresAddress, site: &str) -> Result<Self, StoreError> {
        Self::open_with(address, site, PostgresOptions::default()).await
    }

    /// The same with options.
    ///
    /// # Errors
    /// See [`PostgresStore::open`].
    pub async fn open_with(
        address: &PostgresAddress,
        site: &str,
        options: PostgresOptions,
    ) -> Result<Self, StoreError> {
        open::open_for_writing(address, site, options, open::Purpose::Serve).await
    }

    /// Opens the journal of a site for reading only, also beside the server that writes it. Appends are refused; the
    /// schema is not brought up to date.
    ///
    /// # Errors
    /// As [`PostgresStore::open`].
    pub async fn open_for_reading(address: &PostgresAddress, site: &str) -> Result<Self, StoreError> {
        open::open_for_reading(address, site).await
    }

    /// Where the database is.
    pub fn address(&self) -> &PostgresAddress {
        &self.address
    }
}
