//! A photo was taken. Its bytes stand beside the journal.

use super::words::PhotoSubject;
use super::{Kind, Typed};
use crate::text::{Sentence, sentence};
use standpipe_proto::v1;

/// A photo was taken.
#[derive(Debug, Clone, PartialEq)]
pub struct Photo {
    /// SHA-256 of the photo as it is kept, 64 hexadecimal digits.
    pub blob_digest: String,
    /// What it shows; absent when this version does not know it.
    pub subject: Option<PhotoSubject>,
}

impl Photo {
    pub(super) fn read(message: &v1::Photo, _typed: Typed<'_>) -> Self {
        Self { blob_digest: message.blob_digest.clone(), subject: PhotoSubject::read(message.subject) }
    }

    /// What it shows, as a caption.
    #[must_use]
    pub fn caption(&self) -> Sentence {
        sentence::photo_subject(self.subject.map_or("unknown", PhotoSubject::word))
    }
}

impl Kind for Photo {
    const NAME: &'static str = "photo";

    fn sentence(&self) -> Sentence {
        sentence::photo(self.caption())
    }

    super::of!(Photo);
}
