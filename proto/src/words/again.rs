//! A stated fact as texts, field by field, that make the same fact again by [`super::answer::stated`]: what a form begins
//! with that puts a fact right. Never here: how the form looks, or what a field means.

use super::WordsError;
use super::descriptor::Words;
use super::reading::{Reading, bound, choice_word};
use crate::limits::Span;
use crate::v1::{AsTyped, Fact};
use prost_reflect::{FieldDescriptor, Value};

/// A field of a stated fact.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StatedField {
    /// Its name in the messages.
    pub name: String,
    /// What was stated, as it is typed again; empty where nothing was.
    pub text: String,
    /// How it is asked.
    pub asked: Asked,
}

/// How a field is asked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Asked {
    /// By a box for a text.
    Text {
        /// Most characters that its bound takes, several texts of a list together.
        length: usize,
    },
    /// By these words, of which one is chosen.
    Choice(Vec<String>),
    /// By yes or no.
    YesNo,
    /// Not at all: it names a file by its digest, which nobody types.
    Nothing,
}

/// Characters of a box for a number with its unit, a row of them, or several words.
const LENGTH: usize = 200;

/// The kind of a fact and all its fields, in the order of the messages.
///
/// # Errors
/// When the messages of this program contradict each other, or have no text for a field of this kind.
pub fn fields(fact: &Fact, as_typed: &[AsTyped]) -> Result<(String, Vec<StatedField>), WordsError> {
    let words = Words::get()?;
    let name = words.kind_of(fact)?;
    let kind = words.kind(&name).ok_or_else(|| WordsError::Descriptor(format!("there is no {name}")))?;
    let message = words.message_of(kind, fact)?;
    let stated = kind.message.fields().map(|field| {
        let reading = Reading::of(&field)?;
        let typed =
            as_typed.iter().filter(|typed| typed.field == field.name()).map(|typed| typed.text.as_str());
        let typed: Vec<&str> = typed.collect();
        let text = match typed.as_slice() {
            [one] if !field.is_list() => (*one).to_owned(),
            _ if message.has_field(&field) => text(&field, &reading, &message.get_field(&field))?,
            _ => String::new(),
        };
        Ok(StatedField { name: field.name().to_owned(), text, asked: asked(&field, &reading)? })
    });
    Ok((name, stated.collect::<Result<_, WordsError>>()?))
}

fn asked(field: &FieldDescriptor, reading: &Reading) -> Result<Asked, WordsError> {
    Ok(match reading {
        Reading::Choice(choices) if !field.is_list() => {
            let stated = choices.values().filter(|choice| choice.number() != 0);
            Asked::Choice(stated.map(|choice| choice_word(choices, choice.name())).collect())
        }
        Reading::Yes => Asked::YesNo,
        _ if field.name().ends_with("_digest") => Asked::Nothing,
        Reading::Text if !field.is_list() => match bound(field.parent_message().name(), field.name())?.span {
            Span::Text { greatest, .. } => Asked::Text { length: greatest },
            _ => Asked::Text { length: LENGTH },
        },
        _ => Asked::Text { length: LENGTH },
    })
}

fn text(field: &FieldDescriptor, reading: &Reading, value: &Value) -> Result<String, WordsError> {
    let values = value.as_list().unwrap_or(std::slice::from_ref(value));
    let unit = match bound(field.parent_message().name(), field.name())?.span {
        Span::Number { unit, .. } | Span::Whole { unit, .. } => unit,
        _ => "",
    };
    let one = |value: &Value| match (reading, value) {
        (Reading::Choice(choices), Value::EnumNumber(number)) if *number != 0 => {
            choices.get_value(*number).map(|choice| choice_word(choices, choice.name())).unwrap_or_default()
        }
        (Reading::Yes, Value::Bool(yes)) => if *yes { "yes" } else { "no" }.to_owned(),
        (Reading::Quantity(_), Value::F64(number)) => format!("{number} {unit}"),
        (Reading::Whole(_), Value::I32(number)) => format!("{number} {unit}"),
        (Reading::Count, Value::I32(number)) => number.to_string(),
        (Reading::Row(row), Value::Message(cells)) => row.told(cells),
        (_, Value::String(text)) => text.clone(),
        _ => String::new(),
    };
    Ok(values.iter().map(one).collect::<Vec<_>>().join(", "))
}

#[cfg(test)]
mod tests {
    use super::super::answer::stated;
    use super::*;

    /// Facts of unlike kinds as they are typed at a terminal or a page.
    const FACTS: [(&str, &[(&str, &str)]); 8] = [
        ("vin_reading", &[("last_eight", "LA042317"), ("source", "body-plate")]),
        ("drain", &[("place", "pan"), ("amount", "3,05 kg"), ("temperature_celsius", "41 °C")]),
        ("exchange_reading", &[("volume_in_litres", "0 L"), ("tube_percent", "0 %")]),
        ("exchange_reading", &[("volume_in_litres", "3.2 qt"), ("tube_percent", "25"), ("last", "yes")]),
        ("fault_codes", &[("moment", "before"), ("state", "read"), ("codes", "P0741, P0730")]),
        ("hookup", &[("place", "cooler-line"), ("direction_tested", "yes")]),
        ("road_test", &[("moment", "before"), ("ticks", "harsh,shudder"), ("warmth", "warm")]),
        ("part_checked", &[("part", "fluid-container"), ("code", "LN-847"), ("lot", "L-2209")]),
    ];

    #[test]
    fn the_texts_of_a_fact_make_the_same_fact_again_with_and_without_what_was_typed() {
        for (kind, said) in FACTS {
            let read = stated(kind, said).unwrap_or_else(|error| panic!("{kind}: {error}"));
            for as_typed in [&read.as_typed[..], &[]] {
                let (name, fields) = fields(&read.fact, as_typed).unwrap();
                let texts = fields.iter().map(|field| (field.name.as_str(), field.text.as_str()));
                let again = stated(&name, &texts.collect::<Vec<_>>())
                    .unwrap_or_else(|error| panic!("{kind}: {error}"));
                assert_eq!((name.as_str(), &again.fact), (kind, &read.fact));
            }
        }
    }

    #[test]
    fn every_kind_that_is_no_correction_record_or_signature_can_be_asked_again() {
        let words = Words::get().unwrap();
        for kind in
            words.kinds().filter(|kind| !["correction", "record_issued", "signature"].contains(&kind.name()))
        {
            let fact = words.fact_of(kind, prost_reflect::DynamicMessage::new(kind.message.clone())).unwrap();
            let (name, fields) =
                fields(&fact, &[]).unwrap_or_else(|error| panic!("{}: {error}", kind.name()));
            assert_eq!((name.as_str(), fields.len()), (kind.name(), kind.message.fields().len()));
            assert!(fields.iter().all(|field| field.text.is_empty()), "{name}");
        }
    }
}
