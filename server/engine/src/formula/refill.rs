//! The new-fluid share after the pan was emptied and the transmission refilled.
//!
//! This is the figure that a customer reads. The litres of the pan carry away new fluid too; how much depends on
//! how far the pan had been exchanged, which nobody sees. The view calls this with litres at 15 °C.

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
/// `n = (G + S - (D + C) n_pan + R + A) / (V + O)`, `n_pan = (1 - p)(1 - o_last) + p G / V`
///
/// * `retained` – G in litres, with the last look o_last
/// * `fill` – V in litres, more than 0: what is inside when the level is right
/// * `refill` – surplus S, drained D, carried out C, refilled R, added A, overflow O, in litres
///
/// The pan lies somewhere between what the last look showed and the mean of the whole: p is rectangular from 0
/// to 1. The overflow is taken at the share of the whole, after the gears were moved; hence the divisor V + O.
///
/// # Source
/// Mass balance; with R = D, p = 0 and nothing else it is [`old_after_pan`]. Uncertainty by JCGM 100:2008, 5.1.3
/// note 2: each input is moved by its standard uncertainty. The last look acts through G and through the pan at
/// once, as one input.
///
/// # Deviation
/// The share is cut to 1 after the uncertainty is computed.
#[must_use]
pub fn new_share_after(retained: &Retained, fill: Estimate, refill: &Refill) -> Estimate {
    // What of u(G) does not come from the last look.
    let by_last = retained.last_weight * retained.last_old.standard_uncertainty;
    let other = (retained.litres.standard_uncertainty.powi(2) - by_last.powi(2)).max(0.0).sqrt();
    let position = Estimate::known(0.5, 1.0 / 12.0_f64.sqrt());
    let inputs = [
        Estimate::known(retained.litres.value, other),
        retained.last_old,
        fill,
        position,
        refill.surplus,
        refill.drained,
        refill.carried_out,
        refill.refilled,
        refill.added,
        refill.overflow,
    ];
    let share = |values: [f64; 10]| {
        let [kept, last_old, fill, position, surplus, drained, carried_out, refilled, added, overflow] =
            values;
        let kept = kept + retained.last_weight * (last_old - retained.last_old.value);
        let pan = (1.0 - position) * (1.0 - last_old) + position * kept / fill;
        (kept + surplus - (drained + carried_out) * pan + refilled + added) / (fill + overflow)
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
        let after = new_share_after(&kept(6.3, 0.2), FILL, &Refill::default());
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
        let mixed = new_share_after(&kept(6.3, 0.3), FILL, &pan);
        let uneven = new_share_after(&kept(6.3, 0.05), FILL, &pan);
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
        let after = new_share_after(&kept(6.3, 0.3), FILL, &pan);
        assert!((after.value - 1.0).abs() < 1e-12);
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
            let after = new_share_after(&kept(litres, old), FILL, &refill);
            prop_assert!((0.0..=1.0).contains(&after.value) && after.standard_uncertainty.is_finite());
        }

        #[test]
        fn refilling_what_was_drained_never_makes_the_fluid_older(
            litres in 0.0_f64..9.0, old in 0.0_f64..1.0, drained in 0.0_f64..4.0,
        ) {
            let amount = Estimate::known(drained, 0.03);
            let refill = Refill { drained: amount, refilled: amount, ..Refill::default() };
            let before = new_share_after(&kept(litres, old), FILL, &Refill::default());
            let after = new_share_after(&kept(litres, old), FILL, &refill);
            prop_assert!(after.value >= before.value - 1e-12);
        }
    }
}
