//! What was heard of an instrument: lines counted, what was wrong with them told once a sort, and a line for the end.

use crate::error::ClientError;
use crate::feed::binner::{About, Bin};
use crate::words::descriptor::Words;
use serde_json::{Value, json};
use standpipe_proto::v1::{Fact, TemperatureOf, fact::Kind};
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// What can be wrong with a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Sort {
    /// It cannot be read.
    Unreadable,
    /// Its litres are outside their bounds.
    Outside,
    /// Another of its values is.
    OutsideValue,
    /// Its counters do not go on as they should.
    Counter(About),
}

impl Sort {
    /// Whether the line is used all the same.
    pub(super) fn is_line_used(self) -> bool {
        matches!(self, Self::OutsideValue | Self::Counter(About::Out | About::NewRun))
    }

    /// What the end's line calls it.
    fn words(self) -> &'static str {
        match self {
            Self::Unreadable => "cannot be read",
            Self::Outside | Self::Counter(About::TooMuch) => "outside the bounds",
            Self::OutsideValue => "with a value outside its bounds",
            Self::Counter(About::WentBack) => "going back",
            Self::Counter(About::Leapt) => "leaping",
            Self::Counter(About::AfterLast) => "after the last",
            Self::Counter(About::Out) => "with litres out that are not used",
            Self::Counter(About::NewRun) => "with a counter that begins again",
        }
    }

    fn key(self) -> &'static str {
        match self {
            Self::Unreadable => "unreadable",
            Self::Outside => "outside",
            Self::OutsideValue => "value_outside",
            Self::Counter(About::TooMuch) => "too_much",
            Self::Counter(About::WentBack) => "going_back",
            Self::Counter(About::Leapt) => "leaping",
            Self::Counter(About::AfterLast) => "after_last",
            Self::Counter(About::Out) => "out_not_used",
            Self::Counter(About::NewRun) => "counter_begins_again",
        }
    }

    /// What stands behind the first of its sort, the others of which are only counted.
    pub(super) fn told_once_words(self) -> &'static str {
        if self == Self::Counter(About::NewRun) { "" } else { " (further ones are counted)" }
    }
}

/// Lines and what was wrong with them.
#[derive(Debug, Default)]
pub(super) struct Heard {
    /// Lines that came.
    pub(super) lines: u64,
    /// Lines that became part of an entry.
    pub(super) used: u64,
    /// Empty lines, comments, and the one that names the columns.
    pub(super) passed_over: u64,
    /// Means that were outside their bounds.
    pub(super) refused: usize,
    /// Whether nobody reads what is said.
    pub(super) is_unread: bool,
    sorts: BTreeMap<Sort, u64>,
}

impl Heard {
    /// Counts something that is wrong with a line; true when it is to be told.
    pub(super) fn is_to_be_told(&mut self, sort: Sort) -> bool {
        let count = self.sorts.entry(sort).or_default();
        *count += 1;
        *count == 1 || sort == Sort::Counter(About::NewRun)
    }

    /// Whether lines came and none of them could be used.
    pub(super) fn nothing_was_read(&self) -> bool {
        self.used == 0 && self.lines > self.passed_over
    }

    /// All that came and what became of it, in one line.
    pub(super) fn summary(&self, entries: usize) -> String {
        let counted = |count: u64, one: &str| format!("{count} {one}{}", if count == 1 { "" } else { "s" });
        let mut text = format!("{} read, {} used", counted(self.lines, "line"), self.used);
        if self.passed_over > 0 {
            let _ = write!(text, ", {} passed over", self.passed_over);
        }
        for (sort, count) in &self.sorts {
            let _ = write!(text, ", {count} {}", sort.words());
        }
        let entries = if entries == 1 { "1 entry".to_owned() } else { format!("{entries} entries") };
        format!("{text}; {entries}")
    }

    /// The same for programs.
    pub(super) fn json(&self) -> Value {
        let sorts: BTreeMap<&str, u64> =
            self.sorts.iter().map(|(sort, count)| (sort.key(), *count)).collect();
        json!({ "read": self.lines, "used": self.used, "passed_over": self.passed_over, "wrong": sorts })
    }
}

/// An entry in one line, as it was kept.
pub(super) fn entry_words(fact: &Fact, bin: &Bin) -> String {
    let mut parts = Vec::new();
    match &fact.kind {
        Some(Kind::ExchangeReading(reading)) => {
            parts.push(format!("{:.2} L in", reading.volume_in_litres));
            parts.extend(reading.volume_out_litres.map(|litres| format!("{litres:.2} L out")));
            parts.extend(reading.instrument_new_percent.map(|share| format!("{share:.1} of 100 new")));
            parts.extend(reading.temperature_celsius.map(|celsius| format!("{celsius:.1} °C")));
            if reading.last {
                parts.push("end of the exchange".to_owned());
            }
        }
        Some(Kind::TemperatureReading(reading)) => {
            let of = match reading.place() {
                TemperatureOf::TransmissionFluid => "transmission fluid",
                TemperatureOf::FreshFluid => "fresh fluid",
                _ => "drained fluid",
            };
            parts.push(format!("{of} {:.1} °C", reading.temperature_celsius));
        }
        _ => {}
    }
    match bin.lines {
        0 => {}
        1 => parts.push("1 line".to_owned()),
        lines => parts.push(format!("{lines} lines")),
    }
    format!("{}\n", parts.join(", "))
}

/// The same for programs.
pub(super) fn entry_json(fact: &Fact, entry_id: &str) -> Result<Value, ClientError> {
    let words = Words::get()?;
    let fields = match &fact.kind {
        Some(Kind::ExchangeReading(reading)) => words.json("ExchangeReading", reading)?,
        Some(Kind::TemperatureReading(reading)) => words.json("TemperatureReading", reading)?,
        _ => Value::Null,
    };
    Ok(json!({ "entry_id": entry_id, "kind": words.kind_of(fact)?, "fields": fields }))
}
