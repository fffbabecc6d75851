//! Who is at the other end of a connection, and which of its calls are open.
//!
//! Every request carries its [`Peer`] among its extensions. Never here: what a token may, which is
//! [`crate::access`]'s.

use super::limits::Limits;
use crate::places::Place;
use std::net::SocketAddr;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::task::Waker;
use std::time::Duration;
use tokio::time::Instant;

/// The other end of a connection.
#[derive(Debug, Clone)]
pub(crate) struct Peer {
    /// Its address.
    pub(crate) address: SocketAddr,
    /// Whether nobody on the way can read along.
    pub(crate) tls: bool,
    calls: Arc<Mutex<Calls>>,
}

/// The calls of a connection.
#[derive(Debug)]
struct Calls {
    open: usize,
    /// When the last call ended; none before the first one began.
    idle_since: Option<Instant>,
    accepted: Instant,
    /// Whether a good token or a session of a page was shown.
    known: bool,
    /// Held until then.
    stranger: Option<Place>,
    /// Whether the connection is to be closed.
    cut: bool,
    reader: Option<Waker>,
}

/// How long a connection may be without a call.
#[derive(Debug, Clone, Copy)]
pub(super) struct Waits {
    first_request: Duration,
    idle: Duration,
    stranger_idle: Duration,
}

impl Waits {
    pub(super) fn of(limits: &Limits) -> Self {
        let stranger_idle = limits.stranger_idle.min(limits.idle);
        Self { first_request: limits.first_request, idle: limits.idle, stranger_idle }
    }
}

/// One call of a connection; it has ended when this is dropped.
#[derive(Debug)]
pub(crate) struct Underway(Arc<Mutex<Calls>>);

impl Peer {
    pub(crate) fn new(address: SocketAddr, tls: bool, accepted: Instant) -> Self {
        let calls = Calls {
            open: 0,
            idle_since: None,
            accepted,
            known: false,
            stranger: None,
            cut: false,
            reader: None,
        };
        Self { address, tls, calls: Arc::new(Mutex::new(calls)) }
    }

    /// The same, which holds the place of a stranger until it is known.
    pub(super) fn holding(self, stranger: Place) -> Self {
        held(&self.calls).stranger = Some(stranger);
        self
    }

    /// Notes that a good token or a session of a page was shown: somebody who is known may be silent for long.
    pub(crate) fn know(&self) {
        let place = {
            let mut calls = held(&self.calls);
            calls.known = true;
            calls.stranger.take()
        };
        // Given back outside the lock, since others are counted under one of their own.
        drop(place);
    }

    /// Notes that a call began.
    pub(crate) fn begin(&self) -> Underway {
        let mut calls = held(&self.calls);
        calls.open += 1;
        calls.idle_since = Some(Instant::now());
        Underway(Arc::clone(&self.calls))
    }

    /// Closes the connection: for who neither reads a stream nor lets it go.
    pub(crate) fn cut(&self) {
        let reader = {
            let mut calls = held(&self.calls);
            calls.cut = true;
            calls.reader.take()
        };
        if let Some(reader) = reader {
            reader.wake();
        }
    }

    /// Whether the connection is to be closed; else whom to wake when it is.
    pub(super) fn is_cut(&self, reader: &Waker) -> bool {
        let mut calls = held(&self.calls);
        if !calls.cut && !calls.reader.as_ref().is_some_and(|known| known.will_wake(reader)) {
            calls.reader = Some(reader.clone());
        }
        calls.cut
    }

    /// When the connection ends if no call comes.
    pub(super) fn ends(&self, waits: Waits, now: Instant) -> Instant {
        let calls = held(&self.calls);
        let idle = if calls.known { waits.idle } else { waits.stranger_idle };
        match calls.idle_since {
            None => calls.accepted + waits.first_request,
            Some(_) if calls.open > 0 => now + idle,
            Some(since) => since + idle,
        }
    }
}

impl Drop for Underway {
    fn drop(&mut self) {
        let mut calls = held(&self.0);
        calls.open = calls.open.saturating_sub(1);
        calls.idle_since = Some(Instant::now());
    }
}

fn held(calls: &Mutex<Calls>) -> MutexGuard<'_, Calls> {
    // Each change under the lock is whole, so a panic elsewhere leaves nothing half done.
    calls.lock().unwrap_or_else(PoisonError::into_inner)
}

#[cfg(test)]
mod tests {
    use super::*;

    const FIRST: Duration = Duration::from_secs(5);
    const STRANGER: Duration = Duration::from_secs(10);
    const IDLE: Duration = Duration::from_secs(600);
    const WAITS: Waits = Waits { first_request: FIRST, idle: IDLE, stranger_idle: STRANGER };

    fn peer(accepted: Instant) -> Peer {
        Peer::new(([127, 0, 0, 1], 1).into(), false, accepted)
    }

    #[test]
    fn a_connection_ends_without_a_first_call_and_long_after_the_last() {
        let accepted = Instant::now();
        let peer = peer(accepted);
        assert_eq!(peer.ends(WAITS, accepted), accepted + FIRST);
        let call = peer.begin();
        peer.know();
        let later = accepted + IDLE * 3;
        assert_eq!(peer.ends(WAITS, later), later + IDLE, "not while a call is open");
        let ended = Instant::now();
        drop(call);
        let ends = peer.ends(WAITS, later);
        assert!(
            ends >= ended + IDLE && ends <= Instant::now() + IDLE,
            "counted from the end of the last call"
        );
    }

    #[test]
    fn a_stranger_ends_soon_after_its_last_call_and_gives_its_place_back_when_it_is_known() {
        let places = Arc::new(crate::places::Places::new(1));
        let peer = peer(Instant::now()).holding(places.take("here").unwrap());
        drop(peer.begin());
        let now = Instant::now();
        assert!(peer.ends(WAITS, now) <= now + STRANGER);
        assert!(places.take("here").is_none());
        peer.know();
        assert!(peer.ends(WAITS, now) > now + STRANGER);
        assert!(places.take("here").is_some());
    }
}
