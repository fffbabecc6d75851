//! Holds a message against the table of bounds and names everything that is outside, all at once.
//!
//! Stations check before they keep an entry, servers check again. Never here: a bound itself,
//! which stands in [`crate::limits`], or the meaning of a fact, which is the engine's.

mod means;
mod site;

pub use site::{is_site_kind, is_stated_site_kind};

use crate::limits::{self, Bound, Form, Span};
use crate::v1::{self, fact::Kind, header::Subject};
use crate::visit::{Path, Visit, Visitor};
use prost::Message as _;

/// One thing outside its bound.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Violation {
    /// Where, for example `fact.drain.volume_litres`.
    pub field: String,
    /// What is wrong: the value and the bound, without the field.
    pub what: String,
}

impl std::fmt::Display for Violation {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}: {}", self.field, self.what)
    }
}

/// Why a message was not taken.
#[derive(Debug, thiserror::Error, PartialEq, Eq)]
pub enum CheckError {
    /// The bytes are no message of this kind.
    #[error("the entry cannot be read: {0}")]
    Unreadable(String),
    /// The message is larger than allowed.
    #[error("the entry has {bytes} bytes; the greatest size is {greatest} bytes")]
    TooLarge {
        /// Its size.
        bytes: usize,
        /// The greatest size.
        greatest: usize,
    },
    /// Fields are outside their bounds.
    #[error("{}", .0.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "))]
    Outside(Vec<Violation>),
}

/// Names everything in a message that is outside the table of bounds.
#[must_use]
pub fn violations<M: Visit>(message: &M) -> Vec<Violation> {
    let mut checker = Checker { found: Vec::new() };
    message.visit(&mut Path::default(), &mut checker);
    checker.found
}

/// Decodes the sealed bytes of an entry and checks it, header and fact.
///
/// # Errors
/// When the bytes are too many, cannot be read, or hold anything outside its bound.
pub fn sealed_entry(bytes: &[u8]) -> Result<v1::Entry, CheckError> {
    if bytes.len() > limits::ENTRY_BYTES_MAX {
        return Err(CheckError::TooLarge { bytes: bytes.len(), greatest: limits::ENTRY_BYTES_MAX });
    }
    let entry = v1::Entry::decode(bytes).map_err(|error| CheckError::Unreadable(error.to_string()))?;
    self::entry(&entry)?;
    Ok(entry)
}

/// Checks an entry, header and fact.
///
/// # Errors
/// When anything is outside its bound.
pub fn entry(entry: &v1::Entry) -> Result<(), CheckError> {
    let mut found = violations(entry);
    relations(entry, &mut found);
    if found.is_empty() { Ok(()) } else { Err(CheckError::Outside(found)) }
}

/// What no single field can say: which kinds belong where, and what needs what.
fn relations(entry: &v1::Entry, found: &mut Vec<Violation>) {
    let Some(kind) = entry.fact.as_ref().and_then(|fact| fact.kind.as_ref()) else { return };
    let subject = entry.header.as_ref().and_then(|header| header.subject.as_ref());
    let mut say = |field: &str, what: &str| {
        found.push(Violation { field: field.to_owned(), what: what.to_owned() });
    };
    match subject {
        Some(Subject::JobId(_)) if is_site_kind(kind) => {
            say("header.job_id", "this kind belongs to the site, not to a job; give site_id instead");
        }
        Some(Subject::SiteId(_)) if !is_site_kind(kind) && !puts_right_the_site(kind) => {
            say("header.site_id", "this kind belongs to a job; give job_id instead");
        }
        _ => {}
    }
    if let Kind::Correction(correction) = kind {
        use v1::correction::Outcome;
        match &correction.outcome {
            Some(Outcome::Replacement(fact)) => match &fact.kind {
                Some(Kind::Correction(_)) => say(
                    "fact.correction.replacement",
                    "a correction cannot stand in a correction; name the original entry and give the right fact",
                ),
                Some(inner) if is_stated_site_kind(inner) && matches!(subject, Some(Subject::SiteId(_))) => {
                    site::relations(inner, "fact.correction.replacement.", &mut say);
                }
                Some(inner) if is_site_kind(inner) => say(
                    "fact.correction.replacement",
                    "a fact of the site is not corrected within a job; state it again instead",
                ),
                Some(inner) => kind_relations(inner, "fact.correction.replacement.", &mut say),
                None => {}
            },
            Some(Outcome::Withdrawn(false)) => {
                say("fact.correction.withdrawn", "false says nothing; leave it out or set it to true");
            }
            _ => {}
        }
    } else {
        kind_relations(kind, "fact.", &mut say);
    }
}

/// Whether a correction stands among the facts of the site: it withdraws one, or states it again.
fn puts_right_the_site(kind: &Kind) -> bool {
    use v1::correction::Outcome;
    let Kind::Correction(correction) = kind else { return false };
    match &correction.outcome {
        Some(Outcome::Replacement(fact)) => fact.kind.as_ref().is_some_and(is_site_kind),
        Some(Outcome::Withdrawn(_)) => true,
        None => false,
    }
}

fn kind_relations(kind: &Kind, at: &str, say: &mut dyn FnMut(&str, &str)) {
    match kind {
        Kind::VariantSettled(settled) => {
            if settled.means() == v1::SettledBy::LookedUp && settled.source.trim().is_empty() {
                say(
                    &format!("{at}variant_settled.source"),
                    "a looked-up variant needs the source that was looked into",
                );
            }
            if let (Some(least), Some(greatest)) =
                (settled.level_least_celsius, settled.level_greatest_celsius)
                && least >= greatest
            {
                say(
                    &format!("{at}variant_settled.level_least_celsius"),
                    &format!("{least} °C is not below level_greatest_celsius, {greatest} °C"),
                );
            }
        }
        Kind::Tightening(tightening) if tightening.new_screw_count > tightening.screw_count => {
            let (new, all) = (tightening.new_screw_count, tightening.screw_count);
            say(
                &format!("{at}tightening.new_screw_count"),
                &format!("{new} new screws are more than the {all} that were tightened"),
            );
        }
        Kind::FaultCodes(codes) => fault_codes(codes, &format!("{at}fault_codes."), say),
        Kind::ExchangeReading(reading) => {
            exchange_reading(reading, at, say);
            means::exchange_reading(reading, &format!("{at}exchange_reading."), say);
        }
        Kind::TemperatureReading(reading) => {
            means::temperature_reading(reading, &format!("{at}temperature_reading."), say);
        }
        Kind::LevelCheck(check) => level_check(check, &format!("{at}level_check."), say),
        Kind::FluidSample(sample) => sample_relations(sample, &format!("{at}fluid_sample."), say),
        kind => site::relations(kind, at, say),
    }
}

/// The level is looked at in one way; drops are counted where drops came.
fn level_check(check: &v1::LevelCheck, at: &str, say: &mut dyn FnMut(&str, &str)) {
    match (check.overflow != 0, check.dipstick != 0) {
        (false, false) => say(
            &format!("{at}overflow"),
            "is missing; say what came out of the overflow, or give dipstick with what that shows",
        ),
        (true, true) => say(
            &format!("{at}dipstick"),
            "is given instead of overflow; leave out the one that was not looked at",
        ),
        _ => {}
    }
    if check.drops_per_minute.is_some() && check.overflow != i32::from(v1::Overflow::Drops) {
        say(
            &format!("{at}drops_per_minute"),
            "are counted only where drops came; give overflow drops with them",
        );
    }
}

/// Codes and temperatures come from a control unit that could be read; the parts of a distance make all of it.
fn fault_codes(read: &v1::FaultCodes, at: &str, say: &mut dyn FnMut(&str, &str)) {
    if read.state() != v1::CodesState::Read && !read.codes.is_empty() {
        say(&format!("{at}codes"), "codes are given only with state read");
    }
    if read.temperature_shares.is_empty() {
        return;
    }
    if read.state() == v1::CodesState::NotReadable {
        say(
            &format!("{at}temperature_shares"),
            "are given only where the control unit could be read, with state none or read",
        );
    }
    let (least, greatest) = limits::SHARES_SUM_PERCENT;
    let sum: f64 = read.temperature_shares.iter().map(|share| share.percent).sum();
    if !(sum >= least && sum <= greatest) {
        say(
            &format!("{at}temperature_shares"),
            &format!(
                "the rows add up to {} % of the distance, which is outside {} to {} %; give every row that the \
                 control unit keeps",
                shown((sum * 100.0).round() / 100.0),
                shown(least),
                shown(greatest)
            ),
        );
    }
}

fn exchange_reading(reading: &v1::ExchangeReading, at: &str, say: &mut dyn FnMut(&str, &str)) {
    if reading.volume_out_litres.is_some() && reading.mass_out_kilograms.is_some() {
        say(
            &format!("{at}exchange_reading.mass_out_kilograms"),
            "give what came out in litres or in kilograms, not both",
        );
    }
    let colours = [
        ("glass_colour", &reading.glass_colour),
        ("before_colour", &reading.before_colour),
        ("fresh_colour", &reading.fresh_colour),
        ("white_colour", &reading.white_colour),
    ];
    if colours.iter().any(|(_, colour)| !colour.is_empty()) {
        for (field, _) in colours.iter().filter(|(_, colour)| colour.is_empty()) {
            say(
                &format!("{at}exchange_reading.{field}"),
                "is missing; a photo gives all four colours: glass, before, fresh and white",
            );
        }
    }
    if !matches!(reading.photo_digest.len(), 0 | 64) {
        say(
            &format!("{at}exchange_reading.photo_digest"),
            "has not 64 hexadecimal digits; give the SHA-256 of the photo as its own entry names it",
        );
    }
    match (reading.instrument_new_percent, reading.instrument_uncertainty_percent) {
        (Some(_), None) => say(
            &format!("{at}exchange_reading.instrument_uncertainty_percent"),
            "is missing; give the standard uncertainty of the instrument with its reading",
        ),
        (None, Some(_)) => say(
            &format!("{at}exchange_reading.instrument_new_percent"),
            "is missing; an uncertainty alone says nothing",
        ),
        _ => {}
    }
}

/// A laboratory's figure needs its report, a viscosity its temperature, a white sheet the fluid beside it.
fn sample_relations(sample: &v1::FluidSample, at: &str, say: &mut dyn FnMut(&str, &str)) {
    let figures = [
        sample.viscosity_40_square_millimetres_per_second,
        sample.viscosity_100_square_millimetres_per_second,
        sample.viscosity_square_millimetres_per_second,
        sample.acid_number_milligrams_per_gram,
        sample.water_milligrams_per_kilogram,
        sample.particles_4_per_millilitre,
        sample.particles_6_per_millilitre,
        sample.particles_14_per_millilitre,
    ];
    let measured = figures.iter().any(Option::is_some) || sample.crackle != 0;
    if measured && sample.laboratory_report.trim().is_empty() {
        say(
            &format!("{at}laboratory_report"),
            "is missing; a laboratory's figure needs the number of its report, 1 to 40 characters",
        );
    }
    let (viscosity, celsius) =
        (sample.viscosity_square_millimetres_per_second, sample.viscosity_temperature_celsius);
    if viscosity.is_some() != celsius.is_some() {
        let missing = if viscosity.is_some() {
            "viscosity_temperature_celsius"
        } else {
            "viscosity_square_millimetres_per_second"
        };
        say(&format!("{at}{missing}"), "is missing; a viscosity and its temperature are given together");
    }
    let (at_40, at_100) = (
        sample.viscosity_40_square_millimetres_per_second,
        sample.viscosity_100_square_millimetres_per_second,
    );
    if at_40.zip(at_100).is_some_and(|(cold, warm)| warm >= cold) {
        say(
            &format!("{at}viscosity_100_square_millimetres_per_second"),
            "is not below the viscosity at 40 °C; every oil is thinner when warm: read both again",
        );
    }
    if (celsius == Some(40.0) && at_40.is_some()) || (celsius == Some(100.0) && at_100.is_some()) {
        say(
            &format!("{at}viscosity_temperature_celsius"),
            "is 40 or 100 °C, for which a viscosity is given already; give it once",
        );
    }
    if sample.same_light != 0 && sample.sample_colour.is_empty() {
        say(&format!("{at}sample_colour"), "is missing; the same light is said of a photo's colour");
    }
    if !sample.white_colour.is_empty() && sample.sample_colour.is_empty() {
        say(
            &format!("{at}sample_colour"),
            "is missing; a white sheet says nothing without the fluid beside it",
        );
    }
}

struct Checker {
    found: Vec<Violation>,
}

impl Checker {
    fn say(&mut self, at: &Path, what: String) {
        self.found.push(Violation { field: at.to_string(), what });
    }

    fn bound(&mut self, at: &Path, message: &str, field: &str) -> Option<&'static Bound> {
        let bound = limits::bound(message, field);
        if bound.is_none() {
            self.say(at, format!("{message}.{field} has no bound in this version and is not taken"));
        }
        bound
    }

    fn mismatch(&mut self, at: &Path, bound: &Bound) {
        self.say(
            at,
            format!(
                "{}.{} has a bound of another type in this version and is not taken",
                bound.message, bound.field
            ),
        );
    }
}

/// A number for a sentence: without an exponent as long as it is short.
fn shown(value: f64) -> String {
    if value == 0.0 || (1e-6..1e15).contains(&value.abs()) {
        format!("{value}")
    } else {
        format!("{value:e}")
    }
}

fn unit_of(unit: &str) -> String {
    if unit.is_empty() { String::new() } else { format!(" {unit}") }
}

impl Visitor for Checker {
    fn number(&mut self, at: &Path, message: &'static str, field: &'static str, value: f64) {
        let Some(bound) = self.bound(at, message, field) else { return };
        let Span::Number { least, greatest, unit } = bound.span else { return self.mismatch(at, bound) };
        if !(value >= least && value <= greatest) {
            let what = format!(
                "{} is outside {} to {} {unit} ({})",
                shown(value),
                shown(least),
                shown(greatest),
                bound.why
            );
            self.say(at, what);
        }
    }

    fn whole(&mut self, at: &Path, message: &'static str, field: &'static str, value: i64) {
        let Some(bound) = self.bound(at, message, field) else { return };
        let Span::Whole { least, greatest, unit } = bound.span else { return self.mismatch(at, bound) };
        if !(least..=greatest).contains(&value) {
            self.say(
                at,
                format!("{value} is outside {least} to {greatest}{} ({})", unit_of(unit), bound.why),
            );
        }
    }

    fn flag(&mut self, at: &Path, message: &'static str, field: &'static str, _value: bool) {
        let Some(bound) = self.bound(at, message, field) else { return };
        if bound.span != Span::Flag {
            self.mismatch(at, bound);
        }
    }

    fn text(&mut self, at: &Path, message: &'static str, field: &'static str, value: &str) {
        let Some(bound) = self.bound(at, message, field) else { return };
        let Span::Text { least, greatest, form } = bound.span else { return self.mismatch(at, bound) };
        let length = value.chars().count();
        if length == 0 {
            if least > 0 {
                self.say(
                    at,
                    format!("is missing; {least} to {greatest} characters are needed ({})", bound.why),
                );
            }
        } else if !(least..=greatest).contains(&length) {
            let range = if least == greatest { format!("{least}") } else { format!("{least} to {greatest}") };
            self.say(at, format!("has {length} characters; {range} are allowed ({})", bound.why));
        } else if let Some(wrong) = form.wrong(value) {
            self.say(at, wrong);
        }
    }

    fn bytes(&mut self, at: &Path, message: &'static str, field: &'static str, length: usize) {
        let Some(bound) = self.bound(at, message, field) else { return };
        let Span::Bytes { greatest } = bound.span else { return self.mismatch(at, bound) };
        if length > greatest {
            self.say(
                at,
                format!("has {length} bytes; the greatest size is {greatest} bytes ({})", bound.why),
            );
        }
    }

    fn choice(&mut self, at: &Path, message: &'static str, field: &'static str, value: i32, known: bool) {
        let Some(bound) = self.bound(at, message, field) else { return };
        let Span::Choice { needed } = bound.span else { return self.mismatch(at, bound) };
        if !known {
            self.say(at, format!("the choice {value} is not known in this version ({})", bound.why));
        } else if needed && value == 0 {
            self.say(at, format!("is missing ({})", bound.why));
        }
    }

    fn time(&mut self, at: &Path, message: &'static str, field: &'static str, seconds: i64, nanos: i32) {
        let Some(bound) = self.bound(at, message, field) else { return };
        let (first, last) = match bound.span {
            Span::Time { .. } => limits::TIME_SECONDS,
            Span::Moment { .. } => limits::MOMENT_SECONDS,
            _ => return self.mismatch(at, bound),
        };
        if !(first..=last).contains(&seconds) || !(0..1_000_000_000).contains(&nanos) {
            self.say(at, format!("{seconds} s and {nanos} ns since 1970 is outside {}", bound.why));
        }
    }

    fn part(&mut self, at: &Path, message: &'static str, field: &'static str) {
        let Some(bound) = self.bound(at, message, field) else { return };
        if !matches!(bound.span, Span::Part { .. }) {
            self.mismatch(at, bound);
        }
    }

    fn count(&mut self, at: &Path, message: &'static str, field: &'static str, items: usize) {
        let Some(bound) = self.bound(at, message, field) else { return };
        if items > bound.items {
            self.found.push(Violation {
                field: joined(at, field),
                what: format!("has {items} items; at most {} are allowed ({})", bound.items, bound.why),
            });
        }
    }

    fn absent(&mut self, at: &Path, message: &'static str, field: &'static str) {
        let Some(bound) = self.bound(at, message, field) else { return };
        let needed = match bound.span {
            Span::Time { needed }
            | Span::Moment { needed }
            | Span::Part { needed }
            | Span::OneOf { needed } => needed,
            _ => false,
        };
        if needed {
            self.found
                .push(Violation { field: joined(at, field), what: format!("is missing ({})", bound.why) });
        }
    }
}

fn joined(at: &Path, field: &str) -> String {
    let at = at.to_string();
    if at.is_empty() { field.to_owned() } else { format!("{at}.{field}") }
}

impl Form {
    /// What is wrong with a text of this form, or nothing.
    fn wrong(self, value: &str) -> Option<String> {
        if self == Form::Words && value.trim().is_empty() {
            return Some("holds nothing but spaces".to_owned());
        }
        let allowed: (fn(char) -> bool, &str) = match self {
            Form::Words => (|c| !c.is_control() && !is_direction_mark(c), "printable characters"),
            Form::Uuid | Form::UuidV7 => return wrong_uuid(value, self == Form::UuidV7),
            Form::Hex => (|c| matches!(c, '0'..='9' | 'a'..='f'), "the digits 0 to 9 and a to f"),
            Form::Code => (
                |c| c.is_ascii_alphanumeric() || matches!(c, '.' | '_' | '/' | '+' | '-' | ' '),
                "letters A to Z, digits, space and . _ / + -",
            ),
            Form::LettersAndDigits => (|c| c.is_ascii_alphanumeric(), "letters A to Z and digits"),
            Form::Name => {
                (|c| matches!(c, 'a'..='z' | '0'..='9' | '.' | '_' | '-'), "letters a to z, digits and . _ -")
            }
            Form::Vin => (
                |c| matches!(c, 'A'..='Z' | '0'..='9') && !matches!(c, 'I' | 'O' | 'Q'),
                "capital letters without I, O, Q, and digits (ISO 3779)",
            ),
            Form::Day => return wrong_day(value),
            Form::Colour => return wrong_colour(value),
        };
        let wrong = value.chars().find(|c| !(allowed.0)(*c))?;
        Some(format!("the character {} is not allowed; allowed are {}", named(wrong), allowed.1))
    }
}

/// Marks that turn the direction of writing and could make a text read as another one.
fn is_direction_mark(c: char) -> bool {
    matches!(c, '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}' | '\u{200E}' | '\u{200F}' | '\u{2028}' | '\u{2029}')
}

fn named(c: char) -> String {
    if c.is_control() || is_direction_mark(c) || !c.is_ascii() {
        format!("U+{:04X}", u32::from(c))
    } else {
        format!("'{c}'")
    }
}

fn wrong_uuid(value: &str, version_7: bool) -> Option<String> {
    let mut letters = value.chars().enumerate();
    let fits = letters.all(|(place, c)| match place {
        8 | 13 | 18 | 23 => c == '-',
        14 if version_7 => c == '7',
        19 => matches!(c, '8' | '9' | 'a' | 'b'),
        _ => matches!(c, '0'..='9' | 'a'..='f'),
    });
    let version = if version_7 { " of version 7" } else { "" };
    (!fits).then(|| format!("is no UUID{version} in its lower-case text form (RFC 9562)"))
}

fn wrong_colour(value: &str) -> Option<String> {
    let digits = value.strip_prefix('#').filter(|digits| digits.len() == 6);
    let fits = digits.is_some_and(|digits| digits.bytes().all(|digit| digit.is_ascii_hexdigit()));
    (!fits).then(|| "is no colour written as #rrggbb, such as #a0522d (IEC 61966-2-1)".to_owned())
}

fn wrong_day(value: &str) -> Option<String> {
    let part =
        |range: std::ops::Range<usize>| value.get(range).filter(|t| t.bytes().all(|b| b.is_ascii_digit()));
    let month_length = |year: u32, month: u32| match month {
        1 | 3 | 5 | 7 | 8 | 10 | 12 => 31,
        4 | 6 | 9 | 11 => 30,
        2 if year.is_multiple_of(4) && (!year.is_multiple_of(100) || year.is_multiple_of(400)) => 29,
        2 => 28,
        _ => 0,
    };
    let fits = || {
        let (year, month, day) = (part(0..4)?, part(5..7)?, part(8..10)?);
        let (year, month, day) = (year.parse().ok()?, month.parse().ok()?, day.parse::<u32>().ok()?);
        let dashes = value.get(4..5)? == "-" && value.get(7..8)? == "-" && value.len() == 10;
        (dashes && day >= 1 && day <= month_length(year, month)).then_some(())
    };
    fits().is_none().then(|| format!("{value} is no day written as YYYY-MM-DD (ISO 8601)"))
}

#[cfg(test)]
mod tests;
