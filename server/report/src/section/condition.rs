//! Condition of the fluid: what was seen, what it speaks for and why, and the rule that decided, before and after.

use standpipe_engine::text::{Sentence, sentence};
use standpipe_engine::view::JobView;

use crate::compose::Composer;
use crate::error::ReportError;
use crate::strip::Strip;

/// Which lines stand in a section.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Lines {
    /// All of them, for the expert.
    All,
    /// No figure of a laboratory or a photo, where a customer reads it.
    WithoutFigures,
    /// Only those figures, behind what the customer reads.
    Figures,
}

/// The section, a paragraph a side; nothing if nothing was seen.
///
/// # Errors
/// As [`Composer::say`].
pub(super) fn strips(
    view: &JobView,
    lines: Lines,
    composer: &mut Composer<'_>,
) -> Result<Vec<Strip>, ReportError> {
    let mut body = Vec::new();
    for side in &view.condition {
        let moment = sentence::record_condition_moment(side.moment.clone());
        let shown = side.lines.iter().filter(|line| match lines {
            Lines::All => true,
            Lines::WithoutFigures => !line.measured,
            Lines::Figures => line.measured,
        });
        let mut said: Vec<Sentence> =
            shown.map(|line| sentence::record_condition_line(line.text.clone())).collect();
        if lines != Lines::Figures {
            said.push(side.conclusion.clone());
        }
        if said.is_empty() {
            continue;
        }
        said.insert(0, moment.clone());
        body.extend(composer.running(&said, |sentence| sentence.key() == moment.key())?);
    }
    composer.section(&sentence::record_condition(), body)
}
