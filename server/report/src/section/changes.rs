//! Changed afterwards: what was written struck through, what counts now, and why, by whom and
//! when.

use standpipe_engine::text::sentence;
use standpipe_engine::view::JobView;

use crate::compose::Composer;
use crate::error::ReportError;
use crate::page::COLUMN;
use crate::paragraph::{Span, Style};
use crate::strip::{Strip, paragraph};

/// The section; nothing if nothing was changed.
///
/// # Errors
/// As [`Composer::say`].
pub(super) fn strips(view: &JobView, composer: &mut Composer<'_>) -> Result<Vec<Strip>, ReportError> {
    let mut body = Vec::new();
    for change in &view.changes {
        let now = match &change.now {
            Some(now) => composer.say(now)?,
            None => composer.say(&sentence::record_withdrawn())?,
        };
        let spans = [
            Span::new(composer.say(&change.was)?, Style::STRUCK),
            Span::text("  "),
            Span::text(now),
            Span::text("  "),
            Span::new(composer.say(&change.why)?, Style::LABEL),
        ];
        let mut strips = paragraph(composer.faces(), &spans, COLUMN)?;
        if let Some(first) = strips.first_mut().filter(|_| !body.is_empty()) {
            first.space_above = 3.0;
        }
        body.extend(strips);
    }
    composer.section(&sentence::record_changed_afterwards(), body)
}
