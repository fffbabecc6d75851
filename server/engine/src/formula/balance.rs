//! Sums with uncertainty: fluid in against fluid out, and whether a difference means anything.
//!
//! All terms of a sum come in one unit (litres at 15 °C for the fluid balance). Nothing here knows what the terms
//! are called or decides what to do about a difference; the view does.

use crate::quantity::Estimate;

/// Whether a term adds to the sum or is taken from it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sign {
    /// Added.
    Plus,
    /// Taken away.
    Minus,
}

impl Sign {
    fn factor(self) -> f64 {
        match self {
            Self::Plus => 1.0,
            Self::Minus => -1.0,
        }
    }
}

/// The part of a term's uncertainty that several terms have in common, since one instrument measured them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shared {
    /// Number of the instrument; terms with the same number err in the same direction.
    pub instrument: u32,
    /// Standard uncertainty from the instrument, in the unit of the sum.
    pub standard_uncertainty: f64,
}

/// One term of a sum.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Term {
    /// Whether it adds.
    pub sign: Sign,
    /// Value, with the uncertainty that is this term's own.
    pub estimate: Estimate,
    /// Uncertainty in common with other terms, if any.
    pub shared: Option<Shared>,
}

impl Term {
    /// A term that adds and has nothing in common with others.
    #[must_use]
    pub const fn plus(estimate: Estimate) -> Self {
        Self { sign: Sign::Plus, estimate, shared: None }
    }

    /// A term that is taken away and has nothing in common with others.
    #[must_use]
    pub const fn minus(estimate: Estimate) -> Self {
        Self { sign: Sign::Minus, estimate, shared: None }
    }

    /// The same term with an uncertainty that it has in common with others.
    #[must_use]
    pub const fn sharing(self, instrument: u32, standard_uncertainty: f64) -> Self {
        Self { shared: Some(Shared { instrument, standard_uncertainty }), ..self }
    }
}

/// Sum of signed terms with its combined uncertainty.
///
/// `y = Σ s_i x_i`, `u² = Σ u_i² + Σ_g (Σ_{i in g} s_i u_i,g)²`, with s = ±1: what one instrument g has in common
/// is added with its sign, so that it cancels between a drain and a refill out of the same jug.
///
/// * `terms` – values and uncertainties in one unit
///
/// # Source
/// JCGM 100:2008, 5.1.2 (independent terms), 5.2.2 note 1 (fully correlated terms), G.4.1 (degrees of freedom).
///
/// # Example
/// ```
/// use standpipe_engine::{formula::balance::{Term, sum}, quantity::Estimate};
/// // JCGM 100:2008, G.4.1: 0.25 % with 9, 0.57 % with 4 and 0.82 % with 14 degrees of freedom
/// // give 1.03 % with 19.0.
/// let parts = [(0.25, 9.0), (0.57, 4.0), (0.82, 14.0)].map(|(standard_uncertainty, degrees_of_freedom)| {
///     Term::plus(Estimate { value: 0.0, standard_uncertainty, degrees_of_freedom })
/// });
/// let total = sum(&parts);
/// assert!((total.standard_uncertainty - 1.03).abs() < 0.005);
/// assert!((total.degrees_of_freedom - 19.0).abs() < 0.05);
/// ```
#[must_use]
pub fn sum(terms: &[Term]) -> Estimate {
    let mut value = 0.0;
    let mut parts = Vec::with_capacity(terms.len());
    let mut groups: Vec<(u32, f64)> = Vec::new();
    for term in terms {
        value += term.sign.factor() * term.estimate.value;
        parts.push((term.estimate.standard_uncertainty, term.estimate.degrees_of_freedom));
        if let Some(shared) = term.shared {
            let part = term.sign.factor() * shared.standard_uncertainty;
            match groups.iter_mut().find(|(instrument, _)| *instrument == shared.instrument) {
                Some((_, total)) => *total += part,
                None => groups.push((shared.instrument, part)),
            }
        }
    }
    parts.extend(groups.into_iter().map(|(_, total)| (total.abs(), f64::INFINITY)));
    let (standard_uncertainty, degrees_of_freedom) = combined(parts);
    Estimate { value, standard_uncertainty, degrees_of_freedom }
}

/// Combined standard uncertainty and effective degrees of freedom of independent parts.
///
/// `u² = Σ u_i²`, `ν = u⁴ / Σ (u_i⁴ / ν_i)`
///
/// * `parts` – pairs of u_i (one unit) and ν_i (1 or more, infinite where the uncertainty is taken as known)
///
/// # Source
/// JCGM 100:2008, 5.1.2 and G.4.1, equation G.2b (Welch-Satterthwaite).
///
/// # Example
/// ```
/// // JCGM 100:2008, H.1.3.2: 5.8, 3.9 and 6.7 nm give 9.7 nm.
/// let (u, _) = standpipe_engine::formula::balance::combined([(5.8, 24.0), (3.9, 5.0), (6.7, 8.0)]);
/// assert!((u - 9.7).abs() < 0.05);
/// ```
#[must_use]
pub fn combined(parts: impl IntoIterator<Item = (f64, f64)>) -> (f64, f64) {
    let (mut squares, mut fourths) = (0.0, 0.0);
    for (uncertainty, freedom) in parts {
        let square = uncertainty * uncertainty;
        squares += square;
        fourths += square * square / freedom;
    }
    // Without any limited part (or without any uncertainty at all) the uncertainty counts as known.
    let freedom = if fourths > 0.0 { squares * squares / fourths } else { f64::INFINITY };
    (squares.sqrt(), freedom)
}

/// Expanded uncertainty with the customary factor 2: `U = 2 u`.
///
/// # Source
/// JCGM 100:2008, 6.3.3.
#[must_use]
pub fn expanded_k2(estimate: &Estimate) -> f64 {
    2.0 * estimate.standard_uncertainty
}

/// Normalised difference of two results.
///
/// `En = (x - X) / √(U(x)² + U(X)²)`
///
/// * `value`, `expanded` – x and U(x), k = 2
/// * `reference`, `reference_expanded` – X and U(X), k = 2; both 0 to judge a difference against zero
///
/// # Source
/// ISO/IEC 17043 annex B, ISO 13528 (clauses from memory).
///
/// # Deviation
/// Without any uncertainty the quotient is not defined: equal values give 0, unlike ones an infinite number.
///
/// # Example
/// ```
/// // 3.60 ± 0.06 against 3.75 ± 0.08: -1.5.
/// let en = standpipe_engine::formula::balance::normalised_difference((3.6, 0.06), (3.75, 0.08));
/// assert!((en + 1.5).abs() < 1e-9);
/// ```
#[must_use]
pub fn normalised_difference(
    (value, expanded): (f64, f64),
    (reference, reference_expanded): (f64, f64),
) -> f64 {
    let difference = value - reference;
    let expanded = expanded.hypot(reference_expanded);
    if expanded > 0.0 {
        difference / expanded
    } else if difference == 0.0 {
        0.0
    } else {
        difference.signum() * f64::INFINITY
    }
}

/// Whether a normalised difference is explained by the uncertainties: |En| ≤ 1.
///
/// # Source
/// As [`normalised_difference`].
#[must_use]
pub fn compatible(normalised_difference: f64) -> bool {
    normalised_difference.abs() <= 1.0
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn what_one_jug_errs_cancels_between_drain_and_refill() {
        let drained = Term::minus(Estimate::known(3.6, 0.03)).sharing(7, 0.05);
        let refilled = Term::plus(Estimate::known(3.6, 0.03)).sharing(7, 0.05);
        let same_jug = sum(&[drained, refilled]);
        assert!((same_jug.standard_uncertainty - 0.03 * 2.0_f64.sqrt()).abs() < 1e-12);
        let twice_out = sum(&[drained, drained]);
        assert!(
            (twice_out.standard_uncertainty - (2.0 * 0.03_f64.powi(2) + 0.1_f64.powi(2)).sqrt()).abs()
                < 1e-12
        );
    }

    #[test]
    fn a_sum_of_nothing_is_zero_and_known() {
        assert_eq!(sum(&[]), Estimate::known(0.0, 0.0));
        assert!(compatible(normalised_difference((0.0, 0.0), (0.0, 0.0))));
        assert!(!compatible(normalised_difference((0.1, 0.0), (0.0, 0.0))));
        assert!(!compatible(f64::NAN));
    }

    fn term() -> impl Strategy<Value = Term> {
        (
            any::<bool>(),
            0.0_f64..20.0,
            0.001_f64..0.5,
            1.0_f64..60.0,
            proptest::option::of((0_u32..3, 0.0_f64..0.2)),
        )
            .prop_map(|(adds, value, standard_uncertainty, degrees_of_freedom, shared)| Term {
                sign: if adds { Sign::Plus } else { Sign::Minus },
                estimate: Estimate { value, standard_uncertainty, degrees_of_freedom },
                shared: shared
                    .map(|(instrument, standard_uncertainty)| Shared { instrument, standard_uncertainty }),
            })
    }

    proptest! {
        #[test]
        fn doubling_all_volumes_leaves_the_normalised_difference(terms in proptest::collection::vec(term(), 1..8)) {
            let doubled: Vec<Term> = terms
                .iter()
                .map(|term| Term {
                    estimate: term.estimate.scaled(2.0),
                    shared: term.shared.map(|shared| Shared {
                        standard_uncertainty: 2.0 * shared.standard_uncertainty,
                        ..shared
                    }),
                    ..*term
                })
                .collect();
            let en = |terms: &[Term]| {
                let total = sum(terms);
                normalised_difference((total.value, expanded_k2(&total)), (0.0, 0.0))
            };
            prop_assert!((en(&terms) - en(&doubled)).abs() < 1e-9);
        }

        #[test]
        fn the_degrees_of_freedom_lie_between_the_least_and_the_sum(terms in proptest::collection::vec(term(), 1..8)) {
            let plain: Vec<Term> = terms.into_iter().map(|term| Term { shared: None, ..term }).collect();
            let least = plain.iter().map(|term| term.estimate.degrees_of_freedom).fold(f64::INFINITY, f64::min);
            let total: f64 = plain.iter().map(|term| term.estimate.degrees_of_freedom).sum();
            let found = sum(&plain).degrees_of_freedom;
            prop_assert!(found >= least - 1e-9 && found <= total + 1e-9);
        }
    }
}
