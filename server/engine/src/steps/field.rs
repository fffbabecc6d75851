//! How a field of a step is put together. Never here: what a step asks.

use super::{Choice, Field, Input, Proposal};
use crate::text::{Sentence, sentence};

/// A field that needs an answer.
pub(super) fn field(name: &'static str, ask: Sentence, input: Input) -> Field {
    Field { name, ask, input, proposal: None, needed: true, spare: false }
}

/// A field that is asked and may be left empty.
pub(super) fn optional(name: &'static str, ask: Sentence, input: Input) -> Field {
    Field { needed: false, ..field(name, ask, input) }
}

/// A field that is asked only on request.
pub(super) fn spare(name: &'static str, ask: Sentence, input: Input) -> Field {
    Field { spare: true, ..optional(name, ask, input) }
}

/// The same field with something proposed, where it is known.
pub(super) fn proposed(field: Field, value: Option<String>, why: fn() -> Sentence) -> Field {
    Field { proposal: value.map(|value| Proposal { value, why: why() }), ..field }
}

/// A question that is no field itself: one tap states several fields that follow, or none of them, so that
/// each is asked. Nothing is ever proposed for it, since Enter would say all of it without looking.
pub(super) fn together(ask: Sentence, choices: Vec<Choice>) -> Field {
    field("", ask, Input::Choice(choices))
}

/// A choice of [`together`].
pub(super) fn states(word: &str, text: Sentence, also: &[(&'static str, &str)]) -> Choice {
    let also = also.iter().map(|(name, value)| (*name, (*value).to_owned())).collect();
    Choice { word: word.to_owned(), text, also }
}

fn plain(words: &[&'static str], shown: impl Fn(&'static str) -> Sentence) -> Vec<Choice> {
    words.iter().map(|word| states(word, shown(word), &[])).collect()
}

/// A choice of words that one sentence shows, each under its own form.
pub(super) fn choice(words: &[&'static str], shown: impl Fn(&'static str) -> Sentence) -> Input {
    Input::Choice(plain(words, shown))
}

/// Any number of such words.
pub(super) fn choices(words: &[&'static str], shown: impl Fn(&'static str) -> Sentence) -> Input {
    Input::Choices(plain(words, shown))
}

/// Litres.
pub(super) fn litres() -> Input {
    Input::Quantity { units: &["L"] }
}

/// Yes or no.
pub(super) fn yes_no() -> Input {
    choice(&["yes", "no"], sentence::answer)
}
