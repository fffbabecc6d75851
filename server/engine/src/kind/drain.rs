//! Fluid ran out and was measured.

use super::words::{Debris, DrainedFrom, Means};
use super::{Kind, Typed};
use crate::amount::{Amount, Read};
use crate::text::{Sentence, sentence};
use standpipe_proto::v1;

/// Fluid ran out.
#[derive(Debug, Clone, PartialEq)]
pub struct Drain {
    /// Where from; absent when this version does not know the place.
    pub place: Option<DrainedFrom>,
    /// How much.
    pub amount: Amount,
    /// Its temperature when measured, in °C.
    pub temperature_celsius: Option<f64>,
    /// What lay in the pan and on the magnets.
    pub debris: Option<Debris>,
}

impl Drain {
    pub(super) fn read(message: &v1::Drain, typed: Typed<'_>) -> Self {
        use v1::drain::Amount as Given;
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
            place: DrainedFrom::read(message.place),
            amount,
            temperature_celsius: message.temperature_celsius,
            debris: Debris::read(message.debris),
        }
    }
}

impl Kind for Drain {
    const NAME: &'static str = "drain";

    fn sentence(&self) -> Sentence {
        let place = sentence::drained_from(self.place.map_or("unknown", DrainedFrom::word));
        match self.debris {
            Some(debris) => {
                sentence::drain_with_debris(self.amount.as_read(), sentence::debris(debris.word()), place)
            }
            None => sentence::drain(self.amount.as_read(), place),
        }
    }

    fn briefs(&self, with: &Self) -> Option<(Sentence, Sentence)> {
        let only_amount =
            Self { amount: with.amount.clone(), ..self.clone() } == *with && self.amount != with.amount;
        let brief = |drain: &Self| {
            let place = sentence::drained_from(drain.place.map_or("unknown", DrainedFrom::word));
            sentence::drain_brief(drain.amount.as_read(), place)
        };
        only_amount.then(|| (brief(self), brief(with)))
    }

    super::of!(Drain);
}
