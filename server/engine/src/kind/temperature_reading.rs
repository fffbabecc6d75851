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
    /// Standard deviation in °C and number of the readings, where this is their mean.
    pub mean_of: Option<(f64, u32)>,
}

impl TemperatureReading {
    pub(super) fn read(message: &v1::TemperatureReading, _typed: Typed<'_>) -> Self {
        let count = message.sample_count.and_then(|count| u32::try_from(count).ok());
        Self {
            celsius: message.temperature_celsius,
            of: TemperatureOf::read(message.place),
            means: TemperatureMeans::read(message.means),
            mean_of: message.spread_celsius.zip(count),
        }
    }
}

impl Kind for TemperatureReading {
    const NAME: &'static str = "temperature_reading";

    fn sentence(&self) -> Sentence {
        let of = sentence::temperature_of(self.of.map_or("unknown", TemperatureOf::word));
        let means = sentence::temperature_means(self.means.map_or("not-stated", TemperatureMeans::word));
        let celsius = number::celsius(self.celsius, 0);
        match self.mean_of {
            Some((_, count)) => sentence::temperature_reading_mean(count.to_string(), means, of, celsius),
            None => sentence::temperature_reading(means, of, celsius),
        }
    }

    super::of!(TemperatureReading);
}
