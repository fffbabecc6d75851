//! The book of who was let in and turned away, and the kinds of stations, in the same file. Changes go through the writer.

use super::SqliteStore;
use super::insert::signed;
use super::read::Bound;
use crate::audit_book::{AUDIT_LINES_MAX, AuditBook, AuditLine};
use crate::beside::Beside as _;
use crate::change::Change;
use crate::error::StoreError;
use crate::row::{audit_line, kinds};
use async_trait::async_trait;
use std::collections::BTreeMap;

const PUT: &str = "insert into audit (at_us, until_us, times, what, allowed, station, person, address, about) \
    values (?, ?, ?, ?, ?, ?, ?, ?, ?) \
    on conflict (at_us, what, allowed, station, person, address, about) do update set \
    times = times + excluded.times, until_us = max(until_us, excluded.until_us)";
const SINCE: &str = "select at_us, until_us, times, what, allowed, station, person, address, about from audit \
    where until_us >= ? order by line desc limit ?";
/// An empty list stays as a row and means the same as none.
const SET_KINDS: &str = "insert into station_kinds (station_id, kinds) select id, ? from station where id = ? \
    on conflict (station_id) do update set kinds = excluded.kinds";
const KINDS: &str = "select station_id, kinds from station_kinds where kinds <> ''";

pub(super) fn put(line: AuditLine) -> Bound<'static> {
    sqlx::query(PUT)
        .bind(line.at_us)
        .bind(line.until_us)
        .bind(signed(line.times))
        .bind(line.what)
        .bind(line.allowed)
        .bind(line.station)
        .bind(line.person)
        .bind(line.address)
        .bind(line.about)
}

pub(super) fn set_kinds(station_id: String, kinds: &[String]) -> Bound<'static> {
    sqlx::query(SET_KINDS).bind(kinds.join(",")).bind(station_id)
}

#[async_trait]
impl AuditBook for SqliteStore {
    async fn put_audit(&self, line: AuditLine) -> Result<(), StoreError> {
        self.change(Change::PutAudit(line)).await.map(drop)
    }

    async fn audit_since(&self, since_us: i64) -> Result<Vec<AuditLine>, StoreError> {
        let most = i64::try_from(AUDIT_LINES_MAX).unwrap_or(i64::MAX);
        self.rows(sqlx::query(SINCE).bind(since_us).bind(most), audit_line).await
    }

    async fn set_station_kinds(&self, station_id: &str, kinds: &[String]) -> Result<(), StoreError> {
        if self.station(station_id).await?.is_none() {
            return Err(StoreError::StationUnknown { id: station_id.into() });
        }
        let (station_id, kinds) = (station_id.to_owned(), kinds.to_vec());
        self.change(Change::SetStationKinds { station_id, kinds }).await.map(drop)
    }

    async fn station_kinds(&self) -> Result<BTreeMap<String, Vec<String>>, StoreError> {
        Ok(self.rows(sqlx::query(KINDS), kinds).await?.into_iter().collect())
    }
}
