//! Answers of the page become entries of the journal, as what any station sends does. Never here: what is asked.

use super::super::Office;
use super::Bay;
use super::envelope::{Answered, line, read_body};
use super::refused::Refused;
use crate::door::Peer;
use crate::intake::{self, Taken};
use crate::rpc::journal::note_refused;
use crate::status::{Cause, Overload};
use axum::body::Body;
use axum::extract::{Path, State};
use axum::http::HeaderMap;
use axum::http::header::CONTENT_TYPE;
use axum::response::IntoResponse;
use standpipe_proto::Bytes;
use standpipe_proto::v1::{Acknowledgement, header::Subject};
use standpipe_proto::words::descriptor::KindWords;
use standpipe_store::JobRow;
use std::net::IpAddr;
use std::sync::Arc;
use std::time::Instant;

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
    let Taken { new, about } = match intake::take(workshop, &bay.who, sealed) {
        Ok(taken) => taken,
        Err(cause) => {
            note_refused(workshop, &bay.who, address, &cause).await;
            return Err(cause);
        }
    };
    let queued = Instant::now();
    let appended = workshop.journal.append(new).await?;
    workshop.figures.committed(queued.elapsed());
    Ok(intake::acknowledge(workshop, about, appended).await)
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
