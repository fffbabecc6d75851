//! A stream of answers that always says how it ended, also to a reader that is slow, and the one who tells it.
//!
//! The network part takes the next answer only when the reader has room for it. So a reader that takes nothing for too
//! long is told where to go on, and nothing piles up meanwhile; one that does not take even that loses its connection.
//! Never here: what is told.

use crate::door::{Limits, Peer};
use crate::status::{Cause, Overload};
use std::pin::Pin;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::task::{Context, Poll};
use std::time::Duration;
use tokio::sync::mpsc::{Permit, Sender};
use tokio::sync::oneshot;
use tokio::time::timeout;
use tokio_stream::Stream;
use tonic::Status;

/// Longest time that the reader of an ended stream has for the last word while the server stops.
const LAST_WORD_WITHIN: Duration = Duration::from_secs(1);

/// What both sides know.
#[derive(Default)]
struct Shared {
    ending: Mutex<Option<Status>>,
    /// Whether the reader has room and there is nothing to read.
    reader_waits: AtomicBool,
    last_seq: AtomicU64,
}

/// The reader's side.
pub(crate) struct Told<S> {
    answers: S,
    shared: Arc<Shared>,
    /// Whether there was nothing to read when it was asked for last.
    was_empty: bool,
    _here: oneshot::Sender<()>,
}

/// The side of who tells.
pub(super) struct Telling {
    shared: Arc<Shared>,
    reader_gone: oneshot::Receiver<()>,
    peer: Option<Peer>,
    reader_within: Duration,
    last_word_within: Duration,
}

/// Notes how far a stream has told.
#[derive(Clone)]
pub(super) struct Reached(Arc<Shared>);

impl Reached {
    pub(super) fn note(&self, seq: u64) {
        self.0.last_seq.fetch_max(seq, Ordering::SeqCst);
    }
}

impl Telling {
    /// A new stream to a peer.
    pub(super) fn begin(peer: Option<Peer>, limits: &Limits) -> (Self, Hearing) {
        let (reader_within, last_word_within) = (limits.reader_waits, limits.last_word);
        let shared = Arc::<Shared>::default();
        let (here, reader_gone) = oneshot::channel();
        let hearing = Hearing { shared: Arc::clone(&shared), here };
        (Self { shared, reader_gone, peer, reader_within, last_word_within }, hearing)
    }

    /// Waits for room for one more answer; nothing when nobody reads any more.
    ///
    /// # Errors
    /// [`Overload::ReaderTooSlow`].
    pub(super) async fn room<'a, T>(&self, sender: &'a Sender<T>) -> Result<Option<Permit<'a, T>>, Cause> {
        loop {
            match timeout(self.reader_within, sender.reserve()).await {
                Ok(room) => return Ok(room.ok()),
                // The reader waits itself, for an answer that is not there yet.
                Err(_) if self.shared.reader_waits.load(Ordering::SeqCst) => {}
                Err(_) => {
                    let seconds = self.reader_within.as_secs();
                    let last_seq = self.shared.last_seq.load(Ordering::SeqCst);
                    return Err(Overload::ReaderTooSlow { seconds, last_seq }.into());
                }
            }
        }
    }

    /// What notes how far the stream has told.
    pub(super) fn reached(&self) -> Reached {
        Reached(Arc::clone(&self.shared))
    }

    /// Ends the stream, behind what was told already. Returns when the reader has taken that, or lost its connection.
    pub(super) async fn end<T>(self, sender: Sender<T>, cause: Cause) {
        let within = match cause {
            Cause::Stopping => LAST_WORD_WITHIN.min(self.last_word_within),
            _ => self.last_word_within,
        };
        // Each change under the lock is whole, so a panic elsewhere leaves nothing half done.
        *self.shared.ending.lock().unwrap_or_else(PoisonError::into_inner) = Some(cause.into());
        drop(sender);
        if timeout(within, self.reader_gone).await.is_err()
            && let Some(peer) = self.peer
        {
            tracing::debug!(peer = %peer.address, "a stream is not read even to its end; its connection is cut");
            peer.cut();
        }
    }
}

/// The reader's side before it is known what is read.
pub(super) struct Hearing {
    shared: Arc<Shared>,
    here: oneshot::Sender<()>,
}

impl Hearing {
    /// The stream of these answers.
    pub(super) fn of<S>(self, answers: S) -> Told<S> {
        Told { answers, shared: self.shared, was_empty: true, _here: self.here }
    }
}

impl<S, T> Stream for Told<S>
where
    S: Stream<Item = Result<T, Status>> + Unpin,
{
    type Item = Result<T, Status>;

    fn poll_next(self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<Option<Self::Item>> {
        let told = self.get_mut();
        let answer = Pin::new(&mut told.answers).poll_next(context);
        // The network part takes what there is before it sends it on: it waits only if it asks in vain twice.
        let waits = answer.is_pending() && told.was_empty;
        told.was_empty = answer.is_pending();
        told.shared.reader_waits.store(waits, Ordering::SeqCst);
        match answer {
            Poll::Ready(None) => {
                let mut ending = told.shared.ending.lock().unwrap_or_else(PoisonError::into_inner);
                Poll::Ready(ending.take().map(Err))
            }
            answer => answer,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use tokio::sync::mpsc;
    use tokio_stream::StreamExt as _;
    use tokio_stream::wrappers::ReceiverStream;
    use tonic::Code;

    fn within(time: Duration) -> Limits {
        Limits { reader_waits: time, last_word: time, ..Limits::default() }
    }

    #[tokio::test]
    async fn a_reader_that_takes_nothing_is_told_where_to_go_on_behind_what_it_was_told() {
        let (telling, hearing) = Telling::begin(None, &within(Duration::ZERO));
        let (sender, answers) = mpsc::channel(1);
        let mut told = hearing.of(ReceiverStream::new(answers));
        telling.reached().note(7);
        telling.room(&sender).await.ok().flatten().unwrap().send(Ok("state"));
        let Err(slow) = telling.room(&sender).await else { panic!("there is no room") };
        assert!(matches!(slow, Cause::Overload(Overload::ReaderTooSlow { last_seq: 7, .. })), "{slow}");
        telling.end(sender, slow).await;
        assert_eq!(told.next().await.unwrap().unwrap(), "state");
        assert_eq!(told.next().await.unwrap().unwrap_err().code(), Code::ResourceExhausted);
        assert!(told.next().await.is_none());
    }

    #[tokio::test]
    async fn who_asked_in_vain_once_behind_an_answer_may_still_hold_it() {
        let (telling, hearing) = Telling::begin(None, &within(Duration::ZERO));
        let (sender, answers) = mpsc::channel(1);
        let mut told = hearing.of(ReceiverStream::new(answers));
        telling.room(&sender).await.ok().flatten().unwrap().send(Ok("first"));
        assert_eq!(told.next().await.unwrap().unwrap(), "first");
        let in_vain = std::future::poll_fn(|context| Poll::Ready(Pin::new(&mut told).poll_next(context)));
        assert!(in_vain.await.is_pending());
        telling.room(&sender).await.ok().flatten().unwrap().send(Ok("second"));
        assert!(telling.room(&sender).await.is_err());
    }

    #[tokio::test]
    async fn a_reader_that_waits_for_an_answer_is_not_slow() {
        let (telling, hearing) = Telling::begin(None, &within(Duration::from_millis(1)));
        let (sender, queued) = mpsc::channel(1);
        let (release, released) = oneshot::channel::<()>();
        let mut released = Some(released);
        // The first answer is long in the making, as by a slow disk, while the place behind it is taken.
        let answers = ReceiverStream::new(queued).then(move |answer: u32| {
            let released = released.take();
            async move {
                if let Some(released) = released {
                    let _ = released.await;
                }
                Ok::<_, Status>(answer)
            }
        });
        let mut told = hearing.of(Box::pin(answers));
        telling.room(&sender).await.ok().flatten().unwrap().send(1);
        let mut first = std::pin::pin!(told.next());
        std::future::poll_fn(|context| {
            assert!(first.as_mut().poll(context).is_pending());
            Poll::Ready(())
        })
        .await;
        telling.room(&sender).await.ok().flatten().unwrap().send(2);
        let waited = timeout(Duration::from_millis(20), telling.room(&sender)).await;
        assert!(waited.is_err(), "there is no room, and nobody is slow");
        release.send(()).unwrap();
        assert_eq!(first.await.unwrap().unwrap(), 1);
        assert_eq!(told.next().await.unwrap().unwrap(), 2);
        assert!(telling.room(&sender).await.ok().flatten().is_some());
    }
}
