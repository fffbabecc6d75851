//! The one statement of a commit: site row, new jobs, new streams, entries. Being one statement it is one transaction and
//! one way to the database and back.
//!
//! It takes the site's advisory lock first and grows the site row only from the size and by the server that it was
//! planned with; if either is another one by now, nothing is written and no row comes back.

use super::cause::is_known_entry_id;
use super::locks::Key;
use crate::batch::{NewJob, Plan, Stream};
use crate::entry::NewEntry;
use crate::row::signed;
use crate::verify::identity;
use sqlx::postgres::PgArguments;
use sqlx::query::Query;
use sqlx::{PgConnection, Postgres};

const COMMIT: &str = "with turn as materialized (select pg_advisory_xact_lock($2, $3)), \
    grown as (update site set size = $6, frontier = $7, epoch = coalesce($23, epoch), \
            identity_sha256 = coalesce($24, identity_sha256) from turn \
        where site.site = $1 and site.size = $5 and site.writer = $4 and site.state <> 'left' returning site.site), \
    born as (insert into job (site, first_seq, job_id, year, ordinal) \
        select g.site, j.first_seq, j.job_id, j.year, j.ordinal from grown g, \
        unnest($8::bigint[], $9::bytea[], $10::bigint[], $11::bigint[]) j (first_seq, job_id, year, ordinal)), \
    begun as (insert into station_stream (site, first_seq, station, station_epoch) \
        select g.site, s.first_seq, s.station, s.station_epoch from grown g, \
        unnest($12::bigint[], $13::text[], $14::bytea[]) s (first_seq, station, station_epoch)), \
    kept as (insert into entry (site, seq, entry_id, job_first_seq, stream_first_seq, station_number, received_us, bytes, \
            leaf_hash) \
        select g.site, e.seq, e.entry_id, e.job_first_seq, e.stream_first_seq, e.station_number, e.received_us, e.bytes, \
            e.leaf_hash from grown g, \
        unnest($15::bigint[], $16::bytea[], $17::bigint[], $18::bigint[], $19::bigint[], $20::bigint[], $21::bytea[], \
            $22::bytea[]) \
            e (seq, entry_id, job_first_seq, stream_first_seq, station_number, received_us, bytes, leaf_hash)) \
    select 1::bigint from grown";

/// Why a commit did not happen, or perhaps did.
#[derive(Debug)]
pub(super) enum Refused {
    /// One of its entries is stored already; nothing is wrong.
    KnownEntryId,
    /// The site row is not as it was left: somebody else wrote.
    NotOurs,
    /// Anything else.
    Failed(sqlx::Error),
}

/// Who writes which site.
#[derive(Debug, Clone)]
pub(super) struct Hand {
    pub site: String,
    pub key: Key,
    /// Random bits of this server's opening.
    pub writer: [u8; 16],
}

/// Writes a plan that was made when the journal had `size` entries.
pub(super) async fn write(
    connection: &mut PgConnection,
    hand: &Hand,
    size: u64,
    batch: &[NewEntry],
    plan: &Plan,
) -> Result<(), Refused> {
    let query = sqlx::query(COMMIT)
        .bind(hand.site.as_str())
        .bind(hand.key.0)
        .bind(hand.key.1)
        .bind(hand.writer)
        .bind(signed(size))
        .bind(signed(plan.frontier.size()))
        .bind(plan.frontier.encode());
    let query = bind_entries(bind_streams(bind_jobs(query, &plan.new_jobs), &plan.new_streams), batch, plan);
    let query = query.bind(plan.epoch).bind(plan.epoch.map(|epoch| identity(&hand.site, epoch)));
    match query.fetch_optional(connection).await {
        Ok(Some(_)) => Ok(()),
        Ok(None) => Err(Refused::NotOurs),
        Err(error) if is_known_entry_id(&error) => Err(Refused::KnownEntryId),
        Err(error) => Err(Refused::Failed(error)),
    }
}

type Bound<'q> = Query<'q, Postgres, PgArguments>;

fn bind_jobs<'q>(query: Bound<'q>, jobs: &[NewJob]) -> Bound<'q> {
    query
        .bind(jobs.iter().map(|job| signed(job.first_seq)).collect::<Vec<_>>())
        .bind(jobs.iter().map(|job| job.job.0).collect::<Vec<_>>())
        .bind(jobs.iter().map(|job| i64::from(job.number.year)).collect::<Vec<_>>())
        .bind(jobs.iter().map(|job| i64::from(job.number.ordinal)).collect::<Vec<_>>())
}

fn bind_streams<'q>(query: Bound<'q>, streams: &'q [(Stream, u64)]) -> Bound<'q> {
    query
        .bind(streams.iter().map(|(_, first_seq)| signed(*first_seq)).collect::<Vec<_>>())
        .bind(streams.iter().map(|(stream, _)| stream.station.as_str()).collect::<Vec<_>>())
        .bind(streams.iter().map(|(stream, _)| stream.epoch).collect::<Vec<_>>())
}

fn bind_entries<'q>(query: Bound<'q>, batch: &'q [NewEntry], plan: &'q Plan) -> Bound<'q> {
    // The planner made each row from this place of the batch, so the entry is always there.
    let rows: Vec<_> = plan.rows.iter().filter_map(|row| Some((row, batch.get(row.at)?))).collect();
    query
        .bind(rows.iter().map(|(row, _)| signed(row.seq)).collect::<Vec<_>>())
        .bind(rows.iter().map(|(_, entry)| entry.entry_id.0).collect::<Vec<_>>())
        .bind(rows.iter().map(|(row, _)| row.job_first_seq.map(signed)).collect::<Vec<_>>())
        .bind(rows.iter().map(|(row, _)| signed(row.stream_first_seq)).collect::<Vec<_>>())
        .bind(rows.iter().map(|(_, entry)| signed(entry.station_number)).collect::<Vec<_>>())
        .bind(rows.iter().map(|(_, entry)| entry.received_us).collect::<Vec<_>>())
        .bind(rows.iter().map(|(_, entry)| &*entry.bytes).collect::<Vec<&[u8]>>())
        .bind(rows.iter().map(|(row, _)| row.leaf_hash).collect::<Vec<_>>())
}
