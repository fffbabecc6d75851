//! What the entries show: findings that belong on paper, those that stop the work first and in bold.

use standpipe_engine::text::sentence;
use standpipe_engine::view::{Finding, JobView, Weight};

use super::Place;
use crate::compose::Composer;
use crate::error::ReportError;
use crate::paragraph::{Span, Style};
use crate::strip::{Strip, list_point};

/// The section; nothing if nothing was found.
///
/// # Errors
/// As [`Composer::say`].
pub(super) fn strips(
    view: &JobView,
    place: Place,
    composer: &mut Composer<'_>,
) -> Result<Vec<Strip>, ReportError> {
    let mut body = Vec::new();
    let here: Vec<&Finding> = view
        .findings
        .iter()
        .filter(|finding| place.takes([&finding.text]) && !is_noted(view, place, finding))
        .collect();
    for weight in [Weight::Stops, Weight::Tells] {
        let style = if weight == Weight::Stops { Style::STRONG } else { Style::TEXT };
        for finding in here.iter().filter(|finding| finding.on_record && finding.weight == weight) {
            let words = composer.say(&finding.text)?;
            body.extend(list_point(composer.faces(), &[Span::new(words, style)], composer.column())?);
        }
    }
    composer.section(&sentence::record_findings(), body)
}

/// Whether the customer's page says it already, a few lines further down.
fn is_noted(view: &JobView, place: Place, finding: &Finding) -> bool {
    place == Place::Customer && finding.weight == Weight::Tells && view.please_note.contains(&finding.text)
}
