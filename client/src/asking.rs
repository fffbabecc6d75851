//! Questions of a station: to the shop server, and about its own unsent list. Nothing is computed here, and no old
//! answer is repeated: without the server there is no go-ahead.

use crate::clock::{microseconds, new_id};
use crate::error::ClientError;
use crate::folder::archive::{RefusedEntry, SentEntry};
use crate::folder::job_of;
use crate::folder::steps::Issuing;
use crate::seal::wall_clock;
use crate::sending::{SendEnd, SendReport};
use crate::station::{Change, Station};
use crate::words::descriptor::Words;
use crate::{LocalJob, words};
use standpipe_proto::check::{CheckError, violations};
use standpipe_proto::v1::{self, fact::Kind};
use std::time::Duration;
use tonic_types::StatusExt as _;

/// Reason of a server that stops.
const SERVER_STOPPING: &str = "SERVER_STOPPING";
/// Fewest characters of the end of an entry's identity that name it.
const ID_END_LEAST: usize = 6;

/// What the station holds itself.
#[derive(Debug, Clone, Default)]
pub struct UnsentReport {
    /// Entries that wait for their acknowledgement, in their order.
    pub waiting: Vec<WaitingEntry>,
    /// Entries that the server will never take.
    pub refused: Vec<RefusedEntry>,
    /// Names of files that were not whole.
    pub damaged: Vec<String>,
    /// Photos and words whose files wait.
    pub blobs_waiting: usize,
    /// Age of the oldest waiting entry in microseconds, by the station's wall clock; never negative.
    pub oldest_microseconds: i64,
}

/// An entry that waits.
#[derive(Debug, Clone)]
pub struct WaitingEntry {
    /// Place in the list.
    pub place: i64,
    /// Its job.
    pub job: LocalJob,
    /// The entry.
    pub entry: v1::Entry,
}

/// An entry that can be put right.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FoundEntry {
    /// Identity of the entry.
    pub entry_id: String,
    /// Its job; one without an identity for a fact of the site.
    pub job: LocalJob,
    /// Its kind, for example `drain`; empty if only the server could say and it is away.
    pub kind: String,
}

impl FoundEntry {
    /// Says whether this entry can be put right in this way.
    pub(crate) fn takes(&self, change: &Change) -> Result<(), ClientError> {
        if self.kind == "correction" {
            return Err(ClientError::CorrectionUnfit(
                "this entry is a correction itself; name the original entry again, the latest correction counts".into(),
            ));
        }
        if let Change::Replace(fact) = change {
            self.is_of(&Words::get()?.kind_of(fact)?)?;
        }
        Ok(())
    }

    /// Says whether this entry is of a kind, or may be.
    pub(crate) fn is_of(&self, kind: &str) -> Result<(), ClientError> {
        if self.kind.is_empty() || self.kind == kind {
            return Ok(());
        }
        let (is, named) = (words::kebab(&self.kind), words::kebab(kind));
        Err(ClientError::CorrectionUnfit(format!(
            "the entry to correct is of the kind {is}, not {named}; give a {is} again, or withdraw it and add a {named}"
        )))
    }
}

impl Station {
    /// A job by its local name, number or identity; the job in use if nothing is named. What only the server knows is
    /// asked there.
    ///
    /// # Errors
    /// When no such job is known.
    pub async fn job(&mut self, name: Option<&str>) -> Result<LocalJob, ClientError> {
        let Some(name) = name.map(str::trim).filter(|name| !name.is_empty()) else {
            return self.current_job();
        };
        drop(self.turn()?);
        if let Some(job) = self.jobs.by_name(name) {
            return Ok(job.clone());
        }
        if let Some(job) = self.jobs.once_named(name) {
            return Err(ClientError::Usage(format!(
                "{name} is job {job}, which has its number now; name it by the number, so that no fact gets into a job \
                 opened earlier"
            )));
        }
        let remote = self.remote()?;
        match remote.get(name).await {
            Ok(job) => {
                let summary = job.summary.unwrap_or_default();
                let lock = self.turn()?;
                if self.jobs.learn(&summary.job_id, &summary.number, &summary.plate) {
                    self.folder.write_jobs(&lock, &self.jobs)?;
                }
                Ok(self.job_named(&summary.job_id))
            }
            Err(ClientError::Away(why)) => self.jobs.by_end(name).cloned().ok_or(ClientError::JobUnknown {
                job: name.to_owned(),
                why: format!("the shop server is away: {why}"),
            }),
            Err(error) => Err(error),
        }
    }

    /// Makes a job the one in use.
    ///
    /// # Errors
    /// As [`Station::job`], or when the disk refuses.
    pub async fn use_job(&mut self, name: &str) -> Result<LocalJob, ClientError> {
        let job = self.job(Some(name)).await?;
        self.set_job(&job)?;
        Ok(self.job_named(&job.job_id))
    }

    /// Asks whether a step may begin. What waits is sent first, so that the answer rests on everything that was
    /// stated here.
    ///
    /// # Errors
    /// [`ClientError::NoGoAhead`] when the server is away or does not have every entry of the job and every fact of
    /// the site that was stated here.
    pub async fn may(&mut self, job: &LocalJob, gate: &str) -> Result<v1::MayResponse, ClientError> {
        let report = self.send().await?;
        // Sending may have brought its number.
        let known = self.job_named(&job.job_id);
        let job = if known.shown().is_empty() { job } else { &known };
        if let Some((missing, why)) = self.not_at_server(job, &report) {
            return Err(match report.end {
                SendEnd::NotPermitted(sentence) => ClientError::NotPermitted(sentence),
                _ => ClientError::NoGoAhead(format!("{missing} ({why}); an earlier yes does not count")),
            });
        }
        let remote = self.remote()?;
        let answer = remote.may(&job.job_id, gate).await.map_err(|error| match error {
            ClientError::Away(why) => ClientError::NoGoAhead(format!("{why}; an earlier yes does not count")),
            other => other,
        })?;
        self.learn(answer.summary.as_ref())?;
        Ok(answer)
    }

    /// What an answer about a job rests on that is not at the server after sending, and why; nothing when all is: its
    /// entries, and the facts of the site, which any job may rest on.
    fn not_at_server(&self, job: &LocalJob, report: &SendReport) -> Option<(String, String)> {
        let entries = match self.unsent_of(job) {
            0 => None,
            1 => Some(format!("1 entry of job {job}")),
            unsent => Some(format!("{unsent} entries of job {job}")),
        };
        let facts = match self.unsent_of_site() {
            0 => None,
            1 => Some("1 fact of the site".to_owned()),
            unsent => Some(format!("{unsent} facts of the site")),
        };
        let is = if self.unsent_before(job) == 1 { "is" } else { "are" };
        let named = match (entries, facts) {
            (None, None) => return None,
            (Some(entries), Some(facts)) => format!("{entries} and {facts}"),
            (Some(one), None) | (None, Some(one)) => one,
        };
        Some((format!("{named} {is} not at the shop server yet"), why_waiting(report)))
    }

    /// Computes a job on the server, after what waits was sent.
    ///
    /// # Errors
    /// When the server is away or does not know the job.
    pub async fn show(&mut self, job: &LocalJob) -> Result<v1::Job, ClientError> {
        self.send().await?;
        let answer = self.remote()?.get(&job.job_id).await?;
        self.learn(answer.summary.as_ref())?;
        Ok(answer)
    }

    /// Compares procedures for a job before its work begins, after what waits was sent.
    ///
    /// # Errors
    /// When the kit is outside its bounds, the server is away or does not know the job, or entries of the job or facts
    /// of the site are not there: what a plan says must rest on all of them.
    pub async fn plan(
        &mut self,
        job: &LocalJob,
        kit_litres: Option<f64>,
    ) -> Result<v1::PlanResponse, ClientError> {
        let request = v1::PlanRequest { job: job.job_id.clone(), kit_litres };
        let outside = violations(&request);
        if !outside.is_empty() {
            return Err(CheckError::Outside(outside).into());
        }
        let report = self.send().await?;
        if let Some((missing, why)) = self.not_at_server(job, &report) {
            return Err(match report.end {
                SendEnd::NotPermitted(sentence) => ClientError::NotPermitted(sentence),
                _ => ClientError::Away(format!(
                    "{missing} ({why}); nothing was planned, say it again when they are"
                )),
            });
        }
        let answer = self.remote()?.plan(request).await?;
        self.learn(answer.summary.as_ref())?;
        Ok(answer)
    }

    /// Begins to watch a job on the server, after what waits was sent.
    ///
    /// # Errors
    /// When the server is away or does not know the job.
    pub(crate) async fn watch(
        &mut self,
        job: &LocalJob,
    ) -> Result<tonic::Streaming<v1::WatchResponse>, ClientError> {
        self.send().await?;
        let states = self.remote()?.watch(&job.job_id).await?;
        if !self.renewal.is_due() {
            return Ok(states);
        }
        // A watch may last for as long as the token: it is renewed now, and the watch begun with the new one, since one
        // that is open ends with the token before.
        drop(states);
        if let Err(error) = self.renew_token_if_due().await {
            tracing::warn!(%error, "the token was not renewed; it is tried again later");
        }
        self.remote()?.watch(&job.job_id).await
    }

    /// Asks the server whether the token is due, which an open watch does not hear; a server that is away says so to the
    /// watch itself.
    pub(crate) async fn is_renewal_due(&self) -> Result<bool, ClientError> {
        match self.remote()?.describe().await {
            Ok(_) => Ok(self.renewal.is_due()),
            Err(error) => {
                tracing::debug!(%error, "the server was not asked about the token");
                Ok(false)
            }
        }
    }

    /// What the end of a watch means.
    pub(crate) fn watch_ended(&mut self, status: &tonic::Status) -> Result<ClientError, ClientError> {
        // Its sentence asks to send again, which a watch does by itself.
        let reason = status.get_details_error_info().map(|info| info.reason);
        if reason.as_deref() == Some(SERVER_STOPPING) {
            return Ok(ClientError::Away("the server is stopping".to_owned()));
        }
        if status.code() == tonic::Code::Unauthenticated {
            let shown = self.joined()?.token.clone();
            drop(self.turn()?);
            if self.joined()?.token != shown {
                return Ok(ClientError::Away("this station renewed its token".to_owned()));
            }
        }
        Ok(self.remote()?.failure(status))
    }

    /// A pause made up to a quarter longer by chance, so that stations do not all come back in the same moment.
    pub(crate) fn spread(&self, pause: Duration) -> Result<Duration, ClientError> {
        let mut chance = [0; 1];
        self.options.entropy.fill(&mut chance)?;
        Ok(pause + pause * u32::from(chance[0]) / (4 * u32::from(u8::MAX)))
    }

    /// Jobs of the site, newest first.
    ///
    /// # Errors
    /// When the server is away.
    pub async fn jobs(&mut self, search: &str, open_only: bool) -> Result<Vec<v1::JobSummary>, ClientError> {
        self.remote()?.jobs(search, open_only).await
    }

    /// Prints the record of a job as it stands, after what waits was sent.
    ///
    /// # Errors
    /// When the server is away or does not know the job.
    pub async fn record(&mut self, job: &LocalJob) -> Result<v1::RenderResponse, ClientError> {
        self.printed(job, 0, false).await
    }

    /// Prints the record of a job, after what waits was sent: an edition as it was issued, or with 0 as it stands, then
    /// if wanted with the annex of all entries.
    ///
    /// # Errors
    /// When the server is away, or does not know the job or the edition.
    pub async fn printed(
        &mut self,
        job: &LocalJob,
        edition: i32,
        annex: bool,
    ) -> Result<v1::RenderResponse, ClientError> {
        self.send().await?;
        self.remote()?.record(&job.job_id, edition, annex).await
    }

    /// Issues the next edition of a job's record, after what waits was sent. A request whose answer was lost is made
    /// again as it was, so that it cannot make a second edition.
    ///
    /// # Errors
    /// When no person is set, entries of the job are not at the server, or it is away or refuses.
    pub async fn issue(&mut self, job: &LocalJob) -> Result<v1::IssueResponse, ClientError> {
        let person_code = self.person().ok_or(ClientError::NoPerson)?.to_owned();
        let report = self.send().await?;
        if self.unsent_of(job) > 0 {
            let why = why_waiting(&report);
            return Err(ClientError::Away(format!(
                "entries of job {job} are not at the shop server yet ({why}); nothing was issued"
            )));
        }
        let remote = self.remote()?;
        let lock = self.turn()?;
        let issuing = match self.folder.issuing()?.filter(|issuing| issuing.job_id == job.job_id) {
            Some(again) => again,
            None => {
                let (now, _) = wall_clock(&*self.options.clock);
                let request_id = new_id(now, &*self.options.entropy)?;
                let issuing = Issuing { job_id: job.job_id.clone(), request_id };
                self.folder.write_issuing(&lock, &issuing)?;
                issuing
            }
        };
        drop(lock);
        let request =
            v1::IssueRequest { job: job.job_id.clone(), request_id: issuing.request_id, person_code };
        let answer = remote.issue(request).await;
        if answer.as_ref().map_or_else(ClientError::is_permanent, |_| true) {
            let lock = self.turn()?;
            self.folder.end_issuing(&lock)?;
        }
        answer
    }

    /// Prints the work sheet of a job, after what waits was sent.
    ///
    /// # Errors
    /// When the server is away or does not know the job.
    pub async fn bay_sheet(&mut self, job: &LocalJob) -> Result<v1::BaySheetResponse, ClientError> {
        self.send().await?;
        self.remote()?.bay_sheet(&job.job_id).await
    }

    /// Prints the reference sheet for photos of fluid; it belongs to no job.
    ///
    /// # Errors
    /// When the server is away.
    pub async fn photo_sheet(&mut self) -> Result<v1::PhotoSheetResponse, ClientError> {
        self.remote()?.photo_sheet().await
    }

    /// Number of entries of a job that are not at the server.
    #[must_use]
    pub fn unsent_of(&self, job: &LocalJob) -> usize {
        self.unsent.values().filter(|kept| job_of(&kept.entry) == job.job_id).count()
    }

    /// Number of facts of the site that are not at the server.
    pub(crate) fn unsent_of_site(&self) -> usize {
        self.unsent.values().filter(|kept| job_of(&kept.entry).is_empty()).count()
    }

    /// Number of entries that an answer about a job rests on and that are not at the server.
    pub(crate) fn unsent_before(&self, job: &LocalJob) -> usize {
        self.unsent_of(job) + self.unsent_of_site()
    }

    /// What waits, what was refused, what was not whole.
    ///
    /// # Errors
    /// When the disk refuses.
    pub fn unsent(&mut self) -> Result<UnsentReport, ClientError> {
        drop(self.turn()?);
        let now = self.options.clock.now_microseconds();
        let age = |entry: &v1::Entry| {
            let made = entry.header.as_ref().and_then(|header| header.station_time.as_ref());
            made.map_or(0, |made| now.saturating_sub(microseconds(made)).max(0))
        };
        Ok(UnsentReport {
            oldest_microseconds: self.unsent.values().next().map_or(0, |kept| age(&kept.entry)),
            waiting: self
                .unsent
                .iter()
                .map(|(place, kept)| WaitingEntry {
                    place: *place,
                    job: self.job_named(job_of(&kept.entry)),
                    entry: kept.entry.clone(),
                })
                .collect(),
            refused: self.folder.refused()?,
            damaged: self.folder.damaged()?,
            blobs_waiting: self.folder.blobs()?.len(),
        })
    }

    /// The entries that the server acknowledged in the last 30 days, in the order of the station.
    ///
    /// # Errors
    /// When the disk refuses.
    pub fn sent_entries(&mut self) -> Result<Vec<SentEntry>, ClientError> {
        drop(self.turn()?);
        self.folder.sent()
    }

    /// The job of an entry, as far as the station knows it.
    #[must_use]
    pub fn job_of_entry(&self, entry: &v1::Entry) -> LocalJob {
        self.job_named(job_of(entry))
    }

    /// Finds the entry to put right: by its place in the journal (`17`), its identity, or the end of its identity.
    /// The station's own entries are found without a network, others in the story of the job. A fact of the site is
    /// found by its identity, and by its place only while no job is in use: with one a mistyped place would hit it.
    ///
    /// # Errors
    /// When there is no such entry.
    pub async fn find_entry(&mut self, name: &str, job: Option<&str>) -> Result<FoundEntry, ClientError> {
        let name = name.trim();
        let job = match job {
            Some(job) => Some(self.job(Some(job)).await?),
            None => None,
        };
        let (seq, is_id) = named(name);
        // A place in the journal is short and easily mistyped: it only counts within one job.
        let within = match &job {
            None if seq.is_some() => self.current_job().ok(),
            job => job.clone(),
        };
        if let Some(found) = self.own_entry(name, within.as_ref().map(|job| job.job_id.as_str()))? {
            return Ok(found);
        }
        let is_named = job.is_some();
        let job = match job {
            Some(job) => job,
            None => self.current_job().unwrap_or_default(),
        };
        if seq.is_none() && !is_id {
            return Err(not_named(name));
        }
        let remote = self.remote()?;
        let story = match job.job_id.as_str() {
            "" => Ok(Vec::new()),
            job => remote.get(job).await.map(|answer| answer.story),
        };
        let story = match story {
            Ok(story) => story,
            Err(ClientError::Away(_)) if is_id => {
                return Ok(FoundEntry { entry_id: name.to_owned(), job, kind: String::new() });
            }
            Err(error) => return Err(error),
        };
        let line = story.into_iter().find(|line| Some(line.seq) == seq || line.entry_id == name);
        if let Some(line) = line {
            return Ok(FoundEntry { entry_id: line.entry_id, job, kind: line.kind });
        }
        let may_be_of_site = !is_named && (is_id || job.job_id.is_empty());
        if may_be_of_site && let Some(found) = self.entry_of_site(name, seq).await? {
            return Ok(found);
        }
        let why = match job.job_id.as_str() {
            "" => "the site has no such fact, and no job is in use; take one with: standpipe use NUMBER"
                .to_owned(),
            _ => format!(
                "job {job} has no such entry; standpipe show lists them, and --site means a fact of the site"
            ),
        };
        Err(ClientError::EntryUnknown { entry: name.to_owned(), why })
    }

    /// Finds the fact of the site to put right, as [`Station::find_entry`] does, whatever job is in use.
    ///
    /// # Errors
    /// When the site has no such fact.
    pub async fn find_fact_of_site(&mut self, name: &str) -> Result<FoundEntry, ClientError> {
        let name = name.trim();
        if let Some(found) = self.own_entry(name, Some(""))? {
            return Ok(found);
        }
        let (seq, is_id) = named(name);
        if seq.is_none() && !is_id {
            return Err(not_named(name));
        }
        let why = "the site has no such fact; leave out --site for an entry of a job".to_owned();
        let unknown = ClientError::EntryUnknown { entry: name.to_owned(), why };
        self.entry_of_site(name, seq).await?.ok_or(unknown)
    }

    /// A fact of the site by its place in the journal or its identity.
    async fn entry_of_site(
        &mut self,
        name: &str,
        seq: Option<i64>,
    ) -> Result<Option<FoundEntry>, ClientError> {
        let site = self.joined()?.site_id.clone();
        let entries = self.remote()?.recorded(&site).await?;
        let id_of = |entry: &v1::Entry| entry.header.clone().unwrap_or_default().entry_id;
        let found = entries.into_iter().find(|(at, entry)| Some(*at) == seq || id_of(entry) == name);
        let Some((_, entry)) = found else { return Ok(None) };
        let kind = entry.fact.as_ref().map(|fact| Words::get()?.kind_of(fact)).transpose()?;
        let (entry_id, job) = (id_of(&entry), LocalJob::default());
        Ok(Some(FoundEntry { entry_id, job, kind: kind.unwrap_or_default() }))
    }

    /// Whether an entry is still on this station only.
    ///
    /// # Errors
    /// When the folder cannot be read.
    pub(crate) fn waits(&mut self, entry_id: &str) -> Result<bool, ClientError> {
        drop(self.turn()?);
        let of_this =
            |entry: &v1::Entry| entry.header.as_ref().is_some_and(|header| header.entry_id == entry_id);
        Ok(self.unsent.values().any(|kept| of_this(&kept.entry)))
    }

    /// An entry that this station made itself; of one job where its identity is given, an empty one for the site.
    fn own_entry(&mut self, name: &str, job_id: Option<&str>) -> Result<Option<FoundEntry>, ClientError> {
        drop(self.turn()?);
        let (seq, _) = named(name);
        let sent = self.folder.sent()?;
        let unsent = self.unsent.values().map(|kept| (&kept.entry, None));
        let all = unsent.chain(sent.iter().map(|sent| (&sent.entry, Some(sent.seq))));
        let mut found: Option<&v1::Entry> = None;
        for (entry, entry_seq) in all {
            let entry_id = entry.header.as_ref().map_or("", |header| header.entry_id.as_str());
            let by_end = seq.is_none() && name.len() >= ID_END_LEAST && entry_id.ends_with(name);
            if !(by_end || entry_id == name || (seq.is_some() && entry_seq == seq)) {
                continue;
            }
            if job_id.is_some_and(|job_id| job_id != job_of(entry)) {
                continue;
            }
            let other = found.and_then(|other| other.header.as_ref());
            if other.is_some_and(|other| other.entry_id != entry_id) {
                let why = "several entries of this station end so; give more of it".to_owned();
                return Err(ClientError::EntryUnknown { entry: name.to_owned(), why });
            }
            found = Some(entry);
        }
        let Some(entry) = found else { return Ok(None) };
        let kind = match &entry.fact {
            Some(fact) => Words::get()?.kind_of(fact)?,
            None => String::new(),
        };
        if let Some(Kind::Correction(correction)) = entry.fact.as_ref().and_then(|fact| fact.kind.as_ref()) {
            return Err(ClientError::CorrectionUnfit(format!(
                "this entry is a correction itself; name the original entry again: {}",
                correction.corrected_entry_id
            )));
        }
        let entry_id = entry.header.as_ref().map(|header| header.entry_id.clone()).unwrap_or_default();
        Ok(Some(FoundEntry { entry_id, job: self.job_of_entry(entry), kind }))
    }

    pub(crate) fn learn(&mut self, summary: Option<&v1::JobSummary>) -> Result<(), ClientError> {
        let Some(summary) = summary.filter(|summary| !summary.job_id.is_empty()) else { return Ok(()) };
        let lock = self.turn()?;
        if self.jobs.learn(&summary.job_id, &summary.number, &summary.plate) {
            self.folder.write_jobs(&lock, &self.jobs)?;
        }
        Ok(())
    }
}

/// The place in the journal that a name is, and whether it is a whole identity.
fn named(name: &str) -> (Option<i64>, bool) {
    let is_id = uuid::Uuid::try_parse(name).is_ok() && name.len() == 36;
    (name.parse::<i64>().ok().filter(|seq| *seq > 0), is_id)
}

fn not_named(name: &str) -> ClientError {
    ClientError::EntryUnknown {
        entry: name.to_owned(),
        why: format!(
            "no entry of this station has it; give its place as standpipe show prints it, its identity, or the last \
             {ID_END_LEAST} or more characters of it"
        ),
    }
}

fn why_waiting(report: &SendReport) -> String {
    match &report.end {
        SendEnd::Done => "they were kept just now; ask again".to_owned(),
        SendEnd::Later { sentence, .. } | SendEnd::NotPermitted(sentence) => sentence.clone(),
        SendEnd::Busy(holder) => format!("another command is sending: {holder}"),
    }
}
