//! Time and randomness as inputs, so that a demonstration or a test can bring its own.
//!
//! Nothing else in the crate reads the machine's clock or draws random numbers. The wall clock decides nothing: it
//! may jump by years, and entries keep their order by their numbers.

use crate::error::ClientError;
use std::time::{Instant, SystemTime, UNIX_EPOCH};
use uuid::Builder;

/// What says what time it is at the station.
pub trait Clock: Send + Sync {
    /// Wall clock in microseconds since 1970, UTC.
    fn now_microseconds(&self) -> i64;
    /// Microseconds since the start named by [`Clock::boot_id`]; never goes back.
    fn monotonic_microseconds(&self) -> i64;
    /// Identity of the start that the monotonic clock counts from: 32 hexadecimal digits.
    fn boot_id(&self) -> String;
}

/// What gives unpredictable bytes; a test may give predictable ones.
pub trait Entropy: Send + Sync {
    /// Fills the bytes.
    ///
    /// # Errors
    /// When the machine gives no random numbers.
    fn fill(&self, bytes: &mut [u8]) -> Result<(), ClientError>;
}

/// The random numbers of the operating system.
#[derive(Debug, Clone, Copy, Default)]
pub struct SystemEntropy;

impl Entropy for SystemEntropy {
    fn fill(&self, bytes: &mut [u8]) -> Result<(), ClientError> {
        getrandom::fill(bytes).map_err(|error| ClientError::NoRandomness(error.to_string()))
    }
}

/// The machine's clocks. The monotonic one counts from the start of the machine where the system tells it
/// (Linux), else from the start of the program under a random identity.
#[derive(Debug, Clone)]
pub struct SystemClock {
    boot_id: String,
    uptime_microseconds: i64,
    read_at: Instant,
}

impl SystemClock {
    /// Reads the identity of the machine's start and how long ago it was.
    ///
    /// # Errors
    /// When the system does not tell it and the machine gives no random numbers either.
    pub fn read() -> Result<Self, ClientError> {
        let read_at = Instant::now();
        let boot = std::fs::read_to_string("/proc/sys/kernel/random/boot_id").ok();
        let uptime = std::fs::read_to_string("/proc/uptime").ok();
        let known =
            boot.as_deref().and_then(boot_digits).zip(uptime.as_deref().and_then(uptime_microseconds));
        let (boot_id, uptime_microseconds) = match known {
            Some(known) => known,
            None => (sixteen_hex(&SystemEntropy)?, 0),
        };
        Ok(Self { boot_id, uptime_microseconds, read_at })
    }
}

impl Clock for SystemClock {
    fn now_microseconds(&self) -> i64 {
        // A clock before 1970 reads as 1970; the header's bound moves it into its range later.
        let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
        i64::try_from(since.as_micros()).unwrap_or(i64::MAX)
    }

    fn monotonic_microseconds(&self) -> i64 {
        let since = i64::try_from(self.read_at.elapsed().as_micros()).unwrap_or(i64::MAX);
        self.uptime_microseconds.saturating_add(since)
    }

    fn boot_id(&self) -> String {
        self.boot_id.clone()
    }
}

/// The 32 digits of a UUID in its text form.
fn boot_digits(text: &str) -> Option<String> {
    let digits: String = text.trim().chars().filter(|c| *c != '-').collect();
    (digits.len() == 32 && digits.bytes().all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f'))).then_some(digits)
}

/// The first number of `/proc/uptime`: seconds with two decimals.
fn uptime_microseconds(text: &str) -> Option<i64> {
    let (seconds, decimals) = text.split_whitespace().next()?.split_once('.')?;
    let hundredths: i64 = decimals.get(..2)?.parse().ok()?;
    seconds.parse::<i64>().ok()?.checked_mul(1_000_000)?.checked_add(hundredths * 10_000)
}

/// A new UUID of version 7 in its text form (RFC 9562): milliseconds of the wall clock, the rest random.
pub(crate) fn new_id(now_microseconds: i64, entropy: &dyn Entropy) -> Result<String, ClientError> {
    let mut random = [0; 10];
    entropy.fill(&mut random)?;
    let milliseconds = u64::try_from(now_microseconds / 1000).unwrap_or(0);
    Ok(Builder::from_unix_timestamp_millis(milliseconds, &random).into_uuid().to_string())
}

/// Sixteen random bytes as 32 hexadecimal digits.
pub(crate) fn sixteen_hex(entropy: &dyn Entropy) -> Result<String, ClientError> {
    let mut bytes = [0; 16];
    entropy.fill(&mut bytes)?;
    Ok(format!("{:032x}", u128::from_be_bytes(bytes)))
}

/// A point of the wall clock as the messages carry it.
#[must_use]
pub fn timestamp(microseconds: i64) -> prost_types::Timestamp {
    let nanos = i32::try_from(microseconds.rem_euclid(1_000_000) * 1000).unwrap_or(0);
    prost_types::Timestamp { seconds: microseconds.div_euclid(1_000_000), nanos }
}

/// A point of time in a message, in microseconds since 1970.
#[must_use]
pub fn microseconds(time: &prost_types::Timestamp) -> i64 {
    time.seconds.saturating_mul(1_000_000).saturating_add(i64::from(time.nanos / 1000))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_system_tells_its_start_and_its_clock_never_goes_back() {
        let clock = SystemClock::read().unwrap();
        assert_eq!(clock.boot_id().len(), 32);
        let first = clock.monotonic_microseconds();
        assert!(first >= 0 && clock.monotonic_microseconds() >= first);
        assert_eq!(uptime_microseconds("350735.47 234388.90\n"), Some(350_735_470_000));
        assert_eq!(boot_digits("6b1f2c9e-0000-4000-8000-00000000000A"), None);
    }

    #[test]
    fn an_id_is_a_uuid_of_version_7_that_begins_with_the_milliseconds() {
        // RFC 9562, appendix A.6: 2022-02-22 19:22:22 UTC has the milliseconds 0x017F22E279B0.
        let id = new_id(0x017F_22E2_79B0 * 1000, &SystemEntropy).unwrap();
        assert!(id.starts_with("017f22e2-79b0-7"), "{id}");
        assert_eq!(uuid::Uuid::parse_str(&id).unwrap().get_version_num(), 7);
    }

    #[test]
    fn times_before_1970_keep_their_nanoseconds_positive() {
        for time in [-1, 0, 1, 1_770_000_000_123_456] {
            assert_eq!(microseconds(&timestamp(time)), time);
            assert!((0..1_000_000_000).contains(&timestamp(time).nanos));
        }
    }
}
