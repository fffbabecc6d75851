//! The vehicle arrived: plate, distance, why it came. Opens the job.

use super::words::VisitReason;
use super::{Kind, Typed};
use crate::text::{Sentence, number, sentence};
use standpipe_proto::v1;

/// The vehicle arrived.
#[derive(Debug, Clone, PartialEq)]
pub struct Arrival {
    /// Registration plate as read.
    pub plate: String,
    /// Distance shown, in km.
    pub odometer_kilometres: Option<f64>,
    /// Why it came.
    pub reasons: Vec<VisitReason>,
    /// Maker as noted; empty if not noted.
    pub maker: String,
    /// Model as noted; empty if not noted.
    pub model: String,
    /// Maker and model in one line; empty if not noted.
    pub vehicle: String,
}

impl Arrival {
    pub(super) fn read(message: &v1::Arrival, _typed: Typed<'_>) -> Self {
        let (maker, model) = (message.vehicle_maker.trim(), message.vehicle_model.trim());
        let vehicle = [maker, model];
        Self {
            plate: message.plate.trim().to_owned(),
            odometer_kilometres: message.odometer_kilometres,
            reasons: message.reasons.iter().filter_map(|reason| VisitReason::read(*reason)).collect(),
            maker: maker.to_owned(),
            model: model.to_owned(),
            vehicle: vehicle.into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join(" "),
        }
    }

    /// Why it came, as a list of words; absent when nothing was ticked.
    #[must_use]
    pub fn reasons_in_words(&self) -> Option<Vec<Sentence>> {
        let words: Vec<_> = self.reasons.iter().map(|reason| sentence::visit_reason(reason.word())).collect();
        (!words.is_empty()).then_some(words)
    }
}

impl Kind for Arrival {
    const NAME: &'static str = "arrival";

    fn sentence(&self) -> Sentence {
        match self.odometer_kilometres {
            Some(km) => sentence::arrival_at(number::kilometres(km), &self.plate),
            None => sentence::arrival(&self.plate),
        }
    }

    super::of!(Arrival);
}
