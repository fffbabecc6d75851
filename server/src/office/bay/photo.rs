//! Photos that the page sends: without place and camera, kept first and stated right after. Never here: decoding a picture.

use super::super::Office;
use super::Bay;
use super::envelope::{Answered, read, reload};
use super::refused::Refused;
use super::state::{address, append, subject, taken};
use crate::blob::{check_sent, digest_of};
use crate::door::Peer;
use crate::status::{Cause, Overload};
use crate::workshop::off_the_network;
use axum::body::{Body, to_bytes};
use axum::extract::{Path, Query, State};
use axum::http::HeaderMap;
use axum::response::IntoResponse;
use serde::Deserialize;
use standpipe_proto::limits::PHOTO_BYTES_MAX;
use standpipe_proto::limits::door::BAY_PHOTO_SECONDS_MAX;
use standpipe_proto::photo::stripped;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::Semaphore;
use tokio::time::timeout;

/// Header with what every answer carries.
const ENTRY: &str = "x-entry";
/// The kind that a photo is stated with.
const KIND: &str = "photo";
/// Held while a photo is taken in: so many at once, since each is held in memory until it is whole.
static ROOM: Semaphore = Semaphore::const_new(4);

/// What a photo shows.
#[derive(Deserialize)]
pub(super) struct Shows {
    subject: String,
}

/// Takes a photo.
pub(super) async fn take(
    State(office): State<Arc<Office>>,
    bay: Bay,
    Path(job): Path<String>,
    Query(Shows { subject: shows }): Query<Shows>,
    peer: Option<axum::Extension<Peer>>,
    headers: HeaderMap,
    body: Body,
) -> Result<impl IntoResponse, Refused> {
    let sent = headers.get(ENTRY).ok_or_else(|| reload("the photo came without its entry"))?;
    let mut answered: Answered = read(sent.as_bytes())?;
    if !(answered.kind.is_empty() || answered.kind == KIND) || !answered.fields.is_empty() {
        return Err(reload("the entry of the photo states something else"));
    }
    KIND.clone_into(&mut answered.kind);
    answered.check(&bay)?;
    let row = office.workshop.find(&job).await?;
    let kind = answered.kind()?;
    // What it shows is looked at before the file is taken in.
    let field =
        |digest: String| vec![("blob_digest".to_owned(), digest), ("subject".to_owned(), shows.clone())];
    answered.fields = field("0".repeat(64));
    answered.fact(kind)?;
    let place = office.photos.take(&bay.who.station_id).ok_or(Cause::from(Overload::Busy))?;
    let room = ROOM.acquire().await.map_err(|error| Cause::internal("taking a photo", &error))?;
    let whole = timeout(Duration::from_secs(BAY_PHOTO_SECONDS_MAX), to_bytes(body, PHOTO_BYTES_MAX)).await;
    let whole = whole.map_err(|_| Refused::from(Cause::from(Overload::Busy)))?;
    let bytes = whole.map_err(|_| {
        let most = PHOTO_BYTES_MAX / 1024 / 1024;
        unfit(&format!("it is larger than {most} MiB or was cut short; make it smaller and send it again"))
    })?;
    let blobs = Arc::clone(&office.workshop.blobs);
    let keep = move || {
        let bare = stripped(&bytes).map_err(|why| unfit(&format!("{why}; take it again")))?;
        check_sent(&bare).map_err(|what| unfit(&format!("{what}; take it again")))?;
        let digest = digest_of(&bare);
        let repeated = blobs.put(&digest, &bare).map_err(Cause::from)?;
        Ok::<_, Refused>((digest, repeated))
    };
    let (digest, repeated) = off_the_network(keep).await??;
    if !repeated {
        // Readings may have named it before it came.
        office.workshop.change_files();
    }
    drop((place, room));
    answered.fields = field(digest);
    let mut read = answered.fact(kind)?;
    read.understood.retain(|understood| understood.flag == "subject");
    let line = super::envelope::line(&read);
    let sealed = answered.sealed(&bay, subject(&office, &row, kind), read);
    let kept = append(&office, &bay, address(peer), sealed).await?;
    Ok(taken(&line, &kept))
}

fn unfit(why: &str) -> Refused {
    Refused::Unfit { field: String::new(), sentence: format!("The photo was not taken: {why}") }
}
