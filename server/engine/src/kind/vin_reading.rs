//! The vehicle identification number was read: all 17 characters, or the last eight again.

use super::words::VinSource;
use super::{Kind, Typed};
use crate::text::{Sentence, sentence};
use standpipe_proto::v1;

/// A reading of the vehicle identification number.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct VinReading {
    /// What was read.
    pub read: VinText,
    /// Where; absent when this version does not know the place.
    pub source: Option<VinSource>,
}

/// All of the number, or its end.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum VinText {
    /// All 17 characters.
    Whole(String),
    /// The last eight characters.
    LastEight(String),
}

impl VinReading {
    pub(super) fn read(message: &v1::VinReading, _typed: Typed<'_>) -> Self {
        use v1::vin_reading::Reading;
        let read = match &message.reading {
            Some(Reading::Vin(vin)) => VinText::Whole(vin.clone()),
            Some(Reading::LastEight(last)) => VinText::LastEight(last.clone()),
            None => VinText::Whole(String::new()),
        };
        Self { read, source: VinSource::read(message.source) }
    }

    /// The last eight characters of what was read.
    #[must_use]
    pub fn last_eight(&self) -> &str {
        match &self.read {
            VinText::Whole(vin) => vin.get(9..).unwrap_or(vin),
            VinText::LastEight(last) => last,
        }
    }

    /// All 17 characters, where they were read.
    #[must_use]
    pub fn whole(&self) -> Option<&str> {
        match &self.read {
            VinText::Whole(vin) => Some(vin),
            VinText::LastEight(_) => None,
        }
    }
}

impl Kind for VinReading {
    const NAME: &'static str = "vin_reading";

    fn sentence(&self) -> Sentence {
        let place = sentence::vin_source(self.source.map_or("unknown", VinSource::word));
        match &self.read {
            VinText::Whole(vin) => sentence::vin_reading_whole(place, vin),
            VinText::LastEight(last) => sentence::vin_reading_last_eight(last, place),
        }
    }

    super::of!(VinReading);
}
