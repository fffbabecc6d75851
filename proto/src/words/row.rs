//! A row of numbers in one text: `'90°C 50%'`, each measured one with its unit, one row a flag. A count can come
//! first: `'7 10N·m'`.
//!
//! Made from the message of the row and the table of bounds; no row is named here. Called by the flags.

use super::WordsError;
use crate::limits::{self, Span};
use crate::typed::{self, Quantity};
use prost_reflect::{DynamicMessage, FieldDescriptor, Kind, MessageDescriptor, Value};

/// How a row is read.
#[derive(Debug, Clone)]
pub struct Row {
    message: MessageDescriptor,
    cells: Vec<Cell>,
}

#[derive(Debug, Clone)]
struct Cell {
    field: FieldDescriptor,
    /// What is measured; nothing for a count.
    quantity: Option<Quantity>,
    /// Its bounds, as they are written.
    range: String,
    unit: &'static str,
}

impl Row {
    /// The row that a message makes; nothing where one of its fields is no measured number, or a count behind others.
    #[must_use]
    pub fn of(message: &MessageDescriptor) -> Option<Self> {
        let cell = |(at, field): (usize, FieldDescriptor)| {
            let quantity = Quantity::of_field(field.name());
            let span = limits::bound(message.name(), field.name())?.span;
            match (field.kind(), span, quantity) {
                (Kind::Double, Span::Number { least, greatest, unit }, Some(_)) => {
                    Some(Cell { field, quantity, range: format!("{least} to {greatest}"), unit })
                }
                (Kind::Int32, Span::Whole { least, greatest, unit }, None) if at == 0 => {
                    Some(Cell { field, quantity, range: format!("{least} to {greatest}"), unit })
                }
                _ => None,
            }
        };
        let cells = message.fields().enumerate().map(cell).collect::<Option<Vec<_>>>()?;
        (!cells.is_empty()).then(|| Self { message: message.clone(), cells })
    }

    /// Reads a text: the row, and what was understood.
    ///
    /// # Errors
    /// When it is no such row.
    pub fn read(&self, flag: &str, text: &str, example: &str) -> Result<(Value, String), WordsError> {
        let numbers = self.numbers(text);
        if numbers.len() != self.cells.len() {
            return Err(WordsError::Usage(format!(
                "{flag}: '{}' is no {}; write one row, each number with its unit, for example '{example}', and the flag \
                 again for the next row",
                text.trim(),
                self.names().join(" and ")
            )));
        }
        let mut row = DynamicMessage::new(self.message.clone());
        let mut understood = Vec::new();
        for (cell, number) in self.cells.iter().zip(numbers) {
            let (value, words) = cell.read(flag, &number)?;
            row.try_set_field(&cell.field, value)
                .map_err(|error| WordsError::Descriptor(error.to_string()))?;
            understood.push(words);
        }
        Ok((Value::Message(row), understood.join(" ")))
    }

    /// A row in words.
    #[must_use]
    pub fn told(&self, row: &DynamicMessage) -> String {
        let number = |cell: &Cell| {
            let value = row.get_field(&cell.field);
            let count = value.as_i32().map(f64::from);
            let value = value.as_f64().or(count).unwrap_or_default();
            format!("{value}\u{a0}{}", cell.unit).trim_end().to_owned()
        };
        self.cells.iter().map(number).collect::<Vec<_>>().join(" ")
    }

    /// What is written, for the usage: `TEMPERATURE PERCENT`.
    #[must_use]
    pub fn value_name(&self) -> String {
        self.names().join(" ").to_uppercase()
    }

    /// The range and the units of each number.
    #[must_use]
    pub fn help(&self) -> String {
        let range = |cell: &Cell| {
            let (range, unit) = (&cell.range, cell.unit);
            match cell.quantity {
                Some(quantity) => {
                    let units = quantity.units_in_words();
                    format!("{quantity:?} {range} {unit}, written in {units}")
                }
                None => format!("{} {range}", cell.field.name()),
            }
        };
        self.cells.iter().map(range).collect::<Vec<_>>().join("; ")
    }

    /// A row that would be taken, with an example of each quantity.
    #[must_use]
    pub fn example(&self, example_of: fn(Quantity) -> &'static str) -> String {
        let cells = self.cells.iter().map(|cell| cell.quantity.map_or("7", example_of));
        cells.collect::<Vec<_>>().join(" ")
    }

    /// What stands in each place; by the field where two of a row measure the same.
    fn names(&self) -> Vec<String> {
        let alike = |cell: &Cell| self.cells.iter().filter(|one| one.quantity == cell.quantity).count() > 1;
        let name = |cell: &Cell| match cell.quantity {
            Some(quantity) if !alike(cell) => format!("{quantity:?}").to_lowercase(),
            Some(quantity) => {
                let name = cell.field.name();
                name.strip_suffix(quantity.field_end()).unwrap_or(name).replace('_', " ")
            }
            None => cell.field.name().replace('_', " "),
        };
        self.cells.iter().map(name).collect()
    }

    /// Cuts a text into the numbers of the row. A count has no unit that would end it, so it is the first word.
    fn numbers(&self, text: &str) -> Vec<String> {
        match self.cells.first() {
            Some(Cell { quantity: None, .. }) => {
                let text = text.trim();
                let (count, rest) = text.split_once(char::is_whitespace).unwrap_or((text, ""));
                std::iter::once(count.to_owned()).chain(numbers(rest)).collect()
            }
            _ => numbers(text),
        }
    }
}

impl Cell {
    fn read(&self, flag: &str, number: &str) -> Result<(Value, String), WordsError> {
        let Some(quantity) = self.quantity else {
            let count: i32 = number.parse().map_err(|_| {
                let name = self.field.name();
                WordsError::Usage(format!(
                    "{flag}: {name} '{number}' is no whole number; write for example 7"
                ))
            })?;
            return Ok((Value::I32(count), count.to_string()));
        };
        let typed =
            typed::read(number, quantity).map_err(|why| WordsError::Typed { flag: flag.to_owned(), why })?;
        Ok((Value::F64(typed.value), typed.understood))
    }
}

/// Cuts a text before each number that follows a unit: `90 °C 50 %` is `90 °C` and `50 %`.
fn numbers(text: &str) -> Vec<String> {
    let mut numbers: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        let begins = word.starts_with(|sign: char| sign.is_ascii_digit() || "+-\u{2212}.,".contains(sign));
        match numbers.last_mut() {
            // Digits after digits are thousands of the same number.
            Some(last) if !begins || last.ends_with(|sign: char| sign.is_ascii_digit()) => {
                last.push(' ');
                last.push_str(word);
            }
            _ => numbers.push(word.to_owned()),
        }
    }
    numbers
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_row_may_begin_with_a_count_and_hold_the_same_quantity_twice() {
        let words = crate::words::descriptor::Words::get().unwrap();
        let row = |kind: &str, field: &str| {
            let field = words.kind(kind).unwrap().message.get_field_by_name(field).unwrap();
            Row::of(field.kind().as_message().unwrap()).unwrap()
        };
        let screws = row("tightening", "screws");
        let (_, understood) = screws.read("--screw", "7 10,2 N·m", "").unwrap();
        assert_eq!(understood, "7 10.2\u{a0}N·m");
        assert_eq!(screws.value_name(), "PLACE TORQUE");
        let sentence = screws.read("--screw", "10N·m", "7 10N·m").unwrap_err().to_string();
        assert!(sentence.contains("'10N·m' is no place and torque"), "{sentence}");
        let torques = row("tool_checked", "torques");
        assert_eq!(torques.value_name(), "SHOWN REFERENCE");
        assert_eq!(torques.read("--torque", "10N·m 10.35N·m", "").unwrap().1, "10\u{a0}N·m 10.35\u{a0}N·m");
    }

    #[test]
    fn a_number_begins_where_a_unit_ended() {
        assert_eq!(numbers("90°C 50%"), ["90°C", "50%"]);
        assert_eq!(numbers(" 90,5 °C  12.5 % "), ["90,5 °C", "12.5 %"]);
        assert_eq!(numbers("-10 °C 5%"), ["-10 °C", "5%"]);
        assert_eq!(numbers("118 240 km 3 L"), ["118 240 km", "3 L"]);
        // Without a unit between them nobody can tell where one ends.
        assert_eq!(numbers("90 50"), ["90 50"]);
        assert_eq!(numbers(""), [""; 0]);
    }
}
