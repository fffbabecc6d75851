//! New parts were fitted: all of the kit, except those named.

use super::words::ServicePart;
use super::{Kind, Typed};
use crate::text::{Sentence, sentence};
use standpipe_proto::v1;

/// New parts were fitted.
#[derive(Debug, Clone, PartialEq)]
pub struct PartFitted {
    /// Code of the kit; empty where single parts were fitted.
    pub kit: String,
    /// What was fitted new, by name. With a kit and nothing named it is all of the kit.
    pub fitted: Vec<ServicePart>,
    /// What was left out or used again, although the kit has it.
    pub excepted: Vec<ServicePart>,
    /// Lot number on the kit; empty if there is none.
    pub lot: String,
}

impl PartFitted {
    pub(super) fn read(message: &v1::PartFitted, _typed: Typed<'_>) -> Self {
        let parts = |numbers: &[i32]| numbers.iter().filter_map(|part| ServicePart::read(*part)).collect();
        Self {
            kit: message.kit.trim().to_owned(),
            fitted: parts(&message.fitted),
            excepted: parts(&message.excepted),
            lot: message.lot.trim().to_owned(),
        }
    }

    /// Whether the part is named as new. A kit of which nothing is named says nothing of one part.
    #[must_use]
    pub fn is_new(&self, part: ServicePart) -> bool {
        self.fitted.contains(&part) && !self.excepted.contains(&part)
    }

    /// Kit code and lot, a word each; empty if neither is stated.
    #[must_use]
    pub fn codes(&self) -> Vec<Sentence> {
        let kit = (!self.kit.is_empty()).then(|| sentence::kit_code(&self.kit));
        let lot = (!self.lot.is_empty()).then(|| sentence::kit_lot(&self.lot));
        kit.into_iter().chain(lot).collect()
    }
}

/// Parts as words, in the order in which they were named.
pub(crate) fn in_words(parts: &[ServicePart]) -> Vec<Sentence> {
    parts.iter().map(|part| sentence::service_part(part.word())).collect()
}

impl Kind for PartFitted {
    const NAME: &'static str = "part_fitted";

    fn sentence(&self) -> Sentence {
        let (fitted, excepted) = (in_words(&self.fitted), in_words(&self.excepted));
        let mut details = self.codes();
        let what = match (self.kit.is_empty(), excepted.is_empty()) {
            (false, true) => sentence::kit_all(),
            (false, false) => sentence::kit_except(excepted),
            (true, true) => sentence::parts_new(fitted.clone()),
            (true, false) if fitted.is_empty() => sentence::parts_excepted(excepted),
            (true, false) => sentence::parts_new_except(excepted, fitted.clone()),
        };
        if !self.kit.is_empty() {
            details.extend(fitted);
        }
        if details.is_empty() {
            sentence::part_fitted(what)
        } else {
            sentence::part_fitted_with(details, what)
        }
    }

    super::of!(PartFitted);
}
