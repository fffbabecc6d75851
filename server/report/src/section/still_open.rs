//! Still open: stands on a record that is made before the job is closed, so that nobody takes it for the
//! finished one.

use standpipe_engine::text::{Sentence, sentence};
use standpipe_engine::view::JobView;

use crate::compose::Composer;
use crate::error::ReportError;
use crate::strip::Strip;

/// The section; nothing for a closed job.
///
/// # Errors
/// As [`Composer::say`].
pub(super) fn strips(view: &JobView, composer: &mut Composer<'_>) -> Result<Vec<Strip>, ReportError> {
    if view.head.closed {
        return Ok(Vec::new());
    }
    let mut body = composer.running(&[sentence::record_not_closed()], |_| true)?;
    let open: Vec<Sentence> = view.open_points.iter().map(|point| point.text.clone()).collect();
    body.iter_mut().for_each(|strip| strip.keeps_next = !open.is_empty());
    body.extend(composer.list(&open)?);
    composer.section(&sentence::record_still_open(), body)
}
