//! Time and randomness as inputs, so that a demonstration or a test can bring its own.
//!
//! Nothing else in the crate reads the machine's clock or draws random numbers. Made in `main` or by a test, and
//! handed to [`crate::init`], [`crate::Desk`] and [`crate::Server`].

use crate::error::ServerError;
use std::time::{SystemTime, UNIX_EPOCH};

/// What says what time it is.
pub trait Clock: Send + Sync {
    /// Microseconds since 1970, UTC.
    fn now_us(&self) -> i64;
}

/// What gives unpredictable bits; a test may give predictable ones.
pub trait Entropy: Send + Sync {
    /// Fills the bytes.
    ///
    /// # Errors
    /// When the machine gives no random numbers.
    fn fill(&self, bytes: &mut [u8]) -> Result<(), ServerError>;
}

/// The machine's clock.
#[derive(Debug, Clone, Copy, Default)]
pub struct SystemClock;

impl Clock for SystemClock {
    fn now_us(&self) -> i64 {
        // A clock before 1970 reads as 1970; it decides nothing but what is printed as the time of receipt.
        let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
        i64::try_from(since.as_micros()).unwrap_or(i64::MAX)
    }
}

/// The random numbers of the operating system.
#[derive(Debug, Clone, Copy, Default)]
pub struct SystemEntropy;

impl Entropy for SystemEntropy {
    fn fill(&self, bytes: &mut [u8]) -> Result<(), ServerError> {
        getrandom::fill(bytes).map_err(|error| ServerError::NoRandomness { cause: error.to_string() })
    }
}

/// Sixteen bytes from a source of randomness.
pub(crate) fn sixteen(entropy: &dyn Entropy) -> Result<[u8; 16], ServerError> {
    let mut bytes = [0; 16];
    entropy.fill(&mut bytes)?;
    Ok(bytes)
}

/// Bytes as lower-case hexadecimal digits.
pub(crate) fn hex(bytes: &[u8]) -> String {
    use std::fmt::Write as _;
    bytes.iter().fold(String::with_capacity(bytes.len() * 2), |mut text, byte| {
        // Writing to a String cannot fail.
        let _ = write!(text, "{byte:02x}");
        text
    })
}

/// The other way round; nothing if the text is not exactly so many digits.
pub(crate) fn unhex<const N: usize>(text: &str) -> Option<[u8; N]> {
    let digits = text.as_bytes();
    if digits.len() != 2 * N {
        return None;
    }
    let mut bytes = [0; N];
    for (byte, pair) in bytes.iter_mut().zip(digits.chunks_exact(2)) {
        let [high, low] = *pair else { return None };
        let digit = |letter: u8| char::from(letter).to_digit(16).and_then(|digit| u8::try_from(digit).ok());
        *byte = digit(high)? << 4 | digit(low)?;
    }
    Some(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hexadecimal_digits_come_back_as_the_same_bytes() {
        assert_eq!(hex(&[0x00, 0x9f, 0xff]), "009fff");
        assert_eq!(unhex::<3>("009fff"), Some([0x00, 0x9f, 0xff]));
        for wrong in ["009ff", "009ffff", "0x9fff", "+09fff", "zzzzzz", ""] {
            assert_eq!(unhex::<3>(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn the_machines_clock_is_after_this_was_written() {
        // 2026-01-01T00:00:00Z.
        assert!(SystemClock.now_us() > 1_767_225_600_000_000);
    }
}
