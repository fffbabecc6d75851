//! What goes wrong at a page, as a page of one sentence with the way on.

use super::language::{language, say};
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
    #[error("{}", say!(page_there_is_no_such_page_here))]
    NoPage,
    /// The form is not one of ours, or one of a session that has ended.
    #[error("{}", say!(page_the_form_was_not_filled_in))]
    ForeignForm,
    /// More was typed than any form takes.
    #[error("{}", say!(page_the_form_has_more_than_kib, (super::FORM_BYTES_MAX / 1024).to_string()))]
    FormTooLarge,
    /// The server was called by a name that is not its own.
    #[error("{}", say!(page_the_office_pages_answer_at_this))]
    ForeignName,
    /// More pages are kept up to date than a session may have.
    #[error("{}", say!(page_too_many_pages_are_open_at))]
    TooManyPages,
    /// The form was sent before with other content.
    #[error("{}", say!(page_this_was_not_stated_the_same))]
    SentBefore,
    /// Nobody is signed in any more.
    #[error("{}", say!(page_you_are_signed_out_sign_in))]
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
            html lang=(language().code()) {
                head {
                    meta charset="utf-8";
                    meta name="viewport" content="width=device-width, initial-scale=1";
                    title { (say!(page_not_done)) }
                    link rel="stylesheet" href="/office.css";
                }
                body { main { h1 { (say!(page_not_done)) } p { (sentence) } p { a href="/" { (say!(page_jobs)) } } } }
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
