//! The work on the job ended.

use super::words::Outcome;
use super::{Kind, Typed};
use crate::text::{Sentence, number, sentence};
use standpipe_proto::v1;

/// The work ended.
#[derive(Debug, Clone, PartialEq)]
pub struct Closing {
    /// How it ended; absent when this version does not know it.
    pub outcome: Option<Outcome>,
    /// Distance shown at the end, in km.
    pub odometer_kilometres: Option<f64>,
}

impl Closing {
    pub(super) fn read(message: &v1::Closing, _typed: Typed<'_>) -> Self {
        Self { outcome: Outcome::read(message.outcome), odometer_kilometres: message.odometer_kilometres }
    }
}

impl Kind for Closing {
    const NAME: &'static str = "closing";

    fn sentence(&self) -> Sentence {
        let outcome = sentence::outcome(self.outcome.map_or("unknown", Outcome::word));
        match self.odometer_kilometres {
            Some(km) => sentence::closing_at(number::kilometres(km), outcome),
            None => sentence::closing(outcome),
        }
    }

    super::of!(Closing);
}
