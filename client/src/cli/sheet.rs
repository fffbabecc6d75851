//! A tally on the terminal, for spreadsheets and as a file. Which tally it is, is not known here.

use super::act::text;
use super::answer::{Answer, csv_row};
use super::{Context, write_whole};
use crate::error::ClientError;
use crate::next::present::Screen;
use crate::overview::Asked;
use crate::words::descriptor::Words;
use clap::ArgMatches;
use serde_json::{Value, json};
use standpipe_proto::v1::{Sheet, SheetCell, SheetColumn, SheetTable};
use std::path::{Path, PathBuf};

/// Columns of the terminal that a table takes where it can.
const COLUMNS: usize = 80;
/// Space between two columns of a table.
const GAP: usize = 2;
/// Narrowest column that words are broken for.
const WORDS_LEAST: usize = 8;

pub(super) async fn tally(context: &Context<'_>, matches: &ArgMatches) -> Result<Answer, ClientError> {
    let asked = Asked {
        tally: text(matches, "name").to_owned(),
        about: text(matches, "about").trim().to_owned(),
        period: text(matches, "period").trim().to_owned(),
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
    answer.csv = csv(&sheet);
    Ok(answer.noting(station.take_notices()))
}

fn written(context: &Context<'_>, file: &Path, name: &str, pdf: Vec<u8>) -> Result<Answer, ClientError> {
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

/// One column as it is laid out: its heading and its cells, numbers with room behind so that their points stand in line.
struct Laid {
    heading: String,
    numeric: bool,
    cells: Vec<String>,
    width: usize,
}

impl Laid {
    fn of(column: &SheetColumn, cells: &[SheetCell]) -> Self {
        let cells: Vec<String> = if column.numeric {
            let most = cells.iter().map(|cell| behind_point(&cell.text)).max().unwrap_or(0);
            let unit = cells.iter().map(|cell| cell.unit.chars().count()).max().unwrap_or(0);
            cells.iter().map(|cell| number_shown(cell, most, unit)).collect()
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

/// Signs of a number from its decimal point on.
fn behind_point(number: &str) -> usize {
    number.chars().skip_while(|sign| *sign != '.').count()
}

/// A number with room for the longest end and unit of its column; one without a point stands as if it had one.
fn number_shown(cell: &SheetCell, most_behind: usize, unit_width: usize) -> String {
    if cell.text.is_empty() {
        return String::new();
    }
    let room = " ".repeat(most_behind - behind_point(&cell.text));
    match unit_width {
        0 => format!("{}{room}", cell.text),
        _ => format!("{}{room} {:<unit_width$}", cell.text, cell.unit),
    }
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
    narrow(&mut laid);
    let mut text = row_shown(&laid, |column| column.lines(&column.heading, true));
    for at in 0..table.rows.len() {
        let cell = |column: &Laid| column.cells.get(at).cloned().unwrap_or_default();
        text.push_str(&row_shown(&laid, |column| column.lines(&cell(column), false)));
    }
    text
}

/// Takes from the widest columns of words what does not fit.
fn narrow(laid: &mut [Laid]) {
    loop {
        let all = laid.iter().map(|column| column.width + GAP).sum::<usize>();
        let over = all.saturating_sub(COLUMNS + GAP);
        let room = |column: &Laid| column.width.saturating_sub(column.least());
        let Some(widest) =
            laid.iter_mut().filter(|column| room(column) > 0).max_by_key(|column| column.width)
        else {
            return;
        };
        if over == 0 {
            return;
        }
        widest.width -= 1;
    }
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

/// A tally for spreadsheets: numbers in full and without their unit, which has a column of its own.
fn csv(sheet: &Sheet) -> String {
    let tables: Vec<String> = sheet.tables.iter().map(table_csv).collect();
    tables.join("\r\n")
}

fn table_csv(table: &SheetTable) -> String {
    let has_unit =
        |at: usize| table.rows.iter().any(|row| row.cells.get(at).is_some_and(|cell| !cell.unit.is_empty()));
    let with_units: Vec<bool> = (0..table.columns.len()).map(has_unit).collect();
    let mut heads = Vec::new();
    for (column, with_unit) in table.columns.iter().zip(&with_units) {
        heads.push(column.key.clone());
        heads.extend(with_unit.then(|| format!("{}_unit", column.key)));
    }
    let row_of = |cells: Vec<String>| csv_row(&cells.iter().map(String::as_str).collect::<Vec<_>>());
    let mut csv = row_of(heads);
    for row in &table.rows {
        let mut cells = Vec::new();
        for (at, with_unit) in with_units.iter().enumerate() {
            let cell = row.cells.get(at).cloned().unwrap_or_default();
            cells.push(cell.number.map_or(cell.text, |number| number.to_string()));
            cells.extend(with_unit.then_some(cell.unit));
        }
        csv.push_str(&row_of(cells));
    }
    csv
}

#[cfg(test)]
#[path = "../tests/sheet.rs"]
mod tests;
