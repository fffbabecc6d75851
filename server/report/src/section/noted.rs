//! Noted in words: what persons wrote about neither complaint, order nor drive, which have their own places.

use standpipe_engine::text::{Sentence, sentence};

use crate::compose::Composer;
use crate::error::ReportError;
use crate::options::Given;
use crate::section::words;
use crate::strip::Strip;

/// The section; nothing if nothing else was noted.
///
/// # Errors
/// As [`Composer::say`].
pub(super) fn strips(given: &Given<'_>, composer: &mut Composer<'_>) -> Result<Vec<Strip>, ReportError> {
    let placed = |subject| matches!(subject, Some("complaint" | "order" | "drive-before" | "drive-after"));
    let others = given.view.remarks.iter().filter(|remark| !placed(words::subject_of(remark)));
    let said: Vec<Sentence> = others
        .map(|remark| sentence::record_words_about(remark.subject.clone(), words::of(given, remark)))
        .collect();
    let body = composer.running(&said, |_| false)?;
    composer.section(&sentence::record_noted(), body)
}
