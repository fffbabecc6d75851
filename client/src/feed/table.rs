//! A TOML file read key by key: the first thing that is wrong with it is told with file, line and key.
//!
//! A key that nobody asked for is unknown, and one that is spelt alike is named. Called by `map.rs` only.

use crate::error::ClientError;
use std::path::Path;
use toml::de::{DeTable, DeValue};

/// Least likeness of a key to one that is known for it to be named, of 1.
const LIKENESS_LEAST: f64 = 0.8;

/// Bounds of a number: least, greatest, unit.
pub(super) type Bounds = (f64, f64, &'static str);

/// A file, and where its lines begin.
pub(super) struct Document<'t> {
    path: &'t Path,
    text: &'t str,
}

impl<'t> Document<'t> {
    pub(super) fn new(path: &'t Path, text: &'t str) -> Self {
        Self { path, text }
    }

    /// The keys of the whole file.
    pub(super) fn keys(&'t self) -> Result<Keys<'t>, ClientError> {
        let table = DeTable::parse(self.text).map_err(|error| {
            let at = error.span().map_or(0, |span| span.start);
            self.wrong(self.line(at), "", &format!("this is not TOML: {}", error.message()))
        })?;
        Ok(self.keys_of(String::new(), 1, table.into_inner()))
    }

    fn keys_of(&'t self, name: String, line: usize, table: DeTable<'t>) -> Keys<'t> {
        let row = |(key, value): (toml::Spanned<std::borrow::Cow<'t, str>>, toml::Spanned<DeValue<'t>>)| {
            let line = self.line(key.span().start);
            (key.into_inner().into_owned(), line, value.into_inner())
        };
        let open: Vec<_> = table.into_iter().map(row).collect();
        let lines = open.iter().map(|(key, line, _)| (key.clone(), *line)).collect();
        Keys { document: self, name, line, open, lines, known: Vec::new() }
    }

    fn line(&self, byte: usize) -> usize {
        self.text.bytes().take(byte).filter(|byte| *byte == b'\n').count() + 1
    }

    fn wrong(&self, line: usize, key: &str, what: &str) -> ClientError {
        let key = if key.is_empty() { String::new() } else { format!("{key}: ") };
        ClientError::Folder { path: self.path.to_owned(), what: format!("line {line}: {key}{what}") }
    }
}

/// The keys of one table, taken out one after the other.
pub(super) struct Keys<'t> {
    document: &'t Document<'t>,
    name: String,
    line: usize,
    open: Vec<(String, usize, DeValue<'t>)>,
    /// Where each key stands, also when it was taken out.
    lines: Vec<(String, usize)>,
    known: Vec<&'static str>,
}

impl<'t> Keys<'t> {
    /// That something is wrong with a key, on its line if it is there and on the table's if not.
    pub(super) fn wrong(&self, key: &str, what: &str) -> ClientError {
        let first = key.split('.').next().unwrap_or(key);
        let line = self.lines.iter().find(|(name, _)| name == first).map_or(self.line, |(_, line)| *line);
        self.document.wrong(line, &self.full(key), what)
    }

    /// A table that may be left out.
    pub(super) fn table(&mut self, key: &'static str) -> Result<Option<Keys<'t>>, ClientError> {
        match self.take(key) {
            None => Ok(None),
            Some((line, DeValue::Table(table))) => {
                Ok(Some(self.document.keys_of(self.full(key), line, table)))
            }
            Some((line, other)) => Err(self.mistaken(key, line, "a table", &other)),
        }
    }

    /// A text of some characters that may be left out.
    pub(super) fn text(&mut self, key: &'static str, greatest: usize) -> Result<Option<String>, ClientError> {
        let Some((line, value)) = self.take(key) else { return Ok(None) };
        self.to_text(key, line, &value, greatest).map(Some)
    }

    /// One of some words; the first where it is left out.
    pub(super) fn word(
        &mut self,
        key: &'static str,
        words: &[&'static str],
    ) -> Result<&'static str, ClientError> {
        let found = self.word_or_none(key, words)?;
        Ok(found.or_else(|| words.first().copied()).unwrap_or_default())
    }

    /// One of some words that may be left out.
    pub(super) fn word_or_none(
        &mut self,
        key: &'static str,
        words: &[&'static str],
    ) -> Result<Option<&'static str>, ClientError> {
        let Some((line, value)) = self.take(key) else { return Ok(None) };
        let text =
            value.as_str().map(str::to_owned).or_else(|| whole(&value).map(|number| number.to_string()));
        let found = words.iter().find(|word| text.as_deref() == Some(**word));
        let what = || {
            let shown = text.clone().unwrap_or_else(|| value.type_str().to_owned());
            format!("must be {}, found '{shown}'", words.join(" or "))
        };
        match found {
            Some(word) => Ok(Some(word)),
            None => Err(self.document.wrong(line, &self.full(key), &what())),
        }
    }

    /// Texts of some characters; none where they are left out.
    pub(super) fn texts(
        &mut self,
        key: &'static str,
        count_max: usize,
        greatest: usize,
    ) -> Result<Vec<String>, ClientError> {
        let (line, rows) = match self.take(key) {
            None => return Ok(Vec::new()),
            Some((line, DeValue::Array(rows))) => (line, rows),
            Some((line, other)) => return Err(self.mistaken(key, line, "a list of texts", &other)),
        };
        if rows.len() > count_max {
            let what = format!("must hold at most {count_max} texts, found {}", rows.len());
            return Err(self.document.wrong(line, &self.full(key), &what));
        }
        rows.into_iter().map(|row| self.to_text(key, line, &row.into_inner(), greatest)).collect()
    }

    /// True or false; false where it is left out.
    pub(super) fn is_set(&mut self, key: &'static str) -> Result<bool, ClientError> {
        match self.take(key) {
            None => Ok(false),
            Some((line, value)) => {
                value.as_bool().ok_or_else(|| self.mistaken(key, line, "true or false", &value))
            }
        }
    }

    /// A number inside bounds that may be left out.
    pub(super) fn number(
        &mut self,
        key: &'static str,
        (least, greatest, unit): Bounds,
    ) -> Result<Option<f64>, ClientError> {
        let Some((line, value)) = self.take(key) else { return Ok(None) };
        let number = match &value {
            DeValue::Float(number) => number.as_str().parse::<f64>().ok(),
            _ => whole(&value).map(f64::from),
        };
        match number {
            Some(number) if number >= least && number <= greatest => Ok(Some(number)),
            _ => {
                let shown = number.map_or_else(|| value.type_str().to_owned(), |number| number.to_string());
                let range = format!("must be a number from {least} to {greatest} {unit}");
                let what = format!("{}, found {shown}", range.trim_end());
                Err(self.document.wrong(line, &self.full(key), &what))
            }
        }
    }

    /// A whole number inside bounds that may be left out.
    pub(super) fn whole(
        &mut self,
        key: &'static str,
        (least, greatest): (u32, u32),
    ) -> Result<Option<u32>, ClientError> {
        let Some((line, value)) = self.take(key) else { return Ok(None) };
        match whole(&value) {
            Some(number) if (least..=greatest).contains(&number) => Ok(Some(number)),
            number => {
                let shown = number.map_or_else(|| value.type_str().to_owned(), |number| number.to_string());
                let what = format!("must be a whole number from {least} to {greatest}, found {shown}");
                Err(self.document.wrong(line, &self.full(key), &what))
            }
        }
    }

    /// A text or a whole number that must be there: a column by its name or by its place.
    pub(super) fn text_or_whole(
        &mut self,
        key: &'static str,
        characters_max: usize,
        bounds: (u32, u32),
    ) -> Result<Result<String, u32>, ClientError> {
        match self.open.iter().find(|(name, ..)| name == key) {
            None => Err(self.wrong(key, "is missing; add it")),
            Some((_, _, DeValue::String(_))) => Ok(Ok(self.text(key, characters_max)?.unwrap_or_default())),
            Some(_) => Ok(Err(self.whole(key, bounds)?.unwrap_or_default())),
        }
    }

    /// Ends the reading: whatever was not asked for is an unknown key.
    pub(super) fn finish(self) -> Result<(), ClientError> {
        let Some((key, line, _)) = self.open.iter().min_by_key(|(_, line, _)| *line) else { return Ok(()) };
        let likeness = |known: &&str| strsim::jaro_winkler(known, key);
        let nearest =
            self.known.iter().copied().max_by(|one, other| likeness(one).total_cmp(&likeness(other)));
        let meant = match nearest.filter(|known| likeness(known) >= LIKENESS_LEAST) {
            Some(known) => format!("did you mean {known}? The keys here are"),
            None => "the keys here are".to_owned(),
        };
        let what = format!("is not known here; {meant} {}", self.known.join(", "));
        Err(self.document.wrong(*line, &self.full(key), &what))
    }

    fn full(&self, key: &str) -> String {
        if self.name.is_empty() { key.to_owned() } else { format!("{}.{key}", self.name) }
    }

    fn take(&mut self, key: &'static str) -> Option<(usize, DeValue<'t>)> {
        if !self.known.contains(&key) {
            self.known.push(key);
        }
        let at = self.open.iter().position(|(name, ..)| name == key)?;
        let (_, line, value) = self.open.remove(at);
        Some((line, value))
    }

    fn to_text(
        &self,
        key: &str,
        line: usize,
        value: &DeValue<'_>,
        greatest: usize,
    ) -> Result<String, ClientError> {
        let text = value.as_str().ok_or_else(|| self.mistaken(key, line, "a text in quotes", value))?;
        let count = text.chars().count();
        if (1..=greatest).contains(&count) && !text.chars().any(|sign| sign.is_control() && sign != '\t') {
            return Ok(text.to_owned());
        }
        let what = format!("must have 1 to {greatest} characters on one line, found {count}");
        Err(self.document.wrong(line, &self.full(key), &what))
    }

    fn mistaken(&self, key: &str, line: usize, wanted: &str, found: &DeValue<'_>) -> ClientError {
        let what = format!("must be {wanted}, found {}", found.type_str());
        self.document.wrong(line, &self.full(key), &what)
    }
}

/// A whole number of 0 or more.
fn whole(value: &DeValue<'_>) -> Option<u32> {
    value.as_integer().and_then(|number| u32::from_str_radix(number.as_str(), number.radix()).ok())
}
