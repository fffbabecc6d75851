//! Creating a file, opening one, and refusing what is not a sound journal of ours. Looks at the file before SQLite
//! does, because SQLite takes an empty file for an empty database.

use super::beside::load_finder;
use super::cause::{failed, failed_on_file, failed_to_open};
use super::schema::{self, APPLICATION_ID, SCHEMA_NUMBER};
use super::writer::Writer;
use super::{Published, SqliteOptions, SqliteStore, read};
use crate::batch::Ledger;
use crate::broken::Fault;
use crate::entry::{Epoch, Head};
use crate::error::StoreError;
use crate::finder::SharedFinder;
use crate::tree::Frontier;
use crate::verify::identity;
use sqlx::migrate::MigrateError;
use sqlx::sqlite::{SqliteConnectOptions, SqliteJournalMode, SqlitePoolOptions, SqliteSynchronous};
use sqlx::{ConnectOptions, Connection, SqliteConnection};
use std::fs::{self, File, OpenOptions};
use std::io::Read;
use std::path::{Path, PathBuf};
use std::time::Duration;
use tokio::sync::watch;

/// Length of SQLite's file header, bytes (<https://sqlite.org/fileformat2.html#the_database_header>).
const HEADER_BYTES: usize = 100;

/// How long a connection waits for a lock that another program holds.
const BUSY_TIMEOUT: Duration = Duration::from_secs(5);

const INSERT_SITE: &str =
    "insert into site (only_row, site, epoch, identity_sha256, size, frontier) values (1, ?, ?, ?, 0, x'')";

/// Builds the file under another name and renames it, so that a half-made journal never bears the name of one.
pub(super) async fn create_file(path: &Path, site: &str, epoch: Epoch) -> Result<(), StoreError> {
    if path.exists() {
        return Err(StoreError::AlreadyExists { path: path.into() });
    }
    let doing = "creating the journal";
    let unfinished = with_suffix(path, "-new");
    for leftover in [unfinished.clone(), with_suffix(&unfinished, "-wal"), with_suffix(&unfinished, "-shm")] {
        if leftover.exists() {
            fs::remove_file(&leftover).map_err(|error| failed_on_file(doing, &leftover, &error))?;
        }
    }
    let mut connection = connection_options(&unfinished, SqliteSynchronous::Full)
        .create_if_missing(true)
        .connect()
        .await
        .map_err(|error| failed_to_open(path, &error))?;
    migrate(&mut connection, path).await?;
    sqlx::query(INSERT_SITE)
        .bind(site)
        .bind(epoch.as_slice())
        .bind(identity(site, epoch).to_vec())
        .execute(&mut connection)
        .await
        .map_err(|error| failed(doing, &error))?;
    // Closing the only connection moves everything from the write-ahead log into the file and removes the log.
    connection.close().await.map_err(|error| failed(doing, &error))?;
    File::open(&unfinished)
        .and_then(|file| file.sync_all())
        .map_err(|error| failed_on_file(doing, path, &error))?;
    // A link refuses to replace an existing file, which a rename would not.
    fs::hard_link(&unfinished, path).map_err(|error| failed_on_file(doing, path, &error))?;
    fs::remove_file(&unfinished).map_err(|error| failed_on_file(doing, path, &error))?;
    File::open(folder(path))
        .and_then(|folder| folder.sync_all())
        .map_err(|error| failed_on_file(doing, path, &error))
}

/// Opens a journal and starts its writer.
pub(super) async fn open_for_writing(path: &Path, options: SqliteOptions) -> Result<SqliteStore, StoreError> {
    check_file(path)?;
    let mut connection = journal_connection(path, &options).await?;
    check_schema_number(&mut connection, path).await?;
    migrate(&mut connection, path).await?;
    let derived = connection_options(path, SqliteSynchronous::Normal);
    let derived = derived.connect().await.map_err(|error| failed_to_open(path, &error))?;
    let (head, frontier) = read_site(&mut connection).await?;
    check_reach(&mut connection, &head).await?;
    make_durable(&mut connection).await?;
    if options.faults.has(Fault::DuplicateCheckDropped) {
        let dropped = sqlx::query("drop index if exists entry_by_id").execute(&mut connection).await;
        dropped.map_err(|error| failed("opening the journal", &error))?;
    }
    let readers = readers(path, options.readers);
    let ledger = Ledger::new(frontier, options.job_entries_max, options.faults);
    let (publish, published) = watch::channel(Published { head, stopped: None });
    let finder = SharedFinder::of(load_finder(&mut connection).await?);
    let commands =
        Writer::start(connection, derived, readers.clone(), ledger, options, publish, finder.clone());
    Ok(SqliteStore { path: path.into(), readers, commands: Some(commands), published, finder })
}

/// The connection that appends.
pub(super) async fn journal_connection(
    path: &Path,
    options: &SqliteOptions,
) -> Result<SqliteConnection, StoreError> {
    let unsynced = options.faults.has(Fault::SynchronousNormal);
    let synchronous = if unsynced { SqliteSynchronous::Normal } else { SqliteSynchronous::Full };
    let mut connect = connection_options(path, synchronous);
    if let Some(pages) = options.page_count_max {
        connect = connect.pragma("max_page_count", pages.to_string());
    }
    connect.connect().await.map_err(|error| failed_to_open(path, &error))
}

/// Opens a journal without a writer.
pub(super) async fn open_for_reading(path: &Path) -> Result<SqliteStore, StoreError> {
    check_file(path)?;
    let readers = readers(path, SqliteOptions::default().readers);
    let mut connection = readers.acquire().await.map_err(|error| failed_to_open(path, &error))?;
    check_schema_number(&mut connection, path).await?;
    let (head, _) = read_site(&mut connection).await?;
    drop(connection);
    let (_, published) = watch::channel(Published { head, stopped: Some(StoreError::OpenedForReading) });
    let finder = SharedFinder::default();
    Ok(SqliteStore { path: path.into(), readers, commands: None, published, finder })
}

/// The head and the frontier as the site row has them.
pub(super) async fn read_site(connection: &mut SqliteConnection) -> Result<(Head, Frontier), StoreError> {
    let row = read::site(connection).await?;
    let frontier = Frontier::decode(row.size, &row.frontier)
        .ok_or_else(|| StoreError::damaged("the site row's frontier does not fit its size"))?;
    let head = Head { seq: row.size, root: frontier.root(), epoch: row.epoch, site: row.site };
    Ok((head, frontier))
}

/// What every connection of ours sets.
pub(super) fn connection_options(path: &Path, synchronous: SqliteSynchronous) -> SqliteConnectOptions {
    SqliteConnectOptions::new()
        .filename(path)
        .journal_mode(SqliteJournalMode::Wal)
        .synchronous(synchronous)
        .busy_timeout(BUSY_TIMEOUT)
        .foreign_keys(true)
        // Without this, "insert or replace" deletes the old row without asking the delete trigger.
        .pragma("recursive_triggers", "1")
        // Names and tokens that are erased are overwritten in the file.
        .pragma("secure_delete", "1")
        .pragma("trusted_schema", "0")
        // Pages: four times the default, because large commits touch the same pages again and again. KiB: room for
        // the pages of the largest commit, so that none is written twice.
        .pragma("wal_autocheckpoint", "4000")
        .pragma("cache_size", "-32000")
        .statement_cache_capacity(400)
        .disable_statement_logging()
}

/// The connections that read.
fn readers(path: &Path, count: u32) -> sqlx::SqlitePool {
    let connect = connection_options(path, SqliteSynchronous::Full).pragma("query_only", "1");
    SqlitePoolOptions::new()
        .max_connections(count.max(1))
        .test_before_acquire(false)
        .idle_timeout(None)
        .max_lifetime(None)
        .connect_lazy_with(connect)
}

/// Brings the schema up to date.
async fn migrate(connection: &mut SqliteConnection, path: &Path) -> Result<(), StoreError> {
    schema::migrate(connection).await.map_err(|error| match error {
        MigrateError::VersionMissing(found) => {
            StoreError::NewerSchema { path: path.into(), found, known: SCHEMA_NUMBER }
        }
        MigrateError::Execute(error) | MigrateError::ExecuteMigration(error, _) => {
            failed("bringing the schema up to date", &error)
        }
        other => StoreError::damaged(other.to_string()),
    })
}

/// Refuses a schema newer than ours.
async fn check_schema_number(connection: &mut SqliteConnection, path: &Path) -> Result<(), StoreError> {
    let found: i64 = sqlx::query_scalar("pragma user_version")
        .fetch_one(connection)
        .await
        .map_err(|error| failed_to_open(path, &error))?;
    if found > SCHEMA_NUMBER {
        return Err(StoreError::NewerSchema { path: path.into(), found, known: SCHEMA_NUMBER });
    }
    Ok(())
}

/// Refuses a journal whose site row and entries disagree: an append would leave a gap or meet an old number.
async fn check_reach(connection: &mut SqliteConnection, head: &Head) -> Result<(), StoreError> {
    let last: Option<i64> = sqlx::query_scalar("select max(seq) from entry")
        .fetch_one(connection)
        .await
        .map_err(|error| failed("opening the journal", &error))?;
    let last = last.unwrap_or(0);
    if u64::try_from(last).ok() != Some(head.seq) {
        let what = format!("the site row counts {} entries, the last entry is {last}", head.seq);
        return Err(StoreError::damaged(what));
    }
    Ok(())
}

/// Syncs what an earlier process wrote. It may have been killed between writing a commit and syncing it; such entries
/// are there, and from now on they may be answered as stored.
async fn make_durable(connection: &mut SqliteConnection) -> Result<(), StoreError> {
    sqlx::query("pragma wal_checkpoint(passive)")
        .execute(connection)
        .await
        .map_err(|error| failed("opening the journal", &error))?;
    Ok(())
}

/// Refuses what cannot be a journal of ours, by its first bytes, its length and its rights.
fn check_file(path: &Path) -> Result<(), StoreError> {
    let doing = "opening the journal";
    let about = fs::metadata(path).map_err(|error| failed_on_file(doing, path, &error))?;
    if !about.is_file() {
        return Err(StoreError::NotADatabase { path: path.into() });
    }
    let folder_about = fs::metadata(folder(path)).map_err(|error| failed_on_file(doing, path, &error))?;
    if about.permissions().readonly() || folder_about.permissions().readonly() {
        return Err(StoreError::ReadOnly { path: path.into() });
    }
    let mut file = OpenOptions::new()
        .read(true)
        .write(true)
        .open(path)
        .map_err(|error| failed_on_file(doing, path, &error))?;
    let mut header = Vec::with_capacity(HEADER_BYTES);
    file.by_ref()
        .take(HEADER_BYTES as u64)
        .read_to_end(&mut header)
        .map_err(|error| failed_on_file(doing, path, &error))?;
    check_header(path, &header, about.len())
}

/// Refuses by the file header.
fn check_header(path: &Path, header: &[u8], bytes: u64) -> Result<(), StoreError> {
    let magic = b"SQLite format 3\0";
    let start = header.get(..magic.len()).unwrap_or(header);
    if !magic.starts_with(start) {
        return Err(StoreError::NotADatabase { path: path.into() });
    }
    let (Some(page_bytes), Some(pages), Some(schema), Some(application_id)) =
        (page_bytes(header), number_at(header, 28), number_at(header, 60), number_at(header, 68))
    else {
        return Err(StoreError::Truncated { path: path.into(), bytes, expected: 4_096 });
    };
    if application_id != APPLICATION_ID {
        return Err(StoreError::Foreign { path: path.into(), application_id });
    }
    if i64::from(schema) > SCHEMA_NUMBER {
        return Err(StoreError::NewerSchema {
            path: path.into(),
            found: schema.into(),
            known: SCHEMA_NUMBER,
        });
    }
    // While a write-ahead log holds pages, the file may rightly be shorter than its header says.
    let has_log = fs::metadata(with_suffix(path, "-wal")).is_ok_and(|log| log.len() > 0);
    let expected = page_bytes * u64::from(pages);
    if bytes < expected && !has_log {
        return Err(StoreError::Truncated { path: path.into(), bytes, expected });
    }
    Ok(())
}

/// A big-endian number of the header.
fn number_at(header: &[u8], at: usize) -> Option<u32> {
    Some(u32::from_be_bytes(*header.get(at..)?.first_chunk()?))
}

/// Page size of the header, bytes; 1 stands for 65,536.
fn page_bytes(header: &[u8]) -> Option<u64> {
    match u16::from_be_bytes(*header.get(16..)?.first_chunk()?) {
        1 => Some(65_536),
        bytes => Some(bytes.into()),
    }
}

/// The path with something put at its end.
fn with_suffix(path: &Path, suffix: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(suffix);
    name.into()
}

/// The folder of a file.
pub(super) fn folder(path: &Path) -> &Path {
    path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."))
}
