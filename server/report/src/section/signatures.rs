//! Two lines to sign on, at the foot of the last page, never without words above them.

use standpipe_engine::text::sentence;

use crate::compose::Composer;
use crate::error::ReportError;
use crate::page::COLUMN;
use crate::paragraph::{Ink, Span, Style, single_line};
use crate::strip::{Mark, Spot, Strip, baseline, line_marks};

/// The lines.
///
/// # Errors
/// As [`Composer::say`].
pub(crate) fn strips(composer: &mut Composer<'_>) -> Result<Vec<Strip>, ReportError> {
    /// Room to sign in.
    const ROOM: f64 = 24.0;
    const LABEL_PITCH: f64 = 12.0;
    const GUTTER: f64 = 34.0;
    let width = (COLUMN - GUTTER) / 2.0;
    let mut strip = Strip { space_above: 4.0, height: ROOM + LABEL_PITCH, ..Strip::default() };
    let signed = [sentence::record_signed_by_technician(), sentence::record_signed_by_customer()];
    for (left, said) in [0.0, width + GUTTER].into_iter().zip(signed) {
        strip.marks.push(Mark::rule(left, left + width, ROOM, 0.7, Ink::Black));
        let line = single_line(composer.faces(), &[Span::new(composer.say(&said)?, Style::SIDE_LABEL)])?;
        let y = ROOM + baseline(Style::SIDE_LABEL.size, LABEL_PITCH);
        strip.marks.extend(line_marks(&line, Spot { x: left, y }));
    }
    Ok(vec![strip])
}
