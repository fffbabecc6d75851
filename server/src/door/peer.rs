//! Who is at the other end of a connection, and which of its calls are open.
//!
//! Every request carries its [`Peer`] among its extensions. Never here: what a token may, which is
//! [`crate::access`]'s.

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
    /// Whether the connection is to be closed.
    cut: bool,
    reader: Option<Waker>,
}

/// One call of a connection; it has ended when this is dropped.
#[derive(Debug)]
pub(crate) struct Underway(Arc<Mutex<Calls>>);

impl Peer {
    pub(crate) fn new(address: SocketAddr, tls: bool, accepted: Instant) -> Self {
        let calls = Calls { open: 0, idle_since: None, accepted, cut: false, reader: None };
        Self { address, tls, calls: Arc::new(Mutex::new(calls)) }
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
    pub(super) fn ends(&self, first_request: Duration, idle: Duration, now: Instant) -> Instant {
        let calls = held(&self.calls);
        match calls.idle_since {
            None => calls.accepted + first_request,
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
    const IDLE: Duration = Duration::from_secs(600);

    #[test]
    fn a_connection_ends_without_a_first_call_and_long_after_the_last() {
        let accepted = Instant::now();
        let peer = Peer::new(([127, 0, 0, 1], 1).into(), false, accepted);
        assert_eq!(peer.ends(FIRST, IDLE, accepted), accepted + FIRST);
        let call = peer.begin();
        let later = accepted + IDLE * 3;
        assert_eq!(peer.ends(FIRST, IDLE, later), later + IDLE, "not while a call is open");
        let ended = Instant::now();
        drop(call);
        let ends = peer.ends(FIRST, IDLE, later);
        assert!(
            ends >= ended + IDLE && ends <= Instant::now() + IDLE,
            "counted from the end of the last call"
        );
    }
}
