//! Answers of the page become entries.

use super::Bay;
use axum::http::StatusCode;

/// Takes one answer.
pub(super) async fn state(_bay: Bay) -> StatusCode {
    StatusCode::NOT_IMPLEMENTED
}
