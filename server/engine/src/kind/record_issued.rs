//! An edition of the record was issued. Written by the shop server.

use super::{Kind, Typed};
use crate::text::{Sentence, sentence};
use standpipe_proto::v1;

/// An edition of the record was issued.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RecordIssued {
    /// Number of the edition within the job, from 1.
    pub edition: i32,
    /// SHA-256 of the PDF file, 64 hexadecimal digits.
    pub blob_digest: String,
    /// Size of the site's tree that it was printed from, in entries.
    pub tree_size: i64,
    /// Root of that tree, 64 hexadecimal digits.
    pub tree_root: String,
    /// Version of the engine.
    pub engine_version: String,
    /// Catalogue revision, 64 hexadecimal digits; empty if there was none.
    pub catalogue_revision_id: String,
    /// Language of the record, for example en.
    pub language: String,
    /// True when the customer's name is printed in it.
    pub names_customer: bool,
}

impl RecordIssued {
    pub(super) fn read(message: &v1::RecordIssued, _typed: Typed<'_>) -> Self {
        Self {
            edition: message.edition,
            blob_digest: message.blob_digest.clone(),
            tree_size: message.tree_size,
            tree_root: message.tree_root.clone(),
            engine_version: message.engine_version.clone(),
            catalogue_revision_id: message.catalogue_revision_id.clone(),
            language: message.language.clone(),
            names_customer: message.names_customer,
        }
    }
}

impl Kind for RecordIssued {
    const NAME: &'static str = "record_issued";

    fn sentence(&self) -> Sentence {
        sentence::record_issued(self.edition.to_string())
    }

    super::of!(RecordIssued);
}
