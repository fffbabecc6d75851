//! What the page puts right, takes back, or has signed. Never here: whether an entry has to be signed, which the engine
//! says.

use super::super::Office;
use super::Bay;
use super::envelope::{Answered, is_own_person, line, read_body, reload};
use super::refused::Refused;
use super::state::{address, append, subject, taken};
use crate::audit::{Deed, Event};
use crate::door::Peer;
use crate::office::language::say;
use crate::rpc::station::to_sign_inside_bounds;
use crate::signing;
use axum::body::Body;
use axum::extract::{Path, State};
use axum::http::HeaderMap;
use axum::http::header::CONTENT_TYPE;
use axum::response::IntoResponse;
use serde::Deserialize;
use standpipe_proto::v1::{Correction, Fact, SignRequest, correction::Outcome, fact::Kind};
use standpipe_proto::words::ReadFact;
use standpipe_store::{EntryId, JobRow};
use std::sync::Arc;
use uuid::Uuid;

/// A signature as the page sends it.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Signed {
    entry_id: String,
    person: String,
    pin: String,
}

/// Takes a correction: the right fact in the place of an earlier one, or its withdrawal.
pub(super) async fn correct(
    State(office): State<Arc<Office>>,
    bay: Bay,
    Path(job): Path<String>,
    peer: Option<axum::Extension<Peer>>,
    headers: HeaderMap,
    body: Body,
) -> Result<impl IntoResponse, Refused> {
    let answered: Answered = read_body(&headers, body).await?;
    answered.check(&bay)?;
    let corrected_entry_id = answered.corrected_entry_id.clone();
    let corrected_entry_id = corrected_entry_id.ok_or_else(|| reload("it names no entry to put right"))?;
    let row = office.workshop.find(&job).await?;
    let kind = answered.kind()?;
    is_there(&office, &row, kind.is_of_site(), &corrected_entry_id).await?;
    let (outcome, as_typed, line) = if answered.withdrawn {
        if !answered.fields.is_empty() {
            return Err(reload("it withdraws an entry and states it anew at the same time"));
        }
        (Outcome::Withdrawn(true), Vec::new(), say!(bay_taken_back))
    } else {
        let read = answered.fact(kind)?;
        let line = line(&read);
        (Outcome::Replacement(Box::new(read.fact)), read.as_typed, line)
    };
    let correction =
        Correction { corrected_entry_id, reason: answered.reason.trim().to_owned(), outcome: Some(outcome) };
    let fact = Fact { kind: Some(Kind::Correction(Box::new(correction))) };
    let read = ReadFact { fact, as_typed, understood: Vec::new() };
    let sealed = answered.sealed(&bay, subject(&office, &row, kind), read);
    let kept = append(&office, &bay, address(peer), sealed).await?;
    Ok(taken(&line, &kept))
}

/// Requires that the entry is one of the job, or of the site.
async fn is_there(office: &Office, row: &JobRow, of_site: bool, entry_id: &str) -> Result<(), Refused> {
    let id = Uuid::try_parse(entry_id).map_err(|_| reload("the entry that it puts right has no id"))?;
    let entry = office.workshop.journal.entry(EntryId(id.into_bytes())).await?;
    let job = (!of_site).then_some(row.job_id);
    match entry {
        Some(entry) if entry.job == job => Ok(()),
        _ => Err(reload("the entry that it puts right is not there")),
    }
}

/// Takes a signature by PIN.
pub(super) async fn sign(
    State(office): State<Arc<Office>>,
    bay: Bay,
    Path(job): Path<String>,
    peer: Option<axum::Extension<Peer>>,
    headers: HeaderMap,
    body: Body,
) -> Result<impl IntoResponse, Refused> {
    let Signed { entry_id, person, pin } = read_body(&headers, body).await?;
    is_own_person(&bay, &person)?;
    let (workshop, address) = (&office.workshop, address(peer));
    // What a person does; an instrument, which states a few kinds by itself, has no person.
    if !bay.who.kinds.is_empty() {
        let station = bay.who.station_id.as_str();
        let event = Event { station, address, about: "signature", ..Event::refused(Deed::Kind) };
        workshop.audit.note(event).await;
        return Err(bay.who.may_not_state("signature").into());
    }
    let request = SignRequest { job, person_code: person, pin, entry_ids: vec![entry_id] };
    to_sign_inside_bounds(&request)?;
    let entry_ids = signing::sign(workshop, &bay.who, address, request).await?;
    let answer = serde_json::json!({ "line": say!(bay_signed), "entry_ids": entry_ids });
    Ok(([(CONTENT_TYPE, "application/json")], answer.to_string()))
}
