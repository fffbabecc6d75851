//! In short: at most five sentences for the customer; the one with the share of new fluid in bold.

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
    let body = composer.running(&view.in_short, |said| said.key() == "short-share")?;
    composer.section(&sentence::record_in_short(), body)
}
