//! One page about all workshops for their owner: what to look at first, a short comparison with a drawing of intervals,
//! what was not measured, how to read it.
//!
//! It is one page always: letters of what is named become smaller until all of it fits, and what does not fit then is
//! counted. Knows no figure. The same page and paper give the same bytes.

use standpipe_engine::owner::one_page::{Line as Compared, OnePage};
use standpipe_engine::text::{Sentence, sentence};

use crate::closeness::height_of;
use crate::compose::Composer;
use crate::error::ReportError;
use crate::font::Faces;
use crate::page::{self, COLUMN, Page, Pages};
use crate::paragraph::{Ink, Line, Span, Style, lines, single_line};
use crate::pdf;
use crate::section::foot;
use crate::strip::{Mark, Spot, Strip, baseline, heading, line_marks, line_strips};
use crate::tally::{TallyPaper, head};

/// Clear space above a heading.
const ABOVE_HEADING: f64 = 9.0;
/// Width of each column of the comparison, without the drawing, in points; words at the left, numbers at the right.
const WIDTHS: [f64; 6] = [86.0, 30.0, 46.0, 56.0, 64.0, 84.0];
/// Space between columns.
const GUTTER: f64 = 5.0;
/// Line pitch of the comparison.
const PITCH: f64 = 13.0;
/// Letters of the comparison.
const CELL: Style = Style { size: 8.0, ..Style::TEXT };
const CELL_HEAD: Style = Style { size: 8.0, ..Style::STRONG };
/// Line pitch of notes.
const NOTE_PITCH: f64 = 10.6;
/// Letters and line pitch of what is named, tried one after the other.
const NAMED: [(f64, f64); 4] = [(10.0, 14.0), (9.2, 12.6), (8.4, 11.4), (7.8, 10.4)];
/// Hanging of a point of a list beside its dash.
const HANG: f64 = 9.5;
/// The drawing reaches so many litres either way at least, and at most.
const REACH: (f64, f64) = (0.5, 4.0);

/// The page as the bytes of a PDF file.
///
/// # Errors
/// [`ReportError`] only for a mistake of ours: a sentence without words, or with a character that the font has no glyph
/// for. Codes and names are printed as people wrote them.
pub fn owner_sheet(sheet: &OnePage, paper: &TallyPaper) -> Result<Vec<u8>, ReportError> {
    let mut composer = Composer::new(Faces::shipped()?, paper.language);
    let pages = pages(sheet, paper, &mut composer)?;
    let info = paper.about_file(&sheet.title, &mut composer)?;
    pdf::write(composer.faces(), &pages, &[], &info)
}

fn pages(sheet: &OnePage, paper: &TallyPaper, composer: &mut Composer<'_>) -> Result<Vec<Page>, ReportError> {
    let faces = composer.faces();
    let (workshop, printed) = (composer.stated(&paper.workshop), composer.stated(&paper.printed_at));
    let words = sentence::tally_foot(paper.engine_version.as_str(), printed, workshop.as_str());
    let identity = composer.say(&words)?;
    let widest = composer.say(&sentence::record_page("1", "1"))?;
    let mut pages = Pages::new(page::foot_lines(faces, &identity, &widest)?);
    let mut above = vec![head(&sheet.title, &workshop, COLUMN, composer)?];
    for said in &sheet.counted {
        above.extend(said_in(Style::TEXT, 14.0, 0.0, said, composer)?);
    }
    above.extend(headed(&sentence::owner_page_look(), composer)?);
    let mut below = headed(&sentence::owner_page_compare(), composer)?;
    below.extend(comparison(sheet, composer)?);
    if !sheet.unmeasured.is_empty() {
        below.extend(headed(&sentence::owner_page_unmeasured(), composer)?);
        below.extend(points(Style { size: 9.0, ..Style::TEXT }, 12.0, &sheet.unmeasured, composer)?.concat());
    }
    let mut first = 7.0;
    for note in &sheet.notes {
        let mut strips = said_in(Style { ink: Ink::Grey, ..Style::NOTE }, NOTE_PITCH, 0.0, note, composer)?;
        if let Some(strip) = strips.first_mut() {
            strip.space_above = std::mem::take(&mut first);
        }
        below.extend(strips);
    }
    let room = pages.full_height() - height_of(&above) - height_of(&below);
    let named = named(sheet, room, composer)?;
    for strips in [above, named, below] {
        pages.stack(&strips);
    }
    pages.finish(faces, &identity, |page, count| foot::page_words(composer, page, count))
}

/// What is named in the largest letters in which all of it fits; else as much as fits in the smallest, and how much more
/// there is.
fn named(sheet: &OnePage, room: f64, composer: &mut Composer<'_>) -> Result<Vec<Strip>, ReportError> {
    let said = &sheet.named;
    let mut smallest = (Vec::new(), Style::TEXT, 0.0);
    for (size, pitch) in NAMED {
        let style = Style { size, ..Style::TEXT };
        let each = points(style, pitch, said, composer)?;
        if each.iter().map(|strips| height_of(strips)).sum::<f64>() <= room {
            return Ok(each.concat());
        }
        smallest = (each, style, pitch);
    }
    let (each, style, pitch) = smallest;
    let (mut taken, mut height, mut strips) = (0, pitch, Vec::new());
    for one in each {
        height += height_of(&one);
        if height > room {
            break;
        }
        taken += 1;
        strips.extend(one);
    }
    let more = sentence::owner_page_more((said.len() - taken) as u64, &sheet.period);
    strips.extend(said_in(style, pitch, HANG, &more, composer)?);
    Ok(strips)
}

fn headed(words: &Sentence, composer: &mut Composer<'_>) -> Result<Vec<Strip>, ReportError> {
    let words = composer.say(words)?;
    heading(composer.faces(), &words, COLUMN, ABOVE_HEADING)
}

fn said_in(
    style: Style,
    pitch: f64,
    x: f64,
    said: &Sentence,
    composer: &mut Composer<'_>,
) -> Result<Vec<Strip>, ReportError> {
    let words = composer.say(said)?;
    Ok(line_strips(&lines(composer.faces(), &[Span::new(words, style)], COLUMN - x)?, x, pitch))
}

/// Points of a list, each with a dash.
fn points(
    style: Style,
    pitch: f64,
    said: &[Sentence],
    composer: &mut Composer<'_>,
) -> Result<Vec<Vec<Strip>>, ReportError> {
    let dash = single_line(composer.faces(), &[Span::new("–", style)])?;
    let mut points = Vec::with_capacity(said.len());
    for one in said {
        let mut strips = said_in(style, pitch, HANG, one, composer)?;
        if let Some(first) = strips.first_mut() {
            first.marks.extend(line_marks(&dash, Spot { x: 0.0, y: baseline(style.size, pitch) }));
        }
        points.push(strips);
    }
    Ok(points)
}

/// The comparison: a head, then a line a workshop with its interval drawn at the right.
fn comparison(sheet: &OnePage, composer: &mut Composer<'_>) -> Result<Vec<Strip>, ReportError> {
    let scale = Scale::of(&sheet.lines);
    // One workshop alone has nobody beside it.
    let is_drawn = sheet.lines.iter().any(|line| line.interval.is_some());
    let heads = sheet.columns.iter().map(Some).collect::<Vec<_>>();
    let mut strip = row(&heads, CELL_HEAD, composer)?;
    if is_drawn {
        let axis = composer.say(&sheet.axis)?;
        let axis =
            single_line(composer.faces(), &[Span::new(axis, Style { ink: Ink::Grey, ..Style::NOTE })])?;
        let y = strip.height - PITCH + baseline(Style::NOTE.size, PITCH);
        strip.marks.extend(line_marks(&axis, Spot { x: scale.x(0.0) - axis.width / 2.0, y }));
    }
    strip.height += 2.0;
    strip.marks.push(Mark::rule(0.0, COLUMN, strip.height - 1.0, 0.5, Ink::Rule));
    let mut strips = vec![strip];
    for line in &sheet.lines {
        let cells: Vec<Option<&Sentence>> =
            std::iter::once(Some(&line.name)).chain(line.cells.iter().map(Option::as_ref)).collect();
        let mut strip = row(&cells, CELL, composer)?;
        if is_drawn {
            strip.marks.splice(0..0, scale.marks(line, sheet.tolerated, strip.height));
        }
        strips.push(strip);
    }
    strips.push(scale.foot(composer.faces(), is_drawn)?);
    let last = strips.len().saturating_sub(1);
    strips.iter_mut().take(last).for_each(|strip| strip.keeps_next = true);
    Ok(strips)
}

/// One line of the comparison without its drawing: the first column at the left, the others at the right of theirs.
fn row(cells: &[Option<&Sentence>], style: Style, composer: &mut Composer<'_>) -> Result<Strip, ReportError> {
    let mut worded: Vec<Vec<Line>> = Vec::with_capacity(cells.len());
    for (cell, width) in cells.iter().zip(WIDTHS) {
        let words = cell.map(|cell| composer.say(cell)).transpose()?.unwrap_or_default();
        worded.push(lines(composer.faces(), &[Span::new(words, style)], width)?);
    }
    let height = worded.iter().map(Vec::len).max().unwrap_or(1).max(1);
    let (mut strip, mut left) = (Strip::default(), 0.0);
    for (column, (lines, width)) in worded.iter().zip(WIDTHS).enumerate() {
        // Words of a head stand at its foot, those of a line at its top.
        let down = if style == CELL_HEAD { height - lines.len().min(height) } else { 0 };
        for (index, line) in lines.iter().enumerate() {
            let x = if column == 0 { left } else { left + width - line.width };
            let y = (down + index) as f64 * PITCH + baseline(style.size, PITCH);
            strip.marks.extend(line_marks(line, Spot { x, y }));
        }
        left += width + GUTTER;
    }
    strip.height = height as f64 * PITCH;
    Ok(strip)
}

/// Where litres stand in the drawing.
struct Scale {
    left: f64,
    reach: f64,
}

impl Scale {
    fn of(lines: &[Compared]) -> Self {
        let ends = lines.iter().filter_map(|line| line.interval).flatten().map(f64::abs);
        // To the next half litre.
        let reach = (ends.filter(|end| end.is_finite()).fold(0.0, f64::max) * 2.0).ceil() / 2.0;
        let left = WIDTHS.iter().map(|width| width + GUTTER).sum::<f64>() + 2.0;
        Self { left, reach: reach.clamp(REACH.0, REACH.1) }
    }

    fn x(&self, litres: f64) -> f64 {
        let part = (litres / self.reach).clamp(-1.0, 1.0);
        self.left + (COLUMN - self.left) * (part + 1.0) / 2.0
    }

    /// What is drawn in a line: the band, the middle, the interval and the value as an open circle.
    fn marks(&self, line: &Compared, tolerated: f64, height: f64) -> Vec<Mark> {
        let (from, to) = (self.x(-tolerated), self.x(tolerated));
        let corners = [(from, 0.0), (to, 0.0), (to, height), (from, height)];
        let corners = corners.into_iter().map(|(x, y)| Spot { x, y }).collect();
        let upright = |x| vec![Spot { x, y: 0.0 }, Spot { x, y: height }];
        let mut marks = vec![
            Mark::Area { corners, ink: Ink::Band },
            Mark::Stroke { through: upright(self.x(0.0)), thickness: 0.4, ink: Ink::Rule },
        ];
        if let Some([value, least, greatest]) = line.interval {
            let y = PITCH / 2.0;
            marks.push(Mark::rule(self.x(least), self.x(greatest), y, 1.2, Ink::Accent));
            marks.push(Mark::Circle { centre: Spot { x: self.x(value), y }, radius: 2.2, ink: Ink::Black });
        }
        marks
    }

    /// The line below the comparison, with ends and middle of the drawing in litres.
    fn foot(&self, faces: &Faces, is_drawn: bool) -> Result<Strip, ReportError> {
        let mut strip = Strip { height: if is_drawn { 10.0 } else { 2.0 }, ..Strip::default() };
        strip.marks.push(Mark::rule(0.0, COLUMN, 0.5, 0.5, Ink::Rule));
        for litres in [-self.reach, 0.0, self.reach].into_iter().filter(|_| is_drawn) {
            let sign = if litres < 0.0 { "\u{2212}" } else { "" };
            let unit = if litres > 0.0 { "\u{a0}L" } else { "" };
            let words = format!("{sign}{}{unit}", litres.abs());
            let line = single_line(faces, &[Span::new(words, Style { ink: Ink::Grey, ..Style::NOTE })])?;
            let x = (self.x(litres) - line.width / 2.0).min(COLUMN - line.width);
            strip.marks.extend(line_marks(&line, Spot { x, y: 9.0 }));
        }
        Ok(strip)
    }
}
