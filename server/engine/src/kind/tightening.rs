//! A group of screws was tightened: one entry a group, since a click wrench gives no reading.

use super::torque::Torque;
use super::words::{Answer, ScrewGroup};
use super::{Kind, Typed};
use crate::text::{Sentence, sentence};
use standpipe_proto::v1;

/// A group of screws was tightened.
#[derive(Debug, Clone, PartialEq)]
pub struct Tightening {
    /// Which screws; absent when this version does not know the group.
    pub group: Option<ScrewGroup>,
    /// How many were tightened, 1 to 60.
    pub screw_count: i32,
    /// How many of them are new, 0 to 60.
    pub new_screw_count: i32,
    /// Torque set on the tool.
    pub torque: Torque,
    /// Whether the order was kept.
    pub order_kept: Option<Answer>,
    /// Code of the tool; empty if not stated.
    pub tool: String,
}

impl Tightening {
    pub(super) fn read(message: &v1::Tightening, typed: Typed<'_>) -> Self {
        Self {
            group: ScrewGroup::read(message.group),
            screw_count: message.screw_count,
            new_screw_count: message.new_screw_count,
            torque: Torque::new(message.torque_newton_metres, typed.text("torque_newton_metres")),
            order_kept: Answer::read(message.order_kept),
            tool: message.tool.trim().to_owned(),
        }
    }

    /// How many screws were used again; 0 if all are new.
    #[must_use]
    pub fn reused_count(&self) -> i32 {
        self.screw_count.saturating_sub(self.new_screw_count).max(0)
    }

    /// The group in words.
    #[must_use]
    pub fn group_in_words(&self) -> Sentence {
        sentence::screw_group(self.group.map_or("unknown", ScrewGroup::word))
    }

    /// How many are new, in words: '13 of 13 new'.
    #[must_use]
    pub fn new_in_words(&self) -> Sentence {
        sentence::screws_new(self.screw_count.to_string(), self.new_screw_count.to_string())
    }

    /// Torque, order and tool, in words.
    #[must_use]
    pub fn how(&self) -> Vec<Sentence> {
        let mut how = vec![
            sentence::torque_set(self.torque.as_read()),
            sentence::screw_order(self.order_kept.map_or("not-stated", Answer::word)),
        ];
        how.extend((!self.tool.is_empty()).then(|| sentence::tool(&self.tool)));
        how
    }
}

impl Kind for Tightening {
    const NAME: &'static str = "tightening";

    fn sentence(&self) -> Sentence {
        sentence::tightening(self.group_in_words(), self.how(), self.new_in_words())
    }

    super::of!(Tightening);
}
