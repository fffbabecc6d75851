//! Fluid or parts came in: one lot of one delivery.

use super::Typed;
use super::site::{SiteKind, of_site};
use super::words::{Container, Supply};
use crate::amount::{Amount, Read};
use crate::text::{Sentence, sentence};
use standpipe_proto::v1;

/// How much of something is or comes into the store.
#[derive(Debug, Clone, PartialEq)]
pub enum StoreAmount {
    /// Litres or kilograms of fluid.
    Fluid(Amount),
    /// So many pieces, 0 to 10 000.
    Pieces(i32),
}

impl StoreAmount {
    /// In words.
    #[must_use]
    pub fn sentence(&self) -> Sentence {
        match self {
            Self::Fluid(amount) => sentence::store_fluid(amount.as_read()),
            Self::Pieces(count) => sentence::store_pieces(u64::from(count.unsigned_abs())),
        }
    }
}

/// A lot came in.
#[derive(Debug, Clone, PartialEq)]
pub struct LotReceived {
    /// Lot number as on the container or box.
    pub lot: String,
    /// What it is; absent when this version does not know it.
    pub what: Option<Supply>,
    /// Code on the container or box.
    pub code: String,
    /// How much; absent when this version does not know the way it was counted.
    pub amount: Option<StoreAmount>,
    /// What fluid came in.
    pub container: Option<Container>,
    /// In how many of them.
    pub container_count: Option<i32>,
    /// Last day on which it may be used, as YYYY-MM-DD; empty if it has none.
    pub expires_on: String,
    /// Number of the delivery note; empty if not noted.
    pub document: String,
}

impl LotReceived {
    pub(super) fn read(message: &v1::LotReceived, typed: Typed<'_>) -> Self {
        use v1::lot_received::Amount as Given;
        let amount = message.amount.as_ref().map(|given| match given {
            Given::VolumeLitres(litres) => {
                let text = typed.text("volume_litres");
                StoreAmount::Fluid(Amount::new(Read::Litres(*litres), text, None))
            }
            Given::PieceCount(count) => StoreAmount::Pieces(*count),
        });
        Self {
            lot: message.lot.trim().to_owned(),
            what: Supply::read(message.what),
            code: message.code.trim().to_owned(),
            amount,
            container: Container::read(message.container),
            container_count: message.container_count,
            expires_on: message.expires_on.clone(),
            document: message.document.trim().to_owned(),
        }
    }
}

impl SiteKind for LotReceived {
    const NAME: &'static str = "lot_received";

    fn sentence(&self) -> Sentence {
        let amount = self.amount.as_ref().map_or_else(sentence::store_unstated, StoreAmount::sentence);
        let what = sentence::supply(self.what.map_or("unknown", Supply::word));
        if self.expires_on.is_empty() {
            sentence::lot_received(amount, &self.code, &self.lot, what)
        } else {
            sentence::lot_received_until(amount, &self.code, &self.expires_on, &self.lot, what)
        }
    }

    of_site!(LotReceived);
}
