//! How the text of each field of a kind of fact is read: names, choices, units and rows, made from its message and the
//! table of bounds.
//!
//! A number's name leaves out the unit at the end of the field's name (`volume_litres` is `volume`), a choice is a word
//! without the prefix of its enum (`drops`), a row of numbers is one text (`90°C 50%`). Never here: a command line.

use super::WordsError;
use super::row::Row;
use super::{Understood, kebab, vin};
use crate::limits::{self, Bound, Form, Span};
use crate::typed::{self, Quantity};
use crate::v1::AsTyped;
use prost_reflect::{DynamicMessage, EnumDescriptor, FieldDescriptor, Kind, MessageDescriptor, Value};

/// How the flags of one command are named.
#[derive(Debug)]
pub struct Naming {
    /// Fields with a name of their own.
    pub renamed: &'static [(&'static str, &'static str)],
    /// The field that stands first, without a flag.
    pub positional: Option<&'static str>,
    /// True where the flags state a whole fact; else what they leave out stays as it was, and an empty text or
    /// `--no-FLAG` clears it.
    pub whole: bool,
}

/// Fields of which each flag states one row, and fields that differ only in their unit or in having one.
const RENAMED: &[(&str, &str)] = &[
    ("temperature_shares", "temperature-share"),
    ("torques", "torque"),
    ("screws", "screw"),
    ("held_litres", "held-volume"),
    ("reference_litres", "reference-volume"),
    ("reference_kilograms", "reference-mass"),
];
/// Fields that an example shows although a fact can do without them: its first choices need them.
const EXAMPLES: &[(&str, &str)] =
    &[("ToolChecked", "torques"), ("EquipmentContents", "fluid_code"), ("LevelCheck", "overflow")];

/// Values of an example that the bounds alone do not tell.
const TOLD: [(&str, &str, &str); 2] = [
    ("Decision", "point", "tool-due"),
    ("Decision", "reason", "checked against the second wrench this morning"),
];

/// Names as the fields have them.
pub const FLAGS: Naming = Naming { renamed: RENAMED, positional: None, whole: true };
/// Names of `standpipe open`, which states an arrival.
pub const OPEN: Naming = Naming {
    renamed: &[("reasons", "reason"), ("vehicle_maker", "maker"), ("vehicle_model", "model")],
    positional: Some("plate"),
    whole: true,
};

/// Names after `standpipe correct`, whose own reason comes beside that of the fact.
pub const CORRECT: Naming = Naming { renamed: RENAMED, positional: None, whole: false };

/// What was read for the fields of a kind.
#[derive(Debug)]
pub struct ReadFlags {
    /// The message of the kind.
    pub message: DynamicMessage,
    /// Numbers as they were typed.
    pub as_typed: Vec<AsTyped>,
    /// What was understood, field by field.
    pub understood: Vec<Understood>,
    /// Fields that are no longer stated.
    pub cleared: Vec<String>,
}

/// How the text of a field is read.
#[derive(Debug, Clone)]
pub enum Reading {
    /// A number with the unit of a quantity.
    Quantity(Quantity),
    /// A whole number with the unit of a quantity.
    Whole(Quantity),
    /// A whole number without a unit.
    Count,
    /// One of these words.
    Choice(EnumDescriptor),
    /// Yes by being there.
    Yes,
    /// A vehicle identification number, or the end of one, of so many characters.
    Vin(usize),
    /// Several numbers in one text.
    Row(Row),
    /// Any text within its bound.
    Text,
}

/// What is said of one field.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Said {
    /// Nothing: it stays as it is.
    Nothing,
    /// It is no longer stated.
    Cleared,
    /// Texts; one, except of a list. Of a yes the text is empty.
    Texts(Vec<String>),
}

/// Reads what is said of each field of a message; errors name a field as its flag with the prefix.
///
/// # Errors
/// When a text cannot be read.
pub fn read_said(
    message: &MessageDescriptor,
    naming: &Naming,
    prefix: &str,
    mut say: impl FnMut(&FieldDescriptor, &Reading) -> Said,
) -> Result<ReadFlags, WordsError> {
    let mut read = ReadFlags {
        message: DynamicMessage::new(message.clone()),
        as_typed: Vec::new(),
        understood: Vec::new(),
        cleared: Vec::new(),
    };
    for field in message.fields() {
        let reading = Reading::of(&field)?;
        let flag = flag_name(&field, naming);
        let texts = match say(&field, &reading) {
            Said::Nothing => continue,
            Said::Cleared => {
                read.cleared.push(field.name().to_owned());
                read.understood.push(Understood { flag, text: "taken back".to_owned() });
                continue;
            }
            Said::Texts(texts) => texts,
        };
        let mut values = Vec::new();
        for text in &texts {
            let (value, understood) = reading.read(&format!("{prefix}{flag}"), text)?;
            if reading.keeps_text() {
                let text = text.trim().to_owned();
                read.as_typed.push(AsTyped { field: field.name().to_owned(), text });
            }
            values.push(value);
            read.understood.push(Understood { flag: flag.clone(), text: understood });
        }
        let value = match (field.is_list(), values.pop()) {
            (false, Some(value)) => value,
            (true, Some(last)) => {
                values.push(last);
                Value::List(values)
            }
            (_, None) => continue,
        };
        read.message
            .try_set_field(&field, value)
            .map_err(|error| WordsError::Descriptor(error.to_string()))?;
    }
    Ok(read)
}

/// What a field of a message says, as [`read_said`] would tell it; `typed` is its text as it was typed, where that is kept.
///
/// # Errors
/// When the messages of this program have no bound for it.
pub fn told(
    field: &FieldDescriptor,
    value: &Value,
    typed: Option<&str>,
    naming: &Naming,
) -> Result<String, WordsError> {
    let reading = Reading::of(field)?;
    let text = match typed {
        Some(typed) => typed.to_owned(),
        None => {
            let values = value.as_list().unwrap_or(std::slice::from_ref(value));
            values.iter().map(|value| reading.told(value)).collect::<Vec<_>>().join(", ")
        }
    };
    Ok(Understood { flag: flag_name(field, naming), text }.to_string())
}

/// The flag of a field of a kind's message as it is typed, for example `--volume`.
#[must_use]
pub fn flag_of(message: &MessageDescriptor, field: &str, naming: &Naming) -> Option<String> {
    let field = message.get_field_by_name(field)?;
    let flag = flag_name(&field, naming);
    Some(if naming.positional == Some(field.name()) { flag.to_uppercase() } else { format!("--{flag}") })
}

/// Reads the text of one field: its value, and what was understood.
///
/// # Errors
/// When it cannot be read.
pub fn read_text(field: &FieldDescriptor, text: &str) -> Result<(Value, String), WordsError> {
    Reading::of(field)?.read(&kebab(field.name()).replace('-', " "), text)
}

/// Flags that make a whole fact, as an example for the help.
///
/// # Errors
/// When the messages of this program have no bound for a field.
pub fn example(message: &MessageDescriptor, naming: &Naming) -> Result<String, WordsError> {
    let mut words = Vec::new();
    for field in message.fields() {
        let oneof = field.containing_oneof().filter(|oneof| !oneof.is_synthetic());
        let first_arm = match oneof {
            Some(oneof) if oneof.fields().next().is_some_and(|first| first == field) => {
                bound(message.name(), oneof.name())?.span == Span::OneOf { needed: true }
            }
            _ => false,
        };
        let shown = EXAMPLES.contains(&(message.name(), field.name()));
        if !first_arm && !shown && !is_needed(&field)? {
            continue;
        }
        let told = TOLD.iter().find(|(of, name, _)| (*of, *name) == (message.name(), field.name()));
        let value = match told {
            Some((_, _, value)) => (*value).to_owned(),
            None => Reading::of(&field)?.example(bound(message.name(), field.name())?),
        };
        let value = if value.contains(' ') { format!("'{value}'") } else { value };
        if naming.positional == Some(field.name()) {
            words.insert(0, value);
        } else {
            words.push(format!("--{} {value}", flag_name(&field, naming)));
        }
    }
    Ok(words.join(" "))
}

/// The bound of a field.
///
/// # Errors
/// When there is none, which a test excludes.
pub fn bound(message: &str, field: &str) -> Result<&'static Bound, WordsError> {
    limits::bound(message, field)
        .ok_or_else(|| WordsError::Descriptor(format!("{message}.{field} has no bound")))
}

/// Name of a field's flag, without its hyphens.
#[must_use]
pub fn flag_name(field: &FieldDescriptor, naming: &Naming) -> String {
    // The reason of the correction itself has this name.
    if !naming.whole && field.name() == "reason" {
        return "its-reason".to_owned();
    }
    if let Some((_, name)) = naming.renamed.iter().find(|(renamed, _)| *renamed == field.name()) {
        return (*name).to_owned();
    }
    let unit = Quantity::of_field(field.name()).map_or("", Quantity::field_end);
    kebab(field.name().strip_suffix(unit).unwrap_or(field.name()))
}

/// Whether a fact cannot do without the field by itself; a field of a `oneof` is needed only as one of them.
///
/// # Errors
/// When it has no bound.
pub fn is_needed(field: &FieldDescriptor) -> Result<bool, WordsError> {
    if field.containing_oneof().is_some() || field.is_list() {
        return Ok(false);
    }
    Ok(match bound(field.parent_message().name(), field.name())?.span {
        Span::Number { .. } | Span::Whole { .. } => true,
        Span::Text { least, .. } => least > 0,
        Span::Choice { needed } => needed,
        _ => false,
    })
}

/// `OVERFLOW_NOTHING` of the enum `Overflow` is `nothing`.
#[must_use]
pub fn choice_word(choices: &EnumDescriptor, value: &str) -> String {
    let mut prefix = String::new();
    for (index, letter) in choices.name().chars().enumerate() {
        if letter.is_ascii_uppercase() && index > 0 {
            prefix.push('_');
        }
        prefix.push(letter.to_ascii_uppercase());
    }
    prefix.push('_');
    kebab(value.strip_prefix(&prefix).unwrap_or(value))
}

impl Reading {
    /// How a field is read.
    ///
    /// # Errors
    /// When the messages of this program have no bound for it.
    pub fn of(field: &FieldDescriptor) -> Result<Self, WordsError> {
        let bound = bound(field.parent_message().name(), field.name())?;
        let quantity = Quantity::of_field(field.name());
        Ok(match (field.kind(), bound.span, quantity) {
            (Kind::Double, Span::Number { .. }, Some(quantity)) => Self::Quantity(quantity),
            (Kind::Int32, Span::Whole { .. }, Some(quantity)) => Self::Whole(quantity),
            (Kind::Int32, Span::Whole { .. }, None) => Self::Count,
            (Kind::Enum(choices), Span::Choice { .. }, _) => Self::Choice(choices),
            (Kind::Bool, Span::Flag, _) => Self::Yes,
            (Kind::String, Span::Text { form: Form::Vin, greatest, .. }, _) => Self::Vin(greatest),
            (Kind::String, Span::Text { .. }, _) => Self::Text,
            (Kind::Message(row), Span::Part { .. }, _) if field.is_list() => {
                Self::Row(Row::of(&row).ok_or_else(|| {
                    WordsError::Descriptor(format!("{}: no row of numbers", field.full_name()))
                })?)
            }
            (kind, ..) => {
                let (message, name) = (field.parent_message(), field.name());
                return Err(WordsError::Descriptor(format!(
                    "{}.{name}: no flag for {kind:?}",
                    message.name()
                )));
            }
        })
    }

    /// True where the digits and unit as typed belong into the entry.
    #[must_use]
    pub fn keeps_text(&self) -> bool {
        matches!(self, Self::Quantity(_) | Self::Whole(_) | Self::Vin(_) | Self::Row(_))
    }

    /// Reads a text: its value, and what was understood.
    ///
    /// # Errors
    /// When it cannot be read.
    pub fn read(&self, flag: &str, text: &str) -> Result<(Value, String), WordsError> {
        let typed = |quantity| {
            typed::read(text, quantity).map_err(|why| WordsError::Typed { flag: flag.to_owned(), why })
        };
        Ok(match self {
            Self::Quantity(quantity) => {
                let typed = typed(*quantity)?;
                (Value::F64(typed.value), typed.understood)
            }
            Self::Whole(quantity) => {
                let typed = typed(*quantity)?;
                // A f64 holds every i32; what is no such number is told before it could be cut.
                let is_whole = typed.value.fract() == 0.0 && typed.value.abs() < f64::from(i32::MAX);
                if !is_whole {
                    return Err(WordsError::Usage(format!(
                        "{flag}: '{}' is no whole number; write for example {}",
                        text.trim(),
                        example_of(*quantity)
                    )));
                }
                #[allow(clippy::cast_possible_truncation)]
                let whole = typed.value as i32;
                (Value::I32(whole), typed.understood)
            }
            Self::Count => {
                let count: i32 = text.trim().parse().map_err(|_| {
                    let text = text.trim();
                    WordsError::Usage(format!("{flag}: '{text}' is no whole number; write for example 13"))
                })?;
                (Value::I32(count), count.to_string())
            }
            Self::Choice(choices) => {
                let choice = choices.values().find(|choice| choice_word(choices, choice.name()) == *text);
                let number = choice
                    .map(|choice| choice.number())
                    .ok_or_else(|| WordsError::Usage(format!("{flag}: '{text}' is none of the choices")))?;
                (Value::EnumNumber(number), text.replace('-', " "))
            }
            Self::Yes => (Value::Bool(true), String::new()),
            Self::Vin(characters) => {
                let vin = vin::read(text, *characters)
                    .map_err(|why| WordsError::Vin { flag: flag.to_owned(), why })?;
                (Value::String(vin.clone()), vin)
            }
            Self::Row(row) => row.read(flag, text, &row.example(example_of))?,
            Self::Text => (Value::String(text.trim().to_owned()), text.trim().to_owned()),
        })
    }

    /// A value in words.
    fn told(&self, value: &Value) -> String {
        match (self, value) {
            (Self::Choice(choices), Value::EnumNumber(number)) => choices
                .get_value(*number)
                .map(|choice| choice_word(choices, choice.name()).replace('-', " "))
                .unwrap_or_default(),
            (Self::Yes, _) => String::new(),
            (Self::Row(row), Value::Message(cells)) => row.told(cells),
            (_, Value::String(text)) => text.clone(),
            (_, Value::F64(number)) => number.to_string(),
            (_, Value::I32(number)) => number.to_string(),
            _ => String::new(),
        }
    }

    /// What is written, for the usage of a command.
    #[must_use]
    pub fn value_name(&self) -> String {
        match self {
            Self::Quantity(quantity) | Self::Whole(quantity) => format!("{quantity:?}").to_uppercase(),
            Self::Choice(_) => "WORD".into(),
            Self::Count => "COUNT".into(),
            Self::Vin(_) => "VIN".into(),
            Self::Row(row) => row.value_name(),
            Self::Yes | Self::Text => "TEXT".into(),
        }
    }

    /// The comment, with the range where the comment does not say it, and the units that are taken.
    #[must_use]
    pub fn help(&self, comment: &str, bound: &Bound) -> String {
        let mut help = comment.to_owned();
        if let Self::Row(row) = self {
            return format!("{help} A flag a row: {}.", row.help());
        }
        let (range, unit) = match (self, bound.span) {
            (Self::Quantity(_) | Self::Whole(_), Span::Number { least, greatest, unit }) => {
                (format!("{} to {}", grouped(least), grouped(greatest)), unit)
            }
            (_, Span::Whole { least, greatest, unit }) => (format!("{least} to {greatest}"), unit),
            (Self::Text, Span::Text { greatest, form, .. }) if !matches!(form, Form::Day | Form::Colour) => {
                (format!("{greatest} characters"), "")
            }
            _ => return help,
        };
        if !help.contains(&range) {
            let at_most = if matches!(self, Self::Text) { "at most " } else { "" };
            help = format!("{help} [{at_most}{range}{}{unit}]", if unit.is_empty() { "" } else { " " });
        }
        if let Self::Quantity(quantity) | Self::Whole(quantity) = self {
            help = format!("{help} Written with its unit: {}.", quantity.units_in_words());
        }
        help
    }

    /// A text that would be taken, from the invented scenario of the demonstration.
    fn example(&self, bound: &Bound) -> String {
        match self {
            Self::Quantity(quantity) | Self::Whole(quantity) => example_of(*quantity).to_owned(),
            Self::Choice(choices) => {
                let first = choices.values().find(|choice| choice.number() != 0);
                first.map(|first| choice_word(choices, first.name())).unwrap_or_default()
            }
            Self::Yes => String::new(),
            Self::Count => "4".into(),
            Self::Vin(17) => "AZTWA8M42XRH04217".into(),
            Self::Vin(_) => "XRH04217".into(),
            Self::Row(row) => row.example(example_of),
            Self::Text => match bound.span {
                Span::Text { form: Form::Code, .. } => "A8-II".into(),
                Span::Text { form: Form::Day, .. } => "2026-02-03".into(),
                Span::Text { form: Form::Colour, .. } => "#a0522d".into(),
                Span::Text { form: Form::Hex, greatest, .. } => "0".repeat(greatest),
                Span::Text { form: Form::Name, .. } => "sample-before".into(),
                Span::Text { form: Form::LettersAndDigits, least: 4, .. } => "P0741".into(),
                Span::Text { form: Form::LettersAndDigits, .. } => "A".into(),
                _ => "TW 4711".into(),
            },
        }
    }
}

fn example_of(quantity: Quantity) -> &'static str {
    match quantity {
        Quantity::Volume => "3.6L",
        Quantity::Mass => "3.05kg",
        Quantity::Temperature => "43°C",
        Quantity::Distance => "118240km",
        Quantity::Torque => "10N·m",
        Quantity::Density => "855kg/m3",
        Quantity::Percent => "75%",
        Quantity::Viscosity => "28.4mm2/s",
        Quantity::AcidNumber => "1.2mg/g",
        Quantity::Water => "310mg/kg",
        Quantity::Count => "2600/mL",
    }
}

/// A number as the comments write it: spaces in thousands.
#[must_use]
pub fn grouped(value: f64) -> String {
    let text = format!("{value}");
    let (sign, digits) = text.strip_prefix('-').map_or(("", text.as_str()), |digits| ("-", digits));
    if digits.contains('.') {
        return text;
    }
    let mut grouped = String::new();
    for (index, digit) in digits.chars().enumerate() {
        if index > 0 && (digits.len() - index).is_multiple_of(3) {
            grouped.push(' ');
        }
        grouped.push(digit);
    }
    format!("{sign}{grouped}")
}
