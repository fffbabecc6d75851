//! What an owner's server keeps of those who forward, in the same database. Changes go through the writer.

use super::PostgresStore;
use super::read::Bound;
use crate::change::Change;
use crate::error::StoreError;
use crate::replica::{FORKS_OF_SITE_MAX, Fork, ForkBook};
use crate::row::{fork, signed, two_texts};
use async_trait::async_trait;
use sqlx::PgConnection;
use std::collections::BTreeMap;

const STANDS_ANEW: &str = "delete from fork where site = $1 and of_site = $2 and claimed_epoch = $3 \
    and claimed_size = $4 and claimed_root = $5 and settled_us is not null";
const SEEN_AGAIN: &str = "update fork set last_us = greatest(last_us, $3) where site = $1 \
    and of_site = $2 and claimed_epoch = $4 and claimed_size = $5 and claimed_root = $6";
const NOTE: &str = "insert into fork (site, of_site, first_us, last_us, station, here_size, here_root, claimed_epoch, \
    claimed_size, claimed_root, settled_us) values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)";
const DROP_OLDEST: &str = "delete from fork where site = $1 and of_site = $2 and \
    (first_us, claimed_epoch, claimed_size, claimed_root) in \
    (select first_us, claimed_epoch, claimed_size, claimed_root from fork where site = $1 and of_site = $2 \
        order by last_us desc, first_us desc, claimed_epoch desc, claimed_size desc, claimed_root desc offset $3)";
const FORKS: &str = "select of_site, first_us, last_us, station, here_size, here_root, claimed_epoch, claimed_size, \
    claimed_root, settled_us from fork where site = $1 \
    order by last_us desc, first_us desc, of_site desc, claimed_epoch desc, claimed_size desc, claimed_root desc";
const SETTLE: &str = "update fork set settled_us = $3 where site = $1 and of_site = $2 and last_us < $4 and settled_us is null";
const PUT_STATION_SITE: &str = "insert into station_site (site, station_id, of_site) \
    select site, id, $3 from station where site = $1 and id = $2 on conflict (site, station_id) do nothing";
const STATION_SITES: &str = "select station_id, of_site from station_site where site = $1";

pub(super) async fn note(connection: &mut PgConnection, site: &str, fork: Fork) -> Result<u64, sqlx::Error> {
    let (epoch, size, root) = (fork.claimed.0, signed(fork.claimed.1), fork.claimed.2);
    let anew = sqlx::query(STANDS_ANEW).bind(site).bind(fork.site.clone()).bind(epoch);
    anew.bind(size).bind(root).execute(&mut *connection).await?;
    let again = sqlx::query(SEEN_AGAIN).bind(site).bind(fork.site.clone()).bind(fork.last_us);
    let again = again.bind(epoch).bind(size).bind(root).execute(&mut *connection).await?.rows_affected();
    if again > 0 {
        return Ok(again);
    }
    let noted = sqlx::query(NOTE)
        .bind(site)
        .bind(fork.site.clone())
        .bind(fork.first_us)
        .bind(fork.last_us)
        .bind(fork.station)
        .bind(signed(fork.here.0))
        .bind(fork.here.1)
        .bind(epoch)
        .bind(size)
        .bind(root)
        .bind(fork.settled_us);
    let noted = noted.execute(&mut *connection).await?.rows_affected();
    let oldest = sqlx::query(DROP_OLDEST).bind(site).bind(fork.site).bind(signed(FORKS_OF_SITE_MAX as u64));
    oldest.execute(connection).await?;
    Ok(noted)
}

pub(super) fn settle(site: &str, of_site: String, seen_before_us: i64, at_us: i64) -> Bound<'_> {
    sqlx::query(SETTLE).bind(site).bind(of_site).bind(at_us).bind(seen_before_us)
}

pub(super) fn put_station_site(site: &str, station_id: String, of_site: String) -> Bound<'_> {
    sqlx::query(PUT_STATION_SITE).bind(site).bind(station_id).bind(of_site)
}

#[async_trait]
impl ForkBook for PostgresStore {
    async fn note_fork(&self, fork: Fork) -> Result<(), StoreError> {
        self.change(Change::NoteFork(fork)).await.map(drop)
    }

    async fn forks(&self) -> Result<Vec<Fork>, StoreError> {
        self.rows(self.of_site(FORKS), fork).await
    }

    async fn settle_forks(&self, site: &str, seen_before_us: i64, at_us: i64) -> Result<(), StoreError> {
        self.change(Change::SettleForks { site: site.into(), seen_before_us, at_us }).await.map(drop)
    }

    async fn put_station_site(&self, station_id: &str, site: &str) -> Result<(), StoreError> {
        self.needs_station(station_id).await?;
        let (station_id, site) = (station_id.to_owned(), site.to_owned());
        self.change(Change::PutStationSite { station_id, site }).await.map(drop)
    }

    async fn station_sites(&self) -> Result<BTreeMap<String, String>, StoreError> {
        Ok(self.rows(self.of_site(STATION_SITES), two_texts).await?.into_iter().collect())
    }
}
