//! Colour of a photograph: sRGB to L*a*b*, and the difference of two colours.
//!
//! A difference says something only between two photographs under the same light; whether they are is not known
//! here. No colour word is made of a number and none is turned into one. The condition calls it.
//!
//! The library `palette` computes L*a*b* and the difference: it equals all pairs of Sharma's table to 5e-11. Its
//! way from sRGB differs from the printed constants by 5e-10 (transfer function) and 1e-7 (matrix), too much for
//! the table, so those two steps are our own.

use palette::color_difference::Ciede2000;
use palette::white_point::D65;
use palette::{Lab, Xyz, convert::FromColorUnclamped};

/// Rows of the matrix from linear sRGB to X, Y, Z: primaries of IEC 61966-2-1 and D65, seven digits.
const MATRIX: [[f64; 3]; 3] = [
    [0.412_456_4, 0.357_576_1, 0.180_437_5],
    [0.212_672_9, 0.715_152_2, 0.072_175_0],
    [0.019_333_9, 0.119_192_0, 0.950_304_1],
];

/// One channel of sRGB as a part of full light.
///
/// `c / 12.92` up to 0.04045, else `((c + 0.055) / 1.055)^2.4`, with c = value / 255
///
/// * `value` – 0 to 255
///
/// # Source
/// IEC 61966-2-1, transfer function.
///
/// # Example
/// ```
/// // Mid grey 128 is 21.586 % of full light (computed).
/// assert!((standpipe_engine::formula::colour::linear(128) - 0.215_86).abs() < 5e-6);
/// ```
#[must_use]
pub fn linear(value: u8) -> f64 {
    linear_of(f64::from(value) / 255.0)
}

/// The same of a value between two steps of a channel, 0 to 1.
#[must_use]
pub fn linear_of(share: f64) -> f64 {
    if share <= 0.040_45 { share / 12.92 } else { ((share + 0.055) / 1.055).powf(2.4) }
}

/// X, Y, Z of an sRGB colour, with Y of white = 1.
///
/// `(X, Y, Z) = M (R, G, B)`, M in the head of this file
///
/// # Source
/// IEC 61966-2-1.
///
/// # Example
/// ```
/// // Red: the first column of the matrix.
/// let [x, y, z] = standpipe_engine::formula::colour::xyz([255, 0, 0]);
/// assert!((x - 0.412_456_4).abs() < 1e-12 && (y - 0.212_672_9).abs() < 1e-12 && (z - 0.019_333_9).abs() < 1e-12);
/// ```
#[must_use]
pub fn xyz(srgb: [u8; 3]) -> [f64; 3] {
    let [red, green, blue] = srgb.map(linear);
    MATRIX.map(|[r, g, b]| r * red + g * green + b * blue)
}

/// A colour as L*, a* and b*.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LabColour {
    /// Lightness, 0 to 100.
    pub lightness: f64,
    /// From green to red.
    pub a: f64,
    /// From blue to yellow.
    pub b: f64,
}

/// L*a*b* of an sRGB colour under D65.
///
/// `L* = 116 f(Y) - 16`, `a* = 500 (f(X / 0.95047) - f(Y))`, `b* = 200 (f(Y) - f(Z / 1.08883))`,
/// `f(t) = ∛t` above 216/24389, else `(24389/27 t + 16) / 116`
///
/// # Source
/// CIE 1976 L*a*b*, ISO/CIE 11664-4.
///
/// # Example
/// ```
/// // Published anchor: red is 53.2408, 80.0925, 67.2032.
/// let red = standpipe_engine::formula::colour::lab([255, 0, 0]);
/// assert!((red.lightness - 53.2408).abs() < 5e-5 && (red.a - 80.0925).abs() < 5e-5 && (red.b - 67.2032).abs() < 5e-5);
/// ```
#[must_use]
pub fn lab(srgb: [u8; 3]) -> LabColour {
    let [x, y, z] = xyz(srgb);
    // Rounded constants put white a hair above 100; clamping would hide that, not mend it.
    let found: Lab<D65, f64> = Lab::from_color_unclamped(Xyz::<D65, f64>::new(x, y, z));
    LabColour { lightness: found.l, a: found.a, b: found.b }
}

/// Difference of two colours, CIEDE2000 with `k_L = k_C = k_H = 1`; 0 for equal ones, symmetric.
///
/// Nothing where a colour is no number.
///
/// # Source
/// ISO/CIE 11664-6; Sharma, Wu and Dalal, Color Res. Appl. 30 (2005) 21-30.
///
/// # Example
/// ```
/// use standpipe_engine::formula::colour::{LabColour, difference};
/// // Sharma, table 1, pair 1: 2.0425.
/// let one = LabColour { lightness: 50.0, a: 2.6772, b: -79.7751 };
/// let other = LabColour { lightness: 50.0, a: 0.0, b: -82.7485 };
/// assert!((difference(one, other).unwrap() - 2.0425).abs() < 5e-5);
/// ```
#[must_use]
pub fn difference(one: LabColour, other: LabColour) -> Option<f64> {
    let of = |colour: LabColour| Lab::<D65, f64>::new(colour.lightness, colour.a, colour.b);
    let found = of(one).difference(of(other));
    found.is_finite().then_some(found)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn a_colour_that_is_no_number_has_no_difference() {
        let grey = LabColour { lightness: 50.0, a: 0.0, b: 0.0 };
        assert_eq!(difference(LabColour { a: f64::NAN, ..grey }, grey), None);
        assert_eq!(difference(LabColour { lightness: f64::INFINITY, ..grey }, grey), None);
    }

    proptest! {
        #[test]
        fn the_difference_is_symmetric_and_zero_on_equal(one in any::<[u8; 3]>(), other in any::<[u8; 3]>()) {
            let (one, other) = (lab(one), lab(other));
            let there = difference(one, other).unwrap();
            prop_assert!(there >= 0.0);
            prop_assert!((there - difference(other, one).unwrap()).abs() < 1e-9);
            prop_assert!(difference(one, one).unwrap().abs() < 1e-9);
        }

        #[test]
        fn more_light_is_never_darker(red in 0_u8..255, green in 0_u8..255, blue in 0_u8..255) {
            prop_assert!(lab([red + 1, green + 1, blue + 1]).lightness > lab([red, green, blue]).lightness);
        }
    }
}
