//! Sentences by key, rendered purely from `text/en.ftl`.
//!
//! The engine says what it means as [`Sentence`]; only [`render`] turns it into words. A sentence is made by
//! one of the functions in [`sentence`], which the build makes from the file, so that a key or an argument
//! that is missing does not compile. Nothing here formats a number: that is [`number`]'s, and callers pass the
//! finished text. Called by the engine's views and by whoever prints their sentences.

pub mod number;
mod render;

pub use render::{Language, TextError, render, source};

/// One function for each key of `text/en.ftl`, with its variables in alphabetical order.
#[allow(clippy::too_many_arguments)]
pub mod sentence {
    use super::{Arg, Message, Sentence, Variable};

    include!(concat!(env!("OUT_DIR"), "/sentences.rs"));
}

/// Something to say: the key of a sentence and what stands in its places.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Sentence {
    key: &'static str,
    args: Vec<(&'static str, Arg)>,
}

impl Sentence {
    // Only the generated functions make sentences; that is what keeps keys and arguments right.
    fn new(key: &'static str, args: Vec<(&'static str, Arg)>) -> Self {
        Self { key, args }
    }

    /// The key in `text/en.ftl`.
    #[must_use]
    pub fn key(&self) -> &'static str {
        self.key
    }

    /// Whether the sentence, or one that stands in it, has a key that is wanted.
    #[must_use]
    pub fn holds(&self, wanted: impl Fn(&str) -> bool + Copy) -> bool {
        wanted(self.key)
            || self.args.iter().any(|(_, arg)| match arg {
                Arg::Sentence(inner) => inner.holds(wanted),
                Arg::List(inner) => inner.iter().any(|inner| inner.holds(wanted)),
                Arg::Text(_) | Arg::Count(_) => false,
            })
    }

    /// The same with nobody named in it, by code or by name.
    #[must_use]
    pub fn without_persons(&self) -> Self {
        if ["person-code", "person-name"].contains(&self.key) {
            return sentence::person_unnamed();
        }
        let arg = |arg: &Arg| match arg {
            Arg::Sentence(inner) => Arg::Sentence(Box::new(inner.without_persons())),
            Arg::List(inner) => Arg::List(inner.iter().map(Self::without_persons).collect()),
            Arg::Text(_) | Arg::Count(_) => arg.clone(),
        };
        Self { key: self.key, args: self.args.iter().map(|(name, of)| (*name, arg(of))).collect() }
    }

    /// The variables with what stands for them, in alphabetical order.
    #[must_use]
    pub fn args(&self) -> &[(&'static str, Arg)] {
        &self.args
    }
}

/// Every sentence whose key begins so, with `{name}` in the place of each variable: for a program elsewhere that puts
/// its own words there. None that chooses a form is among them.
#[must_use]
pub fn templates(beginning: &str) -> Vec<Sentence> {
    let plain = |message: &&Message| {
        message.key.starts_with(beginning)
            && message.variables.iter().all(|(_, variable)| matches!(variable, Variable::Text))
    };
    let open = |name: &'static str| (name, Arg::Text(format!("{{{name}}}")));
    let messages = sentence::MESSAGES.iter().filter(plain);
    messages
        .map(|message| {
            Sentence::new(message.key, message.variables.iter().map(|(name, _)| open(name)).collect())
        })
        .collect()
}

/// What stands in a place of a sentence.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Arg {
    /// Text that is formatted already, or the word that chooses a form.
    Text(String),
    /// A count that chooses the plural form.
    Count(u64),
    /// Another sentence, rendered in the same language.
    Sentence(Box<Sentence>),
    /// Several sentences, rendered in the same language and set apart by commas.
    List(Vec<Sentence>),
}

impl From<Vec<Sentence>> for Arg {
    fn from(sentences: Vec<Sentence>) -> Self {
        Self::List(sentences)
    }
}

impl From<&str> for Arg {
    fn from(text: &str) -> Self {
        Self::Text(text.to_owned())
    }
}

impl From<String> for Arg {
    fn from(text: String) -> Self {
        Self::Text(text)
    }
}

impl From<&String> for Arg {
    fn from(text: &String) -> Self {
        Self::Text(text.clone())
    }
}

impl From<char> for Arg {
    fn from(letter: char) -> Self {
        Self::Text(letter.to_string())
    }
}

impl From<u64> for Arg {
    fn from(count: u64) -> Self {
        Self::Count(count)
    }
}

impl From<Sentence> for Arg {
    fn from(sentence: Sentence) -> Self {
        Self::Sentence(Box::new(sentence))
    }
}

/// One sentence of the file and the variables it needs.
#[derive(Clone, Copy, Debug)]
pub struct Message {
    /// Key in the file.
    pub key: &'static str,
    /// Variables in alphabetical order.
    pub variables: &'static [(&'static str, Variable)],
}

/// What a variable of a sentence is used for.
#[derive(Clone, Copy, Debug)]
pub enum Variable {
    /// Printed as it comes.
    Text,
    /// A count that chooses the plural form.
    Count,
    /// A word that chooses one of these forms.
    Choice(&'static [&'static str]),
}
