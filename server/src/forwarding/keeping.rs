//! At the owner's server: compares journals, keeps what workshops bring, gives it back.
//!
//! One batch of a site is looked at and kept at a time. A fork is written down, named by a sentence and never merged; it is
//! over as soon as the site's journal is shown to be the known one again. Called by the handlers of forwarding. Never
//! here: what an honest batch looks like, which is [`super::intake`]'s, or how copies are opened, which is
//! [`super::sites`]'s.

use super::copy::Odd;
use super::intake::{self, Brought};
use super::sites::{Held, Sites};
use super::standing::{Point, Proof, Standing, is_another, standing};
use crate::access::Who;
use crate::status::{Cause, Forwarding};
use crate::workshop::off_the_network;
use standpipe_proto::limits::{FORWARD_BYTES_MAX, FORWARD_ENTRIES_MAX};
use standpipe_proto::v1::{
    CompareJournalRequest, CompareJournalResponse, ForwardEntriesRequest, ForwardEntriesResponse,
    JournalStanding, ReturnEntriesRequest, ReturnEntriesResponse,
};
use standpipe_store::tree::Hash;
use standpipe_store::{Fork, Head, JobId, JobRow, Replicated, StoreError, StoredEntry};
use std::cmp::Ordering;
use std::collections::HashMap;
use std::sync::Arc;

/// So long a fork stands after it was seen last: twice the pause after which a site calls again, whatever it was told.
pub(crate) const FORK_STANDS_US: i64 = 600_000_000;

/// Whose journal a station brings.
///
/// # Errors
/// [`Forwarding::SiteNotOfStation`] where it was enrolled for another site than the one that is named, or for none.
pub(crate) async fn site_of(sites: &Sites, who: &Who, named: Option<&str>) -> Result<String, Cause> {
    let site = sites.own().station_sites().await?.remove(&who.station_id);
    match (site, named) {
        (Some(site), Some(named)) if site == named => Ok(site),
        (Some(site), None) => Ok(site),
        (site, named) => {
            let named = named.unwrap_or_default().to_owned();
            let (station, site) = (who.name.clone(), site.unwrap_or_default());
            Err(Forwarding::SiteNotOfStation { named, station, site }.into())
        }
    }
}

/// Carries something out to its end, also where nobody waits for the answer any more: what a store has queued it writes,
/// and what belongs to that must follow.
///
/// # Errors
/// As the work itself.
pub(super) async fn to_the_end<T: Send + 'static>(
    work: impl Future<Output = Result<T, Cause>> + Send + 'static,
) -> Result<T, Cause> {
    tokio::spawn(work).await.map_err(|error| Cause::internal("keeping what a site brought", &error))?
}

/// Says how the journal that a site has stands to the copy of it here.
///
/// # Errors
/// When the request cannot be, or the copy cannot be opened.
pub(crate) async fn compare(
    sites: &Arc<Sites>,
    who: &Who,
    request: CompareJournalRequest,
) -> Result<CompareJournalResponse, Cause> {
    let site = site_of(sites, who, Some(&request.site_id)).await?;
    let turn = sites.turn_of_site(&site).await?;
    let (sites, who) = (Arc::clone(sites), who.clone());
    to_the_end(async move {
        let _turn = turn;
        held_against(&sites, &who, &site, request).await
    })
    .await
}

async fn held_against(
    sites: &Sites,
    who: &Who,
    site: &str,
    request: CompareJournalRequest,
) -> Result<CompareJournalResponse, Cause> {
    let claim = intake::point("here", &request.here.unwrap_or_default())?;
    let hashes = intake::hashes("proof", &request.proof)?;
    let proof = Proof { from: u64::try_from(request.proof_from).unwrap_or_default(), hashes: &hashes };
    let founding = intake::hash_if_told("founding", &request.founding)?;
    // Before the name: another workshop does not give this one its own.
    if let Some((here, another)) = kept_of_another(sites, site, founding).await? {
        tracing::warn!(
            site,
            station = who.station_id,
            "another workshop of the same identity brings its journal"
        );
        let (there, standing) = (Some(intake::point_told(&here)), told(Standing::Another).into());
        return Ok(CompareJournalResponse { there, standing, sentence: another.to_string() });
    }
    let held = sites.open_or_make(site, request.site_name.trim()).await?;
    let _alone = held.keeping.lock().await;
    let here = point_of(&caught_up(sites, &held).await?);
    // The usual case costs no look at the leaves.
    let at_claim = match claim.size.cmp(&here.size) {
        Ordering::Less => held.store.root_at(claim.size).await?,
        Ordering::Equal => Some(here.root),
        Ordering::Greater => None,
    };
    let standing = standing(&here, &claim, at_claim, proof);
    sites.heard(&held, claim.size, standing)?;
    match standing {
        Standing::Same | Standing::Ahead => settle(sites, site).await?,
        Standing::Fork => note(sites, who, site, &here, claim).await?,
        Standing::ProofWanted | Standing::Behind | Standing::Another => {}
    }
    let sentence = sentence(standing, &here, &claim);
    let (there, standing) = (Some(intake::point_told(&here)), told(standing).into());
    Ok(CompareJournalResponse { there, standing, sentence })
}

/// How far the journal of another workshop is kept here under this identity, and what is said of it; nothing where it is that
/// of the caller, as far as its first entry tells.
pub(crate) async fn kept_of_another(
    sites: &Sites,
    site: &str,
    founding: Option<Hash>,
) -> Result<Option<(Point, Forwarding)>, Cause> {
    if founding.is_none() || !sites.knows(site) {
        return Ok(None);
    }
    let held = sites.open(site).await?;
    of_another(&held, founding).await
}

async fn of_another(held: &Held, founding: Option<Hash>) -> Result<Option<(Point, Forwarding)>, Cause> {
    if founding.is_none() || !is_another(held.store.root_at(1).await?, founding) {
        return Ok(None);
    }
    let (head, name) = (held.store.head().await?, held.workshop.site_name.clone());
    let another = Forwarding::OfAnother { site: head.site.clone(), name, kept: head.seq };
    Ok(Some((point_of(&head), another)))
}

/// Keeps entries of a site at the end of its copy.
///
/// # Errors
/// When they cannot be, when entries between are missing, or when the journals went on differently; nothing is kept then.
pub(crate) async fn forward(
    sites: &Arc<Sites>,
    who: &Who,
    request: ForwardEntriesRequest,
) -> Result<ForwardEntriesResponse, Cause> {
    let site = site_of(sites, who, Some(&request.site_id)).await?;
    let turn = sites.turn(&site).await?;
    let brought = off_the_network(move || intake::read(request)).await??;
    let (sites, who) = (Arc::clone(sites), who.clone());
    to_the_end(async move {
        let _turn = turn;
        taken(&sites, &who, &site, brought).await
    })
    .await
}

async fn taken(
    sites: &Sites,
    who: &Who,
    site: &str,
    brought: Brought,
) -> Result<ForwardEntriesResponse, Cause> {
    let Brought { batch, unreadable, untimely, adopts } = brought;
    let odd = Odd { unreadable, untimely };
    let held = sites.open(site).await?;
    let _alone = held.keeping.lock().await;
    let head = caught_up(sites, &held).await?;
    let before = batch.first_seq.saturating_sub(1);
    if before > head.seq {
        return Err(Forwarding::EntriesMissing { first_seq: batch.first_seq, here: head.seq }.into());
    }
    let (root_before, brought) = (batch.root_before, batch.entries.len() as u64);
    let claim = |size, root| Point { epoch: batch.epoch, size, root };
    let (at_begin, at_end) =
        (claim(before, root_before), claim(before.saturating_add(brought), batch.root_after));
    if let Some((_, another)) = of_another(&held, intake::founding_of(&batch)).await? {
        return Err(another.into());
    }
    // Another epoch is another life of the journal: it is taken on only where it goes on from the very end of this one.
    if batch.epoch != head.epoch && before < head.seq {
        let here = point_of(&head);
        let same_past = held.store.root_at(before).await? == Some(root_before);
        if !same_past {
            return Err(forked(sites, who, site, &here, at_begin, "another past").await);
        }
        let what = "it has another epoch and was not compared with the copy first";
        return Err(Forwarding::Forked { site: site.to_owned(), what: what.to_owned() }.into());
    }
    let replicated = match held.store.replicate(batch).await {
        Ok(replicated) => replicated,
        Err(StoreError::AnotherPast { what, .. }) => {
            let same_past = held.store.root_at(before).await? == Some(root_before);
            let claim = if same_past { at_end } else { at_begin };
            return Err(forked(sites, who, site, &point_of(&head), claim, what).await);
        }
        Err(StoreError::Gap { first_seq, here }) => {
            return Err(Forwarding::EntriesMissing { first_seq, here }.into());
        }
        Err(error) => return Err(error.into()),
    };
    kept(sites, &held, &replicated, Seen { before: head.seq, odd, adopts }).await?;
    let there = Some(intake::point_told(&point_of(&replicated.head)));
    Ok(ForwardEntriesResponse { there, kept: i32::try_from(replicated.new).unwrap_or(i32::MAX) })
}

/// How far a copy reaches. What its store has but nobody noted – a disk refused in between – is looked at first.
///
/// # Errors
/// When the copy cannot be read, or the disk refuses.
pub(super) async fn caught_up(sites: &Sites, held: &Held) -> Result<Head, Cause> {
    let head = held.store.head().await?;
    let noted = sites.kept_of(&head.site);
    if noted < head.seq {
        Odd::after(&*held.store, noted).await?.add(&held.folder)?;
        held.workshop.look_at_copied(true).await?;
        sites.kept(&head.site, head.seq);
    }
    Ok(head)
}

/// Gives entries of the caller's own site back.
///
/// # Errors
/// When the copy cannot be opened or read.
pub(crate) async fn give_back(
    sites: &Sites,
    who: &Who,
    request: ReturnEntriesRequest,
) -> Result<ReturnEntriesResponse, Cause> {
    let site = site_of(sites, who, Some(&request.site_id)).await?;
    let _turn = sites.turn(&site).await?;
    let held = sites.open(&site).await?;
    // The end first: what comes after it meanwhile is given with the next call.
    let head = held.store.head().await?;
    let first_seq = u64::try_from(request.first_seq).unwrap_or_default().max(1);
    let stored = held.store.read(first_seq, FORWARD_ENTRIES_MAX).await?;
    let (mut bytes, mut jobs) = (0, HashMap::new());
    let mut entries = Vec::with_capacity(stored.len());
    for stored in stored.into_iter().take_while(|stored| stored.seq <= head.seq) {
        bytes += stored.bytes.len();
        if bytes > FORWARD_BYTES_MAX {
            break;
        }
        let opened = opened(&held, &stored, &mut jobs).await?;
        entries.push(intake::forwarded(stored, opened.map(|row| row.number)));
    }
    let (there, site_name) = (Some(intake::point_told(&point_of(&head))), held.workshop.site_name.clone());
    Ok(ReturnEntriesResponse { there, entries, site_name })
}

/// The job that an entry opened.
async fn opened(
    held: &Held,
    stored: &StoredEntry,
    jobs: &mut HashMap<JobId, Option<JobRow>>,
) -> Result<Option<JobRow>, Cause> {
    let Some(job) = stored.job else { return Ok(None) };
    let row = match jobs.get(&job) {
        Some(row) => row.clone(),
        None => {
            let row = held.store.job(job).await?;
            jobs.insert(job, row.clone());
            row
        }
    };
    Ok(row.filter(|row| row.first_seq == stored.seq))
}

/// What was seen of a batch before it was kept.
struct Seen {
    /// Last entry before it.
    before: u64,
    odd: Odd,
    adopts: bool,
}

/// Sees that what is read of the copy holds the batch.
async fn kept(sites: &Sites, held: &Held, replicated: &Replicated, seen: Seen) -> Result<(), Cause> {
    let mut odd = seen.odd;
    odd.unreadable.retain(|seq| *seq > seen.before);
    odd.untimely.retain(|seq| *seq > seen.before);
    let site = &replicated.head.site;
    if !odd.unreadable.is_empty() {
        let new = &odd.unreadable;
        tracing::warn!(site, ?new, "entries that this version cannot read were kept and left out");
    }
    if !odd.untimely.is_empty() {
        let new = &odd.untimely;
        tracing::warn!(site, ?new, "entries were kept that were taken at a time that cannot be");
    }
    odd.add(&held.folder)?;
    if replicated.new > 0 {
        held.workshop.look_at_copied(seen.adopts).await?;
        sites.kept(&replicated.head.site, replicated.head.seq);
    }
    Ok(())
}

/// Writes a fork down and names it.
async fn forked(sites: &Sites, who: &Who, site: &str, here: &Point, claim: Point, what: &str) -> Cause {
    match note(sites, who, site, here, claim).await {
        Ok(()) => Forwarding::Forked { site: site.to_owned(), what: what.to_owned() }.into(),
        Err(cause) => cause,
    }
}

/// Writes a fork down; the same one again is only seen later.
async fn note(sites: &Sites, who: &Who, site: &str, here: &Point, claim: Point) -> Result<(), Cause> {
    tracing::warn!(
        site,
        here = here.size,
        claimed = claim.size,
        "a journal went on differently from its copy"
    );
    let now_us = sites.clock().now_us();
    let fork = Fork {
        site: site.to_owned(),
        first_us: now_us,
        last_us: now_us,
        station: who.station_id.clone(),
        here: (here.size, here.root),
        claimed: (claim.epoch, claim.size, claim.root),
        settled_us: None,
    };
    Ok(sites.own().note_fork(fork).await?)
}

/// Notes that a journal was shown to be the known one, if a fork of it stands that was not seen for a while: where one disk
/// has two copies, both call again and again.
async fn settle(sites: &Sites, site: &str) -> Result<(), Cause> {
    let now_us = sites.clock().now_us();
    let before_us = now_us.saturating_sub(FORK_STANDS_US);
    let over = |fork: &Fork| fork.site == site && fork.settled_us.is_none() && fork.last_us < before_us;
    if sites.forks().await?.iter().any(over) {
        sites.own().settle_forks(site, before_us, now_us).await?;
    }
    Ok(())
}

fn point_of(head: &Head) -> Point {
    Point { epoch: head.epoch, size: head.seq, root: head.root }
}

fn told(standing: Standing) -> JournalStanding {
    match standing {
        Standing::Same => JournalStanding::Same,
        Standing::Ahead => JournalStanding::Ahead,
        Standing::ProofWanted => JournalStanding::ProofWanted,
        Standing::Behind => JournalStanding::Behind,
        Standing::Fork => JournalStanding::Fork,
        Standing::Another => JournalStanding::Another,
    }
}

/// What a standing means, for the people of the site; of another workshop [`Forwarding::OfAnother`] says it.
fn sentence(standing: Standing, here: &Point, claim: &Point) -> String {
    let (kept, has) = (here.size, claim.size);
    match standing {
        Standing::Same => format!("the owner's server has all {kept} entries"),
        Standing::Ahead => format!("the owner's server has {kept} of {has} entries and takes the others"),
        Standing::ProofWanted => {
            format!(
                "the owner's server has {kept} entries; show that the {has} of the journal begin with them"
            )
        }
        Standing::Behind => format!(
            "the journal has {has} entries, but the owner's server has {kept} of it: {} were lost here. Put the newer copy \
             back, or get them back with: standpipe-server recover --dir DIR --from-owner",
            kept.saturating_sub(has)
        ),
        Standing::Fork | Standing::Another => format!(
            "the journal, with {has} entries, went on differently from the {kept} that the owner's server has; nothing is \
             taken. Bring back the newer copy, or get the owner's entries back with: standpipe-server recover --dir DIR --from-owner"
        ),
    }
}
