//! A table of a tally as CSV (RFC 4180).
//!
//! The first line names the columns; a number stands with a decimal point and its unit in a column of its own. Words
//! that a table program would take for a formula are led by an apostrophe, as the CSV injection page of OWASP says
//! (from memory). Never here: what stands in the table.

use super::super::trouble::Trouble;
use crate::convert::words;
use standpipe_engine::sheet::{Cell, Table};
use standpipe_engine::text::Language;

/// Signs that a table program may begin a formula with.
const FORMULA_SIGNS: [char; 6] = ['=', '+', '-', '@', '\t', '\r'];

/// The table, each line ended by carriage return and line feed.
pub(super) fn text(table: &Table, language: Language) -> Result<String, Trouble> {
    let mut text = String::new();
    let mut head = Vec::new();
    for column in &table.columns {
        head.push(column.key.to_owned());
        if column.numeric {
            head.push(format!("{}_unit", column.key));
        }
    }
    line(&mut text, &head);
    for row in &table.rows {
        let mut fields = Vec::with_capacity(head.len());
        for (column, cell) in table.columns.iter().zip(&row.cells) {
            let (field, unit) = match cell {
                Cell::Empty => (String::new(), ""),
                Cell::Words(sentence) => (guarded(&words(language, sentence)?), ""),
                Cell::Text(text) => (guarded(text), ""),
                Cell::Number { value, unit, .. } if value.is_finite() => (value.to_string(), *unit),
                Cell::Number { shown, unit, .. } => (guarded(shown), *unit),
            };
            fields.push(field);
            if column.numeric {
                fields.push(unit.to_owned());
            }
        }
        line(&mut text, &fields);
    }
    Ok(text)
}

fn line(text: &mut String, fields: &[String]) {
    for (place, field) in fields.iter().enumerate() {
        if place > 0 {
            text.push(',');
        }
        if field.contains([',', '"', '\r', '\n']) {
            text.push('"');
            text.push_str(&field.replace('"', "\"\""));
            text.push('"');
        } else {
            text.push_str(field);
        }
    }
    text.push_str("\r\n");
}

fn guarded(words: &str) -> String {
    if words.starts_with(FORMULA_SIGNS) { format!("'{words}") } else { words.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use standpipe_engine::sheet::{Column, Row};
    use standpipe_engine::text::sentence;

    #[test]
    fn every_line_has_the_same_fields_and_no_cell_is_a_formula() {
        let say = |words: &str| sentence::store_fluid(words);
        let number = |value: f64| Cell::Number { value, shown: "−1.5".to_owned(), unit: "L" };
        let row = |lot: &str, amount: Cell, said: &str| Row {
            cells: vec![Cell::Text(lot.to_owned()), amount, Cell::Words(say(said))],
            job: None,
        };
        let table = Table {
            heading: say("Fluid"),
            columns: vec![
                Column::words("lot", say("Lot")),
                Column::numbers("there", say("There")),
                Column::words("said", say("Said")),
            ],
            rows: vec![
                row("=cmd|' /C calc'!A0", number(-1.5), "two, and \"three\""),
                row("@x", Cell::Empty, "one\r\ntwo"),
                row("−5", number(1e-7), "plain"),
            ],
            empty: say("Nothing"),
        };
        assert_eq!(
            text(&table, Language::default()).unwrap(),
            "lot,there,there_unit,said\r\n\
             '=cmd|' /C calc'!A0,-1.5,L,\"two, and \"\"three\"\"\"\r\n\
             '@x,,,\"one\r\ntwo\"\r\n\
             −5,0.0000001,L,plain\r\n"
        );
    }
}
