//! Cells, columns and rows as an owner's sheets make them.

use crate::owner::sums::{SHOWN_FROM_JOBS, Sums};
use crate::quantity::Estimate;
use crate::sheet::{Cell, Column, Row, Table};
use crate::text::{Sentence, number, sentence};
use jiff::civil::Date;

/// Columns that hold words; all others hold numbers.
const WORDS: [&str; 7] = ["site", "what", "number", "date", "equipment", "month", "variant"];

/// Columns by their keys.
pub(super) fn columns(keys: &[&'static str]) -> Vec<Column> {
    let column = |key: &&'static str| {
        let heading = sentence::owner_column(*key);
        if WORDS.contains(key) { Column::words(key, heading) } else { Column::numbers(key, heading) }
    };
    keys.iter().map(column).collect()
}

/// A table of rows about no job.
pub(super) fn table(
    heading: Sentence,
    keys: &[&'static str],
    rows: Vec<Vec<Cell>>,
    empty: Sentence,
) -> Table {
    let rows = rows.into_iter().map(|cells| Row { cells, job: None }).collect();
    Table { heading, columns: columns(keys), rows, empty }
}

/// A code, name or day; nothing where it is empty.
pub(super) fn text(text: impl Into<String>) -> Cell {
    let text = text.into();
    if text.is_empty() { Cell::Empty } else { Cell::Text(text) }
}

/// A count.
#[allow(clippy::cast_precision_loss, reason = "no owner has so many jobs")]
pub(super) fn count(count: i64) -> Cell {
    plain(count as f64, 0, "")
}

/// A number; nothing where it is none.
pub(super) fn plain(value: f64, decimals: usize, unit: &'static str) -> Cell {
    if value.is_finite() {
        Cell::Number { value, shown: number::fixed(value, decimals), unit }
    } else {
        Cell::Empty
    }
}

/// What stands in the place of figures of so few jobs that they are not shown by themselves.
fn withheld() -> Cell {
    Cell::Words(sentence::owner_withheld(SHOWN_FROM_JOBS.to_string()))
}

/// A row that says so, of so many columns.
///
/// * `named` – its first cells: whose it is
pub(super) fn row_withheld(mut named: Vec<Cell>, columns: usize) -> Vec<Cell> {
    named.push(withheld());
    named.resize(columns, Cell::Empty);
    named
}

/// Litres of a sum in millilitres.
#[allow(clippy::cast_precision_loss, reason = "litres of some million jobs")]
pub(super) fn litres(millilitres: i64) -> Cell {
    plain(millilitres as f64 / 1e3, 1, "L")
}

/// A quotient of two counts, times a factor; nothing where there is nothing to divide by.
#[allow(clippy::cast_precision_loss, reason = "no owner has so many jobs")]
pub(super) fn per(sum: i64, jobs: i64, times: f64, decimals: usize, unit: &'static str) -> Cell {
    if jobs > 0 { plain(times * sum as f64 / jobs as f64, decimals, unit) } else { Cell::Empty }
}

/// Value, lower and upper end of an estimate in litres, rounded by its uncertainty.
pub(super) fn estimate(estimate: Option<Estimate>, unit: &'static str) -> [Cell; 3] {
    let Some(estimate) = estimate else { return [const { Cell::Empty }; 3] };
    let (least, greatest) = estimate.interval95();
    let text = number::estimate(&estimate, (f64::NEG_INFINITY, f64::INFINITY));
    let cell = |value: f64, shown: String| Cell::Number { value, shown, unit };
    [cell(estimate.value, text.value), cell(least, text.least), cell(greatest, text.greatest)]
}

/// A month in words, for example November 2026.
#[must_use]
pub fn month(month: &str) -> String {
    let first: Option<Date> = format!("{month}-01").parse().ok();
    first.map_or_else(|| month.to_owned(), |first| first.strftime("%B %Y").to_string())
}

/// Sites that are shown by themselves, and what the small ones have together with how many they are.
pub(super) struct Parted<'a> {
    pub shown: Vec<(&'a str, Sums)>,
    pub small: Option<(u64, Sums)>,
}

/// Parts sites by whether they have enough jobs to be shown beside figures that chance plays with.
pub(super) fn parted<'a>(sites: Vec<(&'a str, Sums)>, enough: impl Fn(&Sums) -> bool) -> Parted<'a> {
    let (shown, small): (Vec<_>, Vec<_>) = sites.into_iter().partition(|(_, sums)| enough(sums));
    let mut together = Sums::default();
    small.iter().for_each(|(_, sums)| together.add(sums));
    Parted { shown, small: (!small.is_empty()).then_some((small.len() as u64, together)) }
}
