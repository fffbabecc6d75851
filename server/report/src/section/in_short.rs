//! In short: at most five sentences for the customer, the one with the share of new fluid in bold, and below
//! them what the customer said and ordered, word for word.

use standpipe_engine::text::{Sentence, sentence};

use crate::compose::Composer;
use crate::error::ReportError;
use crate::options::Given;
use crate::section::words;
use crate::strip::Strip;

/// The section.
///
/// # Errors
/// As [`Composer::say`].
pub(super) fn strips(given: &Given<'_>, composer: &mut Composer<'_>) -> Result<Vec<Strip>, ReportError> {
    let mut body = composer.running(&given.view.in_short, |said| said.key() == "short-share")?;
    for (subject, said) in [
        ("complaint", sentence::record_words_complaint as fn(Sentence) -> Sentence),
        ("order", sentence::record_words_order),
    ] {
        for words in words::about(given, subject) {
            body.extend(composer.running(&[said(words)], |_| false)?);
        }
    }
    composer.section(&sentence::record_in_short(), body)
}
