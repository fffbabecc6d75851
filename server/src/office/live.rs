//! Streams that tell a page that what it shows has changed (server-sent events, WHATWG HTML, section 9.2).
//!
//! A stream carries no content: the script fetches the page again, through the guard like any other. It ends with its
//! session, when the server stops, and when the page goes; a browser comes back by itself and says what it saw last.
//! Never here: what a page shows.

use super::Office;
use super::guard::{SESSION_COOKIE, SignedIn, cookie, signed_in};
use super::trouble::Trouble;
use crate::grown::{PACE, grown};
use axum::extract::{Path, Query, State};
use axum::http::header::HeaderMap;
use axum::response::sse::{Event, KeepAlive, Sse};
use axum::response::{IntoResponse as _, Response};
use standpipe_proto::limits::PAGE_STREAMS_PER_SESSION_MAX;
use standpipe_store::JobId;
use std::collections::HashMap;
use std::convert::Infallible;
use std::pin::pin;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;
use tokio::sync::mpsc;
use tokio::time::sleep;
use tokio_stream::wrappers::ReceiverStream;

/// A stream says that it is alive, and asks whether its session is, this often.
const BEAT: Duration = Duration::from_secs(15);
/// A browser whose stream broke comes back after this long.
const COME_BACK: Duration = Duration::from_secs(2);

/// Where the stream of the table is.
pub(super) fn table_path(seq: u64) -> String {
    format!("/live?after={seq}")
}

/// Where the stream of a job is.
pub(super) fn job_path(number: &str, seq: u64) -> String {
    format!("/job/{number}/live?after={seq}")
}

/// Streams of each session, by the key of its forms.
#[derive(Default)]
pub(super) struct Streams(Mutex<HashMap<String, usize>>);

/// One stream's place among those of its session; given back when dropped.
struct Place {
    streams: Arc<Streams>,
    session: String,
}

impl Streams {
    fn take(self: &Arc<Self>, session: &str) -> Option<Place> {
        let mut open = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let taken = open.entry(session.to_owned()).or_default();
        if *taken >= PAGE_STREAMS_PER_SESSION_MAX {
            return None;
        }
        *taken += 1;
        Some(Place { streams: Arc::clone(self), session: session.to_owned() })
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        let mut open = self.streams.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(taken) = open.get_mut(&self.session) {
            *taken -= 1;
            if *taken == 0 {
                open.remove(&self.session);
            }
        }
    }
}

/// Tells of every job.
pub(super) async fn jobs(
    State(office): State<Arc<Office>>,
    person: SignedIn,
    Query(asked): Query<HashMap<String, String>>,
    headers: HeaderMap,
) -> Result<Response, Trouble> {
    stream(office, &person, &headers, &asked, None).await
}

/// Tells of one job.
pub(super) async fn job(
    State(office): State<Arc<Office>>,
    person: SignedIn,
    Path(job): Path<String>,
    Query(asked): Query<HashMap<String, String>>,
    headers: HeaderMap,
) -> Result<Response, Trouble> {
    let row = office.workshop.find(&job).await?;
    stream(office, &person, &headers, &asked, Some(row.job_id)).await
}

async fn stream(
    office: Arc<Office>,
    person: &SignedIn,
    headers: &HeaderMap,
    asked: &HashMap<String, String>,
    job: Option<JobId>,
) -> Result<Response, Trouble> {
    let place = office.streams.take(person.session_name()).ok_or(Trouble::TooManyPages)?;
    let key = cookie(headers, SESSION_COOKIE).ok_or(Trouble::SignedOut)?.to_owned();
    let last = headers.get("last-event-id").and_then(|id| id.to_str().ok());
    let seen = last.or_else(|| asked.get("after").map(String::as_str)).and_then(|seq| seq.parse().ok());
    let reached = office.workshop.journal.head().await?.seq;
    // A page that saw more than there is was made before the site was restored.
    let seen = seen.unwrap_or(reached);
    let seen = if seen > reached { 0 } else { seen };
    let (sender, events) = mpsc::channel(1);
    tokio::spawn(tell(Telling { office, key, job, seen, sender }, place));
    let alive = KeepAlive::new().interval(BEAT);
    Ok(Sse::new(ReceiverStream::new(events)).keep_alive(alive).into_response())
}

/// What one stream needs.
struct Telling {
    office: Arc<Office>,
    /// The session's key, as in its cookie.
    key: String,
    job: Option<JobId>,
    /// How far the page has seen the journal.
    seen: u64,
    sender: mpsc::Sender<Result<Event, Infallible>>,
}

async fn tell(mut telling: Telling, _place: Place) {
    let workshop = Arc::clone(&telling.office.workshop);
    let mut stopping = workshop.stopping.clone();
    let mut stop = pin!(stopping.wait_for(|stopping| *stopping));
    let mut ended = telling.office.sessions.ended();
    let mut beside = workshop.beside_changed();
    let mut event = Event::default().retry(COME_BACK);
    loop {
        // What the page was told is out before anything else is looked at; a page that is gone ends the stream.
        if telling.sender.send(Ok(event)).await.is_err() {
            return;
        }
        loop {
            let changed = tokio::select! {
                biased;
                _ = &mut stop => return,
                () = telling.sender.closed() => return,
                _ = ended.changed() => None,
                () = sleep(BEAT) => None,
                _ = beside.changed() => Some(telling.seen),
                reached = grown(&workshop, telling.job, telling.seen) => match reached {
                    Ok(reached) => Some(reached),
                    // A journal that takes nothing more stops the server, and that ends all streams.
                    Err(_) => return,
                },
            };
            match signed_in(&telling.office, Some(&telling.key)).await {
                Ok(Some(_)) => {}
                Ok(None) | Err(_) => return,
            }
            if let Some(reached) = changed {
                telling.seen = reached;
                break;
            }
        }
        let seq = telling.seen.to_string();
        // An event without data is not told to the page.
        event = Event::default().event("changed").id(&seq).data(&seq);
        tokio::select! {
            _ = &mut stop => return,
            () = sleep(PACE) => {}
        }
    }
}
