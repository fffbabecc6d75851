//! The folder of a site: what lies where, the lock that only one program holds, and the epoch file.
//!
//! ```text
//! DIR/standpipe.db            the journal and what stands beside it, unless they lie in a database
//! DIR/store                   in which one, if they do
//! DIR/epoch                   epoch, size and root that the journal has reached at least
//! DIR/lock                    held by the program that writes
//! DIR/blobs/                  content-addressed files
//! DIR/tls/                    the authority of the site and the certificate of its server
//! DIR/owner-link              the owner's server that the journal is brought to, if there is one
//! DIR/lost-records            issued records whose files were lost with a disk, if there are any
//! DIR/admin.sock              where a running server takes orders from this user
//! DIR/catalogue/<revision>/   the files of every adopted revision
//! DIR/standpipe-server.toml   settings, if there are any
//! DIR/vehicle-key             of an owner's server: the secret by which vehicles are found again at any workshop
//! DIR/sites/<site>/           of an owner's server: a folder like this one for each workshop
//! DIR/copy                    in such a folder: that its journal is a copy, and how the workshop is called
//! ```
//!
//! The epoch file is one line, `standpipe-epoch 1 <epoch> <size> <root>`, with epoch and root in hexadecimal digits.
//! It stands outside the database on purpose: an older copy of the database does not know how far the journal had
//! come. It may lag behind the journal and is never ahead of it, since it is written from durable heads only.
//! Never here: SQL, or what the entries mean.

use crate::authority::TLS;
use crate::clock::{hex, unhex};
use crate::error::ServerError;
use crate::forwarding::OWNER_LINK_FILE;
use crate::owner;
use crate::tallies::VEHICLE_KEY_FILE;
use crate::verify::LOST_RECORDS_FILE;
use crate::whereabouts::STORE_FILE;
use standpipe_store::{Head, Journal, Store};
use std::fs::{self, DirBuilder, File, OpenOptions, TryLockError};
use std::io::{ErrorKind, Write};
use std::os::unix::fs::{DirBuilderExt, OpenOptionsExt};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Name of the database in the folder.
pub const JOURNAL_FILE: &str = "standpipe.db";
/// Name of the epoch file in the folder.
pub const EPOCH_FILE: &str = "epoch";
/// Name of the settings file in the folder.
pub const SETTINGS_FILE: &str = "standpipe-server.toml";
/// Name of the file that says that the journal is a copy.
const COPY_FILE: &str = "copy";
const COPY_LINE: &str = "standpipe-copy 1";
const SITES: &str = "sites";
const ADMIN_SOCKET: &str = "admin.sock";
const LOCK_FILE: &str = "lock";
const BLOBS: &str = "blobs";
/// Name of the folder with the files of revisions.
pub(crate) const CATALOGUE: &str = "catalogue";
const EPOCH_LINE: &str = "standpipe-epoch 1";

/// How far a journal has come, as the epoch file remembers it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reached {
    /// The journal's epoch.
    pub epoch: [u8; 16],
    /// Number of entries.
    pub size: u64,
    /// Root over them.
    pub root: [u8; 32],
}

impl From<&Head> for Reached {
    fn from(head: &Head) -> Self {
        Self { epoch: head.epoch, size: head.seq, root: head.root }
    }
}

/// A site's folder.
#[derive(Debug, Clone)]
pub struct Folder {
    path: PathBuf,
}

/// A site's folder whose lock this program holds until the value is dropped.
#[derive(Debug)]
pub struct LockedFolder {
    folder: Folder,
    // The operating system lets the lock go when the file is closed, also at a kill.
    _lock: File,
}

impl std::ops::Deref for LockedFolder {
    type Target = Folder;

    fn deref(&self) -> &Folder {
        &self.folder
    }
}

impl Folder {
    /// Looks whether there is a site's folder.
    ///
    /// # Errors
    /// [`ServerError::FolderMissing`], [`ServerError::NotASite`] or [`ServerError::JournalLost`].
    pub fn find(path: &Path) -> Result<Self, ServerError> {
        let owned = || path.to_owned();
        match fs::metadata(path) {
            Ok(about) if about.is_dir() => {}
            Err(cause) if cause.kind() == ErrorKind::PermissionDenied => {
                return Err(owner::closed(path, cause));
            }
            _ => return Err(ServerError::FolderMissing { path: owned() }),
        }
        let there = |name: &str| path.join(name).try_exists().map_err(|cause| owner::closed(path, cause));
        let named = Self::names_database(path).map_err(|cause| owner::closed(path, cause))?;
        match (there(JOURNAL_FILE)? || named, there(EPOCH_FILE)?) {
            (true, _) => Ok(Self { path: owned() }),
            (false, true) => Err(ServerError::JournalLost { path: owned() }),
            (false, false) => Err(ServerError::NotASite { path: owned() }),
        }
    }

    /// Makes the empty folders of a new site, readable by this user only.
    pub(crate) fn create(path: &Path) -> Result<LockedFolder, ServerError> {
        for folder in [path.to_owned(), path.join(BLOBS), path.join(CATALOGUE)] {
            DirBuilder::new().mode(0o700).create(&folder).map_err(ServerError::file("creating", &folder))?;
        }
        Self { path: path.to_owned() }.lock()
    }

    /// Takes the lock.
    ///
    /// # Errors
    /// [`ServerError::ServerRuns`] when another program holds it; [`ServerError::OtherOwner`] and
    /// [`ServerError::OtherOwnerInside`] when what is written here could not be read by the server.
    pub fn lock(self) -> Result<LockedFolder, ServerError> {
        owner::require(&self.path, &self.written())?;
        let path = self.path.join(LOCK_FILE);
        let lock = OpenOptions::new()
            .write(true)
            .create(true)
            .truncate(false)
            .mode(0o600)
            .open(&path)
            .map_err(ServerError::file("opening", &path))?;
        match lock.try_lock() {
            Ok(()) => Ok(LockedFolder { folder: self, _lock: lock }),
            Err(TryLockError::WouldBlock) => Err(ServerError::ServerRuns { path: self.path }),
            Err(TryLockError::Error(cause)) => Err(ServerError::file("locking", &path)(cause)),
        }
    }

    /// Whether another program holds the lock. Nothing is made.
    ///
    /// # Errors
    /// When the lock cannot be looked at.
    pub(crate) fn is_locked(&self) -> Result<bool, ServerError> {
        let path = self.path.join(LOCK_FILE);
        let lock = match File::open(&path) {
            Ok(lock) => lock,
            Err(cause) if cause.kind() == ErrorKind::NotFound => return Ok(false),
            Err(cause) => return Err(ServerError::file("opening", &path)(cause)),
        };
        match lock.try_lock() {
            Ok(()) => Ok(false),
            Err(TryLockError::WouldBlock) => Ok(true),
            Err(TryLockError::Error(cause)) => Err(ServerError::file("locking", &path)(cause)),
        }
    }

    /// What the server writes here and must be able to read again.
    pub(crate) fn written(&self) -> Vec<PathBuf> {
        let journal = [JOURNAL_FILE.to_owned(), format!("{JOURNAL_FILE}-wal"), format!("{JOURNAL_FILE}-shm")];
        let others = [
            EPOCH_FILE,
            STORE_FILE,
            COPY_FILE,
            LOCK_FILE,
            BLOBS,
            CATALOGUE,
            TLS,
            SITES,
            SETTINGS_FILE,
            OWNER_LINK_FILE,
            VEHICLE_KEY_FILE,
            LOST_RECORDS_FILE,
        ]
        .map(str::to_owned);
        let mut paths: Vec<_> = journal.into_iter().chain(others).map(|name| self.path.join(name)).collect();
        let keys = fs::read_dir(self.path.join(TLS)).into_iter().flatten().filter_map(Result::ok);
        paths.extend(keys.map(|entry| entry.path()));
        paths
    }

    /// The file of the journal, if it lies in the folder.
    #[must_use]
    pub fn journal(&self) -> PathBuf {
        self.path.join(JOURNAL_FILE)
    }

    /// Where an owner's server keeps the journals of workshops.
    pub(crate) fn sites(&self) -> PathBuf {
        self.path.join(SITES)
    }

    /// The name of the workshop whose journal this is a copy of; nothing where it is none.
    ///
    /// # Errors
    /// When that cannot be read.
    pub(crate) fn copied_name(&self) -> Result<Option<String>, ServerError> {
        let path = self.path.join(COPY_FILE);
        match fs::read_to_string(&path) {
            Ok(line) => {
                let name = line.trim_end_matches('\n').strip_prefix(COPY_LINE).unwrap_or_default();
                Ok(Some(name.trim_start().to_owned()))
            }
            Err(cause) if cause.kind() == ErrorKind::NotFound => Ok(None),
            Err(cause) => Err(ServerError::file("reading", &path)(cause)),
        }
    }

    /// Requires that the journal is no copy of another server's.
    ///
    /// # Errors
    /// [`ServerError::CopiedJournal`].
    pub(crate) fn require_own(&self) -> Result<(), ServerError> {
        match self.copied_name()? {
            None => Ok(()),
            Some(_) => Err(ServerError::CopiedJournal { path: self.path.clone() }),
        }
    }

    /// Where the files of a revision lie.
    #[must_use]
    pub fn revision(&self, revision_id: &str) -> PathBuf {
        self.path.join(CATALOGUE).join(revision_id)
    }

    /// The folder itself.
    pub(crate) fn path(&self) -> &Path {
        &self.path
    }

    /// Where the files beside the journal lie.
    pub(crate) fn blobs(&self) -> PathBuf {
        self.path.join(BLOBS)
    }

    /// Where a running server takes orders.
    pub(crate) fn admin_socket(&self) -> PathBuf {
        self.path.join(ADMIN_SOCKET)
    }

    /// Where all revisions lie.
    pub(crate) fn catalogue(&self) -> PathBuf {
        self.path.join(CATALOGUE)
    }

    /// Reads the epoch file.
    ///
    /// # Errors
    /// [`ServerError::EpochFile`] when it is missing or not as this program writes it.
    pub fn reached(&self) -> Result<Reached, ServerError> {
        let path = self.path.join(EPOCH_FILE);
        let wrong = |what: String| ServerError::EpochFile { path: path.clone(), what };
        let text = match fs::read_to_string(&path) {
            Ok(text) => text,
            Err(error) if error.kind() == ErrorKind::NotFound => {
                return Err(wrong("is missing".to_owned()));
            }
            Err(error) if error.kind() == ErrorKind::PermissionDenied => {
                owner::require(&self.path, &self.written())?;
                return Err(ServerError::file("reading", &path)(error));
            }
            Err(error) => return Err(wrong(format!("cannot be read ({error})"))),
        };
        read_reached(&text).ok_or_else(|| wrong("is not as the server wrote it".to_owned()))
    }

    /// Compares an open journal with the epoch file.
    ///
    /// # Errors
    /// When the journal is another one, an older copy, or has another past.
    pub async fn compare(&self, reached: &Reached, journal: &dyn Journal) -> Result<(), ServerError> {
        let head = journal.head().await?;
        if head.epoch != reached.epoch {
            let (found, expected) = (hex(&head.epoch), hex(&reached.epoch));
            return Err(ServerError::EpochDiffers { found, expected });
        }
        if head.seq < reached.size {
            return Err(ServerError::Rewound { found: head.seq, seen: reached.size });
        }
        if journal.root_at(reached.size).await? != Some(reached.root) {
            return Err(ServerError::PastChanged { seen: reached.size });
        }
        Ok(())
    }
}

impl LockedFolder {
    /// Opens the journal for writing and compares it with the epoch file.
    ///
    /// # Errors
    /// Whatever is wrong with the file, each in one sentence; nothing is created or repaired.
    pub async fn open_journal(&self) -> Result<Arc<dyn Store>, ServerError> {
        let reached = self.reached()?;
        let store = self.agreed_place()?.open().await?;
        match self.compare(&reached, &*store).await {
            Ok(()) => Ok(store),
            Err(error) => {
                store.close().await?;
                Err(error)
            }
        }
    }

    /// Says that the journal is a copy, and how the workshop is called.
    ///
    /// # Errors
    /// When it cannot be written.
    pub(crate) fn call_copy(&self, name: &str) -> Result<(), ServerError> {
        replace(&self.path().join(COPY_FILE), format!("{COPY_LINE} {name}\n").as_bytes())
    }

    /// Remembers how far the journal has come. The file is replaced as a whole.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn remember(&self, reached: &Reached) -> Result<(), ServerError> {
        let path = self.path.join(EPOCH_FILE);
        let line = format!("{EPOCH_LINE} {} {} {}\n", hex(&reached.epoch), reached.size, hex(&reached.root));
        replace(&path, line.as_bytes())
    }
}

/// A site's folder in the making: it appears under its name only when it is complete, and is gone otherwise.
#[derive(Debug)]
pub(crate) struct Building {
    dir: PathBuf,
    unfinished: PathBuf,
    finished: bool,
}

impl Building {
    /// Makes the empty folders under another name. An empty folder that is there already is taken.
    ///
    /// # Errors
    /// [`ServerError::FolderTaken`], [`ServerError::Unfinished`], or when the disk refuses.
    pub(crate) fn begin(dir: &Path) -> Result<(Self, LockedFolder), ServerError> {
        let empty = fs::read_dir(dir).is_ok_and(|mut inside| inside.next().is_none());
        if fs::symlink_metadata(dir).is_ok() && !empty {
            return Err(ServerError::FolderTaken { path: dir.to_owned() });
        }
        let mut name = std::ffi::OsString::from(".");
        name.push(dir.file_name().unwrap_or(std::ffi::OsStr::new("site")));
        name.push("-unfinished");
        let unfinished = dir.parent().unwrap_or(Path::new("")).join(name);
        if fs::symlink_metadata(&unfinished).is_ok() {
            return Err(ServerError::Unfinished { path: unfinished });
        }
        if let Some(parent) = unfinished.parent().filter(|parent| !parent.as_os_str().is_empty()) {
            fs::create_dir_all(parent).map_err(ServerError::file("creating", parent))?;
        }
        let building = Self { dir: dir.to_owned(), unfinished, finished: false };
        let folder = Folder::create(&building.unfinished)?;
        Ok((building, folder))
    }

    /// Gives the folder its name, durably.
    ///
    /// # Errors
    /// When the disk refuses.
    pub(crate) fn finish(mut self) -> Result<(), ServerError> {
        fs::rename(&self.unfinished, &self.dir).map_err(ServerError::file("naming", &self.dir))?;
        self.finished = true;
        sync(self.dir.parent().unwrap_or(Path::new(".")))
    }
}

impl Drop for Building {
    fn drop(&mut self) {
        if !self.finished {
            // Only what was created here; the error that is reported matters more than a leftover.
            let _ = fs::remove_dir_all(&self.unfinished);
        }
    }
}

/// Writes a file under another name, syncs it and renames it, so that there is always a whole one.
pub(crate) fn replace(path: &Path, content: &[u8]) -> Result<(), ServerError> {
    let unfinished = unfinished(path);
    let failed = || ServerError::file("writing", path);
    let mut file = OpenOptions::new()
        .write(true)
        .create(true)
        .truncate(true)
        .mode(0o600)
        .open(&unfinished)
        .map_err(failed())?;
    file.write_all(content).and_then(|()| file.sync_all()).map_err(failed())?;
    fs::rename(&unfinished, path).map_err(failed())?;
    path.parent().map_or(Ok(()), sync)
}

/// Name of a file while [`replace`] writes it.
pub(crate) fn unfinished(path: &Path) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push("-new");
    PathBuf::from(name)
}

/// Makes a new or renamed name in a folder durable.
pub(crate) fn sync(folder: &Path) -> Result<(), ServerError> {
    let folder = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
    File::open(folder).and_then(|file| file.sync_all()).map_err(ServerError::file("syncing", folder))
}

fn read_reached(text: &str) -> Option<Reached> {
    let mut words = text.strip_suffix('\n')?.strip_prefix(EPOCH_LINE)?.strip_prefix(' ')?.split(' ');
    let (epoch, size, root) = (unhex(words.next()?)?, words.next()?, unhex(words.next()?)?);
    let plain = size.bytes().all(|digit| digit.is_ascii_digit());
    (plain && words.next().is_none()).then_some(Reached { epoch, size: size.parse().ok()?, root })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reached() -> Reached {
        Reached { epoch: [7; 16], size: 12, root: [9; 32] }
    }

    #[test]
    fn what_the_epoch_file_remembers_is_read_back() {
        let home = tempfile::tempdir().unwrap();
        let folder = Folder::create(&home.path().join("site")).unwrap();
        folder.remember(&reached()).unwrap();
        assert_eq!(folder.reached().unwrap(), reached());
    }

    #[test]
    fn an_epoch_file_cut_anywhere_is_not_taken() {
        let home = tempfile::tempdir().unwrap();
        let folder = Folder::create(&home.path().join("site")).unwrap();
        folder.remember(&reached()).unwrap();
        let path = folder.path.join(EPOCH_FILE);
        let whole = fs::read(&path).unwrap();
        for length in 0..whole.len() {
            fs::write(&path, &whole[..length]).unwrap();
            assert!(matches!(folder.reached(), Err(ServerError::EpochFile { .. })), "cut at {length}");
        }
    }

    #[test]
    fn only_one_program_holds_the_lock() {
        let home = tempfile::tempdir().unwrap();
        let path = home.path().join("site");
        let first = Folder::create(&path).unwrap();
        fs::write(path.join(JOURNAL_FILE), b"").unwrap();
        let second = Folder::find(&path).unwrap().lock();
        assert!(matches!(second, Err(ServerError::ServerRuns { .. })));
        drop(first);
        assert!(Folder::find(&path).unwrap().lock().is_ok());
    }

    #[test]
    fn a_folder_without_a_journal_is_named_for_what_it_is() {
        let home = tempfile::tempdir().unwrap();
        let find = |name: &str| Folder::find(&home.path().join(name));
        assert!(matches!(find("nowhere"), Err(ServerError::FolderMissing { .. })));
        fs::create_dir(home.path().join("plain")).unwrap();
        assert!(matches!(find("plain"), Err(ServerError::NotASite { .. })));
        fs::write(home.path().join("plain").join(EPOCH_FILE), "x").unwrap();
        assert!(matches!(find("plain"), Err(ServerError::JournalLost { .. })));
    }

    #[test]
    fn a_new_folder_is_closed_to_others() {
        use std::os::unix::fs::PermissionsExt;
        let home = tempfile::tempdir().unwrap();
        let folder = Folder::create(&home.path().join("site")).unwrap();
        assert_eq!(fs::metadata(&folder.path).unwrap().permissions().mode() & 0o777, 0o700);
    }
}
