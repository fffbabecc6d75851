//! `JournalService`: takes entries and gives them back.
//!
//! A stream of entries is taken in by one task and answered by another: the first checks and queues entries without
//! waiting for the disk, the second gives the answers in the order of arrival. Between them stand at most
//! [`STREAM_WINDOW_MAX`] entries. What can never be taken is answered with a refusal and the stream goes on; anything
//! else ends the stream, so that the station keeps its entries and their order. So does a station that does not read its
//! answers.

use super::inside_bounds;
use super::telling::{Reached, Telling};
use crate::access::{Role, Who, who};
use crate::audit::{self, Deed, Event};
use crate::convert;
use crate::door::Peer;
use crate::intake::{self, About, Taken};
use crate::page;
use crate::status::Cause;
use crate::workshop::Workshop;
use standpipe_proto::Bytes;
use standpipe_proto::limits::{MESSAGE_BYTES_MAX, PAGE_SIZE_MAX, STREAM_WINDOW_MAX};
use standpipe_proto::v1::journal_service_server::JournalService;
use standpipe_proto::v1::{
    AppendRequest, AppendResponse, AppendStreamRequest, AppendStreamResponse, ReadRequest, ReadResponse,
    Refusal, append_stream_response::Answer,
};
use standpipe_store::{PendingAppend, StoredEntry};
use std::net::IpAddr;
use std::pin::{Pin, pin};
use std::sync::Arc;
use std::time::Instant;
use tokio::sync::mpsc;
use tokio_stream::wrappers::ReceiverStream;
use tokio_stream::{Stream, StreamExt as _};
use tonic::{Request, Response, Status, Streaming};

/// Bytes of a page's entries beside their sealed bytes: place, time, leaf hash and framing, generously.
const ROW_BYTES: usize = 96;
/// Most bytes of a page, so that the answer stays below the greatest message.
const PAGE_BYTES_MAX: usize = MESSAGE_BYTES_MAX - 1024;

pub(crate) struct Journal(pub(crate) Arc<Workshop>);

/// One entry of a stream between being taken in and being answered.
enum Underway {
    /// Queued in the journal.
    Queued(About, PendingAppend, Instant),
    /// Refused before the journal saw it.
    Refused(Refusal),
    /// Nothing more is taken in.
    Ended(Cause),
}

type Answers = Pin<Box<dyn Stream<Item = Result<AppendStreamResponse, Status>> + Send>>;

#[tonic::async_trait]
impl JournalService for Journal {
    type AppendStreamStream = Answers;

    async fn append(&self, request: Request<AppendRequest>) -> Result<Response<AppendResponse>, Status> {
        let who = who(request.extensions())?;
        let address = audit::address_of_call(request.extensions());
        let Taken { new, about } = match intake::take(&self.0, &who, request.into_inner().entry) {
            Ok(taken) => taken,
            Err(cause) => {
                note_refused(&self.0, &who, address, &cause).await;
                return Err(cause.into());
            }
        };
        let queued = Instant::now();
        let appended = self.0.journal.append(new).await.map_err(Cause::from)?;
        self.0.figures.committed(queued.elapsed());
        let acknowledgement = intake::acknowledge(&self.0, about, appended).await;
        Ok(Response::new(AppendResponse { acknowledgement: Some(acknowledgement) }))
    }

    async fn append_stream(
        &self,
        request: Request<Streaming<AppendStreamRequest>>,
    ) -> Result<Response<Answers>, Status> {
        let who = who(request.extensions())?;
        // One more is held by the stream of answers itself.
        let (sender, underway) = mpsc::channel(STREAM_WINDOW_MAX - 1);
        let address = audit::address_of_call(request.extensions());
        let caller = Caller { who, address };
        let peer = request.extensions().get::<Peer>().cloned();
        let (telling, hearing) = Telling::begin(peer, &self.0.limits);
        let (workshop, reached) = (Arc::clone(&self.0), telling.reached());
        tokio::spawn(take_in(Arc::clone(&self.0), caller, request.into_inner(), sender, telling));
        let answers = ReceiverStream::new(underway)
            .then(move |entry| answer(Arc::clone(&workshop), entry, reached.clone()));
        Ok(Response::new(Box::pin(hearing.of(Box::pin(answers)))))
    }

    async fn read(&self, request: Request<ReadRequest>) -> Result<Response<ReadResponse>, Status> {
        let who = who(request.extensions())?;
        let request = request.into_inner();
        inside_bounds(&request)?;
        Ok(Response::new(read(&self.0, &who, &request).await?))
    }
}

/// The station at the other end of a stream, and where it is.
struct Caller {
    who: Arc<Who>,
    address: Option<IpAddr>,
}

/// Writes down that a station stated a fact of a kind that it may not state.
pub(crate) async fn note_refused(workshop: &Workshop, who: &Who, address: Option<IpAddr>, cause: &Cause) {
    if let Cause::KindNotOfStation { kind, .. } = cause {
        let event = Event { station: &who.station_id, address, about: kind, ..Event::refused(Deed::Kind) };
        workshop.audit.note(event).await;
    }
}

/// Takes entries in until the station ends, the server stops or something breaks.
async fn take_in(
    workshop: Arc<Workshop>,
    caller: Caller,
    mut inbound: Streaming<AppendStreamRequest>,
    sender: mpsc::Sender<Underway>,
    telling: Telling,
) {
    let taken = entries(&workshop, &caller, &mut inbound, &sender, &telling).await;
    if let Err(cause) = taken {
        telling.end(sender, cause).await;
    }
}

async fn entries(
    workshop: &Workshop,
    caller: &Caller,
    inbound: &mut Streaming<AppendStreamRequest>,
    sender: &mpsc::Sender<Underway>,
    telling: &Telling,
) -> Result<(), Cause> {
    let mut stopping = workshop.stopping.clone();
    let mut stop = pin!(stopping.wait_for(|stopping| *stopping));
    let mut revoked = pin!(workshop.until_token_ends(&caller.who));
    // Room for the answer comes first; without it the next entry stays unread, which holds the station back.
    while let Some(room) = telling.room(sender).await? {
        let message = tokio::select! {
            biased;
            _ = &mut stop => return Err(Cause::Stopping),
            () = &mut revoked => return Err(Cause::Unauthenticated),
            message = inbound.message() => message,
        };
        let underway = match message {
            Ok(Some(request)) => queue(workshop, caller, request.entry).await,
            Ok(None) => return Ok(()),
            Err(status) => Underway::Ended(Cause::of_stream(status)),
        };
        let ended = matches!(underway, Underway::Ended(_));
        room.send(underway);
        if ended {
            return Ok(());
        }
    }
    Ok(())
}

async fn queue(workshop: &Workshop, caller: &Caller, sealed: Bytes) -> Underway {
    let Taken { new, about } = match intake::take(workshop, &caller.who, sealed.clone()) {
        Ok(taken) => taken,
        Err(cause) => {
            note_refused(workshop, &caller.who, caller.address, &cause).await;
            return refused_or_ended(cause, || intake::id_of_refused(&sealed));
        }
    };
    match workshop.journal.submit(new).await {
        Ok(pending) => Underway::Queued(about, pending, Instant::now()),
        Err(error) => refused_or_ended(error.into(), || about.entry_id()),
    }
}

fn refused_or_ended(cause: Cause, entry_id: impl FnOnce() -> String) -> Underway {
    if cause.is_permanent() { Underway::Refused(cause.refusal(entry_id())) } else { Underway::Ended(cause) }
}

async fn answer(
    workshop: Arc<Workshop>,
    entry: Underway,
    reached: Reached,
) -> Result<AppendStreamResponse, Status> {
    let answer = match entry {
        Underway::Refused(refusal) => Answer::Refusal(refusal),
        Underway::Ended(cause) => return Err(cause.into()),
        Underway::Queued(about, pending, queued) => match pending.answer().await.map_err(Cause::from) {
            Ok(appended) => {
                workshop.figures.committed(queued.elapsed());
                let acknowledgement = intake::acknowledge(&workshop, about, appended).await;
                reached.note(u64::try_from(acknowledgement.seq).unwrap_or_default());
                Answer::Acknowledgement(acknowledgement)
            }
            Err(cause) if cause.is_permanent() => Answer::Refusal(cause.refusal(about.entry_id())),
            Err(cause) => return Err(cause.into()),
        },
    };
    Ok(AppendStreamResponse { answer: Some(answer) })
}

async fn read(workshop: &Workshop, who: &Who, request: &ReadRequest) -> Result<ReadResponse, Cause> {
    let limit = page::size(request.page_size, PAGE_SIZE_MAX);
    let of_site = request.job == workshop.site_id;
    let row = match request.job.as_str() {
        _ if of_site => None,
        "" if who.role == Role::Bay => {
            let method = "JournalService/Read for the whole site".to_owned();
            return Err(Cause::NotPermitted { role: who.role.name(), method });
        }
        "" => None,
        job => Some(workshop.find_for(who, job).await?),
    };
    let job = match of_site {
        true => request.job.clone(),
        false => row.as_ref().map(|row| row.job_id.to_string()).unwrap_or_default(),
    };
    let question = ["Read", job.as_str()];
    let after = match page::place(&question, &request.page_token)? {
        Some(place) => place.parse::<u64>().map_err(|_| Cause::PageToken)?,
        None => 0,
    };
    let mut entries = match &row {
        Some(row) => {
            let mut entries = workshop.journal.read_job(row.job_id).await?;
            entries.retain(|entry| entry.seq > after);
            entries
        }
        // One more than asked shows whether there is a next page.
        None => {
            let journal = &workshop.journal;
            let read = async |from: u64, limit: usize| match of_site {
                true => journal.read_site(from, limit).await,
                false => journal.read(from, limit).await,
            };
            let mut page = read(after.saturating_add(1), limit).await?;
            if let Some(last) = page.last().filter(|_| page.len() == limit) {
                page.extend(read(last.seq.saturating_add(1), 1).await?);
            }
            page
        }
    };
    let fitting = fitting(&entries).min(limit);
    let next = match entries.get(fitting.wrapping_sub(1)) {
        Some(last) if entries.len() > fitting => page::token(&question, &last.seq.to_string()),
        _ => String::new(),
    };
    entries.truncate(fitting);
    let head = workshop.journal.head().await?;
    Ok(convert::read_response(entries, next, &head))
}

/// How many entries fit into one answer; always at least one.
fn fitting(entries: &[StoredEntry]) -> usize {
    let mut bytes = 0;
    let fits = entries.iter().take_while(|entry| {
        bytes += entry.bytes.len() + ROW_BYTES;
        bytes <= PAGE_BYTES_MAX
    });
    fits.count().max(1)
}
