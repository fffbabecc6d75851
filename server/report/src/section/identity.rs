//! Head of page two, and how it is known that this is the right fluid.

use standpipe_engine::text::sentence;
use standpipe_engine::view::JobView;

use crate::compose::Composer;
use crate::error::ReportError;
use crate::page::COLUMN;
use crate::paragraph::{Span, Style, single_line};
use crate::strip::{Spot, Strip, baseline, line_marks};

/// Title of the details and the section.
///
/// # Errors
/// As [`Composer::say`].
pub(super) fn strips(view: &JobView, composer: &mut Composer<'_>) -> Result<Vec<Strip>, ReportError> {
    const PITCH: f64 = 17.5;
    let style = Style { size: 12.5, ..Style::STRONG };
    let title =
        single_line(composer.faces(), &[Span::new(composer.say(&sentence::record_details())?, style)])?;
    let readers = Span::new(composer.say(&sentence::record_details_readers())?, Style::LABEL);
    let readers = single_line(composer.faces(), &[readers])?;
    let y = baseline(style.size, PITCH);
    let mut marks = line_marks(&title, Spot { x: 0.0, y });
    marks.extend(line_marks(&readers, Spot { x: COLUMN - readers.width, y }));
    let mut strips = vec![Strip { height: PITCH, keeps_next: true, marks, ..Strip::default() }];
    let body = composer.running(&view.identity, |_| false)?;
    strips.extend(composer.section(&sentence::record_right_fluid(), body)?);
    Ok(strips)
}
