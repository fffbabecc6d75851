//! The page frame: A4, margins of 18 mm on all sides, the foot within the lower one.
//!
//! Stacks strips into pages. A strip is never cut, a heading never stands alone at the foot of a page, a
//! table's head is repeated where its rows go on. Writes the foot of each page once all are known. Called
//! by `render`; knows no section and no PDF.

use crate::closeness::height_of;
use crate::error::ReportError;
use crate::font::Faces;
use crate::paragraph::{Ink, Span, Style, lines, width_of};
use crate::strip::{Mark, Spot, Strip, baseline, line_marks};

/// Width of A4 in points (ISO 216: 210 mm).
pub(crate) const PAGE_WIDTH: f64 = 210.0 * 72.0 / 25.4;
/// Height of A4 in points (ISO 216: 297 mm).
pub(crate) const PAGE_HEIGHT: f64 = 297.0 * 72.0 / 25.4;
/// Margin on each side, 18 mm in points.
pub(crate) const MARGIN: f64 = 18.0 * 72.0 / 25.4;
/// Width of the text column in points.
pub(crate) const COLUMN: f64 = PAGE_WIDTH - 2.0 * MARGIN;

/// Clear space between the foot and the sheet's lower edge, 11 mm in points: within reach of any printer.
pub(crate) const FOOT_MARGIN: f64 = 11.0 * 72.0 / 25.4;
/// Line pitch of the foot.
const FOOT_LEADING: f64 = 9.5;
/// Height of the foot's hairline with the space around it.
const FOOT_RULE: f64 = 2.0;
/// Least clear space between the strips and the foot.
const FOOT_CLEAR: f64 = 6.0;

/// Sums of heights may miss each other by rounding; far less than anyone sees.
const ROUNDING: f64 = 1e-6;

/// Which way an A4 sheet is held.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) enum Format {
    /// The short edge below: every record.
    #[default]
    Upright,
    /// The long edge below: wide tables.
    Across,
}

impl Format {
    /// Width of the sheet in points.
    pub(crate) fn width(self) -> f64 {
        if self == Self::Upright { PAGE_WIDTH } else { PAGE_HEIGHT }
    }

    /// Height of the sheet in points.
    pub(crate) fn height(self) -> f64 {
        if self == Self::Upright { PAGE_HEIGHT } else { PAGE_WIDTH }
    }

    /// Width of the text column in points.
    pub(crate) fn column(self) -> f64 {
        self.width() - 2.0 * MARGIN
    }
}

/// A finished page: marks in page coordinates, from the sheet's upper left corner.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Page {
    /// Which way it is held.
    pub(crate) format: Format,
    /// What is drawn, in reading order.
    pub(crate) marks: Vec<Mark>,
}

/// Pages being filled from above.
pub(crate) struct Pages {
    format: Format,
    done: Vec<Page>,
    current: Page,
    y: f64,
    foot_top: f64,
}

impl Pages {
    /// An empty first page whose foot may have `foot_lines` lines.
    pub(crate) fn new(foot_lines: usize) -> Pages {
        Self::held(Format::Upright, foot_lines)
    }

    /// The same on sheets that are held so.
    pub(crate) fn held(format: Format, foot_lines: usize) -> Pages {
        let foot_top = format.height() - FOOT_MARGIN - foot_lines as f64 * FOOT_LEADING - FOOT_RULE;
        let current = Page { format, ..Page::default() };
        Pages { format, done: Vec::new(), current, y: MARGIN, foot_top }
    }

    /// Stacks strips below what is there, over as many pages as they need.
    pub(crate) fn stack(&mut self, strips: &[Strip]) {
        let mut rest = strips;
        while !rest.is_empty() {
            let length = rest.iter().take_while(|strip| strip.keeps_next).count() + 1;
            let (chain, after) = rest.split_at(length.min(rest.len()));
            rest = after;
            let height = height_of(chain);
            if height > self.room() && height <= self.full_height() {
                self.turn();
            }
            chain.iter().for_each(|strip| self.place(strip));
        }
    }

    /// Stacks `body` below what is there and `at_foot` at the foot of the same page; if both do not fit on
    /// it, on the next one.
    pub(crate) fn stack_with_foot(&mut self, body: &[Strip], at_foot: &[Strip]) {
        let foot = height_of(at_foot);
        let wanted = height_of(body) + foot;
        if wanted > self.room() && wanted <= self.full_height() {
            self.turn();
        }
        self.stack(body);
        if foot > self.room() {
            self.turn();
        }
        if self.y > MARGIN {
            self.y += self.room() - foot;
        }
        at_foot.iter().for_each(|strip| self.place(strip));
    }

    /// Goes on with a new page, unless this one is still empty.
    pub(crate) fn turn(&mut self) {
        if self.y > MARGIN {
            self.put_away();
            self.y = MARGIN;
        }
    }

    /// The finished pages with `identity` and `page_words(x, y)` at the foot of each.
    ///
    /// # Errors
    /// [`ReportError::MissingGlyph`] if the words of the foot cannot be drawn.
    pub(crate) fn finish(
        mut self,
        faces: &Faces,
        identity: &str,
        mut page_words: impl FnMut(usize, usize) -> Result<String, ReportError>,
    ) -> Result<Vec<Page>, ReportError> {
        if self.y > MARGIN || self.done.is_empty() {
            self.put_away();
        }
        let count = self.done.len();
        for (number, page) in (1..).zip(&mut self.done) {
            let words = page_words(number, count)?;
            page.marks.extend(foot(faces, identity, &words, (self.foot_top, self.format.column()))?);
        }
        Ok(self.done)
    }

    fn put_away(&mut self) {
        let next = Page { format: self.format, ..Page::default() };
        self.done.push(std::mem::replace(&mut self.current, next));
    }

    /// Height that is left on the current page.
    fn room(&self) -> f64 {
        self.bottom() - self.y
    }

    /// Height of an empty page.
    pub(crate) fn full_height(&self) -> f64 {
        self.bottom() - MARGIN
    }

    fn bottom(&self) -> f64 {
        f64::min(self.format.height() - MARGIN, self.foot_top - FOOT_CLEAR)
    }

    fn place(&mut self, strip: &Strip) {
        if strip.space_above + strip.height > self.room() + ROUNDING {
            self.turn();
        }
        if self.y > MARGIN {
            self.y += strip.space_above;
        } else if let Some(head) = &strip.head {
            self.draw(head);
        }
        self.draw(strip);
    }

    fn draw(&mut self, strip: &Strip) {
        let by = Spot { x: MARGIN, y: self.y };
        self.current.marks.extend(strip.marks.iter().map(|mark| mark.shifted(by)));
        self.y += strip.height;
    }
}

/// Width that the identity may take beside the page's number.
///
/// # Errors
/// [`ReportError::MissingGlyph`] if the words cannot be drawn.
fn identity_width(faces: &Faces, page_words: &str, column: f64) -> Result<f64, ReportError> {
    Ok(column - width_of(faces, page_words, Style::FOOT)? - 12.0)
}

/// How many lines the foot needs for `identity` beside the longest `page_words`.
///
/// # Errors
/// [`ReportError::MissingGlyph`] if the words of the foot cannot be drawn.
pub(crate) fn foot_lines(faces: &Faces, identity: &str, page_words: &str) -> Result<usize, ReportError> {
    let width = identity_width(faces, page_words, COLUMN)?;
    Ok(lines(faces, &[Span::new(identity, Style::FOOT)], width)?.len().max(1))
}

fn foot(
    faces: &Faces,
    identity: &str,
    page_words: &str,
    (top, column): (f64, f64),
) -> Result<Vec<Mark>, ReportError> {
    let mut marks = vec![Mark::rule(MARGIN, MARGIN + column, top, 0.4, Ink::Rule)];
    let first = top + FOOT_RULE + baseline(Style::FOOT.size, FOOT_LEADING);
    let width = identity_width(faces, page_words, column)?;
    for (index, line) in lines(faces, &[Span::new(identity, Style::FOOT)], width)?.iter().enumerate() {
        marks.extend(line_marks(line, Spot { x: MARGIN, y: first + index as f64 * FOOT_LEADING }));
    }
    for line in lines(faces, &[Span::new(page_words, Style::FOOT)], column)? {
        marks.extend(line_marks(&line, Spot { x: MARGIN + column - line.width, y: first }));
    }
    Ok(marks)
}

#[cfg(test)]
mod tests {
    use std::rc::Rc;

    use super::*;
    use crate::strip::{heading, paragraph};

    fn faces() -> &'static Faces {
        Faces::shipped().unwrap()
    }

    fn words(page: &Page) -> Vec<String> {
        let texts = page.marks.iter().filter_map(|mark| match mark {
            Mark::Words { segment, .. } => Some(segment.text.clone()),
            _ => None,
        });
        texts.collect()
    }

    fn finish(pages: Pages) -> Vec<Page> {
        pages.finish(faces(), "HL-26-0042", |x, y| Ok(format!("page {x} of {y}"))).unwrap()
    }

    #[test]
    fn a_heading_moves_to_the_next_page_with_its_text() {
        for filler in 40..60 {
            let mut pages = Pages::new(1);
            for _ in 0..filler {
                pages.stack(&paragraph(faces(), &[Span::text("line")], COLUMN).unwrap());
            }
            let mut section = heading(faces(), "Level", COLUMN, 8.5).unwrap();
            section.extend(paragraph(faces(), &[Span::text("set")], COLUMN).unwrap());
            pages.stack(&section);
            for page in finish(pages) {
                let texts = words(&page);
                let heading = texts.iter().position(|text| text == "Level");
                let text = texts.iter().position(|text| text == "set");
                assert_eq!(heading.is_some(), text.is_some(), "{filler} lines before");
            }
        }
    }

    #[test]
    fn a_table_head_is_repeated_where_its_rows_go_on() {
        let line = |text: &str| paragraph(faces(), &[Span::text(text)], COLUMN).unwrap().remove(0);
        let head = Rc::new(Strip { keeps_next: true, ..line("head") });
        let mut strips = vec![(*head).clone()];
        strips.extend((0..120).map(|_| Strip { head: Some(Rc::clone(&head)), ..line("row") }));
        let mut pages = Pages::new(1);
        pages.stack(&strips);
        let pages = finish(pages);
        assert_eq!(pages.len(), 3);
        assert!(pages.iter().all(|page| words(page)[0] == "head"));
        let rows: usize = pages.iter().map(|p| words(p).iter().filter(|text| *text == "row").count()).sum();
        assert_eq!(rows, 120);
    }

    #[test]
    fn the_foot_numbers_every_page_and_wraps_a_long_identity() {
        let identity = "job ".repeat(80);
        let count = foot_lines(faces(), &identity, "page 10 of 10").unwrap();
        assert!(count > 1);
        let mut pages = Pages::new(count);
        pages.stack(&paragraph(faces(), &[Span::text("one")], COLUMN).unwrap());
        pages.turn();
        pages.stack(&paragraph(faces(), &[Span::text("two")], COLUMN).unwrap());
        let pages = pages.finish(faces(), &identity, |x, y| Ok(format!("page {x} of {y}"))).unwrap();
        assert_eq!(words(&pages[1]).last().unwrap(), "page 2 of 2");
        let lowest = pages[0].marks.iter().filter_map(|mark| match mark {
            Mark::Words { at, .. } => Some(at.y),
            _ => None,
        });
        assert!(lowest.fold(0.0, f64::max) < PAGE_HEIGHT - FOOT_MARGIN);
    }

    #[test]
    fn strips_at_the_foot_end_where_the_page_ends_and_never_stand_alone() {
        let bottom = PAGE_HEIGHT - MARGIN;
        let signature = Strip {
            height: 30.0,
            marks: vec![Mark::rule(0.0, 9.0, 30.0, 1.0, Ink::Black)],
            ..Strip::default()
        };
        let is_signature = |mark: &&Mark| matches!(mark, Mark::Stroke { thickness, .. } if *thickness == 1.0);
        for filler in 0..60 {
            let mut pages = Pages::new(1);
            for _ in 0..filler {
                pages.stack(&paragraph(faces(), &[Span::text("line")], COLUMN).unwrap());
            }
            let safety = paragraph(faces(), &[Span::text("safety")], COLUMN).unwrap();
            pages.stack_with_foot(&safety, std::slice::from_ref(&signature));
            let pages = finish(pages);
            let last = pages.last().unwrap();
            assert!(words(last).contains(&"safety".to_owned()), "{filler} lines before");
            let Some(Mark::Stroke { through, .. }) = last.marks.iter().find(is_signature) else {
                panic!("no signature after {filler} lines")
            };
            assert!((through[0].y - bottom).abs() < 1e-6, "{filler} lines before");
        }
    }
}
