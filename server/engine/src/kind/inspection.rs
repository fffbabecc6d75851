//! A part was looked at from outside.

use super::words::{InspectedPart, InspectionFound};
use super::{Kind, Typed};
use crate::text::{Sentence, sentence};
use standpipe_proto::v1;

/// A look at a part.
#[derive(Debug, Clone, PartialEq)]
pub struct Inspection {
    /// What was looked at; absent when this version does not know the part.
    pub part: Option<InspectedPart>,
    /// What was found; absent when this version does not know it.
    pub found: Option<InspectionFound>,
}

impl Inspection {
    pub(super) fn read(message: &v1::Inspection, _typed: Typed<'_>) -> Self {
        Self { part: InspectedPart::read(message.part), found: InspectionFound::read(message.found) }
    }
}

impl Kind for Inspection {
    const NAME: &'static str = "inspection";

    fn sentence(&self) -> Sentence {
        let found = sentence::inspection_found(self.found.map_or("unknown", InspectionFound::word));
        let part = sentence::inspected_part(self.part.map_or("unknown", InspectedPart::word));
        sentence::inspection(found, part)
    }

    super::of!(Inspection);
}
