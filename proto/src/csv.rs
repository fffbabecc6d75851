//! Tables for spreadsheets, as comma-separated values (RFC 4180). Used by the stations and by the office pages, so that
//! a table is the same file wherever it was taken.
//!
//! Never here: what stands in a table.

use crate::v1::SheetTable;

/// Signs that a spreadsheet may begin a formula with, or skip before one: those that the page on CSV injection of OWASP
/// names (from memory), and the zero that some programs drop.
const FORMULA_SIGNS: [char; 7] = ['=', '+', '-', '@', '\t', '\r', '\0'];

/// A row. Every cell is quoted; one that a spreadsheet would take for a formula gets a leading apostrophe, unless it is a
/// number.
#[must_use]
pub fn row<T: AsRef<str>>(cells: &[T]) -> String {
    let cell = |text: &T| {
        let text = text.as_ref();
        let is_number = || text.parse().is_ok_and(f64::is_finite);
        let formula = text.starts_with(FORMULA_SIGNS) && !is_number();
        format!("\"{}{}\"", if formula { "'" } else { "" }, text.replace('"', "\"\""))
    };
    format!("{}\r\n", cells.iter().map(cell).collect::<Vec<_>>().join(","))
}

/// What stands in a cell for a part of a JSON object; nothing for what was not measured.
#[cfg(feature = "cells")]
#[must_use]
pub fn cell(value: &serde_json::Value) -> String {
    use serde_json::Value;
    match value {
        Value::Null => String::new(),
        Value::String(text) => text.clone(),
        Value::Array(values) => values.iter().map(cell).collect::<Vec<_>>().join("; "),
        // The parts of a lot that was drawn, in the order of their names: code, litres, lot.
        Value::Object(parts) => {
            parts.values().map(cell).filter(|part| !part.is_empty()).collect::<Vec<_>>().join(" ")
        }
        other => other.to_string(),
    }
}

/// A table of a tally: a line of column names, then its rows. Numbers stand in full, with the unit in a column of its own
/// after each column of numbers, whatever stands in it.
#[must_use]
pub fn table(table: &SheetTable) -> String {
    let mut heads = Vec::new();
    for column in &table.columns {
        heads.push(column.key.clone());
        heads.extend(column.numeric.then(|| format!("{}_unit", column.key)));
    }
    let mut text = row(&heads);
    for cells in table.rows.iter().map(|row| &row.cells) {
        let mut fields = Vec::with_capacity(heads.len());
        for (at, column) in table.columns.iter().enumerate() {
            let cell = cells.get(at).cloned().unwrap_or_default();
            fields.push(cell.number.map_or(cell.text, |number| number.to_string()));
            fields.extend(column.numeric.then_some(cell.unit));
        }
        text.push_str(&row(&fields));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::v1::{SheetCell, SheetColumn, SheetRow};

    #[test]
    fn a_cell_is_quoted_and_never_a_formula() {
        assert_eq!(
            row(&["HL-26-0042", "a \"b\", c", "=1+1", "-3.5", "-3.5+1", "-inf", "\t=1", "\r=1", "\0=1"]),
            "\"HL-26-0042\",\"a \"\"b\"\", c\",\"'=1+1\",\"-3.5\",\"'-3.5+1\",\"'-inf\",\"'\t=1\",\"'\r=1\",\"'\0=1\"\r\n"
        );
    }

    #[test]
    fn every_column_of_numbers_has_one_of_units_whatever_stands_in_it() {
        let column =
            |key: &str, numeric| SheetColumn { key: key.to_owned(), heading: String::new(), numeric };
        let words = |text: &str| SheetCell { text: text.to_owned(), ..SheetCell::default() };
        let litres = SheetCell { text: "\u{2212}0.5".to_owned(), number: Some(-0.461), unit: "L".to_owned() };
        let mut sheet = SheetTable {
            columns: vec![column("lot", false), column("drawn", true), column("said", false)],
            ..SheetTable::default()
        };
        assert_eq!(table(&sheet), "\"lot\",\"drawn\",\"drawn_unit\",\"said\"\r\n");
        let rows = [vec![words("@L-2"), litres, words("two\r\nlines")], vec![words("-5"), words("")]];
        sheet.rows = rows.map(|cells| SheetRow { cells, job: String::new() }).into();
        let expected = "\"lot\",\"drawn\",\"drawn_unit\",\"said\"\r\n\"'@L-2\",\"-0.461\",\"L\",\"two\r\nlines\"\r\n\
                        \"-5\",\"\",\"\",\"\"\r\n";
        assert_eq!(table(&sheet), expected);
    }
}
