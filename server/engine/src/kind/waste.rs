//! Waste was put into a container.

use super::words::WasteKind;
use super::{Kind, Typed};
use crate::amount::{Amount, Read};
use crate::text::{Sentence, sentence};
use standpipe_proto::v1;

/// How much waste.
#[derive(Debug, Clone, PartialEq)]
pub enum WasteAmount {
    /// Litres or kilograms.
    Measured(Amount),
    /// So many pieces, 1 to 100.
    Pieces(i32),
}

/// Waste was put into a container.
#[derive(Debug, Clone, PartialEq)]
pub struct Waste {
    /// What it is; absent when this version does not know it.
    pub kind: Option<WasteKind>,
    /// How much; absent when this version does not know the way it was counted.
    pub amount: Option<WasteAmount>,
    /// The container, as marked; empty if there is only one.
    pub container: String,
}

impl Waste {
    pub(super) fn read(message: &v1::Waste, typed: Typed<'_>) -> Self {
        use v1::waste::Amount as Given;
        let amount = message.amount.as_ref().map(|given| match given {
            Given::VolumeLitres(litres) => {
                let text = typed.text("volume_litres");
                WasteAmount::Measured(Amount::new(Read::Litres(*litres), text, None))
            }
            Given::MassKilograms(kilograms) => {
                let text = typed.text("mass_kilograms");
                WasteAmount::Measured(Amount::new(Read::Kilograms(*kilograms), text, None))
            }
            Given::PieceCount(count) => WasteAmount::Pieces(*count),
        });
        Self { kind: WasteKind::read(message.kind), amount, container: message.container.trim().to_owned() }
    }
}

impl Kind for Waste {
    const NAME: &'static str = "waste";

    fn sentence(&self) -> Sentence {
        let kind = sentence::waste_kind(self.kind.map_or("unknown", WasteKind::word));
        let amount = match &self.amount {
            Some(WasteAmount::Measured(amount)) => sentence::waste_measured(amount.as_read()),
            Some(WasteAmount::Pieces(count)) => sentence::waste_pieces(u64::from(count.unsigned_abs())),
            None => sentence::waste_unstated(),
        };
        if self.container.is_empty() {
            sentence::waste(amount, kind)
        } else {
            sentence::waste_into(amount, &self.container, kind)
        }
    }

    super::of!(Waste);
}
