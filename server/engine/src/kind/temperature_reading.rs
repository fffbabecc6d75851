//! A temperature was read.

use super::words::{TemperatureMeans, TemperatureOf};
use super::{Kind, Typed};
use crate::text::{Sentence, number, sentence};
use standpipe_proto::v1;

/// A temperature.
#[derive(Debug, Clone, PartialEq)]
pub struct TemperatureReading {
    /// The temperature, in °C.
    pub celsius: f64,
    /// What has it; absent when this version does not know the place.
    pub of: Option<TemperatureOf>,
    /// How it was read.
    pub means: Option<TemperatureMeans>,
}

impl TemperatureReading {
    pub(super) fn read(message: &v1::TemperatureReading, _typed: Typed<'_>) -> Self {
        Self {
            celsius: message.temperature_celsius,
            of: TemperatureOf::read(message.place),
            means: TemperatureMeans::read(message.means),
        }
    }
}

impl Kind for TemperatureReading {
    const NAME: &'static str = "temperature_reading";

    fn sentence(&self) -> Sentence {
        let of = sentence::temperature_of(self.of.map_or("unknown", TemperatureOf::word));
        let means = sentence::temperature_means(self.means.map_or("not-stated", TemperatureMeans::word));
        sentence::temperature_reading(means, of, number::celsius(self.celsius, 0))
    }

    super::of!(TemperatureReading);
}
