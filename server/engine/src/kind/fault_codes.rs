//! The vehicle's fault memory was read, or could not be.

use super::words::{Answer, CodesState, Moment};
use super::{Kind, Typed};
use crate::text::{Sentence, sentence};
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
}

impl FaultCodes {
    pub(super) fn read(message: &v1::FaultCodes, _typed: Typed<'_>) -> Self {
        Self {
            moment: Moment::read(message.moment),
            state: CodesState::read(message.state),
            codes: message.codes.iter().map(|code| code.trim().to_uppercase()).collect(),
            adaptation_done: Answer::read(message.adaptation_done),
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
        sentence::fault_codes(moment, self.seen())
    }

    super::of!(FaultCodes);
}
