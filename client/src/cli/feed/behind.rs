//! A clock that can be set behind the station's: what recorded lines were made at, so far back that the last is now.

use crate::clock::Clock;
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};

/// The station's clock, or some time before it.
pub(super) struct Behind {
    clock: Arc<dyn Clock>,
    by_us: AtomicI64,
}

impl Behind {
    pub(super) fn new(clock: Arc<dyn Clock>) -> Self {
        Self { clock, by_us: AtomicI64::new(0) }
    }

    /// Sets it behind by so many microseconds.
    pub(super) fn be_behind(&self, by_us: i64) {
        self.by_us.store(by_us.max(0), Ordering::SeqCst);
    }

    fn by_us(&self) -> i64 {
        self.by_us.load(Ordering::SeqCst)
    }
}

impl Clock for Behind {
    fn now_microseconds(&self) -> i64 {
        self.clock.now_microseconds().saturating_sub(self.by_us())
    }

    fn monotonic_microseconds(&self) -> i64 {
        self.clock.monotonic_microseconds().saturating_sub(self.by_us()).max(0)
    }

    fn boot_id(&self) -> String {
        self.clock.boot_id()
    }
}
