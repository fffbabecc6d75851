//! What the handlers of a running server share: the journal, what stands beside it, the catalogue, the clock, and
//! what was computed of a job lately.
//!
//! A view is kept by the place of the job's last entry, and by which earlier jobs it looks back at and the places of
//! their last entries, and by what was known of the site up to then, so a kept one is always the right one.
//! Never here: a rule of the trade, which is the engine's, or a message of the network, which is [`crate::convert`]'s.

mod copied;
mod labels;
mod tokens;

pub(crate) use copied::Whose;

use crate::access::{Role, Who};
use crate::audit::Audit;
use crate::blob::{Blobs, Found};
use crate::catalogue::{Adopted, Catalogue};
use crate::clock::{Clock, Entropy};
use crate::desk::{Desk, SITE_NAME_SETTING};
use crate::door::{Identity, Limits, Rate, Turns};
use crate::error::ServerError;
use crate::extracts;
use crate::figures::Figures;
use crate::folder::Folder;
use crate::forwarding::{Bond, Sites};
use crate::guesses::CodeGuesses;
use crate::kept::Kept;
use crate::lines;
use crate::number;
use crate::order::Order;
use crate::pin::Pins;
use crate::places::Places;
use crate::reading::Reading;
use crate::sight::{Overlook, Sight, recorded};
use crate::site::{Known, SiteKept};
use crate::status::Cause;
use crate::tallies::Tallies;
use standpipe_engine::catalogue::Revision;
use standpipe_engine::job::{EarlierJob, view};
use standpipe_engine::site::JobAccount;
use standpipe_engine::text::Language;
use standpipe_engine::view::JobView;
use standpipe_proto::limits::WATCHES_PER_STATION_MAX;
use standpipe_proto::limits::door::{RENEWAL_SECONDS, RENEWALS_BURST_MAX};
use standpipe_store::{
    AuditBook, Beside, JobId, JobNumber, JobRow, Journal, Store, StoreError, StoredEntry, TokenDigest,
};
use std::net::{IpAddr, SocketAddr};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError, RwLock};
use std::time::Duration;
use tokens::TakenBack;
use tokio::sync::watch;

/// Days for which a bay still sees a closed job.
pub(crate) const BAY_SEES_CLOSED_DAYS: i64 = 7;
pub(crate) const DAY_US: i64 = 86_400_000_000;
/// Most earlier jobs of a vehicle that a job looks back at.
const EARLIER_JOBS_MAX: usize = 20;
/// Most computed jobs, labels and stations that are kept; see [`Kept`].
const KEPT_VIEWS_MAX: usize = 256;
const KEPT_STATIONS_MAX: usize = 1_000;
const KEPT_LABELS_MAX: usize = 20_000;
const KEPT_EARLIER_MAX: usize = 1_000;

/// A running workshop.
pub(crate) struct Workshop {
    pub(crate) site_id: String,
    pub(crate) site_name: String,
    pub(crate) journal: Arc<dyn Journal>,
    pub(crate) beside: Arc<dyn Beside>,
    pub(crate) clock: Arc<dyn Clock>,
    /// Who was let in and who was turned away.
    pub(crate) audit: Arc<Audit>,
    /// The same book, and the kinds of facts that stations may state.
    pub(crate) book: Arc<dyn AuditBook>,
    /// Looks at PINs, for the office pages and for signing alike.
    pub(crate) pins: Pins,
    pub(crate) folder: Folder,
    /// Files beside the journal.
    pub(crate) blobs: Arc<Blobs>,
    /// Where the server itself states facts; held by one at a time.
    pub(crate) desk: tokio::sync::Mutex<Desk>,
    /// Turns true when the server begins to stop.
    pub(crate) stopping: watch::Receiver<bool>,
    /// Longest time between two looks at a job that somebody sees while no entry of it comes.
    pub(crate) look_again: Duration,
    /// Who the server is to those who connect.
    pub(crate) identity: Arc<Identity>,
    /// What is allowed those who connect.
    pub(crate) limits: Limits,
    /// Tokens that are not good, by address.
    pub(crate) failed_tokens: Rate<IpAddr>,
    /// Renewals of tokens, by station.
    pub(crate) renewals: Rate<String>,
    /// Single calls of Append, by station.
    pub(crate) appends: Rate<String>,
    /// Turns of answers that take long to compute.
    pub(crate) turns: Turns,
    /// Jobs watched over the network, by station.
    pub(crate) watches: Arc<Places>,
    /// Wrong codes to join.
    pub(crate) code_guesses: CodeGuesses,
    /// Days that a token is good.
    pub(crate) token_days: u32,
    /// What is counted.
    pub(crate) figures: Arc<Figures>,
    /// How it stands with the owner's server.
    pub(crate) bond: Bond,
    taken_back: watch::Sender<TakenBack>,
    beside_changed: watch::Sender<u64>,
    catalogue: RwLock<Arc<Catalogue>>,
    /// Whether what is said of jobs names persons.
    persons: bool,
    /// Names of persons by code.
    names: RwLock<Arc<Vec<(String, String)>>>,
    views: Kept<JobId, Arc<Computed>>,
    /// Jobs as later ones look back at them, with the place of the last entry that was read.
    earlier: Kept<JobId, (u64, EarlierJob)>,
    labels: Kept<JobId, Arc<Label>>,
    newest: Mutex<Option<JobNumber>>,
    /// Last entry up to which each job's line of the list is right; 0 while that is not known.
    listed_to: AtomicU64,
    /// Held while lines of the list are brought up to date, so that nobody does it twice.
    pub(crate) listing: tokio::sync::Mutex<()>,
    stations: Kept<TokenDigest, Arc<Who>>,
    /// Facts of the site and accounts of its jobs.
    pub(crate) site: SiteKept,
    /// Adopted revisions whose files are not here; only in a copy of a journal can there be any.
    missing_revisions: RwLock<Arc<Vec<String>>>,
    /// The workshops whose journals are kept here; only an owner's server has them.
    pub(crate) sites: Option<Arc<Sites>>,
    /// Rows of their jobs; only an owner's server has them.
    pub(crate) tallies: Option<Arc<Tallies>>,
}

/// What a workshop is opened with.
#[derive(Clone)]
pub(crate) struct Premises {
    /// Whose journal it is.
    pub(crate) whose: Whose,
    pub(crate) folder: Folder,
    pub(crate) store: Arc<dyn Store>,
    pub(crate) clock: Arc<dyn Clock>,
    pub(crate) entropy: Arc<dyn Entropy>,
    pub(crate) stopping: watch::Receiver<bool>,
    /// See [`Workshop::look_again`].
    pub(crate) look_again: Duration,
    /// Days that a token is good.
    pub(crate) token_days: u32,
    pub(crate) identity: Arc<Identity>,
    /// The address that is listened on, with its port.
    pub(crate) address: SocketAddr,
    pub(crate) limits: Limits,
    pub(crate) figures: Arc<Figures>,
}

/// A job with everything that was computed of it.
pub(crate) struct Computed {
    pub(crate) row: JobRow,
    pub(crate) view: JobView,
    /// The revision that it is judged by.
    pub(crate) judged_by: Arc<Revision>,
    /// Server's clock at the last entry.
    pub(crate) last_received_us: i64,
    /// Server's clock at the closing that counts; absent while the job is open.
    pub(crate) closed_us: Option<i64>,
    /// The earlier jobs of the vehicle that it looks back at, each with the place of its last entry.
    looks_back_at: Vec<(JobId, u64)>,
    /// What they say.
    earlier: Vec<EarlierJob>,
    /// Age of what was known of the site; see [`Known::age`].
    site_age: u64,
}

/// What every answer about a job begins with.
#[derive(Debug, PartialEq, Eq)]
pub(crate) struct Label {
    pub(crate) number: String,
    pub(crate) plate: String,
}

impl Workshop {
    /// Reads what the handlers need.
    ///
    /// # Errors
    /// When journal, catalogue or the server's own station cannot be read.
    pub(crate) async fn open(premises: Premises) -> Result<Self, ServerError> {
        let sites = Sites::of(&premises)?;
        let tallies = match &sites {
            Some(sites) => {
                Some(Tallies::of(premises.folder.path(), Arc::clone(sites), &*premises.entropy).await?)
            }
            None => None,
        };
        let Premises { whose, folder, store, clock, entropy, stopping, look_again, .. } = premises;
        let Premises { token_days, identity, address, limits, figures, .. } = premises;
        let site_name = store.setting(SITE_NAME_SETTING).await?.unwrap_or_default();
        let (catalogue, missing) = copied::catalogue(whose, &folder, &*store, &site_name).await?;
        let newest = store.jobs(None, 1).await?.first().map(|row| row.number);
        let names = names(&*store).await?;
        let blobs = Arc::new(Blobs::of(&folder));
        let (shelf, files) = (folder.clone(), Arc::clone(&blobs));
        let audit = Arc::new(Audit::of(Arc::clone(&store) as _, Arc::clone(&clock)));
        let (book, time) = (Arc::clone(&audit), Arc::clone(&clock));
        let desk = match whose {
            Whose::Own(_) => {
                Desk::within_server(shelf, Arc::clone(&store), files, book, time, entropy).await?
            }
            Whose::Copied { .. } => {
                Desk::over_copy(shelf, Arc::clone(&store), files, book, time, entropy).await?
            }
        };
        let desk = desk.with_token_days(token_days).listening_on(address);
        Ok(Self {
            site_id: store.head().await?.site,
            site_name,
            beside: Arc::clone(&store) as _,
            audit,
            book: Arc::clone(&store) as _,
            pins: Pins::new(),
            journal: store,
            clock,
            blobs,
            folder,
            desk: tokio::sync::Mutex::new(desk),
            stopping,
            look_again,
            identity,
            failed_tokens: Rate::new(limits.failed_tokens),
            renewals: Rate::every(Duration::from_secs(RENEWAL_SECONDS), RENEWALS_BURST_MAX),
            appends: Rate::new(limits.appends),
            turns: Turns::new(limits.turn),
            limits,
            figures,
            watches: Arc::new(Places::new(WATCHES_PER_STATION_MAX)),
            code_guesses: CodeGuesses::default(),
            token_days,
            bond: Bond::default(),
            taken_back: watch::Sender::new(TakenBack::default()),
            beside_changed: watch::Sender::new(0),
            catalogue: RwLock::new(Arc::new(catalogue)),
            persons: whose.persons(),
            names: RwLock::new(Arc::new(names)),
            views: Kept::new(KEPT_VIEWS_MAX),
            earlier: Kept::new(KEPT_EARLIER_MAX),
            labels: Kept::new(KEPT_LABELS_MAX),
            newest: Mutex::new(newest),
            listed_to: AtomicU64::new(0),
            listing: tokio::sync::Mutex::new(()),
            stations: Kept::new(KEPT_STATIONS_MAX),
            site: SiteKept::default(),
            missing_revisions: RwLock::new(Arc::new(missing)),
            sites,
            tallies,
        })
    }

    /// Sees what an order changed. Also after one that failed, since it may have been done in part.
    ///
    /// # Errors
    /// When it cannot be read.
    pub(crate) async fn look_again(&self, order: &Order) -> Result<(), ServerError> {
        match order {
            // The token before must not be good for a moment longer, neither for the next call nor for an open one.
            Order::RevokeStation { name } | Order::RenewToken { name, .. } => {
                self.stations.forget_all();
                if let Some(station) = self.beside.station(name).await? {
                    self.end_tokens(&station.id, None);
                }
            }
            Order::AddPerson { .. } | Order::RemovePerson { .. } => {
                let names = Arc::new(names(&*self.beside).await?);
                *self.names.write().unwrap_or_else(PoisonError::into_inner) = names;
                self.views.forget_all();
            }
            Order::ImportCatalogue { .. } => {
                let loaded = Catalogue::load(&self.folder, &*self.journal, &self.site_name).await?;
                *self.catalogue.write().unwrap_or_else(PoisonError::into_inner) = Arc::new(loaded);
                self.views.forget_all();
                self.earlier.forget_all();
                self.labels.forget_all();
            }
            Order::EraseCustomer { .. } => self.change_beside(),
            Order::JoinOwner { .. } | Order::LeaveOwner => self.bond.change(),
            Order::EraseRemark { .. } => self.change_files(),
            Order::AddStation { .. }
            | Order::AddForwarder { .. }
            | Order::OfferCatalogue { .. }
            | Order::OpenCode { .. }
            | Order::ListStations
            | Order::Running
            | Order::AtOwner
            | Order::SetPin { .. }
            | Order::ListPersons
            | Order::ListCatalogues
            | Order::ReadAudit { .. }
            | Order::BackUp { .. } => {}
        }
        Ok(())
    }

    /// Last entry up to which each job's line of the list is right; 0 while that is not known.
    pub(crate) fn listed_to(&self) -> u64 {
        self.listed_to.load(Ordering::SeqCst)
    }

    /// Notes that all lines are right up to an entry.
    pub(crate) fn set_listed_to(&self, seq: u64) {
        self.listed_to.fetch_max(seq, Ordering::SeqCst);
    }

    /// Tells whoever shows it that a customer was written or erased.
    pub(crate) fn change_beside(&self) {
        self.beside_changed.send_modify(|changes| *changes += 1);
    }

    /// Sees that a file beside the journal arrived or was erased: what was computed may have read it, or waited for it.
    pub(crate) fn change_files(&self) {
        self.views.forget_all();
        self.earlier.forget_all();
        self.change_beside();
    }

    /// Customers written or erased since the server started.
    pub(crate) fn beside_changed(&self) -> watch::Receiver<u64> {
        self.beside_changed.subscribe()
    }

    /// The adopted revisions.
    pub(crate) fn catalogue(&self) -> Arc<Catalogue> {
        Arc::clone(&self.catalogue.read().unwrap_or_else(PoisonError::into_inner))
    }

    /// The local year at the site now.
    pub(crate) fn year(&self) -> i16 {
        self.catalogue().year(self.clock.now_us())
    }

    /// The revision in use when a job was opened: its number, language and year go by it.
    pub(crate) fn adopted(&self, row: &JobRow) -> Adopted {
        self.catalogue().of_job(row.first_seq).clone()
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
        Ok(self.catalogue().find_job(&*self.journal, job, self.clock.now_us()).await?)
    }

    /// A file beside the journal.
    pub(crate) async fn blob(&self, digest: &str) -> Result<Found, Cause> {
        let (blobs, digest) = (Arc::clone(&self.blobs), digest.to_owned());
        Ok(off_the_network(move || blobs.get(&digest)).await??)
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
        if let Ok(kept) = self.views.get(&row.job_id)
            && kept.row.last_seq >= row.last_seq
            && self.still_so(&kept, &self.site().await?).await?
        {
            return Ok(kept);
        }
        Ok(self.read(row).await?.job)
    }

    /// Reads the entries of a job once, for an answer of which every part must rest on the same.
    pub(crate) async fn read(&self, row: &JobRow) -> Result<Reading, Cause> {
        let ticket = self.views.ticket();
        let entries = self.journal.read_job(row.job_id).await?;
        let last_seq = entries.last().map_or(row.last_seq, |entry| entry.seq);
        // After the entries, so that nothing is missing that stands before the last of them.
        let site = self.site().await?;
        let job = match self.views.get(&row.job_id) {
            Ok(kept) if kept.row.last_seq == last_seq && self.still_so(&kept, &site).await? => kept,
            _ => {
                let computed = self.computed_with(row, entries.clone(), &site).await?;
                self.views.keep(ticket, computed.row.job_id, Arc::clone(&computed));
                computed
            }
        };
        let now_us = self.clock.now_us();
        let sight = self.sight(&job.row, now_us).judging(&self.catalogue(), &entries, u64::MAX);
        let sight = sight.seeing(extracts::of(self, &entries).await?);
        let sight = sight.looking_back(job.earlier.clone()).knowing(&site, u64::MAX);
        Ok(Reading { job, entries, sight, now_us })
    }

    /// The job as its own entries tell it, without a look at earlier ones or at the site, and what it used and made: for
    /// the list, which is looked into for those.
    pub(crate) async fn computed_alone(&self, row: &JobRow) -> Result<(Computed, JobAccount), Cause> {
        let entries = self.journal.read_job(row.job_id).await?;
        let sight = self.sight(row, entries.last().map_or(0, |entry| entry.received_us));
        let (computed, entries, sight) = self.alone(row, entries, sight).await?;
        let account = off_the_network(move || JobAccount::of(&sight.context(), &recorded(&entries))).await?;
        Ok((computed, account))
    }

    /// The job as these entries alone tell it, and what it was computed from.
    async fn alone(
        &self,
        row: &JobRow,
        entries: Vec<StoredEntry>,
        sight: Sight,
    ) -> Result<(Computed, Vec<StoredEntry>, Sight), Cause> {
        // The journal may have grown since the row was read; the answer says how far it reaches.
        let last_seq = entries.last().map_or(row.last_seq, |entry| entry.seq);
        let sight = sight.judging(&self.catalogue(), &entries, last_seq);
        let sight = sight.seeing(extracts::of(self, &entries).await?);
        let row = JobRow { last_seq, entries: entries.len() as u64, ..row.clone() };
        off_the_network(move || {
            let computed = compute(row, &entries, &sight);
            (computed, entries, sight)
        })
        .await
    }

    /// The job as these entries of it tell it.
    pub(crate) async fn computed_from(
        &self,
        row: &JobRow,
        entries: Vec<StoredEntry>,
    ) -> Result<Arc<Computed>, Cause> {
        let site = self.site().await?;
        self.computed_with(row, entries, &site).await
    }

    /// The same with what is known of the site.
    async fn computed_with(
        &self,
        row: &JobRow,
        entries: Vec<StoredEntry>,
        site: &Known,
    ) -> Result<Arc<Computed>, Cause> {
        let (last_seq, last_us) = entries.last().map_or((0, 0), |entry| (entry.seq, entry.received_us));
        let sight = self.sight(row, last_us).knowing(site, last_seq);
        let (first, entries, sight) = self.alone(row, entries, sight).await?;
        let first = Computed { site_age: site.age, ..first };
        // Which vehicle it is, is known only now; few vehicles have been here before.
        let (looks_back_at, earlier) = self.earlier_jobs(&first).await?;
        if earlier.is_empty() {
            return Ok(Arc::new(first));
        }
        let sight = Sight { earlier: earlier.clone(), ..sight };
        let row = first.row;
        let computed = off_the_network(move || compute(row, &entries, &sight)).await?;
        Ok(Arc::new(Computed { looks_back_at, earlier, site_age: site.age, ..computed }))
    }

    /// The earlier jobs that a job looks back at, each with the place of its last entry, and what they say.
    async fn earlier_jobs(&self, job: &Computed) -> Result<(Vec<(JobId, u64)>, Vec<EarlierJob>), Cause> {
        let rows = self.earlier_rows(job).await?;
        let mut earlier = Vec::with_capacity(rows.len());
        for row in &rows {
            earlier.push(self.looked_back_at(row).await?);
        }
        Ok((places(&rows), earlier))
    }

    /// Jobs with the same VIN or plate and a smaller number. Which ones they are may change with any entry of any job,
    /// so the list is asked each time.
    async fn earlier_rows(&self, job: &Computed) -> Result<Vec<JobRow>, Cause> {
        let vehicle = &job.view.vehicle;
        let vehicle = (vehicle.vin.as_deref().unwrap_or_default(), vehicle.plate.as_str());
        if vehicle == ("", "") {
            return Ok(Vec::new());
        }
        lines::refresh(self).await?;
        let found = self.beside.summaries_of_vehicle(vehicle, job.row.number, EARLIER_JOBS_MAX).await?;
        let mut rows = Vec::with_capacity(found.len());
        for line in found {
            rows.extend(self.journal.job(line.job_id).await?);
        }
        Ok(rows)
    }

    async fn looked_back_at(&self, row: &JobRow) -> Result<EarlierJob, Cause> {
        if let Ok((seq, job)) = self.earlier.get(&row.job_id)
            && seq == row.last_seq
        {
            return Ok(job);
        }
        let ticket = self.earlier.ticket();
        let entries = self.journal.read_job(row.job_id).await?;
        let last_seq = entries.last().map_or(row.last_seq, |entry| entry.seq);
        let sight = self.sight(row, entries.last().map_or(0, |entry| entry.received_us));
        let sight = sight.judging(&self.catalogue(), &entries, last_seq);
        let sight = sight.seeing(extracts::of(self, &entries).await?);
        let job = off_the_network(move || EarlierJob::of(&sight.context(), &recorded(&entries))).await?;
        self.earlier.keep(ticket, row.job_id, (last_seq, job.clone()));
        Ok(job)
    }

    /// Whether a job still looks back at the same jobs, and none of them got another entry, and what was known of the
    /// site up to its last entry is what it was.
    async fn still_so(&self, job: &Computed, site: &Known) -> Result<bool, Cause> {
        Ok(job.site_age == site.age && places(&self.earlier_rows(job).await?) == job.looks_back_at)
    }

    /// What a job is looked at with, beside its entries; not yet what is known of the site.
    pub(crate) fn sight(&self, row: &JobRow, as_of_us: i64) -> Sight {
        Sight {
            adopted: self.adopted(row),
            adopted_at: self.catalogue().adopted_before(row.first_seq),
            newer: None,
            job_id: row.job_id.to_string(),
            number: self.printed(row),
            site_name: self.site_name.clone(),
            names: Arc::clone(&self.names.read().unwrap_or_else(PoisonError::into_inner)),
            persons: self.persons,
            extracts: Arc::default(),
            earlier: Vec::new(),
            site: Arc::default(),
            site_up_to: 0,
            as_of_us,
        }
    }

    /// What is asked of the site as a whole, at a time.
    pub(crate) fn overlook(&self, adopted: Adopted, site: &Known, as_of_us: i64) -> Overlook {
        Overlook {
            adopted,
            site_name: self.site_name.clone(),
            names: Arc::clone(&self.names.read().unwrap_or_else(PoisonError::into_inner)),
            facts: Arc::clone(&site.facts),
            as_of_us,
        }
    }
}

/// Each job with the place of its last entry.
fn places(rows: &[JobRow]) -> Vec<(JobId, u64)> {
    rows.iter().map(|row| (row.job_id, row.last_seq)).collect()
}

async fn names(beside: &dyn Beside) -> Result<Vec<(String, String)>, StoreError> {
    let persons = beside.persons().await?.into_iter();
    Ok(persons.filter_map(|person| Some((person.code, person.name?))).collect())
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
    Computed {
        row,
        view,
        judged_by: Arc::clone(&sight.adopted.revision),
        last_received_us: sight.as_of_us,
        closed_us,
        looks_back_at: Vec::new(),
        earlier: Vec::new(),
        site_age: 0,
    }
}
