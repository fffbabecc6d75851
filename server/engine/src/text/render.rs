//! From a sentence to words of one language.
//!
//! Every error of the Fluent library is fatal here: a text with a gap in it must not reach a customer. The
//! bundles are made once and hold no state that a caller could change.

use std::sync::LazyLock;

use fluent_bundle::concurrent::FluentBundle;
use fluent_bundle::{FluentArgs, FluentResource, FluentValue};
use unic_langid::LanguageIdentifier;

use super::{Arg, Sentence, Variable, number, sentence};

/// Sentences inside sentences go this deep at most; deeper is a mistake of ours, not a text.
const DEPTH_MAX: usize = 6;

/// A language that has a sentence file.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Language {
    /// English, `text/en.ftl`.
    #[default]
    English,
}

impl Language {
    /// The language with this code of ISO 639-1, for example `en`.
    #[must_use]
    pub fn from_code(code: &str) -> Option<Self> {
        match code {
            "en" => Some(Self::English),
            _ => None,
        }
    }

    /// Code of ISO 639-1.
    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            Self::English => "en",
        }
    }
}

/// Why a sentence could not be rendered. Each is a mistake in our texts, never in what a person entered.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum TextError {
    /// The sentence file itself is broken.
    #[error(
        "the sentences of language '{language}' cannot be used: {detail}; repair the file and build again"
    )]
    BrokenFile {
        /// Code of the language.
        language: &'static str,
        /// What the library reported.
        detail: String,
    },
    /// The language lacks this key.
    #[error("language '{language}' has no sentence '{key}'; add it to the file and build again")]
    MissingKey {
        /// Code of the language.
        language: &'static str,
        /// The key asked for.
        key: &'static str,
    },
    /// A choosing word is none of the forms that the sentence knows.
    #[error("sentence '{key}' has no form '{found}' for ${variable}; the forms are {forms}")]
    UnknownForm {
        /// Key of the sentence.
        key: &'static str,
        /// The variable that chooses.
        variable: &'static str,
        /// The word that came.
        found: String,
        /// The words that are known.
        forms: String,
    },
    /// The text came out with a gap, or sentences refer to each other without end.
    #[error("sentence '{key}' cannot be written: {detail}")]
    Unwritable {
        /// Key of the sentence.
        key: &'static str,
        /// What the library reported.
        detail: String,
    },
}

/// The sentence in words of the language.
///
/// # Errors
/// [`TextError`] if the file, the key, a choosing word or a reference is wrong. The generated functions of
/// [`sentence`] leave only the choosing words to go wrong.
pub fn render(language: Language, sentence: &Sentence) -> Result<String, TextError> {
    render_at(language, sentence, 0)
}

/// The sentence file of the language, for tests that every letter of it can be drawn.
#[must_use]
pub fn source(language: Language) -> &'static str {
    match language {
        Language::English => include_str!("../../text/en.ftl"),
    }
}

type Bundle = FluentBundle<FluentResource>;

static ENGLISH: LazyLock<Result<Bundle, TextError>> =
    LazyLock::new(|| load(Language::English, source(Language::English)));

fn load(language: Language, text: &str) -> Result<Bundle, TextError> {
    let broken = |detail: String| TextError::BrokenFile { language: language.code(), detail };
    let identifier: LanguageIdentifier =
        language.code().parse().map_err(|error| broken(format!("{error}")))?;
    let resource =
        FluentResource::try_new(text.to_owned()).map_err(|(_, errors)| broken(format!("{errors:?}")))?;
    let mut bundle = Bundle::new_concurrent(vec![identifier]);
    // Isolation marks (U+2068, U+2069) would be drawn as missing letters on the record.
    bundle.set_use_isolating(false);
    bundle.set_formatter(Some(|value, _| match value {
        FluentValue::Number(count) => Some(number::fixed(count.value, 0)),
        _ => None,
    }));
    bundle.add_resource(resource).map_err(|errors| broken(format!("{errors:?}")))?;
    Ok(bundle)
}

fn render_at(language: Language, sentence: &Sentence, depth: usize) -> Result<String, TextError> {
    let key = sentence.key();
    let unwritable = |detail: String| TextError::Unwritable { key, detail };
    if depth > DEPTH_MAX {
        return Err(unwritable(format!("sentences are nested more than {DEPTH_MAX} deep")));
    }
    let bundle = match language {
        Language::English => ENGLISH.as_ref().map_err(Clone::clone)?,
    };
    let missing = || TextError::MissingKey { language: language.code(), key };
    let pattern = bundle.get_message(key).and_then(|message| message.value()).ok_or_else(missing)?;

    check_forms(sentence)?;
    let mut arguments = FluentArgs::with_capacity(sentence.args().len());
    for (name, arg) in sentence.args() {
        let value: FluentValue<'_> = match arg {
            Arg::Text(text) => FluentValue::from(text.as_str()),
            Arg::Count(count) => FluentValue::from(*count),
            Arg::Sentence(inner) => FluentValue::from(render_at(language, inner, depth + 1)?),
            Arg::List(inner) => {
                let texts: Result<Vec<_>, _> =
                    inner.iter().map(|sentence| render_at(language, sentence, depth + 1)).collect();
                FluentValue::from(texts?.join(", "))
            }
        };
        arguments.set(*name, value);
    }
    let mut errors = Vec::new();
    let text = bundle.format_pattern(pattern, Some(&arguments), &mut errors).into_owned();
    if errors.is_empty() { Ok(text) } else { Err(unwritable(format!("{errors:?}"))) }
}

/// The form that takes every word that has none of its own.
const ANY_FORM: &str = "any";

/// Fluent takes the default form for a word it does not know; here that is an error, unless the sentence says that any
/// word may come.
fn check_forms(sentence: &Sentence) -> Result<(), TextError> {
    let rows = sentence::MESSAGES;
    let Some(message) =
        rows.binary_search_by_key(&sentence.key(), |row| row.key).ok().and_then(|at| rows.get(at))
    else {
        return Ok(());
    };
    for (variable, arg) in sentence.args() {
        let row = message.variables.iter().find(|(name, _)| name == variable);
        if let (Arg::Text(found), Some((_, Variable::Choice(forms)))) = (arg, row)
            && ![found.as_str(), ANY_FORM].iter().any(|form| forms.contains(form))
        {
            return Err(TextError::UnknownForm {
                key: sentence.key(),
                variable,
                found: found.clone(),
                forms: forms.join(", "),
            });
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::super::Message;
    use super::*;

    fn filled(message: &Message, choice: usize) -> Sentence {
        let args = message
            .variables
            .iter()
            .map(|(name, variable)| {
                let arg = match variable {
                    Variable::Text => Arg::Text("{ $from } 1".to_owned()),
                    Variable::Count => Arg::Count(if choice == 0 { 1 } else { 12_480 }),
                    Variable::Choice(forms) => Arg::Text(forms[choice % forms.len()].to_owned()),
                };
                (*name, arg)
            })
            .collect();
        Sentence::new(message.key, args)
    }

    #[test]
    fn every_sentence_renders_in_every_form_without_a_gap() {
        assert!(!sentence::MESSAGES.is_empty());
        for message in sentence::MESSAGES {
            for choice in 0..12 {
                let text = render(Language::English, &filled(message, choice)).expect(message.key);
                assert!(
                    !text.is_empty() && !text.contains(['\u{2068}', '\u{2069}']),
                    "{}: {text}",
                    message.key
                );
            }
        }
    }

    #[test]
    fn arguments_are_never_read_as_syntax() {
        let said = sentence::vin_check_digit_wrong("{ $found }", "1");
        assert_eq!(render(Language::English, &said).unwrap(), "check digit should be { $found }, found 1");
    }

    #[test]
    fn a_word_without_a_form_is_an_error_unless_any_may_come() {
        assert_eq!(
            render(Language::English, &sentence::page_choice_word("papers", "papers")).unwrap(),
            "papers"
        );
        let strict = render(Language::English, &sentence::gate_done_without("papers", "why"));
        assert!(matches!(strict, Err(TextError::UnknownForm { .. })));
    }

    #[test]
    fn a_missing_argument_is_an_error_and_no_text() {
        let said = Sentence::new("vin-check-digit-wrong", vec![("found", "1".into())]);
        assert!(matches!(render(Language::English, &said), Err(TextError::Unwritable { .. })));
    }

    #[test]
    fn an_unknown_key_is_an_error() {
        let said = Sentence::new("no-such-key", Vec::new());
        assert!(matches!(render(Language::English, &said), Err(TextError::MissingKey { .. })));
    }

    #[test]
    fn a_broken_file_is_an_error() {
        let twice = load(Language::English, "a = b\na = c\n");
        assert!(matches!(twice, Err(TextError::BrokenFile { .. })));
        let junk = load(Language::English, "a = { $\n");
        assert!(matches!(junk, Err(TextError::BrokenFile { .. })));
    }

    #[test]
    fn a_sentence_can_stand_inside_another() {
        let said = sentence::vin_check_digit_wrong(sentence::vin_spaces_removed(), "1");
        assert_eq!(
            render(Language::English, &said).unwrap(),
            "check digit should be spaces removed, found 1"
        );
    }
}
