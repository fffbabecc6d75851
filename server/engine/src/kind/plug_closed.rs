//! The level plug was closed.

use super::torque::Torque;
use super::words::Answer;
use super::{Kind, Typed};
use crate::text::{Sentence, sentence};
use standpipe_proto::v1;

/// The level plug was closed.
#[derive(Debug, Clone, PartialEq)]
pub struct PlugClosed {
    /// Whether the seal is new.
    pub seal_new: Option<Answer>,
    /// Whether the plug itself is new.
    pub plug_new: Option<Answer>,
    /// Torque set on the tool; absent if it was tightened without one.
    pub torque: Option<Torque>,
    /// Code of the tool; empty if none was used.
    pub tool: String,
}

impl PlugClosed {
    pub(super) fn read(message: &v1::PlugClosed, typed: Typed<'_>) -> Self {
        let torque = message.torque_newton_metres;
        Self {
            seal_new: Answer::read(message.seal_new),
            plug_new: Answer::read(message.plug_new),
            torque: torque.map(|torque| Torque::new(torque, typed.text("torque_newton_metres"))),
            tool: message.tool.trim().to_owned(),
        }
    }

    /// Whether seal and plug are new, in words.
    #[must_use]
    pub fn new_in_words(&self) -> Vec<Sentence> {
        let seal = sentence::plug_seal_new(self.seal_new.map_or("not-stated", Answer::word));
        let plug = self.plug_new.map(|answer| sentence::plug_itself_new(answer.word()));
        std::iter::once(seal).chain(plug).collect()
    }

    /// Torque and tool, in words.
    #[must_use]
    pub fn how(&self) -> Vec<Sentence> {
        let torque = self.torque.as_ref();
        let set = torque.map_or_else(sentence::torque_none, |torque| sentence::torque_set(torque.as_read()));
        let tool = (!self.tool.is_empty()).then(|| sentence::tool(&self.tool));
        std::iter::once(set).chain(tool).collect()
    }
}

impl Kind for PlugClosed {
    const NAME: &'static str = "plug_closed";

    fn sentence(&self) -> Sentence {
        let mut details = self.new_in_words();
        details.extend(self.how());
        sentence::plug_closed(details)
    }

    super::of!(PlugClosed);
}
