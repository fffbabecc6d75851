//! Reads one TOML file of the catalogue field by field and collects everything that is wrong with it.
//!
//! The usual derive stops at the first mistake and does not know bounds; an office person wants all of them,
//! each with file, line and key. A field that was not asked for is an unknown key. What is asked for is noted where
//! somebody wants to know, so that the page for the office can be held against it. Only the catalogue's own modules
//! call this.

use std::cell::RefCell;
use std::collections::BTreeSet;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::CatalogueProblem;

/// Something that a reader asks for.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Asked {
    /// Full key without the numbers of tables, for example `variant.vin_rule.pattern`.
    pub key: String,
    /// What it must be, for example `1 to 60 L`.
    pub form: String,
    /// False where it may be left out.
    pub is_needed: bool,
}

/// One file and the list that its problems go to.
pub(super) struct Document<'a> {
    file: &'a str,
    text: &'a str,
    /// Where each line begins, in bytes.
    line_starts: Vec<usize>,
    problems: &'a RefCell<Vec<CatalogueProblem>>,
    asked: Option<&'a RefCell<BTreeSet<Asked>>>,
}

impl<'a> Document<'a> {
    pub(super) fn new(file: &'a str, text: &'a str, problems: &'a RefCell<Vec<CatalogueProblem>>) -> Self {
        let after = text.bytes().enumerate().filter(|(_, byte)| *byte == b'\n').map(|(at, _)| at + 1);
        let line_starts = std::iter::once(0).chain(after).collect();
        Self { file, text, line_starts, problems, asked: None }
    }

    /// The same, noting what is asked for.
    #[cfg(test)]
    pub(super) fn noting(self, asked: &'a RefCell<BTreeSet<Asked>>) -> Self {
        Self { asked: Some(asked), ..self }
    }

    /// The fields of the whole file; problems of TOML itself are noted and end the reading of this file.
    pub(super) fn fields(&self) -> Option<Fields<'_>> {
        let (table, errors) = DeTable::parse_recoverable(self.text);
        if errors.is_empty() {
            return Some(Fields::new(self, String::new(), table));
        }
        for error in errors {
            let at = error.span().map_or(0, |span| span.start);
            self.note(self.line(at), "", format!("this is not TOML: {}", error.message()));
        }
        None
    }

    fn line(&self, byte: usize) -> usize {
        self.line_starts.partition_point(|start| *start <= byte)
    }

    fn note(&self, line: usize, key: &str, what: String) {
        let problem =
            CatalogueProblem { file: self.file.to_owned(), line: Some(line), key: key.to_owned(), what };
        self.problems.borrow_mut().push(problem);
    }
}

/// The fields of one table, taken out one after the other.
pub(super) struct Fields<'d> {
    document: &'d Document<'d>,
    path: String,
    line: usize,
    open: Vec<(String, usize, DeValue<'d>)>,
    /// Keys that were asked for, to help with one that is misspelt.
    known: Vec<String>,
}

/// Bounds of a number: least, greatest, unit.
pub(super) type Bounds = (f64, f64, &'static str);

impl<'d> Fields<'d> {
    fn new(document: &'d Document<'d>, path: String, table: Spanned<DeTable<'d>>) -> Self {
        let line = document.line(table.span().start);
        let rows = table.into_inner().into_iter();
        let open = rows
            .map(|(key, value)| {
                let line = document.line(key.span().start);
                (key.into_inner().into_owned(), line, value.into_inner())
            })
            .collect();
        Self { document, path, line, open, known: Vec::new() }
    }

    /// Notes a problem with a key of this table, on the line of the table.
    pub(super) fn problem(&self, key: &str, what: impl Into<String>) {
        self.document.note(self.line, &self.full(key), what.into());
    }

    /// The first line of the table.
    pub(super) fn line(&self) -> usize {
        self.line
    }

    /// A text that must be there, of 1 to `length_max` characters without control characters.
    pub(super) fn text(&mut self, key: &str, length_max: usize) -> Option<String> {
        self.ask(key, true, || text_form(length_max));
        self.required(key)?;
        self.text_optional(key, length_max)
    }

    /// A text that may be left out.
    pub(super) fn text_optional(&mut self, key: &str, length_max: usize) -> Option<String> {
        self.ask(key, false, || text_form(length_max));
        let (line, value) = self.take(key)?;
        self.to_text(key, line, &value, length_max)
    }

    /// One of some words that must be there.
    pub(super) fn word<'w>(&mut self, key: &str, words: &[&'w str]) -> Option<&'w str> {
        self.ask(key, true, || words.join(", "));
        self.required(key)?;
        self.word_optional(key, words)
    }

    /// One of some words that may be left out.
    pub(super) fn word_optional<'w>(&mut self, key: &str, words: &[&'w str]) -> Option<&'w str> {
        self.ask(key, false, || words.join(", "));
        let (line, value) = self.take(key)?;
        self.to_word(key, line, &value, words)
    }

    /// A list of some words, each at most once, that must be there.
    pub(super) fn words<'w>(&mut self, key: &str, words: &[&'w str]) -> Vec<&'w str> {
        self.ask(key, true, || format!("list of {}", words.join(", ")));
        if self.required(key).is_none() {
            return Vec::new();
        }
        let rows = self.list(key, words.len());
        let mut found = Vec::new();
        for (line, value) in &rows {
            match self.to_word(key, *line, value, words) {
                Some(word) if found.contains(&word) => {
                    self.document.note(*line, &self.full(key), format!("names '{word}' twice; name it once"));
                }
                word => found.extend(word),
            }
        }
        found
    }

    /// A number inside `bounds` that must be there.
    pub(super) fn number(&mut self, key: &str, bounds: Bounds) -> Option<f64> {
        self.ask(key, true, || number_form(bounds));
        self.required(key)?;
        self.number_optional(key, bounds)
    }

    /// A number inside `bounds` that may be left out.
    pub(super) fn number_optional(&mut self, key: &str, bounds: Bounds) -> Option<f64> {
        self.ask(key, false, || number_form(bounds));
        let (line, value) = self.take(key)?;
        self.to_number(key, line, &value, bounds)
    }

    /// A whole number from `least` to `greatest` that may be left out.
    pub(super) fn whole_optional(&mut self, key: &str, least: u32, greatest: u32) -> Option<u32> {
        self.ask(key, false, || format!("{least} to {greatest}"));
        let (line, value) = self.take(key)?;
        let found =
            value.as_integer().and_then(|number| u32::from_str_radix(number.as_str(), number.radix()).ok());
        match found {
            Some(number) if (least..=greatest).contains(&number) => Some(number),
            _ => {
                let what = format!("must be a whole number from {least} to {greatest}");
                self.document.note(line, &self.full(key), what);
                None
            }
        }
    }

    /// True or false; left out it is false.
    pub(super) fn is_set(&mut self, key: &str) -> bool {
        self.ask(key, false, || "true or false".to_owned());
        let Some((line, value)) = self.take(key) else { return false };
        let found = value.as_bool();
        if found.is_none() {
            let what = format!("must be true or false, found {}", value.type_str());
            self.document.note(line, &self.full(key), what);
        }
        found.unwrap_or_default()
    }

    /// A list of texts that may be left out (then empty).
    pub(super) fn texts(&mut self, key: &str, count_max: usize, length_max: usize) -> Vec<String> {
        self.ask(key, false, || format!("list of up to {count_max}, each {}", text_form(length_max)));
        let rows = self.list(key, count_max);
        rows.iter().filter_map(|(line, value)| self.to_text(key, *line, value, length_max)).collect()
    }

    /// A list of numbers that may be left out (then empty).
    pub(super) fn numbers(&mut self, key: &str, count_max: usize, bounds: Bounds) -> Vec<f64> {
        self.ask(key, false, || format!("list of up to {count_max}, each {}", number_form(bounds)));
        let rows = self.list(key, count_max);
        rows.iter().filter_map(|(line, value)| self.to_number(key, *line, value, bounds)).collect()
    }

    /// A table `[key]` that may be left out.
    pub(super) fn table_optional(&mut self, key: &str) -> Option<Fields<'d>> {
        self.ask(key, false, || "table".to_owned());
        let (line, value) = self.take(key)?;
        self.to_table(key, line, value)
    }

    /// The tables `[[key]]`, at most `count_max`.
    pub(super) fn tables(&mut self, key: &str, count_max: usize) -> Vec<Fields<'d>> {
        self.ask(key, false, || format!("up to {count_max} tables"));
        let rows = self.list(key, count_max);
        let numbered = rows.into_iter().enumerate();
        numbered
            .filter_map(|(index, (line, value))| self.to_table(&format!("{key}[{}]", index + 1), line, value))
            .collect()
    }

    /// Ends the reading: whatever was not asked for is an unknown key.
    pub(super) fn finish(self) {
        for (key, line, _) in &self.open {
            let known = self.nearest(key).map(|known| format!("; known is {known}")).unwrap_or_default();
            let what = format!("is not known here; remove it or correct its spelling{known}");
            self.document.note(*line, &self.full(key), what);
        }
    }

    /// The key asked for that begins as this one does, at least for half of it: another unit, or a slip.
    fn nearest(&self, key: &str) -> Option<&str> {
        let alike =
            |known: &str| known.bytes().zip(key.bytes()).take_while(|(one, other)| one == other).count();
        let nearest = self.known.iter().max_by_key(|known| alike(known))?;
        (alike(nearest) >= 4 && 2 * alike(nearest) >= key.len()).then_some(nearest)
    }

    /// Notes that a key is asked for. One that is needed is asked for again by its reader, as one that may be left out.
    fn ask(&mut self, key: &str, is_needed: bool, form: impl FnOnce() -> String) {
        if !self.known.iter().any(|known| known == key) {
            self.known.push(key.to_owned());
            if let Some(asked) = self.document.asked {
                let plain = self.full(key);
                let plain: Vec<&str> =
                    plain.split('.').map(|part| part.split('[').next().unwrap_or(part)).collect();
                asked.borrow_mut().insert(Asked { key: plain.join("."), form: form(), is_needed });
            }
        }
    }

    fn full(&self, key: &str) -> String {
        if self.path.is_empty() { key.to_owned() } else { format!("{}.{key}", self.path) }
    }

    fn take(&mut self, key: &str) -> Option<(usize, DeValue<'d>)> {
        let at = self.open.iter().position(|(name, ..)| name == key)?;
        let (_, line, value) = self.open.swap_remove(at);
        Some((line, value))
    }

    fn required(&self, key: &str) -> Option<()> {
        if self.open.iter().any(|(name, ..)| name == key) {
            return Some(());
        }
        self.problem(key, "is missing; add it");
        None
    }

    fn list(&mut self, key: &str, count_max: usize) -> Vec<(usize, DeValue<'d>)> {
        let Some((line, value)) = self.take(key) else {
            return Vec::new();
        };
        let DeValue::Array(rows) = value else {
            self.document.note(line, &self.full(key), format!("must be a list, found {}", value.type_str()));
            return Vec::new();
        };
        if rows.len() > count_max {
            let what = format!("must hold at most {count_max} items, found {}", rows.len());
            self.document.note(line, &self.full(key), what);
            return Vec::new();
        }
        rows.into_iter().map(|row| (self.document.line(row.span().start), row.into_inner())).collect()
    }

    fn to_text(&self, key: &str, line: usize, value: &DeValue<'_>, length_max: usize) -> Option<String> {
        let Some(text) = value.as_str() else {
            self.document.note(
                line,
                &self.full(key),
                format!("must be a text in quotes, found {}", value.type_str()),
            );
            return None;
        };
        let text = text.trim();
        let length = text.chars().count();
        if (1..=length_max).contains(&length) && !text.chars().any(char::is_control) {
            return Some(text.to_owned());
        }
        let what = format!("must be 1 to {length_max} characters on one line, found {length}");
        self.document.note(line, &self.full(key), what);
        None
    }

    fn to_word<'w>(&self, key: &str, line: usize, value: &DeValue<'_>, words: &[&'w str]) -> Option<&'w str> {
        let found = self.to_text(key, line, value, 80)?;
        let word = words.iter().find(|word| **word == found).copied();
        if word.is_none() {
            let what = match words.split_last() {
                Some((last, others)) if !others.is_empty() => {
                    format!("must be {} or {last}, found '{found}'", others.join(", "))
                }
                _ => format!("must be {}, found '{found}'", words.join("")),
            };
            self.document.note(line, &self.full(key), what);
        }
        word
    }

    fn to_number(
        &self,
        key: &str,
        line: usize,
        value: &DeValue<'_>,
        (least, greatest, unit): Bounds,
    ) -> Option<f64> {
        let number = match value {
            DeValue::Float(number) => number.as_str().parse::<f64>().ok(),
            DeValue::Integer(number) if number.radix() == 10 => number.as_str().parse::<f64>().ok(),
            _ => None,
        };
        match number {
            Some(number) if number >= least && number <= greatest => Some(number),
            _ => {
                let found = number.map_or_else(|| value.type_str().to_owned(), |number| number.to_string());
                let what = format!("must be a number from {least} to {greatest} {unit}, found {found}");
                self.document.note(line, &self.full(key), what);
                None
            }
        }
    }

    fn to_table(&self, key: &str, line: usize, value: DeValue<'d>) -> Option<Fields<'d>> {
        let DeValue::Table(table) = value else {
            self.document.note(line, &self.full(key), format!("must be a table, found {}", value.type_str()));
            return None;
        };
        let mut fields = Fields::new(self.document, self.full(key), Spanned::new(0..0, table));
        fields.line = line;
        Some(fields)
    }
}

fn text_form(length_max: usize) -> String {
    format!("text of up to {length_max} characters")
}

fn number_form((least, greatest, unit): Bounds) -> String {
    format!("{least} to {greatest} {unit}").trim_end().to_owned()
}
