//! Particles in the fluid: the code for a count.
//!
//! A code is only ever made of counts and keeps them, so that none can appear without its count. There is no
//! exact way between this code and older classes; none is offered. The laboratory letter calls it.

use std::fmt;

/// Upper limits of the scale numbers 0 to 28, in particles per millilitre (each included).
///
/// # Source
/// ISO 4406:2021, table 1, in which four reprints agree. From 7 on, the limits are rounded figures and not
/// powers of two: they are never computed.
pub const UPPER_LIMITS_PER_MILLILITRE: [f64; 29] = [
    0.01,
    0.02,
    0.04,
    0.08,
    0.16,
    0.32,
    0.64,
    1.3,
    2.5,
    5.0,
    10.0,
    20.0,
    40.0,
    80.0,
    160.0,
    320.0,
    640.0,
    1_300.0,
    2_500.0,
    5_000.0,
    10_000.0,
    20_000.0,
    40_000.0,
    80_000.0,
    160_000.0,
    320_000.0,
    640_000.0,
    1_300_000.0,
    2_500_000.0,
];

/// One place of a code.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum ScaleNumber {
    /// 0 to 28.
    Code(u8),
    /// More than the table holds.
    Above28,
}

impl fmt::Display for ScaleNumber {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Code(code) => write!(f, "{code}"),
            Self::Above28 => f.write_str(">28"),
        }
    }
}

/// The scale number of a count: the first range whose upper limit the count does not exceed.
///
/// * `per_millilitre` – particles per millilitre, 0 or more; nothing for anything else
///
/// # Source
/// ISO 4406:2021, table 1: more than the lower limit, up to and including the upper.
///
/// # Example
/// ```
/// use standpipe_engine::formula::particles::{ScaleNumber, scale_number};
/// // More than 1300 up to and including 2500 per millilitre is 18.
/// assert_eq!(scale_number(1300.0), Some(ScaleNumber::Code(17)));
/// assert_eq!(scale_number(1301.0), Some(ScaleNumber::Code(18)));
/// ```
#[must_use]
pub fn scale_number(per_millilitre: f64) -> Option<ScaleNumber> {
    let counted = per_millilitre >= 0.0 && per_millilitre.is_finite();
    counted.then(|| {
        let place = UPPER_LIMITS_PER_MILLILITRE.iter().position(|limit| per_millilitre <= *limit);
        place.and_then(|place| u8::try_from(place).ok()).map_or(ScaleNumber::Above28, ScaleNumber::Code)
    })
}

/// How the particles were counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Counted {
    /// By an automatic counter calibrated to ISO 11171: at least 4, 6 and 14 µm(c).
    Automatically,
    /// Under the microscope by ISO 4407: at least 5 and 15 µm; the first place is a dash.
    UnderTheMicroscope,
}

/// Why counts make no code.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoCode {
    /// A count is missing where this way of counting has one, or is there where it has none.
    CountMissing,
    /// A count is negative or no number.
    NotACount,
    /// More large particles than small ones: the counts are cumulative, so one of them is wrong.
    Rising,
}

/// A code with the counts that it was made of.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Code {
    counted: Counted,
    counts: [Option<f64>; 3],
    numbers: [Option<ScaleNumber>; 3],
}

impl Code {
    /// The code of three cumulative counts, in particles per millilitre, from the smallest size to the largest;
    /// the first is absent where the microscope counted.
    ///
    /// # Errors
    /// [`NoCode`] where a count is missing, is none, or rises with the size.
    ///
    /// # Source
    /// ISO 4406:2021, clause 4.
    ///
    /// # Example
    /// ```
    /// use standpipe_engine::formula::particles::{Code, Counted};
    /// let code = Code::new(Counted::Automatically, [Some(2600.0), Some(640.0), Some(80.0)]).unwrap();
    /// assert_eq!(code.to_string(), "19/16/13");
    /// ```
    pub fn new(counted: Counted, counts: [Option<f64>; 3]) -> Result<Self, NoCode> {
        let [smallest, middle, largest] = counts;
        let first = matches!(counted, Counted::Automatically);
        if smallest.is_some() != first || middle.is_none() || largest.is_none() {
            return Err(NoCode::CountMissing);
        }
        let numbers = counts.map(|count| count.and_then(scale_number));
        if numbers.iter().flatten().count() != counts.iter().flatten().count() {
            return Err(NoCode::NotACount);
        }
        let falls = |more: Option<f64>, less: Option<f64>| match (more, less) {
            (Some(more), Some(less)) => more >= less,
            _ => true,
        };
        if !(falls(smallest, middle) && falls(middle, largest)) {
            return Err(NoCode::Rising);
        }
        Ok(Self { counted, counts, numbers })
    }

    /// How the particles were counted.
    #[must_use]
    pub const fn counted(&self) -> Counted {
        self.counted
    }

    /// The counts in particles per millilitre, from the smallest size to the largest.
    #[must_use]
    pub const fn counts(&self) -> [Option<f64>; 3] {
        self.counts
    }

    /// The scale numbers, from the smallest size to the largest.
    #[must_use]
    pub const fn numbers(&self) -> [Option<ScaleNumber>; 3] {
        self.numbers
    }
}

impl fmt::Display for Code {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (at, number) in self.numbers.iter().enumerate() {
            if at > 0 {
                f.write_str("/")?;
            }
            match number {
                Some(number) => write!(f, "{number}")?,
                None => f.write_str("-")?,
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn no_code_without_its_counts() {
        use Counted::{Automatically, UnderTheMicroscope};
        let new = Code::new;
        assert_eq!(new(Automatically, [None, Some(640.0), Some(80.0)]), Err(NoCode::CountMissing));
        assert_eq!(new(UnderTheMicroscope, [Some(1.0), Some(1.0), Some(1.0)]), Err(NoCode::CountMissing));
        assert_eq!(new(Automatically, [Some(f64::NAN), Some(6.0), Some(1.0)]), Err(NoCode::NotACount));
        assert_eq!(new(Automatically, [Some(9.0), Some(6.0), Some(-1.0)]), Err(NoCode::NotACount));
        assert_eq!(new(Automatically, [Some(9.0), Some(60.0), Some(1.0)]), Err(NoCode::Rising));
        let seen = new(UnderTheMicroscope, [None, Some(640.0), Some(80.0)]).unwrap();
        assert_eq!(seen.to_string(), "-/16/13");
        assert_eq!(seen.counts(), [None, Some(640.0), Some(80.0)]);
        let dirty = new(Automatically, [Some(3e6), Some(2e6), Some(80.0)]).unwrap();
        assert_eq!(dirty.to_string(), ">28/28/13");
    }

    proptest! {
        #[test]
        fn more_particles_never_have_the_lower_number(count in 0.0_f64..4e6, more in 0.0_f64..4e6) {
            prop_assert!(scale_number(count + more) >= scale_number(count));
        }
    }
}
