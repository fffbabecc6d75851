//! A clock that only a test moves.

use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};

/// Microseconds of a day.
pub const DAY_US: i64 = 86_400_000_000;

/// A server's clock that stands still until it is moved.
#[derive(Debug)]
pub struct Hand(AtomicI64);

impl Hand {
    /// A clock that stands at a time in microseconds since 1970.
    pub fn at(us: i64) -> Arc<Self> {
        Arc::new(Self(AtomicI64::new(us)))
    }

    pub fn forward(&self, us: i64) {
        self.0.fetch_add(us, Ordering::SeqCst);
    }
}

impl standpipe_server::Clock for Hand {
    fn now_us(&self) -> i64 {
        self.0.load(Ordering::SeqCst)
    }
}
