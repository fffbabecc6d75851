//! What the stated intervals are worth: a thousand simulated exchanges a regime, with fixed seeds.
//!
//! Inside the models the true flow is one of the two that the engine knows, its parameters drawn from what is
//! usual; outside it is neither. The litre display errs by up to 3 %, the fill by 5 % from the catalogue's. A
//! 95 % interval must hold the true share in 92 to 99 of 100 exchanges inside and in at least 88 outside, and the
//! share must be right on average to 1 and to 3.5 of 100 parts. A bound that differs says why beside it.

mod alarms;
mod exchanges;

use exchanges::{Means, Study, Truth, pan_first, run};

/// Coverage and bias of an honest share, inside the models.
#[track_caller]
fn inside(study: &Study) {
    println!("{study}");
    assert!((0.92..=0.99).contains(&study.coverage()), "{study}");
    assert!(study.bias().abs() <= 0.01, "{study}");
}

/// Coverage and bias of an honest share where the fluid flows as neither model does.
#[track_caller]
fn outside(study: &Study) {
    println!("{study}");
    assert!(study.coverage() >= 0.88, "{study}");
    assert!(study.bias().abs() <= 0.035, "{study}");
}

const EACH_LITRE_TO_12: [f64; 12] = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 11.0, 12.0];
const EACH_LITRE_TO_15: [f64; 15] =
    [1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 11.0, 12.0, 13.0, 14.0, 15.0];
const FOUR: [f64; 4] = [3.0, 6.0, 9.0, 12.0];

fn instrument(at: &'static [f64], sigma: f64) -> Means {
    Means::Instrument { at, sigma }
}

#[test]
fn twelve_instrument_readings_cover_what_is_inside() {
    for truth in [Truth::Tanks, Truth::SlowPart] {
        for sigma in [0.02, 0.05] {
            inside(&run(truth, instrument(&EACH_LITRE_TO_12, sigma), 12.0).now);
        }
    }
    outside(&run(Truth::Neither, instrument(&EACH_LITRE_TO_12, 0.02), 12.0).now);
    outside(&run(Truth::Neither, instrument(&EACH_LITRE_TO_12, 0.05), 12.0).now);
}

#[test]
fn a_forecast_from_eight_readings_covers_what_is_inside_six_litres_later() {
    for truth in [Truth::Tanks, Truth::SlowPart] {
        for sigma in [0.02, 0.05] {
            inside(&run(truth, instrument(&EACH_LITRE_TO_12[..8], sigma), 14.0).now);
        }
    }
    outside(&run(Truth::Neither, instrument(&EACH_LITRE_TO_12[..8], 0.02), 14.0).now);
    outside(&run(Truth::Neither, instrument(&EACH_LITRE_TO_12[..8], 0.05), 14.0).now);
}

#[test]
fn four_looks_through_tubes_cover_what_is_inside() {
    let tubes = |truth| run(truth, Means::Tubes { at: &FOUR, eye: 0.03 }, 12.0).now;
    inside(&tubes(Truth::Tanks));
    // Measured 0.992, above the aim of 0.99. What the tubes' errors have in common is set for the worst flow, an even
    // one through two tanks, judged by the balance alone: with a common part of 0.5 this would be 0.986, but there the
    // interval would hold only 0.893 (the engine's own simulation requires 0.94). The wider interval stays; a smaller
    // uncertainty at the end tubes changes nothing here (0.991).
    let slow = tubes(Truth::SlowPart);
    println!("{slow}");
    assert!((0.92..=0.995).contains(&slow.coverage()) && slow.bias().abs() <= 0.01, "{slow}");
    outside(&run(Truth::Neither, Means::Tubes { at: &FOUR, eye: 0.03 }, 12.0).now);
}

#[test]
fn three_looks_cover_what_is_inside() {
    for truth in [Truth::Tanks, Truth::SlowPart] {
        inside(&run(truth, instrument(&[4.0, 8.0, 12.0], 0.07), 12.0).now);
    }
    outside(&run(Truth::Neither, instrument(&[4.0, 8.0, 12.0], 0.07), 12.0).now);
}

#[test]
fn one_look_at_the_end_covers_what_is_inside() {
    inside(&run(Truth::Either, instrument(&[12.0], 0.07), 12.0).now);
    outside(&run(Truth::Neither, instrument(&[12.0], 0.07), 12.0).now);
}

#[test]
fn litres_alone_cover_what_is_inside() {
    for litres in [9.0, 12.0, 15.0] {
        inside(&run(Truth::Either, instrument(&[], 0.07), litres).now);
    }
    outside(&run(Truth::Neither, instrument(&[], 0.07), 12.0).now);
}

#[test]
fn the_share_at_handover_covers_what_is_inside_after_pan_and_refill() {
    for truth in [Truth::Tanks, Truth::SlowPart] {
        inside(&run(truth, instrument(&EACH_LITRE_TO_12, 0.02), 12.0).handover);
    }
    let tubes = |truth| run(truth, Means::Tubes { at: &FOUR, eye: 0.03 }, 12.0).handover;
    inside(&tubes(Truth::Tanks));
    inside(&tubes(Truth::SlowPart));
    inside(&run(Truth::Either, instrument(&[12.0], 0.07), 12.0).handover);
    inside(&run(Truth::Either, instrument(&[], 0.07), 12.0).handover);
    outside(&tubes(Truth::Neither));
}

#[test]
fn a_pan_changed_first_leaves_an_interval_that_covers_what_is_inside() {
    const THREE: [f64; 3] = [3.0, 6.0, 9.0];
    for count in [1, 2, 3] {
        for means in [Means::Tubes { at: &THREE, eye: 0.03 }, instrument(&THREE, 0.05)] {
            let study = pan_first(count, means);
            println!("{study}");
            // How old the first fluid is that comes out is open, so the share may be off by more than elsewhere, and
            // the interval is wide.
            assert!(study.coverage() >= 0.88 && study.bias().abs() <= 0.08, "{study}");
        }
    }
}
