//! Two lines to sign on and the check value as a code, at the foot of the last page, never without words
//! above them.

use standpipe_engine::text::sentence;
use standpipe_engine::view::JobView;

use crate::code::{Code, MODULE};
use crate::compose::Composer;
use crate::error::ReportError;
use crate::page::COLUMN;
use crate::paragraph::{Ink, Span, Style, single_line};
use crate::strip::{Mark, Spot, Strip, baseline, line_marks};

/// Longest job number that goes into the code, in characters; a longer one is cut there and stands in the
/// foot in full.
const NUMBER_LENGTH_MAX: usize = 60;

/// The lines and the code.
///
/// # Errors
/// As [`Composer::say`]; [`ReportError::Code`] if the code cannot be made.
pub(crate) fn strips(view: &JobView, composer: &mut Composer<'_>) -> Result<Vec<Strip>, ReportError> {
    /// Room to sign in, at least.
    const ROOM: f64 = 24.0;
    const LABEL_PITCH: f64 = 12.0;
    const GUTTER: f64 = 26.0;
    let number: String = view.head.number.chars().take(NUMBER_LENGTH_MAX).collect();
    let code = Code::of(&format!("standpipe {number} {}", view.provenance.check_value))?;
    // Four modules around a code stay clear (ISO/IEC 18004, 6.3.8, from memory); at its right is the margin.
    let clear = 4.0 * MODULE;
    let left_of_code = COLUMN - code.side();
    let room = f64::max(ROOM, code.side() - LABEL_PITCH);
    let mut strip = Strip { space_above: clear, height: room + LABEL_PITCH, ..Strip::default() };
    strip.marks.extend(code.marks(Spot { x: left_of_code, y: 0.0 }));
    let width = (left_of_code - 2.0 * GUTTER) / 2.0;
    let signed = [sentence::record_signed_by_technician(), sentence::record_signed_by_customer()];
    for (left, said) in [0.0, width + GUTTER].into_iter().zip(signed) {
        strip.marks.push(Mark::rule(left, left + width, room, 0.7, Ink::Black));
        let line = single_line(composer.faces(), &[Span::new(composer.say(&said)?, Style::SIDE_LABEL)])?;
        let y = room + baseline(Style::SIDE_LABEL.size, LABEL_PITCH);
        strip.marks.extend(line_marks(&line, Spot { x: left, y }));
    }
    Ok(vec![strip])
}
