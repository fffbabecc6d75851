//! Not measured, not done: said in words, on every record.

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
    let body = composer.running(&view.not_measured, |_| false)?;
    composer.section(&sentence::record_not_measured(), body)
}
