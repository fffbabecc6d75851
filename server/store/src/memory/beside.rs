//! What stands beside the journal, in plain maps.

use super::MemoryStore;
use crate::beside::{
    Beside, Customer, CustomerKeys, JobSummary, Person, SearchKeys, Station, SummaryFilter, SummaryOrder,
    SummaryPlace, TokenDigest, bare, plain,
};
use crate::entry::{JobId, JobNumber};
use crate::error::StoreError;
use crate::journal::PAGE_ROWS_MAX;
use crate::tokens::{KeptCode, KeptToken};
use async_trait::async_trait;
use std::cmp::Ordering;
use std::collections::BTreeMap;

/// The maps.
#[derive(Debug, Default)]
pub(super) struct Kept {
    pub(super) stations: BTreeMap<String, Station>,
    pub(super) tokens: BTreeMap<TokenDigest, KeptToken>,
    pub(super) codes: Vec<KeptCode>,
    persons: BTreeMap<String, Person>,
    summaries: BTreeMap<JobNumber, JobSummary>,
    settings: BTreeMap<String, String>,
    photo_extracts: BTreeMap<(String, String), String>,
    customers: BTreeMap<JobId, Customer>,
    pins: BTreeMap<String, String>,
}

#[async_trait]
impl Beside for MemoryStore {
    async fn add_station(&self, station: Station) -> Result<(), StoreError> {
        let stations = &mut self.state().kept.stations;
        if stations.contains_key(&station.id) {
            return Err(StoreError::StationExists { id: station.id });
        }
        stations.insert(station.id.clone(), station);
        Ok(())
    }

    async fn station(&self, id: &str) -> Result<Option<Station>, StoreError> {
        Ok(self.state().kept.stations.get(id).cloned())
    }

    async fn stations(&self) -> Result<Vec<Station>, StoreError> {
        Ok(self.state().kept.stations.values().cloned().collect())
    }

    async fn revoke_station(&self, id: &str, at_us: i64) -> Result<(), StoreError> {
        match self.state().kept.stations.get_mut(id) {
            Some(station) => station.revoked_us = Some(station.revoked_us.unwrap_or(at_us)),
            None => return Err(StoreError::StationUnknown { id: id.into() }),
        }
        Ok(())
    }

    async fn readmit_station(&self, id: &str) -> Result<(), StoreError> {
        match self.state().kept.stations.get_mut(id) {
            Some(station) => station.revoked_us = None,
            None => return Err(StoreError::StationUnknown { id: id.into() }),
        }
        Ok(())
    }

    async fn put_person(&self, code: &str, name: &str, at_us: i64) -> Result<(), StoreError> {
        let person = Person { code: code.into(), name: Some(name.into()), listed_us: at_us, erased_us: None };
        self.state().kept.persons.insert(code.into(), person);
        Ok(())
    }

    async fn persons(&self) -> Result<Vec<Person>, StoreError> {
        Ok(self.state().kept.persons.values().cloned().collect())
    }

    async fn erase_person(&self, code: &str, at_us: i64) -> Result<(), StoreError> {
        let kept = &mut self.state().kept;
        kept.pins.remove(code);
        match kept.persons.get_mut(code) {
            Some(person) => {
                person.name = None;
                person.erased_us = Some(at_us);
            }
            None => return Err(StoreError::PersonUnknown { code: code.into() }),
        }
        Ok(())
    }

    async fn put_person_pin(&self, code: &str, phc: &str, _at_us: i64) -> Result<(), StoreError> {
        let kept = &mut self.state().kept;
        if kept.persons.get(code).is_none_or(|person| person.erased_us.is_some()) {
            return Err(StoreError::PersonUnknown { code: code.into() });
        }
        kept.pins.insert(code.into(), phc.into());
        Ok(())
    }

    async fn person_pin(&self, code: &str) -> Result<Option<String>, StoreError> {
        Ok(self.state().kept.pins.get(code).cloned())
    }

    async fn any_person_pin(&self) -> Result<bool, StoreError> {
        Ok(!self.state().kept.pins.is_empty())
    }

    async fn put_customer(&self, job: JobId, customer: &Customer, _at_us: i64) -> Result<(), StoreError> {
        self.state().kept.customers.insert(job, customer.clone());
        Ok(())
    }

    async fn customer(&self, job: JobId) -> Result<Option<Customer>, StoreError> {
        Ok(self.state().kept.customers.get(&job).cloned())
    }

    async fn jobs_of_customer(&self, name: &str) -> Result<Vec<JobId>, StoreError> {
        let wanted = plain(name);
        let state = self.state();
        let of_name = state.kept.customers.iter().filter(|(_, it)| plain(&it.name) == wanted);
        Ok(of_name.map(|(job, _)| *job).collect())
    }

    async fn erase_customer(&self, job: JobId, _at_us: i64) -> Result<(), StoreError> {
        self.state().kept.customers.remove(&job);
        Ok(())
    }

    async fn put_summary(&self, summary: JobSummary) -> Result<(), StoreError> {
        let summaries = &mut self.state().kept.summaries;
        if summaries.get(&summary.number).is_none_or(|known| known.seq <= summary.seq) {
            summaries.insert(summary.number, summary);
        }
        Ok(())
    }

    async fn summaries(&self, filter: &SummaryFilter, limit: usize) -> Result<Vec<JobSummary>, StoreError> {
        let wanted = SearchKeys::of_text(&filter.text);
        let wanted_customer = CustomerKeys::of_text(&filter.text);
        let state = self.state();
        let mut found: Vec<&JobSummary> = state
            .kept
            .summaries
            .values()
            .rev()
            .filter(|summary| {
                !(filter.open_only && summary.closed)
                    && (filter.text.trim().is_empty()
                        || SearchKeys::of_summary(summary).matches(&wanted)
                        || (filter.customers
                            && state.kept.customers.get(&summary.job_id).is_some_and(|customer| {
                                CustomerKeys::of(customer).matches(&wanted_customer)
                            })))
            })
            .collect();
        let by_rank = |place: SummaryPlace| (place.closed, place.rank);
        match filter.order {
            SummaryOrder::Newest { before } => {
                found.retain(|summary| before.is_none_or(|before| summary.number < before));
            }
            SummaryOrder::Rank { after } => {
                // Newest first already, and the sort is stable.
                found.sort_by_key(|summary| by_rank(summary.place()));
                if let Some(after) = after {
                    found.retain(|summary| match by_rank(summary.place()).cmp(&by_rank(after)) {
                        Ordering::Equal => summary.number < after.number,
                        order => order == Ordering::Greater,
                    });
                }
            }
        }
        Ok(found.into_iter().take(limit.min(PAGE_ROWS_MAX)).cloned().collect())
    }

    async fn stale_summaries(&self, after_seq: u64, limit: usize) -> Result<Vec<JobId>, StoreError> {
        let state = self.state();
        let jobs = state.jobs.iter().filter_map(|(job, _)| state.job(*job));
        let stale = jobs.filter(|job| {
            job.last_seq > after_seq
                && state.kept.summaries.get(&job.number).is_none_or(|summary| summary.seq != job.last_seq)
        });
        Ok(stale.map(|job| job.job_id).take(limit.min(PAGE_ROWS_MAX)).collect())
    }

    async fn summaries_of_vehicle(
        &self,
        (vin, plate): (&str, &str),
        before: JobNumber,
        limit: usize,
    ) -> Result<Vec<JobSummary>, StoreError> {
        let (vin, plate) = (bare(vin), bare(plate));
        let same = |key: &str, wanted: &str| !wanted.is_empty() && key == wanted;
        let state = self.state();
        let earlier = state.kept.summaries.range(..before).rev().map(|(_, summary)| summary);
        let found = earlier.filter(|summary| {
            let keys = SearchKeys::of_summary(summary);
            same(&keys.vin, &vin) || same(&keys.plate, &plate)
        });
        Ok(found.take(limit.min(PAGE_ROWS_MAX)).cloned().collect())
    }

    async fn accounts(&self) -> Result<Vec<(JobId, String)>, StoreError> {
        let state = self.state();
        let lines = state.kept.summaries.values();
        Ok(lines.map(|line| (line.job_id, line.account.clone())).collect())
    }

    async fn photo_extract(&self, digest: &str, edition: &str) -> Result<Option<String>, StoreError> {
        Ok(self.state().kept.photo_extracts.get(&(digest.into(), edition.into())).cloned())
    }

    async fn put_photo_extract(&self, digest: &str, edition: &str, extract: &str) -> Result<(), StoreError> {
        self.state().kept.photo_extracts.insert((digest.into(), edition.into()), extract.into());
        Ok(())
    }

    async fn setting(&self, key: &str) -> Result<Option<String>, StoreError> {
        Ok(self.state().kept.settings.get(key).cloned())
    }

    async fn put_setting(&self, key: &str, value: &str) -> Result<(), StoreError> {
        self.state().kept.settings.insert(key.into(), value.into());
        Ok(())
    }
}
