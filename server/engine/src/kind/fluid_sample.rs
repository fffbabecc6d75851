//! A sample of the fluid was looked at: colour word, clouding, smell, specks.

use super::words::{Clouding, ColourWord, Debris, SamplePlace, SampleTime, Smell};
use super::{Kind, Typed};
use crate::text::{Sentence, sentence};
use standpipe_proto::v1;

/// A sample that was looked at. What was not looked at is absent.
#[derive(Debug, Clone, PartialEq)]
pub struct FluidSample {
    /// Before or after the service; absent when this version does not know it.
    pub moment: Option<SampleTime>,
    /// Where it was drawn.
    pub place: Option<SamplePlace>,
    /// Temperature when drawn, in °C.
    pub celsius: Option<f64>,
    /// Colour in words.
    pub colour: Option<ColourWord>,
    /// Clouding.
    pub clouding: Option<Clouding>,
    /// Smell.
    pub smell: Option<Smell>,
    /// Specks.
    pub specks: Option<Debris>,
}

impl FluidSample {
    pub(super) fn read(message: &v1::FluidSample, _typed: Typed<'_>) -> Self {
        Self {
            moment: SampleTime::read(message.moment),
            place: SamplePlace::read(message.place),
            celsius: message.temperature_celsius,
            colour: ColourWord::read(message.colour),
            clouding: Clouding::read(message.clouding),
            smell: Smell::read(message.smell),
            specks: Debris::read(message.specks),
        }
    }

    /// What was seen, in words.
    #[must_use]
    pub fn seen(&self) -> Vec<Sentence> {
        [
            self.colour.map(|colour| sentence::colour(colour.word())),
            self.clouding.map(|clouding| sentence::clouding(clouding.word())),
            self.smell.map(|smell| sentence::sample_smell(smell.word())),
            self.specks.map(|specks| sentence::sample_specks(specks.word())),
        ]
        .into_iter()
        .flatten()
        .collect()
    }
}

impl Kind for FluidSample {
    const NAME: &'static str = "fluid_sample";

    fn sentence(&self) -> Sentence {
        let seen = self.seen();
        let moment = sentence::sample_time(self.moment.map_or("unknown", SampleTime::word));
        if seen.is_empty() {
            sentence::fluid_sample_unseen(moment)
        } else {
            sentence::fluid_sample(moment, seen)
        }
    }

    super::of!(FluidSample);
}
