//! A step was left out, with its reason.

use super::words::SkipReason;
use super::{Kind, Typed};
use crate::text::{Sentence, sentence};
use standpipe_proto::v1;

/// A step was left out.
#[derive(Debug, Clone, PartialEq)]
pub struct Skipped {
    /// Name of the step, for example road-test-before.
    pub step: String,
    /// Why; absent when this version does not know the reason.
    pub reason: Option<SkipReason>,
}

impl Skipped {
    pub(super) fn read(message: &v1::Skipped, _typed: Typed<'_>) -> Self {
        Self { step: message.step.clone(), reason: SkipReason::read(message.reason) }
    }

    /// The step in words.
    #[must_use]
    pub fn step_in_words(&self) -> Sentence {
        sentence::step_name(super::key_in_words(&self.step), self.step.as_str())
    }

    /// The reason in words.
    #[must_use]
    pub fn reason_in_words(&self) -> Sentence {
        sentence::skip_reason(self.reason.map_or("unknown", SkipReason::word))
    }
}

impl Kind for Skipped {
    const NAME: &'static str = "skipped";

    fn sentence(&self) -> Sentence {
        sentence::skipped(self.reason_in_words(), self.step_in_words())
    }

    super::of!(Skipped);
}
