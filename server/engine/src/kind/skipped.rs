//! A step was left out, with its reason.

use super::words::SkipReason;
use super::{Kind, Typed};
use crate::text::{Sentence, sentence};
use standpipe_proto::v1;

/// Steps that have a name in words; every other one is called what it is stated as, since any name may be stated.
pub(crate) const NAMED: [&str; 23] = [
    "odometer",
    "vin",
    "variant",
    "codes-before",
    "drive-before",
    "sample-before",
    "sample-after",
    "fluid",
    "filter",
    "equipment-contents",
    "hookup",
    "exchange",
    "pan",
    "pan-seen",
    "old-filter",
    "fitted",
    "screws",
    "refill",
    "level-added",
    "codes-after",
    "drive-after",
    "waste",
    "closing",
];

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
        sentence::step_name(super::key_in_words(&self.step), &self.step)
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::{Language, render};

    fn said(step: &str) -> String {
        let skipped = Skipped { step: step.into(), reason: Some(SkipReason::NotSafe) };
        render(Language::English, &skipped.sentence()).unwrap()
    }

    #[test]
    fn every_step_that_can_be_left_out_has_a_name_and_no_other_breaks_a_sentence() {
        for step in NAMED {
            assert_ne!(said(step), said("anything"), "{step}");
        }
        for step in crate::steps::skippable() {
            assert!(NAMED.contains(&step), "{step} has no name");
        }
        assert!(said("lift-locked").contains("lift locked") && said("old-fluid").contains("old fluid"));
    }
}
