//! A station: joins a shop server, knows person and job, and keeps what is stated until it is acknowledged.
//!
//! What is kept here is on the disk when the call returns, with or without a network. Sending is in `sending.rs`,
//! questions to the server are in `asking.rs`. Called by the command line, the demonstration and tests.

use crate::clock::{Clock, Entropy, SystemClock, SystemEntropy, new_id};
use crate::disk::{Disk, SystemDisk};
use crate::error::ClientError;
use crate::folder::state::{Current, Epoch, LocalJobs, PERSONS_REMEMBERED};
use crate::folder::{Folder, KeptEntry, Lock, job_of, kept_entry};
use crate::remote::{Deadlines, Remote, Renewal};
use crate::seal::{Stated, sealed, wall_clock};
use crate::unsent::{Action, Event, UnsentList};
use crate::{Joined, LocalJob, asking::FoundEntry};
use prost_types::Timestamp;
use standpipe_proto::check::is_stated_site_kind;
use standpipe_proto::limits::{UNSENT_BYTES_MAX, UNSENT_ENTRIES_MAX};
use standpipe_proto::v1::{
    Arrival, AsTyped, Correction, Fact, correction::Outcome, fact::Kind, header::Subject,
};
use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

/// What a station is given from outside.
#[derive(Clone)]
pub struct StationOptions {
    /// Its clocks.
    pub clock: Arc<dyn Clock>,
    /// Its randomness.
    pub entropy: Arc<dyn Entropy>,
    /// Its disk.
    pub disk: Arc<dyn Disk>,
    /// How long it waits for the server.
    pub deadlines: Deadlines,
    /// How it calls itself where it holds the folder's lock, for example the command.
    pub name: String,
}

impl StationOptions {
    /// The machine's clock, randomness and disk.
    ///
    /// # Errors
    /// When the machine gives no random numbers.
    pub fn of_this_machine() -> Result<Self, ClientError> {
        Ok(Self {
            clock: Arc::new(SystemClock::read()?),
            entropy: Arc::new(SystemEntropy),
            disk: Arc::new(SystemDisk),
            deadlines: Deadlines::default(),
            name: "standpipe".into(),
        })
    }
}

/// An entry that is on the station's disk.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Kept {
    /// Identity of the entry.
    pub entry_id: String,
    /// Its number within the station's epoch.
    pub station_number: i64,
    /// Its job; one without an identity for a fact of the site.
    pub job: LocalJob,
    /// Entries that wait for their acknowledgement now, this one included.
    pub waiting: usize,
}

/// What a correction does with the original.
#[derive(Debug, Clone, PartialEq)]
pub enum Change {
    /// This instead, of the same kind.
    Replace(Box<Fact>),
    /// Nothing: the original is withdrawn.
    Withdraw,
}

/// A station and its folder. Several may be open on one folder, in one process or many; each change takes its turn.
pub struct Station {
    pub(crate) folder: Folder,
    pub(crate) options: StationOptions,
    pub(crate) list: UnsentList,
    pub(crate) unsent: BTreeMap<i64, KeptEntry>,
    pub(crate) jobs: LocalJobs,
    current: Current,
    pub(crate) joined: Option<Joined>,
    /// What the server says of the token.
    pub(crate) renewal: Renewal,
    loaded: bool,
    notices: Vec<String>,
}

impl Station {
    /// Opens a station's folder, making it if it is not there.
    ///
    /// # Errors
    /// When the folder is something else's, newer, or cannot be written, or another command holds it.
    pub fn open(home: &Path, options: StationOptions) -> Result<Self, ClientError> {
        static OPENED: AtomicU64 = AtomicU64::new(1);
        let opening = OPENED.fetch_add(1, Ordering::Relaxed);
        let holder = format!("process {}, opening {opening}: {}", std::process::id(), options.name);
        let folder = Folder::new(Arc::clone(&options.disk), home.to_owned(), holder);
        let mut station = Self {
            folder,
            options,
            list: UnsentList::default(),
            unsent: BTreeMap::new(),
            jobs: LocalJobs::default(),
            current: Current::default(),
            joined: None,
            renewal: Renewal::default(),
            loaded: false,
            notices: Vec::new(),
        };
        station.turn()?;
        Ok(station)
    }

    /// Who the station is.
    ///
    /// # Errors
    /// When it has not joined yet.
    pub fn joined(&self) -> Result<&Joined, ClientError> {
        self.joined.as_ref().ok_or_else(|| ClientError::NotJoined { home: self.folder.root().to_owned() })
    }

    /// Says who states facts from now on.
    ///
    /// # Errors
    /// When the code is none, or the disk refuses.
    pub fn set_person(&mut self, code: &str) -> Result<(), ClientError> {
        let code = code.trim();
        if !(1..=8).contains(&code.len()) || !code.bytes().all(|b| b.is_ascii_alphanumeric()) {
            return Err(ClientError::Usage(format!(
                "'{code}' is no person code; it has 1 to 8 letters A to Z or digits, as listed at the site"
            )));
        }
        let lock = self.turn()?;
        self.current.person_code = Some(code.to_owned());
        self.current.persons.retain(|known| known != code);
        self.current.persons.insert(0, code.to_owned());
        self.current.persons.truncate(PERSONS_REMEMBERED);
        self.folder.write_current(&lock, &self.current)
    }

    /// Code of the person who states facts.
    #[must_use]
    pub fn person(&self) -> Option<&str> {
        self.current.person_code.as_deref()
    }

    /// Codes of the persons who worked here, the latest first; at most nine.
    #[must_use]
    pub fn persons(&self) -> &[String] {
        &self.current.persons
    }

    /// The job in use.
    ///
    /// # Errors
    /// When there is none.
    pub fn current_job(&self) -> Result<LocalJob, ClientError> {
        let job_id = self.current.job_id.as_deref().ok_or(ClientError::NoJob)?;
        Ok(self.job_named(job_id))
    }

    /// Opens a job with the arrival of its vehicle and makes it the job in use, also without a network.
    ///
    /// # Errors
    /// When the arrival is outside its bounds, no person is set, or the disk refuses.
    pub fn open_job(
        &mut self,
        arrival: Arrival,
        as_typed: Vec<AsTyped>,
        done_time: Option<Timestamp>,
    ) -> Result<Kept, ClientError> {
        let lock = self.turn()?;
        let (now, _) = wall_clock(&*self.options.clock);
        let job_id = new_id(now, &*self.options.entropy)?;
        let plate = arrival.plate.clone();
        let fact = Fact { kind: Some(Kind::Arrival(arrival)) };
        // Keeping the arrival names the job; if the station dies right after, the next opening names it again.
        let kept = self.keep(
            &lock,
            &LocalJob { job_id: job_id.clone(), plate, ..LocalJob::default() },
            fact,
            as_typed,
            done_time,
        )?;
        self.current.job_id = Some(job_id);
        if let Err(error) = self.folder.write_current(&lock, &self.current) {
            // The arrival is kept all the same: opening again would make a second job.
            self.doubt();
            self.notices
                .push(format!("{error}; the job is open, take it with: standpipe use {}", kept.job.shown()));
        }
        Ok(kept)
    }

    /// Makes a known job the one in use.
    pub(crate) fn set_job(&mut self, job: &LocalJob) -> Result<(), ClientError> {
        let lock = self.turn()?;
        if self.jobs.learn(&job.job_id, &job.number, &job.plate) {
            self.folder.write_jobs(&lock, &self.jobs)?;
        }
        self.current.job_id = Some(job.job_id.clone());
        self.folder.write_current(&lock, &self.current)
    }

    /// Keeps a fact of the job in use.
    ///
    /// # Errors
    /// When the fact is outside its bounds, no person or job is set, the list is full, or the disk refuses.
    pub fn add(
        &mut self,
        fact: Fact,
        as_typed: Vec<AsTyped>,
        done_time: Option<Timestamp>,
    ) -> Result<Kept, ClientError> {
        let job = self.current_job()?;
        self.add_for(&job, fact, as_typed, done_time)
    }

    /// Keeps a fact of the site, which belongs to no job.
    ///
    /// # Errors
    /// When the fact is outside its bounds or of a job, no person is set, the list is full, or the disk refuses.
    pub fn add_of_site(
        &mut self,
        fact: Fact,
        as_typed: Vec<AsTyped>,
        done_time: Option<Timestamp>,
    ) -> Result<Kept, ClientError> {
        self.add_for(&LocalJob::default(), fact, as_typed, done_time)
    }

    /// Keeps a fact of a job; a fact of the site that its work asked for is kept as one of the site.
    ///
    /// # Errors
    /// As [`Station::add`].
    pub fn add_for(
        &mut self,
        job: &LocalJob,
        fact: Fact,
        as_typed: Vec<AsTyped>,
        done_time: Option<Timestamp>,
    ) -> Result<Kept, ClientError> {
        let lock = self.turn()?;
        self.keep(&lock, job, fact, as_typed, done_time)
    }

    /// Keeps a correction of an entry found by [`Station::find_entry`].
    ///
    /// # Errors
    /// When the replacement is of another kind, the reason too short, or as [`Station::add`].
    pub fn correct(
        &mut self,
        original: &FoundEntry,
        change: Change,
        reason: &str,
        as_typed: Vec<AsTyped>,
    ) -> Result<Kept, ClientError> {
        original.takes(&change)?;
        let outcome = match change {
            Change::Replace(fact) => Outcome::Replacement(fact),
            Change::Withdraw => Outcome::Withdrawn(true),
        };
        let correction = Correction {
            corrected_entry_id: original.entry_id.clone(),
            reason: reason.trim().to_owned(),
            outcome: Some(outcome),
        };
        let fact = Fact { kind: Some(Kind::Correction(Box::new(correction))) };
        let lock = self.turn()?;
        self.keep(&lock, &original.job, fact, as_typed, None)
    }

    /// What the station has to tell besides its answers, in sentences, each once: damaged files, a wrong clock, a list
    /// that fills up.
    pub fn take_notices(&mut self) -> Vec<String> {
        std::mem::take(&mut self.notices)
    }

    /// Notes a sentence for [`Station::take_notices`].
    pub(crate) fn tell(&mut self, sentence: String) {
        self.notices.push(sentence);
    }

    /// Takes the turn to change the folder, and reads it if others may have changed it.
    pub(crate) fn turn(&mut self) -> Result<Lock, ClientError> {
        let lock = self.folder.lock()?;
        if lock.others_were_here || !self.loaded {
            self.load(&lock)?;
        }
        Ok(lock)
    }

    /// Forgets what is known of the folder after a change that may have happened in part.
    pub(crate) fn doubt(&mut self) {
        self.loaded = false;
    }

    /// The shop server, over a connection of its own: one that was kept from before may be dead without knowing it.
    pub(crate) fn remote(&self) -> Result<Remote, ClientError> {
        Remote::new(self.joined()?, &self.options, self.renewal.clone())
    }

    /// A job by its identity, as far as the station knows it.
    pub(crate) fn job_named(&self, job_id: &str) -> LocalJob {
        let unknown = || LocalJob { job_id: job_id.to_owned(), ..LocalJob::default() };
        self.jobs.by_id(job_id).cloned().unwrap_or_else(unknown)
    }

    /// Writes down a new epoch and begins it.
    pub(crate) fn begin_epoch(&mut self, lock: &Lock, after: i64) -> Result<(), ClientError> {
        let Epoch { epoch, after, .. } = self.folder.begin_epoch(lock, after, &*self.options.entropy)?;
        let now = self.options.clock.monotonic_microseconds();
        self.list.step(Event::EpochBegan { epoch, after }, now);
        Ok(())
    }

    fn load(&mut self, lock: &Lock) -> Result<(), ClientError> {
        self.loaded = false;
        self.folder.found(lock)?;
        let contents = self.folder.load(lock)?;
        let entropy = Arc::clone(&self.options.entropy);
        let mut notices = contents.damaged;
        let epoch = self.folder.epoch(lock, contents.greatest_place, &*entropy, &mut notices)?;
        let greatest = contents.greatest_place.max(epoch.after);
        let waiting = contents.unsent.iter().map(|(place, kept)| (*place, kept.waiting.clone())).collect();
        self.list.reconcile(epoch.epoch, epoch.after, greatest, waiting);
        self.unsent = contents.unsent;
        self.joined = self.folder.station(lock, &mut notices)?;
        self.current = self.folder.current(lock, &mut notices)?;
        self.jobs = self.folder.jobs(lock, &mut notices)?;
        self.notices.extend(notices);
        self.name_opened_jobs(lock)?;
        self.loaded = true;
        Ok(())
    }

    /// Names jobs whose arrival was kept and whose name was not, because the station died in between.
    fn name_opened_jobs(&mut self, lock: &Lock) -> Result<(), ClientError> {
        let mut new = false;
        for kept in self.unsent.values().filter(|kept| kept.waiting.opens_job) {
            let job_id = job_of(&kept.entry);
            let Some(Kind::Arrival(arrival)) = kept.entry.fact.as_ref().and_then(|fact| fact.kind.as_ref())
            else {
                continue;
            };
            if !job_id.is_empty() && self.jobs.by_id(job_id).is_none() {
                self.jobs.opened(job_id, &arrival.plate);
                new = true;
            }
        }
        if new { self.folder.write_jobs(lock, &self.jobs) } else { Ok(()) }
    }

    fn keep(
        &mut self,
        lock: &Lock,
        job: &LocalJob,
        fact: Fact,
        as_typed: Vec<AsTyped>,
        done_time: Option<Timestamp>,
    ) -> Result<Kept, ClientError> {
        let person_code = self.current.person_code.clone().ok_or(ClientError::NoPerson)?;
        let station_id = self.joined()?.station_id.clone();
        let (place, station_number) = self.next_place(lock)?;
        let of_site = job.job_id.is_empty() || fact.kind.as_ref().is_some_and(is_stated_site_kind);
        let subject = match of_site {
            true => Subject::SiteId(self.joined()?.site_id.clone()),
            false => Subject::JobId(job.job_id.clone()),
        };
        let job = if of_site { &LocalJob::default() } else { job };
        let stated = Stated {
            station_id: &station_id,
            person_code: &person_code,
            subject,
            epoch: self.list.epoch(),
            station_number,
            as_typed,
            done_time,
        };
        let (entry, bytes) = sealed(fact, stated, &*self.options.clock, &*self.options.entropy)?;
        let kept = kept_entry(&bytes).map_err(ClientError::Descriptor)?;
        if let Err(error) = self.folder.keep(lock, place, &bytes) {
            self.doubt();
            return Err(error);
        }
        let entry_id = entry.header.map(|header| header.entry_id).unwrap_or_default();
        let now = self.options.clock.monotonic_microseconds();
        self.list.step(Event::Stored { place, waiting: kept.waiting.clone() }, now);
        self.unsent.insert(place, kept);
        if let Err(error) = self.name_opened_jobs(lock) {
            // The entry is kept all the same; its job is named at the next opening.
            self.doubt();
            self.notices.push(error.to_string());
        }
        self.warn();
        Ok(Kept { entry_id, station_number, job: self.job_or(job), waiting: self.list.len() })
    }

    fn job_or(&self, job: &LocalJob) -> LocalJob {
        self.jobs.by_id(&job.job_id).cloned().unwrap_or_else(|| job.clone())
    }

    fn next_place(&mut self, lock: &Lock) -> Result<(i64, i64), ClientError> {
        let now = self.options.clock.monotonic_microseconds();
        // At most twice: a new epoch may have to begin first.
        for _ in 0..2 {
            for action in self.list.step(Event::Wanted, now) {
                match action {
                    Action::Store { place, station_number } => return Ok((place, station_number)),
                    Action::BeginEpoch { after } => self.begin_epoch(lock, after)?,
                    _ => return Err(ClientError::Full { entries: self.list.len() }),
                }
            }
        }
        Err(ClientError::Full { entries: self.list.len() })
    }

    /// Says once in a while what will become a trouble.
    fn warn(&mut self) {
        let (now, moved) = wall_clock(&*self.options.clock);
        if moved {
            self.notices.push(format!(
                "the clock of this station is outside the years 2000 to 2199; entries carry {} instead, set the clock",
                crate::folder::archive::day_of(now)
            ));
        }
        for (percent, words) in [(80, "four fifths"), (50, "half")] {
            let entries = UNSENT_ENTRIES_MAX * percent / 100;
            let bytes = UNSENT_BYTES_MAX * percent as u64 / 100;
            if self.list.len() >= entries || self.list.bytes() >= bytes {
                self.notices.push(format!(
                    "the unsent list is more than {words} full with {} entries; connect to the shop server",
                    self.list.len()
                ));
                break;
            }
        }
    }
}
