//! Head of page two, and how it is known that this is the right fluid.

use standpipe_engine::text::{Sentence, sentence};
use standpipe_engine::view::JobView;

use crate::compose::Composer;
use crate::error::ReportError;
use crate::paragraph::{Span, Style, single_line};
use crate::strip::{Spot, Strip, baseline, line_marks};

/// Title of the details.
///
/// # Errors
/// As [`Composer::say`].
pub(super) fn title(composer: &mut Composer<'_>) -> Result<Vec<Strip>, ReportError> {
    second_title(&sentence::record_details(), &sentence::record_details_readers(), composer)
}

/// A title of a later page with whom it is for at the right.
///
/// # Errors
/// As [`Composer::say`].
pub(super) fn second_title(
    title: &Sentence,
    readers: &Sentence,
    composer: &mut Composer<'_>,
) -> Result<Vec<Strip>, ReportError> {
    const PITCH: f64 = 17.5;
    let style = Style { size: 12.5, ..Style::STRONG };
    let title = single_line(composer.faces(), &[Span::new(composer.say(title)?, style)])?;
    let readers = Span::new(composer.say(readers)?, Style::LABEL);
    let readers = single_line(composer.faces(), &[readers])?;
    let y = baseline(style.size, PITCH);
    let mut marks = line_marks(&title, Spot { x: 0.0, y });
    marks.extend(line_marks(&readers, Spot { x: composer.column() - readers.width, y }));
    Ok(vec![Strip { height: PITCH, keeps_next: true, marks, ..Strip::default() }])
}

/// The section.
///
/// # Errors
/// As [`Composer::say`].
pub(super) fn strips(view: &JobView, composer: &mut Composer<'_>) -> Result<Vec<Strip>, ReportError> {
    let body = composer.running(&view.identity, |_| false)?;
    composer.section(&sentence::record_right_fluid(), body)
}
