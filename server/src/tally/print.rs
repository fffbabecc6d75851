//! A tally on paper.

use super::Made;
use crate::status::Cause;
use crate::workshop::{Workshop, off_the_network};
use jiff::Timestamp;
use standpipe_engine::owner::one_page;
use standpipe_report::TallyPaper;
use std::sync::Arc;

/// The bytes of its PDF file; of the tally of all workshops the one page for their owner.
pub(crate) async fn pdf(workshop: &Workshop, made: Made) -> Result<Vec<u8>, Cause> {
    let Made { sheet, as_of_us, gathered, .. } = made;
    let revision = Arc::clone(&workshop.catalogue().now().revision);
    let settings = revision.workshop();
    let time = Timestamp::from_microsecond(as_of_us).unwrap_or(Timestamp::UNIX_EPOCH);
    let paper = TallyPaper {
        // The catalogue of an owner's server is offered to workshops, and may carry the name of one.
        workshop: match &workshop.tallies {
            Some(_) => workshop.site_name.clone(),
            None => settings.name.clone(),
        },
        printed_at: time
            .to_zoned_datetime(settings.time_zone.clone())
            .strftime("%-d %B %Y, %H:%M")
            .to_string(),
        printed_us: as_of_us,
        engine_version: crate::VERSION.to_owned(),
        language: settings.language,
    };
    let printed = off_the_network(move || match gathered.filter(|_| sheet.tally == "owner") {
        Some(gathered) => {
            let mut page = one_page(&gathered.context());
            page.named.splice(0..0, gathered.first.iter().map(|first| first.text.clone()));
            page.unmeasured.extend(gathered.notes.iter().cloned());
            standpipe_report::owner_sheet(&page, &paper)
        }
        None => standpipe_report::tally(&sheet, &paper),
    })
    .await?;
    printed.map_err(|error| Cause::internal("printing a tally", &error))
}
