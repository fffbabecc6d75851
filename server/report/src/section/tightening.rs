//! Tightening: each group of screws and the level plug, with torque set, order and tool.

use standpipe_engine::text::sentence;
use standpipe_engine::view::JobView;

use crate::compose::Composer;
use crate::error::ReportError;
use crate::strip::Strip;

/// The section; nothing if nothing was tightened.
///
/// # Errors
/// As [`Composer::say`].
pub(super) fn strips(view: &JobView, composer: &mut Composer<'_>) -> Result<Vec<Strip>, ReportError> {
    let body = composer.running(&view.tightening, |_| false)?;
    composer.section(&sentence::record_tightening(), body)
}
