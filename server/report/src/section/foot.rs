//! Foot of every page: job, edition, check value, catalogue, engine, page x of y.

use standpipe_engine::text::{Sentence, sentence};
use standpipe_engine::view::JobView;

use crate::Options;
use crate::compose::Composer;
use crate::error::ReportError;

/// Hexadecimal digits of the catalogue revision that are printed.
const REVISION_DIGITS: usize = 8;

/// What the record was made from, in one line.
///
/// # Errors
/// As [`Composer::say`].
pub(crate) fn identity(
    view: &JobView,
    options: &Options,
    composer: &mut Composer<'_>,
) -> Result<String, ReportError> {
    let provenance = &view.provenance;
    let edition = match options.edition {
        Some(number) => sentence::record_edition(u64::from(number)),
        None => sentence::record_edition_none(),
    };
    composer.say(&sentence::record_foot(
        catalogue(view),
        provenance.check_value.as_str(),
        edition,
        provenance.engine_version,
        view.head.number.as_str(),
    ))
}

/// The catalogue's revision, shortened, or that there is none.
pub(crate) fn catalogue(view: &JobView) -> Sentence {
    let revision: String = view.provenance.catalogue_revision.chars().take(REVISION_DIGITS).collect();
    if revision.is_empty() { sentence::record_catalogue_none() } else { sentence::record_catalogue(revision) }
}

/// 'page x of y'.
///
/// # Errors
/// As [`Composer::say`].
pub(crate) fn page_words(
    composer: &mut Composer<'_>,
    page: usize,
    pages: usize,
) -> Result<String, ReportError> {
    composer.say(&sentence::record_page(page.to_string(), pages.to_string()))
}
