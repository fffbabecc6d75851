//! `JobService.Watch`: a job as it stands, again at each new entry and when the clock changes what is said.
//!
//! A state is computed only when there is room for it, so that a slow reader gets the latest one and nothing piles up.
//! Who may no longer see the job, a token that is
//! renewed or revoked, a reader that takes nothing for long, and a server that stops, end the stream. Never here: what is said of a job.

use super::telling::{Telling, Told};
use crate::access::Who;
use crate::convert;
use crate::door::Peer;
use crate::grown::{PACE, grown};
use crate::places::Place;
use crate::reading::Now;
use crate::status::Cause;
use crate::workshop::Workshop;
use standpipe_proto::limits::WATCHES_PER_STATION_MAX;
use standpipe_proto::v1::{WatchRequest, WatchResponse};
use standpipe_store::JobId;
use std::pin::pin;
use std::sync::Arc;
use tokio::sync::mpsc;
use tokio::time::sleep;
use tokio_stream::wrappers::ReceiverStream;
use tonic::Status;

/// The states of a job.
pub(super) type States = Told<ReceiverStream<Result<WatchResponse, Status>>>;

/// Begins to watch a job that the station may see.
pub(super) async fn begin(
    workshop: &Arc<Workshop>,
    who: Arc<Who>,
    peer: Option<Peer>,
    request: &WatchRequest,
) -> Result<States, Cause> {
    let job = workshop.find_for(&who, &request.job).await?.job_id;
    let after_seq = u64::try_from(request.after_seq).unwrap_or_default();
    let place = workshop.watches.take(&who.station_id);
    let place = place
        .ok_or_else(|| Cause::TooManyWatches { station: who.name.clone(), most: WATCHES_PER_STATION_MAX })?;
    let (sender, states) = mpsc::channel(1);
    let (telling, hearing) = Telling::begin(peer, &workshop.limits);
    let watching = Watching { workshop: Arc::clone(workshop), who, job, after_seq, telling, _place: place };
    tokio::spawn(tell(watching, sender));
    Ok(hearing.of(ReceiverStream::new(states)))
}

/// One watch.
struct Watching {
    workshop: Arc<Workshop>,
    who: Arc<Who>,
    job: JobId,
    /// The reader knows the job as its entries up to here told it; 0 if it knows nothing.
    after_seq: u64,
    telling: Telling,
    _place: Place,
}

async fn tell(watching: Watching, sender: mpsc::Sender<Result<WatchResponse, Status>>) {
    let workshop = &watching.workshop;
    let mut stopping = workshop.stopping.clone();
    let told = tokio::select! {
        biased;
        _ = stopping.wait_for(|stopping| *stopping) => Err(Cause::Stopping),
        () = workshop.until_token_ends(&watching.who) => Err(Cause::Unauthenticated),
        () = sender.closed() => Ok(()),
        told = states(&watching, &sender) => told,
    };
    if let Err(cause) = told {
        watching.telling.end(sender, cause).await;
    }
}

/// Tells every state that differs from the one before; returns when nobody reads any more.
async fn states(
    watching: &Watching,
    sender: &mpsc::Sender<Result<WatchResponse, Status>>,
) -> Result<(), Cause> {
    let Watching { workshop, who, job, after_seq, telling, .. } = watching;
    let mut told = known(workshop, who, *job, *after_seq).await?;
    loop {
        let Some(room) = telling.room(sender).await? else { return Ok(()) };
        // Before the look, so that nothing in between is missed.
        let seen = workshop.journal.head().await?.seq;
        let state = look(workshop, who, *job).await?;
        if (WatchResponse { time: None, ..state.clone() }) != told {
            told = WatchResponse { time: None, ..state.clone() };
            telling.reached().note(u64::try_from(state.last_seq).unwrap_or_default());
            room.send(Ok(state));
            sleep(PACE).await;
        } else {
            // Room that is not used is given back, so that it is asked for again by the next state.
            drop(room);
        }
        let mut later = pin!(sleep(workshop.look_again));
        tokio::select! {
            reached = grown(workshop, Some(*job), seen) => drop(reached?),
            () = &mut later => {}
        }
    }
}

/// What a reader knows that goes on after a place: the job as its last entry left it, if it has none beyond. What the
/// clock has changed since then is told.
async fn known(workshop: &Workshop, who: &Who, job: JobId, after_seq: u64) -> Result<WatchResponse, Cause> {
    if after_seq == 0 {
        return Ok(WatchResponse::default());
    }
    let row = workshop.find_for(who, &job.to_string()).await?;
    let computed = workshop.computed(&row).await?;
    if computed.row.last_seq > after_seq {
        return Ok(WatchResponse::default());
    }
    let (view, now_us) = (computed.view.clone(), computed.last_received_us);
    let state = convert::state(workshop.language(&row), &Now { job: computed, view, now_us })?;
    Ok(WatchResponse { time: None, ..state })
}

/// The job as it stands; asked for each time, since a bay does not see every job for ever.
async fn look(workshop: &Workshop, who: &Who, job: JobId) -> Result<WatchResponse, Cause> {
    let row = workshop.find_for(who, &job.to_string()).await?;
    let now = workshop.as_of_now(&row).await?;
    convert::state(workshop.language(&row), &now)
}
