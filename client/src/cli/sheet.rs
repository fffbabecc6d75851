//! A tally on the terminal, for spreadsheets and as a file. Which tally it is, is not known here.

use super::act::text;
use super::answer::Answer;
use super::{Context, owner, write_whole};
use crate::config::Output;
use crate::error::ClientError;
use crate::next::present::Screen;
use crate::overview::Asked;
use crate::words::descriptor::Words;
use clap::ArgMatches;
use serde_json::{Value, json};
use standpipe_proto::csv;
use standpipe_proto::v1::{Sheet, SheetCell, SheetColumn, SheetTable};
use std::path::{Path, PathBuf};

/// Columns of the terminal that a table takes where it can.
const COLUMNS: usize = 80;
/// Space between two columns of a table.
const GAP: usize = 2;
/// Narrowest column that words are broken for.
const WORDS_LEAST: usize = 8;

pub(super) async fn tally(
    context: &Context<'_>,
    matches: &ArgMatches,
    output: Output,
) -> Result<Answer, ClientError> {
    let name = Some(text(matches, "name")).filter(|name| !name.is_empty());
    let asked = Asked {
        tally: name.unwrap_or(owner::TALLY).to_owned(),
        about: text(matches, "about").trim().to_owned(),
        period: owner::period(matches),
    };
    let mut station = context.station()?;
    if let Some(file) = matches.get_one::<PathBuf>("file") {
        let name = asked.tally.clone();
        let pdf = station.printed_tally(asked).await?;
        return written(context, file, &name, pdf).map(|answer| answer.noting(station.take_notices()));
    }
    let sheet = station.tally(asked).await?;
    let json = Words::get()?.json("Sheet", &sheet)?;
    let mut answer = Answer::new(shown(&sheet), json);
    if output == Output::Csv {
        let number = matches.get_one::<usize>("table").copied();
        let (csv, note) = csv_of(&sheet, number)?;
        answer.csv = csv;
        answer = answer.noting(note);
    }
    Ok(answer.noting(station.take_notices()))
}

pub(super) fn written(
    context: &Context<'_>,
    file: &Path,
    name: &str,
    pdf: Vec<u8>,
) -> Result<Answer, ClientError> {
    if file == Path::new("-") {
        let mut answer = Answer::new(String::new(), Value::Null);
        answer.raw = Some(pdf);
        return Ok(answer);
    }
    write_whole(&*context.machine.options.disk, file, &pdf)?;
    let json = json!({ "tally": name, "file": file.display().to_string(), "bytes": pdf.len() });
    Ok(Answer::new(format!("tally {name} is in {}\n", file.display()), json))
}

/// A tally for people.
fn shown(sheet: &Sheet) -> String {
    let screen = Screen::of(Some(COLUMNS));
    let mut text = screen.wrapped("", &sheet.title);
    for said in &sheet.said {
        text.push_str(&screen.wrapped("", said));
    }
    for table in &sheet.tables {
        text.push('\n');
        if !table.heading.is_empty() {
            text.push_str(&screen.wrapped("", &table.heading));
        }
        if table.rows.is_empty() {
            text.push_str(&screen.wrapped("  ", &table.empty));
        } else {
            text.push_str(&table_shown(table));
        }
    }
    if !sheet.notes.is_empty() {
        text.push('\n');
    }
    for note in &sheet.notes {
        text.push_str(&screen.wrapped("", note));
    }
    text
}

/// One column as it is laid out: its heading and its cells, numbers with their units and with room behind so that their
/// points stand in line.
struct Laid {
    heading: String,
    numeric: bool,
    cells: Vec<String>,
    width: usize,
}

impl Laid {
    fn of(column: &SheetColumn, cells: &[SheetCell]) -> Self {
        let cells: Vec<String> = if column.numeric {
            let cells: Vec<String> = cells.iter().map(number_shown).collect();
            let most = cells.iter().map(|cell| behind_point(cell)).max().unwrap_or(0);
            // Numbers stand by their points, so what is short behind it has room there.
            let room = |cell: &String| " ".repeat(most - behind_point(cell));
            cells
                .iter()
                .map(|cell| if cell.is_empty() { String::new() } else { format!("{cell}{}", room(cell)) })
                .collect()
        } else {
            cells.iter().map(|cell| in_words(cell).replace('\n', " ")).collect()
        };
        let longest = |text: &String| text.chars().count();
        let width = cells.iter().map(longest).chain([longest_word(&column.heading)]).max().unwrap_or(0);
        let width = if column.numeric { width } else { width.max(column.heading.chars().count()) };
        Self { heading: column.heading.clone(), numeric: column.numeric, cells, width }
    }

    /// How narrow it can be without breaking a word.
    fn least(&self) -> usize {
        let widths = self.cells.iter().chain([&self.heading]).map(|text| longest_word(text));
        if self.numeric { self.width } else { widths.max().unwrap_or(0).max(WORDS_LEAST) }
    }

    /// The lines of a text in this column.
    fn lines(&self, text: &str, is_heading: bool) -> Vec<String> {
        let lines =
            if self.numeric && !is_heading { vec![text.to_owned()] } else { broken(text, self.width) };
        let set = |line: String| match self.numeric {
            true => format!("{line:>width$}", width = self.width),
            false => format!("{line:<width$}", width = self.width),
        };
        lines.into_iter().map(set).collect()
    }
}

/// A number with its unit; litres of one and more to a tenth, as a display shows them.
fn number_shown(cell: &SheetCell) -> String {
    let litres = cell.number.filter(|number| cell.unit == "L" && number.abs() >= 1.0);
    match litres {
        Some(litres) => {
            let sign = if litres < 0.0 { "\u{2212}" } else { "" };
            format!("{sign}{:.1} L", litres.abs())
        }
        None => in_words(cell),
    }
}

/// Signs of a number from its decimal point on, or from its unit on.
fn behind_point(number: &str) -> usize {
    let end = number.find('.').or_else(|| number.find(' ')).unwrap_or(number.len());
    number.split_at_checked(end).map_or(0, |(_, behind)| behind.chars().count())
}

/// A cell of words; a number among them with its unit.
fn in_words(cell: &SheetCell) -> String {
    let text = &cell.text;
    if cell.unit.is_empty() || text.is_empty() { text.clone() } else { format!("{text} {}", cell.unit) }
}

fn longest_word(text: &str) -> usize {
    text.split_whitespace().map(|word| word.chars().count()).max().unwrap_or(0)
}

/// A text in lines of at most so many signs; a word that is longer stands alone.
fn broken(text: &str, width: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in text.split_whitespace() {
        let Some(last) = lines.last_mut() else { continue };
        if last.is_empty() {
            last.push_str(word);
        } else if last.chars().count() + 1 + word.chars().count() <= width {
            last.push(' ');
            last.push_str(word);
        } else {
            lines.push(word.to_owned());
        }
    }
    lines
}

fn table_shown(table: &SheetTable) -> String {
    let mut laid: Vec<Laid> = Vec::new();
    for (at, column) in table.columns.iter().enumerate() {
        let cells = table.rows.iter().map(|row| row.cells.get(at).cloned().unwrap_or_default());
        laid.push(Laid::of(column, &cells.collect::<Vec<_>>()));
    }
    if !narrow(&mut laid) {
        return rows_below_each_other(table);
    }
    let mut text = row_shown(&laid, |column| column.lines(&column.heading, true));
    for at in 0..table.rows.len() {
        let cell = |column: &Laid| column.cells.get(at).cloned().unwrap_or_default();
        text.push_str(&row_shown(&laid, |column| column.lines(&cell(column), false)));
    }
    text
}

/// Takes from the widest columns of words what does not fit; says whether it fits then.
fn narrow(laid: &mut [Laid]) -> bool {
    loop {
        let all = laid.iter().map(|column| column.width + GAP).sum::<usize>();
        if all <= COLUMNS + GAP {
            return true;
        }
        let room = |column: &Laid| column.width.saturating_sub(column.least());
        let Some(widest) =
            laid.iter_mut().filter(|column| room(column) > 0).max_by_key(|column| column.width)
        else {
            return false;
        };
        widest.width -= 1;
    }
}

/// A table that is wider than the terminal: each row as its first cell and, below it, what else there is to say.
fn rows_below_each_other(table: &SheetTable) -> String {
    let screen = Screen::of(Some(COLUMNS));
    let mut text = String::new();
    for row in &table.rows {
        let cells = table.columns.iter().zip(&row.cells);
        let said = cells.filter_map(|(column, cell)| {
            let cell = if column.numeric { number_shown(cell) } else { in_words(cell) };
            (!cell.is_empty()).then(|| (column, cell.replace('\n', " ")))
        });
        let mut said = said.map(|(column, cell)| format!("{}: {cell}", column.heading));
        text.push_str(&screen.wrapped("", &said.next().unwrap_or_default()));
        let others = said.collect::<Vec<_>>().join("; ");
        if !others.is_empty() {
            text.push_str(&screen.wrapped("  ", &others));
        }
    }
    text
}

fn row_shown(laid: &[Laid], lines_of: impl Fn(&Laid) -> Vec<String>) -> String {
    let cells: Vec<Vec<String>> = laid.iter().map(lines_of).collect();
    let height = cells.iter().map(Vec::len).max().unwrap_or(0);
    let mut text = String::new();
    for at in 0..height {
        let mut line = String::new();
        for (column, lines) in laid.iter().zip(&cells) {
            let blank = " ".repeat(column.width);
            line.push_str(lines.get(at).unwrap_or(&blank));
            line.push_str(&" ".repeat(GAP));
        }
        text.push_str(line.trim_end());
        text.push('\n');
    }
    text
}

/// One table of a tally for spreadsheets, the first if none is asked for, and which others there are.
fn csv_of(sheet: &Sheet, number: Option<usize>) -> Result<(String, Option<String>), ClientError> {
    let (number, count) = (number.unwrap_or(1), sheet.tables.len());
    let table = number.checked_sub(1).and_then(|place| sheet.tables.get(place)).ok_or_else(|| {
        ClientError::Usage(format!("tally {} has {count} tables and no table {number}", sheet.tally))
    })?;
    let others = (count > 1).then(|| {
        format!("this is table {number} of {count}, {}; the others with --table NUMBER", table.heading)
    });
    Ok((csv::table(table), others))
}

#[cfg(test)]
#[path = "../tests/sheet.rs"]
mod tests;
