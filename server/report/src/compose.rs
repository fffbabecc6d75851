//! Sentences of the view into drawable words, and words into the usual strips.
//!
//! The one place where a sentence becomes text: signs that came with an argument and cannot be drawn are
//! spelled out with a warning, signs of our own sentences are refused. Called by every section.

use std::collections::BTreeSet;

use standpipe_engine::text::{Arg, Language, Sentence, render};

use crate::closeness::Closeness;
use crate::error::ReportError;
use crate::font::Faces;
use crate::paragraph::{Span, Style};
use crate::stated::{StatedText, can_be_drawn};
use crate::strip::{Strip, heading, list_point, paragraph};

/// Turns sentences into strips for one record.
pub(crate) struct Composer<'a> {
    faces: &'a Faces,
    language: Language,
    stated: StatedText<'a>,
    closeness: Closeness,
}

impl<'a> Composer<'a> {
    /// Starts a record without a warning.
    pub(crate) fn new(faces: &'a Faces, language: Language) -> Composer<'a> {
        Composer { faces, language, stated: StatedText::new(faces), closeness: Closeness::USUAL }
    }

    /// The faces of the record.
    pub(crate) fn faces(&self) -> &'a Faces {
        self.faces
    }

    /// How closely the strips made from now on will be moved together.
    pub(crate) fn closeness(&self) -> Closeness {
        self.closeness
    }

    /// Sets how closely the strips made from now on will be moved together.
    pub(crate) fn set_closeness(&mut self, closeness: Closeness) {
        self.closeness = closeness;
    }

    /// Width in points to lay strips out in.
    pub(crate) fn column(&self) -> f64 {
        self.closeness.column()
    }

    /// The warnings of this record.
    pub(crate) fn into_warnings(self) -> Vec<String> {
        self.stated.into_warnings()
    }

    /// What people wrote, drawable.
    pub(crate) fn stated(&mut self, text: &str) -> String {
        self.stated.drawable(text)
    }

    /// A sentence in words, drawable.
    ///
    /// # Errors
    /// [`ReportError::Sentence`] if it has no words, [`ReportError::MissingGlyph`] if the words are ours and
    /// hold a character without a glyph.
    pub(crate) fn say(&mut self, sentence: &Sentence) -> Result<String, ReportError> {
        let words = render(self.language, sentence).map_err(|error| ReportError::Sentence {
            key: sentence.key().to_owned(),
            reason: error.to_string(),
        })?;
        let undrawable: BTreeSet<char> =
            words.chars().filter(|character| !can_be_drawn(self.faces, *character)).collect();
        if !undrawable.is_empty() {
            let mut brought = BTreeSet::new();
            collect_stated(sentence, &mut brought);
            if let Some(ours) = undrawable.difference(&brought).next() {
                let text = words.chars().take(80).collect();
                return Err(ReportError::MissingGlyph { code: u32::from(*ours), text });
            }
        }
        Ok(self.stated.drawable(&words))
    }

    /// A heading of a section.
    ///
    /// # Errors
    /// As [`Composer::say`].
    pub(crate) fn heading(&mut self, title: &Sentence) -> Result<Vec<Strip>, ReportError> {
        let words = self.say(title)?;
        heading(self.faces, &words, self.column(), self.closeness.above_heading())
    }

    /// Sentences after each other in one paragraph; those for which `strong` says so in bold.
    ///
    /// # Errors
    /// As [`Composer::say`].
    pub(crate) fn running(
        &mut self,
        sentences: &[Sentence],
        strong: impl Fn(&Sentence) -> bool,
    ) -> Result<Vec<Strip>, ReportError> {
        let mut spans = Vec::new();
        for sentence in sentences {
            if !spans.is_empty() {
                spans.push(Span::text(" "));
            }
            let style = if strong(sentence) { Style::STRONG } else { Style::TEXT };
            spans.push(Span::new(self.say(sentence)?, style));
        }
        paragraph(self.faces, &spans, self.column())
    }

    /// Sentences below each other, each with a dash.
    ///
    /// # Errors
    /// As [`Composer::say`].
    pub(crate) fn list(&mut self, sentences: &[Sentence]) -> Result<Vec<Strip>, ReportError> {
        let mut strips = Vec::new();
        for sentence in sentences {
            let words = self.say(sentence)?;
            strips.extend(list_point(self.faces, &[Span::text(words)], self.column())?);
        }
        Ok(strips)
    }

    /// A section of a heading and what follows; nothing at all if nothing follows.
    ///
    /// # Errors
    /// As [`Composer::say`].
    pub(crate) fn section(&mut self, title: &Sentence, body: Vec<Strip>) -> Result<Vec<Strip>, ReportError> {
        if body.is_empty() {
            return Ok(body);
        }
        let mut strips = self.heading(title)?;
        strips.extend(body);
        Ok(strips)
    }

    /// A sentence as words of a cell; no sentence, no words.
    ///
    /// # Errors
    /// As [`Composer::say`].
    pub(crate) fn cell(
        &mut self,
        sentence: Option<&Sentence>,
        style: Style,
    ) -> Result<Vec<Span>, ReportError> {
        match sentence {
            Some(sentence) => Ok(vec![Span::new(self.say(sentence)?, style)]),
            None => Ok(Vec::new()),
        }
    }
}

/// The characters that came with the arguments of a sentence, at any depth.
fn collect_stated(sentence: &Sentence, brought: &mut BTreeSet<char>) {
    for (_, arg) in sentence.args() {
        match arg {
            Arg::Text(text) => brought.extend(text.chars()),
            Arg::Count(_) => {}
            Arg::Sentence(inner) => collect_stated(inner, brought),
            Arg::List(inner) => inner.iter().for_each(|said| collect_stated(said, brought)),
        }
    }
}
