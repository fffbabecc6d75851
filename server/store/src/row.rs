//! What a row of either database holds, read alike. Columns come in the order that the statements of a store give them;
//! both databases keep every number as 64 bits, every identity as bytes, every word as text. Never here: SQL.

use crate::audit_book::AuditLine;
use crate::beside::{Customer, CustomerKeys, JobSummary, Person, SearchKeys, Station};
use crate::carry::{Cell, Kind, Table};
use crate::entry::{EntryId, JobId, JobNumber, JobRow, StoredEntry};
use crate::error::StoreError;
use crate::finder::{Line, Noted};
use crate::replica::{Fork, Known};
use crate::tallies::{self, HeldMonth, MonthKey, TallyReached, TallyRow, TallySum};
use crate::tokens::{KeptCode, KeptToken};
use crate::tree::entry_leaf_hash;
use crate::verify::AuditRow;
use sqlx::Row;
use sqlx::postgres::PgRow;
use sqlx::sqlite::SqliteRow;

/// A row as far as it is read here. Null is `None`.
pub(crate) trait SqlRow {
    /// A number.
    fn int(&self, at: usize) -> Result<Option<i64>, sqlx::Error>;
    /// A text.
    fn text(&self, at: usize) -> Result<Option<String>, sqlx::Error>;
    /// Bytes.
    fn blob(&self, at: usize) -> Result<Option<&[u8]>, sqlx::Error>;
}

impl SqlRow for SqliteRow {
    fn int(&self, at: usize) -> Result<Option<i64>, sqlx::Error> {
        self.try_get(at)
    }

    fn text(&self, at: usize) -> Result<Option<String>, sqlx::Error> {
        self.try_get(at)
    }

    fn blob(&self, at: usize) -> Result<Option<&[u8]>, sqlx::Error> {
        self.try_get(at)
    }
}

impl SqlRow for PgRow {
    fn int(&self, at: usize) -> Result<Option<i64>, sqlx::Error> {
        self.try_get(at)
    }

    fn text(&self, at: usize) -> Result<Option<String>, sqlx::Error> {
        self.try_get(at)
    }

    fn blob(&self, at: usize) -> Result<Option<&[u8]>, sqlx::Error> {
        self.try_get(at)
    }
}

/// Bytes of a fixed length.
pub(crate) fn fixed<const N: usize>(row: &impl SqlRow, at: usize) -> Result<[u8; N], sqlx::Error> {
    optional_fixed(row, at)?.ok_or_else(|| decode_error(at, "null where bytes belong"))
}

pub(crate) fn optional_fixed<const N: usize>(
    row: &impl SqlRow,
    at: usize,
) -> Result<Option<[u8; N]>, sqlx::Error> {
    let bytes = row.blob(at)?;
    bytes.map(|bytes| bytes.try_into().map_err(|_| decode_error(at, "bytes of a wrong length"))).transpose()
}

/// Bytes that are never null.
fn bytes(row: &impl SqlRow, at: usize) -> Result<&[u8], sqlx::Error> {
    row.blob(at)?.ok_or_else(|| decode_error(at, "null where bytes belong"))
}

/// A number that is never null.
pub(crate) fn int(row: &impl SqlRow, at: usize) -> Result<i64, sqlx::Error> {
    row.int(at)?.ok_or_else(|| decode_error(at, "null where a number belongs"))
}

/// A number that is never negative.
pub(crate) fn unsigned(row: &impl SqlRow, at: usize) -> Result<u64, sqlx::Error> {
    narrow(row, at)
}

/// A number that fits into a smaller type.
pub(crate) fn narrow<T: TryFrom<i64>>(row: &impl SqlRow, at: usize) -> Result<T, sqlx::Error> {
    T::try_from(int(row, at)?).map_err(|_| decode_error(at, "a number out of range"))
}

/// A yes or no, kept as a number.
pub(crate) fn flag(row: &impl SqlRow, at: usize) -> Result<bool, sqlx::Error> {
    Ok(int(row, at)? != 0)
}

/// A text that is never null.
pub(crate) fn text(row: &impl SqlRow, at: usize) -> Result<String, sqlx::Error> {
    row.text(at)?.ok_or_else(|| decode_error(at, "null where a text belongs"))
}

/// A job's number from two columns; `None` if either is null.
pub(crate) fn job_number(
    row: &impl SqlRow,
    year: usize,
    ordinal: usize,
) -> Result<Option<JobNumber>, sqlx::Error> {
    if row.int(year)?.is_none() || row.int(ordinal)?.is_none() {
        return Ok(None);
    }
    Ok(Some(JobNumber { year: narrow(row, year)?, ordinal: narrow(row, ordinal)? }))
}

/// Reads a row of an entry, its job and its station without judging it.
pub(crate) fn audit_row(row: &impl SqlRow) -> Result<AuditRow, sqlx::Error> {
    let station = row.text(3)?;
    let station_known = station.is_some();
    let entry = StoredEntry {
        seq: unsigned(row, 0)?,
        entry_id: EntryId(fixed(row, 1)?),
        job: optional_fixed(row, 2)?.map(JobId),
        station: station.unwrap_or_default(),
        station_epoch: row.blob(4)?.and_then(|epoch| epoch.try_into().ok()).unwrap_or_default(),
        station_number: unsigned(row, 5)?,
        received_us: int(row, 6)?,
        bytes: row.blob(7)?.unwrap_or_default().to_vec().into(),
        leaf_hash: fixed(row, 8)?,
    };
    Ok(AuditRow {
        entry,
        job_first_seq: row.int(9)?.map(|seq| u64::try_from(seq).unwrap_or(0)),
        job_number: job_number(row, 10, 11)?,
        station_known,
    })
}

/// Reads the same row and refuses it if it is not what was written.
pub(crate) fn checked_entry(row: &impl SqlRow) -> Result<StoredEntry, StoreError> {
    let seq = unsigned(row, 0).ok();
    let job_number = job_number(row, 10, 11).ok().flatten();
    let damaged = |what: String| StoreError::Damaged { seq, job_number, what };
    let AuditRow { entry, job_first_seq, station_known, .. } =
        audit_row(row).map_err(|error| damaged(error.to_string()))?;
    if entry_leaf_hash(entry.seq, entry.received_us, &entry.bytes) != entry.leaf_hash {
        return Err(damaged("its bytes, time or place do not match its leaf hash".into()));
    }
    if !station_known || job_first_seq.is_some() != entry.job.is_some() {
        return Err(damaged("it names a job or a station that is not there".into()));
    }
    Ok(entry)
}

/// Refuses entries that do not ascend from `least`: the rows of a damaged tree can come again and again, and whoever
/// reads on after the last one would never end.
pub(crate) fn ascending(entries: Vec<StoredEntry>, least: u64) -> Result<Vec<StoredEntry>, StoreError> {
    let mut next = least;
    for entry in &entries {
        if entry.seq < next {
            return Err(StoreError::damaged(format!("entry {} is out of its place", entry.seq)));
        }
        next = entry.seq.saturating_add(1);
    }
    Ok(entries)
}

/// Refuses entries of another job: a damaged index can lead to them, but their own rows still say whose they are.
pub(crate) fn of_job(entries: Vec<StoredEntry>, job: JobId) -> Result<Vec<StoredEntry>, StoreError> {
    match entries.iter().find(|entry| entry.job != Some(job)) {
        Some(other) => {
            Err(StoreError::damaged(format!("entry {} stands among those of job {job}", other.seq)))
        }
        None => Ok(entries),
    }
}

pub(crate) fn job_row(row: &impl SqlRow) -> Result<JobRow, sqlx::Error> {
    let number = job_number(row, 1, 2)?.ok_or(sqlx::Error::RowNotFound)?;
    Ok(JobRow {
        job_id: JobId(fixed(row, 0)?),
        number,
        first_seq: unsigned(row, 3)?,
        last_seq: unsigned(row, 4)?,
        entries: unsigned(row, 5)?,
    })
}

pub(crate) fn job_id(row: &impl SqlRow) -> Result<JobId, sqlx::Error> {
    Ok(JobId(fixed(row, 0)?))
}

pub(crate) fn station(row: &impl SqlRow) -> Result<Station, sqlx::Error> {
    Ok(Station {
        id: text(row, 0)?,
        name: text(row, 1)?,
        role: text(row, 2)?,
        created_us: int(row, 3)?,
        revoked_us: row.int(4)?,
    })
}

pub(crate) fn person(row: &impl SqlRow) -> Result<Person, sqlx::Error> {
    Ok(Person { code: text(row, 0)?, name: row.text(1)?, listed_us: int(row, 2)?, erased_us: row.int(3)? })
}

pub(crate) fn customer(row: &impl SqlRow) -> Result<Customer, sqlx::Error> {
    Ok(Customer { name: text(row, 0)?, telephone: text(row, 1)? })
}

pub(crate) fn summary(row: &impl SqlRow) -> Result<JobSummary, sqlx::Error> {
    Ok(JobSummary {
        job_id: JobId(fixed(row, 0)?),
        number: job_number(row, 1, 2)?.ok_or(sqlx::Error::RowNotFound)?,
        plate: text(row, 3)?,
        vin: text(row, 4)?,
        title: text(row, 5)?,
        closed: flag(row, 6)?,
        state: text(row, 7)?,
        seq: unsigned(row, 8)?,
        updated_us: int(row, 9)?,
        rank: narrow(row, 10)?,
        account: text(row, 11)?,
    })
}

/// The account of a job beside its identity.
pub(crate) fn account(row: &impl SqlRow) -> Result<(JobId, String), sqlx::Error> {
    Ok((JobId(fixed(row, 0)?), text(row, 1)?))
}

pub(crate) fn line_to_find(row: &impl SqlRow) -> Result<Noted, sqlx::Error> {
    let keys =
        SearchKeys { number: text(row, 5)?, plate: text(row, 6)?, vin: text(row, 7)?, title: text(row, 8)? };
    let number = job_number(row, 1, 2)?.ok_or(sqlx::Error::RowNotFound)?;
    let line = Line::new(JobId(fixed(row, 0)?), flag(row, 3)?, narrow(row, 4)?, &keys);
    Ok(Noted::Line(number, line))
}

pub(crate) fn customer_to_find(row: &impl SqlRow) -> Result<Noted, sqlx::Error> {
    let keys = CustomerKeys { name: text(row, 1)?, telephone: text(row, 2)? };
    Ok(Noted::Customer(JobId(fixed(row, 0)?), keys))
}

/// A token whose columns begin at a place.
pub(crate) fn kept_token(row: &impl SqlRow, from: usize) -> Result<KeptToken, sqlx::Error> {
    Ok(KeptToken {
        digest: fixed(row, from)?,
        station_id: text(row, from + 1)?,
        created_us: int(row, from + 2)?,
        ends_us: row.int(from + 3)?,
        replaces: optional_fixed(row, from + 4)?,
    })
}

pub(crate) fn kept_code(row: &impl SqlRow) -> Result<KeptCode, sqlx::Error> {
    Ok(KeptCode {
        digest: fixed(row, 0)?,
        tag: text(row, 1)?,
        station_id: text(row, 2)?,
        created_us: int(row, 3)?,
        ends_us: int(row, 4)?,
        tries: narrow(row, 5)?,
        used_for: optional_fixed(row, 6)?,
    })
}

pub(crate) fn audit_line(row: &impl SqlRow) -> Result<AuditLine, sqlx::Error> {
    Ok(AuditLine {
        at_us: int(row, 0)?,
        until_us: int(row, 1)?,
        times: unsigned(row, 2)?,
        what: text(row, 3)?,
        allowed: flag(row, 4)?,
        station: text(row, 5)?,
        person: text(row, 6)?,
        address: text(row, 7)?,
        about: text(row, 8)?,
    })
}

/// A station and the kinds that it is limited to.
pub(crate) fn kinds(row: &impl SqlRow) -> Result<(String, Vec<String>), sqlx::Error> {
    Ok((text(row, 0)?, text(row, 1)?.split(',').map(str::to_owned).collect()))
}

pub(crate) fn fork(row: &impl SqlRow) -> Result<Fork, sqlx::Error> {
    Ok(Fork {
        site: text(row, 0)?,
        first_us: int(row, 1)?,
        last_us: int(row, 2)?,
        station: text(row, 3)?,
        here: (unsigned(row, 4)?, fixed(row, 5)?),
        claimed: (fixed(row, 6)?, unsigned(row, 7)?, fixed(row, 8)?),
        settled_us: row.int(9)?,
    })
}

pub(crate) fn two_texts(row: &impl SqlRow) -> Result<(String, String), sqlx::Error> {
    Ok((text(row, 0)?, text(row, 1)?))
}

/// An entry that a batch of another copy is compared with.
pub(crate) fn known_entry(row: &impl SqlRow) -> Result<Known, sqlx::Error> {
    Ok(Known { entry_id: EntryId(fixed(row, 0)?), leaf_hash: fixed(row, 1)?, number: job_number(row, 2, 3)? })
}

pub(crate) fn tally_row(row: &impl SqlRow) -> Result<TallyRow, sqlx::Error> {
    let counters = tallies::read_counters(&text(row, 9)?);
    Ok(TallyRow {
        site: text(row, 0)?,
        job: fixed(row, 1)?,
        seq: unsigned(row, 2)?,
        month: text(row, 3)?,
        variant: text(row, 4)?,
        equipment: text(row, 5)?,
        vehicle: text(row, 6)?,
        opened_us: int(row, 7)?,
        counts: flag(row, 8)?,
        counters: counters.ok_or_else(|| decode_error(9, "counters that are no numbers"))?,
        stands_out: flag(row, 10)?,
        day: row.int(11)?,
        back: tallies::spans_of(int(row, 12)?),
        row: text(row, 13)?,
    })
}

/// The sums of a month of a site as of the asked days; none that has no rows any more.
pub(crate) fn tally_sums(row: &impl SqlRow, days: [i64; 3]) -> Result<Vec<TallySum>, sqlx::Error> {
    tallies::sums_as_of((&text(row, 0)?, &text(row, 1)?), bytes(row, 2)?, days).map_err(|_| no_sums(2))
}

/// The sums of a month as they are kept, with their key.
pub(crate) fn held_month(row: &impl SqlRow) -> Result<(MonthKey, HeldMonth), sqlx::Error> {
    let key = MonthKey { by: int(row, 0)?, month: text(row, 1)?, site: text(row, 2)? };
    Ok((key, HeldMonth::read(bytes(row, 3)?).map_err(|_| no_sums(3))?))
}

fn no_sums(at: usize) -> sqlx::Error {
    decode_error(at, "bytes that are no sums")
}

pub(crate) fn tally_reached(row: &impl SqlRow) -> Result<TallyReached, sqlx::Error> {
    Ok(TallyReached { epoch: fixed(row, 0)?, seq: unsigned(row, 1)? })
}

/// A whole row of a table beside the journal, its columns in the table's order.
pub(crate) fn cells(row: &impl SqlRow, table: &Table) -> Result<Vec<Cell>, sqlx::Error> {
    let cell = |(at, (_, kind)): (usize, &(&str, Kind))| {
        Ok(match kind {
            Kind::Int => Cell::Int(row.int(at)?),
            Kind::Text => Cell::Text(row.text(at)?),
            Kind::Bytes => Cell::Bytes(row.blob(at)?.map(<[u8]>::to_vec)),
        })
    };
    table.columns.iter().enumerate().map(cell).collect()
}

/// A number as SQL has it. Nothing above `i64::MAX` gets here: the planner refuses such station numbers, and no journal
/// grows so long.
pub(crate) fn signed(number: u64) -> i64 {
    i64::try_from(number).unwrap_or(i64::MAX)
}

fn decode_error(at: usize, what: &'static str) -> sqlx::Error {
    sqlx::Error::ColumnDecode { index: at.to_string(), source: what.into() }
}
