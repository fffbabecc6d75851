//! A person decided an open question, by name.

use super::{Kind, Typed};
use crate::text::{Sentence, sentence};
use standpipe_proto::v1;

/// A decision.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Decision {
    /// The open point that is decided, by its key, for example fault-code-undecided.
    pub point: String,
    /// Why, in words, 3 to 400 characters.
    pub reason: String,
}

impl Decision {
    pub(crate) fn read(message: &v1::Decision, _typed: Typed<'_>) -> Self {
        Self { point: message.point.clone(), reason: message.reason.trim().to_owned() }
    }

    /// The open point in words.
    #[must_use]
    pub fn point_in_words(&self) -> String {
        super::key_in_words(&self.point)
    }
}

impl Kind for Decision {
    const NAME: &'static str = "decision";

    fn sentence(&self) -> Sentence {
        sentence::decision(self.point_in_words(), &self.reason)
    }

    super::of!(Decision);
}
