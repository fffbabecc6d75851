//! A lot was recalled, or its recall was lifted.

use super::Typed;
use super::site::{SiteKind, of_site};
use crate::text::{Sentence, sentence};
use standpipe_proto::v1;

/// A recall of a lot.
#[derive(Debug, Clone, PartialEq)]
pub struct LotRecalled {
    /// The lot number.
    pub lot: String,
    /// Code on the container or box; empty: any code.
    pub code: String,
    /// Why.
    pub reason: String,
    /// True when the recall was lifted.
    pub lifted: bool,
}

impl LotRecalled {
    pub(super) fn read(message: &v1::LotRecalled, _typed: Typed<'_>) -> Self {
        Self {
            lot: message.lot.trim().to_owned(),
            code: message.code.trim().to_owned(),
            reason: message.reason.trim().to_owned(),
            lifted: message.lifted,
        }
    }
}

impl SiteKind for LotRecalled {
    const NAME: &'static str = "lot_recalled";

    fn sentence(&self) -> Sentence {
        if self.lifted {
            sentence::lot_recall_lifted(&self.lot, &self.reason)
        } else {
            sentence::lot_recalled(&self.lot, &self.reason)
        }
    }

    of_site!(LotRecalled);
}
