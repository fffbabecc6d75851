//! A tally on paper.

use super::Made;
use crate::status::Cause;
use crate::workshop::Workshop;

/// The bytes of its PDF file.
pub(crate) async fn pdf(_workshop: &Workshop, made: Made) -> Result<Vec<u8>, Cause> {
    Err(Cause::internal("printing a tally", &made.sheet.tally))
}
