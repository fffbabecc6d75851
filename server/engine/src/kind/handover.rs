//! The vehicle and its record were handed over.

use super::{Kind, Typed};
use crate::text::{Sentence, sentence};
use standpipe_proto::v1;

/// Vehicle and record were handed over.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Handover {
    /// Edition of the record that was handed over, from 1.
    pub edition: i32,
}

impl Handover {
    pub(super) fn read(message: &v1::Handover, _typed: Typed<'_>) -> Self {
        Self { edition: message.edition }
    }
}

impl Kind for Handover {
    const NAME: &'static str = "handover";

    fn sentence(&self) -> Sentence {
        sentence::handover(self.edition.to_string())
    }

    super::of!(Handover);
}
