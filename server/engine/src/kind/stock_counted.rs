//! What is in the store was counted.

use super::Typed;
use super::lot_received::StoreAmount;
use super::site::{SiteKind, of_site};
use super::words::Supply;
use crate::amount::{Amount, Read};
use crate::text::{Sentence, sentence};
use standpipe_proto::v1;

/// A count of the store.
#[derive(Debug, Clone, PartialEq)]
pub struct StockCounted {
    /// What was counted; absent when this version does not know it.
    pub what: Option<Supply>,
    /// Its code.
    pub code: String,
    /// The lot; empty when all lots of the code were counted together.
    pub lot: String,
    /// How much is there; absent when this version does not know the way it was counted.
    pub amount: Option<StoreAmount>,
}

impl StockCounted {
    pub(super) fn read(message: &v1::StockCounted, typed: Typed<'_>) -> Self {
        use v1::stock_counted::Amount as Given;
        let amount = message.amount.as_ref().map(|given| match given {
            Given::VolumeLitres(litres) => {
                let text = typed.text("volume_litres");
                StoreAmount::Fluid(Amount::new(Read::Litres(*litres), text, None))
            }
            Given::MassKilograms(kilograms) => {
                let text = typed.text("mass_kilograms");
                StoreAmount::Fluid(Amount::new(Read::Kilograms(*kilograms), text, None))
            }
            Given::PieceCount(count) => StoreAmount::Pieces(*count),
        });
        Self {
            what: Supply::read(message.what),
            code: message.code.trim().to_owned(),
            lot: message.lot.trim().to_owned(),
            amount,
        }
    }
}

impl SiteKind for StockCounted {
    const NAME: &'static str = "stock_counted";

    fn sentence(&self) -> Sentence {
        let amount = self.amount.as_ref().map_or_else(sentence::store_unstated, StoreAmount::sentence);
        if self.lot.is_empty() {
            sentence::stock_counted(amount, &self.code)
        } else {
            sentence::stock_counted_lot(amount, &self.code, &self.lot)
        }
    }

    of_site!(StockCounted);
}
