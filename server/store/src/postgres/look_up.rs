//! Answers the questions of a batch, at most one statement a kind of question. Keys go in as arrays, so that a statement
//! has the same text for any number of keys. Called by the writer only, on the connection that writes.

use crate::batch::{EntryFact, Facts, JobFact, Questions, Stream, StreamFact};
use crate::entry::{Appended, EntryId, JobId};
use crate::row::{fixed, flag, int, job_number, narrow, signed, text, unsigned};
use sqlx::PgConnection;

const ENTRIES: &str = "select e.entry_id, e.seq, e.received_us, e.leaf_hash, j.year, j.ordinal, \
    exists (select 1 from entry o where o.site = $1 and o.stream_first_seq = e.stream_first_seq \
        and o.station_number = e.station_number and o.seq < e.seq)::int::bigint \
    from unnest($2::bytea[]) q (entry_id) join entry e on e.site = $1 and e.entry_id = q.entry_id \
    left join job j on j.site = $1 and j.first_seq = e.job_first_seq";

const JOBS: &str = "select j.job_id, j.first_seq, j.year, j.ordinal, \
    (select count(*) from entry e where e.site = $1 and e.job_first_seq = j.first_seq) \
    from unnest($2::bytea[]) q (job_id) join job j on j.site = $1 and j.job_id = q.job_id";

const STREAMS: &str = "select s.station, s.station_epoch, s.first_seq, \
    (select max(e.station_number) from entry e where e.site = $1 and e.stream_first_seq = s.first_seq) \
    from unnest($2::text[], $3::bytea[]) q (station, epoch) \
    join station_stream s on s.site = $1 and s.station = q.station and s.station_epoch = q.epoch";

const NUMBERS: &str = "select distinct s.station, s.station_epoch, e.station_number \
    from unnest($2::text[], $3::bytea[], $4::bigint[]) q (station, epoch, number) \
    join station_stream s on s.site = $1 and s.station = q.station and s.station_epoch = q.epoch \
    join entry e on e.site = $1 and e.stream_first_seq = s.first_seq and e.station_number = q.number";

const YEARS: &str = "select j.year, max(j.ordinal) from job j where j.site = $1 and j.year = any($2::bigint[]) \
    group by j.year";

/// Looks everything up.
pub(super) async fn look_up(
    connection: &mut PgConnection,
    site: &str,
    questions: &Questions,
) -> Result<Facts, sqlx::Error> {
    let mut facts = Facts::default();
    if !questions.entries.is_empty() {
        let ids: Vec<[u8; 16]> = questions.entries.iter().map(|id| id.0).collect();
        for row in sqlx::query(ENTRIES).bind(site).bind(ids).fetch_all(&mut *connection).await? {
            let answer = Appended {
                seq: unsigned(&row, 1)?,
                received_us: int(&row, 2)?,
                job_number: job_number(&row, 4, 5)?,
                repeated: false,
                station_number_reused: flag(&row, 6)?,
            };
            facts.entries.insert(EntryId(fixed(&row, 0)?), EntryFact { answer, leaf_hash: fixed(&row, 3)? });
        }
    }
    if !questions.jobs.is_empty() {
        let ids: Vec<[u8; 16]> = questions.jobs.iter().map(|job| job.0).collect();
        for row in sqlx::query(JOBS).bind(site).bind(ids).fetch_all(&mut *connection).await? {
            let Some(number) = job_number(&row, 2, 3)? else { continue };
            let fact = JobFact { first_seq: unsigned(&row, 1)?, number, entries: unsigned(&row, 4)? };
            facts.jobs.insert(JobId(fixed(&row, 0)?), fact);
        }
    }
    if !questions.streams.is_empty() {
        let (stations, epochs) = columns(questions.streams.iter());
        let query = sqlx::query(STREAMS).bind(site).bind(stations).bind(epochs);
        for row in query.fetch_all(&mut *connection).await? {
            let fact = StreamFact { first_seq: unsigned(&row, 2)?, highest: unsigned(&row, 3)? };
            facts.streams.insert(Stream { station: text(&row, 0)?, epoch: fixed(&row, 1)? }, fact);
        }
    }
    if !questions.numbers.is_empty() {
        let (stations, epochs) = columns(questions.numbers.iter().map(|(stream, _)| stream));
        let numbers: Vec<i64> = questions.numbers.iter().map(|(_, number)| signed(*number)).collect();
        let query = sqlx::query(NUMBERS).bind(site).bind(stations).bind(epochs).bind(numbers);
        for row in query.fetch_all(&mut *connection).await? {
            let stream = Stream { station: text(&row, 0)?, epoch: fixed(&row, 1)? };
            facts.numbers.insert((stream, unsigned(&row, 2)?));
        }
    }
    if !questions.years.is_empty() {
        let years: Vec<i64> = questions.years.iter().map(|year| i64::from(*year)).collect();
        for row in sqlx::query(YEARS).bind(site).bind(years).fetch_all(&mut *connection).await? {
            facts.years.insert(narrow(&row, 0)?, narrow(&row, 1)?);
        }
    }
    Ok(facts)
}

fn columns<'a>(streams: impl Iterator<Item = &'a Stream>) -> (Vec<&'a str>, Vec<[u8; 16]>) {
    streams.map(|stream| (stream.station.as_str(), stream.epoch)).unzip()
}
