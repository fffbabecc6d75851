//! Streams that tell a page that what it shows has changed (server-sent events, WHATWG HTML, section 9.2).
//!
//! A stream carries no content: the script fetches the page again, through the guard like any other. It ends with its
//! session, when the server stops, and when the page goes; a browser comes back by itself and says what it saw last.
//! Never here: what a page shows.

use super::Office;
use super::bay::Viewer;
use super::guard::{SESSION_COOKIE, SignedIn, cookie, signed_in};
use super::trouble::Trouble;
use crate::convert::all_words;
use crate::grown::{PACE, grown};
use crate::places::Place;
use crate::status::Cause;
use crate::workshop::Workshop;
use axum::extract::{FromRequestParts, Path, Query, State};
use axum::http::header::HeaderMap;
use axum::http::request::Parts;
use axum::response::sse::{Event, KeepAlive, Sse};
use axum::response::{IntoResponse as _, Response};
use standpipe_store::JobId;
use std::collections::HashMap;
use std::convert::Infallible;
use std::hash::{DefaultHasher, Hash as _, Hasher as _};
use std::pin::pin;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::mpsc;
use tokio::time::{sleep, timeout};
use tokio_stream::wrappers::ReceiverStream;

/// A stream says that it is alive this often.
const BEAT: Duration = Duration::from_secs(15);
/// A browser whose stream broke comes back after this long.
const COME_BACK: Duration = Duration::from_secs(2);

/// Where the stream of the table is.
pub(super) fn table_path(seq: u64) -> String {
    format!("/live?after={seq}")
}

/// Where the stream of a job is, whose page shows these lines of what changes what the bay does next.
pub(super) fn job_path(number: &str, seq: u64, now: &[String]) -> String {
    format!("/job/{number}/live?after={seq}&now={}", mark(now))
}

/// A mark by which a stream knows the lines that its page shows. One that differs for any other reason costs a look at
/// the same page.
fn mark(lines: &[String]) -> String {
    let mut hasher = DefaultHasher::new();
    lines.hash(&mut hasher);
    format!("{:016x}", hasher.finish())
}

/// The lines as they are now.
async fn mark_now(workshop: &Workshop, job: JobId) -> Result<Option<String>, Cause> {
    let Some(row) = workshop.journal.job(job).await? else { return Ok(None) };
    let view = workshop.as_of_now(&row).await?.view;
    Ok(Some(mark(&all_words(workshop.language(&row), &view.now)?)))
}

/// Tells of every job.
pub(super) async fn jobs(
    State(office): State<Arc<Office>>,
    person: SignedIn,
    headers: HeaderMap,
    asked: Asked,
) -> Result<Response, Trouble> {
    let viewer = viewer(&person, &headers)?;
    stream(office, viewer, asked, None).await
}

/// Tells of one job.
pub(super) async fn job(
    State(office): State<Arc<Office>>,
    person: SignedIn,
    Path(job): Path<String>,
    headers: HeaderMap,
    asked: Asked,
) -> Result<Response, Trouble> {
    let row = office.workshop.find(&job).await?;
    let viewer = viewer(&person, &headers)?;
    stream(office, viewer, asked, Some(row.job_id)).await
}

fn viewer(person: &SignedIn, headers: &HeaderMap) -> Result<Viewer, Trouble> {
    let key = cookie(headers, SESSION_COOKIE).ok_or(Trouble::SignedOut)?.to_owned();
    Ok(Viewer::Session { name: person.session_name().to_owned(), key })
}

/// What a page says of what it shows when it begins to listen.
pub(super) struct Asked {
    /// How far it has seen the journal.
    seen: Option<u64>,
    /// Mark of the lines that it shows.
    now: Option<String>,
}

impl<S: Send + Sync> FromRequestParts<S> for Asked {
    type Rejection = Infallible;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, Infallible> {
        let asked = Query::<HashMap<String, String>>::from_request_parts(parts, state).await;
        let mut asked = asked.map(|Query(asked)| asked).unwrap_or_default();
        // A browser that comes back says by a header what it saw last, which is later than its address.
        let last = parts.headers.get("last-event-id").and_then(|id| id.to_str().ok());
        let seen = last.or_else(|| asked.get("after").map(String::as_str)).and_then(|seq| seq.parse().ok());
        Ok(Self { seen, now: asked.remove("now") })
    }
}

/// Begins a stream of the table, or of a job.
pub(super) async fn stream(
    office: Arc<Office>,
    viewer: Viewer,
    asked: Asked,
    job: Option<JobId>,
) -> Result<Response, Trouble> {
    let place = office.streams.take(viewer.name()).ok_or(Trouble::TooManyPages)?;
    let reached = office.workshop.journal.head().await?.seq;
    // A page that saw more than there is was made before the site was restored.
    let seen = asked.seen.unwrap_or(reached);
    let seen = if seen > reached { 0 } else { seen };
    let (sender, events) = mpsc::channel(1);
    tokio::spawn(tell(Telling { office, viewer, job, seen, shown: asked.now, sender }, place));
    let alive = KeepAlive::new().interval(BEAT);
    Ok(Sse::new(ReceiverStream::new(events)).keep_alive(alive).into_response())
}

/// What one stream needs.
struct Telling {
    office: Arc<Office>,
    viewer: Viewer,
    job: Option<JobId>,
    /// How far the page has seen the journal.
    seen: u64,
    /// Mark of the lines that the page shows; none for the table.
    shown: Option<String>,
    sender: mpsc::Sender<Result<Event, Infallible>>,
}

impl Telling {
    /// Whether whoever looks may go on. A bay does not see every job for ever.
    async fn may_still_see(&self) -> Result<bool, Trouble> {
        match (&self.viewer, self.job) {
            (Viewer::Session { key, .. }, _) => Ok(signed_in(&self.office, Some(key)).await?.is_some()),
            (Viewer::Tablet(who), Some(job)) => {
                Ok(self.office.workshop.find_for(who, &job.to_string()).await.is_ok())
            }
            (Viewer::Tablet(_), None) => Ok(true),
        }
    }

    /// Marks the lines of a job page as they are now, and says whether they are others: what is said goes with the
    /// clock.
    async fn says_otherwise(&mut self) -> bool {
        let (Some(job), Some(shown)) = (self.job, self.shown.as_mut()) else { return false };
        match mark_now(&self.office.workshop, job).await {
            Ok(Some(now)) => std::mem::replace(shown, now.clone()) != now,
            Ok(None) => false,
            // What is wrong with the journal ends the stream by itself; else the next look is soon.
            Err(cause) => {
                tracing::debug!(%cause, "a job page could not be looked at again");
                false
            }
        }
    }
}

async fn tell(mut telling: Telling, _place: Place) {
    let workshop = Arc::clone(&telling.office.workshop);
    let mut stopping = workshop.stopping.clone();
    let mut stop = pin!(stopping.wait_for(|stopping| *stopping));
    let mut ended = telling.office.sessions.ended();
    let mut beside = workshop.beside_changed();
    let mut event = Event::default().retry(COME_BACK);
    let mut has_told = false;
    loop {
        // What the page was told is out before anything else is looked at; a page that is gone ends the stream.
        // One that takes nothing for long is ended; a browser comes back by itself and says what it saw last.
        let sent = timeout(workshop.limits.reader_waits, telling.sender.send(Ok(event))).await;
        if !matches!(sent, Ok(Ok(()))) {
            return;
        }
        // What comes first is told at once; what follows closely is told together.
        if has_told {
            tokio::select! {
                _ = &mut stop => return,
                () = telling.sender.closed() => return,
                () = sleep(PACE) => {}
            }
        }
        loop {
            let changed = tokio::select! {
                biased;
                _ = &mut stop => return,
                () = telling.sender.closed() => return,
                _ = ended.changed() => None,
                () = telling.viewer.until_token_ends(&workshop) => return,
                () = sleep(workshop.look_again) => None,
                _ = beside.changed() => Some(telling.seen),
                reached = grown(&workshop, telling.job, telling.seen) => match reached {
                    Ok(reached) => Some(reached),
                    // A journal that takes nothing more stops the server, and that ends all streams.
                    Err(_) => return,
                },
            };
            match telling.may_still_see().await {
                Ok(true) => {}
                Ok(false) | Err(_) => return,
            }
            let otherwise = telling.says_otherwise().await;
            telling.seen = changed.unwrap_or(telling.seen);
            if otherwise || changed.is_some() {
                break;
            }
        }
        let seq = telling.seen.to_string();
        // An event without data is not told to the page.
        event = Event::default().event("changed").id(&seq).data(&seq);
        has_told = true;
    }
}
