//! What the page takes back or has signed.

use super::Bay;
use axum::http::StatusCode;

/// Takes a correction.
pub(super) async fn correct(_bay: Bay) -> StatusCode {
    StatusCode::NOT_IMPLEMENTED
}

/// Takes a signature.
pub(super) async fn sign(_bay: Bay) -> StatusCode {
    StatusCode::NOT_IMPLEMENTED
}
