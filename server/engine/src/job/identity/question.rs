//! An open question of identity, and whether a named person decided it.

use crate::job::fold::{Folded, Stated};
use crate::kind::decision::Decision;
use crate::text::Sentence;

/// What keeps the variant from counting as settled.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Question {
    /// Key of the point, by which a decision names it.
    pub key: &'static str,
    /// In words, with what to do.
    pub text: Sentence,
    /// Place in the journal of what raised it; a decision counts when it was made afterwards. Absent for a question
    /// that is answered by doing and never decided.
    pub raised_by: Option<u64>,
}

impl Question {
    /// A question that nobody decides: it is answered by reading or stating what is missing.
    pub(super) fn to_do(key: &'static str, text: Sentence) -> Self {
        Self { key, text, raised_by: None }
    }

    /// A question that a named person may decide.
    pub(super) fn to_decide(key: &'static str, text: Sentence, raised_by: u64) -> Self {
        Self { key, text, raised_by: Some(raised_by) }
    }

    /// The decision that counts.
    pub(super) fn decision<'a>(&self, folded: &'a Folded) -> Option<(&'a Stated, &'a Decision)> {
        let raised = self.raised_by?;
        let by = folded.facts.iter().find(|stated| stated.seq == raised);
        folded.each::<Decision>().rev().find(|(stated, decision)| {
            // What is no fact of the job, such as a newer catalogue, has its place in the journal alone.
            let afterwards = by.map_or(stated.seq > raised, |by| stated.is_after(by));
            decision.point == self.key && afterwards
        })
    }
}
