//! The vehicle was driven: ticks of the driver, an impression and no measurement.

use super::words::{DriveTick, Moment, Warmth};
use super::{Kind, Typed};
use crate::text::{Sentence, sentence};
use standpipe_proto::v1;

/// A drive.
#[derive(Debug, Clone, PartialEq)]
pub struct RoadTest {
    /// Before or after the service; absent when this version does not know it.
    pub moment: Option<Moment>,
    /// What was felt.
    pub ticks: Vec<DriveTick>,
    /// The gear into which it was felt, 1 to 12; absent if none was noted.
    pub gear: Option<i32>,
    /// Whether the transmission was cold or warm.
    pub warmth: Option<Warmth>,
}

impl RoadTest {
    pub(super) fn read(message: &v1::RoadTest, _typed: Typed<'_>) -> Self {
        Self {
            moment: Moment::read(message.moment),
            ticks: message.ticks.iter().filter_map(|tick| DriveTick::read(*tick)).collect(),
            gear: message.gear,
            warmth: Warmth::read(message.warmth),
        }
    }

    /// What was felt, with gear and warmth, in words.
    #[must_use]
    pub fn seen(&self) -> Sentence {
        let mut seen: Vec<Sentence> =
            self.ticks.iter().map(|tick| sentence::drive_tick(tick.word())).collect();
        if seen.is_empty() {
            seen.push(sentence::drive_tick("unknown"));
        }
        seen.extend(self.gear.map(|gear| sentence::drive_gear(gear.to_string())));
        seen.extend(self.warmth.map(|warmth| sentence::warmth(warmth.word())));
        sentence::drive_seen(seen)
    }
}

impl Kind for RoadTest {
    const NAME: &'static str = "road_test";

    fn sentence(&self) -> Sentence {
        let moment = sentence::moment(self.moment.map_or("unknown", Moment::word));
        sentence::road_test(moment, self.seen())
    }

    super::of!(RoadTest);
}
