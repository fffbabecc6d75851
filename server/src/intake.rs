//! From the bytes a station sealed to what the journal takes, and from the journal's answer to the acknowledgement.
//!
//! A fact is never refused for being inconvenient: an unlisted person code, a second arrival or an entry for a closed
//! job is taken. Refused is what is outside its bounds, what another station or site made, and what is stated at the shop
//! server itself: its stations, persons and catalogue, and issued records. Called by the append handlers only.

use crate::access::Who;
use crate::convert::{signed, timestamp};
use crate::number;
use crate::signing;
use crate::status::Cause;
use crate::workshop::Workshop;
use prost::Message as _;
use standpipe_proto::Bytes;
use standpipe_proto::check::{CheckError, Violation, sealed_entry};
use standpipe_proto::kind::kind_name;
use standpipe_proto::v1::{
    Acknowledgement, Entry, Fact, Header, correction::Outcome, fact::Kind, header::Subject,
};
use standpipe_store::{Appended, EntryId, JobId, NewEntry};

// The store knows no other crate, so its bound is held against the one table here.
const _: () = assert!(standpipe_store::JOB_ENTRIES_MAX == standpipe_proto::limits::JOB_ENTRIES_MAX as u64);

/// Longest id that is repeated in a refusal.
const ENTRY_ID_LENGTH: usize = 36;

/// An entry that the journal may take.
#[derive(Debug)]
pub(crate) struct Taken {
    pub(crate) new: NewEntry,
    pub(crate) about: About,
}

/// What the acknowledgement needs to know of the entry.
#[derive(Debug)]
pub(crate) struct About {
    entry_id: EntryId,
    job: Option<JobId>,
    plate: Plate,
    /// Whether it is of a kind that may have to be signed.
    may_need_signature: bool,
}

impl About {
    /// The entry's id in its text form.
    pub(crate) fn entry_id(&self) -> String {
        self.entry_id.to_string()
    }
}

/// What an entry means for the plate of its job.
#[derive(Debug)]
enum Plate {
    /// Nothing.
    Untouched,
    /// It is stated.
    Arrived(String),
    /// It may have been put right.
    Corrected,
}

/// Checks sealed bytes and makes them ready for the journal.
///
/// # Errors
/// When anything is outside its bounds, or the entry is not this station's to send here.
pub(crate) fn take(workshop: &Workshop, who: &Who, sealed: Bytes) -> Result<Taken, Cause> {
    let entry = sealed_entry(&sealed)?;
    let unreadable = |what: &str| Cause::from(CheckError::Unreadable(what.to_owned()));
    let header = entry.header.ok_or_else(|| unreadable("it has no header"))?;
    let kind = entry.fact.and_then(|fact| fact.kind).ok_or_else(|| unreadable("it has no fact"))?;
    if header.station_id != who.station_id {
        let station = who.station_id.clone();
        return Err(Cause::StationMismatch { named: header.station_id, station });
    }
    let job = match &header.subject {
        Some(Subject::JobId(job)) => Some(JobId(uuid_bytes("header.job_id", job)?)),
        Some(Subject::SiteId(site)) if *site == workshop.site_id => None,
        Some(Subject::SiteId(site)) => {
            return Err(Cause::SiteMismatch { named: site.clone(), site: workshop.site_id.clone() });
        }
        None => return Err(unreadable("it belongs to no job and no site")),
    };
    if let Some(kind) = servers_own_kind(&kind) {
        return Err(Cause::KindNotPermitted { kind });
    }
    let fact = Fact { kind: Some(kind) };
    if let Some(kind) = kind_not_of(who, &fact) {
        return Err(who.may_not_state(kind));
    }
    let kind = fact.kind.ok_or_else(|| unreadable("it has no fact"))?;
    let opens_job = matches!(kind, Kind::Arrival(_));
    let new = new_entry(workshop, header, job, opens_job, sealed)?;
    let may_need_signature = signing::may_need(&kind);
    let about = About { entry_id: new.entry_id, job, plate: plate(kind), may_need_signature };
    Ok(Taken { new, about })
}

/// The id of an entry that was refused, if it can be read at all.
pub(crate) fn id_of_refused(sealed: &[u8]) -> String {
    let header = Entry::decode(sealed).ok().and_then(|entry| entry.header);
    header.map(|header| header.entry_id).filter(|id| id.len() <= ENTRY_ID_LENGTH).unwrap_or_default()
}

/// Says that the entry is on the disk, with number and plate of its job.
pub(crate) async fn acknowledge(workshop: &Workshop, about: About, appended: Appended) -> Acknowledgement {
    let (number, plate) = match (about.job, appended.job_number) {
        (Some(job), Some(job_number)) => {
            let known = match &about.plate {
                Plate::Arrived(plate) => workshop.label_of_new(job, job_number, plate),
                _ => None,
            };
            if known.is_none() && !matches!(about.plate, Plate::Untouched) {
                workshop.forget_label(job);
            }
            let label = match known {
                Some(label) => Ok(label),
                None => workshop.label(job).await,
            };
            match label {
                Ok(label) => (label.number.clone(), label.plate.clone()),
                // The entry is on the disk; that must be said even if the rest of the job cannot be read.
                Err(cause) => {
                    tracing::warn!(%job, %cause, "acknowledged without a plate");
                    (number::printed(&workshop.catalogue().now().prefix, job_number), String::new())
                }
            }
        }
        _ => (String::new(), String::new()),
    };
    let signature_needed = match about.job.filter(|_| about.may_need_signature) {
        Some(job) => signature_needed(workshop, job, &about.entry_id()).await,
        None => false,
    };
    Acknowledgement {
        entry_id: about.entry_id.to_string(),
        seq: signed(appended.seq),
        received_time: Some(timestamp(appended.received_us)),
        job_number: number,
        plate,
        repeated: appended.repeated,
        station_number_reused: appended.station_number_reused,
        signature_needed,
    }
}

/// Whether the entry has to be signed; where that cannot be told, the job's own answer tells it later.
async fn signature_needed(workshop: &Workshop, job: JobId, entry_id: &str) -> bool {
    let asked = async {
        match workshop.journal.job(job).await? {
            Some(row) => signing::waits(workshop, &row, entry_id).await,
            None => Ok(false),
        }
    };
    asked.await.unwrap_or_else(|cause: Cause| {
        tracing::warn!(%job, %cause, "acknowledged without saying whether it has to be signed");
        false
    })
}

fn new_entry(
    workshop: &Workshop,
    header: Header,
    job: Option<JobId>,
    opens_job: bool,
    sealed: Bytes,
) -> Result<NewEntry, Cause> {
    let station_epoch = crate::clock::unhex(&header.station_epoch)
        .ok_or_else(|| outside("header.station_epoch", "is not 32 hexadecimal digits"))?;
    let station_number =
        u64::try_from(header.station_number).map_err(|_| outside("header.station_number", "is below 1"))?;
    Ok(NewEntry {
        entry_id: EntryId(uuid_bytes("header.entry_id", &header.entry_id)?),
        job,
        opens_job,
        station: header.station_id,
        station_epoch,
        station_number,
        received_us: workshop.clock.now_us(),
        year: if opens_job { workshop.year() } else { 0 },
        bytes: sealed,
    })
}

fn plate(kind: Kind) -> Plate {
    match kind {
        Kind::Arrival(arrival) => Plate::Arrived(arrival.plate),
        Kind::Correction(correction) => match correction.outcome {
            Some(Outcome::Replacement(fact)) if !matches!(fact.kind, Some(Kind::Arrival(_))) => {
                Plate::Untouched
            }
            _ => Plate::Corrected,
        },
        _ => Plate::Untouched,
    }
}

/// The kind of a fact that the station may not state. A correction is of the kind of the fact that it gives; to withdraw
/// one, the station must be allowed corrections.
fn kind_not_of(who: &Who, fact: &Fact) -> Option<&'static str> {
    if who.kinds.is_empty() {
        return None;
    }
    let right = match &fact.kind {
        Some(Kind::Correction(correction)) => match &correction.outcome {
            Some(Outcome::Replacement(right)) => Some(&**right),
            _ => None,
        },
        _ => None,
    };
    let kind = kind_name(right.unwrap_or(fact))?;
    (!who.kinds.iter().any(|allowed| allowed == kind)).then_some(kind)
}

/// The kinds that only the server itself states; a correction puts no other fact in their place either.
fn servers_own_kind(kind: &Kind) -> Option<&'static str> {
    match kind {
        Kind::RecordIssued(_) => Some("record_issued"),
        Kind::Signature(_) => Some("signature"),
        Kind::Correction(correction) => match &correction.outcome {
            Some(Outcome::Replacement(fact)) => fact.kind.as_ref().and_then(servers_own_kind),
            _ => None,
        },
        Kind::StationEnrolled(_) => Some("station_enrolled"),
        Kind::PersonListed(_) => Some("person_listed"),
        Kind::CatalogueAdopted(_) => Some("catalogue_adopted"),
        _ => None,
    }
}

fn uuid_bytes(field: &str, text: &str) -> Result<[u8; 16], Cause> {
    let id = uuid::Uuid::try_parse(text).map_err(|_| outside(field, "is no UUID in its text form"))?;
    Ok(id.into_bytes())
}

fn outside(field: &str, what: &str) -> Cause {
    Cause::OutsideBounds(vec![Violation { field: field.to_owned(), what: what.to_owned() }])
}
