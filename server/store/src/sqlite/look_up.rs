//! Answers the questions of a batch, at most one statement a kind of question. Keys go in as one JSON text of
//! hexadecimal strings, so that a statement has the same text for any number of keys. Called by the writer only, on
//! the connection that writes.

use super::cause::failed;
use super::read::{fixed, job_number, unsigned};
use crate::batch::{EntryFact, Facts, JobFact, Questions, Stream, StreamFact};
use crate::entry::{Appended, EntryId, JobId};
use crate::error::StoreError;
use sqlx::{Row, SqliteConnection};
use std::fmt::Write;

const ENTRIES: &str = "select e.entry_id, e.seq, e.received_us, e.leaf_hash, j.year, j.ordinal, \
    exists (select 1 from entry o where o.stream_first_seq = e.stream_first_seq \
        and o.station_number = e.station_number and o.seq < e.seq) \
    from json_each(?) q cross join entry e on e.entry_id = unhex(q.value) \
    left join job j on j.first_seq = e.job_first_seq";

const JOBS: &str = "select j.job_id, j.first_seq, j.year, j.ordinal, \
    (select count(*) from entry e where e.job_first_seq = j.first_seq) \
    from json_each(?) q cross join job j on j.job_id = unhex(q.value)";

const STREAMS: &str = "select s.station, s.station_epoch, s.first_seq, \
    (select max(e.station_number) from entry e where e.stream_first_seq = s.first_seq) \
    from json_each(?) q cross join station_stream s \
    on s.station = cast(unhex(q.value ->> 0) as text) and s.station_epoch = unhex(q.value ->> 1)";

const NUMBERS: &str = "select distinct s.station, s.station_epoch, e.station_number \
    from json_each(?) q cross join station_stream s \
    on s.station = cast(unhex(q.value ->> 0) as text) and s.station_epoch = unhex(q.value ->> 1) \
    cross join entry e on e.stream_first_seq = s.first_seq and e.station_number = q.value ->> 2";

const YEARS: &str = "select q.value, max(j.ordinal) from json_each(?) q cross join job j on j.year = q.value \
    group by q.value";

/// Looks everything up.
pub(super) async fn look_up(
    connection: &mut SqliteConnection,
    questions: &Questions,
) -> Result<Facts, StoreError> {
    let facts = read_facts(connection, questions).await;
    facts.map_err(|error| failed("looking up what is stored already", &error))
}

async fn read_facts(connection: &mut SqliteConnection, questions: &Questions) -> Result<Facts, sqlx::Error> {
    let mut facts = Facts::default();
    if !questions.entries.is_empty() {
        let keys = json(questions.entries.iter().map(|id| quoted(&id.0)));
        for row in sqlx::query(ENTRIES).bind(keys).fetch_all(&mut *connection).await? {
            let answer = Appended {
                seq: unsigned(&row, 1)?,
                received_us: row.try_get(2)?,
                job_number: job_number(&row, 4, 5)?,
                repeated: false,
                station_number_reused: row.try_get(6)?,
            };
            facts.entries.insert(EntryId(fixed(&row, 0)?), EntryFact { answer, leaf_hash: fixed(&row, 3)? });
        }
    }
    if !questions.jobs.is_empty() {
        let keys = json(questions.jobs.iter().map(|job| quoted(&job.0)));
        for row in sqlx::query(JOBS).bind(keys).fetch_all(&mut *connection).await? {
            let Some(number) = job_number(&row, 2, 3)? else { continue };
            let fact = JobFact { first_seq: unsigned(&row, 1)?, number, entries: unsigned(&row, 4)? };
            facts.jobs.insert(JobId(fixed(&row, 0)?), fact);
        }
    }
    if !questions.streams.is_empty() {
        let keys = json(questions.streams.iter().map(|stream| format!("[{}]", stream_key(stream))));
        for row in sqlx::query(STREAMS).bind(keys).fetch_all(&mut *connection).await? {
            let fact = StreamFact { first_seq: unsigned(&row, 2)?, highest: unsigned(&row, 3)? };
            facts.streams.insert(Stream { station: row.try_get(0)?, epoch: fixed(&row, 1)? }, fact);
        }
    }
    if !questions.numbers.is_empty() {
        let keys = json(
            questions.numbers.iter().map(|(stream, number)| format!("[{},{number}]", stream_key(stream))),
        );
        for row in sqlx::query(NUMBERS).bind(keys).fetch_all(&mut *connection).await? {
            let stream = Stream { station: row.try_get(0)?, epoch: fixed(&row, 1)? };
            facts.numbers.insert((stream, unsigned(&row, 2)?));
        }
    }
    if !questions.years.is_empty() {
        let keys = json(questions.years.iter().map(ToString::to_string));
        for row in sqlx::query(YEARS).bind(keys).fetch_all(&mut *connection).await? {
            facts.years.insert(row.try_get(0)?, row.try_get(1)?);
        }
    }
    Ok(facts)
}

/// A JSON array of elements that are JSON already.
pub(super) fn json(elements: impl Iterator<Item = String>) -> String {
    format!("[{}]", elements.collect::<Vec<_>>().join(","))
}

/// Bytes as a quoted hexadecimal string, which needs no escaping.
pub(super) fn quoted(bytes: &[u8]) -> String {
    let mut text = String::with_capacity(2 * bytes.len() + 2);
    text.push('"');
    for byte in bytes {
        // Writing to a string cannot fail.
        let _ = write!(text, "{byte:02x}");
    }
    text.push('"');
    text
}

fn stream_key(stream: &Stream) -> String {
    format!("{},{}", quoted(stream.station.as_bytes()), quoted(&stream.epoch))
}
