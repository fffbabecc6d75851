//! Conditions were confirmed by a person who looked.

use super::words::Condition;
use super::{Kind, Typed};
use crate::text::{Sentence, sentence};
use standpipe_proto::v1;

/// Conditions were confirmed.
#[derive(Debug, Clone, PartialEq)]
pub struct ConditionConfirmed {
    /// The conditions; those that this version does not know are left out.
    pub conditions: Vec<Condition>,
}

impl ConditionConfirmed {
    pub(super) fn read(message: &v1::ConditionConfirmed, _typed: Typed<'_>) -> Self {
        Self { conditions: message.conditions.iter().filter_map(|number| Condition::read(*number)).collect() }
    }
}

impl Kind for ConditionConfirmed {
    const NAME: &'static str = "condition_confirmed";

    fn sentence(&self) -> Sentence {
        let mut words: Vec<Sentence> =
            self.conditions.iter().map(|condition| sentence::condition(condition.word())).collect();
        if words.is_empty() {
            words.push(sentence::condition("unknown"));
        }
        sentence::condition_confirmed(words)
    }

    super::of!(ConditionConfirmed);
}
