//! Changed afterwards and decided by name: what was written struck through, what counts now, and why, by
//! whom and when; how much was typed late; which open questions a person decided.

use standpipe_engine::text::{Sentence, sentence};
use standpipe_engine::view::{Change, JobView};

use super::Place;
use crate::compose::Composer;
use crate::error::ReportError;
use crate::paragraph::{Span, Style};
use crate::strip::{Strip, paragraph};

/// Clear space between two changes, in points.
const BETWEEN: f64 = 3.0;

/// The section; nothing if nothing was changed, typed late or decided.
///
/// # Errors
/// As [`Composer::say`].
pub(super) fn strips(
    view: &JobView,
    place: Place,
    composer: &mut Composer<'_>,
) -> Result<Vec<Strip>, ReportError> {
    let mut body = Vec::new();
    let words =
        |change: &Change| std::iter::once(change.was.clone()).chain(change.now.clone()).collect::<Vec<_>>();
    for change in view.changes.iter().filter(|change| place.takes(&words(change))) {
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
        add(paragraph(composer.faces(), &spans, composer.column())?, &mut body);
    }
    let late = view.story.iter().filter(|line| line.late).count();
    let late = u64::try_from(late).unwrap_or(u64::MAX);
    let late = (late > 0 && place != Place::Behind).then(|| sentence::record_typed_late(late));
    let decided: &[Sentence] = if place == Place::Behind { &[] } else { &view.decisions };
    let changed = !body.is_empty() || late.is_some();
    let said: Vec<Sentence> = late.into_iter().chain(decided.iter().cloned()).collect();
    add(composer.running(&said, |_| false)?, &mut body);
    let title = match (changed, decided.is_empty()) {
        (true, false) => sentence::record_changed_and_decided(),
        (false, false) => sentence::record_decided(),
        (_, true) => sentence::record_changed_afterwards(),
    };
    composer.section(&title, body)
}

fn add(mut strips: Vec<Strip>, body: &mut Vec<Strip>) {
    if let Some(first) = strips.first_mut().filter(|_| !body.is_empty()) {
        first.space_above = BETWEEN;
    }
    body.extend(strips);
}
