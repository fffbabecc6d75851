//! Rows of jobs of several workshops and their sums, in the same file. Changes go through the writer's connection that does
//! not sync.

mod put;

use super::SqliteStore;
use super::look_up::{json, quoted};
use crate::change::{Change, TallyChange};
use crate::entry::JobId;
use crate::error::StoreError;
use crate::journal::PAGE_ROWS_MAX;
use crate::row::{tally_reached, tally_row, tally_sums, text};
use crate::tallies::{PagePlace, Tallies, TallyBy, TallyFilter, TallyReached, TallyRow, TallySum, in_order};
use async_trait::async_trait;

/// The columns [`tally_row`] reads, in its order, with what follows.
macro_rules! select_row {
    ($rest:literal) => {
        concat!(
            "select r.of_site, r.job, r.seq, r.month, r.variant, r.equipment, r.vehicle, r.opened_us, r.counts, \
             r.counters, r.stands_out, r.day, r.back, r.whole from ",
            $rest
        )
    };
}
use select_row;

const ROW: &str = select_row!("tally_row r where r.edition = ? and r.of_site = ? and r.job = ?");
const ROWS: &str = select_row!(
    "tally_row r where r.edition = ? and r.of_site = ? and (r.month, r.job) > (?, ?) and r.month <= ? \
     order by r.month, r.job limit ?"
);
const ROWS_STANDING_OUT: &str = select_row!(
    "tally_row r where r.edition = ? and r.of_site = ? and (r.month, r.job) > (?, ?) and r.month <= ? \
     and r.stands_out = 1 order by r.month, r.job limit ?"
);
const ROWS_OF_VEHICLES: &str = select_row!(
    "json_each(?) q cross join tally_row r on r.edition = ? and r.vehicle = cast(unhex(q.value) as text) \
     and r.vehicle <> '' order by r.of_site, r.month, r.job"
);
/// Sites that have rows, from one on; one step of the index each.
const SITES: &str = "with recursive s (of_site) as (\
        select min(of_site) from tally_row where edition = ?1 and of_site >= ?2 \
        union all select (select min(r.of_site) from tally_row r where r.edition = ?1 and r.of_site > s.of_site) \
        from s where s.of_site is not null) \
    select of_site from s where of_site is not null";
const REACHED: &str = "select epoch, seq from tally_reached where edition = ? and of_site = ?";
const SUMS: &str = "select of_site, month, held from tally_month \
    where edition = ? and by_what = ? and month between ? and ?";

#[async_trait]
impl Tallies for SqliteStore {
    async fn put_tally_rows(
        &self,
        edition: &str,
        rows: Vec<TallyRow>,
        reached: Option<(String, TallyReached)>,
    ) -> Result<(), StoreError> {
        rows.iter().try_for_each(TallyRow::check)?;
        let edition = edition.to_owned();
        self.change(Change::Tally(TallyChange::Put { edition, rows, reached })).await.map(drop)
    }

    async fn tally_reached(&self, edition: &str, site: &str) -> Result<Option<TallyReached>, StoreError> {
        Ok(self.rows(sqlx::query(REACHED).bind(edition).bind(site), tally_reached).await?.pop())
    }

    async fn tally_sums(
        &self,
        edition: &str,
        months: (&str, &str),
        by: TallyBy,
        days: [i64; 3],
    ) -> Result<Vec<TallySum>, StoreError> {
        let (from, to) = months;
        let query = sqlx::query(SUMS).bind(edition).bind(by.number()).bind(from).bind(to);
        let sums = self.rows(query, |row| tally_sums(row, days)).await?;
        Ok(in_order(sums.into_iter().flatten().collect()))
    }

    async fn tally_rows(
        &self,
        edition: &str,
        filter: &TallyFilter,
        limit: usize,
    ) -> Result<Vec<TallyRow>, StoreError> {
        let limit = limit.min(PAGE_ROWS_MAX);
        let statement = if filter.standing_out { ROWS_STANDING_OUT } else { ROWS };
        let sites = match &filter.site {
            Some(site) => vec![site.clone()],
            None => {
                let query = sqlx::query(SITES).bind(edition).bind(filter.first_site());
                self.rows(query, |row| text(row, 0)).await?
            }
        };
        let mut page = Vec::new();
        for site in sites {
            let Some(PagePlace { month, job }) = filter.place_in(&site) else { continue };
            let missing = limit.saturating_sub(page.len());
            if missing == 0 {
                break;
            }
            let query = sqlx::query(statement).bind(edition).bind(site).bind(month).bind(job);
            let query = query.bind(filter.months.1.as_str()).bind(i64::try_from(missing).unwrap_or(i64::MAX));
            page.extend(self.rows(query, tally_row).await?);
        }
        Ok(page)
    }

    async fn tally_rows_of_vehicles(
        &self,
        edition: &str,
        vehicles: &[String],
    ) -> Result<Vec<TallyRow>, StoreError> {
        let keys = json(vehicles.iter().map(|vehicle| quoted(vehicle.as_bytes())));
        self.rows(sqlx::query(ROWS_OF_VEHICLES).bind(keys).bind(edition), tally_row).await
    }

    async fn tally_row(&self, edition: &str, site: &str, job: JobId) -> Result<Option<TallyRow>, StoreError> {
        let query = sqlx::query(ROW).bind(edition).bind(site).bind(job.0.to_vec());
        Ok(self.rows(query, tally_row).await?.pop())
    }

    async fn drop_tally_editions_but(&self, edition: &str) -> Result<(), StoreError> {
        // A part at a time, so that nobody waits long.
        while self.change(Change::Tally(TallyChange::DropBut { edition: edition.to_owned() })).await? > 0 {}
        Ok(())
    }
}
