//! The exchange equipment was connected.

use super::words::{Answer, HookupPlace};
use super::{Kind, Typed};
use crate::text::{Sentence, sentence};
use standpipe_proto::v1;

/// The exchange equipment was connected.
#[derive(Debug, Clone, PartialEq)]
pub struct Hookup {
    /// Where; absent when this version does not know the place.
    pub place: Option<HookupPlace>,
    /// Code of the adapter; empty if none was used.
    pub adapter: String,
    /// Whether the direction of flow was tested before pushing.
    pub direction_tested: Option<Answer>,
    /// Code of the equipment; empty if the bay has only one.
    pub equipment: String,
}

impl Hookup {
    pub(super) fn read(message: &v1::Hookup, _typed: Typed<'_>) -> Self {
        Self {
            place: HookupPlace::read(message.place),
            adapter: message.adapter.trim().to_owned(),
            direction_tested: Answer::read(message.direction_tested),
            equipment: message.equipment.trim().to_owned(),
        }
    }
}

impl Kind for Hookup {
    const NAME: &'static str = "hookup";

    fn sentence(&self) -> Sentence {
        let place = sentence::hookup_place(self.place.map_or("unknown", HookupPlace::word));
        let tested = self.direction_tested.map_or("not-stated", Answer::word);
        let details = [
            (!self.equipment.is_empty()).then(|| sentence::hookup_equipment(&self.equipment)),
            (!self.adapter.is_empty()).then(|| sentence::hookup_adapter(&self.adapter)),
            Some(sentence::hookup_direction(tested)),
        ];
        sentence::hookup(details.into_iter().flatten().collect::<Vec<_>>(), place)
    }

    super::of!(Hookup);
}
