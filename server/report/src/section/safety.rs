//! Waste and safety: what was put where, who read which group of cautions, a line a group, every other caution
//! of the work in full, and the paragraph that stands on every record.

use standpipe_engine::caution;
use standpipe_engine::kind::words::CautionGroup;
use standpipe_engine::text::{Arg, Sentence, sentence};
use standpipe_engine::view::JobView;

use crate::compose::Composer;
use crate::error::ReportError;
use crate::paragraph::{Span, Style, lines};
use crate::section::words::chosen;
use crate::strip::{Strip, line_strips};

/// Line pitch of a note in points.
const NOTE_LEADING: f64 = 10.6;

/// The five groups in the order of the work.
pub(crate) const GROUPS: [CautionGroup; 5] = [
    CautionGroup::Lifted,
    CautionGroup::LineOpening,
    CautionGroup::EngineRunning,
    CautionGroup::PanAndHot,
    CautionGroup::GearsAndLevel,
];

/// The section; never left out.
///
/// # Errors
/// As [`Composer::say`].
pub(super) fn strips(view: &JobView, composer: &mut Composer<'_>) -> Result<Vec<Strip>, ReportError> {
    let mut body = composer.running(&view.waste, |_| false)?;
    for (index, read) in view.acknowledged.iter().enumerate() {
        let mut line = note(std::slice::from_ref(read), composer)?;
        if let Some(first) = line.first_mut().filter(|_| index > 0) {
            first.space_above = 0.0;
        }
        body.extend(line);
    }
    let mut said: Vec<Sentence> =
        view.cautions.iter().filter(|caution| !was_read(view, caution)).cloned().collect();
    said.push(sentence::record_safety_first());
    body.extend(note(&said, composer)?);
    composer.section(&sentence::record_waste_and_safety(), body)
}

/// True if somebody stated to have read the group of this caution; then its line stands for its words.
fn was_read(view: &JobView, words: &Sentence) -> bool {
    let Some(group) = GROUPS.into_iter().find(|group| caution::text(*group).key() == words.key()) else {
        return false;
    };
    view.acknowledged
        .iter()
        .flat_map(Sentence::args)
        .any(|(_, arg)| matches!(arg, Arg::Sentence(read) if chosen(read) == Some(group.word())))
}

fn note(said: &[Sentence], composer: &mut Composer<'_>) -> Result<Vec<Strip>, ReportError> {
    let words: Vec<String> = said.iter().map(|said| composer.say(said)).collect::<Result<_, _>>()?;
    let set = lines(composer.faces(), &[Span::new(words.join(" "), Style::NOTE)], composer.column())?;
    let mut strips = line_strips(&set, 0.0, NOTE_LEADING);
    if let Some(first) = strips.first_mut() {
        first.space_above = 1.5;
    }
    Ok(strips)
}
