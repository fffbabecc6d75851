//! Strips: the pieces a page is stacked from, and the marks drawn in them.
//!
//! A strip is as wide as the text column and never cut: one line of text, one line of a table, one chart.
//! Distances are points; x from the left edge of the text column, y downwards from the strip's top. Knows
//! nothing of pages or of PDF. Called by the sections and by `table` and `chart`.

use std::rc::Rc;

use crate::error::ReportError;
use crate::font::Faces;
use crate::paragraph::{Ink, Line, Segment, Span, Style, lines, single_line};

/// Line pitch of running text in points.
pub(crate) const LEADING: f64 = 14.5;

/// A place: x to the right, y downwards, in points.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Spot {
    /// To the right.
    pub(crate) x: f64,
    /// Downwards.
    pub(crate) y: f64,
}

/// Something drawn.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Mark {
    /// Words on a baseline.
    Words {
        /// Left end on the baseline.
        at: Spot,
        /// The words; their own x is not used.
        segment: Segment,
    },
    /// A line through two or more spots.
    Stroke {
        /// Corners.
        through: Vec<Spot>,
        /// Thickness in points.
        thickness: f64,
        /// Colour.
        ink: Ink,
    },
    /// A filled area.
    Area {
        /// Corners.
        corners: Vec<Spot>,
        /// Colour.
        ink: Ink,
    },
    /// An open circle.
    Circle {
        /// Centre.
        centre: Spot,
        /// Radius in points.
        radius: f64,
        /// Colour of its line.
        ink: Ink,
    },
    /// A photo, upright.
    Photo {
        /// Upper left corner.
        at: Spot,
        /// Width in points.
        width: f64,
        /// Height in points.
        height: f64,
        /// Which of the photos that are embedded.
        photo: usize,
    },
}

impl Mark {
    /// The same mark elsewhere.
    pub(crate) fn shifted(&self, by: Spot) -> Mark {
        let moved = |spot: &Spot| Spot { x: spot.x + by.x, y: spot.y + by.y };
        match self {
            Mark::Words { at, segment } => Mark::Words { at: moved(at), segment: segment.clone() },
            Mark::Stroke { through, thickness, ink } => Mark::Stroke {
                through: through.iter().map(moved).collect(),
                thickness: *thickness,
                ink: *ink,
            },
            Mark::Area { corners, ink } => {
                Mark::Area { corners: corners.iter().map(moved).collect(), ink: *ink }
            }
            Mark::Circle { centre, radius, ink } => {
                Mark::Circle { centre: moved(centre), radius: *radius, ink: *ink }
            }
            Mark::Photo { at, width, height, photo } => {
                Mark::Photo { at: moved(at), width: *width, height: *height, photo: *photo }
            }
        }
    }

    /// The outline of a rectangle.
    pub(crate) fn outline(at: Spot, width: f64, height: f64, thickness: f64, ink: Ink) -> Mark {
        let (right, bottom) = (at.x + width, at.y + height);
        let corners = [(at.x, at.y), (right, at.y), (right, bottom), (at.x, bottom), (at.x, at.y)];
        let through = corners.into_iter().map(|(x, y)| Spot { x, y }).collect();
        Mark::Stroke { through, thickness, ink }
    }

    /// A horizontal line.
    pub(crate) fn rule(from_x: f64, to_x: f64, y: f64, thickness: f64, ink: Ink) -> Mark {
        Mark::Stroke { through: vec![Spot { x: from_x, y }, Spot { x: to_x, y }], thickness, ink }
    }
}

/// A piece of a page that is never cut.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Strip {
    /// Clear space above, in points; left out at the top of a page.
    pub(crate) space_above: f64,
    /// Height in points.
    pub(crate) height: f64,
    /// True if the next strip has to stand on the same page.
    pub(crate) keeps_next: bool,
    /// What is drawn.
    pub(crate) marks: Vec<Mark>,
    /// Repeated above this strip if it comes first on a page: the head of its table.
    pub(crate) head: Option<Rc<Strip>>,
}

/// Distance from the top of a line box to its baseline.
pub(crate) fn baseline(size: f64, leading: f64) -> f64 {
    // Half of the figures' height (0.72 em) below the middle.
    leading / 2.0 + 0.36 * size
}

/// The marks of a line whose left end and baseline are at `at`, with the lines through struck words.
pub(crate) fn line_marks(line: &Line, at: Spot) -> Vec<Mark> {
    let mut marks = Vec::new();
    for segment in &line.segments {
        let start = Spot { x: at.x + segment.x, y: at.y };
        if segment.style.struck {
            let y = at.y - 0.31 * segment.style.size;
            marks.push(Mark::rule(start.x, start.x + segment.width, y, 0.6, Ink::Black));
        }
        marks.push(Mark::Words { at: start, segment: segment.clone() });
    }
    marks
}

/// One strip a line; the first two and the last two lines of a paragraph stay together.
pub(crate) fn line_strips(lines: &[Line], x: f64, leading: f64) -> Vec<Strip> {
    let count = lines.len();
    let strips = lines.iter().enumerate().map(|(index, line)| {
        let size = line.segments.iter().map(|s| s.style.size).fold(0.0, f64::max);
        Strip {
            height: leading,
            keeps_next: index + 1 < count && (index == 0 || index + 2 == count),
            marks: line_marks(line, Spot { x, y: baseline(size, leading) }),
            ..Strip::default()
        }
    });
    strips.collect()
}

/// A paragraph of running text over the whole column.
///
/// # Errors
/// As [`lines`].
pub(crate) fn paragraph(faces: &Faces, spans: &[Span], width: f64) -> Result<Vec<Strip>, ReportError> {
    Ok(line_strips(&lines(faces, spans, width)?, 0.0, LEADING))
}

/// A point of a list: a dash, and lines that hang beside it.
///
/// # Errors
/// As [`lines`].
pub(crate) fn list_point(faces: &Faces, spans: &[Span], width: f64) -> Result<Vec<Strip>, ReportError> {
    const HANG: f64 = 9.5;
    let mut strips = line_strips(&lines(faces, spans, width - HANG)?, HANG, LEADING);
    let dash = single_line(faces, &[Span::text("–")])?;
    if let Some(first) = strips.first_mut() {
        let y = baseline(Style::TEXT.size, LEADING);
        let mut marks = line_marks(&dash, Spot { x: 0.0, y });
        marks.append(&mut first.marks);
        first.marks = marks;
    }
    Ok(strips)
}

/// A section heading over a hairline; it never stands alone at the foot of a page.
///
/// # Errors
/// As [`lines`].
pub(crate) fn heading(
    faces: &Faces,
    text: &str,
    width: f64,
    clear_above: f64,
) -> Result<Vec<Strip>, ReportError> {
    const PITCH: f64 = 13.2;
    let mut strips = line_strips(&lines(faces, &[Span::new(text, Style::HEADING)], width)?, 0.0, PITCH);
    strips.iter_mut().for_each(|strip| strip.keeps_next = true);
    if let Some(first) = strips.first_mut() {
        first.space_above = clear_above;
    }
    if let Some(last) = strips.last_mut() {
        last.marks.push(Mark::rule(0.0, width, PITCH + 1.0, 0.5, Ink::Rule));
        last.height = PITCH + 3.5;
    }
    Ok(strips)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_struck_value_has_its_line_over_the_measured_width() {
        let faces = Faces::shipped().unwrap();
        let line = single_line(faces, &[Span::new("3.30 kg", Style::STRUCK)]).unwrap();
        let marks = line_marks(&line, Spot { x: 5.0, y: 100.0 });
        let Mark::Stroke { through, .. } = &marks[0] else { panic!("the first mark is the line") };
        assert_eq!((through[0].x, through[1].x), (5.0, 5.0 + line.width));
        assert!(through[0].y < 100.0 && through[0].y > 100.0 - 0.72 * 10.0);
    }

    #[test]
    fn a_heading_keeps_what_follows_it() {
        let strips = heading(Faces::shipped().unwrap(), "Level", 493.0, 8.5).unwrap();
        assert!(strips.iter().all(|strip| strip.keeps_next));
    }

    #[test]
    fn a_paragraph_is_not_parted_after_its_first_or_before_its_last_line() {
        let faces = Faces::shipped().unwrap();
        let strips = paragraph(faces, &[Span::text("word ".repeat(100))], 100.0).unwrap();
        let kept: Vec<usize> = (0..strips.len()).filter(|index| strips[*index].keeps_next).collect();
        assert_eq!(kept, [0, strips.len() - 2]);
    }
}
