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
    /// Each screw in the order in which it was tightened, from a tool that records; empty from a click wrench.
    pub screws: Vec<TightenedScrew>,
}

/// One screw as a recording tool kept it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TightenedScrew {
    /// Place round the ring, counted from 1.
    pub place: u32,
    /// Torque that it was tightened with, in N·m.
    pub newton_metres: f64,
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
            screws: message
                .screws
                .iter()
                .filter_map(|screw| {
                    let place = u32::try_from(screw.place).ok()?;
                    Some(TightenedScrew { place, newton_metres: screw.torque_newton_metres })
                })
                .collect(),
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

    /// How many are new, in words: '13 of 13 new', or that screws were used again.
    #[must_use]
    pub fn new_in_words(&self) -> Sentence {
        let (all, new) = (self.screw_count.to_string(), self.new_screw_count.to_string());
        match self.reused_count() {
            0 => sentence::screws_new(all, new),
            _ => sentence::screws_used_again(all, new),
        }
    }

    /// Torque, order and tool, in words.
    #[must_use]
    pub fn how(&self) -> Vec<Sentence> {
        let mut how = vec![
            sentence::torque_set(self.torque.as_read()),
            sentence::screw_order(self.order_kept.map_or("not-stated", Answer::word)),
        ];
        how.extend((!self.tool.is_empty()).then(|| sentence::tool(&self.tool)));
        let rows = u64::try_from(self.screws.len()).unwrap_or_default();
        how.extend((rows > 0).then(|| sentence::screws_recorded(rows)));
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
