//! Invariants of the flow models.

use proptest::prelude::*;

use super::*;

/// The area under a curve by many small trapezoids.
fn area(curve: impl Fn(f64) -> f64, to: f64) -> f64 {
    const STEPS: u32 = 2_000;
    let width = to / f64::from(STEPS);
    (0..STEPS)
        .map(|step| width * (curve(width * f64::from(step)) + curve(width * f64::from(step + 1))) / 2.0)
        .sum()
}

fn check_balance(flow: &impl Flow, litres: f64) -> Result<(), TestCaseError> {
    let kept = flow.fill() * (1.0 - flow.mean(litres));
    prop_assert!((area(|v| flow.outlet(v), litres) - kept).abs() < 2e-4 * flow.fill());
    prop_assert!(kept <= litres.min(flow.fill()) + 1e-9);
    prop_assert!(flow.mean(litres) >= 1.0 - litres / flow.fill() - 1e-9);
    let later = litres + 0.5;
    prop_assert!(flow.outlet(later) <= flow.outlet(litres) + 1e-12);
    prop_assert!(flow.mean(later) <= flow.mean(litres) + 1e-12);
    prop_assert!((0.0..=1.0).contains(&flow.outlet(litres)) && (0.0..=1.0).contains(&flow.mean(litres)));
    Ok(())
}

proptest! {
    #[test]
    fn what_leaves_as_old_fluid_makes_room_for_new_in_tanks(
        fill in 4.0_f64..14.0, count in 0.6_f64..8.0, litres in 0.1_f64..30.0,
    ) {
        check_balance(&Tanks::new(fill, count).unwrap(), litres)?;
    }

    #[test]
    fn what_leaves_as_old_fluid_makes_room_for_new_in_two_compartments(
        flowing in 3.0_f64..12.0, slow in 0.2_f64..5.0, exchange in 0.0_f64..2.0, litres in 0.1_f64..30.0,
    ) {
        check_balance(&TwoCompartments::new(flowing, slow, exchange).unwrap(), litres)?;
    }

    #[test]
    fn what_leaves_as_old_fluid_makes_room_for_new_past_a_short_path(
        returned in 0.0_f64..0.6, fill in 4.0_f64..14.0, count in 1.0_f64..6.0, litres in 0.1_f64..30.0,
    ) {
        let short = ShortPath::new(returned, Tanks::new(fill, count).unwrap()).unwrap();
        check_balance(&short, litres)?;
    }

    #[test]
    fn one_tank_is_one_mixed_volume(fill in 4.0_f64..14.0, litres in 0.0_f64..40.0) {
        let one = Tanks::new(fill, 1.0).unwrap();
        let mixed = (-litres / fill).exp();
        prop_assert!((one.outlet(litres) - mixed).abs() < 1e-12 && (one.mean(litres) - mixed).abs() < 1e-12);
    }

    #[test]
    fn many_tanks_tend_to_plug_flow(fill in 4.0_f64..14.0, part in 0.0_f64..3.0) {
        let many = Tanks::new(fill, 20_000.0).unwrap();
        let plug = Plug::new(fill).unwrap();
        prop_assert!((many.mean(part * fill) - plug.mean(part * fill)).abs() < 0.003);
    }

    #[test]
    fn a_slow_part_that_never_exchanges_stays_old(
        flowing in 3.0_f64..12.0, slow in 0.2_f64..5.0, litres in 0.0_f64..200.0,
    ) {
        let shut = TwoCompartments::new(flowing, slow, 0.0).unwrap();
        prop_assert!(shut.mean(litres) >= slow / (flowing + slow) - 1e-12);
        prop_assert!((shut.mean(100.0 * flowing) - slow / (flowing + slow)).abs() < 1e-9);
        prop_assert_eq!(litres_to_mean(&shut, 0.5 * slow / (flowing + slow)), None);
    }

    #[test]
    fn a_slow_part_that_exchanges_freely_is_one_mixed_volume(
        flowing in 3.0_f64..12.0, slow in 0.2_f64..5.0, litres in 0.0_f64..30.0,
    ) {
        let free = TwoCompartments::new(flowing, slow, 1e5).unwrap();
        prop_assert!((free.outlet(litres) - (-litres / (flowing + slow)).exp()).abs() < 1e-3);
    }

    #[test]
    fn the_litres_to_a_share_lead_to_that_share(
        fill in 4.0_f64..14.0, count in 0.6_f64..8.0, old in 0.01_f64..0.99,
    ) {
        let tanks = Tanks::new(fill, count).unwrap();
        let outlet = litres_to_outlet(&tanks, old).unwrap();
        let mean = litres_to_mean(&tanks, old).unwrap();
        prop_assert!((tanks.outlet(outlet) - old).abs() < 1e-9 && (tanks.mean(mean) - old).abs() < 1e-9);
    }
}

#[test]
fn numbers_that_are_no_flow_are_refused() {
    assert!(Tanks::new(0.0, 2.0).is_none() && Tanks::new(9.0, f64::NAN).is_none());
    assert!(TwoCompartments::new(7.0, 0.0, 0.1).is_none() && TwoCompartments::new(7.0, 2.0, -0.1).is_none());
    assert!(Plug::new(f64::INFINITY).is_none());
    assert!(litres_to_mean(&Plug::new(9.0).unwrap(), f64::NAN).is_none());
    assert!(ShortPath::new(1.1, Tanks::new(9.0, 2.0).unwrap()).is_none());
}
