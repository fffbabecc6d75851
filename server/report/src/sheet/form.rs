//! Boxes to write in: a step's name at the left, its boxes beside it, each with its label in the corner.

use standpipe_engine::kind::words::CautionGroup;
use standpipe_engine::text::Sentence;

use crate::compose::Composer;
use crate::error::ReportError;
use crate::font::Weight;
use crate::paragraph::{Ink, Line, Span, Style, lines, single_line};
use crate::strip::{Mark, Spot, Strip, baseline, line_marks, line_strips};

/// Width of the steps' names.
const NAMES: f64 = 88.0;
/// Least height of a box on paper: room for handwriting below its label.
pub(super) const BOX: f64 = 21.5;
/// The same where the sheet has more to say than usual; still a line of handwriting beside the label.
pub(super) const LOW_BOX: f64 = 18.9;
/// Line pitch of the words in and beside a box.
const PITCH: f64 = 9.4;
/// Line pitch of a caution.
const CAUTION_PITCH: f64 = 9.6;
/// Width of the box for who read a caution.
const READ_BY: f64 = 74.0;
/// Clear space between words and the edge of their box.
const INSET: f64 = 3.0;
/// Words in the corner of a box.
const CORNER: Style = Style { size: 8.0, ..Style::LABEL };

/// One box.
pub(super) struct Field {
    /// What is written here, or the words to ring.
    pub(super) label: Sentence,
    /// Share of the row's width, relative to its other boxes.
    pub(super) share: f64,
}

/// One step of the work.
pub(super) struct Step {
    /// Cautions that are read before it.
    pub(super) caution: Option<CautionGroup>,
    /// Name.
    pub(super) name: Sentence,
    /// Boxes from left to right.
    pub(super) fields: Vec<Field>,
}

/// The row of a step, with boxes of at least the height `low`.
///
/// # Errors
/// As [`Composer::say`].
pub(super) fn step(step: &Step, low: f64, composer: &mut Composer<'_>) -> Result<Vec<Strip>, ReportError> {
    let faces = composer.faces();
    let style = Style { weight: Weight::Bold, ..Style::SIDE };
    let name = lines(faces, &[Span::new(composer.say(&step.name)?, style)], NAMES - 4.0)?;
    let width = composer.column() - NAMES;
    let shares: f64 = step.fields.iter().map(|field| field.share).sum();
    let mut left = NAMES;
    let mut boxes: Vec<(f64, f64, Vec<Line>)> = Vec::new();
    for field in &step.fields {
        let own = width * field.share / shares;
        let label = Span::new(composer.say(&field.label)?, CORNER);
        boxes.push((left, own, lines(faces, &[label], own - 2.0 * INSET)?));
        left += own;
    }
    let most = boxes.iter().map(|(_, _, label)| label.len()).chain([name.len()]).max().unwrap_or(0);
    // Boxes keep their height on paper, however closely the words stand.
    let height = f64::max(low / composer.closeness().down, most as f64 * PITCH + 3.0);
    let mut strip = Strip { height, ..Strip::default() };
    place(&name, Spot { x: 0.0, y: 2.0 }, &mut strip);
    for (left, own, label) in boxes {
        strip.marks.push(Mark::outline(Spot { x: left, y: 0.0 }, own, height, 0.5, Ink::Rule));
        place(&label, Spot { x: left + INSET, y: 1.0 }, &mut strip);
    }
    Ok(vec![strip])
}

/// A caution with a box for who read it, or whatever else `box_label` asks a person to sign for.
///
/// # Errors
/// As [`Composer::say`].
pub(super) fn caution(
    said: &Sentence,
    box_label: &Sentence,
    low: f64,
    composer: &mut Composer<'_>,
) -> Result<Vec<Strip>, ReportError> {
    let faces = composer.faces();
    let words = Span::new(composer.say(said)?, Style::NOTE);
    let column = composer.column();
    let set = lines(faces, &[words], column - READ_BY - 8.0)?;
    let high = f64::max(low / composer.closeness().down, set.len() as f64 * CAUTION_PITCH + 4.0);
    let mut strip = Strip { height: high, keeps_next: true, ..Strip::default() };
    let above = (high - set.len() as f64 * CAUTION_PITCH) / 2.0;
    for (index, line) in set.iter().enumerate() {
        let y = above + index as f64 * CAUTION_PITCH + baseline(Style::NOTE.size, CAUTION_PITCH);
        strip.marks.extend(line_marks(line, Spot { x: 0.0, y }));
    }
    let left = column - READ_BY;
    strip.marks.push(Mark::outline(Spot { x: left, y: 0.0 }, READ_BY, high, 0.5, Ink::Rule));
    let label = single_line(faces, &[Span::new(composer.say(box_label)?, CORNER)])?;
    place(&[label], Spot { x: left + INSET, y: 1.0 }, &mut strip);
    Ok(vec![strip])
}

/// Small words over the whole column.
///
/// # Errors
/// As [`Composer::say`].
pub(super) fn note(said: &Sentence, composer: &mut Composer<'_>) -> Result<Vec<Strip>, ReportError> {
    let words = Span::new(composer.say(said)?, Style::NOTE);
    let mut strips = line_strips(&lines(composer.faces(), &[words], composer.column())?, 0.0, CAUTION_PITCH);
    if let Some(first) = strips.first_mut() {
        first.space_above = 4.0;
    }
    Ok(strips)
}

fn place(set: &[Line], at: Spot, strip: &mut Strip) {
    for (index, line) in set.iter().enumerate() {
        let y = at.y + index as f64 * PITCH + baseline(CORNER.size, PITCH);
        strip.marks.extend(line_marks(line, Spot { x: at.x, y }));
    }
}
