//! Rows that take the place of earlier ones, and what that changes in the sums. Everything within the transaction that the
//! caller began.

use super::select_row;
use crate::change::TallyChange;
use crate::row::{held_month, signed, tally_row};
use crate::sqlite::look_up::{json, quoted};
use crate::sqlite::read::Bound;
use crate::tallies::{
    Difference, HeldMonth, MonthChange, MonthKey, TallyReached, TallyRow, added, last_of_each,
};
use sqlx::{AssertSqlSafe, Executor as _, SqliteConnection};
use std::collections::HashMap;
use std::sync::LazyLock;

/// Rows that are compared with earlier ones at once.
const ROWS_AT_ONCE: usize = 256;
/// Rows of one statement where there are so many; else one each, so that there are only two texts to prepare.
const ROWS_A_STATEMENT: usize = 32;
/// Rows that are removed at once.
const DROPPED_AT_ONCE: i64 = 2_000;

const EARLIER: &str = select_row!(
    "json_each(?) q cross join tally_row r on r.edition = ? and r.of_site = cast(unhex(q.value ->> 0) as text) \
     and r.job = unhex(q.value ->> 1)"
);
const HELD_MONTHS: &str = "select s.by_what, s.month, s.of_site, s.held from json_each(?) q cross join tally_month s \
    on s.edition = ? and s.by_what = q.value ->> 0 and s.month = cast(unhex(q.value ->> 1) as text) \
    and s.of_site = cast(unhex(q.value ->> 2) as text)";
const REACHED: &str = "insert into tally_reached (edition, of_site, epoch, seq) values (?, ?, ?, ?) \
    on conflict (edition, of_site) do update set epoch = excluded.epoch, seq = excluded.seq";

/// A statement that puts one row, and the same that puts many.
struct Texts {
    one: String,
    many: String,
}

impl Texts {
    fn new(before: &str, columns: usize, after: &str) -> Self {
        let values = format!("({})", vec!["?"; columns].join(", "));
        let text = |rows| format!("{before} values {} {after}", vec![values.as_str(); rows].join(", "));
        Self { one: text(1), many: text(ROWS_A_STATEMENT) }
    }

    fn of(&self, rows: usize) -> &str {
        if rows == 1 { &self.one } else { &self.many }
    }
}

static ROWS: LazyLock<Texts> = LazyLock::new(|| {
    let columns = "edition, of_site, job, seq, month, variant, equipment, vehicle, opened_us, counts, stands_out, \
        counters, day, back, whole";
    let changed = columns.split(", ").skip(3).map(|column| format!("{column} = excluded.{column}"));
    let changed: Vec<String> = changed.collect();
    let after = format!("on conflict (edition, of_site, job) do update set {}", changed.join(", "));
    Texts::new(&format!("insert into tally_row ({columns})"), 15, &after)
});

static MONTHS: LazyLock<Texts> = LazyLock::new(|| {
    Texts::new(
        "insert into tally_month (edition, by_what, month, of_site, held)",
        5,
        "on conflict (edition, by_what, month, of_site) do update set held = excluded.held",
    )
});

/// Tables by edition, with what tells their rows apart.
const BY_EDITION: [(&str, &str); 3] = [
    ("tally_reached", "edition, of_site"),
    ("tally_month", "edition, by_what, month, of_site"),
    ("tally_row", "edition, of_site, job"),
];

impl TallyChange {
    /// Makes the change; returns how many rows it changed.
    pub(in crate::sqlite) async fn steps(
        self,
        connection: &mut SqliteConnection,
    ) -> Result<u64, sqlx::Error> {
        match self {
            Self::Put { edition, rows, reached } => put(connection, &edition, rows, reached).await,
            Self::DropBut { edition } => drop_but(connection, &edition).await,
        }
    }
}

async fn put(
    connection: &mut SqliteConnection,
    edition: &str,
    rows: Vec<TallyRow>,
    reached: Option<(String, TallyReached)>,
) -> Result<u64, sqlx::Error> {
    let rows = last_of_each(rows);
    let mut difference = Difference::default();
    let mut changed = 0;
    for part in rows.chunks(ROWS_AT_ONCE) {
        let earlier = earlier(connection, edition, part).await?;
        let of = |row: &TallyRow| earlier.get(&(row.site.clone(), row.job));
        let new: Vec<&TallyRow> = part.iter().filter(|row| of(row) != Some(*row)).collect();
        new.iter().for_each(|row| difference.replace(of(row), row));
        changed += new.len() as u64;
        write(connection, &ROWS, &new, |query, row| bind_row(query, edition, row)).await?;
    }
    for part in difference.changes().chunks(ROWS_AT_ONCE) {
        let months = added(part, &mut held_months(connection, edition, part).await?)?;
        write(connection, &MONTHS, &months, |query, (key, held)| bind_month(query, edition, key, held))
            .await?;
    }
    if let Some((site, reached)) = reached {
        let query = sqlx::query(REACHED).bind(edition.to_owned()).bind(site);
        connection.execute(query.bind(reached.epoch.to_vec()).bind(signed(reached.seq))).await?;
    }
    Ok(changed)
}

/// What is kept of these jobs.
async fn earlier(
    connection: &mut SqliteConnection,
    edition: &str,
    rows: &[TallyRow],
) -> Result<HashMap<(String, [u8; 16]), TallyRow>, sqlx::Error> {
    let key = |row: &TallyRow| format!("[{},{}]", quoted(row.site.as_bytes()), quoted(&row.job));
    let query = sqlx::query(EARLIER).bind(json(rows.iter().map(key))).bind(edition.to_owned());
    let found = connection.fetch_all(query).await?;
    let pair = |row| tally_row(row).map(|row| ((row.site.clone(), row.job), row));
    found.iter().map(pair).collect()
}

/// What is kept of the months that change.
async fn held_months(
    connection: &mut SqliteConnection,
    edition: &str,
    changes: &[(MonthKey, MonthChange)],
) -> Result<HashMap<MonthKey, HeldMonth>, sqlx::Error> {
    let key = |(key, _): &(MonthKey, MonthChange)| {
        let [month, site] = [&key.month, &key.site].map(|word| quoted(word.as_bytes()));
        format!("[{},{month},{site}]", key.by)
    };
    let query = sqlx::query(HELD_MONTHS).bind(json(changes.iter().map(key))).bind(edition.to_owned());
    connection.fetch_all(query).await?.iter().map(held_month).collect()
}

/// Puts rows, many a statement as far as they go.
async fn write<T>(
    connection: &mut SqliteConnection,
    texts: &'static Texts,
    rows: &[T],
    bind: impl Fn(Bound<'static>, &T) -> Bound<'static>,
) -> Result<(), sqlx::Error> {
    let (whole, rest) = rows.as_chunks::<ROWS_A_STATEMENT>();
    let parts = whole.iter().map(|part| part.as_slice()).chain(rest.chunks(1));
    for part in parts {
        let query = sqlx::query(AssertSqlSafe(texts.of(part.len())));
        connection.execute(part.iter().fold(query, &bind)).await?;
    }
    Ok(())
}

fn bind_row(query: Bound<'static>, edition: &str, row: &TallyRow) -> Bound<'static> {
    query
        .bind(edition.to_owned())
        .bind(row.site.clone())
        .bind(row.job.to_vec())
        .bind(signed(row.seq))
        .bind(row.month.clone())
        .bind(row.variant.clone())
        .bind(row.equipment.clone())
        .bind(row.vehicle.clone())
        .bind(row.opened_us)
        .bind(row.counts)
        .bind(row.stands_out)
        .bind(row.written_counters())
        .bind(row.day)
        .bind(row.back_bits())
        .bind(row.row.clone())
}

fn bind_month(query: Bound<'static>, edition: &str, key: &MonthKey, held: &[u8]) -> Bound<'static> {
    let query = query.bind(edition.to_owned()).bind(key.by).bind(key.month.clone());
    query.bind(key.site.clone()).bind(held.to_vec())
}

/// Removes rows of the first other edition that a table has.
async fn drop_but(connection: &mut SqliteConnection, edition: &str) -> Result<u64, sqlx::Error> {
    for (table, key) in BY_EDITION {
        // Nothing but names of our own goes into the text.
        let other = format!(
            "select edition from {table} where edition < ?1 union all \
             select edition from {table} where edition > ?1 limit 1"
        );
        let other = sqlx::query_scalar(AssertSqlSafe(other)).bind(edition.to_owned());
        let Some(other): Option<String> = other.fetch_optional(&mut *connection).await? else { continue };
        let text = format!(
            "delete from {table} where ({key}) in (select {key} from {table} where edition = ? limit ?)"
        );
        let query = sqlx::query(AssertSqlSafe(text)).bind(other).bind(DROPPED_AT_ONCE);
        return connection.execute(query).await.map(|done| done.rows_affected());
    }
    Ok(0)
}
