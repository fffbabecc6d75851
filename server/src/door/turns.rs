//! Turns of answers that take long to compute, so that few are computed at once and entries are taken in as fast as
//! ever.

use crate::places::{Place, Places};
use crate::status::{Cause, Overload};
use standpipe_proto::limits::door::{LONG_ANSWERS_MAX, LONG_ANSWERS_PER_STATION_MAX};
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::{OwnedSemaphorePermit, Semaphore};
use tokio::time::timeout;

/// All turns.
pub(crate) struct Turns {
    at_once: Arc<Semaphore>,
    by_owner: Arc<Places>,
    within: Duration,
}

/// One turn; given back when dropped.
pub(crate) struct Turn {
    _permit: OwnedSemaphorePermit,
    _place: Place,
}

impl Turns {
    pub(crate) fn new(within: Duration) -> Self {
        let by_owner = Arc::new(Places::new(LONG_ANSWERS_PER_STATION_MAX));
        Self { at_once: Arc::new(Semaphore::new(LONG_ANSWERS_MAX)), by_owner, within }
    }

    /// Waits until nobody has a turn any more.
    pub(crate) async fn all_back(&self) {
        // Nobody closes the semaphore; without it nobody had a turn either.
        let _all = self.at_once.acquire_many(LONG_ANSWERS_MAX as u32).await;
    }

    /// Waits for a turn.
    ///
    /// # Errors
    /// [`Overload::Busy`] when the owner has all of its turns already, or when none came free in time.
    pub(crate) async fn take(&self, owner: &str) -> Result<Turn, Cause> {
        let place = self.by_owner.take(owner).ok_or(Overload::Busy)?;
        let waiting = Arc::clone(&self.at_once).acquire_owned();
        match timeout(self.within, waiting).await {
            Ok(Ok(permit)) => Ok(Turn { _permit: permit, _place: place }),
            // Nobody closes the semaphore; without it there would be no turn either.
            Ok(Err(_)) | Err(_) => Err(Overload::Busy.into()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn an_owner_has_few_turns_and_all_together_have_few() {
        let turns = Turns::new(Duration::ZERO);
        let first = turns.take("office").await.ok().unwrap();
        let second = turns.take("office").await.ok().unwrap();
        assert!(
            matches!(turns.take("office").await, Err(Cause::Overload(Overload::Busy))),
            "one is left to the others"
        );
        let third = turns.take("bay-1").await.ok().unwrap();
        assert!(turns.take("bay-2").await.is_err(), "three are computed already");
        drop(second);
        assert!(turns.take("bay-2").await.is_ok());
        assert!(timeout(Duration::from_millis(1), turns.all_back()).await.is_err());
        drop((first, third));
        turns.all_back().await;
    }

    #[tokio::test]
    async fn a_turn_that_comes_free_goes_to_who_waits() {
        let turns = Turns::new(Duration::from_secs(60));
        let (first, second) = (turns.take("office").await.ok().unwrap(), turns.take("bay-1").await);
        assert!(second.is_ok());
        let third = turns.take("bay-2").await;
        let (fourth, ()) = tokio::join!(turns.take("bay-3"), async { drop(first) });
        assert!(third.is_ok() && fourth.is_ok());
    }
}
