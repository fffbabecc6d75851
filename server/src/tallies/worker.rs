//! Keeps rows of jobs up to date with the journals as they grow, one workshop after the other.
//!
//! A round looks at each workshop whose journal grew, computes each job that got an entry once, and joins come-backs over
//! the vehicles of these jobs at all workshops; rounds begin at most once a second. What a workshop's rows reach is
//! written with the last of them, so whatever ends between begins again. Started by the server, ends with it.

use super::row::Written;
use super::{Looked, Tallies, made};
use crate::forwarding::{Held, SiteState};
use crate::status::Cause;
use standpipe_engine::owner::{JobRow, come_backs};
use standpipe_store::{
    Head, JobId, JobRow as JobPlace, Journal, PAGE_ROWS_MAX, StoreError, TallyReached, TallyRow,
};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::watch;
use tokio::time::{Instant, sleep, sleep_until};

/// Least time from the beginning of a round to that of the next, so that no job is computed more often.
const ROUND_LEAST: Duration = Duration::from_secs(1);
/// Time after which a round that could not do all is made again.
const AGAIN_AFTER: Duration = Duration::from_secs(30);
/// Jobs whose rows are put at once.
const PUT_AT_ONCE: usize = 100;
/// Which jobs of a workshop are computed.
enum Todo {
    All,
    Some(BTreeSet<JobId>),
}

/// Keeps rows up to date until the server stops.
pub(crate) async fn keep(tallies: Arc<Tallies>, mut stopping: watch::Receiver<bool>) {
    let mut grown = tallies.sites.grown();
    loop {
        grown.borrow_and_update();
        let next = Instant::now() + ROUND_LEAST;
        let whole = tallies.round(&stopping).await;
        let grows = async {
            sleep_until(next).await;
            tokio::select! {
                // An error means that no entry can come any more.
                _ = grown.changed() => {}
                () = sleep(AGAIN_AFTER), if !whole => {}
            }
        };
        tokio::select! {
            // An error means that nobody is left who could ask; then it is time to end as well.
            _ = stopping.wait_for(|stopping| *stopping) => return,
            () = grows => {}
        }
    }
}

impl Tallies {
    /// Brings the rows of every workshop up to date; says whether none is left behind.
    pub(crate) async fn round(&self, stopping: &watch::Receiver<bool>) -> bool {
        let mut whole = true;
        let states = match self.sites.states().await {
            Ok(states) => states,
            Err(cause) => {
                tracing::warn!(%cause, "how far the journals of workshops reach cannot be told");
                return false;
            }
        };
        for SiteState { site, kept, .. } in states {
            if *stopping.borrow() {
                return false;
            }
            if self.lock().get(&site.id).is_some_and(|looked| looked.is_up_to_date(kept)) {
                continue;
            }
            match self.site_up_to_date(&site.id, stopping).await {
                Ok(looked) => {
                    whole &= looked.whole;
                    self.lock().insert(site.id, looked);
                }
                Err(Cause::Stopping) => return false,
                Err(cause) => {
                    whole = false;
                    tracing::warn!(site = %site.id, %cause, "the owner's figures of a workshop are behind its journal");
                }
            }
        }
        if whole && let Err(cause) = self.switch().await {
            tracing::warn!(%cause, "the owner's figures are still those of an earlier edition");
            return false;
        }
        whole
    }

    async fn site_up_to_date(&self, site: &str, stopping: &watch::Receiver<bool>) -> Result<Looked, Cause> {
        let before = self.lock().get(site).cloned();
        let held = self.sites.open(site).await?;
        let head = held.store.head().await?;
        let missing = held.workshop.missing_revisions().as_ref().clone();
        let same_files = before.as_ref().is_none_or(|before| before.missing == missing);
        let looked =
            Looked { seq: head.seq, received_us: last_us(&held, &head).await?, missing, whole: true };
        if !same_files {
            // So that a stop in the middle of computing all again is followed by all again.
            let none = TallyReached { epoch: head.epoch, seq: 0 };
            self.own().put_tally_rows(&self.edition, Vec::new(), Some((site.to_owned(), none))).await?;
        }
        let reached = self.own().tally_reached(&self.edition, site).await?;
        let todo = match reached {
            Some(reached) if reached.epoch == head.epoch && reached.seq <= head.seq && same_files => {
                if reached.seq == head.seq {
                    return Ok(looked);
                }
                touched(&*held.store, reached.seq, head.seq).await?
            }
            _ => Todo::All,
        };
        let jobs = places(&*held.store, todo).await?;
        let mut chunks = jobs.chunks(PUT_AT_ONCE).peekable();
        let reached = TallyReached { epoch: head.epoch, seq: head.seq };
        if chunks.peek().is_none() {
            self.own()
                .put_tally_rows(&self.edition, Vec::new(), Some((site.to_owned(), reached.clone())))
                .await?;
        }
        while let Some(chunk) = chunks.next() {
            let mut fresh = Vec::with_capacity(chunk.len());
            for place in chunk {
                if *stopping.borrow() {
                    return Err(Cause::Stopping);
                }
                fresh.push(self.row_or_left_out(&held, site, place).await?);
            }
            let last = chunks.peek().is_none().then(|| (site.to_owned(), reached.clone()));
            let rows = self.joined(fresh).await?;
            self.own().put_tally_rows(&self.edition, rows, last).await?;
        }
        Ok(looked)
    }

    /// Rows as they are put, with those of other jobs of the same vehicles that come back otherwise now.
    pub(super) async fn joined(&self, fresh: Vec<Written>) -> Result<Vec<TallyRow>, Cause> {
        let fresh: Vec<(Written, TallyRow)> =
            fresh.into_iter().map(|row| Ok((row.clone(), row.kept()?))).collect::<Result<_, Cause>>()?;
        let mut vehicles: BTreeSet<String> = BTreeSet::new();
        for (_, kept) in &fresh {
            let before = self.own().tally_row(&self.edition, &kept.site, JobId(kept.job)).await?;
            vehicles.extend(before.map(|before| before.vehicle));
            vehicles.insert(kept.vehicle.clone());
        }
        vehicles.remove("");
        let vehicles: Vec<String> = vehicles.into_iter().collect();
        let mut all: BTreeMap<(String, [u8; 16]), (Written, bool)> = BTreeMap::new();
        for row in self.own().tally_rows_of_vehicles(&self.edition, &vehicles).await? {
            all.insert((row.site.clone(), row.job), (Written::read(&row)?, false));
        }
        for (written, kept) in fresh {
            all.insert((kept.site, kept.job), (written, true));
        }
        let mut jobs: Vec<JobRow> = all.values().map(|(written, _)| written.job.clone()).collect();
        come_backs::join(&mut jobs);
        let mut rows = Vec::new();
        for ((written, is_fresh), job) in all.into_values().zip(jobs) {
            if is_fresh || written.job.back_after_days != job.back_after_days {
                rows.push(Written { job, ..written }.kept()?);
            }
        }
        Ok(rows)
    }
}

/// When the last entry of a journal was received at its workshop; 0 without entries.
async fn last_us(held: &Held, head: &Head) -> Result<i64, StoreError> {
    if head.seq == 0 {
        return Ok(0);
    }
    Ok(held.store.read(head.seq, 1).await?.first().map_or(0, |entry| entry.received_us))
}

/// Jobs that have an entry beyond one and up to another; all of them where a fact of the site may have changed any.
async fn touched(journal: &(impl Journal + ?Sized), beyond: u64, up_to: u64) -> Result<Todo, StoreError> {
    let mut jobs = BTreeSet::new();
    let mut from = beyond + 1;
    while from <= up_to {
        let page = journal.read(from, PAGE_ROWS_MAX).await?;
        let Some(last) = page.last().map(|entry| entry.seq) else { break };
        if page.iter().any(made::may_change_rows) {
            return Ok(Todo::All);
        }
        jobs.extend(page.iter().filter_map(|entry| entry.job));
        from = last + 1;
    }
    Ok(Todo::Some(jobs))
}

/// The places of jobs in a journal.
async fn places(journal: &(impl Journal + ?Sized), todo: Todo) -> Result<Vec<JobPlace>, StoreError> {
    let mut places: Vec<JobPlace> = Vec::new();
    match todo {
        Todo::Some(jobs) => {
            for job in jobs {
                places.extend(journal.job(job).await?);
            }
        }
        Todo::All => loop {
            let before = places.last().map(|place| place.number);
            let page = journal.jobs(before, PAGE_ROWS_MAX).await?;
            let ended = page.len() < PAGE_ROWS_MAX;
            places.extend(page);
            if ended {
                break;
            }
        },
    }
    Ok(places)
}
