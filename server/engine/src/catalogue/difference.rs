//! What is different between two catalogues: settings, variants line by line, and VINs that are decided otherwise.
//!
//! The lines are compared as they stand in the files, key by key, so that nothing that a file may hold is forgotten
//! here; a variant is known by its code and a rule by its own, wherever they stand. Nothing here says which of the two
//! is right. Called when a person compares revisions.

use std::collections::BTreeMap;

use toml::de::{DeTable, DeValue};

use super::WORKSHOP_FILE;
use super::remark::REMARKS_MAX;
use super::revision::{Revision, plain_code};
use super::vin_rule::{SERIAL_GREATEST, VinRule, example_of};
use crate::formula::vin::{LENGTH, Vin};

/// Files of a catalogue by name.
type Files = [(String, Vec<u8>)];
/// Lines of a table: key in words, value in words.
type Lines = BTreeMap<String, String>;

/// What is different.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Difference {
    /// Lines of `workshop.toml`.
    pub settings: Vec<Change>,
    /// Variants that came, went or changed.
    pub variants: Vec<VariantChange>,
    /// VINs that are decided otherwise: one for each way in which that happens.
    pub vins: Vec<Otherwise>,
}

/// A line that came, went or changed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Change {
    /// What it states, for example 'plug torque'.
    pub what: String,
    /// What was stated, if anything was.
    pub before: Option<String>,
    /// What is stated now, if anything is.
    pub now: Option<String>,
}

/// A variant that came, went or changed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct VariantChange {
    /// Its code.
    pub code: String,
    /// Its transmission and its label.
    pub name: String,
    /// Whether it stood in the old catalogue.
    pub was_there: bool,
    /// Whether it stands in the new one.
    pub is_there: bool,
    /// Its lines that are different; of one that came or went all of them.
    pub changes: Vec<Change>,
}

/// A VIN that the rules decide otherwise.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Otherwise {
    /// The VIN, an example.
    pub vin: Vin,
    /// Codes of the variants that the old rules name.
    pub before: Vec<String>,
    /// Codes of the variants that the new rules name.
    pub now: Vec<String>,
}

/// Compares two catalogues, each with the files that it was read from.
#[must_use]
pub fn difference(old: (&Files, &Revision), new: (&Files, &Revision)) -> Difference {
    let (old_lines, new_lines) = (Stated::of(old.0), Stated::of(new.0));
    Difference {
        settings: changes(&old_lines.settings, &new_lines.settings),
        variants: variants(&old_lines, &new_lines, [old.1, new.1]),
        vins: vins(old.1, new.1),
    }
}

/// All lines of a catalogue.
#[derive(Default)]
struct Stated {
    settings: Lines,
    /// By plain code.
    variants: BTreeMap<String, Lines>,
}

impl Stated {
    /// Files that were read as a catalogue are TOML; whatever is none has no lines.
    fn of(files: &Files) -> Self {
        let mut stated = Self::default();
        for (name, content) in files {
            let text = std::str::from_utf8(content).unwrap_or_default();
            let Ok(table) = DeTable::parse(text) else { continue };
            if name == WORKSHOP_FILE {
                flatten("", table.get_ref(), &mut stated.settings);
                continue;
            }
            let mut head = Lines::new();
            for (key, value) in table.get_ref().iter().filter(|(key, _)| key.get_ref() != "variant") {
                line(key.get_ref(), value.get_ref(), &mut head);
            }
            let variants = table.get_ref().get("variant").and_then(|value| value.get_ref().as_array());
            for variant in variants.into_iter().flatten().filter_map(|value| value.get_ref().as_table()) {
                // What the variant states itself stands in place of the head's.
                let mut lines = head.clone();
                flatten("", variant, &mut lines);
                let code = variant.get("code").and_then(|code| code.get_ref().as_str()).unwrap_or_default();
                stated.variants.insert(plain_code(code), lines);
            }
        }
        stated
    }
}

fn flatten(path: &str, table: &DeTable<'_>, lines: &mut Lines) {
    for (key, value) in table {
        line(&format!("{path}{}", key.get_ref()), value.get_ref(), lines);
    }
}

fn line(key: &str, value: &DeValue<'_>, lines: &mut Lines) {
    match value {
        DeValue::Table(table) => flatten(&format!("{key}, "), table, lines),
        DeValue::Array(rows) if rows.iter().any(|row| row.get_ref().is_table()) => {
            for (number, row) in rows.iter().enumerate() {
                if let Some(row) = row.get_ref().as_table() {
                    flatten(&format!("{key} {}, ", name_of(row, number)), row, lines);
                }
            }
        }
        other => {
            let (words, unit) = in_words(key);
            let value = value_in_words(other);
            lines.insert(words, if unit.is_empty() { value } else { format!("{value} {unit}") });
        }
    }
}

/// What tells a table from its sisters: its code, or the word that only it states; else its number.
fn name_of(row: &DeTable<'_>, number: usize) -> String {
    let keys = ["code", "use", "name", "group"];
    let text = |key: &str| row.get(key).and_then(|value| value.get_ref().as_str()).map(str::to_owned);
    let named = keys.into_iter().find_map(text).map(|name| format!("‘{}’", name.replace('_', " ")));
    let placed = || {
        let parts: Vec<String> = ["place", "adapter"].into_iter().filter_map(text).collect();
        (!parts.is_empty()).then(|| format!("‘{}’", parts.join(" ").replace('_', " ")))
    };
    named.or_else(placed).unwrap_or_else(|| (number + 1).to_string())
}

/// Endings of keys that name a unit, the longer ones first.
const UNITS: [(&str, &str); 16] = [
    ("_kilograms_per_cubic_metre", "kg/m³"),
    ("_milligrams_per_kilogram", "mg/kg"),
    ("_milligrams_per_gram", "mg/g"),
    ("_newton_metres", "N·m"),
    ("_kilometres", "km"),
    ("_kilograms", "kg"),
    ("_celsius", "°C"),
    ("_minutes", "min"),
    ("_months", "months"),
    ("_litres", "L"),
    ("kilograms_per_cubic_metre", "kg/m³"),
    ("kilometres", "km"),
    ("celsius", "°C"),
    ("months", "months"),
    ("litres", "L"),
    ("minutes", "min"),
];

/// A key as words, and its unit.
fn in_words(key: &str) -> (String, &'static str) {
    let found = UNITS.iter().find_map(|(ending, unit)| Some((key.strip_suffix(ending)?, *unit)));
    let (stem, unit) = found.unwrap_or((key, ""));
    // A key that is a unit alone keeps its word, since the table's name goes before it.
    let stem = if stem.is_empty() || stem.ends_with(' ') { key } else { stem };
    (stem.replace('_', " ").replace("vin rule", "VIN rule").replace("15 celsius", "15 °C"), unit)
}

fn value_in_words(value: &DeValue<'_>) -> String {
    match value {
        DeValue::String(text) => text.to_string(),
        DeValue::Integer(number) => number.as_str().to_owned(),
        DeValue::Float(number) => number.as_str().to_owned(),
        DeValue::Boolean(true) => "yes".to_owned(),
        DeValue::Boolean(false) => "no".to_owned(),
        DeValue::Datetime(time) => time.to_string(),
        DeValue::Array(rows) => {
            rows.iter().map(|row| value_in_words(row.get_ref())).collect::<Vec<_>>().join("; ")
        }
        DeValue::Table(_) => String::new(),
    }
}

fn changes(before: &Lines, now: &Lines) -> Vec<Change> {
    let gone = before.iter().filter(|(what, _)| !now.contains_key(*what));
    let gone =
        gone.map(|(what, value)| Change { what: what.clone(), before: Some(value.clone()), now: None });
    let different = now.iter().filter(|(what, value)| before.get(*what) != Some(value));
    let different = different.map(|(what, value)| Change {
        what: what.clone(),
        before: before.get(what).cloned(),
        now: Some(value.clone()),
    });
    let mut all: Vec<Change> = gone.chain(different).collect();
    all.sort_by(|one, other| one.what.cmp(&other.what));
    all
}

fn variants(old: &Stated, new: &Stated, [old_revision, new_revision]: [&Revision; 2]) -> Vec<VariantChange> {
    let nothing = Lines::new();
    let gone = old_revision.variants().iter().filter(|variant| new_revision.variant(&variant.code).is_none());
    let all = new_revision.variants().iter().chain(gone);
    let compared = all.map(|variant| {
        let code = plain_code(&variant.code);
        let (before, now) = (old.variants.get(&code), new.variants.get(&code));
        VariantChange {
            code: variant.code.clone(),
            name: format!("{}, {}", variant.transmission, variant.label),
            was_there: before.is_some(),
            is_there: now.is_some(),
            changes: changes(before.unwrap_or(&nothing), now.unwrap_or(&nothing)),
        }
    });
    compared.filter(|variant| !variant.changes.is_empty()).collect()
}

/// VINs that the rules which are not the same in both decide otherwise.
fn vins(old: &Revision, new: &Revision) -> Vec<Otherwise> {
    let (olds, news) = (by_code(old), by_code(new));
    let mut found: BTreeMap<(Vec<String>, Vec<String>), Otherwise> = BTreeMap::new();
    let codes = |revision: &Revision, vin: &Vin| -> Vec<String> {
        revision.match_vin(vin).variants.iter().map(|variant| variant.code.clone()).collect()
    };
    let pairs = news.iter().map(|(code, rule)| (olds.get(code).copied(), Some(*rule)));
    let gone = olds.iter().filter(|(code, _)| !news.contains_key(*code)).map(|(_, rule)| (Some(*rule), None));
    for (before, now) in pairs.chain(gone) {
        // Whoever has more ways than this needs no longer list.
        if found.len() >= REMARKS_MAX {
            break;
        }
        for vin in examples(before, now) {
            let (before, now) = (codes(old, &vin), codes(new, &vin));
            if before != now {
                let key = (before.clone(), now.clone());
                found.entry(key).or_insert(Otherwise { vin, before, now });
            }
        }
    }
    found.into_values().collect()
}

fn by_code(revision: &Revision) -> BTreeMap<String, &VinRule> {
    revision.rules().into_iter().map(|rule| (plain_code(&rule.code), rule)).collect()
}

/// VINs at which a rule that came, went or changed may decide otherwise: at the ends of its windows and where its
/// places differ.
fn examples(before: Option<&VinRule>, now: Option<&VinRule>) -> Vec<Vin> {
    let meaning = |rule: &VinRule| (plain_code(&rule.variant), *rule.pattern.places(), rule.serial);
    if before.map(meaning) == now.map(meaning) {
        return Vec::new();
    }
    let rules: Vec<&VinRule> = before.into_iter().chain(now).collect();
    let mut shapes: Vec<[u64; LENGTH]> = rules.iter().map(|rule| *rule.pattern.places()).collect();
    if let (Some(before), Some(now)) = (before, now) {
        for (own, other) in [(before, now), (now, before)] {
            for (at, (place, beside)) in own.pattern.places().iter().zip(other.pattern.places()).enumerate() {
                let mut shape = *own.pattern.places();
                if let Some(only) = shape.get_mut(at).filter(|_| place & !beside != 0) {
                    *only = place & !beside;
                    shapes.push(shape);
                }
            }
        }
    }
    let mut windows: Vec<Option<(u32, u32)>> = vec![None];
    for (from, to) in rules.iter().filter_map(|rule| rule.serial) {
        let ends =
            [Some(from), Some(to), from.checked_sub(1), Some(to + 1).filter(|it| *it <= SERIAL_GREATEST)];
        // From an end on, so that a pattern that does not allow just this number still gives one.
        windows.extend(
            ends.into_iter().flatten().flat_map(|end| [Some((end, end)), Some((end, SERIAL_GREATEST))]),
        );
    }
    let pairs = shapes.iter().flat_map(|shape| windows.iter().map(move |window| example_of(shape, *window)));
    let mut vins: Vec<Vin> = pairs.flatten().collect();
    vins.sort_by(|one, other| one.as_str().cmp(other.as_str()));
    vins.dedup();
    vins
}
