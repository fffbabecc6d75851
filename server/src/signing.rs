//! Signing by PIN: a person's decisions and corrections count once the shop server has seen the PIN.
//!
//! What has to be signed is the engine's to say ([`standpipe_engine::job::ToSign`]); that it was signed is a fact that
//! the server's own station states. Called by the handler of `Sign`; the pages state nothing that has to be signed.

use crate::access::Who;
use crate::audit::{Deed, Event};
use crate::pin::{Looked, Origin};
use crate::status::Cause;
use crate::workshop::Workshop;
use standpipe_engine::job::ToSign;
use standpipe_proto::v1::{SignRequest, Signature, fact::Kind};
use standpipe_store::JobRow;
use std::net::IpAddr;
use std::sync::Arc;

/// Most entries that one signature names, as its row in the table of bounds says.
const SIGNED_AT_ONCE_MAX: usize = 100;

/// Looks at the PIN and signs what the person may and must sign of what is named; nothing named: all that waits.
pub(crate) async fn sign(
    workshop: &Arc<Workshop>,
    who: &Who,
    address: Option<IpAddr>,
    request: SignRequest,
) -> Result<Vec<String>, Cause> {
    let SignRequest { job, person_code, pin, entry_ids } = request;
    let row = workshop.find_for(who, &job).await?;
    let number = workshop.printed(&row);
    let listed = is_listed(workshop, &person_code).await?;
    let event = Event {
        station: &who.station_id,
        person: if listed { &person_code } else { "" },
        address,
        about: &number,
        ..Event::refused(Deed::Sign)
    };
    let (now_us, origin) = (workshop.clock.now_us(), Origin::Station(&who.station_id));
    match workshop.pins.look(&*workshop.beside, (&person_code, origin), listed, pin, now_us).await? {
        Looked::Right { .. } => {}
        Looked::Wrong => {
            workshop.audit.note(event).await;
            return Err(Cause::PinNotGood);
        }
        Looked::TooOften { wait_seconds } => {
            workshop.audit.note(event).await;
            return Err(Cause::PinTriedTooOften { seconds: wait_seconds });
        }
        Looked::Busy | Looked::TooManyHere => return Err(Cause::PinsBusy),
    }
    let signed = stated(workshop, &row, &person_code, entry_ids).await;
    let about = match &signed {
        Ok(signed) => format!("{number} {}", signed.join(" ")),
        Err(_) => number.clone(),
    };
    workshop.audit.note(Event { allowed: signed.is_ok(), about: about.trim_end(), ..event }).await;
    signed
}

/// Whether a fact may have to be signed at all; whether it has to, its job says.
pub(crate) fn may_need(kind: &Kind) -> bool {
    matches!(kind, Kind::Decision(_) | Kind::Correction(_))
}

/// Whether an entry of a job waits for its signature now.
pub(crate) async fn waits(workshop: &Workshop, row: &JobRow, entry_id: &str) -> Result<bool, Cause> {
    // A workshop that never asked for signatures computes nothing here.
    if !workshop.catalogue().ever_signed() {
        return Ok(false);
    }
    Ok(to_sign(workshop, row).await?.iter().any(|it| it.entry_id == entry_id && it.waits()))
}

async fn is_listed(workshop: &Workshop, person_code: &str) -> Result<bool, Cause> {
    let persons = workshop.beside.persons().await?;
    Ok(persons.iter().any(|person| person.code == person_code && person.erased_us.is_none()))
}

async fn to_sign(workshop: &Workshop, row: &JobRow) -> Result<Vec<ToSign>, Cause> {
    let row = workshop.find(&row.job_id.to_string()).await?;
    Ok(workshop.computed(&row).await?.view.to_sign.clone())
}

/// States the signature; it goes on by itself when the caller goes away meanwhile.
async fn stated(
    workshop: &Arc<Workshop>,
    row: &JobRow,
    person_code: &str,
    named: Vec<String>,
) -> Result<Vec<String>, Cause> {
    let (workshop, row, person_code) = (Arc::clone(workshop), row.clone(), person_code.to_owned());
    let stating = tokio::spawn(async move {
        // The desk is held from the look to the signature, so that nothing is signed twice.
        let mut desk = workshop.desk.lock().await;
        // The code may have been somebody else's: whoever has it now signs nothing of theirs.
        let listed_at = desk.listed_at(&person_code).await?;
        let mut to_sign = to_sign(&workshop, &row).await?;
        to_sign.retain(|it| it.signed || it.seq > listed_at);
        let signed = chosen(&to_sign, &person_code, &named)?;
        for part in signed.chunks(SIGNED_AT_ONCE_MAX) {
            let signature = Signature { signed_entry_ids: part.to_vec() };
            desk.state_of_job(row.job_id, &person_code, Kind::Signature(signature)).await?;
        }
        Ok(signed)
    });
    stating.await.map_err(|error| Cause::internal("signing", &error))?
}

/// What is to be signed now. What is signed already is left out; what is not the person's or needs no signature is
/// refused, by one answer.
fn chosen(to_sign: &[ToSign], person_code: &str, named: &[String]) -> Result<Vec<String>, Cause> {
    let own = || to_sign.iter().filter(|it| it.person == person_code);
    if named.is_empty() {
        return Ok(own().filter(|it| it.waits()).map(|it| it.entry_id.clone()).collect());
    }
    let mut chosen: Vec<String> = Vec::new();
    for entry_id in named {
        let known = own().find(|it| it.entry_id == *entry_id);
        let known = known.ok_or_else(|| Cause::EntryNotToSign { entry_id: entry_id.clone() })?;
        if known.waits() && !chosen.contains(entry_id) {
            chosen.push(entry_id.clone());
        }
    }
    Ok(chosen)
}
