//! The book of who was let in and turned away, and the kinds of stations, in the same database. Changes go through the
//! writer.

use super::PostgresStore;
use super::read::Bound;
use crate::audit_book::{AUDIT_LINES_MAX, AuditBook, AuditLine};
use crate::change::Change;
use crate::error::StoreError;
use crate::row::{audit_line, kinds, signed};
use async_trait::async_trait;
use std::collections::BTreeMap;

/// Each site counts its own lines, so that each book is bounded by itself; one writer a site gives them.
const PUT: &str = "insert into audit (site, line, at_us, until_us, times, what, allowed, station, person, address, about) \
    select $1, coalesce(max(line), 0) + 1, $2, $3, $4, $5, $6, $7, $8, $9, $10 from audit where site = $1 \
    on conflict (site, at_us, what, allowed, station, person, address, about) do update set \
    times = audit.times + excluded.times, until_us = greatest(audit.until_us, excluded.until_us)";
const SINCE: &str = "select at_us, until_us, times, what, allowed, station, person, address, about from audit \
    where site = $1 and until_us >= $2 order by line desc limit $3";
/// An empty list stays as a row and means the same as none.
const SET_KINDS: &str = "insert into station_kinds (site, station_id, kinds) \
    select site, id, $3 from station where site = $1 and id = $2 \
    on conflict (site, station_id) do update set kinds = excluded.kinds";
const KINDS: &str = "select station_id, kinds from station_kinds where site = $1 and kinds <> ''";

pub(super) fn put(site: &str, line: AuditLine) -> Bound<'_> {
    sqlx::query(PUT)
        .bind(site)
        .bind(line.at_us)
        .bind(line.until_us)
        .bind(signed(line.times))
        .bind(line.what)
        .bind(i64::from(line.allowed))
        .bind(line.station)
        .bind(line.person)
        .bind(line.address)
        .bind(line.about)
}

pub(super) fn set_kinds<'q>(site: &'q str, station_id: String, kinds: &[String]) -> Bound<'q> {
    sqlx::query(SET_KINDS).bind(site).bind(station_id).bind(kinds.join(","))
}

#[async_trait]
impl AuditBook for PostgresStore {
    async fn put_audit(&self, line: AuditLine) -> Result<(), StoreError> {
        self.change(Change::PutAudit(line)).await.map(drop)
    }

    async fn audit_since(&self, since_us: i64) -> Result<Vec<AuditLine>, StoreError> {
        let most = i64::try_from(AUDIT_LINES_MAX).unwrap_or(i64::MAX);
        self.rows(self.of_site(SINCE).bind(since_us).bind(most), audit_line).await
    }

    async fn set_station_kinds(&self, station_id: &str, kinds: &[String]) -> Result<(), StoreError> {
        self.needs_station(station_id).await?;
        let (station_id, kinds) = (station_id.to_owned(), kinds.to_vec());
        self.change(Change::SetStationKinds { station_id, kinds }).await.map(drop)
    }

    async fn station_kinds(&self) -> Result<BTreeMap<String, Vec<String>>, StoreError> {
        Ok(self.rows(self.of_site(KINDS), kinds).await?.into_iter().collect())
    }
}
