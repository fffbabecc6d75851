//! A file as it stands at one moment, and the shelf of a new file that another store is copied into.

use super::SqliteStore;
use super::cause::{failed, failed_on_file, failed_to_open};
use super::open::{connection_options, folder, read_site};
use crate::carry::{Cell, PAGE_ROWS, Shelf, Snapshot, Source, Table};
use crate::entry::Head;
use crate::error::StoreError;
use crate::row::cells;
use async_trait::async_trait;
use sqlx::query_builder::Separated;
use sqlx::sqlite::SqliteSynchronous;
use sqlx::{ConnectOptions as _, Executor as _, QueryBuilder, Sqlite, SqliteConnection};
use std::fs::File;
use std::path::Path;

const DOING: &str = "copying what stands beside the journal";

/// A file within one transaction that only reads.
struct AtOneMoment {
    connection: SqliteConnection,
    head: Head,
}

#[async_trait]
impl Source for SqliteStore {
    async fn snapshot(&self) -> Result<Box<dyn Snapshot>, StoreError> {
        let connect = connection_options(&self.path, SqliteSynchronous::Full).pragma("query_only", "1");
        let mut connection = connect.connect().await.map_err(|error| failed_to_open(&self.path, &error))?;
        connection.execute("begin").await.map_err(|error| failed(DOING, &error))?;
        // The first read settles the moment.
        let (head, _) = read_site(&mut connection).await?;
        Ok(Box::new(AtOneMoment { connection, head }))
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
        let mut select = QueryBuilder::<Sqlite>::new("select ");
        select.push(table.names()).push(" from ").push(table.name);
        if let Some(after) = after {
            select.push(" where (").push(table.key).push(") > (");
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

/// A transaction that puts rows into a file of which nobody knows yet.
struct NewShelf(SqliteConnection);

impl SqliteStore {
    pub(crate) async fn shelf(&self) -> Result<Box<dyn Shelf>, StoreError> {
        let connect = connection_options(&self.path, SqliteSynchronous::Full);
        let mut connection = connect.connect().await.map_err(|error| failed_to_open(&self.path, &error))?;
        connection.execute("begin immediate").await.map_err(|error| failed(DOING, &error))?;
        Ok(Box::new(NewShelf(connection)))
    }

    /// Makes a closed file and its name durable.
    pub(crate) fn sync(path: &Path) -> Result<(), StoreError> {
        let synced = File::open(path).and_then(|file| file.sync_all());
        let synced = synced.and_then(|()| File::open(folder(path)).and_then(|folder| folder.sync_all()));
        synced.map_err(|error| failed_on_file(DOING, path, &error))
    }
}

#[async_trait]
impl Shelf for NewShelf {
    async fn put(&mut self, table: &'static Table, rows: Vec<Vec<Cell>>) -> Result<(), StoreError> {
        let mut insert = QueryBuilder::<Sqlite>::new("insert into ");
        insert.push(table.name).push(" (").push(table.names()).push(") ");
        insert.push_values(rows, |mut values, row| bind_cells(&mut values, row));
        let put = insert.build().execute(&mut self.0).await;
        put.map(drop).map_err(|error| failed(DOING, &error))
    }

    async fn finish(mut self: Box<Self>) -> Result<(), StoreError> {
        self.0.execute("commit").await.map(drop).map_err(|error| failed(DOING, &error))
    }
}

fn bind_cells(values: &mut Separated<'_, Sqlite, &'static str>, row: Vec<Cell>) {
    for cell in row {
        match cell {
            Cell::Int(number) => values.push_bind(number),
            Cell::Text(text) => values.push_bind(text),
            Cell::Bytes(bytes) => values.push_bind(bytes),
        };
    }
}
