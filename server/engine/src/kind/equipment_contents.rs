//! It was said what the exchange equipment holds in tank and hoses.

use super::Typed;
use super::site::{SiteKind, of_site};
use super::words::Held;
use crate::amount::{Amount, Read};
use crate::text::{Sentence, sentence};
use standpipe_proto::v1;

/// What the equipment holds.
#[derive(Debug, Clone, PartialEq)]
pub struct EquipmentContents {
    /// Code on the equipment.
    pub equipment: String,
    /// Whether it holds fluid; absent when this version does not know it.
    pub held: Option<Held>,
    /// Code of the fluid; empty when it holds none.
    pub fluid_code: String,
    /// About how much it holds; absent if not known.
    pub held_litres: Option<Amount>,
    /// Fluid that it was rinsed with just now.
    pub rinsed: Option<Amount>,
    /// Lot of that fluid; empty if there is none.
    pub lot: String,
}

impl EquipmentContents {
    pub(super) fn read(message: &v1::EquipmentContents, typed: Typed<'_>) -> Self {
        let litres = |litres: f64, field: &str| Amount::new(Read::Litres(litres), typed.text(field), None);
        Self {
            equipment: message.equipment.trim().to_owned(),
            held: Held::read(message.held),
            fluid_code: message.fluid_code.trim().to_owned(),
            held_litres: message.held_litres.map(|held| litres(held, "held_litres")),
            rinsed: message.rinsed_litres.map(|rinsed| litres(rinsed, "rinsed_litres")),
            lot: message.lot.trim().to_owned(),
        }
    }
}

impl SiteKind for EquipmentContents {
    const NAME: &'static str = "equipment_contents";

    fn sentence(&self) -> Sentence {
        match (self.held, &self.rinsed) {
            (Some(Held::Nothing), _) => sentence::equipment_emptied(&self.equipment),
            (_, Some(rinsed)) => {
                sentence::equipment_rinsed(rinsed.as_read(), &self.equipment, &self.fluid_code)
            }
            _ => sentence::equipment_holds(&self.equipment, &self.fluid_code),
        }
    }

    of_site!(EquipmentContents);
}
