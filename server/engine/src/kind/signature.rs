//! A person's PIN was given for entries of the person; the shop server looked at it.

use super::{Kind, Typed};
use crate::text::{Sentence, sentence};
use standpipe_proto::v1;

/// A signature.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Signature {
    /// Identities of the entries that are signed.
    pub signed: Vec<String>,
}

impl Signature {
    pub(super) fn read(message: &v1::Signature, _typed: Typed<'_>) -> Self {
        Self { signed: message.signed_entry_ids.clone() }
    }
}

impl Kind for Signature {
    const NAME: &'static str = "signature";

    fn sentence(&self) -> Sentence {
        let form = if self.signed.len() == 1 { "one" } else { "more" };
        sentence::signature(self.signed.len().to_string(), form)
    }

    super::of!(Signature);
}
