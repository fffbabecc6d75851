//! An answer that counts as an open call of its connection until its last byte is out, or nobody wants it any more.

use super::peer::Underway;
use axum::body::Bytes;
use http_body::{Body, Frame, SizeHint};
use std::pin::Pin;
use std::task::{Context, Poll};
use tonic::Status;

/// The body of an answer.
pub(crate) struct Counted {
    body: tonic::body::Body,
    _underway: Option<Underway>,
}

impl Counted {
    pub(crate) fn new(body: tonic::body::Body, underway: Option<Underway>) -> Self {
        Self { body, _underway: underway }
    }
}

impl Body for Counted {
    type Data = Bytes;
    type Error = Status;

    fn poll_frame(
        self: Pin<&mut Self>,
        context: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Bytes>, Status>>> {
        Pin::new(&mut self.get_mut().body).poll_frame(context)
    }

    fn is_end_stream(&self) -> bool {
        self.body.is_end_stream()
    }

    fn size_hint(&self) -> SizeHint {
        self.body.size_hint()
    }
}
