//! The new-fluid share after the pan was emptied and the transmission refilled.
//!
//! This is the figure that a customer reads. The litres of the pan carry away new fluid too; how much depends on
//! how far the pan had been exchanged, which nobody sees. The view calls this with litres at 15 °C.

use super::balance::{Term, sum};
use super::exchange::Retained;
use crate::quantity::Estimate;

/// What happened after the exchange, in litres at 15 °C.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Refill {
    /// Came in during the exchange beyond what came out; negative if less came in.
    pub surplus: Estimate,
    /// Drained from the pan.
    pub drained: Estimate,
    /// Carried out with parts.
    pub carried_out: Estimate,
    /// Refilled with new fluid.
    pub refilled: Estimate,
    /// Added with new fluid at the level check.
    pub added: Estimate,
    /// Ran over at the level check.
    pub overflow: Estimate,
}

impl Default for Refill {
    /// Nothing happened.
    fn default() -> Self {
        let none = Estimate::known(0.0, 0.0);
        Self { surplus: none, drained: none, carried_out: none, refilled: none, added: none, overflow: none }
    }
}

/// What is known of the litres inside.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fill {
    /// So much was inside when the vehicle arrived.
    OnArrival(Estimate),
    /// So much is inside now, since the level was set after everything else; what arrived follows from what went in and
    /// out since.
    AtLevel(Estimate),
}

impl Fill {
    fn stated(self) -> Estimate {
        let (Self::OnArrival(stated) | Self::AtLevel(stated)) = self;
        stated
    }

    /// Litres on arrival: as stated, or `V0 = V + O - S + D + C - R - A` from the right level V.
    ///
    /// # Source
    /// Mass balance; independent terms by JCGM 100:2008, 5.1.2.
    ///
    /// # Example
    /// ```
    /// use standpipe_engine::formula::refill::{Fill, Refill};
    /// use standpipe_engine::quantity::Estimate;
    /// // 1.5 L more in than out and 0.6 L added at the level: 9 L arrived 2.1 L short.
    /// let known = |litres: f64| Estimate::known(litres, 0.0);
    /// let refill = Refill { surplus: known(1.5), added: known(0.6), ..Refill::default() };
    /// assert!((Fill::AtLevel(known(9.0)).on_arrival(&refill).value - 6.9).abs() < 1e-12);
    /// ```
    #[must_use]
    pub fn on_arrival(self, refill: &Refill) -> Estimate {
        let Self::AtLevel(level) = self else { return self.stated() };
        let plus = [level, refill.overflow, refill.drained, refill.carried_out].map(Term::plus);
        let minus = [refill.surplus, refill.refilled, refill.added].map(Term::minus);
        sum(&[&plus[..], &minus[..]].concat())
    }
}

/// Old share of the whole after the pan was emptied and refilled with as much new fluid.
///
/// `o' = (V o - D o_pan) / V`
///
/// * `old_mean` – o, old share of the whole before, 0 to 1
/// * `old_pan` – o_pan, old share in the pan, 0 to 1
/// * `drained` – D in litres, 0 to V
/// * `fill` – V in litres, more than 0
///
/// # Source
/// Mass balance.
///
/// # Example
/// ```
/// // 9 L mixed, 8 L pushed, 3.5 L drained: from 0.411112 to 0.251235.
/// let old = standpipe_engine::formula::refill::old_after_pan(0.411_112, 0.411_112, 3.5, 9.0);
/// assert!((old - 0.251_235).abs() < 5e-7);
/// ```
#[must_use]
pub fn old_after_pan(old_mean: f64, old_pan: f64, drained: f64, fill: f64) -> f64 {
    (fill * old_mean - drained * old_pan) / fill
}

/// The new-fluid share when everything is closed and the level is right; 0 to 1.
///
/// `n = (G + S - (D + C) n_pan + R + A) / (V0 + S - D - C + R + A)`,
/// `n_pan = (1 - p)(1 - o_last) + p (G + S) / (V0 + S)`
///
/// * `retained` – G in litres, with the last look o_last
/// * `fill` – V0 in litres, more than 0, or what V0 follows from: see [`Fill::on_arrival`]
/// * `refill` – surplus S, drained D, carried out C, refilled R, added A, overflow O, in litres
///
/// All of V0 was old. The pan lies somewhere between what the last look showed and the mean of the whole: p is
/// rectangular from 0 to 1. The overflow is taken at the share of the whole, after the gears were moved, so that it
/// changes no share; where the level is set the divisor is V + O.
///
/// # Source
/// Mass balance; with S = 0, R = D, p = 0 and nothing else it is [`old_after_pan`]. Uncertainty by JCGM 100:2008,
/// 5.1.3 note 2: each input is moved by its standard uncertainty. The last look acts through G and through the pan at
/// once, as one input.
///
/// # Deviation
/// The share is cut to 1 after the uncertainty is computed.
///
/// # Example
/// ```
/// use standpipe_engine::formula::exchange::Retained;
/// use standpipe_engine::formula::refill::{Fill, Refill, new_share_after};
/// use standpipe_engine::quantity::Estimate;
/// // 9 L arrived, 6 L in and 4 L out, of which 3.5 L new ones stayed: 5.5 of 11 L. A pan alike of 3.6 L: 7.3 of 11 L.
/// let known = |litres: f64| Estimate::known(litres, 0.0);
/// let kept = Retained { litres: known(3.5), last_old: known(0.5), last_weight: 0.0 };
/// let refill =
///     Refill { surplus: known(2.0), drained: known(3.6), refilled: known(3.6), ..Refill::default() };
/// let share = new_share_after(&kept, Fill::OnArrival(known(9.0)), &refill);
/// assert!((share.value - 7.3 / 11.0).abs() < 1e-12);
/// ```
#[must_use]
pub fn new_share_after(retained: &Retained, fill: Fill, refill: &Refill) -> Estimate {
    // What of u(G) does not come from the last look.
    let by_last = retained.last_weight * retained.last_old.standard_uncertainty;
    let other = (retained.litres.standard_uncertainty.powi(2) - by_last.powi(2)).max(0.0).sqrt();
    let position = Estimate::known(0.5, 1.0 / 12.0_f64.sqrt());
    let inputs = [
        Estimate::known(retained.litres.value, other),
        retained.last_old,
        fill.stated(),
        position,
        refill.surplus,
        refill.drained,
        refill.carried_out,
        refill.refilled,
        refill.added,
        refill.overflow,
    ];
    let kind = fill;
    let share = |values: [f64; 10]| {
        let [kept, last_old, fill, position, surplus, drained, carried_out, refilled, added, overflow] =
            values;
        let kept = kept + retained.last_weight * (last_old - retained.last_old.value);
        // What left with the pan and came in after it, as far as it changes how much is inside.
        let since = refilled + added - drained - carried_out;
        let after_exchange = match kind {
            Fill::OnArrival(_) => fill + surplus,
            Fill::AtLevel(_) => fill + overflow - since,
        };
        let pan = (1.0 - position) * (1.0 - last_old) + position * (kept + surplus) / after_exchange;
        (kept + surplus - (drained + carried_out) * pan + refilled + added) / (after_exchange + since)
    };
    let values = inputs.map(|input| input.value);
    let mut variance = 0.0;
    for (at, input) in inputs.iter().enumerate() {
        let moved = |by: f64| {
            let mut values = values;
            if let Some(value) = values.get_mut(at) {
                *value += by;
            }
            share(values)
        };
        variance += ((moved(input.standard_uncertainty) - moved(-input.standard_uncertainty)) / 2.0).powi(2);
    }
    Estimate::known(share(values).clamp(0.0, 1.0), variance.sqrt())
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn kept(litres: f64, old: f64) -> Retained {
        Retained {
            litres: Estimate::known(litres, 0.3),
            last_old: Estimate::known(old, 0.07),
            last_weight: 1.5,
        }
    }

    const FILL: Estimate = Estimate::known(9.0, 0.45);

    #[test]
    fn without_pan_and_refill_the_share_is_that_of_the_exchange() {
        let before = super::super::exchange::new_share(kept(6.3, 0.2).litres, FILL);
        let after = new_share_after(&kept(6.3, 0.2), Fill::OnArrival(FILL), &Refill::default());
        assert!((after.value - before.value).abs() < 1e-12);
        assert!((after.standard_uncertainty - before.standard_uncertainty).abs() < 1e-4);
    }

    #[test]
    fn a_pan_that_lies_between_the_look_and_the_mean_is_less_certain() {
        let pan = Refill {
            drained: Estimate::known(3.5, 0.03),
            refilled: Estimate::known(3.5, 0.03),
            ..Refill::default()
        };
        let mixed = new_share_after(&kept(6.3, 0.3), Fill::OnArrival(FILL), &pan);
        let uneven = new_share_after(&kept(6.3, 0.05), Fill::OnArrival(FILL), &pan);
        assert!((mixed.value - (6.3 - 3.5 * 0.7 + 3.5) / 9.0).abs() < 1e-12);
        assert!(uneven.value < mixed.value && uneven.standard_uncertainty > mixed.standard_uncertainty);
    }

    #[test]
    fn only_a_drain_of_the_whole_leaves_all_new() {
        let pan = Refill {
            drained: Estimate::known(9.0, 0.0),
            refilled: Estimate::known(9.0, 0.0),
            ..Refill::default()
        };
        let after = new_share_after(&kept(6.3, 0.3), Fill::OnArrival(FILL), &pan);
        assert!((after.value - 1.0).abs() < 1e-12);
    }

    #[test]
    fn what_came_in_beyond_what_came_out_is_inside_and_in_the_divisor() {
        let known = |litres: f64| Estimate::known(litres, 0.0);
        let refill = Refill { surplus: known(2.0), ..Refill::default() };
        let after = new_share_after(&kept(3.5, 0.5), Fill::OnArrival(known(9.0)), &refill);
        assert!((after.value - 5.5 / 11.0).abs() < 1e-12);
        // 12.0 L in, 10.5 L out, 6.3 L kept, pan 3.0 L and 0.25 L on its parts, 3.0 L refilled, 0.6 L at the level:
        // 9 - 1.5 + 3.25 - 3.6 = 7.15 L arrived, 7.8 of 8.65 L were new, and with a pan of 0.9 it is
        // (7.8 - 3.25 × 0.9 + 3.6) / 9.
        let refill = Refill {
            surplus: known(1.5),
            drained: known(3.0),
            carried_out: known(0.25),
            refilled: known(3.0),
            added: known(0.6),
            overflow: known(0.0),
        };
        let level = Fill::AtLevel(known(9.0));
        assert!((level.on_arrival(&refill).value - 7.15).abs() < 1e-12);
        let after = new_share_after(&kept(6.3, 0.1), level, &refill);
        let pan = (0.9 + 7.8 / 8.65) / 2.0;
        assert!((after.value - (7.8 - 3.25 * pan + 3.6) / 9.0).abs() < 1e-12, "{after:?}");
    }

    #[test]
    fn the_level_and_what_arrived_give_one_share() {
        let known = |litres: f64| Estimate::known(litres, 0.0);
        let refill = Refill {
            surplus: known(-0.4),
            drained: known(3.5),
            carried_out: known(0.25),
            refilled: known(3.4),
            added: known(1.2),
            overflow: known(0.3),
        };
        let level = Fill::AtLevel(known(9.0));
        let arrived = Fill::OnArrival(level.on_arrival(&refill));
        let by = |fill| new_share_after(&kept(6.3, 0.2), fill, &refill).value;
        assert!((by(level) - by(arrived)).abs() < 1e-12);
    }

    proptest! {
        #[test]
        fn the_share_stays_from_0_to_1(
            litres in 0.0_f64..20.0, old in 0.0_f64..1.0, drained in 0.0_f64..9.0, refilled in 0.0_f64..12.0,
            overflow in 0.0_f64..3.0, surplus in -2.0_f64..2.0,
        ) {
            let refill = Refill {
                surplus: Estimate::known(surplus, 0.1),
                drained: Estimate::known(drained, 0.03),
                refilled: Estimate::known(refilled, 0.03),
                overflow: Estimate::known(overflow, 0.03),
                ..Refill::default()
            };
            let after = new_share_after(&kept(litres, old), Fill::OnArrival(FILL), &refill);
            prop_assert!((0.0..=1.0).contains(&after.value) && after.standard_uncertainty.is_finite());
        }

        #[test]
        fn refilling_what_was_drained_never_makes_the_fluid_older(
            litres in 0.0_f64..9.0, old in 0.0_f64..1.0, drained in 0.0_f64..4.0,
        ) {
            let amount = Estimate::known(drained, 0.03);
            let refill = Refill { drained: amount, refilled: amount, ..Refill::default() };
            let before = new_share_after(&kept(litres, old), Fill::OnArrival(FILL), &Refill::default());
            let after = new_share_after(&kept(litres, old), Fill::OnArrival(FILL), &refill);
            prop_assert!(after.value >= before.value - 1e-12);
        }
    }
}
