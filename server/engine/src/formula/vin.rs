//! Vehicle identification numbers: what was typed, what it is, and what speaks against it.
//!
//! A VIN is read for its letters and its check digit only; which transmission it means is the catalogue's
//! business. The VIN and its check digit are here, what a person typed is in [`reading`](self::read), the model year
//! in [`year`](self::model_years). The kind of entry that reads a VIN, the catalogue's rules and the gates call this.

mod reading;
mod year;

pub use reading::{
    FullReading, LastEight, Problem, Reading, Verdict, Warning, compare_last_8, read, read_alike_twice,
};
pub use year::{light_vehicle_model_year, model_years};

use crate::text::{Sentence, sentence};

/// Characters of a VIN.
///
/// # Source
/// ISO 3779; 49 CFR 565.13.
pub const LENGTH: usize = 17;

/// The 33 characters a VIN may hold, letters before digits; I, O and Q are never used.
///
/// # Source
/// ISO 3779; 49 CFR 565.13.
pub const ALPHABET: &str = "ABCDEFGHJKLMNPRSTUVWXYZ0123456789";

/// A text of 17 characters of the VIN alphabet.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Vin(String);

impl Vin {
    /// The VIN, if `text` is exactly 17 characters of [`ALPHABET`]; nothing is removed or changed.
    #[must_use]
    pub fn from_exact(text: &str) -> Option<Self> {
        (text.len() == LENGTH && text.chars().all(is_legal)).then(|| Self(text.to_owned()))
    }

    /// The 17 characters.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// The last 8 characters, as they stand on the body plate of many vehicles.
    #[must_use]
    pub fn last_8(&self) -> &str {
        self.0.get(LENGTH - 8..).unwrap_or_default()
    }

    /// Positions 12 to 17 as a number, or nothing if one of them is a letter.
    #[must_use]
    pub fn serial(&self) -> Option<u32> {
        let digits = self.0.get(11..)?;
        if digits.bytes().all(|digit| digit.is_ascii_digit()) { digits.parse().ok() } else { None }
    }

    /// The area of the world that the first character is assigned to.
    #[must_use]
    pub fn area(&self) -> Option<Area> {
        self.0.chars().next().and_then(Area::of_first_character)
    }

    fn check_position(&self) -> char {
        self.0.chars().nth(8).unwrap_or('0')
    }
}

/// Sum of the character values times the weights of their positions.
///
/// `S = Σ v(c_i) w_i`, `v(A..H) = 1..8`, `v(J..N) = 1..5`, `v(P) = 7`, `v(R) = 9`, `v(S..Z) = 2..9`, digits as
/// they are; `w = 8 7 6 5 4 3 2 10 0 9 8 7 6 5 4 3 2`.
///
/// # Source
/// 49 CFR 565.15(c), tables III and IV.
///
/// # Example
/// ```
/// use standpipe_engine::formula::vin::{Vin, weighted_sum};
/// // Published worked example: the sum is 351.
/// assert_eq!(weighted_sum(&Vin::from_exact("1M8GDM9AXKP042788").unwrap()), 351);
/// ```
#[must_use]
pub fn weighted_sum(vin: &Vin) -> u32 {
    const WEIGHTS: [u32; LENGTH] = [8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2];
    vin.as_str().chars().zip(WEIGHTS).map(|(character, weight)| value(character) * weight).sum()
}

/// The check digit that position 9 should hold: the remainder of the weighted sum by 11, with X for 10.
///
/// # Source
/// 49 CFR 565.15(c).
///
/// # Example
/// ```
/// use standpipe_engine::formula::vin::{Vin, check_digit};
/// // Published worked example: 351 mod 11 = 10, written X.
/// assert_eq!(check_digit(&Vin::from_exact("1M8GDM9AXKP042788").unwrap()), 'X');
/// ```
#[must_use]
pub fn check_digit(vin: &Vin) -> char {
    char::from_digit(weighted_sum(vin) % 11, 10).unwrap_or('X')
}

/// Character values of 49 CFR 565.15(c), table III. Position 9 has weight 0, so its value does not matter.
fn value(character: char) -> u32 {
    match character {
        'A' | 'J' => 1,
        'B' | 'K' | 'S' => 2,
        'C' | 'L' | 'T' => 3,
        'D' | 'M' | 'U' => 4,
        'E' | 'N' | 'V' => 5,
        'F' | 'W' => 6,
        'G' | 'P' | 'X' => 7,
        'H' | 'Y' => 8,
        'R' | 'Z' => 9,
        digit => digit.to_digit(10).unwrap_or(0),
    }
}

/// Area of the world by the first character.
///
/// # Source
/// ISO 3780 (from memory): A-H, J-R, S-Z, 1-5, 6-7, 8-9.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Area {
    /// A to H.
    Africa,
    /// J to R.
    Asia,
    /// S to Z.
    Europe,
    /// 1 to 5.
    NorthAmerica,
    /// 6 and 7.
    Oceania,
    /// 8 and 9.
    SouthAmerica,
}

impl Area {
    fn of_first_character(first: char) -> Option<Self> {
        match first {
            'A'..='H' => Some(Self::Africa),
            'J'..='R' => Some(Self::Asia),
            'S'..='Z' => Some(Self::Europe),
            '1'..='5' => Some(Self::NorthAmerica),
            '6' | '7' => Some(Self::Oceania),
            '8' | '9' => Some(Self::SouthAmerica),
            _ => None,
        }
    }

    /// The name of the area.
    #[must_use]
    pub fn sentence(self) -> Sentence {
        match self {
            Self::Africa => sentence::vin_area_africa(),
            Self::Asia => sentence::vin_area_asia(),
            Self::Europe => sentence::vin_area_europe(),
            Self::NorthAmerica => sentence::vin_area_north_america(),
            Self::Oceania => sentence::vin_area_oceania(),
            Self::SouthAmerica => sentence::vin_area_south_america(),
        }
    }
}

fn is_legal(character: char) -> bool {
    ALPHABET.contains(character)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_serial_with_a_letter_is_no_number() {
        assert_eq!(Vin::from_exact("AZTWA8M47LA042317").and_then(|vin| vin.serial()), Some(42_317));
        assert_eq!(Vin::from_exact("AZTWA8M47LA04231X").and_then(|vin| vin.serial()), None);
    }

    #[test]
    fn only_17_legal_characters_are_a_vin() {
        for text in ["", "AZTWA8M47LA04231", "AZTWA8M47LA0423171", "AZTWA8M47LAO42317", "aZTWA8M47LA042317"] {
            assert_eq!(Vin::from_exact(text), None, "{text}");
        }
    }
}
