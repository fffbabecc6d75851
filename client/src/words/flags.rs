//! Flags of a kind of fact, made from its message: names, choices, help and what is needed.
//!
//! A number's flag leaves out the unit at the end of the field's name (`volume_litres` is `--volume 3.6L`), a choice
//! is a word without the prefix of its enum (`--overflow drops`), yes-or-no is a flag by itself, a row of numbers is one
//! text (`--temperature-share '90°C 50%'`). Fields of one `oneof` exclude each other.

use crate::error::ClientError;
use crate::words::descriptor::Words;
use crate::words::row::Row;
use crate::words::{Understood, kebab, vin};
use clap::builder::{PossibleValue, PossibleValuesParser};
use clap::{Arg, ArgAction, ArgGroup, ArgMatches, Command};
use prost_reflect::{DynamicMessage, EnumDescriptor, FieldDescriptor, Kind, MessageDescriptor, Value};
use standpipe_proto::limits::{self, Bound, Form, Span};
use standpipe_proto::typed::{self, Quantity};
use standpipe_proto::v1::AsTyped;

/// How the flags of one command are named.
pub(crate) struct Naming {
    /// Fields with a name of their own.
    pub(crate) renamed: &'static [(&'static str, &'static str)],
    /// The field that stands first, without a flag.
    pub(crate) positional: Option<&'static str>,
    /// True where the flags state a whole fact; else what they leave out stays as it was, and an empty text or
    /// `--no-FLAG` clears it.
    pub(crate) whole: bool,
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

/// Names as the fields have them.
pub(crate) const FLAGS: Naming = Naming { renamed: RENAMED, positional: None, whole: true };
/// Names of `standpipe open`, which states an arrival.
pub(crate) const OPEN: Naming = Naming {
    renamed: &[("reasons", "reason"), ("vehicle_maker", "maker"), ("vehicle_model", "model")],
    positional: Some("plate"),
    whole: true,
};

/// Names after `standpipe correct`, whose own reason comes beside that of the fact.
pub(crate) const CORRECT: Naming = Naming { renamed: RENAMED, positional: None, whole: false };

/// What was read from the flags of a kind.
pub(crate) struct ReadFlags {
    pub(crate) message: DynamicMessage,
    pub(crate) as_typed: Vec<AsTyped>,
    pub(crate) understood: Vec<Understood>,
    /// Fields that are no longer stated.
    pub(crate) cleared: Vec<String>,
}

/// How the text of a flag is read.
enum Reading {
    Quantity(Quantity),
    /// A whole number with the unit of a quantity.
    Whole(Quantity),
    /// A whole number without a unit.
    Count,
    Choice(EnumDescriptor),
    Yes,
    /// A vehicle identification number, or the end of one, of so many characters.
    Vin(usize),
    /// Several numbers in one text.
    Row(Row),
    Text,
}

/// Values of an example that the bounds alone do not tell.
const TOLD: [(&str, &str, &str); 2] = [
    ("Decision", "point", "tool-due"),
    ("Decision", "reason", "checked against the second wrench this morning"),
];

/// Adds the flags of a message to a command, with an example at the end of its help.
pub(crate) fn with_flags(
    mut command: Command,
    message: &MessageDescriptor,
    naming: &Naming,
) -> Result<Command, ClientError> {
    for field in message.fields() {
        command = command.arg(arg(&field, naming)?);
        if !naming.whole && matches!(Reading::of(&field)?, Reading::Yes) {
            let flag = flag_name(&field, naming);
            let no = Arg::new(no_id(&field)).long(format!("no-{flag}")).action(ArgAction::SetTrue);
            command = command.arg(no.conflicts_with(id(&field)).help(format!("Takes --{flag} back")));
        }
    }
    for oneof in message.oneofs().filter(|oneof| !oneof.is_synthetic()) {
        let arms: Vec<_> = oneof.fields().map(|field| id(&field)).collect();
        let needed = bound(message.name(), oneof.name())?.span == (Span::OneOf { needed: true });
        command = command.group(
            ArgGroup::new(format!("oneof {}", oneof.name())).args(arms).required(needed && naming.whole),
        );
    }
    Ok(command)
}

/// The flag of one field alone.
pub(crate) fn one(message: &MessageDescriptor, field: &str, naming: &Naming) -> Result<Arg, ClientError> {
    let field = message.get_field_by_name(field);
    arg(
        &field.ok_or_else(|| ClientError::Descriptor(format!("{} has no such field", message.name())))?,
        naming,
    )
}

/// Reads the flags of a message.
pub(crate) fn read(
    message: &MessageDescriptor,
    matches: &ArgMatches,
    naming: &Naming,
) -> Result<ReadFlags, ClientError> {
    let mut read = ReadFlags {
        message: DynamicMessage::new(message.clone()),
        as_typed: Vec::new(),
        understood: Vec::new(),
        cleared: Vec::new(),
    };
    for field in message.fields() {
        let reading = Reading::of(&field)?;
        let texts: Vec<String> = match &reading {
            Reading::Yes if matches.get_flag(&id(&field)) => vec![String::new()],
            Reading::Yes => Vec::new(),
            _ => matches.get_many::<String>(&id(&field)).unwrap_or_default().cloned().collect(),
        };
        let flag = flag_name(&field, naming);
        let no = !naming.whole && matches!(reading, Reading::Yes) && matches.get_flag(&no_id(&field));
        if no || (!naming.whole && !texts.is_empty() && clears(&reading, &texts)) {
            read.cleared.push(field.name().to_owned());
            read.understood.push(Understood { flag, text: "taken back".to_owned() });
            continue;
        }
        if texts.is_empty() {
            continue;
        }
        let mut values = Vec::new();
        for text in &texts {
            let (value, understood) = reading.read(&format!("--{flag}"), text)?;
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
            .map_err(|error| ClientError::Descriptor(error.to_string()))?;
    }
    Ok(read)
}

fn clears(reading: &Reading, texts: &[String]) -> bool {
    !matches!(reading, Reading::Yes) && texts.iter().all(|text| text.trim().is_empty())
}

/// What a field of a message says, as [`read`] would tell it; `typed` is its text as it was typed, where that is kept.
pub(crate) fn told(
    field: &FieldDescriptor,
    value: &Value,
    typed: Option<&str>,
    naming: &Naming,
) -> Result<String, ClientError> {
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
pub(crate) fn flag_of(message: &MessageDescriptor, field: &str, naming: &Naming) -> Option<String> {
    let field = message.get_field_by_name(field)?;
    let flag = flag_name(&field, naming);
    Some(if naming.positional == Some(field.name()) { flag.to_uppercase() } else { format!("--{flag}") })
}

/// Reads the text of one field: its value, and what was understood.
pub(crate) fn read_text(field: &FieldDescriptor, text: &str) -> Result<(Value, String), ClientError> {
    Reading::of(field)?.read(&kebab(field.name()).replace('-', " "), text)
}

/// Flags that make a whole fact, as an example for the help.
pub(crate) fn example(message: &MessageDescriptor, naming: &Naming) -> Result<String, ClientError> {
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

fn bound(message: &str, field: &str) -> Result<&'static Bound, ClientError> {
    limits::bound(message, field)
        .ok_or_else(|| ClientError::Descriptor(format!("{message}.{field} has no bound")))
}

fn flag_name(field: &FieldDescriptor, naming: &Naming) -> String {
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

/// Identity of a field's argument; different from those of the arguments that commands bring themselves.
pub(crate) fn id(field: &FieldDescriptor) -> String {
    format!("field {}", field.name())
}

/// Identity of the argument that takes back a yes.
fn no_id(field: &FieldDescriptor) -> String {
    format!("no field {}", field.name())
}

/// Whether a fact cannot do without the field by itself; a field of a `oneof` is needed only as one of them.
fn is_needed(field: &FieldDescriptor) -> Result<bool, ClientError> {
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

fn arg(field: &FieldDescriptor, naming: &Naming) -> Result<Arg, ClientError> {
    let words = Words::get()?;
    let reading = Reading::of(field)?;
    let bound = bound(field.parent_message().name(), field.name())?;
    let flag = flag_name(field, naming);
    let help = reading.help(words.about_field(field), bound);
    let mut arg = Arg::new(id(field)).help(help).required(naming.whole && is_needed(field)?);
    arg = if naming.positional == Some(field.name()) {
        arg.value_name(flag.to_uppercase())
    } else {
        arg.long(flag).value_name(reading.value_name())
    };
    arg = match &reading {
        Reading::Yes => return Ok(arg.action(ArgAction::SetTrue).value_name(None)),
        Reading::Choice(choices) => {
            arg.value_parser(PossibleValuesParser::new(choice_values(words, choices)))
        }
        // A number that must not be negative is refused by its bound, with field and value.
        Reading::Quantity(_) => arg.allow_hyphen_values(true),
        // A comma in a row is a decimal comma.
        Reading::Row(_) => return Ok(arg.allow_hyphen_values(true).action(ArgAction::Append)),
        _ => arg,
    };
    Ok(if field.is_list() { arg.action(ArgAction::Append).value_delimiter(',') } else { arg })
}

fn choice_values(words: &Words, choices: &EnumDescriptor) -> Vec<PossibleValue> {
    let stated = choices.values().filter(|choice| choice.number() != 0);
    stated
        .map(|c| PossibleValue::new(choice_word(choices, c.name())).help(words.about_choice(&c).to_owned()))
        .collect()
}

/// `OVERFLOW_NOTHING` of the enum `Overflow` is `nothing`.
fn choice_word(choices: &EnumDescriptor, value: &str) -> String {
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
    fn of(field: &FieldDescriptor) -> Result<Self, ClientError> {
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
                    ClientError::Descriptor(format!("{}: no row of numbers", field.full_name()))
                })?)
            }
            (kind, ..) => {
                let (message, name) = (field.parent_message(), field.name());
                return Err(ClientError::Descriptor(format!(
                    "{}.{name}: no flag for {kind:?}",
                    message.name()
                )));
            }
        })
    }

    /// True where the digits and unit as typed belong into the entry.
    fn keeps_text(&self) -> bool {
        matches!(self, Self::Quantity(_) | Self::Whole(_) | Self::Vin(_) | Self::Row(_))
    }

    /// Reads a text: its value, and what was understood.
    fn read(&self, flag: &str, text: &str) -> Result<(Value, String), ClientError> {
        let typed = |quantity| {
            typed::read(text, quantity).map_err(|why| ClientError::Typed { flag: flag.to_owned(), why })
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
                    return Err(ClientError::Usage(format!(
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
                    ClientError::Usage(format!("{flag}: '{text}' is no whole number; write for example 13"))
                })?;
                (Value::I32(count), count.to_string())
            }
            Self::Choice(choices) => {
                let choice = choices.values().find(|choice| choice_word(choices, choice.name()) == *text);
                let number = choice
                    .map(|choice| choice.number())
                    .ok_or_else(|| ClientError::Usage(format!("{flag}: '{text}' is none of the choices")))?;
                (Value::EnumNumber(number), text.replace('-', " "))
            }
            Self::Yes => (Value::Bool(true), String::new()),
            Self::Vin(characters) => {
                let vin = vin::read(text, *characters)
                    .map_err(|why| ClientError::Vin { flag: flag.to_owned(), why })?;
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

    fn value_name(&self) -> String {
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
    fn help(&self, comment: &str, bound: &Bound) -> String {
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
fn grouped(value: f64) -> String {
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

#[cfg(test)]
#[path = "../tests/flags.rs"]
mod tests;
