//! Stands in until each store does it.
use crate::entry::JobId;
use crate::error::StoreError;
use crate::replica::{Fork, ForkBook, Replica, ReplicaBatch, Replicated};
use crate::tallies::{Tallies, TallyBy, TallyFilter, TallyReached, TallyRow, TallySum};
use crate::{MemoryStore, PostgresStore, SqliteStore};
use async_trait::async_trait;
macro_rules! unmade { ($($store:ty),*) => { $(
#[async_trait]
impl Replica for $store {
    async fn replicate(&self, _: ReplicaBatch) -> Result<Replicated, StoreError> { Err(StoreError::Closed) }
}
#[async_trait]
impl ForkBook for $store {
    async fn note_fork(&self, _: Fork) -> Result<(), StoreError> { Err(StoreError::Closed) }
    async fn forks(&self) -> Result<Vec<Fork>, StoreError> { Err(StoreError::Closed) }
    async fn settle_forks(&self, _: &str, _: i64) -> Result<(), StoreError> { Err(StoreError::Closed) }
    async fn put_station_site(&self, _: &str, _: &str) -> Result<(), StoreError> { Err(StoreError::Closed) }
    async fn station_sites(&self) -> Result<std::collections::BTreeMap<String, String>, StoreError> { Err(StoreError::Closed) }
}
#[async_trait]
impl Tallies for $store {
    async fn put_tally_rows(&self, _: &str, _: Vec<TallyRow>, _: Option<(String, TallyReached)>) -> Result<(), StoreError> { Err(StoreError::Closed) }
    async fn tally_reached(&self, _: &str, _: &str) -> Result<Option<TallyReached>, StoreError> { Err(StoreError::Closed) }
    async fn tally_sums(&self, _: &str, _: (&str, &str), _: TallyBy, _: [i64; 3]) -> Result<Vec<TallySum>, StoreError> { Err(StoreError::Closed) }
    async fn tally_rows(&self, _: &str, _: &TallyFilter, _: usize) -> Result<Vec<TallyRow>, StoreError> { Err(StoreError::Closed) }
    async fn tally_rows_of_vehicles(&self, _: &str, _: &[String]) -> Result<Vec<TallyRow>, StoreError> { Err(StoreError::Closed) }
    async fn tally_row(&self, _: &str, _: &str, _: JobId) -> Result<Option<TallyRow>, StoreError> { Err(StoreError::Closed) }
    async fn drop_tally_editions_but(&self, _: &str) -> Result<(), StoreError> { Err(StoreError::Closed) }
}
)* } }
unmade!(MemoryStore, SqliteStore, PostgresStore);
