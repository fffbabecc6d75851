//! Which language a page speaks, and its words by key.
//!
//! A page speaks the language of the workshop's settings. It goes with the answer that is being made, so that no part of
//! a page has to hand it on: [`pass`] sets it around every request. A key that does not exist does not compile.
//! Never here: the words, which stand in the engine's file of sentences.

use super::Office;
use axum::extract::{Request, State};
use axum::middleware::Next;
use axum::response::Response;
use maud::{Markup, html};
use standpipe_engine::text::{Language, Sentence, render};
use std::future::Future;
use std::sync::Arc;

/// The words of a key, with its variables in alphabetical order: `say!(page_jobs)`.
macro_rules! say {
    ($key:ident $(, $variable:expr)* $(,)?) => {
        $crate::office::language::said(&standpipe_engine::text::sentence::$key($($variable),*))
    };
}
pub(super) use say;

/// Words by their key, before it is known in which language they are said.
pub(super) type Words = fn() -> Sentence;

tokio::task_local! {
    static SPOKEN: Language;
}

/// Answers a request in the language of the workshop.
pub(super) async fn pass(State(office): State<Arc<Office>>, request: Request, next: Next) -> Response {
    let language = office.workshop.catalogue().now().revision.workshop().language;
    speaking(language, next.run(request)).await
}

/// Makes an answer in a language.
pub(super) async fn speaking<A>(language: Language, answer: impl Future<Output = A>) -> A {
    SPOKEN.scope(language, answer).await
}

/// The language of the page that is being made.
pub(super) fn language() -> Language {
    SPOKEN.try_with(|language| *language).unwrap_or_default()
}

/// A sentence in the language of the page.
pub(super) fn said(sentence: &Sentence) -> String {
    render(language(), sentence).unwrap_or_else(|error| {
        // A page with a key in it is of more use than none; the log says what is to be mended.
        tracing::error!(%error, "a page shows a key for words");
        sentence.key().to_owned()
    })
}

/// Words in the language of the page.
pub(super) fn word(words: Words) -> String {
    said(&words())
}

/// Stands in a sentence for a piece of markup, by its place among the pieces; see [`with_pieces`].
const PIECE: char = '\u{FFFC}';

/// What stands for a piece of markup in a sentence.
pub(super) fn piece(place: usize) -> String {
    format!("{PIECE}{place}{PIECE}")
}

/// A sentence with its pieces of markup where the language wants them.
pub(super) fn with_pieces(said: &str, pieces: &[Markup]) -> Markup {
    html! {
        @for (at, part) in said.split(PIECE).enumerate() {
            @if at % 2 == 0 { (part) }
            @else if let Some(piece) = part.parse().ok().and_then(|place: usize| pieces.get(place)) { (piece) }
        }
    }
}

/// What stands beside a box: signs of units are the same in every language, words are not.
pub(super) fn unit(unit: &str) -> String {
    match unit {
        "pieces" => say!(page_unit_pieces),
        "months" => say!(page_unit_months),
        sign => sign.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn what_is_put_into_a_sentence_is_never_read_as_markup() {
        let said = speaking(Language::English, async { say!(page_no_job_fits, "<b>") }).await;
        let shown = maud::html! { p { (said) } }.into_string();
        assert_eq!(shown, "<p>No job fits '&lt;b&gt;'.</p>");
    }

    #[test]
    fn pieces_of_markup_stand_where_the_sentence_wants_them() {
        let said = format!("{} before {} & {}", piece(1), piece(0), piece(7));
        let shown = with_pieces(&said, &[html! { b { "0" } }, html! { b { "1" } }]).into_string();
        assert_eq!(shown, "<b>1</b> before <b>0</b> &amp; ");
    }

    #[test]
    fn a_unit_is_a_word_or_a_sign() {
        assert_eq!((unit("pieces").as_str(), unit("N·m").as_str()), ("pieces", "N·m"));
    }
}
