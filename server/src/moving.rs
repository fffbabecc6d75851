//! `move`: brings a site's journal and what stands beside it from its folder into a database, or back.
//!
//! Everything is copied in order and compared – root, digest of every job, every row – before the last step switches. Until
//! then the place before is the one that holds good; a move that was cut off anywhere is done again with the same command.
//! Files beside the journal, keys and settings stay in the folder. Called by the binary. Never here: SQL.

use crate::config;
use crate::error::ServerError;
use crate::folder::{Folder, JOURNAL_FILE, LockedFolder, Reached, sync};
use crate::whereabouts::Place;
use standpipe_store::{
    Carried, Journal as _, PostgresAddress, PostgresStore, SqliteStore, StoreError, Told, carry_to_postgres,
    carry_to_sqlite,
};
use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

/// Where a site may be moved to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Destination {
    /// The file in its folder.
    Folder,
    /// A database.
    Database(PostgresAddress),
}

impl std::str::FromStr for Destination {
    type Err = ServerError;

    /// As it is written on the command line. What cannot be read is not repeated: it may hold a password.
    fn from_str(text: &str) -> Result<Self, ServerError> {
        match text {
            "sqlite" => Ok(Self::Folder),
            url => url.parse().map(Self::Database).map_err(|error: StoreError| ServerError::NothingToMove {
                what: format!("{error}, or sqlite for the file in the site's folder"),
            }),
        }
    }
}

/// What was moved, and where it is now.
#[derive(Debug, Clone)]
pub struct Moved {
    /// Name of the site.
    pub site: String,
    /// Where the journal is now, without a password.
    pub now_in: String,
    /// Where a copy is left that nothing uses any more.
    pub left_behind: String,
    /// Entries.
    pub entries: u64,
    /// Jobs whose digests were compared.
    pub jobs: u64,
    /// Rows beside the journal.
    pub rows: u64,
    /// Entries that a move before had copied already.
    pub resumed_at: u64,
    /// Root over the entries.
    pub root: [u8; 32],
    /// The journal's epoch, which is the same as before.
    pub epoch: [u8; 16],
    /// The settings still name a database that nothing is in any more.
    pub setting_remains: bool,
}

/// Moves the site in a folder; without a destination to the database that the settings name.
///
/// # Errors
/// [`ServerError::ServerRuns`]; [`ServerError::NothingToMove`]; otherwise what either place says, and then the place before
/// still holds good.
pub async fn move_site(dir: &Path, to: Option<Destination>, told: Told<'_>) -> Result<Moved, ServerError> {
    let folder = Folder::find(dir)?.lock()?;
    let setting = config::store_address(dir)?;
    let to = match to {
        Some(to) => to,
        None => setting.clone().map(Destination::Database).ok_or(ServerError::NothingToMove {
            what: "neither --to nor the setting store_url says where to".to_owned(),
        })?,
    };
    match (folder.place()?, to) {
        (Place::File(path), Destination::Database(address)) => {
            into_database(&folder, &path, address, setting.as_ref(), told).await
        }
        (Place::Database { address, site }, Destination::Folder) => {
            let moved = into_folder(&folder, &address, &site, told).await?;
            Ok(Moved { setting_remains: setting.is_some(), ..moved })
        }
        (Place::File(_), Destination::Folder) => {
            Err(ServerError::NothingToMove { what: "the journal lies in the folder already".to_owned() })
        }
        (Place::Database { address: there, .. }, Destination::Database(address)) => {
            let what = if there == address {
                format!("the journal lies in {there} already")
            } else {
                format!("the journal lies in {there}; move it to sqlite first, then to {address}")
            };
            Err(ServerError::NothingToMove { what })
        }
    }
}

async fn into_database(
    folder: &LockedFolder,
    path: &Path,
    address: PostgresAddress,
    setting: Option<&PostgresAddress>,
    told: Told<'_>,
) -> Result<Moved, ServerError> {
    if let Some(setting) = setting.filter(|setting| **setting != address) {
        let what =
            format!("the setting store_url says {setting}, but --to says {address}; make them the same");
        return Err(ServerError::NothingToMove { what });
    }
    let store = SqliteStore::open_with(path, config::journal_options()?).await?;
    let carried = into_database_from(folder, &store, &address, setting, told).await;
    store.close().await?;
    let carried = carried?;
    folder.remember(&Reached::from(&carried.head))?;
    // This is the last step: from here on the database holds good.
    folder.point_to(&address, &carried.head.site)?;
    told("the folder names the database now");
    let left = put_aside(path)?;
    Ok(moved(carried, address.to_string(), left.display().to_string()))
}

async fn into_database_from(
    folder: &LockedFolder,
    store: &SqliteStore,
    address: &PostgresAddress,
    setting: Option<&PostgresAddress>,
    told: Told<'_>,
) -> Result<Carried, ServerError> {
    folder.compare(&folder.reached()?, store).await?;
    let site = store.head().await?.site;
    // The server will come in without a password that only this command was given.
    let later = match setting {
        Some(setting) => setting.clone(),
        None => address.shown().parse()?,
    };
    let looked = match PostgresStore::open_for_reading(&later, &site).await {
        Ok(reader) => reader.close().await,
        Err(StoreError::SiteMissing { .. }) => Ok(()),
        Err(error) => Err(error),
    };
    if let Err(error) = looked {
        let what = format!(
            "the server could not come in there later ({error}); put the whole address as store_url into {}, or the \
             password into ~/.pgpass",
            crate::folder::SETTINGS_FILE
        );
        return Err(ServerError::NothingToMove { what });
    }
    Ok(carry_to_postgres(store, address, told).await?)
}

async fn into_folder(
    folder: &LockedFolder,
    address: &PostgresAddress,
    site: &str,
    told: Told<'_>,
) -> Result<Moved, ServerError> {
    let store = PostgresStore::open_to_leave(address, site).await?;
    let carried = into_folder_from(folder, &store, told).await;
    store.close().await?;
    let carried = carried?;
    // This is the last step: from here on the file holds good.
    folder.point_here()?;
    told("the folder names the file now");
    Ok(moved(carried, folder.journal().display().to_string(), address.to_string()))
}

async fn into_folder_from(
    folder: &LockedFolder,
    store: &PostgresStore,
    told: Told<'_>,
) -> Result<Carried, ServerError> {
    folder.compare(&folder.reached()?, store).await?;
    let arriving = with_suffix(&folder.journal(), "-arriving");
    for leftover in [arriving.clone(), with_suffix(&arriving, "-wal"), with_suffix(&arriving, "-shm")] {
        remove_if_there(&leftover)?;
    }
    let carried = carry_to_sqlite(store, &arriving, told).await?;
    folder.remember(&Reached::from(&carried.head))?;
    // A file that lies there beside a journal in a database is a copy from before.
    if folder.journal().exists() {
        put_aside(&folder.journal())?;
    }
    let path = folder.journal();
    fs::rename(&arriving, &path).map_err(ServerError::file("naming", &path))?;
    sync(folder.path())?;
    store.leave().await?;
    told("the site is marked as left in the database");
    Ok(carried)
}

fn moved(carried: Carried, now_in: String, left_behind: String) -> Moved {
    let Carried { head, jobs, rows, resumed_at } = carried;
    let (site, entries, root, epoch) = (head.site, head.seq, head.root, head.epoch);
    Moved { site, now_in, left_behind, entries, jobs, rows, resumed_at, root, epoch, setting_remains: false }
}

/// Gives a file another name, over an earlier one that was put aside.
fn put_aside(path: &Path) -> Result<PathBuf, ServerError> {
    let aside = with_suffix(path, "-moved");
    for suffix in ["-wal", "-shm"] {
        remove_if_there(&with_suffix(path, suffix))?;
    }
    fs::rename(path, &aside).map_err(ServerError::file("naming", &aside))?;
    sync(path.parent().unwrap_or(Path::new(".")))?;
    Ok(aside)
}

fn remove_if_there(path: &Path) -> Result<(), ServerError> {
    match fs::remove_file(path) {
        Err(cause) if cause.kind() != ErrorKind::NotFound => Err(ServerError::file("removing", path)(cause)),
        _ => Ok(()),
    }
}

fn with_suffix(path: &Path, suffix: &str) -> PathBuf {
    let mut name = path.file_name().unwrap_or(std::ffi::OsStr::new(JOURNAL_FILE)).to_owned();
    name.push(suffix);
    path.with_file_name(name)
}
