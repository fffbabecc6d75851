//! It was looked for leaks.

use super::words::{Answer, LeakFound};
use super::{Kind, Typed};
use crate::text::{Sentence, sentence};
use standpipe_proto::v1;

/// A look for leaks.
#[derive(Debug, Clone, PartialEq)]
pub struct LeakCheck {
    /// What was seen; absent when this version does not know it.
    pub found: Option<LeakFound>,
    /// Whether the cooler line is closed with clip and cap.
    pub line_closed: Option<Answer>,
    /// Whether this was after the drive.
    pub after_drive: bool,
}

impl LeakCheck {
    pub(super) fn read(message: &v1::LeakCheck, _typed: Typed<'_>) -> Self {
        Self {
            found: LeakFound::read(message.found),
            line_closed: Answer::read(message.line_closed),
            after_drive: message.after_drive,
        }
    }
}

impl Kind for LeakCheck {
    const NAME: &'static str = "leak_check";

    fn sentence(&self) -> Sentence {
        let found = sentence::leak_found(self.found.map_or("unknown", LeakFound::word));
        let line = self.line_closed.map(|answer| sentence::line_closed(answer.word()));
        let seen: Vec<Sentence> = std::iter::once(found).chain(line).collect();
        let when = if self.after_drive { "after-drive" } else { "in-bay" };
        sentence::leak_check(seen, when)
    }

    super::of!(LeakCheck);
}
