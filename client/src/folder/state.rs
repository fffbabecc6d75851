//! The small files of a station's folder: who it is, its epoch, the person and job in use, its jobs.
//! Each is TOML, written as a whole. The folder's entries are not here.

use super::{Folder, Lock};
use crate::clock::{Entropy, sixteen_hex};
use crate::error::ClientError;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};

/// Greatest size of one of these files, in bytes.
pub(crate) const STATE_BYTES_MAX: usize = 256 * 1024;
/// Jobs that a station remembers; older ones the server still knows.
const JOBS_REMEMBERED: usize = 500;
/// Persons that a station remembers: as many as there are number keys.
pub(crate) const PERSONS_REMEMBERED: usize = 9;
/// Form of the folder that this version writes.
const FORM: u32 = 1;

const STATION: &str = "station.toml";
const EPOCH: &str = "epoch";
const CURRENT: &str = "current";
const JOBS: &str = "jobs";
const JOINING: &str = "joining";
const RENEWING: &str = "renewing";

/// Who this station is and where its shop server listens.
#[derive(Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Joined {
    /// Address of the shop server: `192.168.0.10:50551` where its authority is known, else `http://127.0.0.1:7000`.
    pub address: String,
    /// Token of the station. A secret.
    pub token: String,
    /// Identity of the station.
    pub station_id: String,
    /// Identity of the site.
    pub site_id: String,
    /// Name of the site.
    pub site_name: String,
    /// The only authority whose server is spoken to, a certificate in PEM form. Without one the server is on this
    /// machine and spoken to in plain.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub authority: Option<String>,
    /// So far the station's clock was ahead of the shop server's when it joined, in seconds; negative if behind.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub clock_ahead_seconds: Option<i64>,
}

impl std::fmt::Debug for Joined {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Joined")
            .field("address", &self.address)
            .field("station_id", &self.station_id)
            .field("site_id", &self.site_id)
            .finish_non_exhaustive()
    }
}

/// A token that the station has drawn and the server may not know yet.
#[derive(Serialize, Deserialize)]
pub(crate) struct Drawn {
    /// What it was drawn for: SHA-256 of the code to join, or of the token that it replaces.
    pub(crate) drawn_for: String,
    /// 64 hexadecimal digits. A secret.
    pub(crate) token: String,
}

/// What a token is drawn for.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Purpose {
    Join,
    Renew,
}

impl Purpose {
    fn file(self) -> &'static str {
        match self {
            Self::Join => JOINING,
            Self::Renew => RENEWING,
        }
    }
}

/// Identity of the unsent list.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Epoch {
    /// Form of the folder.
    pub(crate) form: u32,
    /// 32 hexadecimal digits.
    pub(crate) epoch: String,
    /// The last place before the epoch began.
    pub(crate) after: i64,
}

/// The person and the job in use.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Current {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) person_code: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) job_id: Option<String>,
    /// Codes of the persons who stated facts here, the latest first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub(crate) persons: Vec<String>,
}

/// A job as the station knows it.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct LocalJob {
    /// Name while the number is unknown, for example `new-1`; empty for a job opened elsewhere.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub label: String,
    /// Identity of the job.
    pub job_id: String,
    /// Plate of the vehicle.
    #[serde(default)]
    pub plate: String,
    /// Printed number; empty until the server gave one.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub number: String,
}

impl LocalJob {
    /// The name to show: the number, or `new-1` while it is unknown.
    #[must_use]
    pub fn shown(&self) -> &str {
        if self.number.is_empty() { &self.label } else { &self.number }
    }
}

impl std::fmt::Display for LocalJob {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} {}", self.shown(), self.plate)
    }
}

/// The jobs that this station opened or used, the latest last.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct LocalJobs {
    #[serde(default)]
    pub(crate) opened_count: u32,
    #[serde(default)]
    pub(crate) job: Vec<LocalJob>,
}

impl LocalJobs {
    /// A job by its identity.
    pub(crate) fn by_id(&self, job_id: &str) -> Option<&LocalJob> {
        self.job.iter().find(|job| job.job_id == job_id)
    }

    /// A job by its local name while it has no number yet, by full number or identity; never by a part of
    /// the number. A local name that lived on would send a fact to a job opened weeks ago.
    pub(crate) fn by_name(&self, name: &str) -> Option<&LocalJob> {
        let same = |job: &&LocalJob| {
            job.job_id == name
                || (job.number.is_empty() && !job.label.is_empty() && job.label.eq_ignore_ascii_case(name))
                || (!job.number.is_empty() && job.number.eq_ignore_ascii_case(name))
        };
        self.job.iter().rev().find(same)
    }

    /// A job that had this local name before it got its number.
    pub(crate) fn once_named(&self, name: &str) -> Option<&LocalJob> {
        self.job.iter().find(|job| !job.number.is_empty() && job.label.eq_ignore_ascii_case(name))
    }

    /// The only job whose number ends with these digits.
    pub(crate) fn by_end(&self, name: &str) -> Option<&LocalJob> {
        let wanted: u32 = name.parse().ok()?;
        let ends = |job: &&LocalJob| {
            job.number.rsplit('-').next().and_then(|end| end.parse::<u32>().ok()) == Some(wanted)
        };
        let mut found = self.job.iter().filter(ends);
        found.next().filter(|_| found.next().is_none())
    }

    /// Names a job that was opened here.
    pub(crate) fn opened(&mut self, job_id: &str, plate: &str) -> LocalJob {
        self.opened_count = self.opened_count.saturating_add(1);
        let label = format!("new-{}", self.opened_count);
        let job =
            LocalJob { label, job_id: job_id.to_owned(), plate: plate.to_owned(), number: String::new() };
        self.remember(job.clone());
        job
    }

    /// Takes over what the server says about a job; true when something was new.
    pub(crate) fn learn(&mut self, job_id: &str, number: &str, plate: &str) -> bool {
        match self.job.iter_mut().find(|job| job.job_id == job_id) {
            Some(job) => {
                let new =
                    (!number.is_empty() && job.number != number) || (!plate.is_empty() && job.plate != plate);
                if !number.is_empty() {
                    number.clone_into(&mut job.number);
                }
                if !plate.is_empty() {
                    plate.clone_into(&mut job.plate);
                }
                new
            }
            None => {
                let label = String::new();
                let (job_id, plate, number) = (job_id.to_owned(), plate.to_owned(), number.to_owned());
                self.remember(LocalJob { label, job_id, plate, number });
                true
            }
        }
    }

    fn remember(&mut self, job: LocalJob) {
        self.job.push(job);
        // The oldest that the server knows make room; one without a number is known nowhere else.
        while self.job.len() > JOBS_REMEMBERED {
            let Some(oldest) = self.job.iter().position(|job| !job.number.is_empty()) else { break };
            self.job.remove(oldest);
        }
    }
}

impl Folder {
    /// Who the station is; nothing before it joined, or when its file is spoiled: then it joins again.
    pub(crate) fn station(
        &self,
        lock: &Lock,
        notices: &mut Vec<String>,
    ) -> Result<Option<Joined>, ClientError> {
        self.read_toml(lock, STATION, "join again with: standpipe join HOST CODE", notices)
    }

    /// The token that was drawn before for the same: an answer that was lost is asked for again with it.
    pub(crate) fn drawn(
        &self,
        lock: &Lock,
        purpose: Purpose,
        drawn_for: &str,
        notices: &mut Vec<String>,
    ) -> Result<Option<String>, ClientError> {
        let drawn: Option<Drawn> = self.read_toml(lock, purpose.file(), "another one is drawn", notices)?;
        Ok(drawn.filter(|drawn| drawn.drawn_for == drawn_for).map(|drawn| drawn.token))
    }

    pub(crate) fn write_drawn(
        &self,
        lock: &Lock,
        purpose: Purpose,
        drawn: &Drawn,
    ) -> Result<(), ClientError> {
        self.write_toml(lock, purpose.file(), drawn)
    }

    /// Forgets a drawn token, which stands in the station's own file or is good for nothing.
    pub(crate) fn forget_drawn(&self, _lock: &Lock, purpose: Purpose) -> Result<(), ClientError> {
        if self.read_text(purpose.file())?.is_some() {
            self.remove(&self.root().join(purpose.file()))?;
            self.sync(self.root())?;
        }
        Ok(())
    }

    pub(crate) fn write_station(&self, lock: &Lock, joined: &Joined) -> Result<(), ClientError> {
        self.write_toml(lock, STATION, joined)
    }

    /// The epoch; a new one if there is none or it cannot be read. `greatest_place` is that of the list.
    pub(crate) fn epoch(
        &self,
        lock: &Lock,
        greatest_place: i64,
        entropy: &dyn Entropy,
        notices: &mut Vec<String>,
    ) -> Result<Epoch, ClientError> {
        let found: Option<Epoch> = self.read_toml(lock, EPOCH, "the list begins a new epoch", notices)?;
        match found {
            Some(epoch) if epoch.form > FORM => Err(ClientError::Folder {
                path: self.root().to_owned(),
                what: format!(
                    "its form {} is newer than this program understands ({FORM}); use the newer standpipe",
                    epoch.form
                ),
            }),
            Some(epoch) if epoch.after >= 0 && is_epoch(&epoch.epoch) => Ok(epoch),
            _ => self.begin_epoch(lock, greatest_place, entropy),
        }
    }

    /// Draws a new epoch and writes it down.
    pub(crate) fn begin_epoch(
        &self,
        lock: &Lock,
        after: i64,
        entropy: &dyn Entropy,
    ) -> Result<Epoch, ClientError> {
        let epoch = Epoch { form: FORM, epoch: sixteen_hex(entropy)?, after };
        self.write_toml(lock, EPOCH, &epoch)?;
        Ok(epoch)
    }

    pub(crate) fn current(&self, lock: &Lock, notices: &mut Vec<String>) -> Result<Current, ClientError> {
        Ok(self.read_toml(lock, CURRENT, "set person and job again", notices)?.unwrap_or_default())
    }

    pub(crate) fn write_current(&self, lock: &Lock, current: &Current) -> Result<(), ClientError> {
        self.write_toml(lock, CURRENT, current)
    }

    pub(crate) fn jobs(&self, lock: &Lock, notices: &mut Vec<String>) -> Result<LocalJobs, ClientError> {
        Ok(self
            .read_toml(lock, JOBS, "the jobs' numbers come back with the next answers", notices)?
            .unwrap_or_default())
    }

    pub(crate) fn write_jobs(&self, lock: &Lock, jobs: &LocalJobs) -> Result<(), ClientError> {
        self.write_toml(lock, JOBS, jobs)
    }

    pub(super) fn write_toml(
        &self,
        lock: &Lock,
        name: &str,
        value: &impl Serialize,
    ) -> Result<(), ClientError> {
        let path = self.root().join(name);
        let text = toml::to_string(value).map_err(|error| ClientError::Folder {
            path: path.clone(),
            what: format!("it cannot be written ({error}); report this"),
        })?;
        self.replace(lock, &path, text.as_bytes())
    }

    /// Reads a small file; one that cannot be read is moved aside and told, since work must go on without it.
    fn read_toml<T: DeserializeOwned>(
        &self,
        lock: &Lock,
        name: &str,
        then: &str,
        notices: &mut Vec<String>,
    ) -> Result<Option<T>, ClientError> {
        let Some(text) = self.read_text(name)? else { return Ok(None) };
        match toml::from_str(&text) {
            Ok(value) => Ok(Some(value)),
            Err(error) => {
                let aside = self.move_aside(lock, &self.root().join(name), name)?;
                self.sync(self.root())?;
                notices.push(format!(
                    "the file {name} could not be read ({}) and was moved to {}; {then}",
                    // The error's own words would show the lines of the file, and with them a token.
                    error.message(),
                    aside.display()
                ));
                Ok(None)
            }
        }
    }
}

fn is_epoch(text: &str) -> bool {
    text.len() == 32 && text.bytes().all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f'))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_job_is_found_by_its_local_name_its_number_and_the_end_of_it_if_only_one_has_it() {
        let mut jobs = LocalJobs::default();
        assert_eq!(jobs.opened("a", "TW 11").shown(), "new-1");
        assert_eq!(jobs.opened("b", "TW 22").shown(), "new-2");
        assert!(jobs.learn("a", "HL-26-0042", "TW 11") && !jobs.learn("a", "HL-26-0042", "TW 11"));
        assert!(jobs.by_name("new-1").is_none() && jobs.once_named("NEW-1").is_some());
        assert_eq!(jobs.by_name("NEW-2").unwrap().job_id, "b");
        for name in ["hl-26-0042", "a"] {
            assert_eq!(jobs.by_name(name).unwrap().to_string(), "HL-26-0042 TW 11", "{name}");
        }
        assert!(
            jobs.by_name("").is_none() && jobs.by_name("42").is_none() && jobs.by_name("new-3").is_none()
        );
        assert_eq!(jobs.by_end("42").unwrap().job_id, "a");
        assert!(jobs.learn("c", "HL-25-0042", "TW 33") && jobs.by_end("42").is_none());
        assert!(jobs.by_end("0").is_none() && jobs.by_end("x").is_none());
    }

    #[test]
    fn only_jobs_that_the_server_knows_are_forgotten() {
        let mut jobs = LocalJobs::default();
        jobs.opened("first", "TW 1");
        for index in 0..JOBS_REMEMBERED + 5 {
            jobs.learn(&format!("id-{index}"), &format!("HL-26-{index:04}"), "TW 2");
        }
        assert_eq!(jobs.job.len(), JOBS_REMEMBERED);
        assert!(
            jobs.by_name("new-1").is_some() && jobs.by_id("id-0").is_none() && jobs.by_id("id-504").is_some()
        );
    }

    #[test]
    fn a_token_is_never_shown_by_accident() {
        let joined = Joined {
            address: "http://127.0.0.1:1".into(),
            token: "geheim".into(),
            station_id: "bay-1".into(),
            site_id: "harbour-lane".into(),
            site_name: String::new(),
            authority: None,
            clock_ahead_seconds: None,
        };
        assert!(!format!("{joined:?}").contains("geheim"));
    }
}
