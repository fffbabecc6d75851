//! Procedures compared before anything is opened: how old the fluid is after each.
//!
//! Drain and fill, exchange then pan, pan then exchange. Which one a bay takes is for a person; the plan calls
//! this with flow models, since nothing has been seen yet. What really happened is computed in `refill`.

use super::flow::{ALL_OLD, Compartments, Flow, Tanks, TwoCompartments};
use super::refill::old_after_pan;

/// Old share after draining a part and filling it up, several times: `o = (1 - f)ⁿ`.
///
/// * `drained_part` – f, drained litres by all litres, 0 to 1
/// * `times` – n
///
/// # Source
/// Repeated dilution, mass balance.
///
/// # Example
/// ```
/// // Three times half of it: 0.125.
/// assert_eq!(standpipe_engine::formula::sequence::old_after_drains(0.5, 3), 0.125);
/// ```
#[must_use]
pub fn old_after_drains(drained_part: f64, times: u32) -> f64 {
    (1.0 - drained_part.clamp(0.0, 1.0)).powf(f64::from(times))
}

/// Old share after draining and filling several times where a slow part keeps its fluid meanwhile:
/// `o = (Va (1 - D / Va)ⁿ + Vd) / V`.
///
/// * `flow` – the two compartments
/// * `drained` – D in litres, 0 to the litres that flow
/// * `times` – n
///
/// # Source
/// Repeated dilution of the part that flows; nothing is pushed, so nothing goes to and fro with the slow part. Derived
/// here.
///
/// # Example
/// ```
/// use standpipe_engine::formula::{flow::TwoCompartments, sequence::old_after_drains_beside_slow};
/// // 8 and 2 L, half of what flows drained twice: a quarter of 8 L and all of 2 L are old.
/// let two = TwoCompartments::new(8.0, 2.0, 0.05).unwrap();
/// assert!((old_after_drains_beside_slow(&two, 4.0, 2) - 0.4).abs() < 1e-12);
/// ```
#[must_use]
pub fn old_after_drains_beside_slow(flow: &TwoCompartments, drained: f64, times: u32) -> f64 {
    let flowing = old_after_drains(drained / flow.flowing_litres(), times);
    flow.whole(Compartments { flowing, ..ALL_OLD })
}

/// How often to drain and fill until a share is new: `n = ⌈ln(1 - t) / ln(1 - f)⌉`; nothing if that is never.
///
/// * `drained_part` – f, 0 to 1
/// * `target_new` – t, 0 to 1
///
/// # Source
/// As [`old_after_drains`].
///
/// # Example
/// ```
/// // Three tenths each time, 75 of 100 parts new: four times.
/// assert_eq!(standpipe_engine::formula::sequence::drains_to(0.3, 0.75), Some(4));
/// ```
#[must_use]
pub fn drains_to(drained_part: f64, target_new: f64) -> Option<u32> {
    /// More drains than anybody makes; beyond, the answer is never.
    const MOST: u32 = 1000;
    // Rounding of the powers must not ask for one drain more than the exact share does.
    (0..=MOST).find(|times| 1.0 - old_after_drains(drained_part, *times) >= target_new - 1e-12)
}

/// Old share after an exchange and then the pan, which feeds the outlet and so holds what the outlet shows.
///
/// * `flow` – how the fluid flows
/// * `litres` – pushed
/// * `drained` – litres of the pan, refilled with as much new fluid
///
/// # Source
/// Mass balance, see [`old_after_pan`].
///
/// # Example
/// ```
/// use standpipe_engine::formula::{flow::Tanks, sequence::exchange_then_pan};
/// // 9 L, 8 L pushed, 3.5 L from the pan, two tanks: 0.13667.
/// let two = Tanks::new(9.0, 2.0).unwrap();
/// assert!((exchange_then_pan(&two, 8.0, 3.5) - 0.13667).abs() < 5e-6);
/// ```
#[must_use]
pub fn exchange_then_pan(flow: &impl Flow, litres: f64, drained: f64) -> f64 {
    let outlet = flow.outlet(litres);
    old_after_pan(flow.mean(litres), outlet, drained, flow.fill()).clamp(0.0, 1.0)
}

/// Old share after the pan first and then an exchange, for tanks in a row of which the pan is the last.
///
/// `o = m(v) - (D / V) m_pan(v)`, where m_pan is what of the pan's new fluid is still there: the pan washes out as
/// its own part of the row, or as the last tank where that is larger.
///
/// * `tanks` – the row
/// * `litres` – v, pushed after the pan
/// * `drained` – D in litres, 0 to V
///
/// # Source
/// The equations are linear: the new fluid of the pan is followed on its own. Derived here, see the test by
/// integration.
///
/// # Example
/// ```
/// use standpipe_engine::formula::{flow::Tanks, sequence::pan_then_tanks};
/// // One mixed volume: the order does not matter, 0.251235.
/// let mixed = Tanks::new(9.0, 1.0).unwrap();
/// assert!((pan_then_tanks(&mixed, 8.0, 3.5) - 0.251_235).abs() < 5e-7);
/// ```
#[must_use]
pub fn pan_then_tanks(tanks: &Tanks, litres: f64, drained: f64) -> f64 {
    let drained = drained.clamp(0.0, tanks.fill());
    let one = tanks.fill() / tanks.count().max(1.0);
    let count = (drained / one).max(1.0);
    let still_there = Tanks::new(drained.max(one), count).map_or(0.0, |pan| pan.mean(litres));
    (tanks.mean(litres) - drained / tanks.fill() * still_there).clamp(0.0, 1.0)
}

/// Old share after the pan first and then an exchange, with a slow part; the pan belongs to the part that flows.
///
/// * `flow` – the two compartments
/// * `litres` – pushed after the pan
/// * `drained` – litres of the pan, 0 to the litres that flow
///
/// # Source
/// [`TwoCompartments::from_start`] from a flowing part of which D litres are new.
///
/// # Example
/// ```
/// use standpipe_engine::formula::{flow::TwoCompartments, sequence::pan_then_two_compartments};
/// // 8 and 2 L, k 0.05, 5 L from the pan, then 10 L: 0.271377.
/// let two = TwoCompartments::new(8.0, 2.0, 0.05).unwrap();
/// assert!((pan_then_two_compartments(&two, 10.0, 5.0) - 0.271_377).abs() < 5e-7);
/// ```
#[must_use]
pub fn pan_then_two_compartments(flow: &TwoCompartments, litres: f64, drained: f64) -> f64 {
    let part = (drained / flow.flowing_litres()).clamp(0.0, 1.0);
    let start = Compartments { flowing: 1.0 - part, ..ALL_OLD };
    flow.whole(flow.from_start(start, litres))
}

/// Litres left for pushing: `kit - refill - overflow - hose`, never less than 0.
///
/// * `kit` – litres of new fluid at hand
/// * `refill` – litres that the pan will need
/// * `overflow` – litres kept for the level
/// * `hose` – litres that stay in hoses and equipment
///
/// # Source
/// Common practice, no source.
///
/// # Example
/// ```
/// // 20 L, 3.6 L for the pan, 0.5 L for the level, 0.6 L in the hoses: 15.3 L.
/// let left = standpipe_engine::formula::sequence::litres_for_pushing(20.0, 3.6, 0.5, 0.6);
/// assert!((left - 15.3).abs() < 1e-12);
/// ```
#[must_use]
pub fn litres_for_pushing(kit: f64, refill: f64, overflow: f64, hose: f64) -> f64 {
    (kit - refill - overflow - hose).max(0.0)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Three equal tanks by small steps, of which the last starts with `new` of its fluid new.
    fn integrated(fill: f64, litres: f64, new: f64) -> f64 {
        const STEPS: u32 = 200_000;
        let step = litres / f64::from(STEPS) / (fill / 3.0);
        let [mut first, mut second, mut last] = [1.0, 1.0, 1.0 - new];
        for _ in 0..STEPS {
            let before = [first, second, last];
            first -= step * before[0];
            second += step * (before[0] - before[1]);
            last += step * (before[1] - before[2]);
        }
        (first + second + last) / 3.0
    }

    #[test]
    fn the_pan_first_equals_integration_by_small_steps() {
        for drained in [1.0, 2.5, 3.0] {
            let tanks = Tanks::new(9.0, 3.0).unwrap();
            let found = pan_then_tanks(&tanks, 7.0, drained);
            assert!((found - integrated(9.0, 7.0, drained / 3.0)).abs() < 1e-5, "{drained}");
        }
    }

    #[test]
    fn a_drain_of_nothing_never_reaches_a_target() {
        assert_eq!(drains_to(0.0, 0.5), None);
        assert_eq!(drains_to(0.0, 0.0), Some(0));
        assert_eq!(drains_to(1.0, 1.0), Some(1));
        assert_eq!(drains_to(0.5, f64::NAN), None);
    }

    #[test]
    fn nothing_is_left_for_pushing_when_the_kit_is_too_small() {
        assert_eq!(litres_for_pushing(4.0, 3.6, 0.5, 0.6), 0.0);
    }

    proptest! {
        #[test]
        fn the_pan_last_never_leaves_more_old_fluid_in_a_row_of_tanks(
            fill in 6.0_f64..12.0, count in 1.0_f64..6.0, litres in 0.0_f64..20.0, part in 0.0_f64..0.5,
        ) {
            let tanks = Tanks::new(fill, count).unwrap();
            let drained = part * fill;
            let last = exchange_then_pan(&tanks, litres, drained);
            let first = pan_then_tanks(&tanks, litres, drained);
            prop_assert!(last <= first + 1e-9 && first <= tanks.mean(litres) + 1e-12);
        }

        #[test]
        fn the_order_does_not_matter_to_one_mixed_volume(
            fill in 6.0_f64..12.0, litres in 0.0_f64..20.0, part in 0.0_f64..1.0,
        ) {
            let mixed = Tanks::new(fill, 1.0).unwrap();
            let last = exchange_then_pan(&mixed, litres, part * fill);
            prop_assert!((last - pan_then_tanks(&mixed, litres, part * fill)).abs() < 1e-12);
        }
    }
}
