//! Answers of the page become entries of the journal, as what any station sends does. Never here: what is asked.

use super::super::Office;
use super::Bay;
use super::envelope::{Answered, line, read_body, reload};
use super::refused::Refused;
use crate::convert::signed;
use crate::door::Peer;
use crate::intake::{self, Taken};
use crate::rpc::journal::note_refused;
use crate::status::{Cause, Overload};
use axum::body::Body;
use axum::extract::{Path, State};
use axum::http::HeaderMap;
use axum::http::header::CONTENT_TYPE;
use axum::response::IntoResponse;
use prost::Message as _;
use standpipe_proto::Bytes;
use standpipe_proto::v1::{Acknowledgement, Entry, header::Subject};
use standpipe_proto::words::descriptor::KindWords;
use standpipe_store::{EntryId, JobRow, StoreError};
use std::net::IpAddr;
use std::sync::Arc;
use std::time::Instant;
use uuid::Uuid;

/// Takes one answer.
pub(super) async fn state(
    State(office): State<Arc<Office>>,
    bay: Bay,
    Path(job): Path<String>,
    peer: Option<axum::Extension<Peer>>,
    headers: HeaderMap,
    body: Body,
) -> Result<impl IntoResponse, Refused> {
    let answered: Answered = read_body(&headers, body).await?;
    answered.check(&bay)?;
    if answered.corrected_entry_id.is_some() {
        return Err(reload("it puts another entry right"));
    }
    let row = office.workshop.find(&job).await?;
    let kind = answered.kind()?;
    let read = answered.fact(kind)?;
    let line = line(&read);
    let sealed = answered.sealed(&bay, subject(&office, &row, kind), read);
    let kept = append(&office, &bay, address(peer), sealed).await?;
    Ok(taken(&line, &kept))
}

/// What a fact of this kind is about.
pub(super) fn subject(office: &Office, row: &JobRow, kind: &KindWords) -> Subject {
    match kind.is_of_site() {
        true => Subject::SiteId(office.workshop.site_id.clone()),
        false => Subject::JobId(row.job_id.to_string()),
    }
}

/// Where a request came from.
pub(super) fn address(peer: Option<axum::Extension<Peer>>) -> Option<IpAddr> {
    peer.map(|axum::Extension(peer)| peer.address.ip())
}

/// Appends sealed bytes, as the call of a station does.
pub(super) async fn append(
    office: &Office,
    bay: &Bay,
    address: Option<IpAddr>,
    sealed: Bytes,
) -> Result<Acknowledgement, Cause> {
    let workshop = &*office.workshop;
    workshop.appends.take(&bay.who.station_id).map_err(|wait| Overload::TooManyCalls {
        station: bay.who.name.clone(),
        per_second: workshop.limits.appends.0,
        wait,
    })?;
    let Taken { new, about } = match intake::take(workshop, &bay.who, sealed.clone()) {
        Ok(taken) => taken,
        Err(cause) => {
            note_refused(workshop, &bay.who, address, &cause).await;
            return Err(cause);
        }
    };
    let queued = Instant::now();
    let appended = match workshop.journal.append(new).await {
        Err(reused @ StoreError::EntryIdReused { .. }) => {
            return said_before(office, &sealed).await?.ok_or_else(|| reused.into());
        }
        appended => appended?,
    };
    workshop.figures.committed(queued.elapsed());
    Ok(intake::acknowledge(workshop, about, appended).await)
}

/// The acknowledgement of an answer that is in the journal already, though in other bytes: by its identity, epoch and number,
/// and in the fact that it states. The browser may be another station's by now, or the server may keep what was typed in other
/// words; told that it is refused, somebody would answer again and it would be stated twice.
async fn said_before(office: &Office, sealed: &Bytes) -> Result<Option<Acknowledgement>, Cause> {
    let decoded =
        |bytes: &[u8]| Entry::decode(bytes).ok().and_then(|entry| Some((entry.header?, entry.fact)));
    let Some((own, fact)) = decoded(sealed) else { return Ok(None) };
    let Ok(entry_id) = own.entry_id.parse::<Uuid>() else { return Ok(None) };
    let stored = office.workshop.journal.entry(EntryId(entry_id.into_bytes())).await?;
    let Some((kept, kept_fact)) = stored.as_ref().and_then(|stored| decoded(&stored.bytes)) else {
        return Ok(None);
    };
    let same = kept.station_epoch == own.station_epoch
        && kept.station_number == own.station_number
        && kept.subject == own.subject
        && kept.person_code == own.person_code
        && kept_fact == fact;
    let seq = stored.map_or(0, |stored| signed(stored.seq));
    Ok(same.then(|| Acknowledgement { entry_id: own.entry_id, seq, ..Acknowledgement::default() }))
}

/// The answer to what is in the journal now.
pub(super) fn taken(line: &str, kept: &Acknowledgement) -> impl IntoResponse + use<> {
    let answer = serde_json::json!({
        "line": line,
        "entry_id": kept.entry_id,
        "seq": kept.seq,
        "signature_needed": kept.signature_needed,
    });
    ([(CONTENT_TYPE, "application/json")], answer.to_string())
}
