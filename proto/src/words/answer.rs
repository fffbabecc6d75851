//! The answer to one field of a step, as it was typed or chosen, and the fact that all answers of a step make: at a
//! terminal and on the page alike. Never here: what is asked, which comes from the shop server's table of steps.

use super::WordsError;
use super::descriptor::{KindWords, Words};
use super::{ReadFact, reading};
use crate::check::{self, CheckError};
use crate::limits::TIME_SECONDS;
use crate::typed::Quantity;
use crate::v1::{Entry, Fact, Header, Step, StepField, StepInput, header::Subject};
use prost_reflect::{DynamicMessage, FieldDescriptor, Kind, Value};

/// One answered field.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Answer {
    /// The field that it states.
    pub field: String,
    /// Its text, with its unit.
    pub text: String,
    /// What was understood.
    pub understood: String,
}

/// Fields that mean something only beside another answer of their step (entry.proto says so): kind, field, the other
/// field and its word, and whether the field is then needed.
pub const ONLY_WITH: &[(&str, &str, &str, &str, bool)] = &[
    ("fault_codes", "codes", "state", "read", true),
    ("variant_settled", "source", "means", "looked-up", true),
    ("variant_settled", "fluid_code", "means", "looked-up", false),
    ("variant_settled", "total_fill_litres", "means", "looked-up", false),
    ("variant_settled", "level_least_celsius", "means", "looked-up", false),
    ("variant_settled", "level_greatest_celsius", "means", "looked-up", false),
    ("exchange_reading", "volume_out_litres", "last", "yes", false),
];

/// Words of a list that stand alone, since they deny all others: kind, field and word.
pub const ALONE: &[(&str, &str, &str)] = &[("road_test", "ticks", "normal")];

/// What a fact has to say to answer its step, as the shop server sees it too: kind, field and word. A line whose
/// direction is not tested, somebody under the vehicle, an old seal or a leak is asked again.
pub const MUST_SAY: &[(&str, &str, &str)] = &[
    ("hookup", "direction_tested", "yes"),
    ("gear_cycle", "nobody_under_vehicle", "yes"),
    ("plug_closed", "seal_new", "yes"),
    ("leak_check", "found", "dry"),
    ("leak_check", "line_closed", "yes"),
];

/// Why a step is left out: the word of the flags, and how a terminal says it. A page says the same in its language.
pub const SKIP_REASONS: [(&str, &str); 5] = [
    ("not-possible", "it was not possible"),
    ("not-ordered", "it was not ordered"),
    ("not-safe", "it was not safe"),
    ("tool-missing", "the tool or instrument is missing"),
    ("later", "it will be done later"),
];
/// Why an entry is put right, in the same way; printed on the record.
pub const CORRECTION_REASONS: [(&str, &str); 3] =
    [("typed", "typed wrongly"), ("read", "read wrongly"), ("looked", "looked again and saw something else")];
/// Why a job is stopped, in the same way, and what the customer is told about; printed on the record.
pub const STOP_REASONS: [(&str, &str, &str); 6] = [
    ("fault", "a fault that a fluid service does not repair", "fault-codes"),
    (
        "inside",
        "what was seen in the fluid, the pan or the drive says: look inside first",
        "look-inside-first",
    ),
    ("leak", "a leak", "leak"),
    ("declined", "the customer does not want it", "no-exchange"),
    ("missing", "the right fluid or part is not here", "no-exchange"),
    ("unsafe", "it is not safe to go on", "no-exchange"),
];
/// What the customer says of it, in the same way, and the word that is stated; the last one states nothing.
pub const CUSTOMER_SAID: [(&str, &str, &str); 4] = [
    ("informed", "was informed", "informed"),
    ("agrees", "agrees", "agrees"),
    ("declines", "declines what we advise", "declines"),
    ("not-asked", "could not be asked yet", ""),
];

/// On which answer a field depends: the other field, its word, and whether the field is then needed.
#[must_use]
pub fn depends(kind: &str, field: &str) -> Option<(&'static str, &'static str, bool)> {
    let row = ONLY_WITH.iter().find(|(of, name, ..)| *of == kind && *name == field)?;
    Some((row.2, row.3, row.4))
}

/// The word of a list that denies every other.
#[must_use]
pub fn alone(kind: &str, field: &str) -> Option<&'static str> {
    ALONE.iter().find(|(of, name, _)| *of == kind && *name == field).map(|(.., word)| *word)
}

/// Reads what was typed or chosen for a field of a step, and checks it against the table of bounds.
///
/// # Errors
/// When the kind or field is not known, or the text cannot be taken.
pub fn read(kind: &str, field: &StepField, text: &str) -> Result<Answer, WordsError> {
    let words = Words::get()?;
    let known = words.kind(kind).ok_or_else(|| unknown(kind, &field.name))?;
    let text = with_unit(field, text)?;
    if let Some(own) = known.message.get_field_by_name(&field.name) {
        return one(words, known, &own, &text);
    }
    let oneof = known.message.oneofs().find(|oneof| oneof.name() == field.name);
    let arms: Vec<_> = oneof.ok_or_else(|| unknown(kind, &field.name))?.fields().collect();
    let mut refused = None;
    for arm in arms.iter().filter(|arm| Quantity::of_field(arm.name()).is_some()) {
        match one(words, known, arm, &text) {
            // A unit of another quantity belongs to another field of the same choice.
            Err(error @ WordsError::Typed { .. }) => refused = refused.or(Some(error)),
            answered => return answered,
        }
    }
    Err(refused.unwrap_or_else(|| unknown(kind, &field.name)))
}

/// The fact that the preset fields and the answers of a step make, checked.
///
/// # Errors
/// As [`stated`].
pub fn fact<'a>(step: &Step, answers: impl Iterator<Item = &'a Answer>) -> Result<ReadFact, WordsError> {
    let answers: Vec<(&str, &str)> =
        answers.map(|answer| (answer.field.as_str(), answer.text.as_str())).collect();
    let preset = step.preset.iter().map(|preset| (preset.name.as_str(), preset.value.as_str()));
    // What is answered takes the place of what was known.
    let preset = preset.filter(|(name, _)| answers.iter().all(|(answered, _)| answered != name));
    stated(&step.kind, &preset.chain(answers.iter().copied()).collect::<Vec<_>>())
}

/// The fact that fields of a kind make, each with its text as it was typed or chosen, checked. A field is named as in
/// the messages, or by the choice (`oneof`) that it is one of; several in a list are separated by commas, and one with an
/// empty text is not stated.
///
/// # Errors
/// When the kind or a field is not known, a field is stated twice or beside one that it excludes, a text cannot be read,
/// or the fact is outside its bounds.
///
/// ```
/// let read = standpipe_proto::words::answer::stated("drain", &[("place", "pan"), ("amount", "3,05 kg")])?;
/// assert_eq!(read.as_typed[0].text, "3,05 kg");
/// # Ok::<(), standpipe_proto::words::WordsError>(())
/// ```
pub fn stated(kind: &str, fields: &[(&str, &str)]) -> Result<ReadFact, WordsError> {
    let words = Words::get()?;
    let known = words.kind(kind).ok_or_else(|| unknown(kind, "kind"))?;
    let fields = fields.iter().filter(|(_, text)| !text.trim().is_empty());
    let fields = fields.map(|(name, text)| Ok((field_of(known, name, text)?, *text)));
    let fields = fields.collect::<Result<Vec<_>, WordsError>>()?;
    for (at, (field, _)) in fields.iter().enumerate() {
        let before = fields.get(..at).unwrap_or_default();
        let same = |other: &FieldDescriptor| {
            let alone = |one: &FieldDescriptor| one.containing_oneof().filter(|one| !one.is_synthetic());
            other == field || (alone(other).is_some() && alone(other) == alone(field))
        };
        if let Some((other, _)) = before.iter().find(|(other, _)| same(other)) {
            let (one, other) = (field.name().replace('_', " "), other.name().replace('_', " "));
            return Err(WordsError::Usage(format!(
                "{one}: {other} is stated already, and only one of both can be; answer it once"
            )));
        }
    }
    let read = words.fact(
        known,
        reading::read_said(&known.message, &reading::FLAGS, "", |field, as_is| {
            let said = fields.iter().find(|(own, _)| own == field).map(|(_, text)| *text);
            match (as_is, said) {
                (reading::Reading::Yes, Some("yes")) => reading::Said::Texts(vec![String::new()]),
                (reading::Reading::Yes, _) | (_, None) => reading::Said::Nothing,
                (_, Some(text)) if field.is_list() => {
                    reading::Said::Texts(text.split(',').map(|part| part.trim().to_owned()).collect())
                }
                (_, Some(text)) => reading::Said::Texts(vec![text.to_owned()]),
            }
        })?,
    )?;
    match check::entry(&judged(read.fact.clone())) {
        Ok(()) => Ok(read),
        Err(CheckError::Outside(mut found)) => {
            for violation in &mut found {
                violation.field = violation.field.rsplit('.').next().unwrap_or_default().replace('_', " ");
            }
            Err(CheckError::Outside(found).into())
        }
        Err(error) => Err(error.into()),
    }
}

/// The field of a name; of a choice the one that can be read from the text.
fn field_of(kind: &KindWords, name: &str, text: &str) -> Result<FieldDescriptor, WordsError> {
    if let Some(own) = kind.message.get_field_by_name(name) {
        if own.kind() == Kind::Bool && !matches!(text, "yes" | "no") {
            let name = name.replace('_', " ");
            return Err(WordsError::Usage(format!(
                "{name}: '{text}' is neither yes nor no; answer one of them"
            )));
        }
        return Ok(own);
    }
    let oneof = kind.message.oneofs().find(|oneof| oneof.name() == name && !oneof.is_synthetic());
    let arms: Vec<_> = oneof.ok_or_else(|| unknown(kind.name(), name))?.fields().collect();
    let mut refused = None;
    for arm in arms {
        match reading::read_text(&arm, text) {
            Ok(_) => return Ok(arm),
            // The first says what could be written.
            Err(error) => refused = refused.or(Some(error)),
        }
    }
    Err(refused.unwrap_or_else(|| unknown(kind.name(), name)))
}

/// True when a fact answers a step: the same kind, and the fields that the step itself knows.
///
/// # Errors
/// When the messages of this program do not know what the step names.
pub fn answers(fact: &Fact, step: &Step) -> Result<bool, WordsError> {
    let words = Words::get()?;
    if words.kind_of(fact)? != step.kind {
        return Ok(false);
    }
    let Some(kind) = words.kind(&step.kind) else { return Ok(false) };
    let stated = words.message_of(kind, fact)?;
    for preset in &step.preset {
        let Some(field) = kind.message.get_field_by_name(&preset.name) else { return Ok(false) };
        if stated.get_field(&field).as_ref() != &value(&field, &preset.value)? {
            return Ok(false);
        }
    }
    Ok(true)
}

/// True when a fact that answers a step says what lets the work go on.
///
/// # Errors
/// When the messages of this program do not know what the step names.
pub fn suffices(fact: &Fact, step: &Step) -> Result<bool, WordsError> {
    let words = Words::get()?;
    let Some(kind) = words.kind(&step.kind) else { return Ok(false) };
    let stated = words.message_of(kind, fact)?;
    for (_, name, word) in MUST_SAY.iter().filter(|(of, ..)| *of == step.kind) {
        let field = kind.message.get_field_by_name(name).ok_or_else(|| unknown(&step.kind, name))?;
        if stated.get_field(&field).as_ref() != &value(&field, word)? {
            return Ok(false);
        }
    }
    Ok(true)
}

/// Whether a fact says of itself that it is the last of its kind; nothing where its kind never does.
///
/// # Errors
/// When the messages of this program do not know what the step names.
pub fn is_last(fact: &Fact, step: &Step) -> Result<Option<bool>, WordsError> {
    let words = Words::get()?;
    let Some(kind) = words.kind(&step.kind) else { return Ok(None) };
    let Some(last) = kind.message.get_field_by_name("last") else { return Ok(None) };
    Ok(words.message_of(kind, fact)?.get_field(&last).as_bool())
}

/// A fact under a header inside its bounds, so that only the fact is judged. It is never kept.
fn judged(fact: Fact) -> Entry {
    let subject = match fact.kind.as_ref().is_some_and(check::is_stated_site_kind) {
        true => Subject::SiteId("site".to_owned()),
        false => Subject::JobId("01890a5d-ac96-774b-bcce-b302099a8057".to_owned()),
    };
    let header = Header {
        entry_id: "01890a5d-ac96-774b-bcce-b302099a8057".to_owned(),
        subject: Some(subject),
        station_id: "bay".to_owned(),
        station_epoch: "0".repeat(32),
        station_number: 1,
        person_code: "A".to_owned(),
        station_time: Some(prost_types::Timestamp { seconds: TIME_SECONDS.0, nanos: 0 }),
        boot_id: "0".repeat(32),
        ..Header::default()
    };
    Entry { header: Some(header), fact: Some(fact) }
}

fn one(words: &Words, kind: &KindWords, field: &FieldDescriptor, text: &str) -> Result<Answer, WordsError> {
    if field.kind() == Kind::Bool {
        return Ok(answered(field, text, text.to_owned()));
    }
    let parts: Vec<&str> = if field.is_list() { text.split(',').collect() } else { vec![text] };
    let mut understood = Vec::new();
    for part in parts {
        understood.push(reading::read_text(field, part.trim())?.1);
    }
    let mut message = DynamicMessage::new(kind.message.clone());
    message.try_set_field(field, value(field, text)?).map_err(damaged)?;
    let mut found = check::violations(&words.fact_of(kind, message)?);
    // Only this field is there yet: what the others lack is no matter now.
    found.retain(|violation| {
        let name = violation.field.rsplit('.').next().unwrap_or_default();
        name.split('[').next() == Some(field.name())
    });
    for violation in &mut found {
        violation.field = field.name().replace('_', " ");
    }
    if !found.is_empty() {
        return Err(CheckError::Outside(found).into());
    }
    Ok(answered(field, text, understood.join(", ")))
}

fn value(field: &FieldDescriptor, text: &str) -> Result<Value, WordsError> {
    if field.kind() == Kind::Bool {
        return Ok(Value::Bool(text == "yes"));
    }
    if !field.is_list() {
        return Ok(reading::read_text(field, text)?.0);
    }
    let parts = text.split(',').map(|part| reading::read_text(field, part.trim()).map(|read| read.0));
    Ok(Value::List(parts.collect::<Result<_, _>>()?))
}

fn answered(field: &FieldDescriptor, text: &str, understood: String) -> Answer {
    Answer { field: field.name().to_owned(), text: text.to_owned(), understood }
}

/// A number with its unit. Where only one is possible it need not be typed; between two, nothing is guessed.
fn with_unit(field: &StepField, text: &str) -> Result<String, WordsError> {
    let text = text.trim();
    // One letter is enough where it begins only one of the units.
    let letters = text.trim_start_matches(|sign: char| !sign.is_alphabetic());
    let begun =
        |unit: &&String| !letters.is_empty() && unit.to_lowercase().starts_with(&letters.to_lowercase());
    if let [unit] = field.units.iter().filter(begun).collect::<Vec<_>>().as_slice() {
        let number = text.strip_suffix(letters).unwrap_or(text).trim_end();
        return Ok(format!("{number} {unit}"));
    }
    let has_unit = text.chars().any(|letter| letter.is_alphabetic() || matches!(letter, '°' | '%' | '·'));
    if field.input() != StepInput::Quantity || has_unit {
        return Ok(text.to_owned());
    }
    match field.units.as_slice() {
        [] => Ok(text.to_owned()),
        [unit] => Ok(format!("{text} {unit}")),
        units => {
            let examples = units.iter().filter_map(|unit| unit.to_lowercase().chars().next());
            let examples: Vec<String> = examples.map(|letter| format!("{text}{letter}")).collect();
            Err(WordsError::Usage(format!(
                "'{text}' has no unit, and it is not guessed: say {}, for example {}",
                units.join(" or "),
                examples.join(" or ")
            )))
        }
    }
}

fn unknown(kind: &str, field: &str) -> WordsError {
    WordsError::Unknown { kind: kind.to_owned(), field: field.to_owned() }
}

fn damaged(error: impl std::fmt::Display) -> WordsError {
    WordsError::Descriptor(error.to_string())
}
