//! Many tests at once: how small a p value has to be, so that hardly ever anything is named by chance.
//!
//! The comparison of workshops calls this before it names any of them.

/// Adjusted p values by the step-down rule, in the order in which they came.
///
/// `p̃₍ₖ₎ = max over j ≤ k of min(1, (m − j + 1) p₍ⱼ₎)`, the p values in ascending order
///
/// * `p_values` – m of them, each 0 to 1; what is no number is taken as 1
///
/// What has an adjusted p value of at most α can be named, and the chance that any of them is named wrongly is at most
/// α, however the tests hang together.
///
/// # Source
/// S. Holm, Scandinavian Journal of Statistics 6 (1979) 65-70.
///
/// # Example
/// ```
/// use standpipe_engine::formula::holm::adjusted;
/// let found = adjusted(&[0.01, 0.04, 0.03, 0.005]);
/// let expected = [0.03, 0.06, 0.06, 0.02];
/// assert!(found.iter().zip(expected).all(|(found, expected)| (found - expected).abs() < 1e-12));
/// ```
#[must_use]
pub fn adjusted(p_values: &[f64]) -> Vec<f64> {
    let known = |p: &f64| if p.is_nan() { 1.0 } else { p.clamp(0.0, 1.0) };
    let mut ordered: Vec<(usize, f64)> = p_values.iter().map(known).enumerate().collect();
    ordered.sort_by(|(_, one), (_, other)| one.total_cmp(other));
    let mut left = ordered.iter().map(|_| 1.0).sum::<f64>();
    let mut greatest = 0.0_f64;
    for (_, p) in &mut ordered {
        greatest = greatest.max((*p * left).min(1.0));
        *p = greatest;
        left -= 1.0;
    }
    ordered.sort_by_key(|(place, _)| *place);
    ordered.into_iter().map(|(_, p)| p).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn what_is_no_number_names_nobody() {
        assert_eq!(adjusted(&[f64::NAN, 0.0]), [1.0, 0.0]);
        assert!(adjusted(&[]).is_empty());
    }

    proptest! {
        #[test]
        fn nothing_becomes_surer_and_no_order_is_turned(
            p_values in prop::collection::vec(0.0_f64..1.0, 1..60),
        ) {
            let found = adjusted(&p_values);
            for (p, adjusted) in p_values.iter().zip(&found) {
                prop_assert!(adjusted >= p && *adjusted <= 1.0);
            }
            for (one, other) in p_values.iter().zip(&found).zip(p_values.iter().zip(&found).skip(1)) {
                prop_assert!((one.0 < other.0) <= (one.1 <= other.1));
            }
        }
    }
}
