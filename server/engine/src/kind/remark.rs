//! Somebody said something in words. The words stand beside the journal and can be erased.

use super::words::RemarkSubject;
use super::{Kind, Typed};
use crate::text::{Sentence, sentence};
use standpipe_proto::v1;

/// Somebody said something.
#[derive(Debug, Clone, PartialEq)]
pub struct Remark {
    /// SHA-256 of the salted words, 64 hexadecimal digits.
    pub blob_digest: String,
    /// What it is about; absent when this version does not know it.
    pub subject: Option<RemarkSubject>,
}

impl Remark {
    pub(super) fn read(message: &v1::Remark, _typed: Typed<'_>) -> Self {
        Self { blob_digest: message.blob_digest.clone(), subject: RemarkSubject::read(message.subject) }
    }

    /// What the words are about.
    #[must_use]
    pub fn about(&self) -> Sentence {
        sentence::remark_subject(self.subject.map_or("unknown", RemarkSubject::word))
    }
}

impl Kind for Remark {
    const NAME: &'static str = "remark";

    fn sentence(&self) -> Sentence {
        sentence::remark(self.about())
    }

    super::of!(Remark);
}
