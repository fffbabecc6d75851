//! The litre display was read during the exchange, with or without a look at the fluid.

pub use super::colour::Rgb;
use super::colour::{rgb, written};
use super::{Kind, Typed};
use crate::amount::{Amount, Read};
use crate::formula::mean;
use crate::kind::words::Means;
use crate::text::{Sentence, number, sentence};
use standpipe_proto::v1;

/// A reading during the exchange. All amounts count from the start of the exchange.
#[derive(Debug, Clone, PartialEq)]
pub struct ExchangeReading {
    /// Pushed in.
    pub pushed_in: Amount,
    /// Came out, where it is shown or weighed.
    pub came_out: Option<Amount>,
    /// Share of new fluid of the nearest comparison tube, in percent.
    pub tube_percent: Option<u8>,
    /// Temperature of the fluid coming out, in °C.
    pub temperature_celsius: Option<f64>,
    /// True at the last reading of the exchange.
    pub last: bool,
    /// The colours of one photo.
    pub colours: Option<Colours>,
    /// What an instrument showed.
    pub instrument: Option<Instrument>,
    /// How many readings the share and the temperature are the mean of, where they are one.
    pub sample_count: Option<u32>,
    /// SHA-256 of the photo on the reference sheet.
    pub photo_digest: Option<String>,
}

/// Four colours from one photo.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Colours {
    /// The fluid in the glass.
    pub glass: Rgb,
    /// The fluid before.
    pub before: Rgb,
    /// Fresh fluid.
    pub fresh: Rgb,
    /// The white ground.
    pub white: Rgb,
}

/// A reading of an instrument.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Instrument {
    /// Share of new fluid in percent; noise may carry it out of 0 to 100.
    pub new_percent: f64,
    /// The instrument's standard uncertainty in percent.
    pub uncertainty_percent: f64,
    /// Standard deviation in percent and number of the readings, where this is their mean.
    pub mean_of: Option<(f64, u32)>,
}

impl Instrument {
    /// Standard uncertainty in percent: the instrument's, and the scatter of what was averaged.
    #[must_use]
    pub fn standard_uncertainty_percent(&self) -> f64 {
        let (spread, count) = self.mean_of.unwrap_or((0.0, 1));
        mean::standard_uncertainty(self.uncertainty_percent, spread, count)
    }
}

impl ExchangeReading {
    pub(super) fn read(message: &v1::ExchangeReading, typed: Typed<'_>) -> Self {
        let came_out = match (message.volume_out_litres, message.mass_out_kilograms) {
            (Some(litres), _) => {
                Some(Amount::new(Read::Litres(litres), typed.text("volume_out_litres"), Some(Means::Display)))
            }
            (None, Some(kilograms)) => Some(Amount::new(
                Read::Kilograms(kilograms),
                typed.text("mass_out_kilograms"),
                Some(Means::Scale),
            )),
            (None, None) => None,
        };
        let sample_count = message.sample_count.and_then(|count| u32::try_from(count).ok());
        Self {
            pushed_in: Amount::new(
                Read::Litres(message.volume_in_litres),
                typed.text("volume_in_litres"),
                Some(Means::Display),
            ),
            came_out,
            tube_percent: message.tube_percent.and_then(|percent| u8::try_from(percent).ok()),
            temperature_celsius: message.temperature_celsius,
            last: message.last,
            colours: colours(message),
            photo_digest: Some(message.photo_digest.clone()).filter(|digest| !digest.is_empty()),
            // The intake refuses a reading without its uncertainty; there is nothing to weigh it by.
            instrument: message.instrument_new_percent.zip(message.instrument_uncertainty_percent).map(
                |(new_percent, uncertainty_percent)| Instrument {
                    new_percent,
                    uncertainty_percent,
                    mean_of: message.instrument_spread_percent.zip(sample_count),
                },
            ),
            sample_count,
        }
    }
}

fn colours(message: &v1::ExchangeReading) -> Option<Colours> {
    Some(Colours {
        glass: rgb(&message.glass_colour)?,
        before: rgb(&message.before_colour)?,
        fresh: rgb(&message.fresh_colour)?,
        white: rgb(&message.white_colour)?,
    })
}

impl Kind for ExchangeReading {
    const NAME: &'static str = "exchange_reading";

    fn sentence(&self) -> Sentence {
        let mut also = Vec::new();
        if let Some(out) = &self.came_out {
            also.push(sentence::exchange_reading_out(out.as_read()));
        }
        if let Some(tube) = self.tube_percent {
            also.push(sentence::exchange_reading_tube(tube.to_string()));
        }
        if let Some(Colours { glass, before, fresh, white }) = self.colours {
            let [glass, before, fresh, white] = [glass, before, fresh, white].map(written);
            also.push(sentence::exchange_reading_colours(before, fresh, glass, white));
        }
        if self.photo_digest.is_some() {
            also.push(sentence::exchange_reading_photo());
        }
        if let Some(instrument) = &self.instrument {
            also.push(sentence::exchange_reading_instrument(
                number::fixed(instrument.new_percent, 1),
                number::fixed(instrument.standard_uncertainty_percent(), 1),
            ));
        }
        if let Some(temperature) = self.temperature_celsius {
            also.push(sentence::exchange_reading_temperature(number::celsius(temperature, 0)));
        }
        if let Some(count) = self.sample_count {
            also.push(sentence::mean_of_lines(count.to_string()));
        }
        if self.last {
            also.push(sentence::exchange_reading_last());
        }
        let litres = self.pushed_in.as_read();
        if also.is_empty() {
            sentence::exchange_reading(litres)
        } else {
            sentence::exchange_reading_with(also, litres)
        }
    }

    super::of!(ExchangeReading);
}
