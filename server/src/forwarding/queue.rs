//! Who may bring something now: one call of a site at a time, and few of all sites together.
//!
//! A site waits for its own calls before it waits for those of others, so that one of them never holds what all share by
//! itself. Never here: what the calls do. Called by [`super::sites`].

use crate::status::{Cause, Overload};
use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};
use tokio::sync::{OwnedSemaphorePermit, Semaphore};

/// Most calls of a site that wait for their turn; a further one is told to come again.
const WAITING_MAX: usize = 4;

/// Calls that are let in one after another.
pub(super) struct Queue {
    /// For all sites together.
    all: Arc<Semaphore>,
    lanes: Mutex<HashMap<String, Lane>>,
}

/// The calls of one site.
#[derive(Clone)]
struct Lane {
    /// Those that wait or are let in.
    there: Arc<Semaphore>,
    /// The one that is let in.
    turn: Arc<Semaphore>,
}

/// Lets a call in as long as it lives.
pub(crate) struct Turn {
    _of_all: Option<OwnedSemaphorePermit>,
    _of_site: OwnedSemaphorePermit,
    _there: OwnedSemaphorePermit,
}

impl Queue {
    pub(super) fn new(at_once: usize) -> Self {
        Self { all: Arc::new(Semaphore::new(at_once)), lanes: Mutex::default() }
    }

    /// Waits until no other call of the site is let in.
    ///
    /// # Errors
    /// [`Overload::Busy`] where too many of the site wait already.
    pub(super) async fn of_site(&self, site: &str) -> Result<Turn, Cause> {
        let lane = {
            let mut lanes = self.lanes.lock().unwrap_or_else(PoisonError::into_inner);
            // Only sites that were said to a station come here, which are few.
            lanes.entry(site.to_owned()).or_insert_with(Lane::new).clone()
        };
        let there = lane.there.try_acquire_owned().map_err(|_| Overload::Busy)?;
        let of_site = permit(lane.turn).await?;
        Ok(Turn { _of_all: None, _of_site: of_site, _there: there })
    }

    /// The same, and then until few calls of all sites are let in.
    ///
    /// # Errors
    /// As [`Queue::of_site`].
    pub(super) async fn of_all(&self, site: &str) -> Result<Turn, Cause> {
        let turn = self.of_site(site).await?;
        Ok(Turn { _of_all: Some(permit(Arc::clone(&self.all)).await?), ..turn })
    }
}

impl Lane {
    fn new() -> Self {
        Self { there: Arc::new(Semaphore::new(1 + WAITING_MAX)), turn: Arc::new(Semaphore::new(1)) }
    }
}

async fn permit(of: Arc<Semaphore>) -> Result<OwnedSemaphorePermit, Cause> {
    of.acquire_owned().await.map_err(|error| Cause::internal("waiting for a turn", &error))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::pin::pin;
    use std::task::Poll;

    #[tokio::test]
    async fn one_site_holds_one_turn_however_often_it_calls_and_the_others_go_on() {
        let queue = Queue::new(2);
        let first = queue.of_all("mill-street").await.unwrap();
        let mut waiting = Vec::new();
        for _ in 0..WAITING_MAX {
            let mut next = Box::pin(queue.of_all("mill-street"));
            assert!(std::future::poll_fn(|cx| Poll::Ready(next.as_mut().poll(cx).is_pending())).await);
            waiting.push(next);
        }
        let busy = queue.of_all("mill-street").await.err().unwrap();
        assert!(matches!(busy, Cause::Overload(Overload::Busy)), "{busy}");
        // The second place of all is there for another site.
        let other = queue.of_all("quarry-road").await.unwrap();
        let mut third = pin!(queue.of_all("tarn-road"));
        assert!(std::future::poll_fn(|cx| Poll::Ready(third.as_mut().poll(cx).is_pending())).await);
        drop(first);
        // Whoever waited longest for a place of all is next.
        let third = third.await.unwrap();
        drop((other, third));
        for next in waiting {
            drop(next.await.unwrap());
        }
    }
}
