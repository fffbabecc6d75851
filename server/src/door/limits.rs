//! What a server allows those who connect. The numbers that hold when nothing is said are [`bounds`]; a test may wait
//! for less.

use standpipe_proto::limits::door as bounds;
use std::time::Duration;

/// Limits of connections and calls.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// Most connections of one address that is not this machine's own.
    pub connections_per_address: usize,
    /// Most connections from outside in all, and most of the machine itself.
    pub connections: usize,
    /// Most of them on which no good token and no session of a page was shown.
    pub strangers: usize,
    /// Longest time for the TLS handshake.
    pub handshake: Duration,
    /// Longest time from being accepted to the first request.
    pub first_request: Duration,
    /// A connection ends when no call was open for so long.
    pub idle: Duration,
    /// The same while no good token and no session was shown on it, if that is shorter.
    pub stranger_idle: Duration,
    /// A connection ends when nothing of what is written is taken for so long.
    pub stalled_write: Duration,
    /// A stream ends when its reader takes no message for so long.
    pub reader_waits: Duration,
    /// One that does not take the end of its stream either loses its connection after so long.
    pub last_word: Duration,
    /// A silent connection is asked for a sign of life after so long, and cut off after as long again.
    pub sign_of_life: Duration,
    /// Single calls of Append of one station: so many in a second, and at once.
    pub appends: (u32, u32),
    /// Calls with a token that is not good of one address: so many in a second, and at once.
    pub failed_tokens: (u32, u32),
    /// A file that a station sends ends when no part of it comes for so long.
    pub blob_part: Duration,
    /// Longest time that a call whose answer takes long waits for its turn.
    pub turn: Duration,
}

impl Default for Limits {
    fn default() -> Self {
        let seconds = Duration::from_secs;
        Self {
            connections_per_address: bounds::CONNECTIONS_PER_ADDRESS_MAX,
            connections: bounds::CONNECTIONS_MAX,
            strangers: bounds::STRANGERS_MAX,
            handshake: seconds(bounds::HANDSHAKE_SECONDS_MAX),
            first_request: seconds(bounds::FIRST_REQUEST_SECONDS_MAX),
            idle: seconds(bounds::IDLE_SECONDS_MAX),
            stranger_idle: seconds(bounds::STRANGER_IDLE_SECONDS_MAX),
            stalled_write: seconds(bounds::STALLED_WRITE_SECONDS_MAX),
            reader_waits: seconds(bounds::READER_SECONDS_MAX),
            last_word: seconds(bounds::READER_SECONDS_MAX),
            sign_of_life: seconds(bounds::SIGN_OF_LIFE_SECONDS),
            appends: (bounds::APPENDS_PER_SECOND_MAX, bounds::APPENDS_BURST_MAX),
            failed_tokens: (bounds::FAILED_TOKENS_PER_SECOND_MAX, bounds::FAILED_TOKENS_BURST_MAX),
            blob_part: seconds(bounds::BLOB_PART_SECONDS_MAX),
            turn: seconds(bounds::TURN_SECONDS_MAX),
        }
    }
}
