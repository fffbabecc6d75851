//! The exchange while it runs: how far to go, what is left of the kit, alarms, and any order of arrival.

use super::exchange::{exchange, findings, instrument, looked, plain};
use super::gates::{hookup, skipped, temperature};
use super::*;
use crate::formula::flow::{Flow, Tanks};
use crate::view::{CurvePoint, Figure, Progress};
use proptest::prelude::*;

fn advice(journal: &Journal) -> String {
    plain(&exchange(journal).advice)
}

fn with_workshop(text: &str) -> Journal {
    let mut journal = looked(&[]);
    let files = [("workshop.toml", text), ("alder-8.toml", ALDER)];
    let files = files.map(|(name, text)| (name.to_owned(), text.as_bytes().to_vec()));
    journal.revision = Revision::parse(files.to_vec()).unwrap();
    journal
}

/// The demo's settings without one table.
pub(super) fn workshop_without(table: &str) -> String {
    let tables: Vec<&str> = WORKSHOP.split("\n[").collect();
    let kept: Vec<&str> = tables.into_iter().filter(|text| !text.starts_with(&format!("{table}]"))).collect();
    kept.join("\n[")
}

#[test]
fn litres_to_go_lead_to_the_target_and_never_beyond_the_kit() {
    // 17 L at hand less 3.6 L for the pan, 0.5 L for the level and 0.6 L in the hoses leave 12.3 L.
    let view = exchange(&looked(&[(2.0, 0)]));
    assert!((view.progress.left_litres.unwrap() - 10.3).abs() < 1e-9);
    let to_go = view.progress.to_go.unwrap();
    assert!(
        to_go.least < to_go.likely && to_go.likely <= 10.3 && to_go.greatest.is_none_or(|most| most <= 10.3)
    );
    let told = plain(&view.advice);
    assert!(told.contains("to go until 80 of 100 parts are new after pan and refill"), "{told}");
    assert!(told.contains("The next litre brings about"), "{told}");
    assert!(told.contains("10.3 L are left for pushing"), "{told}");
    // Going there leads there, by the forecast itself.
    let at = |litres: f64| {
        let mut journal = looked(&[(2.0, 0)]);
        journal.add(pushed(litres, None, None, false));
        exchange(&journal).progress.share_expected.unwrap().value
    };
    assert!((at(2.0 + to_go.likely) - 0.80).abs() < 0.02, "{}", at(2.0 + to_go.likely));
}

#[test]
fn a_reached_target_is_enough_and_a_kit_that_does_not_reach_says_so() {
    let reached = advice(&looked(&[(3.0, 0), (6.0, 25), (9.0, 50)]));
    assert!(reached.contains("Enough: about") && reached.contains("the target is 80"), "{reached}");
    // The glass is all new, and most of the fluid inside is not: it ran past.
    let past = looked(&[(3.0, 50), (6.0, 90), (8.0, 100)]);
    let told = advice(&past);
    assert!(told.contains("Enough pushed") && !told.contains("does not reach"), "{told}");
    let small = WORKSHOP.replace("litres = 17.0", "litres = 10.0");
    let mut journal = with_workshop(&small);
    journal.add(pushed(3.0, Some(25), None, false));
    let told = advice(&journal);
    assert!(
        told.contains("The kit does not reach the target of 80: with the 2.3 L that are left about"),
        "{told}"
    );
    journal.add(pushed(5.5, Some(25), None, false));
    let told = advice(&journal);
    assert!(told.contains("and no litre is left for pushing"), "{told}");
    assert_eq!(exchange(&journal).progress.left_litres, Some(0.0));
}

#[test]
fn a_litre_that_brings_too_little_is_enough() {
    let high =
        WORKSHOP.replace("new_share = 0.80", "new_share = 0.99").replace("litres = 17.0", "litres = 40.0");
    let mut journal = with_workshop(&high);
    for (litres, tube) in [(4.0, 50), (8.0, 75), (16.0, 100), (24.0, 100)] {
        journal.add(pushed(litres, Some(tube), None, false));
    }
    let told = advice(&journal);
    assert!(told.contains("Enough pushed: the next litre would bring only"), "{told}");
    assert!(!told.contains("to go") && exchange(&journal).progress.to_go.is_none(), "{told}");
}

#[test]
fn what_is_left_is_not_guessed() {
    let mut journal = with_workshop(&workshop_without("kit"));
    journal.add(pushed(3.0, Some(25), None, false));
    let view = exchange(&journal);
    assert!(view.progress.left_litres.is_none() && view.progress.to_go.is_some());
    assert!(plain(&view.advice).contains("the workshop’s settings state no kit"), "{}", plain(&view.advice));
    let mut journal = with_workshop(&workshop_without("target"));
    journal.add(pushed(3.0, Some(25), None, false));
    let view = exchange(&journal);
    assert!(view.progress.target_share.is_none() && view.progress.to_go.is_none());
    assert!(plain(&view.advice).contains("After 3.0 L "), "{}", plain(&view.advice));
    assert!(plain(&view.advice).contains("The next litre brings about"), "{}", plain(&view.advice));
    let mut journal = looked(&[(3.0, 25)]);
    let alder = ALDER.replace("pan_refill_litres = 3.6\n", "");
    let files = [("workshop.toml", WORKSHOP), ("alder-8.toml", &alder)];
    let files = files.map(|(name, text)| (name.to_owned(), text.as_bytes().to_vec()));
    journal.revision = Revision::parse(files.to_vec()).unwrap();
    let view = exchange(&journal);
    assert!(view.progress.share_expected.is_none() && view.progress.left_litres.is_none());
    let told = plain(&view.advice);
    assert!(
        told.contains("no catalogue states what the pan takes") && told.contains("parts are new inside"),
        "{told}"
    );
}

#[test]
fn advice_ends_with_the_exchange() {
    let mut journal = looked(&[(3.0, 25)]);
    assert!(advice(&journal).contains("What leaves and what enters cannot be watched"));
    journal.add(pushed(6.0, Some(50), Some(5.9), false));
    assert!(!advice(&journal).contains("one figure"));
    journal.add(pushed(9.0, Some(75), Some(8.9), true));
    assert_eq!(advice(&journal), "");
}

#[test]
fn more_out_than_in_is_the_first_line_also_by_weight() {
    let mut journal = looked(&[(3.0, 25)]);
    journal.add(pushed(6.0, Some(50), Some(6.8), false));
    let told = advice(&journal);
    assert!(
        told.starts_with("Stop the engine: 0.6 L more has left than entered, both taken at 15 °C."),
        "{told}"
    );
    let weighed = |kilograms: f64| {
        let mut journal = looked(&[(3.0, 25)]);
        journal.add(Kind::ExchangeReading(v1::ExchangeReading {
            volume_in_litres: 6.0,
            mass_out_kilograms: Some(kilograms),
            ..Default::default()
        }));
        advice(&journal)
    };
    // 6.0 kg at 0.847 kg/L are 7.1 L, 5.0 kg are 5.9 L.
    assert!(weighed(6.0).starts_with("Stop the engine: 1.1 L more"), "{}", weighed(6.0));
    assert!(!weighed(5.0).contains("Stop the engine"));
    let mut journal = looked(&[(3.0, 25)]);
    journal.add(pushed(6.0, None, Some(15.0), false));
    let told = advice(&journal);
    assert!(told.contains("Stop the engine: only about 0.5 L are left inside."), "{told}");
}

#[test]
fn hot_fluid_that_takes_more_room_has_not_left_the_vehicle_unless_it_is_much() {
    let at = |out: f64| {
        let mut journal = looked(&[(3.0, 25)]);
        journal.add(pushed(11.0, Some(50), Some(out), false));
        advice(&journal)
    };
    // Drained fluid is taken at the workshop's stated temperature where nobody read one; 60 °C was read here.
    assert!(!at(11.4).contains("Stop the engine") && !at(11.6).contains("Stop the engine"), "{}", at(11.6));
    assert!(at(11.9).starts_with("Stop the engine: 0.5 L"), "{}", at(11.9));
    // As read it is much, and colder than was thought: 25 L in, 26 L out at 60 °C are 0.1 L at 15 °C.
    let mut journal = looked(&[(3.0, 25)]);
    journal.add(pushed(25.0, None, Some(26.0), false));
    let told = advice(&journal);
    assert!(
        told.starts_with("Stop the engine: 1.0 L more has left than entered, as both are shown."),
        "{told}"
    );
    // What is left inside is counted in the same litres: 9 L less 0.2 L.
    assert!(!told.contains("are left inside"), "{told}");
}

#[test]
fn a_reading_without_what_came_out_does_not_take_a_stop_back() {
    let mut journal = looked(&[(3.0, 25)]);
    journal.add(pushed(6.0, None, Some(7.0), false)).add(pushed(8.0, Some(50), None, false));
    assert!(advice(&journal).starts_with("Stop the engine: 0."), "{}", advice(&journal));
    assert!(!advice(&journal).contains("to go"));
}

#[test]
fn an_outgoing_counter_that_goes_back_is_told_with_both_readings() {
    let mut journal = looked(&[]);
    journal.add(pushed(4.0, Some(25), Some(3.9), false)).add(pushed(8.0, Some(50), Some(2.1), false));
    let told = "The outgoing counter went back from 3.9 L to 2.1 L";
    assert!(advice(&journal).contains(told), "{}", advice(&journal));
    let view = journal.view();
    let finding =
        view.findings.iter().find(|it| plain(std::slice::from_ref(&it.text)).starts_with(told)).unwrap();
    assert_eq!(finding.seqs, [6, 7]);
}

#[test]
fn much_more_in_than_out_is_told_until_somebody_looks_at_the_level() {
    let told = "more has entered than left: the vehicle arrived short";
    let mut journal = looked(&[(3.0, 25)]);
    journal.add(pushed(8.0, Some(50), Some(7.5), false));
    assert!(!advice(&journal).contains(told));
    journal.add(pushed(9.0, Some(50), Some(7.8), false));
    assert!(advice(&journal).starts_with("1.4 L more has entered than left"), "{}", advice(&journal));
    assert!(advice(&journal).contains("After 9.0 L"), "the engine need not be off");
    journal.add(level(43.0, 2));
    assert!(!advice(&journal).contains(told) && !findings(&journal).contains(told));
}

#[test]
fn nothing_is_said_of_how_far_to_go_while_the_looks_mean_nothing() {
    let quiet = |told: &str, pushed: &str, left: &str| {
        for words in ["Enough", "to go", "The next litre", "does not reach"] {
            assert!(!told.contains(words), "{words}: {told}");
        }
        for words in [format!("{pushed} were pushed so far."), format!("{left} are left")] {
            assert!(told.contains(&words), "{words}: {told}");
        }
    };
    quiet(&advice(&looked(&[(2.0, 0), (4.0, 0), (6.0, 0)])), "6.0 L", "6.3 L");
    quiet(&advice(&looked(&[(0.5, 75)])), "0.5 L", "11.8 L");
    let mut journal = looked(&[]);
    for litre in 1..=10 {
        journal.add(instrument(f64::from(litre), if litre % 2 == 0 { 70.0 } else { 10.0 }, 3.0));
    }
    quiet(&advice(&journal), "10.0 L", "2.3 L");
    assert!(exchange(&journal).progress.to_go.is_none());
}

#[test]
fn an_alarm_of_the_looks_goes_when_the_equipment_is_connected_anew_and_comes_back_with_the_next_look() {
    let mut journal = looked(&[(0.5, 75)]);
    assert!(advice(&journal).starts_with("Fresh fluid returns straight away"));
    journal.add(hookup(1));
    assert!(!advice(&journal).contains("Fresh fluid returns"), "{}", advice(&journal));
    let mut journal = looked(&[(2.0, 0), (4.0, 0), (6.0, 0)]);
    journal.add(hookup(1));
    assert!(!advice(&journal).contains("No fresh fluid"));
    journal.add(pushed(7.0, Some(0), None, false));
    assert!(advice(&journal).starts_with("No fresh fluid has reached the glass after 7.0 L"));
}

#[test]
fn a_later_look_that_is_older_says_that_the_hoses_were_put_right() {
    let fresh = "Fresh fluid returns straight away";
    assert!(advice(&looked(&[(0.5, 75), (2.0, 75)])).contains(fresh));
    let right = advice(&looked(&[(0.5, 75), (2.0, 25)]));
    assert!(!right.contains(fresh), "{right}");
}

#[test]
fn the_kit_and_what_is_kept_of_it_are_told_without_contradiction() {
    // 12.3 L of the 17 L are for pushing.
    let told = |litres: f64| {
        let mut journal = looked(&[(3.0, 25), (6.0, 25), (9.0, 50)]);
        journal.add(pushed(litres, Some(50), None, false));
        advice(&journal)
    };
    assert!(told(16.0).contains("3.7 L of what is kept for pan and level were pushed"), "{}", told(16.0));
    let beyond = told(30.0);
    assert!(
        beyond.contains("30.0 L were pushed, but the kit holds 17.0 L: is the counter right?"),
        "{beyond}"
    );
    assert!(!beyond.contains("Enough"), "{beyond}");
    for litres in [9.5, 10.0, 10.9, 11.5, 12.2] {
        let told = told(litres);
        assert!(!told.contains("that are left") || !told.contains("are left for pushing"), "{told}");
        assert!(!told.contains("target of 80: with the") || !told.contains("about 80 of"), "{told}");
        assert!(!told.contains("from 0.0 L on"), "{told}");
    }
    let mut journal = looked(&[(3.0, 25)]);
    journal.add(skipped("pan"));
    let told = advice(&journal);
    assert!(
        told.contains("12.9 L are left for pushing; the rest is for level and hoses, the pan stays on"),
        "{told}"
    );
}

#[test]
fn without_a_total_fill_it_is_said_which_fact_is_missing() {
    let mut journal = Journal::new();
    journal.add(arrival()).add(Kind::VariantSettled(v1::VariantSettled {
        variant_code: "Hazel-6".into(),
        means: 2,
        source: "maker's list".into(),
        fluid_code: "Hazel".into(),
        transmission_plate_agrees: 1,
        ..Default::default()
    }));
    journal.add(pushed(3.0, Some(25), None, false));
    let told = advice(&journal);
    assert!(told.contains("No share of new fluid can be told") && told.contains("(total fill)"), "{told}");
}

#[test]
fn the_temperature_is_not_asked_for_once_it_was_read() {
    let mut journal = settled_job();
    journal.add(container("Linden")).add(temperature(40.0));
    for litres in [2.0, 4.0, 6.0] {
        let reading =
            v1::ExchangeReading { volume_in_litres: litres, tube_percent: Some(0), ..Default::default() };
        journal.add(Kind::ExchangeReading(reading));
    }
    assert!(advice(&journal).starts_with("No fresh fluid") && !advice(&journal).contains("Read the temp"));
}

#[test]
fn nothing_that_arrives_says_what_to_do_and_asks_for_the_temperature() {
    let mut journal = settled_job();
    journal.add(container("Linden"));
    for litres in [2.0, 4.0, 6.0] {
        let reading =
            v1::ExchangeReading { volume_in_litres: litres, tube_percent: Some(0), ..Default::default() };
        journal.add(Kind::ExchangeReading(reading));
    }
    let told = advice(&journal);
    assert!(
        told.starts_with(
            "No fresh fluid has reached the glass after 6.0 L: the cooler’s thermostat is closed"
        )
    );
    assert!(told.contains("Do not raise the speed. Read the temperature of the fluid"), "{told}");
    let view = journal.view();
    let finding = view.findings.iter().find(|it| said(&it.text).starts_with("No fresh fluid")).unwrap();
    assert!(finding.on_record && finding.seqs == [6, 7, 8]);
    let warm = looked(&[(2.0, 0), (4.0, 0), (6.0, 0)]);
    assert!(!advice(&warm).contains("Read the temperature"), "it was read: {}", advice(&warm));
}

#[test]
fn fresh_fluid_at_once_and_a_glass_that_stopped_changing_are_told() {
    let told = advice(&looked(&[(0.3, 50), (0.6, 50)]));
    assert!(told.starts_with("Fresh fluid returns straight away: the hoses are exchanged"), "{told}");
    let tanks = Tanks::new(9.0, 1.7).unwrap();
    let mut journal = looked(&[]);
    for litre in 1..=9 {
        let litres = f64::from(litre);
        journal.add(instrument(litres, (1.0 - tanks.outlet(litres.min(5.0))) * 100.0, 3.0));
    }
    let told = advice(&journal);
    assert!(told.contains("has stopped changing at") && told.contains("since 6.0 L"), "{told}");
    let mut journal = looked(&[]);
    for litre in 1..=10 {
        journal.add(instrument(f64::from(litre), if litre % 2 == 0 { 70.0 } else { 10.0 }, 3.0));
    }
    assert!(advice(&journal).contains("do not fit any usual way of flowing"), "{}", advice(&journal));
}

#[test]
fn an_exchange_as_usual_raises_no_alarm() {
    for job in [exchanged_job(), serviced_job()] {
        assert_eq!(job.view().exchange.unwrap().progress.alarms, []);
    }
}

/// The readings of two stations in one order of arrival or another, each with its own clock and count.
fn two_stations(order: &[usize]) -> Journal {
    let mut journal = settled_job();
    journal.add(container("Linden"));
    let before = journal.entries.len();
    for (litres, tube, out) in
        [(2.4, 25, None), (4.8, 50, None), (7.2, 50, None), (7.2, 75, Some(7.1)), (9.4, 75, Some(10.4))]
    {
        journal.add(pushed(litres, Some(tube), out, false));
    }
    arrived_as(journal, before, order)
}

/// The entries from one on in another order of arrival; every second is one of another station.
fn arrived_as(mut journal: Journal, before: usize, order: &[usize]) -> Journal {
    let readings: Vec<(i64, Vec<u8>)> = journal.entries.split_off(before);
    let of_station = |(at, (time, bytes)): (usize, &(i64, Vec<u8>))| {
        let mut entry = v1::Entry::decode(bytes.as_slice()).unwrap();
        let header = entry.header.as_mut().unwrap();
        if at % 2 == 1 {
            header.station_id = "bay-2".into();
            header.boot_id = "1".repeat(32);
        }
        (*time, entry.encode_to_vec())
    };
    let readings: Vec<(i64, Vec<u8>)> = readings.iter().enumerate().map(of_station).collect();
    journal.entries.extend(order.iter().map(|at| readings[*at].clone()));
    journal
}

type Told = (Vec<Figure>, Vec<String>, Vec<CurvePoint>, Progress, Vec<Sentence>, Vec<Sentence>);

fn told(journal: &Journal) -> Told {
    let view = journal.view();
    let mut findings: Vec<String> = view.findings.iter().map(|finding| said(&finding.text)).collect();
    findings.sort();
    let exchange = view.exchange.unwrap();
    (view.figures, findings, exchange.curve, exchange.progress, exchange.remarks, exchange.advice)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn readings_of_two_stations_count_the_same_however_they_arrive(
        seen in proptest::collection::vec((1_u8..6, 0_usize..6, proptest::option::of(0_u8..4)), 2..7),
        turns in proptest::collection::vec(proptest::bool::ANY, 7),
    ) {
        let of = |order: &[usize]| {
            let mut journal = settled_job();
            journal.add(container("Linden"));
            let before = journal.entries.len();
            for (litres, tube, out) in &seen {
                let (litres, tube) = (f64::from(*litres) * 2.0, [0, 25, 50, 75, 90, 100][*tube]);
                journal.add(pushed(litres, Some(tube), out.map(|less| litres - f64::from(less) / 5.0), false));
            }
            arrived_as(journal, before, order)
        };
        let all: Vec<usize> = (0..seen.len()).collect();
        // Each station's own entries keep their order; whose turn it is is thrown.
        let (mut one, mut other): (Vec<usize>, Vec<usize>) = all.iter().rev().partition(|at| **at % 2 == 0);
        let mut order = Vec::new();
        for turn in turns.iter().cycle().take(2 * all.len()) {
            order.extend(if *turn { one.pop() } else { other.pop() });
        }
        order.extend(one.into_iter().rev().chain(other.into_iter().rev()));
        prop_assert_eq!(told(&of(&order)), told(&of(&all)));
    }
}

#[test]
fn another_order_of_arrival_gives_the_same_figures_and_findings() {
    let first = told(&two_stations(&[0, 1, 2, 3, 4]));
    assert!(first.5.iter().any(|line| said(line).starts_with("Stop the engine")));
    // Each station's own entries keep their order: 0, 2, 4 and 1, 3.
    for order in [[1, 3, 0, 2, 4], [0, 2, 4, 1, 3], [0, 1, 3, 2, 4], [1, 0, 2, 4, 3]] {
        assert_eq!(told(&two_stations(&order)), first, "{order:?}");
    }
}
