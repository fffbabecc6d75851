//! Settings of the workshop that an exchange is judged by: fluid at hand, reserves, what is worth a litre, photos.
//!
//! Each stands in `workshop.toml` with its source, in a table of its own. Called by the reader of that file.

use super::reader::Fields;
use standpipe_proto::limits::KIT_LITRES_MOST;

use super::workshop::{SOURCE_LENGTH_MAX, Stated, StatedRange, range, stated, stated_or};

/// What is written beside a number of ours.
const HOUSE_VALUE: &str = "house value, no source";

/// What an exchange is judged by.
#[derive(Clone, Debug, PartialEq)]
pub struct ExchangeSettings {
    /// New fluid at hand for one job, in litres; absent where it is not stated.
    pub kit_litres: Option<Stated>,
    /// New fluid that stays in hoses and equipment, in litres.
    pub hoses_litres: StatedRange,
    /// New fluid kept for the level, in litres.
    pub level_reserve_litres: Stated,
    /// New-fluid share that another litre must bring to be worth it, 0 to 1.
    pub least_gain_per_litre: Stated,
    /// Standard uncertainty of a transmittance from a phone photo, 1 being the white ground.
    pub photo_transmittance_uncertainty: Stated,
}

/// Reads the settings; what is wrong is noted in the document.
pub(super) fn read(fields: &mut Fields<'_>) -> Option<ExchangeSettings> {
    let house_value = |value| Stated { value, source: HOUSE_VALUE.to_owned() };
    let kit_litres = kit(fields);
    let hoses_litres = range(fields, "hoses", ["litres", "limit_litres"], (0.0, 10.0, "L"), (0.6, 0.4));
    let level_reserve_litres = stated(fields, "level_reserve", "litres", (0.0, 10.0, "L"), 0.5);
    let gain = ["least_gain", "share_per_litre"];
    let least_gain_per_litre = stated_or(fields, gain, (0.0, 0.5, "of 1"), house_value(0.02));
    let photo = ["photo", "transmittance_standard_uncertainty"];
    let photo_transmittance_uncertainty = stated_or(fields, photo, (0.001, 0.5, "of 1"), house_value(0.02));
    Some(ExchangeSettings {
        kit_litres,
        hoses_litres: hoses_litres?,
        level_reserve_litres: level_reserve_litres?,
        least_gain_per_litre: least_gain_per_litre?,
        photo_transmittance_uncertainty: photo_transmittance_uncertainty?,
    })
}

/// Without the table nothing is said of litres that are left.
fn kit(fields: &mut Fields<'_>) -> Option<Stated> {
    let mut table = fields.table_optional("kit")?;
    let value = table.number("litres", (1.0, KIT_LITRES_MOST, "L"));
    let source = table.text("source", SOURCE_LENGTH_MAX);
    table.finish();
    Some(Stated { value: value?, source: source? })
}
