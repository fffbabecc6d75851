//! How closely the words of a page stand: as usual, or closer, so that what belongs on one page fits on it.
//!
//! A part of the record is laid out at the width it will have, then moved together. The steps are few and
//! fixed, so that the same view gives the same page; no step leaves a letter below 7 pt. Called by
//! `render` and the bay sheet.

use std::rc::Rc;

use crate::page::COLUMN;
use crate::paragraph::Segment;
use crate::strip::{Mark, Spot, Strip};

/// How much nearer to each other things stand, as a factor; 1 is as usual.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Closeness {
    /// Sizes of letters and places across.
    pub(crate) across: f64,
    /// Places and pitches downwards.
    pub(crate) down: f64,
}

impl Closeness {
    /// Nothing is moved.
    pub(crate) const USUAL: Closeness = Closeness { across: 1.0, down: 1.0 };
    /// Lists that an expert looks things up in.
    pub(crate) const ANNEX: Closeness = Closeness { across: 0.875, down: 0.86 };
    /// What is tried one after the other until a part fits on its page.
    pub(crate) const STEPS: [Closeness; 5] = [
        Closeness::USUAL,
        Closeness { across: 0.95, down: 0.92 },
        Closeness { across: 0.91, down: 0.86 },
        Closeness { across: 0.875, down: 0.78 },
        Closeness { across: 0.875, down: 0.75 },
    ];

    /// Clear space above a heading, before it is moved, in points.
    pub(crate) fn above_heading(self) -> f64 {
        if self == Closeness::USUAL { 8.5 } else { 6.0 }
    }

    /// Width in points at which strips are laid out to fill the text column.
    pub(crate) fn column(self) -> f64 {
        COLUMN / self.across
    }

    /// Moves strips together.
    pub(crate) fn applied(self, strips: Vec<Strip>) -> Vec<Strip> {
        if self == Closeness::USUAL {
            return strips;
        }
        strips.iter().map(|strip| self.strip(strip)).collect()
    }

    fn strip(self, strip: &Strip) -> Strip {
        Strip {
            space_above: strip.space_above * self.down,
            height: strip.height * self.down,
            keeps_next: strip.keeps_next,
            marks: strip.marks.iter().map(|mark| self.mark(mark)).collect(),
            head: strip.head.as_ref().map(|head| Rc::new(self.strip(head))),
        }
    }

    fn spot(self, spot: Spot) -> Spot {
        Spot { x: spot.x * self.across, y: spot.y * self.down }
    }

    fn mark(self, mark: &Mark) -> Mark {
        match mark {
            Mark::Words { at, segment } => {
                let mut style = segment.style;
                style.size *= self.across;
                let (x, width) = (segment.x * self.across, segment.width * self.across);
                Mark::Words {
                    at: self.spot(*at),
                    segment: Segment { x, width, text: segment.text.clone(), style },
                }
            }
            Mark::Stroke { through, thickness, ink } => Mark::Stroke {
                through: through.iter().map(|spot| self.spot(*spot)).collect(),
                thickness: *thickness,
                ink: *ink,
            },
            Mark::Area { corners, ink } => {
                Mark::Area { corners: corners.iter().map(|spot| self.spot(*spot)).collect(), ink: *ink }
            }
            Mark::Circle { centre, radius, ink } => {
                Mark::Circle { centre: self.spot(*centre), radius: *radius, ink: *ink }
            }
            Mark::Photo { at, width, height, photo } => Mark::Photo {
                at: self.spot(*at),
                width: width * self.across,
                height: height * self.down,
                photo: *photo,
            },
        }
    }
}

/// Sum of the heights of strips that stand below each other.
pub(crate) fn height_of(strips: &[Strip]) -> f64 {
    strips.iter().map(|strip| strip.space_above + strip.height).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::font::Faces;
    use crate::paragraph::{Span, Style};
    use crate::strip::paragraph;

    #[test]
    fn no_step_leaves_a_letter_below_7_points() {
        for step in Closeness::STEPS {
            for style in [Style::TEXT, Style::SIDE, Style::NOTE, Style::CHART] {
                assert!(style.size * step.across >= 7.0 - 1e-9, "{style:?} {step:?}");
            }
        }
    }

    #[test]
    fn a_closer_paragraph_fills_the_same_column_in_less_height() {
        let faces = Faces::shipped().unwrap();
        let words = [Span::text("Level set at the standpipe. ".repeat(40))];
        let usual = paragraph(faces, &words, Closeness::USUAL.column()).unwrap();
        for step in Closeness::STEPS.into_iter().skip(1) {
            let closer = step.applied(paragraph(faces, &words, step.column()).unwrap());
            assert!(height_of(&closer) < height_of(&usual));
            for mark in closer.iter().flat_map(|strip| &strip.marks) {
                let Mark::Words { at, segment } = mark else { panic!("a paragraph is words") };
                assert!(at.x + segment.width <= COLUMN + 1e-9);
            }
        }
    }
}
