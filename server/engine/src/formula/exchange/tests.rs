//! Invariants of the balance, and its coverage against four ways in which fluid can flow.

use proptest::prelude::*;

use super::*;
use crate::formula::refill::{Fill, Refill, new_share_after, old_after_pan};
use crate::formula::tubes::Tubes;

fn look(litres: f64, new_share: f64, standard_uncertainty: f64) -> Look {
    Look {
        litres: Litres::new(litres).unwrap(),
        new_share: Share::new(new_share).unwrap(),
        standard_uncertainty,
    }
}

fn exchange<'a>(looks: &'a [Look], pushed: f64) -> Exchange<'a> {
    Exchange {
        looks,
        pushed: Litres::new(pushed).unwrap(),
        hose: Litres::new(0.0).unwrap(),
        litres_relative_uncertainty: 0.0,
        reference_relative_uncertainty: 0.0,
        common_part: 0.0,
    }
}

#[test]
fn without_a_look_half_of_the_litres_may_have_stayed() {
    let kept = retained(&exchange(&[], 6.0)).litres;
    assert!((kept.value - 3.0).abs() < 1e-12);
    assert!((kept.standard_uncertainty - 3.0 / 3.0_f64.sqrt()).abs() < 1e-12);
}

#[test]
fn litres_after_the_last_look_count_half_of_what_it_showed() {
    let looks = [look(4.0, 0.5, 0.0)];
    let to_look = retained(&exchange(&looks, 4.0)).litres;
    let beyond = retained(&exchange(&looks, 6.0)).litres;
    assert!((to_look.value - 3.0).abs() < 1e-12);
    assert!((beyond.value - 3.5).abs() < 1e-12);
    let tail = 0.5 * 2.0 / (2.0 * 3.0_f64.sqrt());
    assert!((beyond.standard_uncertainty - to_look.standard_uncertainty.hypot(tail)).abs() < 1e-12);
}

#[test]
fn what_looks_have_in_common_adds_up() {
    let looks = [look(3.0, 0.25, 0.05), look(6.0, 0.5, 0.05), look(9.0, 0.75, 0.05)];
    let with = |common_part: f64| retained(&Exchange { common_part, ..exchange(&looks, 9.0) });
    let shape =
        with(0.0).litres.standard_uncertainty.powi(2) - (3.0_f64.powi(2) * 2.0 + 1.5_f64.powi(2)) * 0.0025;
    let all = with(1.0);
    assert!((all.litres.standard_uncertainty.powi(2) - shape - (7.5 * 0.05_f64).powi(2)).abs() < 1e-12);
    assert!((all.last_weight - 7.5).abs() < 1e-12);
    assert!((with(0.0).last_weight - 1.5).abs() < 1e-12);
}

#[test]
fn the_hose_delays_the_curve() {
    let looks = [look(4.5, 0.5, 0.0)];
    let mut delayed = exchange(&looks, 4.5);
    delayed.hose = Litres::new(0.5).unwrap();
    // 4 L from all old to half, then half a litre that the glass has not shown.
    assert!((retained(&delayed).litres.value - (3.0 + 0.125)).abs() < 1e-12);
}

#[test]
fn fewer_than_three_or_crowded_looks_are_not_enough() {
    let pushed = Litres::new(12.0).unwrap();
    let at = |litres: &[f64]| litres.iter().map(|litres| look(*litres, 0.5, 0.05)).collect::<Vec<_>>();
    assert_eq!(spacing(&at(&[4.0, 8.0]), pushed), Spacing::TooFew { found: 2 });
    assert_eq!(spacing(&at(&[4.0, 4.0, 8.0]), pushed), Spacing::TooFew { found: 2 });
    assert_eq!(spacing(&at(&[4.0, 8.0, 12.0]), pushed), Spacing::Enough);
    assert_eq!(spacing(&at(&[10.0, 11.0, 12.0]), pushed), Spacing::TooWide { from: 0.0, to: 10.0 });
    assert_eq!(spacing(&at(&[1.0, 2.0, 3.0]), pushed), Spacing::TooWide { from: 3.0, to: 12.0 });
}

#[test]
fn a_later_darker_look_is_found_only_beyond_the_uncertainty() {
    let clear = [look(3.0, 0.25, 0.05), look(6.0, 0.75, 0.05), look(9.0, 0.5, 0.05)];
    let found = darker_look(&clear).expect("0.25 is more than 2 × 0.0707");
    assert_eq!((found.earlier.get(), found.later.get()), (6.0, 9.0));
    let doubtful = [look(6.0, 0.75, 0.1), look(9.0, 0.5, 0.1)];
    assert_eq!(darker_look(&doubtful), None);
}

/// Every later look against every earlier one.
fn darker_by_pairs(looks: &[Look]) -> Option<DarkerLook> {
    let mut sorted = looks.to_vec();
    sorted.sort_by(|one, other| one.litres.get().total_cmp(&other.litres.get()));
    sorted.iter().find_map(|later| {
        let earlier = sorted.iter().find(|earlier| {
            let u = earlier.standard_uncertainty.hypot(later.standard_uncertainty);
            earlier.litres < later.litres && earlier.new_share.get() - later.new_share.get() > 2.0 * u
        })?;
        Some(DarkerLook { earlier: earlier.litres, later: later.litres })
    })
}

proptest! {
    #[test]
    fn the_first_darker_look_is_that_of_all_pairs(
        seen in proptest::collection::vec((0_u32..20, 0.0_f64..1.0, 0.005_f64..0.4), 0..40),
        rising in proptest::bool::ANY,
    ) {
        let of = |&(at, share, u): &(u32, f64, f64)| {
            // Shares that rise but for their noise are the common case, and contradict late or never.
            let share = if rising { (f64::from(at) / 20.0 + (share - 0.5) * u * 3.0).clamp(0.0, 1.0) } else { share };
            look(f64::from(at), share, u)
        };
        let looks: Vec<Look> = seen.iter().map(of).collect();
        prop_assert_eq!(darker_look(&looks), darker_by_pairs(&looks));
    }
}

#[test]
fn the_course_ends_at_the_result() {
    let looks = [look(3.0, 0.25, 0.07), look(6.0, 0.5, 0.07), look(9.0, 0.75, 0.06)];
    let done = exchange(&looks, 9.4);
    let fill = Estimate::known(9.0, 0.45);
    let points = course(&done, fill, 20);
    assert_eq!(points.len(), 21);
    assert_eq!(points[0].new_share.value, 0.0);
    assert_eq!(points[20].new_share, new_share(retained(&done).litres, fill));
    assert!(points.windows(2).all(|pair| pair[0].new_share.value <= pair[1].new_share.value));
}

fn falling_looks() -> impl Strategy<Value = Vec<Look>> {
    proptest::collection::vec((0.2_f64..4.0, 0.0_f64..1.0), 1..8).prop_map(|steps| {
        let (mut litres, mut old) = (0.0, 1.0);
        steps
            .into_iter()
            .map(|(step, part)| {
                litres += step;
                old *= part;
                look(litres, 1.0 - old, 0.05)
            })
            .collect()
    })
}

proptest! {
    #[test]
    fn never_more_new_fluid_stays_than_was_pushed(looks in falling_looks(), beyond in 0.0_f64..5.0) {
        let pushed = looks.last().map_or(0.0, |look| look.litres.get()) + beyond;
        let kept = retained(&exchange(&looks, pushed));
        prop_assert!(kept.litres.value <= pushed + 1e-9 && kept.litres.value >= 0.0);
        let share = new_share(kept.litres, Estimate::known(9.0, 0.45));
        prop_assert!((0.0..=1.0).contains(&share.value));
    }

    #[test]
    fn the_order_of_the_looks_does_not_matter(looks in falling_looks()) {
        let mut turned = looks.clone();
        turned.reverse();
        prop_assert_eq!(retained(&exchange(&looks, 20.0)), retained(&exchange(&turned, 20.0)));
    }

    #[test]
    fn close_exact_readings_of_one_mixed_volume_meet_the_closed_form(fill in 6.0_f64..12.0, pushed in 2.0_f64..20.0) {
        let looks: Vec<Look> = (1..=200)
            .map(|step| pushed * f64::from(step) / 200.0)
            .map(|litres| look(litres, 1.0 - (-litres / fill).exp(), 0.0))
            .collect();
        let kept = retained(&exchange(&looks, pushed)).litres.value;
        let exact = fill * (1.0 - (-pushed / fill).exp());
        prop_assert!((kept - exact).abs() < 1e-3 * exact);
    }
}

/// Ways in which fluid can flow, with closed forms for the outlet and the mean.
///
/// Sources: n mixed tanks in a row, MacMullin and Weber, Trans. AIChE 31 (1935) 409-458; two compartments, own
/// solution of `Va x' = -x - k (x - y)`, `Vd y' = k (x - y)` with x = y = 1 at the start.
#[derive(Clone, Copy, Debug)]
enum Flow {
    Tanks(u32),
    TwoCompartments { flowing_part: f64, exchange: f64 },
}

impl Flow {
    /// Old share at the outlet and in the whole after `v` litres into `fill` litres.
    fn old(self, fill: f64, v: f64) -> (f64, f64) {
        match self {
            Self::Tanks(n) => {
                let n_real = f64::from(n);
                let a = n_real * v / fill;
                let (mut term, mut outlet, mut mean) = ((-a).exp(), 0.0, 0.0);
                for i in 0..n {
                    outlet += term;
                    mean += (1.0 - f64::from(i) / n_real) * term;
                    term *= a / f64::from(i + 1);
                }
                (outlet, mean)
            }
            Self::TwoCompartments { flowing_part, exchange: k } => {
                let (va, vd) = (fill * flowing_part, fill * (1.0 - flowing_part));
                let s = (1.0 + k) / va + k / vd;
                let p = k / (va * vd);
                let r = (s * s - 4.0 * p).sqrt();
                let (slow, fast) = (-2.0 * p / (s + r), -(s + r) / 2.0);
                let part = |at_start: f64| (at_start - fast) / (slow - fast);
                let (in_a, in_d) = (part(-1.0 / va), part(0.0));
                let share = |q: f64| q * (slow * v).exp() + (1.0 - q) * (fast * v).exp();
                let (x, y) = (share(in_a), share(in_d));
                (x, (va * x + vd * y) / fill)
            }
        }
    }
}

#[test]
fn the_closed_forms_of_this_test_give_the_known_values() {
    // V = 9, n = 2, v = 2 L: outlet 0.926149, mean 0.783665.
    let (outlet, mean) = Flow::Tanks(2).old(9.0, 2.0);
    assert!((outlet - 0.926_149).abs() < 5e-7 && (mean - 0.783_665).abs() < 5e-7);
    // Va 7, Vd 2, k 0.05, v 20 L: outlet 0.0869, whole 0.2299.
    let flow = Flow::TwoCompartments { flowing_part: 7.0 / 9.0, exchange: 0.05 };
    let (outlet, mean) = flow.old(9.0, 20.0);
    assert!((outlet - 0.0869).abs() < 5e-5 && (mean - 0.2299).abs() < 5e-5);
}

/// A small generator (Knuth's MMIX constants) so that the study is the same on every machine.
struct Dice(u64);

impl Dice {
    fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        // The upper 53 bits are the good ones, and exactly what an f64 holds.
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Sum of twelve uniform numbers less six: mean 0, standard deviation 1.
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
    }
}

/// What the computed shares are worth over many jobs.
#[derive(Default)]
struct Study {
    covered: f64,
    sum: f64,
    squares: f64,
}

impl Study {
    fn add(&mut self, share: Estimate, truth: f64) {
        let (low, high) = share.interval95_within((0.0, 1.0));
        self.covered += if (low..=high).contains(&truth) { 1.0 } else { 0.0 };
        self.sum += share.value - truth;
        self.squares += (share.value - truth).powi(2);
    }

    fn assert_honest(&self, what: &str) {
        let (coverage, bias) = (self.covered / JOBS, self.sum / JOBS);
        let rmse = (self.squares / JOBS).sqrt();
        println!("{what}: coverage {coverage:.3}, bias {bias:+.4}, rmse {rmse:.4}");
        assert!((0.94..=1.0).contains(&coverage), "{what}: coverage {coverage}");
        assert!(bias.abs() < 0.085 && rmse < 0.10, "{what}: bias {bias}, rmse {rmse}");
    }
}

const JOBS: f64 = 4_000.0;

/// Many jobs of 12 L into about 9 L: four looks through six tubes, with an eye that errs by `eye`, a fill that
/// differs from the catalogue by 5 %, and a litre display that is wrong by up to 3 %. Then 3.5 L out of the pan,
/// which holds what the outlet last showed, and as much new fluid in. Gives the shares before and after the pan.
fn study(flow: Flow, eye: f64) -> (Study, Study) {
    let tubes = Tubes::default();
    let mut dice = Dice(20_260_318);
    let (mut before, mut after) = (Study::default(), Study::default());
    let fill = Estimate::known(9.0, 0.45);
    let amount = Estimate::known(3.5, 0.03);
    let pan = Refill { drained: amount, refilled: amount, ..Refill::default() };
    for _ in 0..JOBS as u32 {
        let true_fill = 9.0 * (1.0 + 0.05 * dice.normal());
        let true_litres = 1.0 + 0.03 * (2.0 * dice.uniform() - 1.0);
        let looks = [3.0, 6.0, 9.0, 12.0].map(|litres| {
            let (old, _) = flow.old(true_fill, litres * true_litres);
            let seen = 1.0 - old + eye * dice.normal();
            let distance = |tube: &f64| (tube - seen).abs();
            let nearest =
                tubes.shares().iter().copied().min_by(|one, other| distance(one).total_cmp(&distance(other)));
            let tube = nearest.expect("the set is not empty");
            look(litres, tube, tubes.look_uncertainty(Share::new(tube).unwrap()))
        });
        let done = Exchange {
            litres_relative_uncertainty: 0.03 / 3.0_f64.sqrt(),
            common_part: TUBES_COMMON_PART,
            ..exchange(&looks, 12.0)
        };
        let kept = retained(&done);
        let (outlet, mean) = flow.old(true_fill, 12.0 * true_litres);
        before.add(new_share(kept.litres, fill), 1.0 - mean);
        after.add(
            new_share_after(&kept, Fill::OnArrival(fill), &pan),
            1.0 - old_after_pan(mean, outlet, 3.5, true_fill),
        );
    }
    (before, after)
}

#[test]
fn four_looks_through_tubes_cover_the_truth_however_the_fluid_flows() {
    let dead_zone = Flow::TwoCompartments { flowing_part: 7.0 / 9.0, exchange: 0.05 };
    for (name, flow) in [
        ("one tank", Flow::Tanks(1)),
        ("two tanks", Flow::Tanks(2)),
        ("three tanks", Flow::Tanks(3)),
        ("dead zone", dead_zone),
    ] {
        for eye in [0.0, 0.02, 0.04, 0.06] {
            let (before, after) = study(flow, eye);
            before.assert_honest(&format!("{name}, eye {eye}, exchange"));
            after.assert_honest(&format!("{name}, eye {eye}, after the pan"));
        }
    }
}
