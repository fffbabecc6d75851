//! How often something may be done: single calls of Append and renewals by station, tokens that are not good and tries
//! to sign in by address.
//!
//! Never here: what is told to who comes too often, which is [`crate::status`]'s.

use governor::clock::{Clock, DefaultClock};
use governor::middleware::NoOpMiddleware;
use governor::state::keyed::DashMapStateStore;
use governor::{Quota, RateLimiter};
use std::hash::Hash;
use std::num::NonZeroU32;
use std::time::Duration;

/// With more keys than this, those that were not heard of lately are forgotten.
const KEYS_MAX: usize = 4_096;

/// So many in a second for each key, and so many at once.
pub(crate) struct Rate<K: Hash + Eq + Clone, C: Clock = DefaultClock> {
    limiter: RateLimiter<K, DashMapStateStore<K>, C, NoOpMiddleware<C::Instant>>,
    clock: C,
}

impl<K: Hash + Eq + Clone> Rate<K> {
    pub(crate) fn new(per_second_and_burst: (u32, u32)) -> Self {
        Self::on(per_second_and_burst, DefaultClock::default())
    }

    /// One after each such time, and so many at once.
    pub(crate) fn every(time: Duration, burst: u32) -> Self {
        let burst = NonZeroU32::new(burst).unwrap_or(NonZeroU32::MIN);
        // A time of nothing is no measure; then it is a second.
        let each = Quota::with_period(time).unwrap_or(Quota::per_second(NonZeroU32::MIN));
        Self::of(each.allow_burst(burst), DefaultClock::default())
    }
}

impl<K: Hash + Eq + Clone, C: Clock + Clone> Rate<K, C> {
    fn on((per_second, burst): (u32, u32), clock: C) -> Self {
        let count = |count: u32| NonZeroU32::new(count).unwrap_or(NonZeroU32::MIN);
        Self::of(Quota::per_second(count(per_second)).allow_burst(count(burst)), clock)
    }

    fn of(quota: Quota, clock: C) -> Self {
        Self { limiter: RateLimiter::new(quota, DashMapStateStore::default(), clock.clone()), clock }
    }

    /// Counts one more, or says how long to wait for it; then it is not counted.
    pub(crate) fn take(&self, key: &K) -> Result<(), Duration> {
        if self.limiter.len() > KEYS_MAX {
            self.limiter.retain_recent();
        }
        self.limiter.check_key(key).map_err(|until| until.wait_time_from(self.clock.now()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use governor::clock::FakeRelativeClock;

    #[test]
    fn a_burst_is_taken_then_so_many_a_second_and_others_are_not_touched() {
        let clock = FakeRelativeClock::default();
        let rate = Rate::on((50, 500), clock.clone());
        assert!((0..500).all(|_| rate.take(&"bay-1").is_ok()));
        let wait = rate.take(&"bay-1").unwrap_err();
        assert!(wait > Duration::ZERO && wait <= Duration::from_millis(20), "{wait:?}");
        assert!(rate.take(&"bay-2").is_ok());
        clock.advance(Duration::from_secs(1));
        assert_eq!((0..100).filter(|_| rate.take(&"bay-1").is_ok()).count(), 50);
    }

    #[test]
    fn a_slow_rate_has_a_burst_too() {
        let rate = Rate::every(Duration::from_secs(600), 3);
        assert_eq!((0..9).filter(|_| rate.take(&"B").is_ok()).count(), 3);
        let wait = rate.take(&"B").unwrap_err();
        assert!(wait > Duration::from_secs(500) && wait <= Duration::from_secs(600), "{wait:?}");
    }

    #[test]
    fn keys_that_are_heard_of_once_are_forgotten() {
        let clock = FakeRelativeClock::default();
        let rate = Rate::on((5, 10), clock.clone());
        for key in 0..3 * KEYS_MAX {
            clock.advance(Duration::from_millis(200));
            assert!(rate.take(&key).is_ok());
        }
        assert!(rate.limiter.len() <= KEYS_MAX + 1);
    }
}
