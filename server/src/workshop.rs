//! What the handlers of a running server share: the journal, what stands beside it, the catalogue, the clock, and
//! what was computed of a job lately.
//!
//! A view is kept by the place of the job's last entry, so a kept one is always the right one. Never here: a rule of
//! the trade, which is the engine's, or a message of the network, which is [`crate::convert`]'s.

use crate::access::{Role, Who};
use crate::catalogue::{Adopted, Catalogue};
use crate::clock::Clock;
use crate::number::{self, JobName};
use crate::status::Cause;
use crate::token::Token;
use jiff::Timestamp;
use standpipe_engine::job::{Context, Recorded, view};
use standpipe_engine::text::Language;
use standpipe_engine::view::JobView;
use standpipe_store::{Beside, JobId, JobNumber, JobRow, Journal, StoredEntry, TokenDigest};
use std::collections::HashMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use tokio::sync::watch;

/// Days for which a bay still sees a closed job.
pub(crate) const BAY_SEES_CLOSED_DAYS: i64 = 7;
const DAY_US: i64 = 86_400_000_000;
/// Most computed jobs that are kept, and most labels; the whole store is emptied when it is full.
const KEPT_VIEWS_MAX: usize = 256;
const KEPT_LABELS_MAX: usize = 20_000;

/// A running workshop.
pub(crate) struct Workshop {
    pub(crate) site_id: String,
    pub(crate) site_name: String,
    pub(crate) journal: Arc<dyn Journal>,
    pub(crate) beside: Arc<dyn Beside>,
    pub(crate) clock: Arc<dyn Clock>,
    pub(crate) catalogue: Catalogue,
    /// Names of persons by code. They change only while no server runs.
    names: Arc<Vec<(String, String)>>,
    /// Turns true when the server begins to stop.
    pub(crate) stopping: watch::Receiver<bool>,
    views: Mutex<HashMap<JobId, Arc<Computed>>>,
    labels: Mutex<Labels>,
    newest: Mutex<Option<JobNumber>>,
    stations: Mutex<HashMap<TokenDigest, Arc<Who>>>,
}

/// A job with everything that was computed of it.
pub(crate) struct Computed {
    pub(crate) row: JobRow,
    pub(crate) view: JobView,
    /// Server's clock at the last entry.
    pub(crate) last_received_us: i64,
    /// Server's clock at the closing that counts; absent while the job is open.
    pub(crate) closed_us: Option<i64>,
}

/// Labels by job, and how often one was forgotten: what was computed before that is not kept.
#[derive(Default)]
struct Labels {
    kept: HashMap<JobId, Arc<Label>>,
    forgotten: u64,
}

/// What every answer about a job begins with.
#[derive(Debug, PartialEq, Eq)]
pub(crate) struct Label {
    pub(crate) number: String,
    pub(crate) plate: String,
}

impl Workshop {
    pub(crate) async fn open(
        journal: Arc<dyn Journal>,
        beside: Arc<dyn Beside>,
        clock: Arc<dyn Clock>,
        catalogue: Catalogue,
        site_name: String,
        stopping: watch::Receiver<bool>,
    ) -> Result<Self, standpipe_store::StoreError> {
        let site_id = journal.head().await?.site;
        let newest = journal.jobs(None, 1).await?.first().map(|row| row.number);
        let persons = beside.persons().await?.into_iter();
        let names = persons.filter_map(|person| Some((person.code, person.name?))).collect();
        Ok(Self {
            names: Arc::new(names),
            site_id,
            site_name,
            journal,
            beside,
            clock,
            catalogue,
            stopping,
            views: Mutex::default(),
            labels: Mutex::default(),
            newest: Mutex::new(newest),
            stations: Mutex::default(),
        })
    }

    /// The station that a token belongs to; the answer to a wrong token never says what is wrong with it.
    pub(crate) async fn station_of(&self, token: Option<&Token>) -> Result<Arc<Who>, Cause> {
        let digest = token.ok_or(Cause::Unauthenticated)?.digest();
        // A right is taken back only while no server runs, so what was good once stays good until the next start.
        if let Some(who) = held(&self.stations).get(&digest) {
            return Ok(Arc::clone(who));
        }
        let station = self.beside.station_by_token(digest).await?.ok_or(Cause::Unauthenticated)?;
        let role = Role::from_name(&station.role).ok_or(Cause::Unauthenticated)?;
        let who = Arc::new(Who { station_id: station.id, name: station.name, role });
        held(&self.stations).insert(digest, Arc::clone(&who));
        Ok(who)
    }

    /// The local year at the site now.
    pub(crate) fn year(&self) -> i16 {
        let zone = self.catalogue.now().revision.workshop().time_zone.clone();
        let now = Timestamp::from_microsecond(self.clock.now_us()).unwrap_or(Timestamp::UNIX_EPOCH);
        now.to_zoned_datetime(zone).year()
    }

    /// The revision that a job is judged by.
    pub(crate) fn adopted(&self, row: &JobRow) -> &Adopted {
        self.catalogue.of_job(row.first_seq)
    }

    /// The language of a job's words.
    pub(crate) fn language(&self, row: &JobRow) -> Language {
        self.adopted(row).revision.workshop().language
    }

    /// The job's number as it is printed.
    pub(crate) fn printed(&self, row: &JobRow) -> String {
        number::printed(&self.adopted(row).prefix, row.number)
    }

    /// Finds a job by its identity, its printed number or its place in this year.
    pub(crate) async fn find(&self, job: &str) -> Result<JobRow, Cause> {
        let year = self.year();
        let unknown = || Cause::JobUnknown {
            job: job.to_owned(),
            example: number::printed(&self.catalogue.now().prefix, JobNumber { year, ordinal: 42 }),
        };
        let row = match number::read(job, year).ok_or_else(unknown)? {
            JobName::Id(id) => self.journal.job(id).await?,
            JobName::Number { prefix, number } => {
                let row = self.journal.job_by_number(number).await?;
                row.filter(|row| prefix.is_none_or(|prefix| prefix == self.adopted(row).prefix))
            }
        };
        row.ok_or_else(unknown)
    }

    /// Finds a job that this station may see.
    pub(crate) async fn find_for(&self, who: &Who, job: &str) -> Result<JobRow, Cause> {
        let row = self.find(job).await?;
        if who.role == Role::Bay && !self.bay_sees(&*self.computed(&row).await?) {
            return Err(Cause::ClosedLongAgo { job: self.printed(&row), days: BAY_SEES_CLOSED_DAYS });
        }
        Ok(row)
    }

    /// Whether a bay sees the job: it is open, or was closed at most so many days ago.
    pub(crate) fn bay_sees(&self, job: &Computed) -> bool {
        job.closed_us.is_none_or(|closed_us| closed_us >= self.bay_sees_from_us())
    }

    /// Jobs closed before this are not shown in the bay.
    pub(crate) fn bay_sees_from_us(&self) -> i64 {
        self.clock.now_us().saturating_sub(BAY_SEES_CLOSED_DAYS * DAY_US)
    }

    /// The job as its entries tell it.
    pub(crate) async fn computed(&self, row: &JobRow) -> Result<Arc<Computed>, Cause> {
        if let Some(kept) = held(&self.views).get(&row.job_id)
            && kept.row.last_seq >= row.last_seq
        {
            return Ok(Arc::clone(kept));
        }
        let entries = self.journal.read_job(row.job_id).await?;
        let sight = self.sight(row, entries.last().map_or(0, |entry| entry.received_us));
        // The journal may have grown since the row was read; what is kept says how far it reaches.
        let last_seq = entries.last().map_or(row.last_seq, |entry| entry.seq);
        let row = JobRow { last_seq, entries: entries.len() as u64, ..row.clone() };
        let computed = Arc::new(off_the_network(move || compute(row, &entries, &sight)).await?);
        let mut views = held(&self.views);
        if views.len() >= KEPT_VIEWS_MAX {
            views.clear();
        }
        views.insert(computed.row.job_id, Arc::clone(&computed));
        Ok(computed)
    }

    /// What a job is looked at with, beside its entries.
    pub(crate) fn sight(&self, row: &JobRow, as_of_us: i64) -> Sight {
        Sight {
            adopted: self.adopted(row).clone(),
            job_id: row.job_id.to_string(),
            number: self.printed(row),
            site_name: self.site_name.clone(),
            names: Arc::clone(&self.names),
            as_of_us,
        }
    }

    /// Number and plate of a job, for an acknowledgement.
    pub(crate) async fn label(&self, job: JobId) -> Result<Arc<Label>, Cause> {
        let forgotten = {
            let labels = held(&self.labels);
            if let Some(label) = labels.kept.get(&job) {
                return Ok(Arc::clone(label));
            }
            labels.forgotten
        };
        let row = self.journal.job(job).await?;
        let row = row.ok_or_else(|| Cause::from(standpipe_store::StoreError::JobUnknown { job }))?;
        let plate = self.computed(&row).await?.view.vehicle.plate.clone();
        let label = Arc::new(Label { number: self.printed(&row), plate });
        held(&self.labels).keep(job, &label, forgotten);
        Ok(label)
    }

    /// Remembers number and plate of a job that an arrival opened just now. Gives nothing if the arrival may be a
    /// second one; then the entries must be asked.
    pub(crate) fn label_of_new(&self, job: JobId, number: JobNumber, plate: &str) -> Option<Arc<Label>> {
        let mut newest = held(&self.newest);
        // Numbers are given in ascending order: one above all others belongs to a job opened by this very entry.
        if newest.is_some_and(|newest| newest >= number) {
            return None;
        }
        *newest = Some(number);
        drop(newest);
        let number = number::printed(&self.catalogue.now().prefix, number);
        let label = Arc::new(Label { number, plate: plate.trim().to_owned() });
        let mut labels = held(&self.labels);
        let forgotten = labels.forgotten;
        labels.keep(job, &label, forgotten);
        Some(label)
    }

    /// Forgets the label of a job whose plate may have changed.
    pub(crate) fn forget_label(&self, job: JobId) {
        let mut labels = held(&self.labels);
        labels.kept.remove(&job);
        labels.forgotten += 1;
    }
}

impl Labels {
    /// Keeps a label that was computed when so many had been forgotten.
    fn keep(&mut self, job: JobId, label: &Arc<Label>, forgotten: u64) {
        if self.forgotten != forgotten {
            return;
        }
        if self.kept.len() >= KEPT_LABELS_MAX {
            self.kept.clear();
        }
        self.kept.insert(job, Arc::clone(label));
    }
}

/// The owned parts of the engine's context.
#[derive(Clone)]
pub(crate) struct Sight {
    adopted: Adopted,
    job_id: String,
    number: String,
    site_name: String,
    names: Arc<Vec<(String, String)>>,
    as_of_us: i64,
}

impl Sight {
    pub(crate) fn context(&self) -> Context<'_> {
        Context {
            revision: &self.adopted.revision,
            revision_id: &self.adopted.id,
            job_id: &self.job_id,
            number: &self.number,
            site_name: &self.site_name,
            names: &self.names,
            as_of_us: self.as_of_us,
        }
    }
}

/// Stored entries as the engine takes them.
pub(crate) fn recorded(entries: &[StoredEntry]) -> Vec<Recorded<'_>> {
    let each = entries.iter().map(|entry| Recorded {
        seq: entry.seq,
        received_us: entry.received_us,
        leaf_hash: entry.leaf_hash,
        bytes: &entry.bytes,
    });
    each.collect()
}

/// Runs work for the processor where it does not hold up the network.
pub(crate) async fn off_the_network<T: Send + 'static>(
    work: impl FnOnce() -> T + Send + 'static,
) -> Result<T, Cause> {
    tokio::task::spawn_blocking(work).await.map_err(|error| Cause::internal("computing", &error))
}

fn compute(row: JobRow, entries: &[StoredEntry], sight: &Sight) -> Computed {
    let view = view(&sight.context(), &recorded(entries));
    let closing = view.story.iter().rev().find(|line| line.kind == "closing" && line.changed.is_none());
    let closed_us = closing.filter(|_| view.head.closed).map(|line| {
        let entry = entries.iter().find(|entry| entry.seq == line.seq);
        entry.map_or(sight.as_of_us, |entry| entry.received_us)
    });
    // A corrected closing still closes; then the last entry is the latest time at which it can have happened.
    let closed_us = closed_us.or(view.head.closed.then_some(sight.as_of_us));
    Computed { row, view, last_received_us: sight.as_of_us, closed_us }
}

fn held<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    // Each change under these locks is a single insertion, so a panic elsewhere leaves nothing half done.
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}
