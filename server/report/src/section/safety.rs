//! Waste and safety: the cautions that belong to the work, and the paragraph that stands on every record.

use standpipe_engine::text::sentence;
use standpipe_engine::view::JobView;

use crate::compose::Composer;
use crate::error::ReportError;
use crate::page::COLUMN;
use crate::paragraph::{Span, Style, lines};
use crate::strip::{Strip, line_strips};

/// Line pitch of a note in points.
const NOTE_LEADING: f64 = 10.6;

/// The section; never left out.
///
/// # Errors
/// As [`Composer::say`].
pub(crate) fn strips(view: &JobView, composer: &mut Composer<'_>) -> Result<Vec<Strip>, ReportError> {
    let mut said = view.cautions.clone();
    said.push(sentence::record_safety_first());
    let words: Vec<String> = said.iter().map(|said| composer.say(said)).collect::<Result<_, _>>()?;
    let set = lines(composer.faces(), &[Span::new(words.join(" "), Style::NOTE)], COLUMN)?;
    let mut body = line_strips(&set, 0.0, NOTE_LEADING);
    if let Some(first) = body.first_mut() {
        first.space_above = 1.5;
    }
    composer.section(&sentence::record_waste_and_safety(), body)
}
