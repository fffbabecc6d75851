//! How much of a fluid that does not belong inside is still there, by the litres that went in and out since.
//!
//! Shares add up: each litre that was pushed in moves through the same flow as any other, so what is left of some
//! litres in between is the difference of two curves of old fluid. Nobody has looked; both usual ways of flowing count
//! alike. The view calls this with litres.

use super::flow::Flow;
use super::usual::Usual;
use crate::quantity::Estimate;

/// Of the other fluid, after an exchange.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Exchanged {
    /// Its share of all that is inside, 0 to 1.
    pub inside: Estimate,
    /// Its share of what leaves, 0 to 1.
    pub leaving: Estimate,
}

/// The share of another fluid after some litres were pushed in, of which some were that fluid.
///
/// `s = s_0 m(v) + Σ (m(v - b_i) - m(v - a_i))`, with m the old share inside after so many litres; leaving alike with
/// the old share at the outlet
///
/// * `usual` – what is usual of the transmission
/// * `before` – s_0, its share before, evenly mixed, 0 to 1
/// * `litres` – from a_i to b_i in litres: where the counter stood while that fluid was pushed in
/// * `pushed` – v in litres, all that was pushed in
///
/// Nothing comes back if a number is not finite.
///
/// # Source
/// Superposition: m is the answer of the flow to a step of its inlet (Danckwerts, Chem. Eng. Sci. 2 (1953) 1-13); the
/// ways of flowing are those of [`super::flow`], what is not known of them that of [`super::usual`].
///
/// # Deviation
/// As much leaves as enters.
///
/// # Example
/// ```
/// use standpipe_engine::formula::{other_fluid::after_exchange, usual::Usual};
/// use standpipe_engine::quantity::Estimate;
/// let known = |value| Estimate::known(value, 0.0);
/// let nine = Usual::of(Estimate::known(9.0, 0.45), known(3.6), 0.0).unwrap();
/// // All of 12 L were the other fluid: as much of it is inside as would be new fluid, around 72 of 100 parts.
/// let all = after_exchange(&nine, known(0.0), &[(0.0, 12.0)], 12.0).unwrap();
/// assert!((all.inside.value - 0.72).abs() < 0.03);
/// // 12 L of the right one after a share of 0.4: 0.4 × 0.28.
/// let rinsed = after_exchange(&nine, known(0.4), &[], 12.0).unwrap();
/// assert!((rinsed.inside.value - 0.112).abs() < 0.012);
/// ```
#[must_use]
pub fn after_exchange(
    usual: &Usual,
    before: Estimate,
    litres: &[(f64, f64)],
    pushed: f64,
) -> Option<Exchanged> {
    let added = |old: &dyn Fn(f64) -> f64| -> f64 {
        litres.iter().map(|(from, to)| old((pushed - to).max(0.0)) - old((pushed - from).max(0.0))).sum()
    };
    let share = |old: &dyn Fn(f64) -> f64| before.value * old(pushed) + added(old);
    let left = |old: &dyn Fn(f64) -> f64| before.standard_uncertainty * old(pushed);
    let whole = usual.share(|flow, _| share(&|at| flow.mean(at)), |flow, _| share(&|at| flow.mean(at)))?;
    let out = usual.share(|flow, _| share(&|at| flow.outlet(at)), |flow, _| share(&|at| flow.outlet(at)))?;
    // What is not known of the share before weighs as much as of it is left.
    let by_before = usual.share(|flow, _| left(&|at| flow.mean(at)), |flow, _| left(&|at| flow.mean(at)))?;
    let with =
        |share: Estimate| Estimate::known(share.value, share.standard_uncertainty.hypot(by_before.value));
    Some(Exchanged { inside: with(whole), leaving: with(out) })
}

/// Litres of another fluid left after the pan was drained.
///
/// `x' = x - D p`, p rectangular between its share of what leaves and of all that is inside
///
/// * `inside` – x in litres
/// * `shares` – its share of all that is inside, and of what leaves
/// * `drained` – D in litres
///
/// # Source
/// Mass balance, as [`super::refill::old_after_pan`]; where the pan lies between both nobody sees
/// (JCGM 100:2008, 4.3.7).
///
/// # Deviation
/// Cut to 0 and to x.
///
/// # Example
/// ```
/// use standpipe_engine::formula::other_fluid::after_drain;
/// use standpipe_engine::quantity::Estimate;
/// let known = |value| Estimate::known(value, 0.0);
/// // 9 L mixed with 3.699999 L of old fluid in them, 3.5 L drained: 0.411111 becomes 0.251234 (refill.rs).
/// let share = known(3.7 / 9.0);
/// let left = after_drain(known(3.7), (share, share), known(3.5));
/// assert!((left.value / 9.0 - 0.251_234).abs() < 1e-6);
/// ```
#[must_use]
pub fn after_drain(inside: Estimate, (whole, leaving): (Estimate, Estimate), drained: Estimate) -> Estimate {
    let pan = f64::midpoint(whole.value, leaving.value);
    let apart = (whole.value - leaving.value).abs() / 12.0_f64.sqrt();
    let by_share = drained.value * apart.hypot(leaving.standard_uncertainty.max(whole.standard_uncertainty));
    let u = [inside.standard_uncertainty, by_share, pan * drained.standard_uncertainty];
    let u = u.into_iter().fold(0.0, f64::hypot);
    Estimate::known((inside.value - drained.value * pan).clamp(0.0, inside.value.max(0.0)), u)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn nine() -> Usual {
        Usual::of(Estimate::known(9.0, 0.45), Estimate::known(0.0, 0.0), 0.02).unwrap()
    }

    #[test]
    fn what_is_pushed_in_two_parts_is_what_is_pushed_in_one() {
        let none = Estimate::known(0.0, 0.0);
        let one = after_exchange(&nine(), none, &[(0.0, 6.0)], 10.0).unwrap();
        let two = after_exchange(&nine(), none, &[(0.0, 2.5), (2.5, 6.0)], 10.0).unwrap();
        assert!((one.inside.value - two.inside.value).abs() < 1e-9);
        assert!(one.inside.standard_uncertainty > 0.01);
    }

    #[test]
    fn the_litres_pushed_in_last_are_still_all_inside() {
        // Nothing of the last half litre has reached the outlet by either way of flowing.
        let last = after_exchange(&nine(), Estimate::known(0.0, 0.0), &[(9.5, 10.0)], 10.0).unwrap();
        assert!((last.inside.value * 9.0 - 0.5).abs() < 0.06, "{last:?}");
    }

    #[test]
    fn nothing_of_it_is_nothing_and_what_is_no_number_gives_none() {
        let none = Estimate::known(0.0, 0.0);
        let clean = after_exchange(&nine(), none, &[], 10.0).unwrap();
        assert!(clean.inside.value < 1e-12 && clean.leaving.value < 1e-12);
        assert_eq!(after_exchange(&nine(), none, &[], f64::NAN), None);
        assert_eq!(after_exchange(&nine(), Estimate::known(f64::NAN, 0.0), &[], 3.0), None);
    }

    #[test]
    fn a_drain_never_takes_out_more_than_there_is() {
        let share = Estimate::known(0.9, 0.1);
        let left = after_drain(Estimate::known(1.0, 0.1), (share, share), Estimate::known(4.0, 0.1));
        assert!(left.value.abs() < 1e-12 && left.standard_uncertainty > 0.1);
    }
}
