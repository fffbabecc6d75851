//! A tally on paper.

use super::Made;
use crate::status::Cause;
use crate::workshop::{Workshop, off_the_network};
use jiff::Timestamp;
use standpipe_report::TallyPaper;
use std::sync::Arc;

/// The bytes of its PDF file.
pub(crate) async fn pdf(workshop: &Workshop, made: Made) -> Result<Vec<u8>, Cause> {
    let Made { sheet, as_of_us, .. } = made;
    let revision = Arc::clone(&workshop.catalogue().now().revision);
    let settings = revision.workshop();
    let time = Timestamp::from_microsecond(as_of_us).unwrap_or(Timestamp::UNIX_EPOCH);
    let paper = TallyPaper {
        workshop: settings.name.clone(),
        printed_at: time
            .to_zoned_datetime(settings.time_zone.clone())
            .strftime("%-d %B %Y, %H:%M")
            .to_string(),
        printed_us: as_of_us,
        engine_version: crate::VERSION.to_owned(),
        language: settings.language,
    };
    let printed = off_the_network(move || standpipe_report::tally(&sheet, &paper)).await?;
    printed.map_err(|error| Cause::internal("printing a tally", &error))
}
