//! Answers as text for people or as JSON for scripts. A reader that went away is no error.

use clap::ValueEnum;
use serde_json::{Map, Value};
use std::io::Write as _;

/// How answers are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Output {
    /// Lines for people.
    Text,
    /// One JSON value.
    Json,
    /// Lists as comma-separated values with a head line (RFC 4180); single answers as text.
    Csv,
}

/// Writes one line on the standard output.
pub(crate) fn say(line: &str) {
    // The reader may have closed the pipe; there is nobody left to tell.
    let _ = writeln!(std::io::stdout().lock(), "{line}");
}

/// Writes one line on the standard error.
pub(crate) fn complain(line: &str) {
    let _ = writeln!(std::io::stderr().lock(), "{line}");
}

/// Writes a single answer: a sentence, or its parts by name.
pub(crate) fn answer(output: Output, sentence: &str, parts: &[(&str, Value)]) {
    match output {
        Output::Json => say(&object(parts).to_string()),
        Output::Text | Output::Csv => say(sentence),
    }
}

/// Writes a list: columns for people, objects for scripts.
pub(crate) fn list(output: Output, head: &[&str], rows: &[Vec<Value>]) {
    match output {
        Output::Json => {
            let objects = rows.iter().map(|row| {
                let parts: Vec<_> = head.iter().copied().zip(row.iter().cloned()).collect();
                object(&parts)
            });
            say(&Value::Array(objects.collect()).to_string());
        }
        Output::Csv => {
            say(&head.join(","));
            for row in rows {
                say(&row.iter().map(|value| quoted(&plain(value))).collect::<Vec<_>>().join(","));
            }
        }
        Output::Text => columns(head, rows),
    }
}

fn columns(head: &[&str], rows: &[Vec<Value>]) {
    let head = head.iter().map(|name| (*name).to_owned()).collect::<Vec<_>>();
    let texts: Vec<Vec<String>> =
        std::iter::once(head).chain(rows.iter().map(|row| row.iter().map(plain).collect())).collect();
    let columns = texts.first().map_or(0, Vec::len);
    let width = |column: usize| {
        texts.iter().filter_map(|row| row.get(column)).map(|text| text.chars().count()).max().unwrap_or(0)
    };
    let widths: Vec<usize> = (0..columns).map(width).collect();
    for row in &texts {
        let cells = row.iter().zip(&widths).map(|(text, width)| format!("{text:width$}"));
        say(cells.collect::<Vec<_>>().join("  ").trim_end());
    }
}

fn plain(value: &Value) -> String {
    match value {
        Value::String(text) => text.clone(),
        Value::Bool(true) => "yes".to_owned(),
        Value::Bool(false) | Value::Null => String::new(),
        other => other.to_string(),
    }
}

/// A field of RFC 4180. A text that a spreadsheet would take for a formula begins with an apostrophe.
fn quoted(text: &str) -> String {
    let text =
        if text.starts_with(['=', '+', '-', '@', '\t']) { format!("'{text}") } else { text.to_owned() };
    if text.contains([',', '"', '\n', '\r']) { format!("\"{}\"", text.replace('"', "\"\"")) } else { text }
}

fn object(parts: &[(&str, Value)]) -> Value {
    Value::Object(
        parts.iter().map(|(name, value)| ((*name).to_owned(), value.clone())).collect::<Map<_, _>>(),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_field_is_quoted_and_no_formula() {
        assert_eq!(quoted("plain"), "plain");
        assert_eq!(quoted("a,\"b\""), "\"a,\"\"b\"\"\"");
        assert_eq!(quoted("=1+1"), "'=1+1");
    }
}
