//! Disks that fail: one that refuses or dies at its n-th change, and one that loses at a power cut what was not synced.

use super::mixed;
use crate::disk::{Disk, Held, SystemDisk, Taken};
use std::collections::{BTreeMap, BTreeSet};
use std::io::{self, Error, ErrorKind};
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::Duration;

/// What happens at the n-th change.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Fault {
    /// It fails, and everything after it goes on.
    Refused,
    /// The process dies before it: nothing reaches the disk any more.
    DiesBefore,
    /// The process dies within it; a write is cut in its middle.
    DiesWithin,
}

/// The machine's disk, but with one fault.
pub(crate) struct FaultyDisk {
    fault: Fault,
    at: usize,
    changes: AtomicUsize,
    dead: AtomicBool,
}

impl FaultyDisk {
    pub(crate) fn new(fault: Fault, at: usize) -> Self {
        Self { fault, at, changes: AtomicUsize::new(0), dead: AtomicBool::new(false) }
    }

    /// One without a fault.
    pub(crate) fn whole() -> Self {
        Self::new(Fault::Refused, usize::MAX)
    }

    /// True once the fault has happened.
    pub(crate) fn struck(&self) -> bool {
        self.changes.load(Ordering::SeqCst) > self.at
    }

    fn alive(&self) -> io::Result<()> {
        if self.dead.load(Ordering::SeqCst) { Err(Error::other("the process is dead")) } else { Ok(()) }
    }

    fn change(&self, whole: impl FnOnce() -> io::Result<()>, half: impl FnOnce()) -> io::Result<()> {
        self.alive()?;
        if self.changes.fetch_add(1, Ordering::SeqCst) != self.at {
            return whole();
        }
        match self.fault {
            Fault::Refused => half(),
            Fault::DiesBefore => self.dead.store(true, Ordering::SeqCst),
            Fault::DiesWithin => {
                half();
                self.dead.store(true, Ordering::SeqCst);
            }
        }
        Err(Error::new(ErrorKind::StorageFull, "fault of this test"))
    }
}

impl Disk for FaultyDisk {
    fn create_folder(&self, folder: &Path) -> io::Result<()> {
        // Only making a folder that is not there is a change.
        if folder.exists() {
            return self.alive();
        }
        self.change(|| SystemDisk.create_folder(folder), || {})
    }

    // Nothing is synced for real: what a process wrote outlives it, and only the fault matters.
    fn write(&self, file: &Path, bytes: &[u8]) -> io::Result<()> {
        let half = || drop(std::fs::write(file, &bytes[..bytes.len() / 2]));
        self.change(|| std::fs::write(file, bytes), half)
    }

    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        // Dying within a rename: it is done, but nobody hears of it.
        let done = || {
            if self.fault == Fault::DiesWithin {
                SystemDisk.rename(from, to).unwrap();
            }
        };
        self.change(|| SystemDisk.rename(from, to), done)
    }

    fn remove(&self, file: &Path) -> io::Result<()> {
        self.change(|| SystemDisk.remove(file), || {})
    }

    fn remove_folder(&self, folder: &Path) -> io::Result<()> {
        self.change(|| SystemDisk.remove_folder(folder), || {})
    }

    fn sync_folder(&self, _: &Path) -> io::Result<()> {
        self.change(|| Ok(()), || {})
    }

    fn read(&self, file: &Path, most: usize) -> io::Result<Vec<u8>> {
        self.alive().and_then(|()| SystemDisk.read(file, most))
    }

    fn list(&self, folder: &Path) -> io::Result<Vec<String>> {
        self.alive().and_then(|()| SystemDisk.list(folder))
    }

    fn lock(&self, file: &Path, who: &str, patience: Duration) -> io::Result<Taken> {
        self.alive().and_then(|()| SystemDisk.lock(file, who, patience))
    }
}

/// A disk in memory that knows what is synced. At a power cut, each name that changed since its folder was synced and
/// the bytes of each file that was not synced are kept or lost by chance.
#[derive(Default)]
pub(crate) struct PowerDisk {
    state: Mutex<State>,
    /// Power fails before this change.
    pub(crate) cut_at: Option<usize>,
    /// A broken build for the test of the test: folders are never synced.
    pub(crate) forgets_folders: bool,
}

#[derive(Default, Clone)]
struct State {
    /// Names as a process sees them, and the file behind each.
    seen: BTreeMap<PathBuf, usize>,
    /// Names as they are on the disk for certain.
    sure: BTreeMap<PathBuf, usize>,
    folders: BTreeSet<PathBuf>,
    files: Vec<(Vec<u8>, bool)>,
    changes: usize,
}

impl PowerDisk {
    pub(crate) fn struck(&self) -> bool {
        self.cut_at.is_some_and(|at| self.state.lock().unwrap().changes > at)
    }

    /// What is left when power comes back.
    pub(crate) fn after_the_cut(&self, seed: u64) -> Self {
        let before = self.state.lock().unwrap().clone();
        let mut chance = seed;
        let mut coin = || {
            chance = mixed(chance);
            chance.is_multiple_of(2)
        };
        let mut after = State { folders: before.folders.clone(), ..State::default() };
        let names: BTreeSet<_> = before.seen.keys().chain(before.sure.keys()).cloned().collect();
        for name in names {
            let (seen, sure) = (before.seen.get(&name), before.sure.get(&name));
            let Some(file) = (if seen == sure || coin() { seen } else { sure }) else { continue };
            let (bytes, synced) = &before.files[*file];
            let bytes = if *synced || coin() { bytes.clone() } else { bytes[..bytes.len() / 2].to_vec() };
            after.files.push((bytes, true));
            after.seen.insert(name.clone(), after.files.len() - 1);
        }
        after.sure = after.seen.clone();
        Self { state: Mutex::new(after), ..Self::default() }
    }

    fn change<T>(&self, act: impl FnOnce(&mut State) -> io::Result<T>) -> io::Result<T> {
        let mut state = self.state.lock().unwrap();
        if self.cut_at.is_some_and(|at| state.changes >= at) {
            state.changes += 1;
            return Err(Error::other("no power"));
        }
        state.changes += 1;
        act(&mut state)
    }

    fn look<T>(&self, act: impl FnOnce(&State) -> io::Result<T>) -> io::Result<T> {
        if self.struck() {
            return Err(Error::other("no power"));
        }
        act(&self.state.lock().unwrap())
    }
}

struct NoLock;
impl Held for NoLock {}

impl Disk for PowerDisk {
    // Folders are made once, when the station's folder is founded; their loss is not modelled.
    fn create_folder(&self, folder: &Path) -> io::Result<()> {
        self.state.lock().unwrap().folders.extend(folder.ancestors().map(Path::to_owned));
        Ok(())
    }

    fn write(&self, file: &Path, bytes: &[u8]) -> io::Result<()> {
        // The cut may come between the bytes and their sync.
        for synced in [false, true] {
            self.change(|state| {
                state.files.push((bytes.to_vec(), synced));
                let at = state.files.len() - 1;
                state.seen.insert(file.to_owned(), at);
                Ok(())
            })?;
        }
        Ok(())
    }

    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        self.change(|state| {
            let file = state.seen.remove(from).ok_or(ErrorKind::NotFound)?;
            state.seen.insert(to.to_owned(), file);
            Ok(())
        })
    }

    fn remove(&self, file: &Path) -> io::Result<()> {
        self.change(|state| state.seen.remove(file).map(|_| ()).ok_or(ErrorKind::NotFound.into()))
    }

    fn remove_folder(&self, folder: &Path) -> io::Result<()> {
        self.change(|state| {
            state.folders.remove(folder);
            Ok(())
        })
    }

    fn sync_folder(&self, folder: &Path) -> io::Result<()> {
        let forgets = self.forgets_folders;
        self.change(|state| {
            if !forgets {
                state.sure.retain(|name, _| name.parent() != Some(folder));
                let seen = state.seen.iter().filter(|(name, _)| name.parent() == Some(folder));
                state.sure.extend(seen.map(|(name, file)| (name.clone(), *file)));
            }
            Ok(())
        })
    }

    fn read(&self, file: &Path, most: usize) -> io::Result<Vec<u8>> {
        self.look(|state| {
            let at = state.seen.get(file).ok_or(ErrorKind::NotFound)?;
            Ok(state.files[*at].0.iter().copied().take(most + 1).collect())
        })
    }

    fn list(&self, folder: &Path) -> io::Result<Vec<String>> {
        self.look(|state| {
            let inside = state.seen.keys().chain(&state.folders).filter(|name| name.parent() == Some(folder));
            Ok(inside.filter_map(|name| Some(name.file_name()?.to_str()?.to_owned())).collect())
        })
    }

    fn lock(&self, _: &Path, who: &str, _: Duration) -> io::Result<Taken> {
        self.look(|_| Ok(Taken::Yours { held: Box::new(NoLock), before: who.to_owned() }))
    }
}
