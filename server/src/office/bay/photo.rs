//! Photos that the page sends.

use super::Bay;
use axum::http::StatusCode;

/// Takes a photo.
pub(super) async fn take(_bay: Bay) -> StatusCode {
    StatusCode::NOT_IMPLEMENTED
}
