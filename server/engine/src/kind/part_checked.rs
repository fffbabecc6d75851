//! A code on a container, a part or the transmission was compared with the settled variant.

use super::words::{Part, ReadBy};
use super::{Kind, Typed};
use crate::text::{Sentence, sentence};
use standpipe_proto::v1;

/// A code was compared.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PartChecked {
    /// What was looked at; absent when this version does not know it.
    pub part: Option<Part>,
    /// The code or name on it, as read.
    pub code: String,
    /// Lot number; empty if there is none.
    pub lot: String,
    /// How it was read.
    pub read_by: Option<ReadBy>,
}

impl PartChecked {
    pub(super) fn read(message: &v1::PartChecked, _typed: Typed<'_>) -> Self {
        Self {
            part: Part::read(message.part),
            code: message.code.trim().to_owned(),
            lot: message.lot.trim().to_owned(),
            read_by: ReadBy::read(message.read_by),
        }
    }
}

impl Kind for PartChecked {
    const NAME: &'static str = "part_checked";

    fn sentence(&self) -> Sentence {
        let part = sentence::part(self.part.map_or("unknown", Part::word));
        if self.lot.is_empty() {
            sentence::part_checked(&self.code, part)
        } else {
            sentence::part_checked_lot(&self.code, &self.lot, part)
        }
    }

    super::of!(PartChecked);
}
