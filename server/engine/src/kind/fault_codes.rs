//! The vehicle's fault memory was read, or could not be; with it, at which temperatures the fluid was driven.

use super::words::{Answer, CodesState, Moment};
use super::{Kind, Typed};
use crate::quantity::{Celsius, Share};
use crate::text::{Sentence, number, sentence};
use standpipe_proto::v1;

/// A look into the fault memory.
#[derive(Debug, Clone, PartialEq)]
pub struct FaultCodes {
    /// Before or after the service; absent when this version does not know it.
    pub moment: Option<Moment>,
    /// What came of it.
    pub state: Option<CodesState>,
    /// The codes in capital letters, for example P0741; empty unless the state is 'read'.
    pub codes: Vec<String>,
    /// Whether the adaptation was done.
    pub adaptation_done: Option<Answer>,
    /// Fluid temperature and the part of the distance driven at it; all of the distance, or empty.
    pub temperature_shares: Vec<(Celsius, Share)>,
}

impl FaultCodes {
    pub(super) fn read(message: &v1::FaultCodes, _typed: Typed<'_>) -> Self {
        Self {
            moment: Moment::read(message.moment),
            state: CodesState::read(message.state),
            codes: message.codes.iter().map(|code| code.trim().to_uppercase()).collect(),
            adaptation_done: Answer::read(message.adaptation_done),
            temperature_shares: shares(message).unwrap_or_default(),
        }
    }

    /// What the fault memory held, in words.
    #[must_use]
    pub fn seen(&self) -> Sentence {
        let held = if self.codes.is_empty() {
            sentence::codes_state(self.state.map_or("unknown", CodesState::word))
        } else {
            sentence::codes_list(self.codes.join(", "))
        };
        match self.adaptation_done {
            Some(answer @ (Answer::Yes | Answer::No)) => sentence::codes_adaptation(answer.word(), held),
            Some(Answer::NotSeen) | None => held,
        }
    }
}

impl Kind for FaultCodes {
    const NAME: &'static str = "fault_codes";

    fn sentence(&self) -> Sentence {
        let moment = sentence::moment(self.moment.map_or("unknown", Moment::word));
        if self.temperature_shares.is_empty() {
            return sentence::fault_codes(moment, self.seen());
        }
        let percent = |share: &Share| number::with_unit(&number::plain(share.get() * 100.0), "%");
        let celsius = |at: &Celsius| number::with_unit(&number::plain(at.get()), Celsius::UNIT);
        let shares = self.temperature_shares.iter();
        let shares = shares.map(|(at, share)| sentence::temperature_share(celsius(at), percent(share)));
        sentence::fault_codes_driven(moment, self.seen(), shares.collect::<Vec<_>>())
    }

    super::of!(FaultCodes);
}

/// All rows, or nothing where one of them is none: without it the rest would stand for the whole distance.
fn shares(message: &v1::FaultCodes) -> Option<Vec<(Celsius, Share)>> {
    let row = |share: &v1::TemperatureShare| {
        Some((Celsius::new(share.celsius).ok()?, Share::new(share.percent / 100.0).ok()?))
    };
    message.temperature_shares.iter().map(row).collect()
}
