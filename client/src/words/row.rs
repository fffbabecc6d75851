//! A row of measured numbers in one text: `'90°C 50%'`, each number with its unit, one row a flag.
//!
//! Made from the message of the row and the table of bounds; no row is named here. Called by the flags.

use crate::error::ClientError;
use prost_reflect::{DynamicMessage, FieldDescriptor, Kind, MessageDescriptor, Value};
use standpipe_proto::limits::{self, Span};
use standpipe_proto::typed::{self, Quantity};

/// How a row is read.
pub(crate) struct Row {
    message: MessageDescriptor,
    cells: Vec<Cell>,
}

struct Cell {
    field: FieldDescriptor,
    quantity: Quantity,
    least: f64,
    greatest: f64,
    unit: &'static str,
}

impl Row {
    /// The row that a message makes; nothing where one of its fields is no measured number.
    pub(crate) fn of(message: &MessageDescriptor) -> Option<Self> {
        let cell = |field: FieldDescriptor| {
            let quantity = Quantity::of_field(field.name())?;
            let span = limits::bound(message.name(), field.name())?.span;
            let (Kind::Double, Span::Number { least, greatest, unit }) = (field.kind(), span) else {
                return None;
            };
            Some(Cell { field, quantity, least, greatest, unit })
        };
        let cells = message.fields().map(cell).collect::<Option<Vec<_>>>()?;
        (!cells.is_empty()).then(|| Self { message: message.clone(), cells })
    }

    /// Reads a text: the row, and what was understood.
    pub(crate) fn read(&self, flag: &str, text: &str, example: &str) -> Result<(Value, String), ClientError> {
        let numbers = numbers(text);
        if numbers.len() != self.cells.len() {
            return Err(ClientError::Usage(format!(
                "{flag}: '{}' is no {}; write one row, each number with its unit, for example '{example}', and the flag \
                 again for the next row",
                text.trim(),
                self.names().join(" and ")
            )));
        }
        let mut row = DynamicMessage::new(self.message.clone());
        let mut understood = Vec::new();
        for (cell, number) in self.cells.iter().zip(numbers) {
            let typed = typed::read(&number, cell.quantity)
                .map_err(|why| ClientError::Typed { flag: flag.to_owned(), why })?;
            row.try_set_field(&cell.field, Value::F64(typed.value))
                .map_err(|error| ClientError::Descriptor(error.to_string()))?;
            understood.push(typed.understood);
        }
        Ok((Value::Message(row), understood.join(" ")))
    }

    /// A row in words.
    pub(crate) fn told(&self, row: &DynamicMessage) -> String {
        let number = |cell: &Cell| {
            let value = row.get_field(&cell.field).as_f64().unwrap_or_default();
            format!("{value}\u{a0}{}", cell.unit)
        };
        self.cells.iter().map(number).collect::<Vec<_>>().join(" ")
    }

    /// What is written, for the usage: `TEMPERATURE PERCENT`.
    pub(crate) fn value_name(&self) -> String {
        self.names().join(" ").to_uppercase()
    }

    /// The range and the units of each number.
    pub(crate) fn help(&self) -> String {
        let range = |cell: &Cell| {
            format!(
                "{:?} {} to {} {}, written in {}",
                cell.quantity,
                cell.least,
                cell.greatest,
                cell.unit,
                cell.quantity.units_in_words()
            )
        };
        self.cells.iter().map(range).collect::<Vec<_>>().join("; ")
    }

    /// What is measured in each number.
    pub(crate) fn quantities(&self) -> impl Iterator<Item = Quantity> {
        self.cells.iter().map(|cell| cell.quantity)
    }

    fn names(&self) -> Vec<String> {
        self.quantities().map(|quantity| format!("{quantity:?}").to_lowercase()).collect()
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
