//! How full the vehicle arrived, and what is lost without an explanation.
//!
//! The level is right at the end, so what was short at the start can be told from the amounts; but only a clear
//! difference is worth a word, since nearly every vehicle seems to arrive a few tenths short. Nothing here names a
//! cause. The view calls it with the sums of [`super::balance`].

use super::balance::{Term, compatible, expanded_k2, normalised_difference, sum};
use crate::quantity::Estimate;

/// Litres that a difference must pass before it is worth a word (common practice, no source).
pub const CLEAR_LITRES: f64 = 0.5;

/// How full the vehicle arrived.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Arrival {
    /// Less inside than the level asks for, in litres at 15 °C, more than 0: look for the leak.
    Short(Estimate),
    /// More inside than the level asks for, in litres at 15 °C, more than 0.
    Over(Estimate),
    /// No difference that can be told; the estimate, negative for short, is for the second page.
    NotTold(Estimate),
}

/// What the difference between the level at the start and the right one says.
///
/// Clear only if `|d| > 0.5 L` and `|d| > k(95 %, ν) u`, with Student's t for few degrees of freedom.
///
/// * `deviation` – d in litres at 15 °C: out + drained + spilled + final deviation - in - refilled, summed by
///   [`super::balance::sum`]; negative if too little was inside
///
/// Nothing where the sum gave no number.
///
/// # Source
/// JCGM 100:2008, G.3.2 and G.4.1 (Welch-Satterthwaite, by the sum). The half litre is common practice, no source.
///
/// # Example
/// ```
/// use standpipe_engine::{formula::arrival::{Arrival, arrival}, quantity::Estimate};
/// // 12.0 L in, 11.9 out, 3.6 drained, 4.1 refilled, 0.05 spilled: 0.55 L short, u = 0.123 (computed).
/// let found = arrival(Estimate::known(-0.55, 0.123_288)).unwrap();
/// assert!(matches!(found, Arrival::Short(litres) if (litres.value - 0.55).abs() < 1e-12));
/// ```
#[must_use]
pub fn arrival(deviation: Estimate) -> Option<Arrival> {
    if !is_a_number(deviation) {
        return None;
    }
    let size = deviation.value.abs();
    let clear = size > CLEAR_LITRES && size > deviation.expanded95();
    Some(match (clear, deviation.value < 0.0) {
        (true, true) => Arrival::Short(Estimate { value: size, ..deviation }),
        (true, false) => Arrival::Over(deviation),
        (false, _) => Arrival::NotTold(deviation),
    })
}

/// What remains of a balance once everything that was found is taken from it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Unexplained {
    /// What remains in litres at 15 °C; more than 0 if more went in than is accounted for.
    pub litres: Estimate,
    /// Normalised difference from zero; beyond 1 in size the uncertainty does not explain it.
    pub normalised: f64,
    /// Whether somebody has to choose or write an explanation before the job is closed.
    pub needs_explanation: bool,
    /// Whether it belongs on the owner's list: needs an explanation and is more than half a litre.
    pub listed: bool,
}

/// The unexplained part of a fluid balance.
///
/// `r = B - e`, `u² = u(B)² + u(e)²`, `En = r / (2 u)`; an explanation is needed if `|En| > 1`
///
/// * `balance` – B in litres at 15 °C, summed by [`super::balance::sum`]
/// * `explained` – e in litres at 15 °C: what was found, for example how short the vehicle arrived; 0 ± 0 if nothing
///
/// Nothing where a figure is no number.
///
/// # Source
/// ISO/IEC 17043 annex B, ISO 13528 (clauses from memory); JCGM 100:2008, 5.1.2 and G.4.1. The half litre is common
/// practice, no source.
///
/// # Example
/// ```
/// use standpipe_engine::{formula::arrival::unexplained, quantity::Estimate};
/// // Computed: a balance of 1.15 L with u = 0.194165 gives En = 2.96.
/// let loss = unexplained(Estimate::known(1.15, 0.194_165), Estimate::known(0.0, 0.0)).unwrap();
/// assert!((loss.normalised - 2.96).abs() < 0.005 && loss.needs_explanation && loss.listed);
/// ```
#[must_use]
pub fn unexplained(balance: Estimate, explained: Estimate) -> Option<Unexplained> {
    if !(is_a_number(balance) && is_a_number(explained)) {
        return None;
    }
    let litres = sum(&[Term::plus(balance), Term::minus(explained)]);
    let normalised = normalised_difference((litres.value, expanded_k2(&litres)), (0.0, 0.0));
    let needs_explanation = !compatible(normalised);
    let listed = needs_explanation && litres.value.abs() > CLEAR_LITRES;
    Some(Unexplained { litres, normalised, needs_explanation, listed })
}

fn is_a_number(estimate: Estimate) -> bool {
    estimate.value.is_finite()
        && estimate.standard_uncertainty >= 0.0
        && estimate.standard_uncertainty.is_finite()
        && estimate.degrees_of_freedom > 0.0
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn a_few_tenths_are_not_worth_a_word() {
        let told = |value, u| !matches!(arrival(Estimate::known(value, u)), Some(Arrival::NotTold(_)));
        assert!(!told(-0.3, 0.01), "small");
        assert!(!told(-0.5, 0.01), "not more than half a litre");
        assert!(!told(-0.8, 0.45), "not beyond its uncertainty");
        assert!(told(-0.8, 0.2) && told(0.8, 0.2));
    }

    #[test]
    fn few_degrees_of_freedom_ask_for_more() {
        let known = Estimate::known(-0.6, 0.25);
        assert!(matches!(arrival(known), Some(Arrival::Short(_))));
        let few = Estimate { degrees_of_freedom: 3.0, ..known };
        assert!(matches!(arrival(few), Some(Arrival::NotTold(_))));
    }

    #[test]
    fn what_is_no_number_says_nothing() {
        let none = Estimate::known(0.0, 0.0);
        for bad in [
            Estimate::known(f64::NAN, 0.1),
            Estimate::known(1.0, f64::NAN),
            Estimate::known(f64::INFINITY, 0.1),
            Estimate { degrees_of_freedom: f64::NAN, ..Estimate::known(1.0, 0.1) },
        ] {
            assert_eq!(arrival(bad), None, "{bad:?}");
            assert_eq!(unexplained(bad, none), None, "{bad:?}");
            assert_eq!(unexplained(none, bad), None, "{bad:?}");
        }
    }

    #[test]
    fn an_explanation_takes_the_loss_away() {
        let balance = Estimate::known(0.9, 0.1);
        let open = unexplained(balance, Estimate::known(0.0, 0.0)).unwrap();
        assert!(open.needs_explanation && open.listed);
        let found = unexplained(balance, Estimate::known(0.85, 0.1)).unwrap();
        assert!(!found.needs_explanation && !found.listed);
        let small = unexplained(Estimate::known(0.3, 0.1), Estimate::known(0.0, 0.0)).unwrap();
        assert!(small.needs_explanation && !small.listed);
    }

    proptest! {
        #[test]
        fn doubling_all_litres_leaves_the_normalised_difference(
            value in -2.0_f64..2.0, u in 0.001_f64..0.5, found in -1.0_f64..1.0, u_found in 0.0_f64..0.3,
        ) {
            let (balance, explained) = (Estimate::known(value, u), Estimate::known(found, u_found));
            let once = unexplained(balance, explained).unwrap();
            let twice = unexplained(balance.scaled(2.0), explained.scaled(2.0)).unwrap();
            prop_assert!((once.normalised - twice.normalised).abs() < 1e-9);
        }

        #[test]
        fn short_and_over_mirror_each_other(value in -3.0_f64..3.0, u in 0.0_f64..1.0, freedom in 1.0_f64..50.0) {
            let deviation = Estimate { value, standard_uncertainty: u, degrees_of_freedom: freedom };
            let found = arrival(deviation).unwrap();
            let mirrored = arrival(Estimate { value: -value, ..deviation }).unwrap();
            match (found, mirrored) {
                (Arrival::Short(one), Arrival::Over(other)) | (Arrival::Over(one), Arrival::Short(other)) => {
                    prop_assert_eq!(one, other);
                }
                (Arrival::NotTold(_), Arrival::NotTold(_)) => {}
                other => prop_assert!(false, "{other:?}"),
            }
        }
    }
}
