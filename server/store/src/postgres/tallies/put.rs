//! Rows that take the place of earlier ones, and what that changes in the sums. Everything within the transaction that the
//! caller began; columns go in as arrays, so that a statement has the same text for any number of rows.

use super::select_row;
use crate::change::TallyChange;
use crate::row::{held_month, signed, tally_row};
use crate::tallies::{Difference, MonthKey, TallyReached, TallyRow, added, last_of_each};
use sqlx::postgres::PgArguments;
use sqlx::query::Query;
use sqlx::{AssertSqlSafe, Executor as _, PgConnection, Postgres};
use std::collections::HashMap;

/// Rows that are compared with earlier ones and put at once.
const ROWS_AT_ONCE: usize = 1_000;
/// Rows that are removed at once.
const DROPPED_AT_ONCE: i64 = 5_000;

/// One step of the index each, however large the table is: the planner may know nothing of it yet.
const EARLIER: &str = select_row!(
    "unnest($3::text[], $4::bytea[]) q (of_site, job) cross join lateral (select * from tally_row t \
     where t.site = $1 and t.edition = $2 and t.of_site = q.of_site and t.job = q.job limit 1) r"
);
const ROWS: &str = "insert into tally_row (site, edition, of_site, job, seq, month, variant, equipment, vehicle, \
        opened_us, counts, stands_out, counters, day, back, whole) \
    select $1, $2, d.* from unnest($3::text[], $4::bytea[], $5::bigint[], $6::text[], $7::text[], $8::text[], $9::text[], \
        $10::bigint[], $11::bigint[], $12::bigint[], $13::text[], $14::bigint[], $15::bigint[], $16::text[]) d \
    on conflict (site, edition, of_site, job) do update set seq = excluded.seq, month = excluded.month, \
        variant = excluded.variant, equipment = excluded.equipment, vehicle = excluded.vehicle, \
        opened_us = excluded.opened_us, counts = excluded.counts, stands_out = excluded.stands_out, \
        counters = excluded.counters, day = excluded.day, back = excluded.back, whole = excluded.whole";
const HELD_MONTHS: &str = "select s.by_what, s.month, s.of_site, s.held \
    from unnest($3::bigint[], $4::text[], $5::text[]) q (by_what, month, of_site) \
    cross join lateral (select * from tally_month t where t.site = $1 and t.edition = $2 and t.by_what = q.by_what \
        and t.month = q.month and t.of_site = q.of_site limit 1) s";
const MONTHS: &str = "insert into tally_month (site, edition, by_what, month, of_site, held) \
    select $1, $2, d.* from unnest($3::bigint[], $4::text[], $5::text[], $6::bytea[]) d \
    on conflict (site, edition, by_what, month, of_site) do update set held = excluded.held";
const REACHED: &str = "insert into tally_reached (site, edition, of_site, epoch, seq) values ($1, $2, $3, $4, $5) \
    on conflict (site, edition, of_site) do update set epoch = excluded.epoch, seq = excluded.seq";

/// Tables with rows of editions.
const BY_EDITION: [&str; 3] = ["tally_reached", "tally_month", "tally_row"];

type Bound<'q> = Query<'q, Postgres, PgArguments>;

/// Whose rows of which edition.
#[derive(Debug, Clone, Copy)]
struct Shelf<'a> {
    site: &'a str,
    edition: &'a str,
}

impl<'a> Shelf<'a> {
    fn query(self, statement: &'static str) -> Bound<'a> {
        sqlx::query(statement).bind(self.site).bind(self.edition)
    }
}

impl TallyChange {
    /// Makes the change; returns how many rows it changed.
    pub(in crate::postgres) async fn write_steps(
        self,
        connection: &mut PgConnection,
        site: &str,
    ) -> Result<u64, sqlx::Error> {
        match self {
            Self::Put { edition, rows, reached } => {
                put(connection, Shelf { site, edition: &edition }, rows, reached).await
            }
            Self::DropBut { edition } => drop_but(connection, Shelf { site, edition: &edition }).await,
        }
    }
}

async fn put(
    connection: &mut PgConnection,
    shelf: Shelf<'_>,
    rows: Vec<TallyRow>,
    reached: Option<(String, TallyReached)>,
) -> Result<u64, sqlx::Error> {
    let rows = last_of_each(rows);
    let mut difference = Difference::default();
    let mut changed = 0;
    for part in rows.chunks(ROWS_AT_ONCE) {
        let earlier = earlier(connection, shelf, part).await?;
        let of = |row: &TallyRow| earlier.get(&(row.site.clone(), row.job));
        let new: Vec<&TallyRow> = part.iter().filter(|row| of(row) != Some(*row)).collect();
        new.iter().for_each(|row| difference.replace(of(row), row));
        changed += new.len() as u64;
        if !new.is_empty() {
            connection.execute(bind_rows(shelf.query(ROWS), &new)).await?;
        }
    }
    for part in difference.changes().chunks(ROWS_AT_ONCE) {
        let keys = |query| bind_keys(query, part.iter().map(|(key, _)| key));
        let kept = connection.fetch_all(keys(shelf.query(HELD_MONTHS))).await?;
        let mut kept = kept.iter().map(held_month).collect::<Result<_, _>>()?;
        let held: Vec<Vec<u8>> = added(part, &mut kept)?.into_iter().map(|(_, held)| held).collect();
        connection.execute(keys(shelf.query(MONTHS)).bind(held)).await?;
    }
    if let Some((site, reached)) = reached {
        let query = shelf.query(REACHED).bind(site).bind(reached.epoch).bind(signed(reached.seq));
        connection.execute(query).await?;
    }
    Ok(changed)
}

/// What is kept of these jobs.
async fn earlier(
    connection: &mut PgConnection,
    shelf: Shelf<'_>,
    rows: &[TallyRow],
) -> Result<HashMap<(String, [u8; 16]), TallyRow>, sqlx::Error> {
    let (sites, jobs): (Vec<String>, Vec<[u8; 16]>) =
        rows.iter().map(|row| (row.site.clone(), row.job)).unzip();
    let found = connection.fetch_all(shelf.query(EARLIER).bind(sites).bind(jobs)).await?;
    let pair = |row| tally_row(row).map(|row| ((row.site.clone(), row.job), row));
    found.iter().map(pair).collect()
}

fn bind_rows<'q>(query: Bound<'q>, rows: &[&TallyRow]) -> Bound<'q> {
    let texts = |of: fn(&TallyRow) -> String| rows.iter().map(|row| of(row)).collect::<Vec<String>>();
    let numbers = |of: fn(&TallyRow) -> i64| rows.iter().map(|row| of(row)).collect::<Vec<i64>>();
    query
        .bind(texts(|row| row.site.clone()))
        .bind(rows.iter().map(|row| row.job).collect::<Vec<_>>())
        .bind(numbers(|row| signed(row.seq)))
        .bind(texts(|row| row.month.clone()))
        .bind(texts(|row| row.variant.clone()))
        .bind(texts(|row| row.equipment.clone()))
        .bind(texts(|row| row.vehicle.clone()))
        .bind(numbers(|row| row.opened_us))
        .bind(numbers(|row| row.counts.into()))
        .bind(numbers(|row| row.stands_out.into()))
        .bind(texts(TallyRow::written_counters))
        .bind(rows.iter().map(|row| row.day).collect::<Vec<_>>())
        .bind(numbers(TallyRow::back_bits))
        .bind(texts(|row| row.row.clone()))
}

fn bind_keys<'q, 'a>(query: Bound<'q>, keys: impl Iterator<Item = &'a MonthKey>) -> Bound<'q> {
    let (mut by, mut months, mut sites) = (Vec::new(), Vec::new(), Vec::new());
    for key in keys {
        by.push(key.by);
        months.push(key.month.clone());
        sites.push(key.site.clone());
    }
    query.bind(by).bind(months).bind(sites)
}

/// Removes rows of the first other edition that a table has.
async fn drop_but(connection: &mut PgConnection, shelf: Shelf<'_>) -> Result<u64, sqlx::Error> {
    for table in BY_EDITION {
        // Nothing but names of our own goes into the text.
        let other = format!(
            "(select edition from {table} where site = $1 and edition < $2 limit 1) union all \
             (select edition from {table} where site = $1 and edition > $2 limit 1) limit 1"
        );
        let other = sqlx::query_scalar(AssertSqlSafe(other)).bind(shelf.site).bind(shelf.edition);
        let Some(other): Option<String> = other.fetch_optional(&mut *connection).await? else { continue };
        let text = format!(
            "delete from {table} where ctid = any(array(\
                 select ctid from {table} where site = $1 and edition = $2 limit $3))"
        );
        let query = sqlx::query(AssertSqlSafe(text)).bind(shelf.site).bind(other).bind(DROPPED_AT_ONCE);
        return connection.execute(query).await.map(|done| done.rows_affected());
    }
    Ok(0)
}
