//! Bounds of connections, calls and waiting: what an unknown neighbour on the same network may use up at most.
//!
//! Times that a server can be told otherwise for a test stand here as what holds when nothing is said.

/// Most connections of one address at the same time; not of the shop server's own machine.
pub const CONNECTIONS_PER_ADDRESS_MAX: usize = 32;
/// Greatest number that can be set for it.
pub const CONNECTIONS_PER_ADDRESS_MOST: usize = 1_000;
/// Most connections from outside in all, and most of the machine itself.
pub const CONNECTIONS_MAX: usize = 2_000;
/// Longest time for the TLS handshake, in seconds.
pub const HANDSHAKE_SECONDS_MAX: u64 = 5;
/// Longest time from being accepted to the first request, in seconds.
pub const FIRST_REQUEST_SECONDS_MAX: u64 = 5;
/// A connection ends when no call was open for so many seconds.
pub const IDLE_SECONDS_MAX: u64 = 600;
/// A connection ends when the other side takes no byte of what is written for so many seconds.
pub const STALLED_WRITE_SECONDS_MAX: u64 = 60;
/// A stream ends when its reader takes no message for so many seconds.
pub const READER_SECONDS_MAX: u64 = 60;
/// A silent connection is asked for a sign of life after so many seconds, and cut off after as many again.
pub const SIGN_OF_LIFE_SECONDS: u64 = 5;
/// Streams that a peer may open and reset at once before its connection is cut off.
pub const RESET_STREAMS_MAX: usize = 64;
/// Bytes of one stream that may be under way to the server: the greatest entry.
pub const STREAM_WINDOW_BYTES: u32 = 64 * 1024;
/// Bytes of one connection that may be under way to the server: one part of a file.
pub const CONNECTION_WINDOW_BYTES: u32 = 256 * 1024;
/// Frames that carry no content which a peer may send at once (PING, SETTINGS, WINDOW_UPDATE and so on).
pub const EMPTY_FRAMES_BURST_MAX: u32 = 8_192;
/// The same for each second; a frame with content makes room for two more.
pub const EMPTY_FRAMES_PER_SECOND_MAX: u32 = 1_000;
/// What one reset of a stream counts among them: each costs the server a call that nobody waits for.
pub const RESET_COUNTS_AS: u32 = 8;
/// Single calls of Append of one station in a second; a stream is held by its window only.
pub const APPENDS_PER_SECOND_MAX: u32 = 50;
/// The same at once.
pub const APPENDS_BURST_MAX: u32 = 500;
/// Calls with a token that is not good of one address in a second.
pub const FAILED_TOKENS_PER_SECOND_MAX: u32 = 5;
/// The same at once.
pub const FAILED_TOKENS_BURST_MAX: u32 = 500;
/// Answers that take long to compute (a record, a printed tally, a plan) at the same time, of one station.
pub const LONG_ANSWERS_PER_STATION_MAX: usize = 2;
/// The same in all.
pub const LONG_ANSWERS_MAX: usize = 2;
/// Longest time that such a call waits for its turn, in seconds.
pub const TURN_SECONDS_MAX: u64 = 5;

const _: () = assert!(CONNECTIONS_PER_ADDRESS_MAX <= CONNECTIONS_PER_ADDRESS_MOST);
const _: () = assert!(CONNECTIONS_PER_ADDRESS_MOST <= CONNECTIONS_MAX);
const _: () = assert!(super::ENTRY_BYTES_MAX <= STREAM_WINDOW_BYTES as usize);
const _: () = assert!(super::BLOB_PART_BYTES_MAX <= CONNECTION_WINDOW_BYTES as usize);
const _: () = assert!(TURN_SECONDS_MAX < super::CALL_SECONDS_MAX);
