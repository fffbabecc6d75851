//! Makes an entry out of a fact: the header, the check against the table of bounds, and the sealed bytes that nobody
//! encodes again. Called by [`crate::Station`] only.

use crate::clock::{Clock, Entropy, new_id, timestamp};
use crate::error::ClientError;
use bytes::Bytes;
use prost::Message as _;
use standpipe_proto::limits::{ENTRY_BYTES_MAX, TIME_SECONDS};
use standpipe_proto::v1::{AsTyped, Entry, Fact, Header, header::Subject};
use standpipe_proto::{check, check::CheckError};

/// What goes into a header beside time and identity.
pub(crate) struct Stated<'a> {
    pub(crate) station_id: &'a str,
    pub(crate) person_code: &'a str,
    pub(crate) subject: Subject,
    pub(crate) epoch: &'a str,
    pub(crate) station_number: i64,
    pub(crate) as_typed: Vec<AsTyped>,
    pub(crate) done_time: Option<prost_types::Timestamp>,
}

/// Makes, checks and seals an entry.
pub(crate) fn sealed(
    fact: Fact,
    stated: Stated<'_>,
    clock: &dyn Clock,
    entropy: &dyn Entropy,
) -> Result<(Entry, Bytes), ClientError> {
    let (now, _) = wall_clock(clock);
    let header = Header {
        entry_id: new_id(now, entropy)?,
        subject: Some(stated.subject),
        station_id: stated.station_id.to_owned(),
        station_epoch: stated.epoch.to_owned(),
        station_number: stated.station_number,
        person_code: stated.person_code.to_owned(),
        station_time: Some(timestamp(now)),
        monotonic_microseconds: clock.monotonic_microseconds().max(0),
        boot_id: clock.boot_id(),
        done_time: stated.done_time,
        as_typed: stated.as_typed,
    };
    let entry = Entry { header: Some(header), fact: Some(fact) };
    check::entry(&entry)?;
    let bytes = entry.encode_to_vec();
    if bytes.len() > ENTRY_BYTES_MAX {
        return Err(CheckError::TooLarge { bytes: bytes.len(), greatest: ENTRY_BYTES_MAX }.into());
    }
    Ok((entry, Bytes::from(bytes)))
}

/// The wall clock in microseconds, moved into the years that an entry may have, and whether it had to be moved.
/// A station whose clock lost its battery works on: its clock decides nothing.
pub(crate) fn wall_clock(clock: &dyn Clock) -> (i64, bool) {
    let now = clock.now_microseconds();
    let moved = now.clamp(TIME_SECONDS.0 * 1_000_000, TIME_SECONDS.1 * 1_000_000);
    (moved, moved != now)
}
