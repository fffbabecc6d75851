//! Records and bay sheets: what stands beside the journal is put together, printed, and an edition is issued.
//!
//! An issued edition is its stored bytes and an entry that names them; it is never printed again. Called by the handlers
//! of the network and by the office's pages. Never here: page geometry, or a computed number.

mod sheet;

use crate::access::Role;
use crate::blob::{self, Found};
use crate::clock::hex;
use crate::convert::{self, signed};
use crate::lines;
use crate::own_station::{About, OWN_STATION};
use crate::status::Cause;
use crate::workshop::{Computed, Workshop, off_the_network};
use jiff::Timestamp;
use prost::Message as _;
use standpipe_engine::text::sentence;
use standpipe_engine::view::JobView;
use standpipe_proto::limits::RECORD_BYTES_MAX;
use standpipe_proto::v1::{Entry, RecordIssued, fact::Kind};
use standpipe_report::{EntryTimes, Options, PHOTOS_SHOWN, Photo, Remark, Rendered, ReportError};
use standpipe_store::{EntryId, JobRow, StoreError, StoredEntry, tree};
use std::sync::Arc;

/// Name under which the reference sheet is saved.
pub(crate) const PHOTO_SHEET_NAME: &str = "photo-sheet.pdf";

/// A printed file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Printed {
    /// The PDF file.
    pub(crate) pdf: Vec<u8>,
    /// Name to save it under.
    pub(crate) file_name: String,
    /// First 16 hexadecimal digits of the job's digest.
    pub(crate) check_value: String,
    /// What could not be printed as it is, in sentences.
    pub(crate) warnings: Vec<String>,
}

/// An issued edition.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Issued {
    /// Its number, from 1.
    pub(crate) edition: i32,
    /// What was printed.
    pub(crate) printed: Printed,
}

/// What somebody said about a job, ready to be shown.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Spoken {
    /// SHA-256 of the salted words, by which they are erased.
    pub(crate) digest: String,
    /// What it is about.
    pub(crate) subject: String,
    /// The words in quotation marks; without any, that they were erased or have not arrived.
    pub(crate) text: String,
}

/// What is printed beside the view.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Wanted {
    /// The customer's name.
    pub(crate) customer: bool,
    /// All entries in words.
    pub(crate) annex: bool,
}

/// Who gets what is printed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Reader {
    /// A bay or an owner, who never learn who the customer is.
    Bay,
    /// The office, by its station or its pages.
    Office,
}

impl Reader {
    /// The reader behind a role.
    pub(crate) fn of(role: Role) -> Self {
        if role.sees_customers() { Self::Office } else { Self::Bay }
    }

    fn may_see(self, workshop: &Workshop, row: &JobRow, names_customer: bool) -> Result<(), Cause> {
        if self == Self::Bay && names_customer {
            return Err(Cause::RecordNamesCustomer { job: workshop.printed(row) });
        }
        Ok(())
    }
}

/// What is to be done with the record of a job.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Standing {
    /// The job is not closed: there is a draft only.
    NotClosed,
    /// An edition can be issued.
    ToIssue,
    /// The last edition says all there is to say.
    Issued {
        /// Its number.
        last: i32,
    },
}

impl Standing {
    /// By the view of a job, its last edition, and whether a customer is known now. A customer is no entry, but one who
    /// was noted or erased since makes another edition all the same.
    pub(crate) fn of(view: &JobView, last: Option<&RecordIssued>, names_customer: bool) -> Self {
        let open = |key: &str| view.open_points.iter().any(|point| point.text.key() == key);
        match last {
            _ if !view.head.closed => Self::NotClosed,
            Some(last)
                if last.names_customer == names_customer
                    && !open(sentence::open_issue().key())
                    && !open(sentence::open_issue_again("").key()) =>
            {
                Self::Issued { last: last.edition }
            }
            _ => Self::ToIssue,
        }
    }
}

/// The last edition among the entries of a job.
pub(crate) fn last_issued(entries: &[StoredEntry]) -> Option<RecordIssued> {
    entries.iter().filter_map(issued).max_by_key(|issued| issued.edition)
}

/// The record as it stands, not issued.
pub(crate) async fn draft(workshop: &Workshop, row: &JobRow, wanted: Wanted) -> Result<Printed, Cause> {
    let computed = workshop.computed(row).await?;
    print(workshop, &computed, None, wanted).await
}

/// An issued edition, byte for byte. A bay does not get one that names the customer.
pub(crate) async fn edition(
    workshop: &Workshop,
    row: &JobRow,
    edition: i32,
    reader: Reader,
) -> Result<Printed, Cause> {
    let entries = workshop.journal.read_job(row.job_id).await?;
    let editions: Vec<_> = entries.iter().filter_map(issued).collect();
    let wanted = editions.iter().find(|issued| issued.edition == edition);
    let wanted = wanted.ok_or_else(|| Cause::EditionUnknown {
        job: workshop.printed(row),
        edition,
        last: editions.iter().map(|issued| issued.edition).max().unwrap_or(0),
    })?;
    reader.may_see(workshop, row, wanted.names_customer)?;
    reprint(workshop, row, &entries, wanted).await
}

/// Prints the next edition of a closed job, keeps it and states it. The same request again gives the first answer again.
///
/// It is refused while the job is open, and while nothing has changed since the last edition.
/// Nothing is issued to a bay while a customer is known: the edition has to name whom it is for. Who asked may go away
/// meanwhile; it is issued all the same, so that nothing is left half done.
pub(crate) async fn issue(
    workshop: &Arc<Workshop>,
    row: &JobRow,
    request_id: EntryId,
    person_code: &str,
    reader: Reader,
) -> Result<Issued, Cause> {
    let (workshop, row, code) = (Arc::clone(workshop), row.clone(), person_code.to_owned());
    let issuing = async move { issue_next(&workshop, &row, request_id, &code, reader).await };
    tokio::spawn(issuing).await.map_err(|error| Cause::internal("issuing a record", &error))?
}

async fn issue_next(
    workshop: &Workshop,
    row: &JobRow,
    request_id: EntryId,
    person_code: &str,
    reader: Reader,
) -> Result<Issued, Cause> {
    // What is issued stays so, and it looks back at earlier jobs: all of them must be known.
    lines::refresh_all(workshop).await?;
    // Editions are numbered one after the other; the desk, which states them, is held meanwhile.
    let mut desk = workshop.desk.lock().await;
    if let Some(answered) = answered(workshop, row, request_id, reader).await? {
        return Ok(answered);
    }
    let names_customer = workshop.beside.customer(row.job_id).await?.is_some();
    reader.may_see(workshop, row, names_customer)?;
    let head = workshop.journal.head().await?;
    let mut entries = workshop.journal.read_job(row.job_id).await?;
    // What came after the head was read is not in the tree that the edition names.
    entries.retain(|entry| entry.seq <= head.seq);
    let last = last_issued(&entries);
    let edition = last.as_ref().map_or(0, |last| last.edition) + 1;
    let computed = workshop.computed_from(row, entries).await?;
    let job = || workshop.printed(row);
    match Standing::of(&computed.view, last.as_ref(), names_customer) {
        Standing::NotClosed => return Err(Cause::JobNotClosed { job: job() }),
        Standing::Issued { last } => return Err(Cause::RecordUnchanged { job: job(), edition: last }),
        Standing::ToIssue => {}
    }
    let number = u32::try_from(edition).unwrap_or(u32::MAX);
    let wanted = Wanted { customer: names_customer, annex: false };
    let printed = print(workshop, &computed, Some(number), wanted).await?;
    let blob_digest = blob::digest_of(&printed.pdf);
    let (blobs, pdf, digest) = (Arc::clone(&workshop.blobs), printed.pdf.clone(), blob_digest.clone());
    off_the_network(move || blobs.put(&digest, &pdf)).await?.map_err(Cause::from)?;
    let stated = RecordIssued {
        edition,
        blob_digest,
        tree_size: signed(head.seq),
        tree_root: hex(&head.root),
        engine_version: computed.view.provenance.engine_version.to_owned(),
        catalogue_revision_id: computed.view.provenance.catalogue_revision.clone(),
        language: workshop.language(row).code().to_owned(),
        names_customer,
    };
    let about = About { job: Some(row.job_id), entry_id: request_id, person_code };
    desk.state_issued(about, stated).await?;
    Ok(Issued { edition, printed })
}

/// The work sheet, one page to write on.
pub(crate) async fn bay_sheet(workshop: &Workshop, row: &JobRow) -> Result<Printed, Cause> {
    let computed = workshop.computed(row).await?;
    let input = sheet::input(&computed.judged_by, &computed.view);
    let remarks = remarks(workshop, &computed.view).await?;
    let options = Options { language: workshop.language(row), remarks, ..Options::default() };
    let shown = Arc::clone(&computed);
    let rendered =
        off_the_network(move || standpipe_report::bay_sheet(&shown.view, &input, &options)).await?;
    finished(rendered, &computed.view, "-sheet")
}

/// The reference sheet for photos of fluid; it belongs to no job.
pub(crate) async fn photo_sheet(workshop: &Workshop) -> Result<Vec<u8>, Cause> {
    let (language, now_us) =
        (workshop.catalogue().now().revision.workshop().language, workshop.clock.now_us());
    let printed = off_the_network(move || standpipe_report::photo_sheet(language, now_us)).await?;
    printed.map_err(|error| Cause::internal("printing the reference sheet", &error))
}

/// The first answer to a request, if it was answered already.
async fn answered(
    workshop: &Workshop,
    row: &JobRow,
    request_id: EntryId,
    reader: Reader,
) -> Result<Option<Issued>, Cause> {
    let Some(known) = workshop.journal.entry(request_id).await? else { return Ok(None) };
    let stated = issued(&known).filter(|_| known.job == Some(row.job_id));
    // The identity belongs to something else: a fact, or the record of another job.
    let stated = stated
        .ok_or_else(|| Cause::from(StoreError::EntryIdReused { entry_id: request_id, seq: known.seq }))?;
    reader.may_see(workshop, row, stated.names_customer)?;
    let entries = workshop.journal.read_job(row.job_id).await?;
    let printed = reprint(workshop, row, &entries, &stated).await?;
    Ok(Some(Issued { edition: stated.edition, printed }))
}

async fn reprint(
    workshop: &Workshop,
    row: &JobRow,
    entries: &[StoredEntry],
    stated: &RecordIssued,
) -> Result<Printed, Cause> {
    let Found::Bytes(pdf) = workshop.blob(&stated.blob_digest).await? else {
        return Err(crate::error::ServerError::RecordMissing { digest: stated.blob_digest.clone() }.into());
    };
    let then = entries.iter().filter(|entry| signed(entry.seq) <= stated.tree_size);
    let check_value = hex(&tree::job_digest(then.map(|entry| &entry.leaf_hash))).chars().take(16).collect();
    let file_name = format!("{}-{}.pdf", workshop.printed(row), stated.edition);
    Ok(Printed { pdf, file_name, check_value, warnings: Vec::new() })
}

/// What an entry states of an issued edition; only the server's own station issues any.
pub(crate) fn issued(entry: &StoredEntry) -> Option<RecordIssued> {
    if entry.station != OWN_STATION {
        return None;
    }
    match Entry::decode(&*entry.bytes).ok()?.fact?.kind? {
        Kind::RecordIssued(issued) => Some(issued),
        _ => None,
    }
}

async fn print(
    workshop: &Workshop,
    computed: &Arc<Computed>,
    edition: Option<u32>,
    wanted: Wanted,
) -> Result<Printed, Cause> {
    let view = &computed.view;
    let customer = match wanted.customer {
        true => workshop.beside.customer(computed.row.job_id).await?,
        false => None,
    };
    let options = Options {
        language: workshop.language(&computed.row),
        edition,
        customer: customer.map(|customer| customer.name),
        remarks: remarks(workshop, view).await?,
        photos: photos(workshop, view).await?,
        annex: wanted.annex,
        times: if wanted.annex { times(workshop, &computed.row).await? } else { Vec::new() },
    };
    let shown = Arc::clone(computed);
    let rendered = off_the_network(move || standpipe_report::render(&shown.view, &options)).await?;
    let ending = edition.map(|edition| format!("-{edition}")).unwrap_or_default();
    finished(rendered, view, &ending)
}

fn finished(rendered: Result<Rendered, ReportError>, view: &JobView, ending: &str) -> Result<Printed, Cause> {
    let rendered = rendered.map_err(|error| Cause::internal("printing a record", &error))?;
    if rendered.pdf.len() > RECORD_BYTES_MAX {
        return Err(Cause::RecordTooLarge { bytes: rendered.pdf.len(), greatest: RECORD_BYTES_MAX });
    }
    Ok(Printed {
        pdf: rendered.pdf,
        file_name: format!("{}{ending}.pdf", view.head.number),
        check_value: convert::check_value(view),
        warnings: rendered.warnings,
    })
}

/// The remarks of a view that have arrived; an erased one without its words.
async fn remarks(workshop: &Workshop, view: &JobView) -> Result<Vec<Remark>, Cause> {
    let mut remarks = Vec::new();
    for remark in &view.remarks {
        let words = match workshop.blob(&remark.digest).await? {
            Found::Bytes(bytes) => blob::words_of(&bytes),
            Found::Erased => None,
            Found::Absent => continue,
        };
        remarks.push(Remark { digest: remark.digest.clone(), words });
    }
    Ok(remarks)
}

/// The photos of a view that have arrived and that are printed, as the page shows them.
async fn photos(workshop: &Workshop, view: &JobView) -> Result<Vec<Photo>, Cause> {
    let mut photos: Vec<Photo> = Vec::new();
    for photo in view.photos.iter().take(PHOTOS_SHOWN) {
        let jpeg = match workshop.blob(&photo.digest).await? {
            // The report says of a photo that cannot be shown that its frame is empty.
            Found::Bytes(kept) => Some(blob::print::copied(kept).await?.unwrap_or_default()),
            Found::Erased => None,
            Found::Absent => continue,
        };
        photos.push(Photo { digest: photo.digest.clone(), jpeg });
    }
    Ok(photos)
}

/// The words of a view in the job's language: what people said, or that it was erased or has not arrived.
pub(crate) async fn spoken(workshop: &Workshop, row: &JobRow, view: &JobView) -> Result<Vec<Spoken>, Cause> {
    let (known, language) = (remarks(workshop, view).await?, workshop.language(row));
    let each = view.remarks.iter().map(|remark| {
        let said = match known.iter().find(|known| known.digest == remark.digest) {
            Some(Remark { words: Some(words), .. }) => sentence::record_words(words.trim()),
            Some(Remark { words: None, .. }) => sentence::record_words_erased(),
            None => sentence::record_words_not_arrived(),
        };
        let (subject, text) = (convert::words(language, &remark.subject)?, convert::words(language, &said)?);
        Ok(Spoken { digest: remark.digest.clone(), subject, text })
    });
    each.collect()
}

/// Both times of every entry, in the site's time.
async fn times(workshop: &Workshop, row: &JobRow) -> Result<Vec<EntryTimes>, Cause> {
    let zone = workshop.adopted(row).revision.workshop().time_zone.clone();
    let printed = |us: i64| {
        let time = Timestamp::from_microsecond(us).map(|time| time.to_zoned_datetime(zone.clone()));
        time.map(|time| time.strftime("%-d %B, %H:%M").to_string()).unwrap_or_default()
    };
    let entries = workshop.journal.read_job(row.job_id).await?;
    let times = entries.iter().filter_map(|stored| {
        let header = Entry::decode(&*stored.bytes).ok()?.header?;
        let us = |time: prost_types::Timestamp| time.seconds * 1_000_000 + i64::from(time.nanos) / 1_000;
        Some(EntryTimes {
            seq: stored.seq,
            done: header.done_time.map(|time| printed(us(time))).unwrap_or_default(),
            entered: header.station_time.map(|time| printed(us(time))).unwrap_or_default(),
        })
    });
    Ok(times.collect())
}
