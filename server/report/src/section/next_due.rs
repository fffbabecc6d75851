//! Next due: at which distance or on which date, whichever comes first, and on what that stands.

use standpipe_engine::text::sentence;
use standpipe_engine::view::JobView;

use crate::compose::Composer;
use crate::error::ReportError;
use crate::strip::Strip;

/// The section; nothing while the work is not done.
///
/// # Errors
/// As [`Composer::say`].
pub(super) fn strips(view: &JobView, composer: &mut Composer<'_>) -> Result<Vec<Strip>, ReportError> {
    let body = composer.running(&view.next_due.sentences, |_| false)?;
    composer.section(&sentence::record_next_due(), body)
}
