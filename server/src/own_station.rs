//! The server's own station: facts of the site that the server itself states, and issued records, sealed like any
//! other station's.
//!
//! Its id is `server`, and so is its person code where no person is named. Its epoch is drawn when the site is created and kept among the
//! settings; its numbers go on from the journal. Used by [`crate::Desk`] only.

use crate::clock::{Clock, Entropy, hex, sixteen, unhex};
use crate::convert::timestamp;
use crate::error::ServerError;
use prost::Message as _;
use standpipe_proto::check::{CheckError, Violation, sealed_entry};
use standpipe_proto::v1::{Entry, Fact, Header, fact::Kind, header::Subject};
use standpipe_store::{Beside, EntryId, Epoch, JobId, Journal, NewEntry, StoreError};

/// Id of the server's own station, and the person code in its entries.
pub const OWN_STATION: &str = "server";
const EPOCH_SETTING: &str = "own_station_epoch";

/// What the next entry of the server's own station needs.
#[derive(Debug)]
pub(crate) struct OwnStation {
    /// Over a copy of another server's journal, in which nothing is stated.
    silent: bool,
    site_id: String,
    epoch: Epoch,
    last_number: u64,
    boot_id: Epoch,
    started_us: i64,
}

impl OwnStation {
    /// Draws the epoch of a new site.
    pub(crate) async fn create(beside: &dyn Beside, entropy: &dyn Entropy) -> Result<(), ServerError> {
        Ok(beside.put_setting(EPOCH_SETTING, &hex(&sixteen(entropy)?)).await?)
    }

    /// Finds out where its numbers go on.
    pub(crate) async fn open(
        journal: &dyn Journal,
        beside: &dyn Beside,
        clock: &dyn Clock,
        entropy: &dyn Entropy,
    ) -> Result<Self, ServerError> {
        let epoch = beside.setting(EPOCH_SETTING).await?.and_then(|text| unhex(&text));
        let epoch = epoch.ok_or_else(|| StoreError::Damaged {
            seq: None,
            job_number: None,
            what: format!("the setting {EPOCH_SETTING} is missing or unreadable"),
        })?;
        let last_number = journal.station_last_number(OWN_STATION, epoch).await?;
        let site_id = journal.head().await?.site;
        let (silent, started_us) = (false, clock.now_us());
        Ok(Self { silent, site_id, epoch, last_number, boot_id: sixteen(entropy)?, started_us })
    }

    /// Stands where a station would in a copy of another server's journal; whatever it is asked to state is refused.
    pub(crate) fn silent(site_id: String) -> Self {
        let (epoch, boot_id) = ([0; 16], [0; 16]);
        Self { silent: true, site_id, epoch, last_number: 0, boot_id, started_us: 0 }
    }

    /// Seals a fact of the site and appends it; it is on the disk when this returns.
    ///
    /// # Errors
    /// When the fact is outside its bounds or the journal refuses it.
    pub(crate) async fn state(
        &mut self,
        person_code: &str,
        kind: Kind,
        journal: &dyn Journal,
        clock: &dyn Clock,
        entropy: &dyn Entropy,
    ) -> Result<(), ServerError> {
        let about = About { job: None, entry_id: Self::new_id(clock, entropy)?, person_code };
        self.append(about, kind, journal, clock).await
    }

    /// A new identity, a UUID of version 7 (RFC 9562).
    pub(crate) fn new_id(clock: &dyn Clock, entropy: &dyn Entropy) -> Result<EntryId, ServerError> {
        let mut random = [0; 10];
        entropy.fill(&mut random)?;
        let millis = u64::try_from(clock.now_us() / 1000).unwrap_or_default();
        let id = uuid::Builder::from_unix_timestamp_millis(millis, &random).into_uuid();
        Ok(EntryId(id.into_bytes()))
    }

    /// Seals a fact that a person states at the server itself and appends it; it is on the disk when this returns.
    ///
    /// # Errors
    /// When the fact is outside its bounds or the journal refuses it.
    pub(crate) async fn append(
        &mut self,
        about: About<'_>,
        kind: Kind,
        journal: &dyn Journal,
        clock: &dyn Clock,
    ) -> Result<(), ServerError> {
        if self.silent {
            return Err(StoreError::OpenedForReading.into());
        }
        let now_us = clock.now_us();
        let number = self.last_number + 1;
        let subject = match about.job {
            Some(job) => Subject::JobId(job.to_string()),
            None => Subject::SiteId(self.site_id.clone()),
        };
        let entry = Entry {
            header: Some(Header {
                entry_id: about.entry_id.to_string(),
                subject: Some(subject),
                station_id: OWN_STATION.to_owned(),
                station_epoch: hex(&self.epoch),
                station_number: i64::try_from(number).unwrap_or(i64::MAX),
                person_code: about.person_code.to_owned(),
                station_time: Some(timestamp(now_us)),
                monotonic_microseconds: now_us.saturating_sub(self.started_us).max(0),
                boot_id: hex(&self.boot_id),
                done_time: None,
                as_typed: Vec::new(),
            }),
            fact: Some(Fact { kind: Some(kind) }),
        };
        let sealed = entry.encode_to_vec();
        sealed_entry(&sealed).map_err(outside)?;
        let new = NewEntry {
            entry_id: about.entry_id,
            job: about.job,
            opens_job: false,
            station: OWN_STATION.to_owned(),
            station_epoch: self.epoch,
            station_number: number,
            received_us: now_us,
            year: 0,
            bytes: sealed.into(),
        };
        // Given away before the journal is asked: a caller who stops waiting does not get it given twice.
        self.last_number = number;
        let appended = journal.append(new).await;
        if appended.is_err() {
            self.last_number = number - 1;
        }
        Ok(appended.map(drop)?)
    }
}

/// Whose fact is stated, under which identity.
#[derive(Debug, Clone, Copy)]
pub(crate) struct About<'a> {
    /// The job; none for a fact of the site.
    pub(crate) job: Option<JobId>,
    /// Identity of the entry.
    pub(crate) entry_id: EntryId,
    /// Who states it.
    pub(crate) person_code: &'a str,
}

/// What the check of a value that a person gave to a verb says, without the path inside the message.
fn outside(error: CheckError) -> ServerError {
    ServerError::OutsideBounds(match error {
        CheckError::Outside(violations) => violations
            .into_iter()
            .map(|Violation { field, what }| Violation {
                field: field.rsplit('.').next().unwrap_or_default().to_owned(),
                what,
            })
            .collect(),
        other => vec![Violation { field: "entry".to_owned(), what: other.to_string() }],
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::clock::{SystemClock, SystemEntropy};
    use standpipe_proto::v1::PersonListed;
    use standpipe_store::SqliteStore;

    #[tokio::test]
    async fn a_caller_who_stops_waiting_does_not_get_a_number_given_twice() {
        let home = tempfile::tempdir().unwrap();
        let path = home.path().join("standpipe.db");
        let store = SqliteStore::create(&path, "site", [1; 16]).await.unwrap();
        OwnStation::create(&store, &SystemEntropy).await.unwrap();
        let (clock, entropy) = (SystemClock, SystemEntropy);
        let mut station = OwnStation::open(&store, &store, &clock, &entropy).await.unwrap();
        let listed = |code: &str| {
            Kind::PersonListed(PersonListed { listed_person_code: code.to_owned(), removed: false })
        };
        tokio::select! {
            biased;
            // The entry is in the journal before its answer is out.
            _ = store.grown_beyond(0) => {}
            _ = station.state(OWN_STATION, listed("A"), &store, &clock, &entropy) => panic!("it was waited for"),
        }
        station.state(OWN_STATION, listed("B"), &store, &clock, &entropy).await.unwrap();
        let numbers = store.read(1, 9).await.unwrap();
        assert_eq!(numbers.iter().map(|entry| entry.station_number).collect::<Vec<_>>(), [1, 2]);
        store.close().await.unwrap();
    }
}
