//! Waste was collected from the workshop.

use super::Typed;
use super::site::{SiteKind, of_site};
use crate::amount::{Amount, Read};
use crate::text::{Sentence, sentence};
use standpipe_proto::v1;

/// A collection of waste.
#[derive(Debug, Clone, PartialEq)]
pub struct WasteCollected {
    /// Code of the waste, as written.
    pub waste_code: String,
    /// How much.
    pub amount: Amount,
    /// Its kilograms, 0.1 to 100 000.
    pub kilograms: f64,
    /// Who took it.
    pub carrier: String,
    /// Number of the document.
    pub document: String,
    /// Where it goes; empty if not noted.
    pub destination: String,
    /// The container, as marked; empty if there is only one.
    pub container: String,
}

impl WasteCollected {
    pub(super) fn read(message: &v1::WasteCollected, typed: Typed<'_>) -> Self {
        let kilograms = message.mass_kilograms;
        Self {
            waste_code: message.waste_code.trim().to_owned(),
            amount: Amount::new(Read::Kilograms(kilograms), typed.text("mass_kilograms"), None),
            kilograms,
            carrier: message.carrier.trim().to_owned(),
            document: message.document.trim().to_owned(),
            destination: message.destination.trim().to_owned(),
            container: message.container.trim().to_owned(),
        }
    }
}

impl SiteKind for WasteCollected {
    const NAME: &'static str = "waste_collected";

    fn sentence(&self) -> Sentence {
        sentence::waste_collected(self.amount.as_read(), &self.carrier, &self.waste_code, &self.document)
    }

    of_site!(WasteCollected);
}
