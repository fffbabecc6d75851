//! A table that any surface can show: a tally, as sentences, columns and rows.
//!
//! Whoever makes one says what it means; terminal, page, file and paper show it without knowing which tally it is.
//! Never here: a sum.

use crate::text::Sentence;

/// A tally as it can be shown.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    /// Name of the tally, as it is asked for.
    pub tally: &'static str,
    /// Title.
    pub title: Sentence,
    /// What it says first.
    pub said: Vec<Sentence>,
    /// Its tables.
    pub tables: Vec<Table>,
    /// What belongs below: sources, what was left out.
    pub notes: Vec<Sentence>,
}

/// One table.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// Heading.
    pub heading: Sentence,
    /// Columns.
    pub columns: Vec<Column>,
    /// Rows, each with a cell a column.
    pub rows: Vec<Row>,
    /// What is said when there is no row.
    pub empty: Sentence,
}

/// One column.
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    /// Name for programs.
    pub key: &'static str,
    /// Heading.
    pub heading: Sentence,
    /// Whether it holds numbers.
    pub numeric: bool,
}

/// One row.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Its cells.
    pub cells: Vec<Cell>,
    /// Identity of the job that it is about, as in the accounts of the site; absent if it is about none.
    pub job: Option<String>,
}

/// One cell.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// Nothing to say.
    Empty,
    /// Words of ours.
    Words(Sentence),
    /// A code, name or day as it was written.
    Text(String),
    /// A number in a unit.
    Number {
        /// The number.
        value: f64,
        /// As people read it, without the unit.
        shown: String,
        /// The unit.
        unit: &'static str,
    },
}

impl Column {
    /// A column of words.
    #[must_use]
    pub fn words(key: &'static str, heading: Sentence) -> Self {
        Self { key, heading, numeric: false }
    }

    /// A column of numbers.
    #[must_use]
    pub fn numbers(key: &'static str, heading: Sentence) -> Self {
        Self { key, heading, numeric: true }
    }
}
