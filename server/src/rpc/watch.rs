//! `JobService.Watch`: a job as it stands, again at each new entry and when the clock changes what is said.
//!
//! A state is computed only when there is room for it, so that a slow reader gets the latest one and nothing piles up.
//! Who may no longer see the job, a token that is
//! renewed or revoked, and a server that stops, end the stream. Never here: what is said of a job.

use crate::access::Who;
use crate::convert;
use crate::grown::{PACE, grown};
use crate::places::Place;
use crate::status::Cause;
use crate::workshop::Workshop;
use standpipe_proto::limits::WATCHES_PER_STATION_MAX;
use standpipe_proto::v1::WatchResponse;
use standpipe_store::JobId;
use std::pin::{Pin, pin};
use std::sync::Arc;
use tokio::sync::mpsc;
use tokio::time::sleep;
use tokio_stream::Stream;
use tokio_stream::wrappers::ReceiverStream;
use tonic::Status;

/// The states of a job.
pub(super) type States = Pin<Box<dyn Stream<Item = Result<WatchResponse, Status>> + Send>>;

/// Begins to watch a job that the station may see.
pub(super) async fn begin(workshop: &Arc<Workshop>, who: Arc<Who>, job: &str) -> Result<States, Cause> {
    let job = workshop.find_for(&who, job).await?.job_id;
    let place = workshop.watches.take(&who.station_id);
    let place = place
        .ok_or_else(|| Cause::TooManyWatches { station: who.name.clone(), most: WATCHES_PER_STATION_MAX })?;
    let (sender, states) = mpsc::channel(1);
    tokio::spawn(tell(Arc::clone(workshop), who, job, sender, place));
    Ok(Box::pin(ReceiverStream::new(states)))
}

async fn tell(
    workshop: Arc<Workshop>,
    who: Arc<Who>,
    job: JobId,
    sender: mpsc::Sender<Result<WatchResponse, Status>>,
    _place: Place,
) {
    let mut stopping = workshop.stopping.clone();
    let told = tokio::select! {
        biased;
        _ = stopping.wait_for(|stopping| *stopping) => Err(Cause::Stopping),
        () = workshop.until_token_ends(&who) => Err(Cause::Unauthenticated),
        () = sender.closed() => Ok(()),
        told = states(&workshop, &who, job, &sender) => told,
    };
    if let Err(cause) = told {
        // A reader that has not taken the last state yet learns of the end by the end of the stream.
        let _ = sender.try_send(Err(cause.into()));
    }
}

/// Tells every state that differs from the one before; returns when nobody reads any more.
async fn states(
    workshop: &Workshop,
    who: &Who,
    job: JobId,
    sender: &mpsc::Sender<Result<WatchResponse, Status>>,
) -> Result<(), Cause> {
    let mut told = WatchResponse::default();
    loop {
        let Ok(room) = sender.reserve().await else { return Ok(()) };
        // Before the look, so that nothing in between is missed.
        let seen = workshop.journal.head().await?.seq;
        let state = look(workshop, who, job).await?;
        if (WatchResponse { time: None, ..state.clone() }) != told {
            told = WatchResponse { time: None, ..state.clone() };
            room.send(Ok(state));
            sleep(PACE).await;
        }
        let mut later = pin!(sleep(workshop.look_again));
        tokio::select! {
            reached = grown(workshop, Some(job), seen) => drop(reached?),
            () = &mut later => {}
        }
    }
}

/// The job as it stands; asked for each time, since a bay does not see every job for ever.
async fn look(workshop: &Workshop, who: &Who, job: JobId) -> Result<WatchResponse, Cause> {
    let row = workshop.find_for(who, &job.to_string()).await?;
    let now = workshop.as_of_now(&row).await?;
    convert::state(workshop.language(&row), &now)
}
