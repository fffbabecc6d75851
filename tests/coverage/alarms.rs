//! How often the alarms are right, and how often they are wrong.

use standpipe_engine::formula::alarm::{Alarm, alarms};
use standpipe_engine::formula::flow::{Flow, ShortPath, Tanks};
use standpipe_engine::formula::forecast::assess;
use standpipe_engine::formula::seen::Seen;

use super::exchanges::{Course, Dice, Truth, known, look};
use super::{EACH_LITRE_TO_12, EACH_LITRE_TO_15};

const JOBS: u32 = 1_000;

/// Parts of the exchanges in which each alarm was raised by some look: nothing arrives, fresh at once, stopped
/// changing, not explained; and the litres of the first call that it stopped, sorted.
struct Rates {
    parts: [f64; 4],
    stopped_at: Vec<f64>,
}

fn rates(sigma: f64, at: &[f64], outlet: impl Fn(&mut Dice) -> Box<dyn Fn(f64) -> f64>) -> Rates {
    let mut dice = Dice(41);
    let mut found = Rates { parts: [0.0; 4], stopped_at: Vec::new() };
    for _ in 0..JOBS {
        let outlet = outlet(&mut dice);
        let taken: Vec<Seen> = at
            .iter()
            .map(|litres| look(*litres, 1.0 - outlet(*litres) + sigma * dice.normal(), sigma))
            .collect();
        let mut raised = [false; 4];
        for looks in 1..=taken.len() {
            let known = known(&taken[..looks], at[looks - 1], 0.0);
            for alarm in alarms(&known, &assess(&known)) {
                let which = match alarm {
                    Alarm::NothingArrives { .. } => 0,
                    Alarm::FreshAtOnce { .. } => 1,
                    Alarm::StoppedChanging { .. } => 2,
                    Alarm::NotExplained { .. } => 3,
                };
                if which == 2 && !raised[2] {
                    found.stopped_at.push(at[looks - 1]);
                }
                raised[which] = true;
            }
            // What has stopped is known to have; further looks would only repeat it.
            if raised[2] {
                break;
            }
        }
        for (part, raised) in found.parts.iter_mut().zip(raised) {
            *part += if raised { 1.0 / f64::from(JOBS) } else { 0.0 };
        }
    }
    found.stopped_at.sort_by(f64::total_cmp);
    println!("sigma {sigma}: {:?}", found.parts);
    found
}

fn usual(truth: Truth) -> impl Fn(&mut Dice) -> Box<dyn Fn(f64) -> f64> {
    move |dice| {
        let (course, _) = Course::draw(truth, dice);
        Box::new(move |litres| course.at(litres).0)
    }
}

#[test]
fn exchanges_as_usual_raise_few_alarms() {
    for (truth, sigma, stopped) in
        [(Truth::Tanks, 0.02, 0.02), (Truth::SlowPart, 0.02, 0.02), (Truth::Either, 0.05, 0.05)]
    {
        let [nothing, fresh, wrongly_stopped, unexplained] =
            rates(sigma, &EACH_LITRE_TO_12, usual(truth)).parts;
        assert!(nothing <= 0.001 && fresh == 0.0, "{truth:?}: {nothing}, {fresh}");
        assert!(wrongly_stopped <= stopped, "{truth:?}: {wrongly_stopped}");
        assert!(unexplained <= 0.03, "{truth:?}: {unexplained}");
    }
}

#[test]
fn an_exchange_that_stops_half_way_is_found_within_three_litres() {
    for (sigma, least) in [(0.02, 0.99), (0.05, 0.97)] {
        let found = rates(sigma, &EACH_LITRE_TO_15, |dice| {
            let (course, _) = Course::draw(Truth::Tanks, dice);
            Box::new(move |litres| course.at(litres.min(5.0)).0)
        });
        let median = found.stopped_at[found.stopped_at.len() / 2];
        println!("stopped: found {}, median at {median} L", found.parts[2]);
        assert!(found.parts[2] >= least, "{}", found.parts[2]);
        assert!(median <= 8.0, "median at {median} L, stopped at 5 L");
    }
}

#[test]
fn one_or_two_looks_late_in_an_exchange_as_usual_raise_few_alarms_and_find_that_nothing_arrives() {
    // 0.8 fills of 9 L are 7.2 L.
    for at in [&[7.2][..], &[2.0, 7.5], &[7.2, 8.0]] {
        for (truth, sigma) in [(Truth::Tanks, 0.02), (Truth::SlowPart, 0.02), (Truth::Either, 0.05)] {
            let [nothing, fresh, ..] = rates(sigma, at, usual(truth)).parts;
            assert!(nothing <= 0.002 && fresh == 0.0, "{truth:?} at {at:?}: {nothing}, {fresh}");
        }
        for sigma in [0.02, 0.05] {
            let found = rates(sigma, at, |_| Box::new(|_| 1.0));
            assert!(found.parts[0] >= 0.97, "{at:?}: {}", found.parts[0]);
        }
    }
}

#[test]
fn an_exchange_in_which_nothing_arrives_is_found() {
    for sigma in [0.02, 0.05] {
        let found = rates(sigma, &EACH_LITRE_TO_12[..8], |_| Box::new(|_| 1.0));
        assert_eq!((found.parts[0] * 1e3).round(), 1000.0);
    }
}

#[test]
fn a_short_path_of_half_of_the_fluid_is_found() {
    for sigma in [0.02, 0.05] {
        let found = rates(sigma, &[0.3, 0.6, 2.0], |_| {
            let short = ShortPath::new(0.5, Tanks::new(9.0, 1.7).unwrap()).unwrap();
            Box::new(move |litres| short.outlet(litres))
        });
        assert_eq!((found.parts[1] * 1e3).round(), 1000.0);
    }
    let usual_start = rates(0.05, &[0.3, 0.6, 2.0], usual(Truth::Either));
    assert_eq!(usual_start.parts[1], 0.0);
    // A single look needs more: two thirds past the transmission.
    for sigma in [0.02, 0.05] {
        let found = rates(sigma, &[0.5], |_| {
            let short = ShortPath::new(0.67, Tanks::new(9.0, 1.7).unwrap()).unwrap();
            Box::new(move |litres| short.outlet(litres))
        });
        assert!(found.parts[1] >= 0.98, "{}", found.parts[1]);
        assert_eq!(rates(sigma, &[0.5], usual(Truth::Either)).parts[1], 0.0);
    }
}
