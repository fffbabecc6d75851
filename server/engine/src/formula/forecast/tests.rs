//! Invariants of the forecast, and what it does with bad input.

use proptest::prelude::*;

use super::*;
use crate::formula::exchange::Look;
use crate::quantity::Share;

fn seen(at: f64, new_share: f64, standard_uncertainty: f64) -> Seen {
    let (litres, new_share) = (Litres::new(at).unwrap(), Share::new(new_share).unwrap());
    Seen { look: Look { litres, new_share, standard_uncertainty }, saturated: false }
}

fn known(taken: &[Seen], pushed: f64) -> Known<'_> {
    Known {
        taken,
        pushed: Litres::new(pushed).unwrap(),
        hose: Litres::new(0.0).unwrap(),
        fill: Some(Estimate::known(9.0, 0.45)),
        display_relative_uncertainty: 0.03 / 3.0_f64.sqrt(),
        reference_relative_uncertainty: 0.0,
        common_part: 0.0,
    }
}

fn forecast(taken: &[Seen], pushed: f64) -> Forecast {
    assess(&known(taken, pushed)).forecast.unwrap()
}

#[test]
fn litres_alone_give_what_is_usual() {
    // Simulated from the same priors (our own study): 9 L 48-79, 12 L 53-90, 15 L 57-95 of 100 parts.
    for (litres, low, high) in [(9.0, 0.48, 0.79), (12.0, 0.53, 0.90), (15.0, 0.57, 0.95)] {
        let usual = forecast(&[], litres);
        assert_eq!(usual.basis(), Basis::Litres);
        let found = usual.share_now().interval95_within((0.0, 1.0));
        assert!((found.0 - low).abs() < 0.06 && (found.1 - high).abs() < 0.06, "{litres} L: {found:?}");
    }
}

#[test]
fn the_basis_follows_the_looks() {
    let looks = [seen(4.0, 0.3, 0.07), seen(8.0, 0.6, 0.07), seen(12.0, 0.75, 0.07)];
    assert_eq!(forecast(&looks[..1], 12.0).basis(), Basis::Models);
    assert_eq!(forecast(&looks[..2], 12.0).basis(), Basis::Models);
    assert_eq!(forecast(&looks, 12.0).basis(), Basis::Balance);
    let crowded = [seen(10.0, 0.6, 0.07), seen(11.0, 0.65, 0.07), seen(12.0, 0.7, 0.07)];
    assert_eq!(forecast(&crowded, 12.0).basis(), Basis::Models);
}

#[test]
fn more_looks_make_the_share_more_certain() {
    let all: Vec<Seen> = (1..=12)
        .map(f64::from)
        .map(|litres| seen(litres, 1.0 - Tanks::new(9.0, 1.7).unwrap().outlet(litres), 0.05))
        .collect();
    let u = |looks: &[Seen]| forecast(looks, 12.0).share_now().standard_uncertainty;
    assert!(u(&[]) > u(&all[11..]) && u(&all[11..]) > u(&[all[3], all[7], all[11]]));
    assert!(u(&[all[3], all[7], all[11]]) > u(&all));
}

#[test]
fn without_the_fill_there_is_no_share_but_a_warning() {
    let looks = [seen(4.0, 0.3, 0.07), seen(8.0, 0.6, 0.07), seen(12.0, 0.75, 0.07)];
    for fill in [None, Some(Estimate::known(0.0, 0.1)), Some(Estimate::known(f64::NAN, 0.1))] {
        let found = assess(&Known { fill, ..known(&looks, 12.0) });
        assert!(found.forecast.is_none() && found.warnings.contains(&Warning::FillUnknown));
        // The litres kept need no fill.
        assert!(found.balance.is_some());
    }
}

#[test]
fn a_look_that_only_says_at_least_is_warned_of_and_does_not_raise_the_share() {
    let dark = Seen { saturated: true, ..seen(4.0, 0.5, 0.03) };
    let found = assess(&known(&[dark], 6.0));
    assert_eq!(found.warnings, [Warning::Saturated { litres: Litres::new(4.0).unwrap() }]);
    let read = forecast(&[seen(4.0, 0.5, 0.03)], 6.0).share_now();
    let with_bound = found.forecast.unwrap().share_now();
    assert!((with_bound.value - read.value).abs() > 1e-4 && with_bound.value.is_finite());
    assert!(with_bound.standard_uncertainty > read.standard_uncertainty);
}

fn any_looks() -> impl Strategy<Value = Vec<Seen>> {
    proptest::collection::vec((0.0_f64..20.0, 0.0_f64..=1.0, 0.0_f64..0.2, any::<bool>()), 0..14).prop_map(
        |looks| {
            let each = looks.into_iter();
            each.map(|(at, share, u, saturated)| Seen { saturated, ..seen(at, share, u) }).collect()
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn whatever_was_seen_gives_numbers_that_can_be(
        looks in any_looks(), pushed in 0.0_f64..25.0, more in 0.0_f64..20.0, hose in 0.0_f64..2.0,
    ) {
        let hose = Litres::new(hose).unwrap();
        let found = assess(&Known { hose, ..known(&looks, pushed) });
        let forecast = found.forecast.unwrap();
        let now = forecast.share_now();
        let later = forecast.share_at(forecast.pushed() + more);
        for share in [now, later, forecast.outlet_at(pushed + more)] {
            prop_assert!((0.0..=1.0).contains(&share.value), "{share:?}");
            prop_assert!(share.standard_uncertainty >= 0.0 && share.standard_uncertainty.is_finite());
        }
        prop_assert!((0.0..=1.0).contains(&forecast.weight_tanks()));
        prop_assert!(later.value >= now.value - 0.02, "{now:?} then {later:?}");
    }

    #[test]
    fn the_order_of_the_looks_does_not_matter(looks in any_looks(), pushed in 0.0_f64..25.0) {
        let mut turned = looks.clone();
        turned.reverse();
        prop_assert_eq!(forecast(&looks, pushed).share_now(), forecast(&turned, pushed).share_now());
    }

    #[test]
    fn never_more_new_fluid_is_inside_than_was_pushed(count in 0.8_f64..4.0, pushed in 3.0_f64..20.0) {
        let tanks = Tanks::new(9.0, count).unwrap();
        let looks: Vec<Seen> = (1..=8)
            .map(|step| f64::from(step) * pushed / 8.0)
            .map(|litres| seen(litres, 1.0 - tanks.outlet(litres), 0.03))
            .collect();
        let kept = forecast(&looks, pushed).kept_at(pushed).litres.value;
        prop_assert!(kept <= pushed + 1e-9 && kept <= 9.0);
    }
}
