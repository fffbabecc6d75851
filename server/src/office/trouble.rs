//! What goes wrong at a page, as a page of one sentence with the way on.

use crate::error::ServerError;
use crate::status::Cause;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use maud::{DOCTYPE, html};
use standpipe_store::StoreError;
use tonic::Code;

/// Why there is no page.
#[derive(Debug, thiserror::Error)]
pub(super) enum Trouble {
    /// There is no such page.
    #[error("There is no such page here; go back to the jobs.")]
    NoPage,
    /// The form is not one of ours, or one of a session that has ended.
    #[error(
        "The form was not filled in on a page of this session; go back, load the page again and send it once more."
    )]
    ForeignForm,
    /// More was typed than any form takes.
    #[error("The form has more than {} KiB; go back and shorten what was typed.", super::FORM_BYTES_MAX / 1024)]
    FormTooLarge,
    /// The server was called by a name that is not its own.
    #[error("The office pages answer at this machine's own name only; use http://localhost and the port.")]
    ForeignName,
    /// More pages are kept up to date than a session may have.
    #[error("Too many pages are open at the same time; close some of them.")]
    TooManyPages,
    /// The form was sent before with other content.
    #[error(
        "This was not stated: the same form was sent before with something else in it; go back, load the page again and send it once more."
    )]
    SentBefore,
    /// Nobody is signed in any more.
    #[error("You are signed out; sign in and send it once more.")]
    SignedOut,
    /// As at any call.
    #[error("{0}.")]
    Call(Cause),
    /// As at any verb.
    #[error("{0}.")]
    Verb(#[from] ServerError),
}

impl From<Cause> for Trouble {
    fn from(cause: Cause) -> Self {
        Self::Call(cause)
    }
}

impl From<StoreError> for Trouble {
    fn from(error: StoreError) -> Self {
        Self::Call(error.into())
    }
}

impl Trouble {
    fn status(&self) -> StatusCode {
        match self {
            Self::NoPage => StatusCode::NOT_FOUND,
            Self::FormTooLarge => StatusCode::PAYLOAD_TOO_LARGE,
            Self::ForeignForm | Self::SignedOut => StatusCode::FORBIDDEN,
            Self::SentBefore => StatusCode::CONFLICT,
            Self::TooManyPages => StatusCode::TOO_MANY_REQUESTS,
            Self::ForeignName => StatusCode::MISDIRECTED_REQUEST,
            Self::Call(cause) => match cause.row().0 {
                Code::NotFound => StatusCode::NOT_FOUND,
                Code::InvalidArgument => StatusCode::BAD_REQUEST,
                Code::PermissionDenied => StatusCode::FORBIDDEN,
                Code::Unavailable | Code::ResourceExhausted => StatusCode::SERVICE_UNAVAILABLE,
                Code::FailedPrecondition | Code::AlreadyExists | Code::Aborted => StatusCode::CONFLICT,
                _ => StatusCode::INTERNAL_SERVER_ERROR,
            },
            Self::Verb(_) => StatusCode::INTERNAL_SERVER_ERROR,
        }
    }
}

impl IntoResponse for Trouble {
    fn into_response(self) -> Response {
        let status = self.status();
        let sentence = match &self {
            // What a verb says may name paths of the machine; that is for its log.
            Self::Verb(error) => Trouble::Call(Cause::internal("answering a page", error)).to_string(),
            other => other.to_string(),
        };
        let sentence = capital(&sentence);
        let page = html! {
            (DOCTYPE)
            html lang="en" {
                head {
                    meta charset="utf-8";
                    meta name="viewport" content="width=device-width, initial-scale=1";
                    title { "Not done" }
                    link rel="stylesheet" href="/office.css";
                }
                body { main { h1 { "Not done" } p { (sentence) } p { a href="/" { "Jobs" } } } }
            }
        };
        (status, page).into_response()
    }
}

/// A sentence with a capital letter at its beginning.
pub(super) fn capital(sentence: &str) -> String {
    let mut letters = sentence.chars();
    letters.next().map(|first| first.to_uppercase().chain(letters).collect()).unwrap_or_default()
}
