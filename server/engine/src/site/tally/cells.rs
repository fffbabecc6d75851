//! Cells, rows and columns as the tallies make them.

use crate::kind::words::{Container, Supply};
use crate::sheet::{Cell, Column, Row};
use crate::site::exact::{Exact, Unit};
use crate::text::{Sentence, number, sentence};

/// A code, name or day; nothing where it is empty.
pub(super) fn text(text: impl Into<String>) -> Cell {
    let text = text.into();
    if text.is_empty() { Cell::Empty } else { Cell::Text(text) }
}

/// Several remarks in one cell; nothing where there is none.
pub(super) fn remarks(mut said: Vec<Sentence>) -> Cell {
    match said.len() {
        0 => Cell::Empty,
        1 => said.pop().map_or(Cell::Empty, Cell::Words),
        _ => Cell::Words(sentence::remarks(said)),
    }
}

/// An amount in its unit.
pub(super) fn amount(amount: Exact, unit: Unit) -> Cell {
    Cell::Number { value: amount.value(), shown: amount.shown(unit), unit: unit.word() }
}

/// The same where it is known.
pub(super) fn amount_if(amount: Option<Exact>, unit: Unit) -> Cell {
    amount.map_or(Cell::Empty, |known| self::amount(known, unit))
}

/// A number that counts nothing with a unit.
pub(super) fn plain(value: f64, decimals: usize, unit: &'static str) -> Cell {
    Cell::Number { value, shown: number::fixed(value, decimals), unit }
}

/// What a store keeps, in words.
pub(super) fn supply(what: Option<Supply>) -> Cell {
    what.map_or(Cell::Empty, |what| Cell::Words(sentence::supply(what.word())))
}

/// What fluid came in, in words.
pub(super) fn container(container: Option<Container>) -> Cell {
    container.map_or(Cell::Empty, |container| Cell::Words(sentence::fluid_container(container.word())))
}

/// A row about no job.
pub(super) fn row(cells: Vec<Cell>) -> Row {
    Row { cells, job: None }
}

/// A row about a job.
pub(super) fn job_row(job: &str, cells: Vec<Cell>) -> Row {
    Row { cells, job: Some(job.to_owned()) }
}

/// Key, sort and heading of a column.
pub(super) type Named = (&'static str, Kind, fn() -> Sentence);

/// Columns of words and of numbers, by their keys.
pub(super) fn columns(named: &[Named]) -> Vec<Column> {
    let column = |(key, kind, heading): &Named| match kind {
        Kind::Words => Column::words(key, heading()),
        Kind::Numbers => Column::numbers(key, heading()),
    };
    named.iter().map(column).collect()
}

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Words,
    Numbers,
}
