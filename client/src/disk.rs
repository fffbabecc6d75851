//! The few things that a station does with a disk, as one trait, so that a test can let them fail, or lose what
//! was not synced. What is written where is the folder's.

use std::fs::{File, OpenOptions, TryLockError};
use std::io::{self, Read as _, Seek as _, Write as _};
use std::path::Path;
use std::time::{Duration, Instant};

/// What keeps a lock until it is dropped.
pub trait Held: Send {}

/// How taking a lock ended.
pub enum Taken {
    /// It is held now; `before` is what the holder before wrote, empty for the first.
    Yours {
        /// Lets go when dropped.
        held: Box<dyn Held>,
        /// What the holder before wrote about itself.
        before: String,
    },
    /// Somebody else kept it all the time.
    Theirs {
        /// What the holder wrote about itself.
        holder: String,
    },
}

/// A disk.
pub trait Disk: Send + Sync {
    /// Makes a folder and those above it, for its owner only, if it is not there; its own entry above is not synced.
    ///
    /// # Errors
    /// What the system says.
    fn create_folder(&self, folder: &Path) -> io::Result<()>;
    /// Writes a whole file for its owner only, in place of one that may be there, and syncs its bytes.
    ///
    /// # Errors
    /// What the system says; the file may then be there in part.
    fn write(&self, file: &Path, bytes: &[u8]) -> io::Result<()>;
    /// Gives a file another name in the same file system, in place of one that may be there.
    ///
    /// # Errors
    /// What the system says.
    fn rename(&self, from: &Path, to: &Path) -> io::Result<()>;
    /// Removes a file.
    ///
    /// # Errors
    /// What the system says.
    fn remove(&self, file: &Path) -> io::Result<()>;
    /// Removes an empty folder.
    ///
    /// # Errors
    /// What the system says.
    fn remove_folder(&self, folder: &Path) -> io::Result<()>;
    /// Syncs a folder's list of names.
    ///
    /// # Errors
    /// What the system says.
    fn sync_folder(&self, folder: &Path) -> io::Result<()>;
    /// Reads a file up to a number of bytes and one more.
    ///
    /// # Errors
    /// What the system says.
    fn read(&self, file: &Path, most: usize) -> io::Result<Vec<u8>>;
    /// Names in a folder, in no order; empty if there is no such folder.
    ///
    /// # Errors
    /// What the system says.
    fn list(&self, folder: &Path) -> io::Result<Vec<String>>;
    /// Takes an exclusive lock on a file, waiting at most so long, and writes into it who holds it.
    ///
    /// # Errors
    /// What the system says.
    fn lock(&self, file: &Path, who: &str, patience: Duration) -> io::Result<Taken>;
}

/// The machine's disk.
#[derive(Debug, Clone, Copy, Default)]
pub struct SystemDisk;

impl Held for File {}

/// Time between two tries for a lock.
const LOCK_PAUSE: Duration = Duration::from_millis(10);
/// No holder writes more about itself, in bytes.
const HOLDER_BYTES_MAX: u64 = 200;

impl Disk for SystemDisk {
    fn create_folder(&self, folder: &Path) -> io::Result<()> {
        let mut builder = std::fs::DirBuilder::new();
        builder.recursive(true);
        #[cfg(unix)]
        std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
        builder.create(folder)
    }

    fn write(&self, file: &Path, bytes: &[u8]) -> io::Result<()> {
        let mut open = OpenOptions::new();
        open.write(true).create(true).truncate(true);
        #[cfg(unix)]
        std::os::unix::fs::OpenOptionsExt::mode(&mut open, 0o600);
        let mut file = open.open(file)?;
        file.write_all(bytes)?;
        file.sync_all()
    }

    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        std::fs::rename(from, to)
    }

    fn remove(&self, file: &Path) -> io::Result<()> {
        std::fs::remove_file(file)
    }

    fn remove_folder(&self, folder: &Path) -> io::Result<()> {
        std::fs::remove_dir(folder)
    }

    fn sync_folder(&self, folder: &Path) -> io::Result<()> {
        File::open(folder)?.sync_all()
    }

    fn read(&self, file: &Path, most: usize) -> io::Result<Vec<u8>> {
        let mut bytes = Vec::new();
        let most = u64::try_from(most).unwrap_or(u64::MAX).saturating_add(1);
        File::open(file)?.take(most).read_to_end(&mut bytes)?;
        Ok(bytes)
    }

    fn list(&self, folder: &Path) -> io::Result<Vec<String>> {
        let entries = match std::fs::read_dir(folder) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
            other => other?,
        };
        // A name that is no text is none of ours.
        entries
            .filter_map(|entry| entry.map(|entry| entry.file_name().into_string().ok()).transpose())
            .collect()
    }

    fn lock(&self, file: &Path, who: &str, patience: Duration) -> io::Result<Taken> {
        let mut lock = OpenOptions::new().read(true).write(true).create(true).truncate(false).open(file)?;
        let started = Instant::now();
        loop {
            match lock.try_lock() {
                Ok(()) => break,
                Err(TryLockError::WouldBlock) if started.elapsed() < patience => {
                    std::thread::sleep(LOCK_PAUSE)
                }
                Err(TryLockError::WouldBlock) => return Ok(Taken::Theirs { holder: holder(&mut lock)? }),
                Err(TryLockError::Error(error)) => return Err(error),
            }
        }
        let before = holder(&mut lock)?;
        if before != who {
            // Not synced: after a power cut everybody reads the folder anew anyway.
            lock.set_len(0)?;
            lock.rewind()?;
            lock.write_all(who.as_bytes())?;
        }
        Ok(Taken::Yours { held: Box::new(lock), before })
    }
}

fn holder(lock: &mut File) -> io::Result<String> {
    let mut bytes = Vec::new();
    lock.rewind()?;
    lock.take(HOLDER_BYTES_MAX).read_to_end(&mut bytes)?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_lock_is_held_by_one_who_says_who_and_let_go_when_dropped() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("lock");
        let lock = |who: &str| SystemDisk.lock(&file, who, Duration::ZERO).unwrap();
        let Taken::Yours { held, before } = lock("first") else { panic!("nobody holds it") };
        assert_eq!(before, "");
        let Taken::Theirs { holder } = lock("second") else { panic!("the first holds it") };
        assert_eq!(holder, "first");
        drop(held);
        assert!(matches!(lock("second"), Taken::Yours { before, .. } if before == "first"));
    }

    #[test]
    fn a_folder_that_is_not_there_has_no_names_and_no_file_is_read_without_end() {
        let folder = tempfile::tempdir().unwrap();
        assert!(SystemDisk.list(&folder.path().join("none")).unwrap().is_empty());
        let file = folder.path().join("long");
        SystemDisk.write(&file, &[7; 1000]).unwrap();
        assert_eq!(SystemDisk.read(&file, 10).unwrap().len(), 11);
        assert_eq!(SystemDisk.list(folder.path()).unwrap(), ["long"]);
    }

    #[cfg(unix)]
    #[test]
    fn what_is_written_is_for_its_owner_only() {
        use std::os::unix::fs::PermissionsExt as _;
        let folder = tempfile::tempdir().unwrap();
        let inner = folder.path().join("home");
        SystemDisk.create_folder(&inner).unwrap();
        SystemDisk.write(&inner.join("station.toml"), b"token").unwrap();
        let mode = |path: &Path| std::fs::metadata(path).unwrap().permissions().mode() & 0o777;
        assert_eq!((mode(&inner), mode(&inner.join("station.toml"))), (0o700, 0o600));
    }
}
