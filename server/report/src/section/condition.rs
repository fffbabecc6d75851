//! Condition of the fluid: what was seen, what it speaks for and why, and the rule that decided, before and after.

use standpipe_engine::text::{Sentence, sentence};
use standpipe_engine::view::JobView;

use crate::compose::Composer;
use crate::error::ReportError;
use crate::strip::Strip;

/// The section, a paragraph a side; nothing if nothing was seen.
///
/// # Errors
/// As [`Composer::say`].
pub(super) fn strips(view: &JobView, composer: &mut Composer<'_>) -> Result<Vec<Strip>, ReportError> {
    let mut body = Vec::new();
    for side in &view.condition {
        let moment = sentence::record_condition_moment(side.moment.clone());
        let lines = side.lines.iter().map(|line| sentence::record_condition_line(line.text.clone()));
        let said: Vec<Sentence> =
            std::iter::once(moment.clone()).chain(lines).chain([side.conclusion.clone()]).collect();
        body.extend(composer.running(&said, |sentence| sentence.key() == moment.key())?);
    }
    composer.section(&sentence::record_condition(), body)
}
