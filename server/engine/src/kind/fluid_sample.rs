//! A sample of the fluid was looked at: colour word, clouding, smell, specks; later a laboratory's letter about it, or the
//! colours of a photo.

use super::colour::{Rgb, rgb, written};
use super::words::{Answer, Clouding, ColourWord, Crackle, Debris, SamplePlace, SampleTime, Smell};
use super::{Kind, Typed};
use crate::text::{Sentence, number, sentence};
use standpipe_proto::v1;

/// A sample that was looked at. What was not looked at is absent.
#[derive(Debug, Clone, PartialEq)]
pub struct FluidSample {
    /// Before or after the service, or fresh fluid; absent when this version does not know it.
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
    /// What a laboratory measured.
    pub letter: Letter,
    /// Colours of a photo.
    pub photo: Option<PhotoColours>,
}

/// Figures of a laboratory's letter or of a data sheet; what was not measured is absent.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Letter {
    /// Number of the report; empty without one.
    pub report: String,
    /// Kinematic viscosities: temperature in °C and mm²/s, those at 40 and 100 °C first.
    pub viscosities: Vec<(f64, f64)>,
    /// Acid number in mg KOH/g.
    pub acid_number: Option<f64>,
    /// Water in mg/kg.
    pub water: Option<f64>,
    /// Particles per millilitre of at least 4, 6 and 14 µm(c).
    pub particles: [Option<f64>; 3],
    /// Hot-plate test.
    pub crackle: Option<Crackle>,
}

/// Colours of one photo, sRGB.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PhotoColours {
    /// Of the fluid.
    pub fluid: Rgb,
    /// Of a white sheet in the same photo.
    pub white: Option<Rgb>,
    /// Whether the fresh fluid was taken under the same light.
    pub same_light: Option<Answer>,
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
            letter: Letter::read(message),
            photo: rgb(&message.sample_colour).map(|fluid| PhotoColours {
                fluid,
                white: rgb(&message.white_colour),
                same_light: Answer::read(message.same_light),
            }),
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

impl Letter {
    fn read(message: &v1::FluidSample) -> Self {
        let at = |celsius: Option<f64>, viscosity: Option<f64>| celsius.zip(viscosity);
        let viscosities = [
            at(Some(40.0), message.viscosity_40_square_millimetres_per_second),
            at(Some(100.0), message.viscosity_100_square_millimetres_per_second),
            at(message.viscosity_temperature_celsius, message.viscosity_square_millimetres_per_second),
        ];
        Self {
            report: message.laboratory_report.clone(),
            viscosities: viscosities.into_iter().flatten().collect(),
            acid_number: message.acid_number_milligrams_per_gram,
            water: message.water_milligrams_per_kilogram,
            particles: [
                message.particles_4_per_millilitre,
                message.particles_6_per_millilitre,
                message.particles_14_per_millilitre,
            ],
            crackle: Crackle::read(message.crackle),
        }
    }

    /// The figures in words, each with its unit.
    fn figures(&self) -> Vec<Sentence> {
        let viscosities = self.viscosities.iter();
        let mut figures: Vec<Sentence> = viscosities
            .map(|(celsius, viscosity)| {
                let at = number::with_unit(&number::plain(*celsius), "°C");
                sentence::letter_viscosity(at, number::with_unit(&number::plain(*viscosity), "mm²/s"))
            })
            .collect();
        let with_unit = |value: f64, unit: &str| number::with_unit(&number::plain(value), unit);
        figures.extend(self.acid_number.map(|acid| sentence::letter_acid(with_unit(acid, "mg KOH/g"))));
        figures.extend(self.water.map(|water| sentence::letter_water(with_unit(water, "mg/kg"))));
        for (count, size) in self.particles.iter().zip(["4", "6", "14"]) {
            figures.extend(count.map(|count| sentence::letter_particles(number::plain(count), size)));
        }
        figures.extend(self.crackle.map(|crackle| sentence::letter_crackle(crackle.word())));
        figures
    }

    /// The letter in words; absent when it says nothing.
    fn in_words(&self) -> Option<Sentence> {
        let figures = self.figures();
        (!figures.is_empty()).then(|| sentence::letter(figures, &self.report))
    }
}

impl Kind for FluidSample {
    const NAME: &'static str = "fluid_sample";

    fn sentence(&self) -> Sentence {
        let mut seen = self.seen();
        seen.extend(self.photo.map(|photo| sentence::sample_photo(written(photo.fluid))));
        seen.extend(self.letter.in_words());
        let moment = sentence::sample_time(self.moment.map_or("unknown", SampleTime::word));
        if seen.is_empty() {
            sentence::fluid_sample_unseen(moment)
        } else {
            sentence::fluid_sample(moment, seen)
        }
    }

    super::of!(FluidSample);
}
