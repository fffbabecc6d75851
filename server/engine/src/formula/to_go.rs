//! Whether another litre is worth it: litres to a target, what the next litre brings, enough.
//!
//! The target is a share, now or at handover: the caller gives the share over the litres, from `forecast` or with
//! pan and refill from `refill`. Litres to go never exceed what the kit leaves. The plan and the bay call this.

use crate::quantity::Estimate;

/// How far it is to a target.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ToGo {
    /// The share is at the target now.
    Reached,
    /// More litres lead there.
    Litres {
        /// Litres to go, as likely too many as too few.
        likely: f64,
        /// Litres after which the upper end of the 95 % interval is there.
        least: f64,
        /// Litres after which the lower end is there; absent where the kit does not reach that far.
        greatest: Option<f64>,
    },
    /// The litres that are left do not lead there.
    NotWithKit {
        /// Litres that are left.
        litres: f64,
        /// The share after all of them.
        share: Estimate,
    },
    /// No number: the share or the litres are not known.
    Unknown,
}

/// Litres from `pushed` to a target share: where `n(v) ≥ target`, by halving.
///
/// * `share_at` – n over litres pushed in all, not falling
/// * `pushed` – litres pushed so far
/// * `left` – litres left for pushing, see [`super::sequence::litres_for_pushing`]
/// * `target` – share, 0 to 1
///
/// # Source
/// Inversion of the share over the litres; the interval is where the ends of the 95 % interval of the share reach
/// the target (Fieller's way, from memory).
///
/// # Example
/// ```
/// use standpipe_engine::formula::to_go::{ToGo, to_go};
/// use standpipe_engine::quantity::Estimate;
/// // One mixed volume of 9 L: 90 of 100 parts new after 2.303 × 9 = 20.7 L.
/// let mixed = |litres: f64| Estimate::known(1.0 - (-litres / 9.0_f64).exp(), 0.0);
/// let ToGo::Litres { likely, .. } = to_go(mixed, 8.0, 20.0, 0.9) else { panic!() };
/// assert!((likely - 12.7).abs() < 0.05);
/// assert!(matches!(to_go(mixed, 8.0, 6.0, 0.9), ToGo::NotWithKit { .. }));
/// ```
#[must_use]
pub fn to_go(share_at: impl Fn(f64) -> Estimate, pushed: f64, left: f64, target: f64) -> ToGo {
    let now = share_at(pushed);
    let sound = now.value.is_finite() && now.standard_uncertainty.is_finite() && pushed.is_finite();
    if !sound || !target.is_finite() || !left.is_finite() {
        return ToGo::Unknown;
    }
    if now.value >= target {
        return ToGo::Reached;
    }
    let left = left.max(0.0);
    let reached = |curve: &dyn Fn(Estimate) -> f64| {
        first_reached(|litres| curve(share_at(pushed + litres)), left, target)
    };
    match reached(&|share| share.value) {
        Some(likely) => ToGo::Litres {
            likely,
            least: reached(&|share| share.interval95().1).unwrap_or(0.0).min(likely),
            greatest: reached(&|share| share.interval95().0),
        },
        None => ToGo::NotWithKit { litres: left, share: share_at(pushed + left) },
    }
}

/// The least x from 0 to `most` where a rising curve reaches `target`, to a millilitre.
fn first_reached(curve: impl Fn(f64) -> f64, most: f64, target: f64) -> Option<f64> {
    /// Finer than anything that can be pushed.
    const STEP: f64 = 1e-3;
    if curve(0.0) >= target {
        return Some(0.0);
    }
    if curve(most) < target {
        return None;
    }
    let (mut below, mut reached) = (0.0, most);
    while reached - below > STEP {
        let middle = f64::midpoint(below, reached);
        if curve(middle) >= target { reached = middle } else { below = middle }
    }
    Some(reached)
}

/// Whether to go on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum NextLitre {
    /// The target is reached.
    TargetReached,
    /// Another litre is worth it.
    OneMore {
        /// Share that it brings.
        gain: f64,
    },
    /// Enough: another litre brings less than what the workshop calls worth it.
    Enough {
        /// Share that it would bring.
        gain: f64,
    },
    /// No litre is left after the reserve for pan and level.
    NothingLeft,
    /// No number: the share is not known.
    Unknown,
}

/// What the next litre brings, and whether that is enough reason: `n(v + 1) - n(v)` against a limit.
///
/// * `share_at` – n over litres pushed in all
/// * `pushed`, `left` – litres so far, and litres left for pushing
/// * `target` – share, 0 to 1
/// * `least_gain` – share that a litre must bring, the workshop's setting, 0 to 1
///
/// # Source
/// For one mixed volume the gain is `(o / V) (1 - e^(-1/V)) V`, about o / V (mass balance). The limit is a setting
/// of the workshop.
///
/// # Example
/// ```
/// use standpipe_engine::formula::to_go::{NextLitre, next_litre};
/// use standpipe_engine::quantity::Estimate;
/// let mixed = |litres: f64| Estimate::known(1.0 - (-litres / 9.0_f64).exp(), 0.0);
/// // After 9 L: 0.3679 - 0.3292 = 0.0387.
/// let NextLitre::OneMore { gain } = next_litre(mixed, 9.0, 5.0, 0.9, 0.02) else { panic!() };
/// assert!((gain - 0.0387).abs() < 5e-5);
/// ```
#[must_use]
pub fn next_litre(
    share_at: impl Fn(f64) -> Estimate,
    pushed: f64,
    left: f64,
    target: f64,
    least_gain: f64,
) -> NextLitre {
    /// Less than this cannot be pushed as a litre.
    const A_LITRE: f64 = 1.0;
    let now = share_at(pushed).value;
    let gain = share_at(pushed + A_LITRE).value - now;
    if !gain.is_finite() || !target.is_finite() || !left.is_finite() {
        NextLitre::Unknown
    } else if now >= target {
        NextLitre::TargetReached
    } else if left < A_LITRE {
        NextLitre::NothingLeft
    } else if gain < least_gain {
        NextLitre::Enough { gain }
    } else {
        NextLitre::OneMore { gain }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn mixed(litres: f64) -> Estimate {
        let old = (-litres / 9.0_f64).exp();
        Estimate::known(1.0 - old, 0.03)
    }

    #[test]
    fn the_interval_of_the_litres_holds_the_litres() {
        let ToGo::Litres { likely, least, greatest } = to_go(mixed, 8.0, 30.0, 0.9) else {
            panic!("30 L lead there");
        };
        assert!(least < likely && likely < greatest.unwrap());
        // The lower end of the interval needs 0.9 + 1.96 × 0.03 = 0.9588: 28.7 L in all.
        assert!((greatest.unwrap() - 20.7).abs() < 0.05);
        let ToGo::Litres { greatest, .. } = to_go(mixed, 8.0, 15.0, 0.9) else { panic!("15 L lead there") };
        assert_eq!(greatest, None);
    }

    #[test]
    fn a_litre_that_brings_too_little_is_enough() {
        assert!(matches!(next_litre(mixed, 16.0, 9.0, 0.95, 0.02), NextLitre::Enough { .. }));
        assert!(matches!(next_litre(mixed, 9.0, 9.0, 0.95, 0.02), NextLitre::OneMore { .. }));
        assert_eq!(next_litre(mixed, 9.0, 0.4, 0.95, 0.02), NextLitre::NothingLeft);
        assert_eq!(next_litre(mixed, 30.0, 5.0, 0.95, 0.02), NextLitre::TargetReached);
    }

    #[test]
    fn no_number_comes_from_what_is_none() {
        let none = |_: f64| Estimate::known(f64::NAN, 0.1);
        assert_eq!(to_go(none, 8.0, 5.0, 0.9), ToGo::Unknown);
        assert_eq!(to_go(mixed, 8.0, f64::NAN, 0.9), ToGo::Unknown);
        assert_eq!(next_litre(none, 8.0, 5.0, 0.9, 0.02), NextLitre::Unknown);
    }

    proptest! {
        #[test]
        fn litres_to_go_never_exceed_what_the_kit_leaves(
            pushed in 0.0_f64..20.0, left in -3.0_f64..20.0, target in 0.0_f64..1.1,
        ) {
            match to_go(mixed, pushed, left, target) {
                ToGo::Litres { likely, least, greatest } => {
                    prop_assert!(least <= likely && likely <= left);
                    prop_assert!(greatest.is_none_or(|greatest| greatest <= left && likely <= greatest));
                    prop_assert!(mixed(pushed + likely).value >= target);
                }
                ToGo::NotWithKit { litres, share } => {
                    prop_assert!(litres >= 0.0 && share.value < target);
                }
                ToGo::Reached => prop_assert!(mixed(pushed).value >= target),
                ToGo::Unknown => prop_assert!(false, "all of it is a number"),
            }
        }
    }
}
