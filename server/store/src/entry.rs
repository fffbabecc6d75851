//! What goes into the journal and comes out of it. No I/O; used by every store and by their callers.

use crate::tree::Hash;
use bytes::Bytes;
use std::fmt;

/// 128 random bits. A site gets new ones at every restore or copy, a station whenever its unsent list is created.
pub type Epoch = [u8; 16];

/// Identity of an entry, made by the station before it sends; remembered for ever.
#[derive(Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct EntryId(pub [u8; 16]);

/// Identity of a job, made by the station that opens it.
#[derive(Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct JobId(pub [u8; 16]);

/// Printed number of a job: unique within the site, given when its first entry is committed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct JobNumber {
    /// Local calendar year in which the job was opened.
    pub year: i16,
    /// Place within the year, from 1 without gaps.
    pub ordinal: u32,
}

/// An entry as handed in for appending.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewEntry {
    /// Identity given by the station.
    pub entry_id: EntryId,
    /// The job the entry belongs to; `None` for a site entry.
    pub job: Option<JobId>,
    /// Whether the entry opens its job if the job is not known yet.
    pub opens_job: bool,
    /// Station id.
    pub station: String,
    /// Epoch of the station's unsent list.
    pub station_epoch: Epoch,
    /// Number of the entry within that list, at most `i64::MAX`.
    pub station_number: u64,
    /// Server's clock at receipt, unix microseconds.
    pub received_us: i64,
    /// Local calendar year at receipt; used only if the entry opens a job.
    pub year: i16,
    /// The sealed entry, stored exactly as it is.
    pub bytes: Bytes,
}

impl NewEntry {
    /// The entry as it was handed in where it stands; `job` is the one that it belongs to.
    #[must_use]
    pub fn again(stored: StoredEntry, job: Option<&JobRow>) -> Self {
        Self {
            entry_id: stored.entry_id,
            job: stored.job,
            opens_job: job.is_some_and(|job| job.first_seq == stored.seq),
            station: stored.station,
            station_epoch: stored.station_epoch,
            station_number: stored.station_number,
            received_us: stored.received_us,
            year: job.map_or(0, |job| job.number.year),
            bytes: stored.bytes,
        }
    }
}

/// Answer to an append, given after the commit that holds the entry is durable.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Appended {
    /// Place in the journal, from 1.
    pub seq: u64,
    /// Server's time stored with the entry, unix microseconds; of the first receipt if repeated.
    pub received_us: i64,
    /// Number of the job the entry belongs to; `None` for a site entry.
    pub job_number: Option<JobNumber>,
    /// The same entry with the same bytes had been stored before.
    pub repeated: bool,
    /// An earlier entry carries the same station, epoch and number under another id.
    pub station_number_reused: bool,
}

/// An entry as read back. Its leaf hash has been compared with its bytes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StoredEntry {
    /// Place in the journal, from 1.
    pub seq: u64,
    /// Identity given by the station.
    pub entry_id: EntryId,
    /// The job; `None` for a site entry.
    pub job: Option<JobId>,
    /// Station id.
    pub station: String,
    /// Epoch of the station's unsent list.
    pub station_epoch: Epoch,
    /// Number within that list.
    pub station_number: u64,
    /// Server's clock at receipt, unix microseconds.
    pub received_us: i64,
    /// The sealed entry.
    pub bytes: Bytes,
    /// Leaf of the site's tree, see [`crate::tree`].
    pub leaf_hash: Hash,
}

/// A job as the journal knows it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct JobRow {
    /// Identity given by the station.
    pub job_id: JobId,
    /// Printed number.
    pub number: JobNumber,
    /// Sequence of the entry that opened the job.
    pub first_seq: u64,
    /// Sequence of its latest entry.
    pub last_seq: u64,
    /// How many entries it has.
    pub entries: u64,
}

/// How far the journal reaches. Only durable entries count.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Head {
    /// Number of entries, which is also the sequence of the latest.
    pub seq: u64,
    /// Root of the RFC 6962 tree over them.
    pub root: Hash,
    /// The journal's epoch.
    pub epoch: Epoch,
    /// Name of the site.
    pub site: String,
}

impl fmt::Display for JobNumber {
    /// Two digits of the year and at least four of the ordinal, such as `26-0042`; the site's prefix is not known here.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:02}-{:04}", self.year.rem_euclid(100), self.ordinal)
    }
}

/// Writes 16 bytes in the usual grouping of a UUID.
fn write_grouped(bytes: &[u8; 16], f: &mut fmt::Formatter<'_>) -> fmt::Result {
    for (at, byte) in bytes.iter().enumerate() {
        if matches!(at, 4 | 6 | 8 | 10) {
            f.write_str("-")?;
        }
        write!(f, "{byte:02x}")?;
    }
    Ok(())
}

impl fmt::Display for EntryId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write_grouped(&self.0, f)
    }
}

impl fmt::Debug for EntryId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write_grouped(&self.0, f)
    }
}

impl fmt::Display for JobId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write_grouped(&self.0, f)
    }
}

impl fmt::Debug for JobId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write_grouped(&self.0, f)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_shows_two_digits_of_the_year_and_four_of_the_ordinal() {
        assert_eq!(JobNumber { year: 2026, ordinal: 42 }.to_string(), "26-0042");
        assert_eq!(JobNumber { year: 2105, ordinal: 12_345 }.to_string(), "05-12345");
    }

    #[test]
    fn an_id_shows_as_a_uuid() {
        // The example of RFC 9562 appendix A.6 (version 7).
        let id = EntryId([
            0x01, 0x7f, 0x22, 0xe2, 0x79, 0xb0, 0x7c, 0xc3, 0x98, 0xc4, 0xdc, 0x0c, 0x0c, 0x07, 0x39, 0x8f,
        ]);
        assert_eq!(id.to_string(), "017f22e2-79b0-7cc3-98c4-dc0c0c07398f");
    }
}
