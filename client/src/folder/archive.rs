//! What is no longer unsent: entries that the server has, entries that it refused, files that were not whole.
//! Called by [`crate::Station`] while sending, and to answer questions about it.

use super::{DAMAGED, Folder, Lock, REFUSED, SENT, UNSENT, kept_entry, place_of};
use crate::error::ClientError;
use crate::frame::{ADDED_BYTES, unframed};
use serde::{Deserialize, Serialize};
use standpipe_proto::limits::ENTRY_BYTES_MAX;
use standpipe_proto::v1;
use std::collections::BTreeSet;
use std::path::Path;

/// Days that acknowledged entries are kept, by the server's clock.
pub const SENT_DAYS: i64 = 30;
const DAY_MICROSECONDS: i64 = 86_400_000_000;

/// An entry that the server has on its disk.
#[derive(Debug, Clone)]
pub struct SentEntry {
    /// Place in the station's list.
    pub place: i64,
    /// Place in the journal.
    pub seq: i64,
    /// Day of the acknowledgement by the server's clock, as YYYY-MM-DD in UTC.
    pub day: String,
    /// The entry.
    pub entry: v1::Entry,
}

/// An entry that the server will never take.
#[derive(Debug, Clone)]
pub struct RefusedEntry {
    /// Place in the station's list.
    pub place: i64,
    /// Why, by the server.
    pub refusal: WrittenRefusal,
    /// The entry.
    pub entry: v1::Entry,
}

/// The server's refusal as it is kept beside the entry.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct WrittenRefusal {
    /// Canonical status code (google.rpc.Code).
    pub code: i32,
    /// Reason in UPPER_SNAKE_CASE.
    pub reason: String,
    /// The sentence.
    pub message: String,
}

impl Folder {
    /// Moves an acknowledged entry to those sent. Until [`Folder::settle`], a power cut may bring it back, and it is
    /// then sent again, which is safe.
    pub(crate) fn move_to_sent(
        &self,
        _lock: &Lock,
        place: i64,
        seq: i64,
        day: &str,
    ) -> Result<(), ClientError> {
        let folder = self.root().join(SENT).join(day);
        self.make_folder(&folder)?;
        self.rename(&self.unsent_file(place), &folder.join(format!("{place:020}-{seq}.entry")))
    }

    /// Puts a refused entry aside with its sentence. The sentence comes first: whoever finds the entry finds it too.
    pub(crate) fn set_aside(
        &self,
        lock: &Lock,
        place: i64,
        refusal: &WrittenRefusal,
    ) -> Result<(), ClientError> {
        let folder = self.root().join(REFUSED);
        let words = folder.join(format!("{place:020}.toml"));
        let text = toml::to_string(refusal).map_err(|error| ClientError::Folder {
            path: words.clone(),
            what: format!("it cannot be written ({error}); report this"),
        })?;
        self.replace(lock, &words, text.as_bytes())?;
        self.rename(&self.unsent_file(place), &folder.join(format!("{place:020}.entry")))?;
        self.sync(&folder)?;
        self.sync(&self.root().join(UNSENT))
    }

    /// Syncs what was moved to those sent. The new names come first: a name may then be there twice, never not at all.
    pub(crate) fn settle(&self, _lock: &Lock, days: &BTreeSet<String>) -> Result<(), ClientError> {
        let sent = self.root().join(SENT);
        for day in days {
            self.sync(&sent.join(day))?;
        }
        if !days.is_empty() {
            self.sync(&sent)?;
            self.sync(&self.root().join(UNSENT))?;
        }
        Ok(())
    }

    /// Makes unsent again what was sent in the last 30 days, for a shop server that lost it. Whoever is killed halfway
    /// has some of it unsent, which is safe.
    pub(crate) fn bring_back(&self, _lock: &Lock) -> Result<(), ClientError> {
        let sent = self.root().join(SENT);
        let days: Vec<_> = self.list(&sent)?.into_iter().filter(|day| is_day(day)).collect();
        for day in &days {
            let folder = sent.join(day);
            for name in self.list(&folder)? {
                let Some((place, _)) = sent_name(&name) else { continue };
                self.rename(&folder.join(&name), &self.unsent_file(place))?;
            }
        }
        // The new names come first: a name may then be there twice, never not at all.
        self.sync(&self.root().join(UNSENT))?;
        for day in &days {
            self.sync(&sent.join(day))?;
        }
        Ok(())
    }

    /// Removes entries that were acknowledged more than 30 days before a point of the server's clock.
    pub(crate) fn prune(
        &self,
        lock: &Lock,
        now_microseconds: i64,
        greatest_place: i64,
    ) -> Result<(), ClientError> {
        let oldest = day_of(now_microseconds.saturating_sub(SENT_DAYS * DAY_MICROSECONDS));
        let sent = self.root().join(SENT);
        let old: Vec<_> = self.list(&sent)?.into_iter().filter(|day| is_day(day) && *day < oldest).collect();
        if old.is_empty() {
            return Ok(());
        }
        self.secure_place(lock, greatest_place)?;
        for day in old {
            let folder = sent.join(day);
            for name in self.list(&folder)? {
                self.remove(&folder.join(name))?;
            }
            self.disk
                .remove_folder(&folder)
                .map_err(|cause| ClientError::disk("removing the folder", &folder, cause))?;
        }
        self.sync(&sent)
    }

    /// The entries sent in the last 30 days, in the order of the station.
    pub(crate) fn sent(&self) -> Result<Vec<SentEntry>, ClientError> {
        self.sent_after(0)
    }

    /// The entries sent in the last 30 days that stand behind a place of the journal, in the order of the station.
    pub(crate) fn sent_after(&self, after: i64) -> Result<Vec<SentEntry>, ClientError> {
        let mut found = Vec::new();
        for day in self.list(&self.root().join(SENT))?.into_iter().filter(|day| is_day(day)) {
            let folder = self.root().join(SENT).join(&day);
            for name in self.list(&folder)? {
                let Some((place, seq)) = sent_name(&name).filter(|(_, seq)| *seq > after) else { continue };
                // A copy of what the server has: one that is not whole is left where it is and not listed.
                if let Some(entry) = self.whole(&folder.join(&name))? {
                    found.push(SentEntry { place, seq, day: day.clone(), entry });
                }
            }
        }
        found.sort_by_key(|sent| sent.place);
        Ok(found)
    }

    /// The entries that the server refused for ever, in the order of the station.
    pub(crate) fn refused(&self) -> Result<Vec<RefusedEntry>, ClientError> {
        let folder = self.root().join(REFUSED);
        let mut found = Vec::new();
        for name in self.list(&folder)? {
            let Some(place) = name.strip_suffix(".entry").and_then(place_of) else { continue };
            let words = self.read_text(&format!("{REFUSED}/{place:020}.toml"))?.unwrap_or_default();
            let refusal = toml::from_str(&words).unwrap_or_else(|_| WrittenRefusal {
                message: "the shop server refused it; its sentence is lost".into(),
                ..WrittenRefusal::default()
            });
            if let Some(entry) = self.whole(&folder.join(&name))? {
                found.push(RefusedEntry { place, refusal, entry });
            }
        }
        Ok(found)
    }

    /// Names of the files that were not whole.
    pub(crate) fn damaged(&self) -> Result<Vec<String>, ClientError> {
        self.list(&self.root().join(DAMAGED))
    }

    fn whole(&self, path: &Path) -> Result<Option<v1::Entry>, ClientError> {
        let file = match self.disk.read(path, ENTRY_BYTES_MAX + ADDED_BYTES) {
            // Another command removed it since the names were read.
            Err(cause) if cause.kind() == std::io::ErrorKind::NotFound => return Ok(None),
            other => other.map_err(|cause| ClientError::disk("reading", path, cause))?,
        };
        Ok(unframed(&file).and_then(|sealed| kept_entry(&sealed)).map(|kept| kept.entry).ok())
    }
}

/// A day as YYYY-MM-DD in UTC.
pub(crate) fn day_of(microseconds: i64) -> String {
    let time = jiff::Timestamp::from_microsecond(microseconds).unwrap_or_default();
    time.strftime("%Y-%m-%d").to_string()
}

fn is_day(name: &str) -> bool {
    name.len() == 10 && name.parse::<jiff::civil::Date>().is_ok()
}

/// Place and seq in the name of a sent entry.
fn sent_name(name: &str) -> Option<(i64, i64)> {
    let (place, seq) = name.strip_suffix(".entry")?.split_once('-')?;
    Some((place_of(place)?, seq.parse().ok()?))
}
