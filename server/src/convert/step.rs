//! Steps of the work as messages.

use super::words;
use crate::status::Cause;
use standpipe_engine::steps::{Choice, Field, Input, Step};
use standpipe_engine::text::Language;
use standpipe_proto::v1;

/// One question of the work.
pub(crate) fn step(language: Language, step: &Step) -> Result<v1::Step, Cause> {
    let caution = step.caution.as_ref().map(|caution| words(language, caution)).transpose()?;
    Ok(v1::Step {
        name: step.name.to_owned(),
        question: words(language, &step.question)?,
        kind: step.kind.to_owned(),
        fields: step.fields.iter().map(|it| field(language, it)).collect::<Result<_, _>>()?,
        preset: preset(&step.preset),
        gate: step.gate.map(|gate| gate.name().to_owned()).unwrap_or_default(),
        safety: step.safety,
        repeats: step.repeats,
        caution: caution.unwrap_or_default(),
        after: step.after.unwrap_or_default().to_owned(),
    })
}

fn field(language: Language, field: &Field) -> Result<v1::StepField, Cause> {
    let input = match &field.input {
        Input::Choice(_) => v1::StepInput::Choice,
        Input::Choices(_) => v1::StepInput::Choices,
        Input::Quantity { .. } => v1::StepInput::Quantity,
        Input::Count => v1::StepInput::Count,
        Input::Text => v1::StepInput::Text,
    };
    let (choices, units): (&[Choice], &[&str]) = match &field.input {
        Input::Choice(choices) | Input::Choices(choices) => (choices, &[]),
        Input::Quantity { units } => (&[], units),
        Input::Count | Input::Text => (&[], &[]),
    };
    let choices = choices.iter().map(|choice| {
        let text = words(language, &choice.text)?;
        Ok(v1::StepChoice { word: choice.word.clone(), text, also: preset(&choice.also) })
    });
    let why = field.proposal.as_ref().map(|proposal| words(language, &proposal.why)).transpose()?;
    Ok(v1::StepField {
        name: field.name.to_owned(),
        ask: words(language, &field.ask)?,
        input: input.into(),
        choices: choices.collect::<Result<_, Cause>>()?,
        units: units.iter().map(|unit| (*unit).to_owned()).collect(),
        proposal: field.proposal.as_ref().map(|proposal| proposal.value.clone()).unwrap_or_default(),
        proposal_reason: why.unwrap_or_default(),
        needed: field.needed,
        spare: field.spare,
    })
}

fn preset(fields: &[(&'static str, String)]) -> Vec<v1::PresetField> {
    let field =
        |(name, value): &(&str, String)| v1::PresetField { name: (*name).to_owned(), value: value.clone() };
    fields.iter().map(field).collect()
}
