//! Rows of jobs of several workshops and their sums, in the same database. Changes go through a connection of the
//! writer that does not sync.

mod put;

use super::PostgresStore;
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

const ROW: &str =
    select_row!("tally_row r where r.site = $1 and r.edition = $2 and r.of_site = $3 and r.job = $4");
const ROWS: &str = select_row!(
    "tally_row r where r.site = $1 and r.edition = $2 and r.of_site = $3 and (r.month, r.job) > ($4, $5) \
     and r.month <= $6 order by r.month, r.job limit $7"
);
const ROWS_STANDING_OUT: &str = select_row!(
    "tally_row r where r.site = $1 and r.edition = $2 and r.of_site = $3 and (r.month, r.job) > ($4, $5) \
     and r.month <= $6 and r.stands_out = 1 order by r.month, r.job limit $7"
);
const ROWS_OF_VEHICLES: &str = select_row!(
    "tally_row r where r.site = $1 and r.edition = $2 and r.vehicle = any($3::text[]) and r.vehicle <> '' \
     order by r.of_site, r.month, r.job"
);
/// Sites that have rows, from one on; one step of the index each.
const SITES: &str = "with recursive s (of_site) as (\
        select min(of_site) from tally_row where site = $1 and edition = $2 and of_site >= $3 \
        union all select (select min(r.of_site) from tally_row r \
            where r.site = $1 and r.edition = $2 and r.of_site > s.of_site) \
        from s where s.of_site is not null) \
    select of_site from s where of_site is not null";
const REACHED: &str =
    "select epoch, seq from tally_reached where site = $1 and edition = $2 and of_site = $3";
const SUMS: &str = "select of_site, month, held from tally_month \
    where site = $1 and edition = $2 and by_what = $3 and month between $4 and $5";

#[async_trait]
impl Tallies for PostgresStore {
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
        Ok(self
            .rows(self.of_site(REACHED).bind(edition.to_owned()).bind(site.to_owned()), tally_reached)
            .await?
            .pop())
    }

    async fn tally_sums(
        &self,
        edition: &str,
        months: (&str, &str),
        by: TallyBy,
        days: [i64; 3],
    ) -> Result<Vec<TallySum>, StoreError> {
        let query = self.of_site(SUMS).bind(edition.to_owned()).bind(by.number());
        let query = query.bind(months.0.to_owned()).bind(months.1.to_owned());
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
                let query = self.of_site(SITES).bind(edition.to_owned()).bind(filter.first_site().to_owned());
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
            let query = self.of_site(statement).bind(edition.to_owned()).bind(site).bind(month).bind(job);
            let query = query.bind(filter.months.1.clone()).bind(i64::try_from(missing).unwrap_or(i64::MAX));
            page.extend(self.rows(query, tally_row).await?);
        }
        Ok(page)
    }

    async fn tally_rows_of_vehicles(
        &self,
        edition: &str,
        vehicles: &[String],
    ) -> Result<Vec<TallyRow>, StoreError> {
        let query = self.of_site(ROWS_OF_VEHICLES).bind(edition.to_owned()).bind(vehicles.to_vec());
        self.rows(query, tally_row).await
    }

    async fn tally_row(&self, edition: &str, site: &str, job: JobId) -> Result<Option<TallyRow>, StoreError> {
        let query = self.of_site(ROW).bind(edition.to_owned()).bind(site.to_owned()).bind(job.0);
        Ok(self.rows(query, tally_row).await?.pop())
    }

    async fn drop_tally_editions_but(&self, edition: &str) -> Result<(), StoreError> {
        // A part at a time, so that nobody waits long.
        while self.change(Change::Tally(TallyChange::DropBut { edition: edition.to_owned() })).await? > 0 {}
        Ok(())
    }
}
