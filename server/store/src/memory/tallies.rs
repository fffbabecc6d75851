//! Rows of jobs in a plain map; sums are added up anew each time.

use super::MemoryStore;
use crate::entry::JobId;
use crate::error::StoreError;
use crate::journal::PAGE_ROWS_MAX;
use crate::tallies::{TALLY_COUNTERS_MAX, Tallies, TallyBy, TallyFilter, TallyReached, TallyRow, TallySum};
use async_trait::async_trait;
use std::collections::BTreeMap;

/// The maps, by edition.
#[derive(Debug, Default)]
pub(super) struct KeptTallies {
    rows: BTreeMap<(String, String, [u8; 16]), TallyRow>,
    reached: BTreeMap<(String, String), TallyReached>,
}

impl KeptTallies {
    /// Rows of an edition by site, month and job.
    fn of(&self, edition: &str, wanted: impl Fn(&TallyRow) -> bool) -> Vec<TallyRow> {
        let rows = self.rows.iter().filter(|((of, ..), row)| of == edition && wanted(row));
        let mut rows: Vec<TallyRow> = rows.map(|(_, row)| row.clone()).collect();
        rows.sort_by(|a, b| place(a).cmp(&place(b)));
        rows
    }
}

fn place(row: &TallyRow) -> (&str, &str, [u8; 16]) {
    (&row.site, &row.month, row.job)
}

fn add(sum: &mut TallySum, row: &TallyRow, days: [i64; 3]) {
    for (sum, counter) in sum.counters.iter_mut().zip(&row.counters) {
        *sum += counter;
    }
    let spans = sum.old.iter_mut().zip(&mut sum.back).zip(row.back).zip(days);
    for (((old, back), came_back), last) in spans {
        if row.day.is_some_and(|day| day <= last) {
            *old += 1;
            *back += i64::from(came_back);
        }
    }
}

#[async_trait]
impl Tallies for MemoryStore {
    async fn put_tally_rows(
        &self,
        edition: &str,
        rows: Vec<TallyRow>,
        reached: Option<(String, TallyReached)>,
    ) -> Result<(), StoreError> {
        rows.iter().try_for_each(TallyRow::check)?;
        let tallies = &mut self.state().tallies;
        for row in rows {
            tallies.rows.insert((edition.into(), row.site.clone(), row.job), row);
        }
        if let Some((site, reached)) = reached {
            tallies.reached.insert((edition.into(), site), reached);
        }
        Ok(())
    }

    async fn tally_reached(&self, edition: &str, site: &str) -> Result<Option<TallyReached>, StoreError> {
        Ok(self.state().tallies.reached.get(&(edition.into(), site.into())).cloned())
    }

    async fn tally_sums(
        &self,
        edition: &str,
        (from, to): (&str, &str),
        by: TallyBy,
        days: [i64; 3],
    ) -> Result<Vec<TallySum>, StoreError> {
        let counted = |row: &TallyRow| row.counts && *row.month >= *from && *row.month <= *to;
        let mut sums: BTreeMap<(String, String, String), TallySum> = BTreeMap::new();
        for row in self.state().tallies.of(edition, counted) {
            let of = row.of(by).to_owned();
            let sum = sums.entry((row.site.clone(), of.clone(), row.month.clone()));
            let (site, month) = (row.site.clone(), row.month.clone());
            let counters = vec![0; TALLY_COUNTERS_MAX];
            let empty = TallySum { site, of, month, counters, old: [0; 3], back: [0; 3] };
            add(sum.or_insert(empty), &row, days);
        }
        Ok(sums.into_values().collect())
    }

    async fn tally_rows(
        &self,
        edition: &str,
        filter: &TallyFilter,
        limit: usize,
    ) -> Result<Vec<TallyRow>, StoreError> {
        let wanted = |row: &TallyRow| {
            let after = filter.after.as_ref();
            row.month >= filter.months.0
                && row.month <= filter.months.1
                && filter.site.as_ref().is_none_or(|site| *site == row.site)
                && (row.stands_out || !filter.standing_out)
                && after.is_none_or(|(site, month, job)| place(row) > (site, month, *job))
        };
        let mut rows = self.state().tallies.of(edition, wanted);
        rows.truncate(limit.min(PAGE_ROWS_MAX));
        Ok(rows)
    }

    async fn tally_rows_of_vehicles(
        &self,
        edition: &str,
        vehicles: &[String],
    ) -> Result<Vec<TallyRow>, StoreError> {
        let wanted = |row: &TallyRow| !row.vehicle.is_empty() && vehicles.contains(&row.vehicle);
        Ok(self.state().tallies.of(edition, wanted))
    }

    async fn tally_row(&self, edition: &str, site: &str, job: JobId) -> Result<Option<TallyRow>, StoreError> {
        Ok(self.state().tallies.rows.get(&(edition.into(), site.into(), job.0)).cloned())
    }

    async fn drop_tally_editions_but(&self, edition: &str) -> Result<(), StoreError> {
        let tallies = &mut self.state().tallies;
        tallies.rows.retain(|(of, ..), _| of == edition);
        tallies.reached.retain(|(of, _), _| of == edition);
        Ok(())
    }
}
