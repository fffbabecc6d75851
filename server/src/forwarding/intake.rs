//! From what a workshop's server brings to what a copy takes.
//!
//! Pure. Everything that arrives is held against what an honest journal can hold: sizes, lengths of hashes, numbers of
//! jobs, site. A time that cannot be – the clock of the workshop's server was wrong – is kept and named, since the leaf
//! covers it. An entry that this version cannot read – of a newer program, say – is a leaf of the tree all the same: it
//! is kept at its place, left out of what is computed, and named. Whether the past is the known one is the store's to
//! say, which makes every leaf and root anew. Called by [`super::keeping`].

use super::standing::Point;
use crate::clock::unhex;
use crate::convert::{signed, timestamp};
use crate::status::Cause;
use prost::Message as _;
use sha2::{Digest as _, Sha256};
use standpipe_proto::Bytes;
use standpipe_proto::check::{Violation, sealed_entry};
use standpipe_proto::limits::{FORWARD_BYTES_MAX, FORWARD_ENTRIES_MAX, TIME_SECONDS};
use standpipe_proto::v1::{
    Entry, ForwardEntriesRequest, ForwardedEntry, Header, JournalPoint, fact::Kind, header::Subject,
};
use standpipe_store::tree::{Hash, entry_leaf_hash};
use standpipe_store::{EntryId, Epoch, JobId, JobNumber, NewEntry, ReplicaBatch, ReplicaEntry, StoredEntry};

/// Station of an entry whose own cannot be read.
const NO_STATION: &str = "unreadable";

/// Farthest that a local time is from UTC: 14 hours (zone +14:00 of the IANA time zone database).
const ZONES_US: i64 = 14 * 3_600 * 1_000_000;

/// A batch that a copy may take.
#[derive(Debug)]
pub(crate) struct Brought {
    /// What the store gets.
    pub(crate) batch: ReplicaBatch,
    /// Places of the entries that this version cannot read.
    pub(crate) unreadable: Vec<u64>,
    /// Places of the entries whose time cannot be.
    pub(crate) untimely: Vec<u64>,
    /// Whether a catalogue revision is adopted in it.
    pub(crate) adopts: bool,
}

/// Looks a batch of a site through. The request was held against the table of bounds before.
///
/// # Errors
/// [`Cause::OutsideBounds`] with field, value and bound of the first things that cannot be.
pub(crate) fn read(request: ForwardEntriesRequest) -> Result<Brought, Cause> {
    let ForwardEntriesRequest { site_id, epoch, first_seq, root_before, entries, root_after } = request;
    let first_seq = u64::try_from(first_seq).map_err(|_| outside("first_seq", "is below 1"))?;
    let mut batch = ReplicaBatch {
        epoch: exact("epoch", &epoch)?,
        first_seq,
        root_before: exact("root_before", &root_before)?,
        entries: Vec::with_capacity(entries.len().min(FORWARD_ENTRIES_MAX)),
        root_after: exact("root_after", &root_after)?,
    };
    let bytes: usize = entries.iter().map(|entry| entry.entry.len()).sum();
    if bytes > FORWARD_BYTES_MAX {
        let what = format!(
            "have {bytes} bytes together; {FORWARD_BYTES_MAX} are the most at once: send fewer entries in a call"
        );
        return Err(outside("entries", &what));
    }
    let (mut unreadable, mut untimely, mut adopts) = (Vec::new(), Vec::new(), false);
    let most = i64::MAX as u64;
    if first_seq.saturating_add(entries.len() as u64) > most {
        return Err(outside(
            "first_seq",
            "is beyond what a journal can hold; send the entries from the cursor on",
        ));
    }
    for (index, (entry, seq)) in entries.into_iter().zip(first_seq..).enumerate() {
        let at = At { index, seq, site: &site_id };
        let one = at.read(entry)?;
        if !one.readable {
            unreadable.push(seq);
        }
        if !is_timely(one.entry.entry.received_us) {
            untimely.push(seq);
        }
        adopts |= one.adopts;
        batch.entries.push(one.entry);
    }
    Ok(Brought { batch, unreadable, untimely, adopts })
}

/// How far a journal reaches, as its server says.
///
/// # Errors
/// [`Cause::OutsideBounds`] where epoch or root have another length.
pub(crate) fn point(field: &str, point: &JournalPoint) -> Result<Point, Cause> {
    Ok(Point {
        epoch: exact(&format!("{field}.epoch"), &point.epoch)?,
        size: u64::try_from(point.size).map_err(|_| outside(&format!("{field}.size"), "is below 0"))?,
        root: exact(&format!("{field}.root"), &point.root)?,
    })
}

/// Hashes of a proof.
///
/// # Errors
/// [`Cause::OutsideBounds`] where one has another length.
pub(crate) fn hashes(field: &str, proof: &[Vec<u8>]) -> Result<Vec<Hash>, Cause> {
    let each = proof.iter().enumerate();
    each.map(|(index, hash)| exact(&format!("{field}[{index}]"), hash)).collect()
}

/// The hash of one entry, where it was told.
///
/// # Errors
/// [`Cause::OutsideBounds`] where it has another length.
pub(crate) fn hash_if_told(field: &str, bytes: &[u8]) -> Result<Option<Hash>, Cause> {
    if bytes.is_empty() { Ok(None) } else { exact(field, bytes).map(Some) }
}

/// The root over the first entry of a journal alone, where a batch begins with it.
pub(crate) fn founding_of(batch: &ReplicaBatch) -> Option<Hash> {
    let first = &batch.entries.first().filter(|_| batch.first_seq == 1)?.entry;
    Some(entry_leaf_hash(1, first.received_us, &first.bytes))
}

/// How far a journal reaches, for the wire.
pub(crate) fn point_told(point: &Point) -> JournalPoint {
    JournalPoint { epoch: point.epoch.to_vec(), size: signed(point.size), root: point.root.to_vec() }
}

/// An entry of a journal as it is brought or given back, with the number of the job that it opened.
pub(crate) fn forwarded(stored: StoredEntry, number: Option<JobNumber>) -> ForwardedEntry {
    ForwardedEntry {
        received_time: Some(timestamp(stored.received_us)),
        entry: stored.bytes,
        job_year: number.map_or(0, |number| i32::from(number.year)),
        job_ordinal: number.map_or(0, |number| i32::try_from(number.ordinal).unwrap_or(i32::MAX)),
    }
}

/// Whether a server can have taken an entry at this time: the years in which every other time lies too.
pub(super) fn is_timely(received_us: i64) -> bool {
    let (first, last) = TIME_SECONDS;
    (first..=last).contains(&received_us.div_euclid(1_000_000))
}

/// Where an entry of a batch stands.
#[derive(Debug, Clone, Copy)]
struct At<'a> {
    index: usize,
    seq: u64,
    site: &'a str,
}

/// One entry that was looked through.
struct One {
    entry: ReplicaEntry,
    readable: bool,
    adopts: bool,
}

/// What the row of an entry holds beside its bytes.
struct Placed {
    entry_id: EntryId,
    job: Option<JobId>,
    station: String,
    station_epoch: Epoch,
    station_number: u64,
}

impl At<'_> {
    fn read(self, forwarded: ForwardedEntry) -> Result<One, Cause> {
        let received_us = self.received_us(forwarded.received_time.as_ref())?;
        let number = self.number(forwarded.job_year, forwarded.job_ordinal, received_us)?;
        let bytes: Bytes = forwarded.entry;
        let whole = sealed_entry(&bytes);
        let readable = whole.is_ok();
        let entry = whole.ok().or_else(|| Entry::decode(&*bytes).ok()).unwrap_or_default();
        let placed = entry.header.as_ref().map(|header| self.placed(header)).transpose()?.flatten();
        let readable = readable && placed.is_some();
        let placed = placed.unwrap_or_else(|| self.unplaced(&bytes));
        let kind = entry.fact.and_then(|fact| fact.kind);
        let arrival = matches!(kind, Some(Kind::Arrival(_)));
        if number.is_some() && placed.job.is_none() {
            return Err(self.outside("job_ordinal", "numbers a job, but the entry belongs to none"));
        }
        if number.is_some() && readable && !arrival {
            return Err(
                self.outside("job_ordinal", "numbers a job, but the entry is no arrival and opens none")
            );
        }
        let new = NewEntry {
            entry_id: placed.entry_id,
            job: placed.job,
            opens_job: placed.job.is_some() && (arrival || number.is_some()),
            station: placed.station,
            station_epoch: placed.station_epoch,
            station_number: placed.station_number,
            received_us,
            year: number.map_or(0, |number| number.year),
            bytes,
        };
        let adopts = matches!(kind, Some(Kind::CatalogueAdopted(_)));
        Ok(One { entry: ReplicaEntry { entry: new, number }, readable, adopts })
    }

    /// The server's time that the leaf covers, which it counts in whole microseconds.
    fn received_us(self, time: Option<&prost_types::Timestamp>) -> Result<i64, Cause> {
        let time = time.ok_or_else(|| self.outside("received_time", "is missing"))?;
        let nanos = i64::from(time.nanos);
        if nanos % 1_000 != 0 {
            let what = format!("has {nanos} ns within its second; a journal holds whole microseconds");
            return Err(self.outside("received_time", &what));
        }
        let us = time.seconds.checked_mul(1_000_000).and_then(|us| us.checked_add(nanos / 1_000));
        us.ok_or_else(|| self.outside("received_time", "is beyond what 64 bits of microseconds hold"))
    }

    /// The printed number of the job that the entry opened. No leaf covers it, so its year is held against the time, which
    /// one does; its place within the year is the store's to make anew.
    fn number(self, year: i32, ordinal: i32, received_us: i64) -> Result<Option<JobNumber>, Cause> {
        if (year, ordinal) == (0, 0) {
            return Ok(None);
        }
        let known = i16::try_from(year).ok().filter(|year| *year != 0);
        let ordinal = u32::try_from(ordinal).ok().filter(|ordinal| *ordinal > 0);
        match (known, ordinal) {
            (Some(year), Some(ordinal)) if years_around(received_us).contains(&Some(year)) => {
                Ok(Some(JobNumber { year, ordinal }))
            }
            (Some(year), Some(_)) => {
                let what = format!(
                    "is {year}, but the entry was received in another year; a job is numbered within the year in which it is \
                     opened"
                );
                Err(self.outside("job_year", &what))
            }
            _ => {
                let what = format!(
                    "is {year} with a place of {}; a printed number has a year and a place from 1, and an entry that opened no job has neither",
                    ordinal.unwrap_or_default()
                );
                Err(self.outside("job_year", &what))
            }
        }
    }

    /// What stands around the bytes, as their header says it; nothing where that cannot be read.
    fn placed(self, header: &Header) -> Result<Option<Placed>, Cause> {
        let job = match &header.subject {
            Some(Subject::SiteId(site)) if site != self.site => {
                let what = format!(
                    "names the site '{}', but this is the journal of '{}'; each site brings its own entries",
                    cut(site),
                    self.site
                );
                return Err(self.outside("entry.header.site_id", &what));
            }
            Some(Subject::SiteId(_)) => Some(None),
            Some(Subject::JobId(job)) => uuid_of(job).map(|job| Some(JobId(job))),
            None => None,
        };
        let number = u64::try_from(header.station_number).ok();
        let parts = (uuid_of(&header.entry_id), job, unhex(&header.station_epoch), number);
        let (Some(id), Some(job), Some(station_epoch), Some(station_number)) = parts else { return Ok(None) };
        if !is_name(&header.station_id) {
            // No column is made of it; the job it belongs to is named well.
            return Ok(Some(Placed { entry_id: EntryId(id), job, ..self.unplaced(&[]) }));
        }
        let station = header.station_id.clone();
        Ok(Some(Placed { entry_id: EntryId(id), job, station, station_epoch, station_number }))
    }

    /// What stands around bytes that cannot be read: an identity of its own, which the same bytes at the same place
    /// always get.
    fn unplaced(self, bytes: &[u8]) -> Placed {
        let digest = Sha256::new()
            .chain_update(NO_STATION)
            .chain_update(self.seq.to_be_bytes())
            .chain_update(bytes)
            .finalize();
        let mut id = [0; 16];
        id.iter_mut().zip(digest).for_each(|(to, from)| *to = from);
        Placed {
            entry_id: EntryId(id),
            job: None,
            station: NO_STATION.to_owned(),
            station_epoch: [0; 16],
            station_number: self.seq,
        }
    }

    fn outside(self, field: &str, what: &str) -> Cause {
        outside(&format!("entries[{}].{field}", self.index), what)
    }
}

/// The years that it may be at a time somewhere on earth; a server counts by 1970 where its clock is beyond all calendars.
fn years_around(us: i64) -> [Option<i16>; 2] {
    let us = jiff::Timestamp::from_microsecond(us).map_or(0, |_| us);
    let year = |us: i64| {
        let time = jiff::Timestamp::from_microsecond(us).ok()?;
        Some(time.to_zoned_datetime(jiff::tz::TimeZone::UTC).year())
    };
    [us.saturating_sub(ZONES_US), us.saturating_add(ZONES_US)].map(year)
}

/// Bytes of exactly this length.
fn exact<const N: usize>(field: &str, bytes: &[u8]) -> Result<[u8; N], Cause> {
    bytes.try_into().map_err(|_| outside(field, &format!("has {} bytes; {N} are needed", bytes.len())))
}

/// A UUID in the one text form that it has.
fn uuid_of(text: &str) -> Option<[u8; 16]> {
    let id = uuid::Uuid::try_parse(text).ok()?;
    (id.hyphenated().to_string() == text).then(|| id.into_bytes())
}

/// Whether a station can be called so: [`standpipe_proto::limits::Form::Name`].
fn is_name(text: &str) -> bool {
    let fits = |letter: char| matches!(letter, 'a'..='z' | '0'..='9' | '.' | '_' | '-');
    (1..=40).contains(&text.len()) && text.chars().all(fits)
}

/// The beginning of what somebody wrote, for a sentence.
fn cut(text: &str) -> &str {
    text.get(..text.floor_char_boundary(40)).unwrap_or_default()
}

fn outside(field: &str, what: &str) -> Cause {
    Cause::OutsideBounds(vec![Violation { field: field.to_owned(), what: what.to_owned() }])
}

#[cfg(test)]
mod tests;
