//! Where a point of a flat sheet is seen in a picture.
//!
//! A camera without bent lines maps a plane to a plane. Four points that are known on both give the whole map. The
//! reading of photos calls it.

use nalgebra::{SMatrix, SVector};

/// A map from one plane to another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Homography([f64; 8]);

impl Homography {
    /// The map that carries four points to four others; nothing where three of them lie on one line.
    ///
    /// `u = (a x + b y + c) / (g x + h y + 1)`, `v = (d x + e y + f) / (g x + h y + 1)`
    ///
    /// * `from`, `to` – the points, in the same order
    ///
    /// # Source
    /// Hartley and Zisserman, Multiple View Geometry in Computer Vision, second edition, 2.3 and 4.1 (from memory): eight
    /// linear equations with the last element set to 1.
    ///
    /// # Example
    /// ```
    /// use standpipe_engine::formula::homography::Homography;
    /// // Computed by hand: the unit square seen so that its right edge is half as high.
    /// let square = [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)];
    /// let seen = [(0.0, 0.0), (1.0, 0.25), (1.0, 0.75), (0.0, 1.0)];
    /// let map = Homography::of(square, seen).unwrap();
    /// let (x, y) = map.at((0.5, 0.5));
    /// assert!((x - 2.0 / 3.0).abs() < 1e-12 && (y - 0.5).abs() < 1e-12);
    /// ```
    #[must_use]
    pub fn of(from: [(f64, f64); 4], to: [(f64, f64); 4]) -> Option<Self> {
        let mut left = SMatrix::<f64, 8, 8>::zeros();
        let mut right = SVector::<f64, 8>::zeros();
        for (place, ((x, y), (u, v))) in from.into_iter().zip(to).enumerate() {
            let rows = [
                ([x, y, 1.0, 0.0, 0.0, 0.0, -x * u, -y * u], u),
                ([0.0, 0.0, 0.0, x, y, 1.0, -x * v, -y * v], v),
            ];
            for (half, (row, value)) in rows.into_iter().enumerate() {
                let at = 2 * place + half;
                left.set_row(at, &SVector::<f64, 8>::from(row).transpose());
                if let Some(right) = right.get_mut(at) {
                    *right = value;
                }
            }
        }
        let found = left.lu().solve(&right)?;
        found.iter().all(|value| value.is_finite()).then(|| Self(found.into()))
    }

    /// Where a point is seen.
    #[must_use]
    pub fn at(&self, (x, y): (f64, f64)) -> (f64, f64) {
        let [a, b, c, d, e, f, g, h] = self.0;
        let far = g * x + h * y + 1.0;
        ((a * x + b * y + c) / far, (d * x + e * y + f) / far)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_four_points_themselves_are_met_and_points_on_one_line_give_no_map() {
        let from = [(20.0, 20.0), (277.0, 20.0), (277.0, 190.0), (20.0, 190.0)];
        let to = [(103.0, 88.0), (905.0, 131.0), (860.0, 644.0), (77.0, 702.0)];
        let map = Homography::of(from, to).unwrap();
        for (from, to) in from.into_iter().zip(to) {
            let (u, v) = map.at(from);
            assert!((u - to.0).abs() < 1e-9 && (v - to.1).abs() < 1e-9);
        }
        let line = [(0.0, 0.0), (1.0, 1.0), (2.0, 2.0), (3.0, 3.0)];
        assert!(Homography::of(line, to).is_none());
    }
}
