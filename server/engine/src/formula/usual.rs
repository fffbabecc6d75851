//! What follows from litres alone, before anything was seen: both ways of flowing, by what is usual of them.
//!
//! The plan compares procedures with it. Neither way speaks louder than the other while nobody has looked, and what
//! is not known of fill, flow and pan is carried into the result. What was seen since is in `forecast`, which says the
//! same as this without a look.

use super::fit::Prior;
use super::flow::{Flow, Tanks, TwoCompartments};
use super::forecast::{SLOW_EXCHANGE_PRIOR, SLOW_PART_PRIOR, TANKS_PRIOR, tanks_of, two_compartments_of};
use crate::quantity::Estimate;

/// What is known of a transmission before an exchange.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Usual {
    ln_fill: Prior,
    drained: Estimate,
}

impl Usual {
    /// A transmission that holds `fill` litres, `drained` of them in the pan; nothing unless the fill is more than 0
    /// and everything is finite.
    ///
    /// * `display_relative_uncertainty` – relative standard uncertainty of the litres that are pushed
    #[must_use]
    pub fn of(fill: Estimate, drained: Estimate, display_relative_uncertainty: f64) -> Option<Self> {
        let relative = (fill.standard_uncertainty / fill.value).hypot(display_relative_uncertainty);
        let sound = fill.value > 0.0 && fill.value.is_finite() && relative.is_finite();
        let pan =
            drained.value >= 0.0 && drained.value.is_finite() && drained.standard_uncertainty.is_finite();
        let ln_fill = Prior::normal(fill.value.ln(), relative);
        (sound && pan).then_some(Self { ln_fill, drained })
    }

    /// A share that follows from the flow and the litres drained, 0 to 1, over what is usual.
    ///
    /// `e = (e_t + e_d) / 2`, `u² = (u_t² + u_d²) / 2 + ((e_t - e_d) / 2)²`; each of both with
    /// `e_m = f(θ) + Σ ((f(θ + s_j) + f(θ - s_j)) / 2 - f(θ))`, `u_m² = Σ ((f(θ + s_j) - f(θ - s_j)) / 2)²`
    ///
    /// * `tanks`, `slow` – f for tanks in a row and with a slow part, of the flow and the litres drained
    ///
    /// Nothing comes back if a number is not finite.
    ///
    /// # Source
    /// JCGM 100:2008, 5.1.3 note 2 (whole steps) and 5.1.2 note (the bend); both ways weigh the same, since without a
    /// reading neither has more evidence.
    ///
    /// # Example
    /// ```
    /// use standpipe_engine::formula::{flow::Flow, usual::Usual};
    /// use standpipe_engine::quantity::Estimate;
    /// let known = |litres| Estimate::known(litres, 0.0);
    /// let nine = Usual::of(Estimate::known(9.0, 0.45), known(3.6), 0.0).unwrap();
    /// // 12 of 9 L through, nothing seen: somewhere around 72 of 100 parts.
    /// let share = nine.share(|flow, _| 1.0 - flow.mean(12.0), |flow, _| 1.0 - flow.mean(12.0)).unwrap();
    /// assert!((share.value - 0.72).abs() < 0.03 && share.standard_uncertainty > 0.05);
    /// ```
    #[must_use]
    pub fn share(
        &self,
        tanks: impl Fn(&Tanks, f64) -> f64,
        slow: impl Fn(&TwoCompartments, f64) -> f64,
    ) -> Option<Estimate> {
        let tanks = self.carried([self.ln_fill, TANKS_PRIOR], tanks_of, tanks)?;
        let priors = [self.ln_fill, SLOW_PART_PRIOR, SLOW_EXCHANGE_PRIOR];
        let slow = self.carried(priors, two_compartments_of, slow)?;
        let value = f64::midpoint(tanks.value, slow.value);
        let variance = f64::midpoint(tanks.standard_uncertainty.powi(2), slow.standard_uncertainty.powi(2));
        let apart = (tanks.value - slow.value) / 2.0;
        let share = Estimate::known(value.clamp(0.0, 1.0), variance.sqrt().hypot(apart));
        (share.value.is_finite() && share.standard_uncertainty.is_finite()).then_some(share)
    }

    /// What follows from one way of flowing, with all that is not known of it.
    fn carried<const P: usize, F: Flow>(
        &self,
        priors: [Prior; P],
        flow: fn(&[f64; P]) -> Option<F>,
        result: impl Fn(&F, f64) -> f64,
    ) -> Option<Estimate> {
        let middle = priors.map(|prior| prior.mean);
        let drained = self.drained.value;
        let best = result(&flow(&middle)?, drained);
        let (mut value, mut variance) = (best, 0.0);
        let mut moved = |up: f64, down: f64| {
            value += f64::midpoint(up, down) - best;
            variance += ((up - down) / 2.0).powi(2);
        };
        for (at, prior) in priors.iter().enumerate() {
            let step = |width: f64| {
                let mut parameters = middle;
                *parameters.get_mut(at)? += width * prior.standard_deviation;
                Some(result(&flow(&parameters)?, drained))
            };
            moved(step(1.0)?, step(-1.0)?);
        }
        let middle = flow(&middle)?;
        let pan =
            |width: f64| result(&middle, (drained + width * self.drained.standard_uncertainty).max(0.0));
        moved(pan(1.0), pan(-1.0));
        Some(Estimate::known(value, variance.sqrt()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::formula::forecast::{Known, forecast};
    use crate::quantity::Litres;

    #[test]
    fn it_says_the_same_as_the_forecast_without_a_look() {
        let fill = Estimate::known(9.0, 0.45);
        let display = 0.03 / 3.0_f64.sqrt();
        let known = Known {
            taken: &[],
            pushed: Litres::new(0.0).unwrap(),
            hose: Litres::new(0.0).unwrap(),
            fill: Some(fill),
            display_relative_uncertainty: display,
            reference_relative_uncertainty: 0.0,
            common_part: 0.0,
        };
        let forecast = forecast(&known, fill, &[], false).unwrap();
        let usual = Usual::of(fill, Estimate::known(0.0, 0.0), display).unwrap();
        for litres in [1.0, 6.0, 12.0, 18.0] {
            let share =
                usual.share(|flow, _| 1.0 - flow.mean(litres), |flow, _| 1.0 - flow.mean(litres)).unwrap();
            let other = forecast.share_at(litres);
            assert!((share.value - other.value).abs() < 1e-6, "{litres}: {share:?} {other:?}");
            assert!(
                (share.standard_uncertainty - other.standard_uncertainty).abs() < 1e-3,
                "{share:?} {other:?}"
            );
        }
    }

    #[test]
    fn what_is_no_number_gives_none() {
        let known = |litres| Estimate::known(litres, 0.1);
        for (fill, drained) in
            [(0.0, 3.0), (f64::NAN, 3.0), (9.0, f64::NAN), (9.0, -1.0), (f64::INFINITY, 3.0)]
        {
            assert_eq!(Usual::of(known(fill), known(drained), 0.01), None, "{fill} {drained}");
        }
        let nine = Usual::of(known(9.0), known(3.0), 0.01).unwrap();
        assert_eq!(nine.share(|_, _| f64::NAN, |_, _| 0.5), None);
    }
}
