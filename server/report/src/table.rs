//! Tables without vertical lines: a head over a hairline, rows that wrap, numbers under each other.
//!
//! Numbers stand right-aligned by their decimal point. A table breaks between the lines of a page like any
//! text, and its head is repeated. Called by the sections.

use std::rc::Rc;

use crate::error::ReportError;
use crate::font::Faces;
use crate::paragraph::{Ink, Line, Span, Style, lines, width_of};
use crate::strip::{Mark, Spot, Strip, baseline, line_marks};

/// Line pitch of a table in points.
const ROW_PITCH: f64 = 13.4;
/// Clear space between two columns in points.
pub(crate) const GUTTER: f64 = 12.0;
/// Space between a line of letters and a hairline above or below.
const RULE_CLEAR: f64 = 2.5;
/// A row of up to so many lines is kept on one page.
const KEPT_ROW_LINES: usize = 12;

/// Where the words of a column stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Align {
    /// At the left edge.
    Left,
    /// At the right edge.
    Right,
    /// Numbers by their decimal point at the right; words at the right edge.
    Decimal,
}

/// One column.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Column {
    /// Share of the table's width, relative to the other columns.
    pub(crate) share: f64,
    /// Where its words stand.
    pub(crate) align: Align,
}

/// One row: as many cells as the table has columns; missing ones stay empty.
#[derive(Debug, Clone, Default)]
pub(crate) struct Row {
    /// Words of each cell.
    pub(crate) cells: Vec<Vec<Span>>,
    /// A hairline above the row: a sum.
    pub(crate) ruled_above: bool,
}

/// A table over the whole column or a part of it.
#[derive(Debug, Clone, Default)]
pub(crate) struct Table {
    /// Columns from left to right.
    pub(crate) columns: Vec<Column>,
    /// Words of the head; empty for a table without one.
    pub(crate) head: Vec<String>,
    /// Rows from top to bottom.
    pub(crate) rows: Vec<Row>,
    /// A hairline below the last row.
    pub(crate) ruled_below: bool,
}

/// A column with its place.
struct Placed {
    x: f64,
    width: f64,
    align: Align,
    /// Width of the widest end of a number, from the decimal point on.
    tail: f64,
}

impl Table {
    /// The table in `width` points from the left edge of the text column.
    ///
    /// # Errors
    /// [`ReportError::MissingGlyph`] for a character that cannot be drawn.
    pub(crate) fn strips(&self, faces: &Faces, width: f64) -> Result<Vec<Strip>, ReportError> {
        let columns = self.placed_columns(faces, width)?;
        let mut strips = Vec::new();
        let head = self.head_strip(faces, &columns, width)?;
        if let Some(head) = &head {
            strips.push((**head).clone());
        }
        for row in &self.rows {
            strips.extend(row_strips(faces, &columns, row, width, head.as_ref())?);
        }
        if let Some(last) = strips.last_mut().filter(|_| self.ruled_below) {
            last.marks.push(Mark::rule(0.0, width, last.height + RULE_CLEAR, 0.5, Ink::Rule));
            last.height += 2.0 * RULE_CLEAR;
        }
        Ok(strips)
    }

    fn placed_columns(&self, faces: &Faces, width: f64) -> Result<Vec<Placed>, ReportError> {
        let shares: f64 = self.columns.iter().map(|column| column.share).sum();
        let free = width - GUTTER * self.columns.len().saturating_sub(1) as f64;
        let mut x = 0.0;
        let mut placed = Vec::new();
        for (index, column) in self.columns.iter().enumerate() {
            let column_width = free * column.share / shares;
            let mut tail: f64 = 0.0;
            for cell in self.rows.iter().filter_map(|row| row.cells.get(index)) {
                if let Some((_, after)) = number_parts(cell) {
                    tail = tail.max(width_of(faces, &after, cell_style(cell))?);
                }
            }
            placed.push(Placed { x, width: column_width, align: column.align, tail });
            x += column_width + GUTTER;
        }
        Ok(placed)
    }

    fn head_strip(
        &self,
        faces: &Faces,
        columns: &[Placed],
        width: f64,
    ) -> Result<Option<Rc<Strip>>, ReportError> {
        if self.head.is_empty() {
            return Ok(None);
        }
        let mut strip = Strip { keeps_next: true, ..Strip::default() };
        for (column, words) in columns.iter().zip(&self.head) {
            let set = lines(faces, &[Span::new(words.as_str(), Style::STRONG)], column.width)?;
            for (index, line) in set.iter().enumerate() {
                let x = if column.align == Align::Left { 0.0 } else { column.width - line.width };
                let y = index as f64 * ROW_PITCH + baseline(Style::STRONG.size, ROW_PITCH);
                strip.marks.extend(line_marks(line, Spot { x: column.x + x, y }));
            }
            strip.height = strip.height.max(set.len() as f64 * ROW_PITCH);
        }
        strip.marks.push(Mark::rule(0.0, width, strip.height + 1.0, 0.5, Ink::Rule));
        strip.height += 1.0 + RULE_CLEAR;
        Ok(Some(Rc::new(strip)))
    }
}

fn row_strips(
    faces: &Faces,
    columns: &[Placed],
    row: &Row,
    width: f64,
    head: Option<&Rc<Strip>>,
) -> Result<Vec<Strip>, ReportError> {
    let mut cells: Vec<(&Placed, Vec<Line>, Option<f64>)> = Vec::new();
    for (column, spans) in columns.iter().zip(&row.cells) {
        let before_point = match (column.align, number_parts(spans)) {
            (Align::Decimal, Some((before, _))) => Some(width_of(faces, &before, cell_style(spans))?),
            _ => None,
        };
        cells.push((column, lines(faces, spans, column.width)?, before_point));
    }
    let count = cells.iter().map(|(_, set, _)| set.len()).max().unwrap_or(0);
    let mut strips = Vec::new();
    for index in 0..count {
        let lift = if index == 0 && row.ruled_above { RULE_CLEAR } else { 0.0 };
        let mut strip = Strip {
            height: ROW_PITCH + lift,
            keeps_next: index + 1 < count && (count <= KEPT_ROW_LINES || index == 0),
            head: head.map(Rc::clone),
            ..Strip::default()
        };
        if lift > 0.0 {
            strip.marks.push(Mark::rule(0.0, width, lift / 2.0, 0.5, Ink::Rule));
        }
        for (column, set, before_point) in &cells {
            let Some(line) = set.get(index) else { continue };
            let x = match (column.align, before_point) {
                (Align::Left, _) => 0.0,
                // A number that wrapped is too long to stand by its point.
                (Align::Decimal, Some(before)) if set.len() == 1 => {
                    (column.width - column.tail - before).max(0.0)
                }
                _ => column.width - line.width,
            };
            let y = lift + baseline(Style::TEXT.size, ROW_PITCH);
            strip.marks.extend(line_marks(line, Spot { x: column.x + x, y }));
        }
        strips.push(strip);
    }
    Ok(strips)
}

/// The style of a cell's number: that of its first words.
fn cell_style(spans: &[Span]) -> Style {
    spans.first().map_or(Style::TEXT, |span| span.style)
}

/// A number's figures before its point, and the rest; `None` for a cell that is no number in one style.
fn number_parts(spans: &[Span]) -> Option<(String, String)> {
    let [span] = spans else { return None };
    let is_figure = |c: char| c.is_ascii_digit() || matches!(c, '−' | '+' | '±' | '\u{202f}' | '\u{2009}');
    let end = span.text.find(|c: char| !is_figure(c)).unwrap_or(span.text.len());
    let (before, after) = span.text.split_at_checked(end)?;
    before.chars().any(|c| c.is_ascii_digit()).then(|| (before.to_owned(), after.to_owned()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn faces() -> &'static Faces {
        Faces::shipped().unwrap()
    }

    fn litres(values: &[&str]) -> Table {
        Table {
            columns: vec![
                Column { share: 2.0, align: Align::Left },
                Column { share: 1.0, align: Align::Decimal },
            ],
            rows: values
                .iter()
                .map(|value| Row {
                    cells: vec![vec![Span::text("in")], vec![Span::text(*value)]],
                    ..Row::default()
                })
                .collect(),
            ..Table::default()
        }
    }

    /// Right end of the figures before the point, for the last cell of each strip.
    fn point_positions(strips: &[Strip]) -> Vec<f64> {
        let ends = strips.iter().map(|strip| {
            let Some(Mark::Words { at, segment }) = strip.marks.last() else { panic!("a cell") };
            let before = segment.text.split('.').next().unwrap();
            let figures: String = before.chars().take_while(|c| *c != ' ').collect();
            at.x + width_of(faces(), &figures, segment.style).unwrap()
        });
        ends.collect()
    }

    #[test]
    fn numbers_stand_under_each_other_by_their_point() {
        let strips = litres(&["9.40\u{a0}L", "13.5\u{a0}L", "−0.125\u{a0}L", "7\u{a0}L"])
            .strips(faces(), 300.0)
            .unwrap();
        let points = point_positions(&strips);
        assert!(points.iter().all(|point| (point - points[0]).abs() < 1e-9), "{points:?}");
        let right = strips.iter().flat_map(|strip| &strip.marks).map(|mark| match mark {
            Mark::Words { at, segment } => at.x + segment.width,
            _ => 0.0,
        });
        assert!((right.fold(0.0, f64::max) - 300.0).abs() < 1e-9, "the longest number ends at the edge");
    }

    #[test]
    fn words_among_numbers_end_at_the_right_edge() {
        let strips = litres(&["9.40\u{a0}L", "new"]).strips(faces(), 300.0).unwrap();
        let Some(Mark::Words { at, segment }) = strips[1].marks.last() else { panic!("a cell") };
        assert!((at.x + segment.width - 300.0).abs() < 1e-9);
    }

    #[test]
    fn a_long_cell_wraps_inside_its_column_and_its_row_is_kept_together() {
        let mut table = litres(&["9.40\u{a0}L"]);
        table.rows[0].cells[0] = vec![Span::text("Tarnwick ".repeat(20))];
        let strips = table.strips(faces(), 300.0).unwrap();
        assert!(strips.len() > 3);
        assert!(strips.iter().rev().skip(1).all(|strip| strip.keeps_next));
        let edge = (300.0 - GUTTER) * 2.0 / 3.0;
        for mark in strips.iter().flat_map(|strip| &strip.marks) {
            let Mark::Words { at, segment } = mark else { continue };
            assert!(segment.text.starts_with('9') || at.x + segment.width <= edge);
        }
    }

    #[test]
    fn the_rows_of_a_table_carry_its_head() {
        let mut table = litres(&["9.40\u{a0}L"]);
        table.head = vec!["what".to_owned(), "litres".to_owned()];
        let strips = table.strips(faces(), 300.0).unwrap();
        assert_eq!(strips.len(), 2);
        assert_eq!(strips[1].head.as_deref(), Some(&strips[0]));
    }
}
