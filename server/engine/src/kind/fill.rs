//! Fluid was put in and measured.

use super::words::{FillPurpose, Means};
use super::{Kind, Typed};
use crate::amount::{Amount, Read};
use crate::text::{Sentence, sentence};
use standpipe_proto::v1;

/// Fluid was put in.
#[derive(Debug, Clone, PartialEq)]
pub struct Fill {
    /// What for; absent when this version does not know the purpose.
    pub purpose: Option<FillPurpose>,
    /// How much.
    pub amount: Amount,
    /// Its temperature when measured, in °C.
    pub temperature_celsius: Option<f64>,
    /// Code or name on the container; empty if not read.
    pub fluid_code: String,
    /// Lot number; empty if there is none.
    pub lot: String,
}

impl Fill {
    pub(super) fn read(message: &v1::Fill, typed: Typed<'_>) -> Self {
        use v1::fill::Amount as Given;
        let means = Means::read(message.means);
        let amount = match message.amount {
            Some(Given::MassKilograms(kilograms)) => {
                Amount::new(Read::Kilograms(kilograms), typed.text("mass_kilograms"), means)
            }
            Some(Given::VolumeLitres(litres)) => {
                Amount::new(Read::Litres(litres), typed.text("volume_litres"), means)
            }
            None => Amount::new(Read::Litres(0.0), None, means),
        };
        Self {
            purpose: FillPurpose::read(message.purpose),
            amount,
            temperature_celsius: message.temperature_celsius,
            fluid_code: message.fluid_code.trim().to_owned(),
            lot: message.lot.trim().to_owned(),
        }
    }
}

impl Kind for Fill {
    const NAME: &'static str = "fill";

    fn sentence(&self) -> Sentence {
        let purpose = sentence::fill_purpose(self.purpose.map_or("unknown", FillPurpose::word));
        if self.fluid_code.is_empty() {
            sentence::fill(self.amount.as_read(), purpose)
        } else {
            sentence::fill_of(self.amount.as_read(), &self.fluid_code, purpose)
        }
    }

    super::of!(Fill);
}
