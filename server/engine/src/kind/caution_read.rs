//! A group of cautions was read and acknowledged. The texts stand in [`crate::caution`].

use super::words::CautionGroup;
use super::{Kind, Typed};
use crate::text::{Sentence, sentence};
use standpipe_proto::v1;

/// A group of cautions was read.
#[derive(Debug, Clone, PartialEq)]
pub struct CautionRead {
    /// Which group; absent when this version does not know it.
    pub group: Option<CautionGroup>,
}

impl CautionRead {
    pub(super) fn read(message: &v1::CautionRead, _typed: Typed<'_>) -> Self {
        Self { group: CautionGroup::read(message.group) }
    }
}

impl Kind for CautionRead {
    const NAME: &'static str = "caution_read";

    fn sentence(&self) -> Sentence {
        sentence::caution_read(sentence::caution_group(self.group.map_or("unknown", CautionGroup::word)))
    }

    super::of!(CautionRead);
}
