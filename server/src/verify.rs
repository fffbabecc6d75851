//! Reads a journal through and says what is damaged. Works beside a running server and changes nothing.
//!
//! Beside the store's own checks each entry is decoded and its header held against the row around it, the epoch file
//! against the journal, the files of every adopted catalogue revision against its identity, and every file beside the
//! journal against its name; issued records must be there.

use crate::blob::{Blobs, Found};
use crate::catalogue;
use crate::clock::hex;
use crate::error::ServerError;
use crate::folder::{Folder, replace};
use crate::own_station::OWN_STATION;
use prost::Message as _;
use standpipe_proto::check::sealed_entry;
use standpipe_proto::v1::{Entry, Header, fact::Kind, header::Subject};
use standpipe_store::{Journal, PAGE_ROWS_MAX, StoredEntry, VerifyReport};
use std::collections::BTreeSet;
use std::fs;
use std::io::ErrorKind;
use std::path::Path;

/// What a journal read through is like.
#[derive(Debug)]
pub struct Verified {
    /// What the store found.
    pub report: VerifyReport,
    /// What is wrong outside the journal itself, a sentence each.
    pub beside: Vec<String>,
}

impl Verified {
    /// Whether nothing is damaged.
    #[must_use]
    pub fn is_sound(&self) -> bool {
        self.report.is_sound() && self.beside.is_empty()
    }
}

/// Reads the journal of a site's folder through.
///
/// # Errors
/// When there is no journal that could be read; damage is in the answer.
pub async fn verify(dir: &Path) -> Result<Verified, ServerError> {
    let folder = Folder::find(dir)?;
    // Files beside a journal never come with its copy, and an entry of a newer program may not be readable here.
    let copied = folder.copied_name()?.is_some();
    // The epoch file comes first: beside a running server the journal may only be further on than it.
    let reached = folder.reached();
    let store = folder.place()?.open_for_reading().await?;
    let site = store.head().await?.site;
    let mut issued = BTreeSet::new();
    let mut inspect = |stored: &StoredEntry| {
        issued.extend(issued_file(stored).filter(|_| !copied));
        objection(stored, &site).filter(|_| !copied || sealed_entry(&stored.bytes).is_ok())
    };
    let report = store.verify(&mut inspect).await?;
    let mut beside = damaged_files(&folder, issued).await?;
    match reached {
        Ok(reached) => beside.extend(folder.compare(&reached, &*store).await.err()),
        Err(error) => beside.push(error),
    }
    match catalogue::adoptions(&*store).await {
        Ok(adoptions) => {
            let adopted: BTreeSet<_> = adoptions.into_iter().map(|adoption| adoption.revision_id).collect();
            beside.extend(adopted.iter().filter_map(|revision| catalogue::kept(&folder, revision).err()));
        }
        Err(error) => beside.push(error),
    }
    store.close().await?;
    Ok(Verified { report, beside: beside.iter().map(ToString::to_string).collect() })
}

/// Everything that is wrong with the files beside the journal. One that a fact names may not have arrived yet; one that
/// the server made itself must be there.
async fn damaged_files(folder: &Folder, issued: BTreeSet<String>) -> Result<Vec<ServerError>, ServerError> {
    let (blobs, lost) = (Blobs::of(folder), lost_records(folder)?);
    let reading = tokio::task::spawn_blocking(move || {
        let mut damaged = blobs.damaged()?;
        for digest in issued.into_iter().filter(|digest| !lost.contains(digest)) {
            if matches!(blobs.get(&digest), Ok(Found::Absent | Found::Erased)) {
                damaged.push(ServerError::RecordMissing { digest });
            }
        }
        Ok(damaged)
    });
    reading.await.unwrap_or_else(|error| Err(ServerError::Network { cause: error.to_string() }))
}

/// Issued records whose files are known to be lost, a digest a line.
pub(crate) const LOST_RECORDS_FILE: &str = "lost-records";

fn lost_records(folder: &Folder) -> Result<BTreeSet<String>, ServerError> {
    let path = folder.path().join(LOST_RECORDS_FILE);
    match fs::read_to_string(&path) {
        Ok(text) => Ok(text.lines().map(str::to_owned).collect()),
        Err(cause) if cause.kind() == ErrorKind::NotFound => Ok(BTreeSet::new()),
        Err(cause) => Err(ServerError::file("reading", &path)(cause)),
    }
}

/// Every issued record that a journal names.
pub(crate) async fn issued_records(journal: &dyn Journal) -> Result<BTreeSet<String>, ServerError> {
    let (mut issued, mut next) = (BTreeSet::new(), 1);
    loop {
        let page = journal.read(next, PAGE_ROWS_MAX).await?;
        let Some(last) = page.last() else { return Ok(issued) };
        next = last.seq.saturating_add(1);
        issued.extend(page.iter().filter_map(issued_file));
    }
}

/// Notes which of the issued records have no file here, so that the folder counts as sound without them; gives how many.
pub(crate) fn note_lost_records(folder: &Folder, issued: BTreeSet<String>) -> Result<u64, ServerError> {
    let blobs = Blobs::of(folder);
    let absent = issued.into_iter().filter(|digest| matches!(blobs.get(digest), Ok(Found::Absent)));
    let lost: BTreeSet<String> = absent.chain(lost_records(folder)?).collect();
    if !lost.is_empty() {
        let text = lost.iter().fold(String::new(), |text, digest| text + digest + "\n");
        replace(&folder.path().join(LOST_RECORDS_FILE), text.as_bytes())?;
    }
    Ok(lost.len() as u64)
}

/// The file of an issued record.
fn issued_file(stored: &StoredEntry) -> Option<String> {
    match Entry::decode(&*stored.bytes).ok()?.fact?.kind? {
        Kind::RecordIssued(issued) if stored.station == OWN_STATION => Some(issued.blob_digest),
        _ => None,
    }
}

/// What is wrong between an entry's sealed header and the row around it.
fn objection(stored: &StoredEntry, site: &str) -> Option<String> {
    let entry = match Entry::decode(&*stored.bytes) {
        Ok(entry) => entry,
        Err(error) => return Some(format!("its sealed bytes cannot be read ({error})")),
    };
    let Some(header) = entry.header else { return Some("it has no header".to_owned()) };
    let differs = differences(&header, stored, site);
    (!differs.is_empty()).then(|| format!("its sealed header differs from its row in {}", differs.join(", ")))
}

fn differences(header: &Header, stored: &StoredEntry, site: &str) -> Vec<&'static str> {
    let subject_agrees = match (&header.subject, &stored.job) {
        (Some(Subject::JobId(named)), Some(job)) => *named == job.to_string(),
        (Some(Subject::SiteId(named)), None) => named == site,
        _ => false,
    };
    let number_agrees =
        u64::try_from(header.station_number).is_ok_and(|number| number == stored.station_number);
    let checks = [
        (header.entry_id == stored.entry_id.to_string(), "entry_id"),
        (subject_agrees, "job_id or site_id"),
        (header.station_id == stored.station, "station_id"),
        (header.station_epoch == hex(&stored.station_epoch), "station_epoch"),
        (number_agrees, "station_number"),
    ];
    checks.into_iter().filter(|(agrees, _)| !agrees).map(|(_, name)| name).collect()
}
