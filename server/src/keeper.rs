//! Watches over a running server and stops it in order.
//!
//! Stopping: health says NOT_SERVING, nothing new is accepted, streams answer what they hold and end, the journal is
//! closed and the epoch file written. Whoever does not let go within the deadline is cut off. A journal that stopped
//! by itself (a failed disk) stops the server the same way, with an error. Started by [`crate::server`].

use crate::audit::Audit;
use crate::error::ServerError;
use crate::folder::{LockedFolder, Reached};
use crate::wiring::Health;
use crate::workshop::Workshop;
use standpipe_store::{Store, StoreError};
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::watch;
use tokio::task::JoinHandle;
use tokio::time::{MissedTickBehavior, timeout};

/// How often the journal is asked whether it still works.
const LOOK_EVERY: Duration = Duration::from_millis(200);
/// After so many looks the epoch file is brought up to date: every five seconds, if the journal grew.
const LOOKS_PER_REMEMBERING: u32 = 25;

/// Longest time that answers have which nobody waits for any more.
const ANSWERS_WITHIN: Duration = Duration::from_secs(5);

/// How a server should stop.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Stop {
    NotYet,
    InOrder,
    Now,
}

/// What is kept while a server runs.
pub(crate) struct Keeper {
    pub(crate) folder: Arc<LockedFolder>,
    pub(crate) store: Arc<dyn Store>,
    pub(crate) health: Health,
    pub(crate) audit: Arc<Audit>,
    pub(crate) workshop: Arc<Workshop>,
    /// Tells the network part and all streams to end.
    pub(crate) drain: watch::Sender<bool>,
    pub(crate) stop: watch::Receiver<Stop>,
    pub(crate) stop_within: Duration,
}

type Serving = JoinHandle<Result<(), ServerError>>;

impl Keeper {
    /// Waits for a reason to stop, stops, and lets the folder go.
    pub(crate) async fn keep(mut self, mut serving: Serving) -> Result<(), ServerError> {
        let reason = self.watch(&mut serving).await;
        match &reason {
            Ok(()) => tracing::info!("stopping"),
            Err(error) => tracing::error!(%error, "stopping"),
        }
        if let Err(error) = crate::admin::remove(&self.folder) {
            tracing::warn!(%error, "the socket for orders is left behind");
        }
        self.health.set_serving(false).await;
        self.drain.send_replace(true);
        self.health.end_watches().await;
        if !serving.is_finished() {
            self.wait_for_calls(&mut serving).await;
        }
        // An answer goes on without whoever asked for it, also when its connection was cut, and may state a fact at its end.
        if timeout(ANSWERS_WITHIN, self.workshop.turns.all_back()).await.is_err() {
            tracing::warn!("an answer was still computed when the journal was closed; it states nothing");
        }
        self.audit.write_counts().await;
        let closed = self.close().await;
        tracing::info!("stopped");
        reason.and(closed)
    }

    /// Returns when the server should stop: with an error when nobody asked for it.
    async fn watch(&mut self, serving: &mut Serving) -> Result<(), ServerError> {
        let mut looks = tokio::time::interval(LOOK_EVERY);
        looks.set_missed_tick_behavior(MissedTickBehavior::Delay);
        let mut remembered = None;
        let mut since = 0;
        let mut away = false;
        loop {
            tokio::select! {
                // An error means that nobody is left who could ask, which is a reason as well.
                _ = self.stop.wait_for(|stop| *stop > Stop::NotYet) => return Ok(()),
                ended = &mut *serving => {
                    let cause = match ended {
                        Ok(Ok(())) => "it was not asked to".to_owned(),
                        Ok(Err(error)) => error.to_string(),
                        Err(error) => error.to_string(),
                    };
                    return Err(ServerError::Network { cause });
                }
                _ = looks.tick() => {}
            }
            match self.store.health() {
                Err(StoreError::Broken { cause }) => return Err(ServerError::JournalStopped { cause }),
                Err(error @ (StoreError::Disk { .. } | StoreError::TakenOver { .. })) => {
                    return Err(ServerError::JournalStopped { cause: error.to_string() });
                }
                health => {
                    let now_away = matches!(health, Err(StoreError::Away { .. }));
                    if now_away != away {
                        away = now_away;
                        self.health.set_serving(!away).await;
                    }
                }
            }
            since += 1;
            if since >= LOOKS_PER_REMEMBERING {
                since = 0;
                self.remember(&mut remembered).await;
            }
        }
    }

    /// Brings the epoch file up to date; a failure is tried again at the next look and must not stop the work.
    async fn remember(&self, remembered: &mut Option<Reached>) {
        let reached = match self.store.head().await {
            Ok(head) => Reached::from(&head),
            Err(error) => return tracing::warn!(%error, "the epoch file was not brought up to date"),
        };
        if remembered.as_ref() == Some(&reached) {
            return;
        }
        match self.write(reached.clone()).await {
            Ok(()) => *remembered = Some(reached),
            Err(error) => tracing::warn!(%error, "the epoch file was not brought up to date"),
        }
    }

    /// Waits until all calls have ended, but not longer than the deadline.
    async fn wait_for_calls(&mut self, serving: &mut Serving) {
        tokio::select! {
            _ = &mut *serving => return,
            () = tokio::time::sleep(self.stop_within) => {
                tracing::warn!("calls were still open at the deadline and are cut off");
            }
            Ok(_) = self.stop.wait_for(|stop| *stop == Stop::Now) => {}
        }
        serving.abort();
    }

    async fn close(&self) -> Result<(), ServerError> {
        if let Some(sites) = &self.workshop.sites {
            sites.close().await;
        }
        let head = self.store.head().await?;
        let closed = self.store.close().await;
        self.write(Reached::from(&head)).await?;
        Ok(closed?)
    }

    async fn write(&self, reached: Reached) -> Result<(), ServerError> {
        let folder = Arc::clone(&self.folder);
        let written = tokio::task::spawn_blocking(move || folder.remember(&reached)).await;
        written.unwrap_or_else(|error| Err(ServerError::Network { cause: error.to_string() }))
    }
}
