//! `BlobService`: takes photos and remarks, and gives files back.
//!
//! A file may come before or after the entry that names it. Issued records are files too; only the server makes them,
//! and a bay gets them from `RecordService`, which asks whether it may still see the job.

use super::inside_bounds;
use super::telling::{Telling, Told};
use crate::access::{Who, who};
use crate::blob::{Found, check_sent, digest_of, is_record};
use crate::door::Peer;
use crate::places::Places;
use crate::status::{Cause, Overload};
use crate::workshop::{Workshop, off_the_network};
use standpipe_proto::Bytes;
use standpipe_proto::limits::door::BLOBS_PER_STATION_MAX;
use standpipe_proto::limits::{BLOB_PART_BYTES_MAX, PHOTO_BYTES_MAX};
use standpipe_proto::v1::blob_service_server::BlobService;
use standpipe_proto::v1::{GetBlobRequest, GetBlobResponse, PutBlobRequest, PutBlobResponse};
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::{Semaphore, mpsc};
use tokio::time::timeout;
use tokio_stream::wrappers::ReceiverStream;
use tonic::{Request, Response, Status, Streaming};

/// Most files that are taken in at once; each is held in memory until it is whole.
const TAKEN_AT_ONCE_MAX: usize = 8;

pub(crate) struct Blob {
    workshop: Arc<Workshop>,
    room: Semaphore,
    by_station: Arc<Places>,
}

impl Blob {
    pub(crate) fn new(workshop: Arc<Workshop>) -> Self {
        let by_station = Arc::new(Places::new(BLOBS_PER_STATION_MAX));
        Self { workshop, room: Semaphore::new(TAKEN_AT_ONCE_MAX), by_station }
    }
}

type Part = Result<GetBlobResponse, Status>;
type Parts = Told<ReceiverStream<Part>>;

#[tonic::async_trait]
impl BlobService for Blob {
    type GetBlobStream = Parts;

    async fn put_blob(
        &self,
        request: Request<Streaming<PutBlobRequest>>,
    ) -> Result<Response<PutBlobResponse>, Status> {
        let who = who(request.extensions())?;
        let _place = self.by_station.take(&who.station_id).ok_or(Cause::from(Overload::Busy))?;
        let _room = self.room.acquire().await.map_err(|error| Cause::internal("taking a file", &error))?;
        let taking = take(request.into_inner(), self.workshop.limits.blob_part);
        let mut stopping = self.workshop.stopping.clone();
        let (digest, bytes) = tokio::select! {
            // A station that is in the middle of a file sends it again.
            _ = stopping.wait_for(|stopping| *stopping) => return Err(Cause::Stopping.into()),
            () = self.workshop.until_token_ends(&who) => return Err(Cause::Unauthenticated.into()),
            taken = taking => taken?,
        };
        let blobs = Arc::clone(&self.workshop.blobs);
        let size_bytes = i64::try_from(bytes.len()).unwrap_or(i64::MAX);
        let put = move || {
            let found = digest_of(&bytes);
            if found != digest {
                return Err(Cause::BlobDigest { named: digest, found });
            }
            check_sent(&bytes).map_err(|what| Cause::BlobRefused { what })?;
            Ok(blobs.put(&digest, &bytes)?)
        };
        let repeated = off_the_network(put).await??;
        if !repeated {
            self.workshop.change_files();
        }
        Ok(Response::new(PutBlobResponse { size_bytes, repeated }))
    }

    async fn get_blob(&self, request: Request<GetBlobRequest>) -> Result<Response<Parts>, Status> {
        let who = who(request.extensions())?;
        let peer = request.extensions().get::<Peer>().cloned();
        let request = request.into_inner();
        inside_bounds(&request)?;
        let bytes = give(&self.workshop, &who, request.blob_digest).await?;
        let (telling, hearing) = Telling::begin(peer, &self.workshop.limits);
        let (sender, parts) = mpsc::channel(1);
        tokio::spawn(tell(Arc::clone(&self.workshop), who, bytes, telling, sender));
        Ok(Response::new(hearing.of(ReceiverStream::new(parts))))
    }
}

/// Tells a file in parts until its reader has them, takes nothing for too long, or is no longer let in.
async fn tell(
    workshop: Arc<Workshop>,
    who: Arc<Who>,
    bytes: Bytes,
    telling: Telling,
    sender: mpsc::Sender<Part>,
) {
    let told = tokio::select! {
        biased;
        () = workshop.until_token_ends(&who) => Err(Cause::Unauthenticated),
        () = sender.closed() => Ok(()),
        told = parts(&bytes, &telling, &sender) => told,
    };
    if let Err(cause) = told {
        telling.end(sender, cause).await;
    }
}

async fn parts(bytes: &Bytes, telling: &Telling, sender: &mpsc::Sender<Part>) -> Result<(), Cause> {
    for start in (0..bytes.len()).step_by(BLOB_PART_BYTES_MAX) {
        let part = bytes.slice(start..bytes.len().min(start + BLOB_PART_BYTES_MAX));
        let Some(room) = telling.room(sender).await? else { return Ok(()) };
        room.send(Ok(GetBlobResponse { part: part.into() }));
    }
    // There is room again when the last one was taken.
    telling.room(sender).await.map(drop)
}

/// Puts the parts together; each must come in time, since the file takes a place until it is whole.
async fn take(mut parts: Streaming<PutBlobRequest>, within: Duration) -> Result<(String, Vec<u8>), Cause> {
    let (mut digest, mut bytes) = (String::new(), Vec::new());
    loop {
        let next = timeout(within, parts.message()).await.map_err(|_| Overload::TooLate { within })?;
        let Some(part) = next.map_err(Cause::of_stream)? else { return Ok((digest, bytes)) };
        inside_bounds(&part)?;
        if !digest.is_empty() && digest != part.blob_digest {
            return Err(Cause::BlobDigest { named: digest, found: part.blob_digest });
        }
        digest = part.blob_digest;
        bytes.extend_from_slice(&part.part);
        if bytes.len() > PHOTO_BYTES_MAX {
            return Err(Cause::BlobTooLarge { greatest: PHOTO_BYTES_MAX });
        }
    }
}

async fn give(workshop: &Workshop, who: &Who, digest: String) -> Result<Bytes, Cause> {
    match workshop.blob(&digest).await? {
        Found::Bytes(bytes) if !who.role.sees_customers() && is_record(&bytes) => {
            let method = "BlobService/GetBlob for a record (ask RecordService/Render)".to_owned();
            Err(Cause::NotPermitted { role: who.role.name(), method })
        }
        Found::Bytes(bytes) => Ok(bytes.into()),
        Found::Erased => Err(Cause::BlobErased { digest }),
        Found::Absent => Err(Cause::BlobUnknown { digest }),
    }
}
