//! The engine's formulas against tables that were printed or computed elsewhere.
//!
//! Each table is a JSON file beside this one and is read as it was received. It names its source, or the test
//! fails. Every row is checked at the table's own tolerance or counted as one that the engine has no formula for;
//! no row is left out silently.

// A test may stop at the first thing that is not as it should be; only product code may not.
#![allow(clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod ageing;
mod balance;
mod colour;
mod condition;
mod exchange;
mod fault_code;
mod fit;
mod flow;
mod level;
mod mean;
mod merkle;
mod owner;
mod particles;
mod torque;
mod vin;
mod viscosity;
mod volume;
mod waste;

use serde_json::Value;

/// A table with the file's name, so that a failure says where to look.
struct Table {
    name: String,
    content: Value,
}

impl Table {
    /// Reads `reference/<name>.json` of this crate and refuses a table without a source.
    fn read(name: &str) -> Self {
        let path = format!("{}/reference/{name}.json", env!("CARGO_MANIFEST_DIR"));
        let text = std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{path}: {error}"));
        let content: Value = serde_json::from_str(&text).unwrap_or_else(|error| panic!("{path}: {error}"));
        let source = content["source"].as_str().unwrap_or_default();
        assert!(source.len() > 10, "{path} names no source");
        Self { name: name.to_owned(), content }
    }

    fn cases(&self) -> &[Value] {
        let cases = self.content["cases"].as_array().map(Vec::as_slice).unwrap_or_default();
        assert!(!cases.is_empty(), "{} has no rows", self.name);
        cases
    }
}

/// A number of a row; the test fails if it is not there.
fn number(row: &Value, key: &str) -> f64 {
    row[key].as_f64().unwrap_or_else(|| panic!("{} has no number '{key}'", row["id"]))
}

/// A text of a row; the test fails if it is not there.
fn text<'a>(row: &'a Value, key: &str) -> &'a str {
    row[key].as_str().unwrap_or_else(|| panic!("{} has no text '{key}'", row["id"]))
}

/// Compares at an absolute tolerance; NaN never passes.
#[track_caller]
fn near(row: &Value, what: &str, found: f64, expected: f64, tolerance: f64) {
    assert!(
        (found - expected).abs() <= tolerance,
        "{}: {what} is {found}, the table says {expected} (± {tolerance})",
        row["id"]
    );
}

/// A list of numbers of a row; the test fails if it is not one.
fn numbers(row: &Value, key: &str) -> Vec<f64> {
    let items = row[key].as_array().unwrap_or_else(|| panic!("{} has no list '{key}'", row["id"]));
    items.iter().map(|item| item.as_f64().expect("a number")).collect()
}
