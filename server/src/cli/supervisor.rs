//! What the service manager is told: ready, how it goes, stopping, and signs of life while the journal answers
//! (sd_notify(3)). Without `NOTIFY_SOCKET` nobody listens and nothing is sent.

use sd_notify::NotifyState;
use standpipe_server::Pulse;
use std::time::Duration;
use tokio::time::{MissedTickBehavior, interval, timeout};

/// Says that calls are answered.
pub(super) fn ready(address: &str) {
    tell(&[NotifyState::Ready, NotifyState::Status(&format!("listening on {address}"))]);
}

/// Says that the server lets go.
pub(super) fn stopping(within: Duration) {
    let status = format!("stopping within {} s", within.as_secs());
    tell(&[NotifyState::Stopping, NotifyState::Status(&status)]);
}

/// Says how it goes.
pub(super) fn status(text: &str) {
    tell(&[NotifyState::Status(text)]);
}

/// Gives signs of life, twice in the time that the service manager waits for one, and only while the journal answers:
/// one that hangs is started anew. Ends at once where nobody waits.
pub(super) async fn beat(pulse: Pulse) {
    let Some(within) = sd_notify::watchdog_enabled().filter(|within| !within.is_zero()) else { return };
    let every = within / 2;
    let mut ticks = interval(every);
    ticks.set_missed_tick_behavior(MissedTickBehavior::Delay);
    loop {
        ticks.tick().await;
        match timeout(every, pulse.answers()).await {
            Ok(true) => tell(&[NotifyState::Watchdog]),
            Ok(false) | Err(_) => tracing::error!("the journal does not answer; no sign of life was given"),
        }
    }
}

fn tell(states: &[NotifyState<'_>]) {
    if let Err(error) = sd_notify::notify(states) {
        tracing::warn!(%error, "the service manager was not told");
    }
}
