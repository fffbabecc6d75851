//! What an owner's server keeps of those who forward, in the same file. Changes go through the writer.

use super::SqliteStore;
use super::insert::signed;
use super::read::Bound;
use crate::beside::Beside as _;
use crate::change::Change;
use crate::error::StoreError;
use crate::replica::{FORKS_OF_SITE_MAX, Fork, ForkBook};
use crate::row::{fork, two_texts};
use async_trait::async_trait;
use sqlx::SqliteConnection;
use std::collections::BTreeMap;

const STANDS_ANEW: &str = "delete from fork where of_site = ? and claimed_epoch = ? and claimed_size = ? \
    and claimed_root = ? and settled_us is not null";
const SEEN_AGAIN: &str = "update fork set last_us = max(last_us, ?) where of_site = ? \
    and claimed_epoch = ? and claimed_size = ? and claimed_root = ?";
const NOTE: &str = "insert into fork (of_site, first_us, last_us, station, here_size, here_root, claimed_epoch, \
    claimed_size, claimed_root, settled_us) values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)";
const DROP_OLDEST: &str = "delete from fork where of_site = ?1 and \
    (first_us, claimed_epoch, claimed_size, claimed_root) in \
    (select first_us, claimed_epoch, claimed_size, claimed_root from fork where of_site = ?1 \
        order by last_us desc, first_us desc, claimed_epoch desc, claimed_size desc, claimed_root desc \
        limit -1 offset ?2)";
const FORKS: &str = "select of_site, first_us, last_us, station, here_size, here_root, claimed_epoch, claimed_size, \
    claimed_root, settled_us from fork \
    order by last_us desc, first_us desc, of_site desc, claimed_epoch desc, claimed_size desc, claimed_root desc";
const SETTLE: &str =
    "update fork set settled_us = ? where of_site = ? and last_us < ? and settled_us is null";
const PUT_STATION_SITE: &str = "insert into station_site (station_id, of_site) \
    select id, ? from station where id = ? on conflict (station_id) do nothing";
const STATION_SITES: &str = "select station_id, of_site from station_site";

pub(super) async fn note(connection: &mut SqliteConnection, fork: Fork) -> Result<u64, sqlx::Error> {
    let (epoch, size, root) = (fork.claimed.0.to_vec(), signed(fork.claimed.1), fork.claimed.2.to_vec());
    let anew = sqlx::query(STANDS_ANEW).bind(fork.site.clone()).bind(epoch.clone());
    anew.bind(size).bind(root.clone()).execute(&mut *connection).await?;
    let again = sqlx::query(SEEN_AGAIN).bind(fork.last_us).bind(fork.site.clone());
    let again = again.bind(epoch.clone()).bind(size).bind(root.clone());
    let again = again.execute(&mut *connection).await?.rows_affected();
    if again > 0 {
        return Ok(again);
    }
    let noted = sqlx::query(NOTE)
        .bind(fork.site.clone())
        .bind(fork.first_us)
        .bind(fork.last_us)
        .bind(fork.station)
        .bind(signed(fork.here.0))
        .bind(fork.here.1.to_vec())
        .bind(epoch)
        .bind(size)
        .bind(root)
        .bind(fork.settled_us);
    let noted = noted.execute(&mut *connection).await?.rows_affected();
    let oldest = sqlx::query(DROP_OLDEST).bind(fork.site).bind(signed(FORKS_OF_SITE_MAX as u64));
    oldest.execute(connection).await?;
    Ok(noted)
}

pub(super) fn settle(site: String, seen_before_us: i64, at_us: i64) -> Bound<'static> {
    sqlx::query(SETTLE).bind(at_us).bind(site).bind(seen_before_us)
}

pub(super) fn put_station_site(station_id: String, site: String) -> Bound<'static> {
    sqlx::query(PUT_STATION_SITE).bind(site).bind(station_id)
}

#[async_trait]
impl ForkBook for SqliteStore {
    async fn note_fork(&self, fork: Fork) -> Result<(), StoreError> {
        self.change(Change::NoteFork(fork)).await.map(drop)
    }

    async fn forks(&self) -> Result<Vec<Fork>, StoreError> {
        self.rows(sqlx::query(FORKS), fork).await
    }

    async fn settle_forks(&self, site: &str, seen_before_us: i64, at_us: i64) -> Result<(), StoreError> {
        self.change(Change::SettleForks { site: site.into(), seen_before_us, at_us }).await.map(drop)
    }

    async fn put_station_site(&self, station_id: &str, site: &str) -> Result<(), StoreError> {
        if self.station(station_id).await?.is_none() {
            return Err(StoreError::StationUnknown { id: station_id.into() });
        }
        let (station_id, site) = (station_id.to_owned(), site.to_owned());
        self.change(Change::PutStationSite { station_id, site }).await.map(drop)
    }

    async fn station_sites(&self) -> Result<BTreeMap<String, String>, StoreError> {
        Ok(self.rows(sqlx::query(STATION_SITES), two_texts).await?.into_iter().collect())
    }
}
