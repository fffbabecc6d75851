//! The book of who was let in and turned away, and the kinds of stations, in plain lists.

use super::MemoryStore;
use crate::audit_book::{AUDIT_LINES_MAX, AuditBook, AuditLine};
use crate::error::StoreError;
use async_trait::async_trait;
use std::collections::{BTreeMap, VecDeque};

/// The lists.
#[derive(Debug, Default)]
pub(super) struct KeptAudit {
    lines: VecDeque<AuditLine>,
    kinds: BTreeMap<String, Vec<String>>,
}

#[async_trait]
impl AuditBook for MemoryStore {
    async fn put_audit(&self, line: AuditLine) -> Result<(), StoreError> {
        let lines = &mut self.state().audit.lines;
        let same = |known: &&mut AuditLine| {
            **known == AuditLine { until_us: known.until_us, times: known.times, ..line.clone() }
        };
        match lines.iter_mut().find(same) {
            Some(known) => {
                known.times += line.times;
                known.until_us = known.until_us.max(line.until_us);
            }
            None => {
                lines.push_back(line);
                if lines.len() > AUDIT_LINES_MAX {
                    lines.pop_front();
                }
            }
        }
        Ok(())
    }

    async fn audit_since(&self, since_us: i64) -> Result<Vec<AuditLine>, StoreError> {
        let state = self.state();
        let since = state.audit.lines.iter().rev().filter(|line| line.until_us >= since_us);
        Ok(since.cloned().collect())
    }

    async fn set_station_kinds(&self, station_id: &str, kinds: &[String]) -> Result<(), StoreError> {
        let state = &mut self.state();
        if !state.kept.stations.contains_key(station_id) {
            return Err(StoreError::StationUnknown { id: station_id.into() });
        }
        state.audit.kinds.insert(station_id.into(), kinds.to_vec());
        Ok(())
    }

    async fn station_kinds(&self) -> Result<BTreeMap<String, Vec<String>>, StoreError> {
        let state = self.state();
        let limited = state.audit.kinds.iter().filter(|(_, kinds)| !kinds.is_empty());
        Ok(limited.map(|(station, kinds)| (station.clone(), kinds.clone())).collect())
    }
}
