//! A station's folder on the disk: the thin shell around the unsent list.
//!
//! ```text
//! station.toml          address, token, identity of station and site        (state.rs)
//! epoch                 identity of the unsent list and where it began       (state.rs)
//! joining, renewing     tokens that the server may not know yet              (state.rs)
//! current, jobs         person and job in use; jobs by their local names     (state.rs)
//! last-place            greatest place that was ever used, as far as files were removed since
//! lock, sending         who changes the folder; who sends
//! unsent/<place>.entry               kept, not acknowledged; form in frame.rs
//! sent/<day>/<place>-<seq>.entry     acknowledged; day and seq are the server's (archive.rs)
//! refused/<place>.entry, .toml       refused for ever, with the server's sentence
//! unsent/blobs/<digest>              photos and words that are not acknowledged     (blobs.rs)
//! refused/<digest>.blob              the same, refused for ever
//! steps/<job>, issuing               last answer to 'what is next'; a request to issue without answer (steps.rs)
//! damaged/                           what was not whole, as it was found
//! ```
//!
//! A place has 20 digits, so that names sort as numbers. A file is written under a name that ends in `.new`, synced,
//! renamed, and the folder synced, before anything is promised; a `.new` left behind was never promised and is
//! removed. What is not whole is moved to `damaged/`, told, and never sent. Every change needs the [`Lock`], which
//! several commands of one station take in turn. Never here: what to send when, which is [`crate::unsent`].

pub mod archive;
pub(crate) mod blobs;
pub mod state;
pub(crate) mod steps;

use crate::disk::{Disk, Held, Taken};
use crate::error::ClientError;
use crate::frame::{ADDED_BYTES, framed, unframed};
use crate::unsent::Waiting;
use bytes::Bytes;
use prost::Message as _;
use standpipe_proto::limits::ENTRY_BYTES_MAX;
use standpipe_proto::v1::{self, fact::Kind, header::Subject};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

pub(crate) const UNSENT: &str = "unsent";
pub(crate) const SENT: &str = "sent";
pub(crate) const REFUSED: &str = "refused";
pub(crate) const DAMAGED: &str = "damaged";
const LAST_PLACE: &str = "last-place";
/// How long a command waits for another one of the same station to let go of the folder.
const LOCK_PATIENCE: Duration = Duration::from_secs(3);

/// A station's folder.
pub(crate) struct Folder {
    disk: Arc<dyn Disk>,
    root: PathBuf,
    /// What this holder writes into the lock; different for every opening of a folder.
    holder: String,
}

/// The right to change the folder, held until dropped.
pub(crate) struct Lock {
    _held: Box<dyn Held>,
    /// True when somebody else may have changed the folder since this holder had the lock.
    pub(crate) others_were_here: bool,
}

/// An entry in the unsent list, as far as lists and answers need it.
#[derive(Debug, Clone)]
pub(crate) struct KeptEntry {
    pub(crate) waiting: Waiting,
    pub(crate) entry: v1::Entry,
}

/// What the folder holds.
pub(crate) struct Contents {
    pub(crate) unsent: BTreeMap<i64, KeptEntry>,
    pub(crate) greatest_place: i64,
    /// One sentence for each file that was not whole and was moved aside now.
    pub(crate) damaged: Vec<String>,
}

impl Folder {
    pub(crate) fn new(disk: Arc<dyn Disk>, root: PathBuf, holder: String) -> Self {
        Self { disk, root, holder }
    }

    pub(crate) fn root(&self) -> &Path {
        &self.root
    }

    /// Takes the right to change the folder, making the folder itself if it is not there.
    pub(crate) fn lock(&self) -> Result<Lock, ClientError> {
        self.take("lock")
    }

    /// Takes the right to send. Entries can still be kept by others meanwhile.
    pub(crate) fn lock_sending(&self) -> Result<Lock, ClientError> {
        self.take("sending")
    }

    fn take(&self, name: &str) -> Result<Lock, ClientError> {
        self.disk
            .create_folder(&self.root)
            .map_err(|cause| ClientError::disk("making the folder", &self.root, cause))?;
        let file = self.root.join(name);
        let taken = self.disk.lock(&file, &self.holder, LOCK_PATIENCE);
        match taken.map_err(|cause| ClientError::disk("locking", &file, cause))? {
            Taken::Yours { held, before } => {
                Ok(Lock { _held: held, others_were_here: before != self.holder })
            }
            Taken::Theirs { holder } => Err(ClientError::Locked { holder }),
        }
    }

    /// Makes the folders inside, unless this is a folder of something else.
    pub(crate) fn found(&self, _lock: &Lock) -> Result<(), ClientError> {
        let names = self.list(&self.root)?;
        let ours = |name: &String| {
            ["epoch", "station.toml", "lock", "sending", "settings.toml"].contains(&name.as_str())
                || [UNSENT, SENT, REFUSED, DAMAGED].contains(&name.as_str())
                || name.ends_with(".new")
        };
        let is_station = names.iter().any(|name| name == "epoch" || name == UNSENT);
        if !is_station && !names.iter().all(ours) {
            return Err(ClientError::Folder {
                path: self.root.clone(),
                what: "it is not empty and not a station's folder; choose another one (STANDPIPE_HOME or --home)".into(),
            });
        }
        let missing = |name: &&str| !names.iter().any(|known| known == name);
        let inner: Vec<_> = [UNSENT, SENT, REFUSED, DAMAGED].into_iter().filter(missing).collect();
        for name in &inner {
            self.make_folder(&self.root.join(name))?;
        }
        if !inner.is_empty() {
            self.sync(&self.root)?;
            // The folder's own name stands in the one above; where that cannot be synced, it was there before.
            if let Some(above) = self.root.parent().filter(|above| !above.as_os_str().is_empty()) {
                let _ = self.disk.sync_folder(above);
            }
        }
        Ok(())
    }

    /// Reads the unsent list and moves aside what is not whole.
    pub(crate) fn load(&self, lock: &Lock) -> Result<Contents, ClientError> {
        let folder = self.root.join(UNSENT);
        let mut contents = Contents { unsent: BTreeMap::new(), greatest_place: 0, damaged: Vec::new() };
        let mut changed = false;
        // The unsent names come first: an entry that another one moves to those sent is then seen at least once.
        for name in self.list(&folder)? {
            let path = folder.join(&name);
            if name.ends_with(".new") {
                self.remove(&path)?;
                changed = true;
                continue;
            }
            let Some(place) = name.strip_suffix(".entry").and_then(place_of) else { continue };
            contents.greatest_place = contents.greatest_place.max(place);
            match self.read_entry(&path)? {
                Ok((_, kept)) => {
                    contents.unsent.insert(place, kept);
                }
                Err(why) => {
                    self.secure_place(lock, contents.greatest_place)?;
                    let aside = self.move_aside(lock, &path, &name)?;
                    contents.damaged.push(format!(
                        "{UNSENT}/{name} is not whole ({why}) and was moved to {}; it was not sent: state its fact again",
                        aside.display()
                    ));
                    changed = true;
                }
            }
        }
        if changed {
            self.sync(&folder)?;
        }
        contents.greatest_place = contents.greatest_place.max(self.greatest_place_elsewhere()?);
        Ok(contents)
    }

    /// Keeps a sealed entry: when this returns, it is on the disk.
    pub(crate) fn keep(&self, lock: &Lock, place: i64, sealed: &[u8]) -> Result<(), ClientError> {
        let path = self.unsent_file(place);
        let kept = self.replace(lock, &path, &framed(sealed));
        if kept.is_err() {
            // It was not promised, so it should not be sent either. If this fails as well, the file may be found
            // again; the caller then reads the folder anew and never uses the place twice.
            let _ = self.disk.remove(&path);
            let _ = self.disk.sync_folder(&self.root.join(UNSENT));
        }
        kept
    }

    /// The sealed bytes of an unsent entry, checked again.
    pub(crate) fn read(&self, place: i64) -> Result<Bytes, ClientError> {
        let path = self.unsent_file(place);
        let found = self.read_entry(&path)?;
        found.map(|(sealed, _)| sealed).map_err(|why| ClientError::Folder {
            path,
            what: format!("it is not whole ({why}); say it again, and it will be moved aside"),
        })
    }

    /// Moves a file that is not whole to the damaged ones, under a name that is free.
    pub(crate) fn move_aside(&self, _lock: &Lock, path: &Path, name: &str) -> Result<PathBuf, ClientError> {
        let folder = self.root.join(DAMAGED);
        self.make_folder(&folder)?;
        let taken = self.list(&folder)?;
        let free = std::iter::once(name.to_owned())
            .chain((2..).map(|copy| format!("{name}.{copy}")))
            .find(|candidate| !taken.contains(candidate))
            .unwrap_or_else(|| name.to_owned());
        self.rename(path, &folder.join(&free))?;
        self.sync(&folder)?;
        Ok(Path::new(DAMAGED).join(free))
    }

    /// Writes a whole file in place of another: when this returns, the new one is on the disk; before, the old one.
    pub(crate) fn replace(&self, _lock: &Lock, path: &Path, bytes: &[u8]) -> Result<(), ClientError> {
        let fresh = with_end(path, ".new");
        self.disk.write(&fresh, bytes).map_err(|cause| ClientError::disk("writing", &fresh, cause))?;
        self.rename(&fresh, path)?;
        self.sync(path.parent().unwrap_or(&self.root))
    }

    fn unsent_file(&self, place: i64) -> PathBuf {
        self.root.join(UNSENT).join(format!("{place:020}.entry"))
    }

    /// Reads one kept entry: the file's own state as words if it is not whole.
    #[allow(clippy::type_complexity)]
    fn read_entry(&self, path: &Path) -> Result<Result<(Bytes, KeptEntry), String>, ClientError> {
        let file = self
            .disk
            .read(path, ENTRY_BYTES_MAX + ADDED_BYTES)
            .map_err(|cause| ClientError::disk("reading", path, cause))?;
        Ok(unframed(&file).and_then(|sealed| kept_entry(&sealed).map(|kept| (sealed, kept))))
    }

    /// Greatest place among all that is no longer unsent.
    fn greatest_place_elsewhere(&self) -> Result<i64, ClientError> {
        let mut names = self.list(&self.root.join(REFUSED))?;
        names.extend(self.list(&self.root.join(DAMAGED))?);
        for day in self.list(&self.root.join(SENT))? {
            names.extend(self.list(&self.root.join(SENT).join(day))?);
        }
        let greatest = names.iter().filter_map(|name| place_of(name.get(..20)?)).max().unwrap_or(0);
        Ok(greatest.max(self.last_place()?))
    }

    /// The greatest place written down before files were removed. A file that cannot be read says nothing: it is
    /// only ever a lower bound beside the files themselves and the epoch.
    fn last_place(&self) -> Result<i64, ClientError> {
        let text = self.read_text(LAST_PLACE)?.unwrap_or_default();
        Ok(text.trim().parse().unwrap_or(0))
    }

    /// Writes down the greatest place before files are moved or removed, so that no number comes again, even if a
    /// power cut takes a file's old and new name.
    pub(crate) fn secure_place(&self, lock: &Lock, place: i64) -> Result<(), ClientError> {
        if self.last_place()? >= place {
            return Ok(());
        }
        self.replace(lock, &self.root.join(LAST_PLACE), format!("{place}\n").as_bytes())
    }

    /// A small text file of the folder; nothing if it is not there.
    fn read_text(&self, name: &str) -> Result<Option<String>, ClientError> {
        let path = self.root.join(name);
        match self.disk.read(&path, state::STATE_BYTES_MAX) {
            Ok(bytes) => Ok(Some(String::from_utf8_lossy(&bytes).into_owned())),
            Err(cause) if cause.kind() == std::io::ErrorKind::NotFound => Ok(None),
            Err(cause) => Err(ClientError::disk("reading", &path, cause)),
        }
    }

    fn list(&self, folder: &Path) -> Result<Vec<String>, ClientError> {
        let mut names =
            self.disk.list(folder).map_err(|cause| ClientError::disk("reading the folder", folder, cause))?;
        names.sort();
        Ok(names)
    }

    fn make_folder(&self, folder: &Path) -> Result<(), ClientError> {
        self.disk.create_folder(folder).map_err(|cause| ClientError::disk("making the folder", folder, cause))
    }

    fn rename(&self, from: &Path, to: &Path) -> Result<(), ClientError> {
        self.disk.rename(from, to).map_err(|cause| ClientError::disk("renaming", from, cause))
    }

    fn remove(&self, file: &Path) -> Result<(), ClientError> {
        self.disk.remove(file).map_err(|cause| ClientError::disk("removing", file, cause))
    }

    fn sync(&self, folder: &Path) -> Result<(), ClientError> {
        self.disk.sync_folder(folder).map_err(|cause| ClientError::disk("syncing", folder, cause))
    }
}

/// What a sealed entry says about itself, or in words why it is none.
pub(crate) fn kept_entry(sealed: &[u8]) -> Result<KeptEntry, String> {
    let entry = v1::Entry::decode(sealed).map_err(|error| format!("no entry: {error}"))?;
    let header = entry.header.as_ref().ok_or("an entry without a header")?;
    let opens_job = matches!(entry.fact.as_ref().and_then(|fact| fact.kind.as_ref()), Some(Kind::Arrival(_)));
    let waiting = Waiting {
        entry_id: header.entry_id.clone(),
        epoch: header.station_epoch.clone(),
        bytes: u64::try_from(sealed.len()).unwrap_or(u64::MAX),
        opens_job,
    };
    Ok(KeptEntry { waiting, entry })
}

/// Identity of the job that an entry belongs to; empty for a fact of the site.
pub(crate) fn job_of(entry: &v1::Entry) -> &str {
    match entry.header.as_ref().and_then(|header| header.subject.as_ref()) {
        Some(Subject::JobId(job)) => job,
        _ => "",
    }
}

fn place_of(digits: &str) -> Option<i64> {
    let plain = digits.len() == 20 && digits.bytes().all(|digit| digit.is_ascii_digit());
    plain.then(|| digits.parse().ok()).flatten()
}

fn with_end(path: &Path, end: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(end);
    PathBuf::from(name)
}

#[cfg(test)]
#[path = "../tests/folder.rs"]
mod tests;
