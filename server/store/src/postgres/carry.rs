//! A site as it stands at one moment, and what a move of a site needs of a database: room for one that arrives, its shelf,
//! and the word that it left.

use super::cause::{failed, failed_to_open};
use super::open::{
    Purpose, State, connect, connection_options, create_site, open_for_writing, read_site, state_of,
};
use super::{PostgresAddress, PostgresOptions, PostgresStore};
use crate::Store;
use crate::carry::{Cell, PAGE_ROWS, Shelf, Snapshot, Source, TABLES, Table, carry_to_sqlite};
use crate::entry::{Epoch, Head};
use crate::error::StoreError;
use crate::row::cells;
use async_trait::async_trait;
use sqlx::query_builder::Separated;
use sqlx::{AssertSqlSafe, Executor as _, PgConnection, Postgres, QueryBuilder};
use std::path::Path;

const DOING: &str = "copying what stands beside the journal";

const SET_STATE: &str = "update site set state = $2 where site = $1";

/// A site within one transaction that only reads.
struct AtOneMoment {
    connection: PgConnection,
    head: Head,
}

/// Room for a site that arrives: a new one, or one whose copy was cut off, or that left here before.
pub(crate) async fn arrival(
    address: &PostgresAddress,
    site: &str,
    epoch: Epoch,
) -> Result<PostgresStore, StoreError> {
    let there = |what: String| StoreError::SiteThere { at: address.to_string(), what };
    match create_site(address, site, epoch, State::Arriving).await {
        Ok(()) | Err(StoreError::SiteThere { .. }) => {}
        Err(error) => return Err(error),
    }
    match state_of(address, site).await? {
        (State::Here, _) => return Err(there(format!("the site {site} in use"))),
        (_, found) if found != epoch => {
            return Err(there(format!("another life of the site {site}, restored from a backup or copied")));
        }
        _ => {}
    }
    let options = PostgresOptions { job_entries_max: u64::MAX, ..PostgresOptions::default() };
    open_for_writing(address, site, options, Purpose::Fill).await
}

/// Notes that a site was copied and compared. From now on it may be opened.
pub(crate) async fn arrived(address: &PostgresAddress, site: &str) -> Result<(), StoreError> {
    let mut connection = connected(address).await?;
    set_state(&mut connection, site, State::Arrived).await
}

async fn set_state(connection: &mut PgConnection, site: &str, state: State) -> Result<(), StoreError> {
    let set = sqlx::query(SET_STATE).bind(site).bind(state.word()).execute(connection).await;
    set.map(drop).map_err(|error| failed("moving the journal", &error))
}

async fn connected(address: &PostgresAddress) -> Result<PgConnection, StoreError> {
    let connected = connect(&connection_options(address, "on")).await;
    connected.map_err(|error| failed_to_open(address.shown(), &error))
}

impl PostgresStore {
    /// Opens a site that is to be moved away: no server can open it meanwhile. Also one that was marked as left already,
    /// by a move that was cut off at its end.
    ///
    /// # Errors
    /// As [`PostgresStore::open`].
    pub async fn open_to_leave(address: &PostgresAddress, site: &str) -> Result<Self, StoreError> {
        open_for_writing(address, site, PostgresOptions::default(), Purpose::Leave).await
    }

    /// Marks the site as moved away, so that no server opens it here any more. What is there stays.
    ///
    /// # Errors
    /// When the database refuses or is away.
    pub async fn leave(&self) -> Result<(), StoreError> {
        let mut connection = connected(&self.address).await?;
        set_state(&mut connection, &self.site, State::Left).await
    }
}

#[async_trait]
impl Store for PostgresStore {
    async fn copy_to(&self, path: &Path) -> Result<Head, StoreError> {
        if path.exists() {
            return Err(StoreError::AlreadyExists { path: path.into() });
        }
        let carried = carry_to_sqlite(self, path, &|_| {}).await;
        if carried.is_err() {
            // The error that is reported matters more than a leftover.
            let _ = std::fs::remove_file(path);
        }
        carried.map(|carried| carried.head)
    }
}

#[async_trait]
impl Source for PostgresStore {
    async fn snapshot(&self) -> Result<Box<dyn Snapshot>, StoreError> {
        let mut connection = connected(&self.address).await?;
        let begun = connection.execute("begin isolation level repeatable read read only").await;
        begun.map_err(|error| failed(DOING, &error))?;
        // Nothing is written here for as long as the journal is being copied.
        let patient = connection.execute("set local idle_in_transaction_session_timeout = 0").await;
        patient.map_err(|error| failed(DOING, &error))?;
        let missing = || StoreError::SiteMissing { at: self.address.to_string(), site: self.site.clone() };
        let row = read_site(&mut connection, &self.site).await?.ok_or_else(missing)?;
        Ok(Box::new(AtOneMoment { connection, head: row.head }))
    }
}

#[async_trait]
impl Snapshot for AtOneMoment {
    fn head(&self) -> &Head {
        &self.head
    }

    async fn rows(
        &mut self,
        table: &'static Table,
        after: Option<Vec<Cell>>,
    ) -> Result<Vec<Vec<Cell>>, StoreError> {
        let mut select = QueryBuilder::<Postgres>::new("select ");
        select.push(table.names()).push(" from ").push(table.name);
        select.push(" where site = ").push_bind(self.head.site.clone());
        if let Some(after) = after {
            select.push(" and (").push(table.key).push(") > (");
            bind_cells(&mut select.separated(", "), after);
            select.push(")");
        }
        select.push(" order by ").push(table.key).push(" limit ").push_bind(PAGE_ROWS as i64);
        let query = select.build();
        let rows = query.fetch_all(&mut self.connection).await.map_err(|error| failed(DOING, &error))?;
        let read = rows.iter().map(|row| cells(row, table)).collect::<Result<_, _>>();
        read.map_err(|error| StoreError::damaged(error.to_string()))
    }
}

/// A transaction that empties the site's shelf and puts everything anew.
struct NewShelf {
    connection: PgConnection,
    site: String,
}

/// The shelf of a site that arrives.
pub(crate) async fn shelf(address: &PostgresAddress, site: &str) -> Result<Box<dyn Shelf>, StoreError> {
    let mut connection = connected(address).await?;
    connection.execute("begin").await.map_err(|error| failed(DOING, &error))?;
    for table in TABLES.iter().rev() {
        let text = format!("delete from {} where site = $1", table.name);
        let emptied = sqlx::query(AssertSqlSafe(text)).bind(site).execute(&mut connection).await;
        emptied.map_err(|error| failed(DOING, &error))?;
    }
    Ok(Box::new(NewShelf { connection, site: site.to_owned() }))
}

#[async_trait]
impl Shelf for NewShelf {
    async fn put(&mut self, table: &'static Table, rows: Vec<Vec<Cell>>) -> Result<(), StoreError> {
        let mut insert = QueryBuilder::<Postgres>::new("insert into ");
        insert.push(table.name).push(" (site, ").push(table.names()).push(") ");
        insert.push_values(rows, |mut values, row| {
            values.push_bind(self.site.clone());
            bind_cells(&mut values, row);
        });
        let put = insert.build().persistent(false).execute(&mut self.connection).await;
        put.map(drop).map_err(|error| failed(DOING, &error))
    }

    async fn finish(mut self: Box<Self>) -> Result<(), StoreError> {
        self.connection.execute("commit").await.map(drop).map_err(|error| failed(DOING, &error))
    }
}

fn bind_cells(values: &mut Separated<'_, Postgres, &'static str>, row: Vec<Cell>) {
    for cell in row {
        match cell {
            Cell::Int(number) => values.push_bind(number),
            Cell::Text(text) => values.push_bind(text),
            Cell::Bytes(bytes) => values.push_bind(bytes),
        };
    }
}
