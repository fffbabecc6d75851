//! Flags of a kind of fact, made from its message: names, choices, help and what is needed.
//!
//! A number's flag leaves out the unit at the end of the field's name (`volume_litres` is `--volume 3.6L`), a choice
//! is a word without the prefix of its enum (`--overflow drops`), yes-or-no is a flag by itself, a row of numbers is one
//! text (`--temperature-share '90°C 50%'`). Fields of one `oneof` exclude each other.

use crate::error::ClientError;
use crate::words::descriptor::Words;
use clap::builder::{PossibleValue, PossibleValuesParser};
use clap::{Arg, ArgAction, ArgGroup, ArgMatches, Command};
use prost_reflect::{EnumDescriptor, FieldDescriptor, MessageDescriptor};
use standpipe_proto::limits::Span;
pub(crate) use standpipe_proto::words::reading::{
    CORRECT, FLAGS, Naming, OPEN, ReadFlags, example, flag_of, told,
};
use standpipe_proto::words::reading::{Reading, Said, bound, choice_word, flag_name, is_needed, read_said};

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
    let read = read_said(message, naming, "--", |field, reading| {
        let texts: Vec<String> = match reading {
            Reading::Yes if matches.get_flag(&id(field)) => vec![String::new()],
            Reading::Yes => Vec::new(),
            _ => matches.get_many::<String>(&id(field)).unwrap_or_default().cloned().collect(),
        };
        let no = !naming.whole && matches!(reading, Reading::Yes) && matches.get_flag(&no_id(field));
        if no || (!naming.whole && !texts.is_empty() && clears(reading, &texts)) {
            Said::Cleared
        } else if texts.is_empty() {
            Said::Nothing
        } else {
            Said::Texts(texts)
        }
    });
    Ok(read?)
}

fn clears(reading: &Reading, texts: &[String]) -> bool {
    !matches!(reading, Reading::Yes) && texts.iter().all(|text| text.trim().is_empty())
}

/// Identity of a field's argument; different from those of the arguments that commands bring themselves.
pub(crate) fn id(field: &FieldDescriptor) -> String {
    format!("field {}", field.name())
}

/// Identity of the argument that takes back a yes.
fn no_id(field: &FieldDescriptor) -> String {
    format!("no field {}", field.name())
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

#[cfg(test)]
#[path = "../tests/flags.rs"]
mod tests;
