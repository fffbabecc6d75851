//! Not measured, not done: said in words, on every record, with the steps that were left out and why.

use standpipe_engine::text::{Sentence, sentence};
use standpipe_engine::view::JobView;

use crate::compose::Composer;
use crate::error::ReportError;
use crate::strip::Strip;

/// The section.
///
/// # Errors
/// As [`Composer::say`].
pub(super) fn strips(view: &JobView, composer: &mut Composer<'_>) -> Result<Vec<Strip>, ReportError> {
    let skipped = view.skipped.iter().cloned().map(sentence::record_skipped);
    let said: Vec<Sentence> = view.not_measured.iter().cloned().chain(skipped).collect();
    let body = composer.running(&said, |_| false)?;
    composer.section(&sentence::record_not_measured(), body)
}
