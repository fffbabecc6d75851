//! Amounts that add up exactly: whole thousandths of a litre or kilogram, and pieces.
//!
//! Sums of decimal numbers that people wrote must come out as people write them. Never here: an uncertainty.

use crate::text::{Sentence, number, sentence};
use std::iter::Sum;
use std::ops::{Add, AddAssign, Sub};

const PARTS: f64 = 1000.0;

/// An amount in whole thousandths of its unit.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Exact(i64);

/// What an amount is counted in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Unit {
    /// Litres at the temperature of the bay.
    Litres,
    /// Kilograms.
    Kilograms,
    /// Pieces.
    Pieces,
}

impl Unit {
    /// The unit as it is written.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Litres => "L",
            Self::Kilograms => "kg",
            Self::Pieces => "pcs",
        }
    }
}

impl Exact {
    /// Nothing.
    pub const ZERO: Self = Self(0);

    /// The nearest thousandth; what is no number is nothing.
    #[must_use]
    pub fn new(value: f64) -> Self {
        #[allow(clippy::cast_possible_truncation)]
        Self((value * PARTS).round() as i64)
    }

    /// The nearest hundredth, as a bench scale of 10 g shows it.
    #[must_use]
    pub fn hundredths(value: f64) -> Self {
        Self::new((value * 100.0).round() / 100.0)
    }

    /// The number, as near as a floating number can be.
    #[must_use]
    pub fn value(self) -> f64 {
        #[allow(clippy::cast_precision_loss)]
        let parts = self.0 as f64;
        parts / PARTS
    }

    /// Whether it is below nothing.
    #[must_use]
    pub fn is_negative(self) -> bool {
        self.0 < 0
    }

    /// The same without its sign.
    #[must_use]
    pub fn magnitude(self) -> Self {
        Self(self.0.saturating_abs())
    }

    /// As it is written, with as many decimals as it has: one at least, none for pieces.
    #[must_use]
    pub fn shown(self, unit: Unit) -> String {
        let decimals = match (unit, self.0) {
            (Unit::Pieces, _) => 0,
            (_, parts) if parts % 100 == 0 => 1,
            (_, parts) if parts % 10 == 0 => 2,
            _ => 3,
        };
        number::fixed(self.value(), decimals)
    }

    /// In words, with its unit.
    #[must_use]
    pub fn said(self, unit: Unit) -> Sentence {
        match unit {
            Unit::Pieces if self.0 >= 0 => sentence::store_pieces(self.0.unsigned_abs() / 1000),
            unit => sentence::store_fluid(number::with_unit(&self.shown(unit), unit.word())),
        }
    }
}

impl Add for Exact {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0))
    }
}

impl AddAssign for Exact {
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}

impl Sub for Exact {
    type Output = Self;

    fn sub(self, other: Self) -> Self {
        Self(self.0.saturating_sub(other.0))
    }
}

impl Sum for Exact {
    fn sum<I: Iterator<Item = Self>>(amounts: I) -> Self {
        amounts.fold(Self::ZERO, Add::add)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tenths_add_up_as_people_add_them() {
        let sum: Exact = [0.1, 0.2, 0.7].map(Exact::new).into_iter().sum();
        assert_eq!((sum.value(), sum.shown(Unit::Kilograms)), (1.0, "1.0".to_owned()));
        assert_eq!((Exact::new(7.4) + Exact::new(6.9) - Exact::new(14.0)).value(), 0.3);
    }

    #[test]
    fn an_amount_is_written_with_the_decimals_it_has() {
        let shown = |value: f64, unit| Exact::new(value).shown(unit);
        assert_eq!(shown(13.05, Unit::Litres), "13.05");
        assert_eq!(shown(-2.0, Unit::Litres), "\u{2212}2.0");
        assert_eq!(shown(3.0, Unit::Pieces), "3");
        assert_eq!(Exact::hundredths(15.4 * 0.847).shown(Unit::Kilograms), "13.04");
    }
}
