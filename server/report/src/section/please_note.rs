//! Please note: what the customer should do or know, a point each; ends with the paragraph on the maker's
//! instructions, local rules and licensed practice, which the view always brings.

use standpipe_engine::text::sentence;
use standpipe_engine::view::JobView;

use crate::compose::Composer;
use crate::error::ReportError;
use crate::strip::Strip;

/// The section.
///
/// # Errors
/// As [`Composer::say`].
pub(super) fn strips(view: &JobView, composer: &mut Composer<'_>) -> Result<Vec<Strip>, ReportError> {
    let body = composer.list(&view.please_note)?;
    composer.section(&sentence::record_please_note(), body)
}
