//! The vehicle arrived: plate, distance, why it came. Opens the job.

use super::words::{Answer, LoadWord, VisitReason};
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
    /// Printed number of the earlier job that the customer complains about.
    pub complaint_about_job: Option<String>,
    /// Whether the vehicle has a high-voltage system; absent when nobody said.
    pub high_voltage: Option<Answer>,
    /// How it is mostly used; absent when nobody said.
    pub load: Option<LoadWord>,
    /// Day of first registration; absent when it was not noted.
    pub first_registered: Option<jiff::civil::Date>,
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
            complaint_about_job: Some(message.complaint_about_job.trim().to_owned())
                .filter(|job| !job.is_empty()),
            high_voltage: Answer::read(message.high_voltage),
            load: LoadWord::read(message.load),
            first_registered: message.first_registered_on.parse().ok(),
        }
    }

    /// Why it came, as a list of words; absent when nothing was ticked.
    #[must_use]
    pub fn reasons_in_words(&self) -> Option<Vec<Sentence>> {
        let words: Vec<_> = self.reasons.iter().map(|reason| sentence::visit_reason(reason.word())).collect();
        (!words.is_empty()).then_some(words)
    }

    /// Day of first registration in words, for example 3 May 2018.
    pub(crate) fn first_registered_in_words(&self) -> Option<String> {
        self.first_registered.map(|day| day.strftime("%-d %B %Y").to_string())
    }
}

impl Kind for Arrival {
    const NAME: &'static str = "arrival";

    fn sentence(&self) -> Sentence {
        let distance = self.odometer_kilometres.map(|km| sentence::arrival_distance(number::kilometres(km)));
        let complaint = self.complaint_about_job.as_ref().map(sentence::arrival_complaint);
        let high_voltage = self
            .high_voltage
            .filter(|answer| *answer == Answer::Yes)
            .map(|_| sentence::arrival_high_voltage());
        let load = self.load.map(|load| sentence::arrival_load(sentence::load_word(load.word())));
        let registered = self.first_registered_in_words().map(sentence::arrival_registered);
        let noted: Vec<_> =
            [distance, complaint, high_voltage, load, registered].into_iter().flatten().collect();
        if noted.is_empty() {
            sentence::arrival(&self.plate)
        } else {
            sentence::arrival_noted(noted, &self.plate)
        }
    }

    super::of!(Arrival);
}
