//! Bounds of connections, calls and waiting: what an unknown neighbour on the same network may use up at most.
//!
//! Times that a server can be told otherwise for a test stand here as what holds when nothing is said.

/// Longest time that a photo from the page of a bay may take to arrive, in seconds; it holds one of few places.
pub const BAY_PHOTO_SECONDS_MAX: u64 = 60;
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
/// The same while no good token and no session of a page was shown on it.
pub const STRANGER_IDLE_SECONDS_MAX: u64 = 10;
/// Most of those connections, from outside in all and of the machine itself: who is known always finds a place beside
/// them.
pub const STRANGERS_MAX: usize = CONNECTIONS_MAX / 2;
/// A connection ends when the other side takes no byte of what is written, or gives no receipt for it, for so many
/// seconds.
pub const STALLED_WRITE_SECONDS_MAX: u64 = 30;
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
/// Renewals of its token by one station at once.
pub const RENEWALS_BURST_MAX: u32 = 6;
/// Seconds after which it may do one more.
pub const RENEWAL_SECONDS: u64 = 600;
/// Files that one station sends at the same time.
pub const BLOBS_PER_STATION_MAX: usize = 2;
/// A file ends when no part of it comes for so many seconds.
pub const BLOB_PART_SECONDS_MAX: u64 = 20;
/// Most bytes of what the page of a bay sends as text: one answer.
pub const BAY_ANSWER_BYTES_MAX: usize = 32 * 1024;
/// Most fields of one answer; no kind has so many.
pub const BAY_FIELDS_MAX: usize = 64;
/// Most bytes of the name of a field, a kind or a step in an answer.
pub const BAY_NAME_BYTES_MAX: usize = 80;
/// Most bytes of a text in an answer; what the entry takes of it, its own bound says.
pub const BAY_TEXT_BYTES_MAX: usize = 8 * 1024;
/// Tries to sign in at the pages from one address, at once; the pages of the shop server's own machine have more.
pub const SIGN_INS_BURST_MAX: u32 = 10;
/// The same on the shop server's own machine.
pub const SIGN_INS_HERE_BURST_MAX: u32 = 60;
/// Seconds after which one address may try once more.
pub const SIGN_IN_SECONDS: u64 = 12;
/// Tries of one person code from all addresses together at which nobody signed in with it before, at once.
pub const SIGN_INS_OF_STRANGERS_BURST_MAX: u32 = 20;
/// Seconds after which they may try once more.
pub const SIGN_IN_OF_STRANGERS_SECONDS: u64 = 120;
/// Wrong PINs of one person code from all stations together, within the time that follows.
pub const WRONG_PINS_OF_STATIONS_MAX: u32 = 20;
/// Seconds from the first of them on; then they are counted anew.
pub const WRONG_PINS_OF_STATIONS_SECONDS: u64 = 3_600;
/// Answers that take long to compute (a record, a printed tally, a plan) at the same time, of one station.
pub const LONG_ANSWERS_PER_STATION_MAX: usize = 2;
/// The same in all.
pub const LONG_ANSWERS_MAX: usize = 3;
/// Longest time that such a call waits for its turn, in seconds.
pub const TURN_SECONDS_MAX: u64 = 5;

const _: () = assert!(CONNECTIONS_PER_ADDRESS_MAX <= CONNECTIONS_PER_ADDRESS_MOST);
const _: () = assert!(CONNECTIONS_PER_ADDRESS_MOST <= CONNECTIONS_MAX);
const _: () = assert!(CONNECTIONS_PER_ADDRESS_MOST <= STRANGERS_MAX);
const _: () = assert!(STRANGER_IDLE_SECONDS_MAX <= IDLE_SECONDS_MAX);
const _: () = assert!(super::ENTRY_BYTES_MAX <= STREAM_WINDOW_BYTES as usize);
const _: () = assert!(super::BLOB_PART_BYTES_MAX <= CONNECTION_WINDOW_BYTES as usize);
/// One station never holds all turns.
const _: () = assert!(LONG_ANSWERS_PER_STATION_MAX < LONG_ANSWERS_MAX);
const _: () = assert!(TURN_SECONDS_MAX < super::CALL_SECONDS_MAX);
const _: () =
    assert!(BAY_TEXT_BYTES_MAX < BAY_ANSWER_BYTES_MAX && BAY_ANSWER_BYTES_MAX < super::ENTRY_BYTES_MAX);
