//! A tally on paper: title, what it says first, its tables, its notes.
//!
//! Columns take the width of their words; where not even the longest words fit beside each other the sheet is held
//! across, and after that letters are made smaller. Codes, numbers and days are never broken; words are, between
//! each other, and a very long one within itself, so that it takes nothing from the other columns. A head is repeated on
//! each page, a row is cut only where it is longer than a page can hold, and numbers stand by their decimal point. Knows
//! no tally and no sum. The same sheet and paper give the same bytes.

use standpipe_engine::sheet::{Cell, Sheet, Table as SheetTable};
use standpipe_engine::text::{Language, Sentence, sentence};

use crate::closeness::Closeness;
use crate::compose::Composer;
use crate::error::ReportError;
use crate::font::Faces;
use crate::page::{self, Format, Page, Pages};
use crate::paragraph::{Ink, Span, Style, lines, width_of};
use crate::pdf;
use crate::section::foot;
use crate::strip::{LEADING, Mark, Spot, Strip, baseline, heading, line_marks, list_point, paragraph};
use crate::table::{Align, Column, GUTTER, Row, Table};

/// Part of the column that the title may take; the workshop has the rest.
const TITLE_SHARE: f64 = 0.62;
/// Line pitch of the title.
const TITLE_PITCH: f64 = 19.0;
/// Clear space above a heading.
const ABOVE_HEADING: f64 = 10.0;
/// Most characters of a code or day that is never broken.
const CODE_LENGTH_MAX: usize = 24;
/// The same for one with a space in it, such as a plate.
const PLATE_LENGTH_MAX: usize = 12;
/// A word that is wider is broken within itself, in points.
const LONG_WORD: f64 = 100.0;
/// The same where there is least room.
const LONG_WORD_AT_LEAST: f64 = 40.0;
/// What measured words get more, so that no rounding breaks them, in points.
const SLACK: f64 = 0.05;
/// Letters as small as they ever are: 7 pt.
const SMALLEST: Closeness = Closeness { across: 0.7, down: 0.72 };
/// What is tried one after the other until all columns fit: how the sheet is held, how closely words stand, and the
/// width from which a word is broken.
const STEPS: [(Format, Closeness, f64); 4] = [
    (Format::Upright, Closeness::USUAL, LONG_WORD),
    (Format::Across, Closeness::USUAL, LONG_WORD),
    (Format::Across, Closeness::ANNEX, LONG_WORD),
    (Format::Across, SMALLEST, LONG_WORD_AT_LEAST),
];
/// Clear space below the head of the page.
const BELOW_HEAD: f64 = 4.0;

/// What stands on the paper beside the tally.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct TallyPaper {
    /// Name of the workshop.
    pub workshop: String,
    /// Day and time of printing, as people read it.
    pub printed_at: String,
    /// The same time in microseconds since 1970, for the file.
    pub printed_us: i64,
    /// Edition of the engine that made the tally.
    pub engine_version: String,
    /// Language of the words.
    pub language: Language,
}

impl TallyPaper {
    /// What the file says of itself.
    pub(crate) fn about_file(
        &self,
        title: &Sentence,
        composer: &mut Composer<'_>,
    ) -> Result<pdf::FileInfo, ReportError> {
        Ok(pdf::FileInfo {
            title: composer.say(title)?,
            author: composer.stated(&self.workshop),
            producer: format!("standpipe {}", self.engine_version),
            language: self.language.code().to_owned(),
            created_unix_seconds: self.printed_us.div_euclid(1_000_000),
        })
    }
}

/// A tally as the bytes of a PDF file.
///
/// # Errors
/// [`ReportError`] only for a mistake of ours: a sentence without words, or with a character that the font has no glyph
/// for. Codes and names are printed as people wrote them.
pub fn tally(sheet: &Sheet, paper: &TallyPaper) -> Result<Vec<u8>, ReportError> {
    let mut composer = Composer::new(Faces::shipped()?, paper.language);
    let pages = pages(sheet, paper, &mut composer)?;
    let info = paper.about_file(&sheet.title, &mut composer)?;
    pdf::write(composer.faces(), &pages, &[], &info)
}

fn pages(sheet: &Sheet, paper: &TallyPaper, composer: &mut Composer<'_>) -> Result<Vec<Page>, ReportError> {
    let faces = composer.faces();
    let tables =
        sheet.tables.iter().map(|table| Worded::of(table, composer)).collect::<Result<Vec<_>, _>>()?;
    let fits = |(format, closeness, long_word): &&(Format, Closeness, f64)| {
        tables.iter().all(|table| table.least(*long_word) <= format.column() / closeness.across)
    };
    let [.., last] = STEPS;
    let (format, closeness, long_word) = STEPS.iter().find(fits).copied().unwrap_or(last);
    let (workshop, printed) = (composer.stated(&paper.workshop), composer.stated(&paper.printed_at));
    let foot_words = sentence::tally_foot(paper.engine_version.as_str(), printed, workshop.as_str());
    let identity = composer.say(&foot_words)?;
    let widest = composer.say(&sentence::record_page("100", "100"))?;
    let mut pages = Pages::held(format, page::foot_lines(faces, &identity, &widest)?);
    pages.stack(&[head(&sheet.title, &workshop, format.column(), composer)?]);
    for said in &sheet.said {
        let words = composer.say(said)?;
        pages.stack(&paragraph(faces, &[Span::text(words)], format.column())?);
    }
    for table in &tables {
        pages.stack(&table.strips(faces, format.column(), closeness, long_word)?);
    }
    let mut above = ABOVE_HEADING;
    for note in &sheet.notes {
        let words = composer.say(note)?;
        let mut strips = list_point(faces, &[Span::text(words)], format.column())?;
        if let Some(first) = strips.first_mut() {
            first.space_above = std::mem::take(&mut above);
        }
        pages.stack(&strips);
    }
    pages.finish(faces, &identity, |page, count| foot::page_words(composer, page, count))
}

/// Title at the left, workshop right-aligned beside it, a rule below both.
pub(crate) fn head(
    title: &Sentence,
    workshop: &str,
    column: f64,
    composer: &mut Composer<'_>,
) -> Result<Strip, ReportError> {
    let faces = composer.faces();
    let title = Span::new(composer.say(title)?, Style::TITLE);
    let titles = lines(faces, &[title], column * TITLE_SHARE)?;
    let beside = column * (1.0 - TITLE_SHARE) - GUTTER;
    let workshop = lines(faces, &[Span::new(workshop, Style::STRONG)], beside)?;
    let mut strip = Strip { keeps_next: true, ..Strip::default() };
    for (index, line) in titles.iter().enumerate() {
        let y = index as f64 * TITLE_PITCH + baseline(Style::TITLE.size, TITLE_PITCH);
        strip.marks.extend(line_marks(line, Spot { x: 0.0, y }));
    }
    for (index, line) in workshop.iter().enumerate() {
        let y = 2.5 + index as f64 * LEADING + baseline(Style::TEXT.size, LEADING);
        strip.marks.extend(line_marks(line, Spot { x: column - line.width, y }));
    }
    let rule = f64::max(titles.len() as f64 * TITLE_PITCH, 2.5 + workshop.len() as f64 * LEADING) + 4.0;
    strip.marks.push(Mark::rule(0.0, column, rule, 1.2, Ink::Black));
    strip.height = rule + BELOW_HEAD;
    Ok(strip)
}

/// A table in words, with the widths that its words need.
struct Worded {
    heading: String,
    empty: String,
    table: Table,
    /// Width of each column without a break in any cell.
    whole: Vec<f64>,
    /// Width of each column's widest code, number or day, none of which is broken.
    firm: Vec<f64>,
    /// Width of each column's longest word of any other kind.
    word: Vec<f64>,
}

impl Worded {
    fn of(table: &SheetTable, composer: &mut Composer<'_>) -> Result<Self, ReportError> {
        let head: Vec<String> =
            table.columns.iter().map(|column| composer.say(&column.heading)).collect::<Result<_, _>>()?;
        let mut rows = Vec::with_capacity(table.rows.len());
        for row in &table.rows {
            let cells: Result<Vec<_>, _> = row.cells.iter().map(|cell| words(cell, composer)).collect();
            rows.push(Row { cells: cells?, ..Row::default() });
        }
        let faces = composer.faces();
        let (mut whole, mut firm, mut word) = (Vec::new(), Vec::new(), Vec::new());
        for (index, column) in table.columns.iter().enumerate() {
            let (mut longest, mut code, mut longest_word) = (0.0_f64, 0.0_f64, 0.0_f64);
            let kinds = table.rows.iter().filter_map(|row| row.cells.get(index)).map(is_firm);
            let spans = rows.iter().filter_map(|row| row.cells.get(index)).map(|spans| spans.first());
            let cells = kinds.zip(spans).filter_map(|(is_firm, span)| Some((is_firm, span?)));
            let texts = cells.map(|(is_firm, span)| (is_firm, span.text.as_str(), span.style));
            let heads = head.get(index).map(|words| (false, words.as_str(), Style::STRONG));
            for (is_firm, text, style) in texts.chain(heads) {
                let width = width_of(faces, text, style)? + SLACK;
                longest = longest.max(width);
                if is_firm {
                    code = code.max(width);
                }
                for part in text.split(' ') {
                    longest_word = longest_word.max(width_of(faces, part, style)? + SLACK);
                }
            }
            if column.numeric {
                let room = by_the_point(faces, rows.iter().filter_map(|row| row.cells.get(index)))?;
                longest += room;
                code += room;
            }
            whole.push(longest);
            firm.push(code);
            word.push(longest_word);
        }
        let columns = table.columns.iter().map(|column| Column {
            share: 1.0,
            align: if column.numeric { Align::Decimal } else { Align::Left },
        });
        Ok(Self {
            heading: composer.say(&table.heading)?,
            empty: composer.say(&table.empty)?,
            table: Table { columns: columns.collect(), head, rows, ruled_below: true },
            whole,
            firm,
            word,
        })
    }

    /// Width that each column needs where words wider than this are broken.
    fn needed(&self, long_word: f64) -> Vec<f64> {
        self.firm.iter().zip(&self.word).map(|(firm, word)| firm.max(word.min(long_word))).collect()
    }

    fn gutters(&self) -> f64 {
        GUTTER * self.whole.len().saturating_sub(1) as f64
    }

    /// Width that the table needs where words wider than this are broken.
    fn least(&self, long_word: f64) -> f64 {
        self.needed(long_word).iter().sum::<f64>() + self.gutters()
    }

    fn strips(
        &self,
        faces: &Faces,
        column: f64,
        closeness: Closeness,
        long_word: f64,
    ) -> Result<Vec<Strip>, ReportError> {
        let mut strips = heading(faces, &self.heading, column, ABOVE_HEADING)?;
        if self.table.rows.is_empty() {
            strips.extend(paragraph(faces, &[Span::text(self.empty.as_str())], column)?);
            return Ok(strips);
        }
        let width = column / closeness.across;
        let shares = shared(&self.needed(long_word), &self.whole, width - self.gutters());
        let columns = self.table.columns.iter().zip(shares);
        let columns = columns.map(|(column, share)| Column { share, ..*column }).collect();
        let table = Table { columns, ..self.table.clone() };
        strips.extend(closeness.applied(table.strips(faces, width)?));
        Ok(strips)
    }
}

/// A number with its unit, or a code, name or day of one short word.
fn is_firm(cell: &Cell) -> bool {
    match cell {
        Cell::Number { .. } => true,
        Cell::Text(text) => {
            let (length, parted) = (text.chars().count(), text.contains(char::is_whitespace));
            // A plate or a code may have a space; so have remarks, which are longer or have no figure.
            let is_plate = length <= PLATE_LENGTH_MAX && text.contains(|sign: char| sign.is_ascii_digit());
            length <= CODE_LENGTH_MAX && (!parted || is_plate)
        }
        Cell::Empty | Cell::Words(_) => false,
    }
}

/// Width of each column: at least what it needs, then what its longest cell still wants, then an equal part of what
/// is left.
fn shared(broken: &[f64], whole: &[f64], room: f64) -> Vec<f64> {
    let least: f64 = broken.iter().sum();
    let wanted: f64 = whole.iter().sum();
    let pairs = broken.iter().zip(whole);
    if wanted <= room {
        let left = (room - wanted) / whole.len().max(1) as f64;
        return whole.iter().map(|width| width + left).collect();
    }
    let part = if wanted > least { ((room - least) / (wanted - least)).max(0.0) } else { 0.0 };
    pairs.map(|(word, longest)| word + part * (longest - word)).collect()
}

/// How much wider a column of numbers is because they stand by their point and not by their end.
fn by_the_point<'a>(faces: &Faces, cells: impl Iterator<Item = &'a Vec<Span>>) -> Result<f64, ReportError> {
    let (mut before, mut after, mut longest) = (0.0_f64, 0.0_f64, 0.0_f64);
    for span in cells.flatten() {
        let (figures, rest) = span.text.split_at(span.text.find('.').unwrap_or_else(|| {
            span.text
                .find(|letter: char| !letter.is_ascii_digit() && !"−+±\u{202f}".contains(letter))
                .unwrap_or(span.text.len())
        }));
        before = before.max(width_of(faces, figures, span.style)?);
        after = after.max(width_of(faces, rest, span.style)?);
        longest = longest.max(width_of(faces, &span.text, span.style)?);
    }
    Ok((before + after - longest).max(0.0))
}

fn words(cell: &Cell, composer: &mut Composer<'_>) -> Result<Vec<Span>, ReportError> {
    Ok(match cell {
        Cell::Empty => Vec::new(),
        Cell::Words(sentence) => vec![Span::text(composer.say(sentence)?)],
        Cell::Text(text) => vec![Span::text(composer.stated(text))],
        Cell::Number { shown, unit, .. } => {
            let shown = composer.stated(shown);
            vec![Span::text(if unit.is_empty() { shown } else { format!("{shown}\u{a0}{unit}") })]
        }
    })
}

#[cfg(test)]
mod tests;
