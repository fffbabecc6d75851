//! The selector was moved through all positions with the engine running.

use super::words::Answer;
use super::{Kind, Typed};
use crate::text::{Sentence, sentence};
use standpipe_proto::v1;

/// The selector was moved through all positions.
#[derive(Debug, Clone, PartialEq)]
pub struct GearCycle {
    /// Code of the person in the driver's seat with the foot on the brake.
    pub driver_person_code: String,
    /// Whether nobody was under the vehicle meanwhile.
    pub nobody_under_vehicle: Option<Answer>,
}

impl GearCycle {
    pub(super) fn read(message: &v1::GearCycle, _typed: Typed<'_>) -> Self {
        Self {
            driver_person_code: message.driver_person_code.clone(),
            nobody_under_vehicle: Answer::read(message.nobody_under_vehicle),
        }
    }
}

impl Kind for GearCycle {
    const NAME: &'static str = "gear_cycle";

    fn sentence(&self) -> Sentence {
        let driver = sentence::person_code(&self.driver_person_code);
        let under = self.nobody_under_vehicle.map_or("not-stated", Answer::word);
        sentence::gear_cycle(driver, sentence::nobody_under(under))
    }

    super::of!(GearCycle);
}
