//! Time and randomness of the demo: a clock that only the script moves, ids from a seed.

use crate::START_US;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use standpipe_client::ClientError;
use standpipe_server::ServerError;
use std::sync::atomic::{AtomicI64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

/// A clock that all of the demo shares and that only the script moves.
#[derive(Debug, Clone)]
pub(crate) struct SimulatedClock(Arc<AtomicI64>);

impl SimulatedClock {
    /// The clock at the start of the work, microseconds since 1970.
    pub(crate) fn at(us: i64) -> Self {
        Self(Arc::new(AtomicI64::new(us)))
    }

    /// Moves on by whole seconds.
    pub(crate) fn pass(&self, seconds: i64) {
        self.0.fetch_add(seconds * 1_000_000, Ordering::SeqCst);
    }

    fn now(&self) -> i64 {
        self.0.load(Ordering::SeqCst)
    }
}

impl standpipe_server::Clock for SimulatedClock {
    fn now_us(&self) -> i64 {
        self.now()
    }
}

impl standpipe_client::clock::Clock for SimulatedClock {
    fn now_microseconds(&self) -> i64 {
        self.now()
    }

    fn monotonic_microseconds(&self) -> i64 {
        self.now() - START_US
    }

    fn boot_id(&self) -> String {
        "0".repeat(32)
    }
}

/// Bytes from a seed: the same at every run, never secret.
#[derive(Debug)]
pub(crate) struct Seeded(Mutex<ChaCha8Rng>);

impl Seeded {
    /// A stream of bytes of its own for each number.
    pub(crate) fn number(seed: u64) -> Arc<Self> {
        Arc::new(Self(Mutex::new(ChaCha8Rng::seed_from_u64(seed))))
    }

    fn draw(&self, bytes: &mut [u8]) {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).fill_bytes(bytes);
    }
}

impl standpipe_server::Entropy for Seeded {
    fn fill(&self, bytes: &mut [u8]) -> Result<(), ServerError> {
        self.draw(bytes);
        Ok(())
    }
}

impl standpipe_client::clock::Entropy for Seeded {
    fn fill(&self, bytes: &mut [u8]) -> Result<(), ClientError> {
        self.draw(bytes);
        Ok(())
    }
}
