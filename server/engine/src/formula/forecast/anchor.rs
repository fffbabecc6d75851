//! What the looks themselves say was kept: the fixed end of the forecast.
//!
//! The model-free part and its uncertainty, and what a flow adds to it between and after the looks. Only the
//! forecast uses it; the balance that is printed is in `exchange`.

use super::Known;
use crate::formula::fit::Reading;
use crate::formula::flow::Flow;
use crate::quantity::Estimate;

/// The trapezoid through the looks, as a weighted sum of old shares.
#[derive(Clone, Debug)]
pub(super) struct Anchor {
    /// Litres that had left at each look, the start at 0 first.
    at: Vec<f64>,
    /// Half of the litres between both neighbours.
    weights: Vec<f64>,
    /// Litres kept.
    pub(super) kept: Estimate,
}

impl Anchor {
    /// Through the readings, from all old at the start.
    pub(super) fn through(known: &Known<'_>, readings: &[Reading]) -> Self {
        let middle = |reading: &Reading| {
            // "At least so much" stands half way to all old, see `seen`.
            let half = if reading.at_least { (1.0 - reading.value).max(0.0) / 2.0 } else { 0.0 };
            (reading.at, reading.value + half, reading.standard_uncertainty.hypot(half / 3.0_f64.sqrt()))
        };
        let points: Vec<(f64, f64, f64)> =
            std::iter::once((0.0, 1.0, 0.0)).chain(readings.iter().map(middle)).collect();
        let at: Vec<f64> = points.iter().map(|point| point.0).collect();
        let last = at.last().copied().unwrap_or(0.0);
        let before = std::iter::once(0.0).chain(at.iter().copied());
        let after = at.iter().copied().skip(1).chain(std::iter::once(last));
        let weights: Vec<f64> = before.zip(after).map(|(before, after)| (after - before) / 2.0).collect();
        let (mut value, mut squares, mut sum) = (0.0, 0.0, 0.0);
        for ((_, old, u), weight) in points.iter().zip(&weights) {
            value += weight * old;
            squares += (weight * u).powi(2);
            sum += weight * u;
        }
        let by_looks = ((1.0 - known.common_part) * squares + known.common_part * sum * sum).sqrt();
        let by_references = known.reference_relative_uncertainty * value;
        Self { at, weights, kept: Estimate::known(value, by_looks.hypot(by_references)) }
    }

    /// The trapezoid through a flow's own outlet at the looks.
    pub(super) fn straight(&self, flow: &impl Flow) -> f64 {
        self.at.iter().zip(&self.weights).map(|(at, weight)| weight * flow.outlet(*at)).sum()
    }

    /// Litres that a flow keeps up to `litres` beyond its trapezoid, see [`Anchor::straight`].
    pub(super) fn beyond(&self, flow: &impl Flow, straight: f64, litres: f64) -> f64 {
        let from = self.at.last().copied().unwrap_or(0.0);
        flow.fill() * (1.0 - flow.mean(litres.max(from))) - straight
    }
}
