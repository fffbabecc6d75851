//! New fluid inside where the pan was changed before the exchange.
//!
//! Its new litres are inside from the start, and they feed the outlet: how old the first fluid is that comes out is
//! open. No way of flowing is fitted, only the balance of `exchange` is carried on. The view calls this.

use super::exchange::{CoursePoint, Exchange, Retained, Spacing, new_share, retained, spacing};
use crate::quantity::{Estimate, Litres};

/// An exchange after the pan was changed, with three spaced looks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PanFirst {
    /// New litres that the exchange kept beyond those of the refill.
    pub kept: Retained,
    refilled: Estimate,
    /// Litres that had come out at the first look.
    first_look: f64,
}

impl PanFirst {
    /// The balance, with the start of the outlet curve anywhere between all old and all new, since the pan feeds the
    /// outlet; absent below three spaced looks.
    ///
    /// `G = G' - a / 2`, `u(G)² = u(G')² + (a / (2 √3))²`, `a = v_1 / 2`
    ///
    /// * `exchange` – the exchange alone; G' is what [`retained`] makes of it with a start of all old
    /// * `refilled` – new litres that were in the pan when it began
    ///
    /// # Source
    /// As [`retained`]; the start is rectangular from 0 to 1 (JCGM 100:2008, 4.3.7) and weighs on the area up to the
    /// first look v_1 by half of its litres.
    ///
    /// # Example
    /// ```
    /// use standpipe_engine::formula::exchange::{Exchange, Look};
    /// use standpipe_engine::formula::pan_first::PanFirst;
    /// use standpipe_engine::quantity::{Estimate, Litres, Share};
    /// let looks = [(3.0, 0.5), (6.0, 0.5), (9.0, 0.75)].map(|(litres, new)| Look {
    ///     litres: Litres::new(litres).unwrap(),
    ///     new_share: Share::new(new).unwrap(),
    ///     standard_uncertainty: 0.05,
    /// });
    /// let exchange = Exchange {
    ///     looks: &looks,
    ///     pushed: Litres::new(9.0).unwrap(),
    ///     hose: Litres::new(0.0).unwrap(),
    ///     litres_relative_uncertainty: 0.0,
    ///     reference_relative_uncertainty: 0.0,
    ///     common_part: 0.0,
    /// };
    /// // The curve starts at 0.5: 3 × 0.5 + 3 × 0.5 + 3 × 0.375 = 4.125 L kept beyond those of the refill.
    /// let pan = PanFirst::of(&exchange, Estimate::known(3.6, 0.03)).unwrap();
    /// assert!((pan.kept.litres.value - 4.125).abs() < 1e-9);
    /// assert!((pan.share(Estimate::known(9.0, 0.45)).value - 7.725 / 9.0).abs() < 1e-9);
    /// ```
    #[must_use]
    pub fn of(exchange: &Exchange<'_>, refilled: Estimate) -> Option<Self> {
        if spacing(exchange.looks, exchange.pushed) != Spacing::Enough {
            return None;
        }
        let looks = exchange.looks.iter().map(|look| look.litres);
        let first_look =
            looks.filter(|litres| litres.get() > 0.0).map(Litres::get).fold(f64::INFINITY, f64::min);
        let mut pan = Self { kept: retained(exchange), refilled, first_look };
        let (less, u) = pan.less_up_to(first_look);
        let kept = pan.kept.litres;
        let value = (kept.value - less).max(0.0);
        pan.kept.litres = Estimate::known(value, kept.standard_uncertainty.hypot(u));
        Some(pan)
    }

    /// New litres inside, without surplus.
    #[must_use]
    pub fn litres(&self) -> Estimate {
        plus(self.kept.litres, self.refilled)
    }

    /// New-fluid share now, without surplus; `fill` is what was inside when the exchange began.
    #[must_use]
    pub fn share(&self, fill: Estimate) -> Estimate {
        new_share(self.litres(), fill)
    }

    /// A point of the plain balance's curve as it is with the pan's new litres inside from the start.
    #[must_use]
    pub fn on_course(&self, point: &CoursePoint, fill: Estimate) -> Estimate {
        let (less, u) = self.less_up_to(point.litres.min(self.first_look));
        let by_refill = new_share(self.refilled, fill);
        let value = point.new_share.value + by_refill.value - less / fill.value;
        let own = point.new_share.standard_uncertainty.hypot(u / fill.value);
        Estimate::known(value.clamp(0.0, 1.0), own.hypot(by_refill.standard_uncertainty))
    }

    /// Litres that a lower start keeps less up to some litres before the first look, in the middle, and their standard
    /// uncertainty: the start weighs on the first gap alone, falling to nothing at its end.
    fn less_up_to(&self, litres: f64) -> (f64, f64) {
        let area = litres - litres * litres / (2.0 * self.first_look);
        (area / 2.0, area / (2.0 * 3.0_f64.sqrt()))
    }
}

fn plus(one: Estimate, other: Estimate) -> Estimate {
    Estimate::known(one.value + other.value, one.standard_uncertainty.hypot(other.standard_uncertainty))
}
