//! Looks at the fluid through comparison tubes.
//!
//! The tubes are mixed from the sample before and from fresh fluid; a person names the tube that looks most
//! alike, or a value between two. How well that can be told depends on how far the tubes lie apart. A colour
//! word is never turned into a number here. The catalogue brings the set, the exchange uses the uncertainty.

use crate::quantity::Share;

/// The shares of new fluid in a set of comparison tubes, rising.
#[derive(Clone, Debug, PartialEq)]
pub struct Tubes(Vec<f64>);

impl Default for Tubes {
    /// 0, 25, 50, 75, 90 and 100 of 100 parts new: finer at the end, where the exchange is judged.
    fn default() -> Self {
        Self(vec![0.0, 0.25, 0.5, 0.75, 0.9, 1.0])
    }
}

impl Tubes {
    /// A set of at least two shares inside 0 to 1, each greater than the one before; else nothing.
    #[must_use]
    pub fn new(shares: Vec<f64>) -> Option<Self> {
        let inside = shares.iter().all(|share| (0.0..=1.0).contains(share));
        let rising = shares.windows(2).all(|pair| matches!(pair, [low, high] if low < high));
        (shares.len() >= 2 && inside && rising).then_some(Self(shares))
    }

    /// The shares of the tubes.
    #[must_use]
    pub fn shares(&self) -> &[f64] {
        &self.0
    }

    /// Standard uncertainty of a look, as a share.
    ///
    /// `u = h / (2 √3)`, where h is the local step of the set: the gap at an end tube, the mean of the two gaps
    /// at an inner tube, and the whole gap for a value named between two tubes.
    ///
    /// * `new_share` – the share that was named, 0 to 1
    ///
    /// # Source
    /// JCGM 100:2008, 4.3.7 (rectangular distribution of half-width h/2). That the eye finds the nearest tube is
    /// common practice, no source.
    ///
    /// # Example
    /// ```
    /// use standpipe_engine::{formula::tubes::Tubes, quantity::Share};
    /// // Tubes 0.25 apart: 0.25/(2√3) = 0.072.
    /// let tubes = Tubes::new(vec![0.0, 0.25, 0.5, 0.75, 1.0]).unwrap();
    /// let u = tubes.look_uncertainty(Share::new(0.5).unwrap());
    /// assert!((u - 0.072).abs() < 0.0005);
    /// ```
    #[must_use]
    pub fn look_uncertainty(&self, new_share: Share) -> f64 {
        /// Two shares are the same tube if they agree to the digits that a person types.
        const SAME: f64 = 1e-6;
        let share = new_share.get();
        let gaps = self.0.windows(2).filter_map(|pair| match pair {
            [low, high] if share >= low - SAME && share <= high + SAME => Some(high - low),
            _ => None,
        });
        let (sum, count) = gaps.fold((0.0, 0.0), |(sum, count), gap| (sum + gap, count + 1.0));
        let step = if count > 0.0 { sum / count } else { self.gap_outside(share) };
        step / (2.0 * 3.0_f64.sqrt())
    }

    /// Outside the set nothing lies beside the fluid: the step is twice the way to the nearest tube, and not
    /// less than the gap there.
    fn gap_outside(&self, share: f64) -> f64 {
        match (self.0.as_slice(), self.0.iter().as_slice()) {
            ([first, second, ..], _) if share < *first => (2.0 * (first - share)).max(second - first),
            (_, [.., before, last]) => (2.0 * (share - last)).max(last - before),
            _ => 1.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn uncertainty(tubes: &Tubes, share: f64) -> f64 {
        tubes.look_uncertainty(Share::new(share).unwrap()) * 2.0 * 3.0_f64.sqrt()
    }

    #[test]
    fn the_local_step_decides() {
        let tubes = Tubes::default();
        for (share, step) in [(0.0, 0.25), (0.25, 0.25), (0.75, 0.2), (0.9, 0.125), (1.0, 0.1), (0.6, 0.25)] {
            assert!((uncertainty(&tubes, share) - step).abs() < 1e-12, "{share}");
        }
    }

    #[test]
    fn a_look_outside_the_set_is_less_certain() {
        let tubes = Tubes::new(vec![0.4, 0.5, 0.6]).unwrap();
        assert!((uncertainty(&tubes, 0.1) - 0.6).abs() < 1e-12);
        assert!((uncertainty(&tubes, 1.0) - 0.8).abs() < 1e-12);
        assert!((uncertainty(&tubes, 0.61) - 0.1).abs() < 1e-12);
    }

    #[test]
    fn a_set_must_rise_inside_0_to_1() {
        assert!(Tubes::new(vec![0.5]).is_none());
        assert!(Tubes::new(vec![0.0, 0.5, 0.5]).is_none());
        assert!(Tubes::new(vec![0.0, 1.1]).is_none());
        assert!(Tubes::new(vec![0.0, f64::NAN]).is_none());
    }
}
