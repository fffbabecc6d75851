//! Which model years position 10 of a VIN can mean.
//!
//! A code comes again after 30 years. Never here: which of the years it is where the VIN does not tell; the date of
//! first registration does, and the job knows it.

use super::{Area, Vin};

/// Codes of position 10 in the order of the years from 1980 on; I, O, Q, U, Z and 0 are never used.
///
/// # Source
/// 49 CFR 565.15(d), table VII.
const CODES: &str = "ABCDEFGHJKLMNPRSTVWXY123456789";
/// First year of the older round and of the newer one.
const ROUNDS: [u16; 2] = [1980, 2010];
/// Places of the VIN, counted from 0.
const YEAR_INDEX: usize = 9;
const ROUND_INDEX: usize = 6;

/// The two model years that position 10 can mean; nothing where its character is no code of a year.
///
/// `year = 1980 + i` or `2010 + i` with the place `i` of the code in the round of 30.
///
/// # Source
/// 49 CFR 565.15(d), table VII. Outside North America the place need not hold a year at all.
///
/// # Example
/// ```
/// use standpipe_engine::formula::vin::{Vin, model_years};
/// // Published: A stands for 1980 and for 2010.
/// assert_eq!(model_years(&Vin::from_exact("1M8GDM5A4AP042788").unwrap()), Some([1980, 2010]));
/// ```
#[must_use]
pub fn model_years(vin: &Vin) -> Option<[u16; 2]> {
    let code = vin.as_str().chars().nth(YEAR_INDEX)?;
    let place = u16::try_from(CODES.find(code)?).ok()?;
    Some(ROUNDS.map(|first| first + place))
}

/// The model year of a car, or of a truck or multi-purpose vehicle up to 4536 kg, for North America: the newer round
/// where position 7 is a letter, the older where it is a digit. Nothing for a VIN of another area.
///
/// # Source
/// 49 CFR 565.15(b) and 565.25(b).
///
/// # Example
/// ```
/// use standpipe_engine::formula::vin::{Vin, light_vehicle_model_year};
/// // Position 7 is K, a letter.
/// let vin = Vin::from_exact("1M8GDMKA9AP042788").unwrap();
/// assert_eq!(light_vehicle_model_year(&vin), Some(2010));
/// ```
#[must_use]
pub fn light_vehicle_model_year(vin: &Vin) -> Option<u16> {
    let [older, newer] = model_years(vin)?;
    let letter = vin.as_str().chars().nth(ROUND_INDEX)?.is_ascii_alphabetic();
    (vin.area() == Some(Area::NorthAmerica)).then_some(if letter { newer } else { older })
}
