//! The station behind the office pages: facts that a person states on a page, sealed like any other station's.
//!
//! Its id is `office-desk`. Its epoch is drawn once for each epoch of the journal and kept among the settings; its numbers go
//! on from the journal. What it seals passes the same check as what a bay sends.

use super::{Office, paper};
use crate::access::{Role, Who};
use crate::clock::{Entropy, hex, sixteen, unhex};
use crate::convert::timestamp;
use crate::error::ServerError;
use crate::intake::{self, Taken};
use crate::record;
use crate::status::Cause;
use crate::workshop::Workshop;
use prost::Message as _;
use standpipe_proto::v1::{
    Acknowledgement, AsTyped, Entry, Fact, Handover, Header, fact::Kind, header::Subject,
};
use standpipe_store::{Customer, EntryId, Epoch, JobId, JobRow};
use std::sync::Arc;
use tokio::sync::Mutex;
use uuid::Uuid;

/// Id of the station behind the office pages.
pub const OFFICE_STATION: &str = "office-desk";
const EPOCH_SETTING: &str = "office_station_epoch";

/// A fact that a person states on a page.
pub(super) struct Statement {
    /// The job or the site that it is about.
    pub(super) subject: Subject,
    /// Identity of its entry.
    pub(super) entry_id: EntryId,
    /// What is stated.
    pub(super) kind: Kind,
    /// Its numbers as they were typed.
    pub(super) as_typed: Vec<AsTyped>,
}

/// What became of a statement.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[must_use]
pub(super) enum StatedOnce {
    /// It is in the journal, from now or from an earlier sending of the same form.
    Stated,
    /// Its identity belongs to something else that was stated, so that nothing was stated now.
    IdentityUsed,
}

/// What the next entry of the office pages needs.
pub(super) struct OfficeStation {
    who: Arc<Who>,
    epoch: Epoch,
    boot_id: Epoch,
    started_us: i64,
    last_number: Mutex<u64>,
}

impl OfficeStation {
    /// Finds out where its numbers go on; draws its epoch if it never spoke.
    pub(super) async fn open(workshop: &Workshop, entropy: &dyn Entropy) -> Result<Self, ServerError> {
        let journal = hex(&workshop.journal.head().await?.epoch);
        let kept = workshop.beside.setting(EPOCH_SETTING).await?;
        let kept = kept.as_deref().and_then(|text| text.split_once(' '));
        // In a restored site numbers may go on differently from what was lost, so there they begin anew.
        let epoch = match kept.filter(|(of, _)| *of == journal).and_then(|(_, epoch)| unhex(epoch)) {
            Some(epoch) => epoch,
            None => {
                let drawn = sixteen(entropy)?;
                workshop.beside.put_setting(EPOCH_SETTING, &format!("{journal} {}", hex(&drawn))).await?;
                drawn
            }
        };
        let last_number = workshop.journal.station_last_number(OFFICE_STATION, epoch).await?;
        let id = OFFICE_STATION.to_owned();
        Ok(Self {
            // It shows no token, so none of it ends.
            who: Arc::new(Who {
                name: id.clone(),
                station_id: id,
                role: Role::Office,
                kinds: Vec::new(),
                created_us: 0,
                token: [0; 32],
                token_created_us: 0,
                token_ends_us: None,
                taken_back_before: 0,
            }),
            epoch,
            boot_id: sixteen(entropy)?,
            started_us: workshop.clock.now_us(),
            last_number: Mutex::new(last_number),
        })
    }

    /// Who states what is stated on the pages.
    pub(super) fn who(&self) -> Arc<Who> {
        Arc::clone(&self.who)
    }

    /// Seals facts that open a job and appends them in their order, and writes its customer; all is on the disk when this
    /// returns. What was stated before is not stated again, so that a form sent twice opens one job, and one that was
    /// cut off halfway is completed. It goes on by itself when the browser goes away meanwhile.
    pub(super) async fn open_job(
        office: &Arc<Office>,
        job: JobId,
        person_code: &str,
        facts: Vec<Kind>,
        customer: Option<Customer>,
    ) -> Result<(), Cause> {
        let (office, person_code) = (Arc::clone(office), person_code.to_owned());
        let opening = tokio::spawn(async move {
            office.station.state(&office, job, &person_code, facts).await?;
            if let Some(customer) = customer {
                office.workshop.beside.put_customer(job, &customer, office.now_us()).await?;
                office.workshop.change_beside();
            }
            Ok(())
        });
        opening.await.map_err(|error| Cause::internal("opening a job", &error))?
    }

    /// States that the vehicle and the last edition of its record were handed over, once: a form that is sent again, or
    /// names another edition than the last one, states nothing.
    pub(super) async fn hand_over(
        office: &Arc<Office>,
        row: &JobRow,
        person_code: &str,
        edition: i32,
    ) -> Result<(), Cause> {
        let (office, row, person_code) = (Arc::clone(office), row.clone(), person_code.to_owned());
        let handing_over = tokio::spawn(async move {
            let workshop = &*office.workshop;
            let mut last_number = office.station.last_number.lock().await;
            let last = record::last_issued(&workshop.journal.read_job(row.job_id).await?);
            let view = workshop.computed(&workshop.find(&row.job_id.to_string()).await?).await?;
            let is_last = last.is_some_and(|last| last.edition == edition);
            if !is_last || !view.view.head.closed || !paper::waits_for_handover(&view.view) {
                return Ok(());
            }
            let kind = Kind::Handover(Handover { edition });
            let statement = office.new_statement(row.job_id, kind)?;
            office.station.append(&office, &person_code, &mut last_number, statement).await
        });
        handing_over.await.map_err(|error| Cause::internal("handing a vehicle over", &error))?
    }

    /// States one fact, once: a form that is sent again has the identity and the content of the entry that is there. It
    /// goes on by itself when the browser goes away meanwhile.
    pub(super) async fn state_once(
        office: &Arc<Office>,
        person_code: &str,
        statement: Statement,
    ) -> Result<StatedOnce, Cause> {
        let (office, person_code) = (Arc::clone(office), person_code.to_owned());
        let stating = tokio::spawn(async move {
            let mut last_number = office.station.last_number.lock().await;
            if let Some(stored) = office.workshop.journal.entry(statement.entry_id).await? {
                return Ok(if statement.is_said_by(&stored.bytes) {
                    StatedOnce::Stated
                } else {
                    StatedOnce::IdentityUsed
                });
            }
            office.station.append(&office, &person_code, &mut last_number, statement).await?;
            Ok(StatedOnce::Stated)
        });
        stating.await.map_err(|error| Cause::internal("stating a fact", &error))?
    }

    async fn state(
        &self,
        office: &Office,
        job: JobId,
        person_code: &str,
        facts: Vec<Kind>,
    ) -> Result<(), Cause> {
        let workshop = &*office.workshop;
        // Numbers are given one after the other, so the last one is held until the journal has answered.
        let mut last_number = self.last_number.lock().await;
        let stated = match workshop.journal.job(job).await? {
            Some(_) => {
                workshop.journal.read_job(job).await?.iter().filter(|it| it.station == OFFICE_STATION).count()
            }
            None => 0,
        };
        for kind in facts.into_iter().skip(stated) {
            let statement = office.new_statement(job, kind)?;
            self.append(office, person_code, &mut last_number, statement).await?;
        }
        Ok(())
    }

    async fn append(
        &self,
        office: &Office,
        person_code: &str,
        last_number: &mut u64,
        statement: Statement,
    ) -> Result<(), Cause> {
        let workshop = &*office.workshop;
        let number = *last_number + 1;
        let sealed = self.seal(office, person_code, number, statement);
        let Taken { new, about } = intake::take(workshop, &self.who, sealed.into())?;
        let appended = workshop.journal.append(new).await?;
        *last_number = number;
        let _: Acknowledgement = intake::acknowledge(workshop, about, appended).await;
        Ok(())
    }

    fn seal(&self, office: &Office, person_code: &str, number: u64, statement: Statement) -> Vec<u8> {
        let now_us = office.now_us();
        let entry = Entry {
            header: Some(Header {
                entry_id: statement.entry_id.to_string(),
                subject: Some(statement.subject),
                station_id: OFFICE_STATION.to_owned(),
                station_epoch: hex(&self.epoch),
                station_number: crate::convert::signed(number),
                person_code: person_code.to_owned(),
                station_time: Some(timestamp(now_us)),
                monotonic_microseconds: now_us.saturating_sub(self.started_us).max(0),
                boot_id: hex(&self.boot_id),
                done_time: None,
                as_typed: statement.as_typed,
            }),
            fact: Some(Fact { kind: Some(statement.kind) }),
        };
        entry.encode_to_vec()
    }
}

impl Statement {
    /// Whether an entry of the journal says the same of the same.
    fn is_said_by(&self, bytes: &[u8]) -> bool {
        let Ok(Entry { header: Some(header), fact: Some(fact) }) = Entry::decode(bytes) else { return false };
        header.subject.as_ref() == Some(&self.subject)
            && header.as_typed == self.as_typed
            && fact.kind.as_ref() == Some(&self.kind)
    }
}

impl Office {
    /// A fact of a job with a new identity.
    fn new_statement(&self, job: JobId, kind: Kind) -> Result<Statement, Cause> {
        let entry_id = EntryId(new_id(self.now_us(), &*self.entropy)?.into_bytes());
        Ok(Statement { subject: Subject::JobId(job.to_string()), entry_id, kind, as_typed: Vec::new() })
    }
}

/// A new identity, a UUID of version 7 (RFC 9562).
pub(super) fn new_id(now_us: i64, entropy: &dyn Entropy) -> Result<Uuid, Cause> {
    let mut random = [0; 10];
    entropy.fill(&mut random).map_err(|error| Cause::internal("drawing an identity", &error))?;
    let millis = u64::try_from(now_us / 1000).unwrap_or_default();
    Ok(uuid::Builder::from_unix_timestamp_millis(millis, &random).into_uuid())
}

#[cfg(test)]
mod tests {
    use crate::office::OFFICE_STATION;
    use crate::office::Office;
    use crate::office::station::{OfficeStation, new_id};
    use crate::tests::{Shop, arrival};
    use standpipe_proto::v1::{self, fact::Kind, vin_reading::Reading};
    use standpipe_store::{Customer, JobId};

    #[tokio::test]
    async fn a_job_is_opened_whole_though_the_browser_goes_away() {
        let shop = Shop::found().await;
        let workshop = shop.workshop().await;
        let office = std::sync::Arc::new(Office::of(&workshop).await.unwrap());
        let job = JobId(new_id(office.now_us(), &*office.entropy).unwrap().into_bytes());
        let reading = Some(Reading::Vin("AZTWA8MZ3LA038412".into()));
        let vin = v1::VinReading { reading, source: v1::VinSource::Papers.into() };
        let facts = || vec![arrival("AB 123"), Kind::VinReading(vin.clone())];
        let customer = || Some(Customer { name: "Customer C".into(), telephone: String::new() });
        let reached = workshop.journal.head().await.unwrap().seq;
        tokio::select! {
            biased;
            _ = workshop.journal.grown_beyond(reached) => {}
            _ = OfficeStation::open_job(&office, job, "A", facts(), customer()) => panic!("it was waited for"),
        }
        // Another job, which waits for its turn behind the first.
        let other = JobId(new_id(office.now_us(), &*office.entropy).unwrap().into_bytes());
        OfficeStation::open_job(&office, other, "A", vec![arrival("CD 456")], None).await.unwrap();
        let entries = workshop.journal.read(1, 100).await.unwrap();
        let own = entries.iter().filter(|entry| entry.station == OFFICE_STATION);
        let own: Vec<_> = own.map(|entry| (entry.job, entry.station_number)).collect();
        assert_eq!(own, [(Some(job), 1), (Some(job), 2), (Some(other), 3)]);
        OfficeStation::open_job(&office, job, "A", facts(), customer()).await.unwrap();
        assert_eq!(workshop.journal.read_job(job).await.unwrap().len(), 2);
        assert_eq!(workshop.beside.customer(job).await.unwrap(), customer());
        workshop.journal.close().await.unwrap();
    }
}
