//! It was settled which transmission variant the vehicle has, and how.

use super::words::{Answer, SettledBy};
use super::{Kind, Typed};
use crate::text::{Sentence, sentence};
use standpipe_proto::v1;

/// A variant was settled.
#[derive(Debug, Clone, PartialEq)]
pub struct VariantSettled {
    /// Code of the variant.
    pub code: String,
    /// How; absent when this version does not know it.
    pub means: Option<SettledBy>,
    /// The source looked into; empty if none was named.
    pub source: String,
    /// Day of the look-up as YYYY-MM-DD; empty: the day of the entry.
    pub looked_up_date: String,
    /// Whether the transmission's own plate agrees.
    pub plate_agrees: Option<Answer>,
    /// Whether the transmission is the one that the vehicle was built with; absent when nobody said.
    pub as_built: Option<Answer>,
    /// What the source says, for a variant that the catalogue does not list.
    pub stated: StatedVariant,
}

/// What a person read in a source of a variant that the catalogue does not list.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct StatedVariant {
    /// Its name; empty if not noted.
    pub label: String,
    /// Its fluid; empty if not noted.
    pub fluid_code: String,
    /// Its filter; empty if not noted.
    pub filter_code: String,
    /// Fluid that the whole transmission holds, in L.
    pub total_fill_litres: Option<f64>,
    /// Lowest and highest temperature for setting the level, in °C.
    pub level_window_celsius: Option<(f64, f64)>,
    /// Density of the fluid at 15 °C, in kg/m³.
    pub density_15_celsius: Option<f64>,
}

impl VariantSettled {
    pub(super) fn read(message: &v1::VariantSettled, _typed: Typed<'_>) -> Self {
        Self {
            code: message.variant_code.trim().to_owned(),
            means: SettledBy::read(message.means),
            source: message.source.trim().to_owned(),
            looked_up_date: message.looked_up_date.clone(),
            plate_agrees: Answer::read(message.transmission_plate_agrees),
            as_built: Answer::read(message.transmission_as_built),
            stated: StatedVariant {
                label: message.label.trim().to_owned(),
                fluid_code: message.fluid_code.trim().to_owned(),
                filter_code: message.filter_code.trim().to_owned(),
                total_fill_litres: message.total_fill_litres,
                level_window_celsius: message.level_least_celsius.zip(message.level_greatest_celsius),
                density_15_celsius: message.density_kilograms_per_cubic_metre,
            },
        }
    }
}

impl Kind for VariantSettled {
    const NAME: &'static str = "variant_settled";

    fn sentence(&self) -> Sentence {
        let plate = sentence::plate_agrees(self.plate_agrees.map_or("not-stated", Answer::word));
        let plate = match self.as_built {
            Some(Answer::No) => sentence::plate_of_another(plate),
            _ => plate,
        };
        let name = if self.stated.label.is_empty() { &self.code } else { &self.stated.label };
        match self.means {
            Some(SettledBy::LookedUp) => sentence::variant_settled_looked_up(name, plate, &self.source),
            Some(means) => sentence::variant_settled(means.word(), name, plate),
            None => sentence::variant_settled("unknown", name, plate),
        }
    }

    super::of!(VariantSettled);
}
