//! What goes wrong with what the page of the bay sends, as JSON of one sentence: the script shows it, and knows from the
//! status whether the answer is asked again, kept for later, or waits for the tablet to join.

use crate::status::Cause;
use axum::http::StatusCode;
use axum::http::header::{CONTENT_TYPE, RETRY_AFTER};
use axum::response::{IntoResponse, Response};
use standpipe_store::StoreError;
use tonic::Code;

/// A page that is told to wait asks again after so many seconds.
const ASK_AGAIN_SECONDS: &str = "2";

/// Why nothing was stated.
#[derive(Debug, thiserror::Error)]
pub(super) enum Refused {
    /// There is no token, or it is not good any more.
    #[error(
        "This tablet is not joined, or its right was taken back; join it again with a new code, which the shop server prints with: standpipe-server station code NAME"
    )]
    NotJoined,
    /// The key of the page is missing or another one.
    #[error("This was not sent by a page of this tablet; reload the page and answer again")]
    ForeignPage,
    /// Somebody else is signed in than the answer names.
    #[error("The answer is by '{named}', but {signed_in} is signed in here; sign in as who answers")]
    OtherPerson {
        /// As sent.
        named: String,
        /// Who is signed in.
        signed_in: String,
    },
    /// Something that was sent cannot be taken: the field, or nothing, and the sentence.
    #[error("{sentence}")]
    Unfit {
        /// The field that is asked again; empty if it is none alone.
        field: String,
        /// What is wrong with it.
        sentence: String,
    },
    /// As at any call.
    #[error("{0}")]
    Call(#[from] Cause),
}

impl From<StoreError> for Refused {
    fn from(error: StoreError) -> Self {
        Self::Call(error.into())
    }
}

impl Refused {
    fn status(&self) -> StatusCode {
        match self {
            Self::NotJoined => StatusCode::UNAUTHORIZED,
            Self::ForeignPage | Self::OtherPerson { .. } => StatusCode::FORBIDDEN,
            // Of this one answer; the tablet goes on with the next.
            Self::Unfit { .. }
            | Self::Call(
                Cause::PinNotGood | Cause::KindNotPermitted { .. } | Cause::KindNotOfStation { .. },
            ) => StatusCode::UNPROCESSABLE_ENTITY,
            Self::Call(cause) => match cause.row().0 {
                Code::InvalidArgument | Code::OutOfRange => StatusCode::UNPROCESSABLE_ENTITY,
                Code::NotFound => StatusCode::NOT_FOUND,
                Code::Unauthenticated => StatusCode::UNAUTHORIZED,
                Code::PermissionDenied => StatusCode::FORBIDDEN,
                Code::AlreadyExists | Code::FailedPrecondition | Code::Aborted => StatusCode::CONFLICT,
                _ => StatusCode::SERVICE_UNAVAILABLE,
            },
        }
    }

    fn field(&self) -> &str {
        match self {
            Self::Unfit { field, .. } => field,
            Self::Call(Cause::PinNotGood) => "pin",
            // The answer waits for whoever gave it.
            Self::OtherPerson { .. } => "person",
            _ => "",
        }
    }
}

impl IntoResponse for Refused {
    fn into_response(self) -> Response {
        let status = self.status();
        let sentence = super::super::trouble::capital(&format!("{self}."));
        let body = serde_json::json!({ "sentence": sentence, "field": self.field() }).to_string();
        let kind = (CONTENT_TYPE, "application/json");
        match status {
            StatusCode::SERVICE_UNAVAILABLE => {
                (status, [kind, (RETRY_AFTER, ASK_AGAIN_SECONDS)], body).into_response()
            }
            status => (status, [kind], body).into_response(),
        }
    }
}
