//! When the level can be read: clock times from readings, and what changes which readings count.

use super::*;

/// 08:00 in London is minute 0 of a journal.
fn at(journal: &mut Journal, minute: i64, kind: Kind) -> &mut Journal {
    journal.minute = minute - 1;
    journal.add(kind)
}

fn read(celsius: f64) -> Kind {
    by(celsius, 1)
}

fn by(celsius: f64, means: i32) -> Kind {
    Kind::TemperatureReading(v1::TemperatureReading {
        temperature_celsius: celsius,
        place: 1,
        means,
        ..Default::default()
    })
}

fn gears() -> Kind {
    let driver_person_code = "A".into();
    Kind::GearCycle(v1::GearCycle { driver_person_code, nobody_under_vehicle: 1 })
}

fn confirmed(condition: i32) -> Kind {
    Kind::ConditionConfirmed(v1::ConditionConfirmed { conditions: vec![condition] })
}

fn look(celsius: f64, overflow: i32, idling: i32) -> Kind {
    let Kind::LevelCheck(check) = level(celsius, overflow) else { panic!() };
    Kind::LevelCheck(v1::LevelCheck { engine_idling: idling, ..check })
}

/// The pan is off, refilled, and the gears were moved at 09:00.
fn refilled_job() -> Journal {
    let mut journal = settled_job();
    at(&mut journal, 50, drained(3.05));
    at(&mut journal, 55, refilled(3.05, "Linden"));
    at(&mut journal, 60, gears());
    journal
}

fn view_at(journal: &Journal, minute: i64) -> JobView {
    journal.with(|context, entries| {
        let as_of_us = START_US + minute * MINUTE_US;
        view(&Context { as_of_us, ..context.clone() }, entries)
    })
}

fn when_at(journal: &Journal, minute: i64) -> Option<String> {
    let when = view_at(journal, minute).level.when;
    when.map(|when| said(&when).replace(['\u{a0}', '\u{202f}'], " "))
}

/// From 80 to 20 °C with a time constant of 60 min, from 09:00 on: 50 °C after 41.6 min (computed).
fn cooling(minutes: f64) -> f64 {
    20.0 + 60.0 * (-minutes / 60.0).exp()
}

#[test]
fn too_hot_says_a_clock_time_with_its_range_and_never_open_now() {
    let mut journal = refilled_job();
    for minute in [61, 66, 71, 76] {
        #[allow(clippy::cast_precision_loss)]
        at(&mut journal, minute, read(cooling((minute - 60) as f64)));
    }
    let view = view_at(&journal, 76);
    let forecast = view.level.forecast.unwrap();
    let likely = (forecast.likely_us - START_US) / MINUTE_US;
    assert!((99..=104).contains(&likely), "{likely}");
    assert!(forecast.earliest_us < forecast.likely_us && forecast.likely_us < forecast.latest_us);
    let when = said(view.level.when.as_ref().unwrap()).replace('\u{a0}', " ");
    assert!(
        when.starts_with("Too hot: 66 °C. With the engine off, read the temperature again at 09:4"),
        "{when}"
    );
    assert!(when.contains("(between 09:3") && when.contains("do something else until then"), "{when}");
    assert!(!when.to_lowercase().contains("open"), "{when}");
}

#[test]
fn one_reading_is_a_guess_and_says_so() {
    let mut journal = refilled_job();
    assert_eq!(when_at(&journal, 60), None, "no temperature was read");
    at(&mut journal, 62, read(75.0));
    let when = when_at(&journal, 62).unwrap();
    assert!(when.ends_with("That is a guess until there is a second reading."), "{when}");
    let reasons = view_at(&journal, 62).level.forecast.unwrap().reasons;
    assert_eq!(reasons.len(), 1);
}

#[test]
fn a_time_that_has_passed_asks_for_a_reading_and_nothing_else() {
    let mut journal = refilled_job();
    at(&mut journal, 62, read(60.0));
    let when = when_at(&journal, 200).unwrap();
    assert!(when.starts_with("Read the temperature now: it was 60 °C at 09:02"), "{when}");
    assert!(!when.contains("pen the plug"), "{when}");
}

#[test]
fn the_clock_is_that_of_the_site_and_names_the_day_after_midnight() {
    let mut journal = refilled_job();
    // 23:20 in London.
    at(&mut journal, 920, read(80.0));
    let when = when_at(&journal, 920).unwrap();
    assert!(when.contains("19 March, 00:"), "{when}");
    let files = [
        ("workshop.toml", WORKSHOP.replace("Europe/London", "Asia/Kolkata")),
        ("alder-8.toml", ALDER.to_owned()),
    ];
    let files = files.map(|(name, text)| (name.to_owned(), text.into_bytes()));
    journal.revision = Revision::parse(files.to_vec()).unwrap();
    // 23:20 UTC is 04:50 the next morning there, so the whole forecast is on one day.
    let when = when_at(&journal, 920).unwrap();
    assert!(!when.contains("March") && when.contains("again at 05:"), "{when}");
}

#[test]
fn fluid_that_warms_when_it_should_cool_gets_no_time() {
    let mut journal = refilled_job();
    at(&mut journal, 61, read(58.0));
    at(&mut journal, 66, read(61.0));
    let view = view_at(&journal, 66);
    assert!(view.level.forecast.is_none());
    let when = when_at(&journal, 66).unwrap();
    assert_eq!(
        when,
        "It does not cool: 61 °C at 09:06. Switch the engine off, and read the temperature again later."
    );
    let mut journal = refilled_job();
    at(&mut journal, 61, read(32.0));
    at(&mut journal, 66, read(28.0));
    let when = when_at(&journal, 66).unwrap();
    assert!(when.starts_with("It does not warm: 28 °C at 09:06. Is the engine idling?"), "{when}");
}

#[test]
fn still_cold_counts_on_an_idling_engine_and_knows_when_it_is_off() {
    let mut journal = refilled_job();
    at(&mut journal, 61, read(24.0));
    at(&mut journal, 64, read(31.0));
    let when = when_at(&journal, 64).unwrap();
    assert!(
        when.starts_with("Still cold: 31 °C. With the engine idling, read the temperature again at 09:0"),
        "{when}"
    );
    at(&mut journal, 65, confirmed(2));
    assert_eq!(when_at(&journal, 65), None, "nothing was read since the engine is off");
    at(&mut journal, 66, read(31.0));
    let when = when_at(&journal, 66).unwrap();
    assert!(when.starts_with("Still cold: 31 °C, and the engine is off."), "{when}");
    assert!(view_at(&journal, 66).level.forecast.is_none());
}

#[test]
fn an_infrared_reading_is_no_fluid_temperature() {
    let mut journal = refilled_job();
    at(&mut journal, 61, read(70.0));
    let before = when_at(&journal, 62).unwrap();
    at(&mut journal, 62, by(44.0, 3));
    assert_eq!(
        when_at(&journal, 62).unwrap(),
        format!("{before} An infrared reading of the pan does not count.")
    );
    let Kind::LevelCheck(check) = look(44.0, 2, 1) else { panic!() };
    at(&mut journal, 63, Kind::LevelCheck(v1::LevelCheck { means: 3, ..check }));
    let when = when_at(&journal, 63).unwrap();
    assert!(when.starts_with("Too hot: 70 °C"), "{when}");
}

#[test]
fn infrared_alone_asks_for_another_instrument() {
    let mut journal = refilled_job();
    at(&mut journal, 61, by(44.0, 3));
    let when = when_at(&journal, 61).unwrap();
    assert!(when.starts_with("An infrared reading of the pan does not count: read"), "{when}");
}

#[test]
fn nothing_is_said_of_the_level_while_the_exchange_runs() {
    let mut journal = refilled_job();
    at(&mut journal, 61, pushed(2.0, Some(25), None, false));
    at(&mut journal, 62, read(70.0));
    assert_eq!(when_at(&journal, 62), None, "the exchange runs");
    at(&mut journal, 63, pushed(12.0, Some(75), None, true));
    at(&mut journal, 64, read(70.0));
    assert!(when_at(&journal, 64).unwrap().starts_with("Too hot: 70 °C"));
}

#[test]
fn a_temperature_beside_the_window_is_not_rounded_into_it() {
    let mut journal = refilled_job();
    at(&mut journal, 61, read(55.0));
    at(&mut journal, 66, read(50.4));
    let when = when_at(&journal, 66).unwrap();
    assert!(when.starts_with("Too hot: 50.4 °C"), "{when}");
    at(&mut journal, 67, look(39.6, 2, 1));
    let attempts = view_at(&journal, 67).level.attempts;
    assert!(said(&attempts[0].text).contains("39.6"), "{attempts:?}");
}

#[test]
fn readings_that_no_fluid_makes_get_no_time_until_they_fit_again() {
    let mut journal = refilled_job();
    at(&mut journal, 61, read(70.0));
    at(&mut journal, 62, read(7.0));
    let when = when_at(&journal, 62).unwrap();
    assert_eq!(when, "70 °C at 09:01 and 7 °C at 09:02: these readings do not fit together; read again.");
    assert!(view_at(&journal, 62).level.forecast.is_none());
    at(&mut journal, 63, read(70.0));
    assert!(when_at(&journal, 63).unwrap().contains("do not fit together"));
    at(&mut journal, 68, read(66.0));
    assert!(when_at(&journal, 68).unwrap().starts_with("Too hot: 66 °C"), "two that fit are enough");
}

#[test]
fn of_readings_of_one_minute_the_one_stated_last_counts() {
    let mut journal = refilled_job();
    at(&mut journal, 61, read(47.0));
    at(&mut journal, 61, read(45.0));
    let when = when_at(&journal, 61).unwrap();
    assert!(when.starts_with("45 °C at 09:01 is inside"), "{when}");
}

#[test]
fn forecast_and_gate_rest_on_the_same_reading() {
    let allowed = |journal: &Journal, minute: i64| {
        journal.with(|context, entries| {
            let context = Context { as_of_us: START_US + minute * MINUTE_US, ..context.clone() };
            let folded = crate::job::fold::fold(&context, entries);
            crate::job::fresh_temperature(&context, &folded).map(|reading| reading.celsius)
        })
    };
    let mut journal = refilled_job();
    at(&mut journal, 61, look(45.0, 1, 1));
    assert_eq!(allowed(&journal, 62), Some(45.0), "a look by scan tool is a reading");
    assert!(when_at(&journal, 62).unwrap().contains("is inside 40 to 50 °C"));
    at(&mut journal, 64, by(44.0, 3));
    assert_eq!(allowed(&journal, 64), None);
    assert!(when_at(&journal, 64).unwrap().contains("is older than 2 minutes"));
    let Kind::LevelCheck(check) = look(44.0, 1, 1) else { panic!() };
    at(&mut journal, 65, Kind::LevelCheck(v1::LevelCheck { means: 0, ..check }));
    assert_eq!(allowed(&journal, 65), None, "it was not stated how");
}

#[test]
fn the_bay_hears_the_first_cause_and_the_record_keeps_them_all() {
    let mut journal = refilled_job();
    at(&mut journal, 61, read(70.0));
    let Kind::LevelCheck(check) = look(60.0, 3, 2) else { panic!() };
    at(&mut journal, 62, Kind::LevelCheck(v1::LevelCheck { selector: 0, ..check }));
    let attempts = view_at(&journal, 62).level.attempts;
    let (whole, short) = (said(&attempts[0].text), said(&attempts[0].in_short));
    assert!(short.contains("too hot") && !short.contains("engine"), "{short}");
    assert!(whole.contains("too hot") && whole.contains("engine"), "{whole}");
    at(&mut journal, 70, look(45.0, 2, 1));
    let attempts = view_at(&journal, 70).level.attempts;
    assert!(said(&attempts[1].text).ends_with("this look counts"), "{attempts:?}");
}

#[test]
fn a_reading_inside_the_window_counts_for_two_minutes() {
    let mut journal = refilled_job();
    at(&mut journal, 61, read(55.0));
    at(&mut journal, 72, read(48.0));
    let when = when_at(&journal, 73).unwrap();
    assert!(
        when.starts_with("48 °C at 09:12 is inside 40 to 50 °C; this reading counts until 09:14."),
        "{when}"
    );
    for part in [
        "engine idling",
        "selector in P (or in N, where the vehicle maker says so)",
        "vehicle level",
        "catch tray",
        "gloves",
        "go-ahead",
    ] {
        assert!(when.contains(part), "{part}: {when}");
    }
    assert!(!when.to_lowercase().contains("open"), "{when}");
    let when = when_at(&journal, 75).unwrap();
    assert!(when.contains("is older than 2 minutes: read the temperature again"), "{when}");
    assert!(!when.contains("Open the plug"), "{when}");
}

#[test]
fn only_readings_since_the_heat_changed_lie_on_one_line() {
    let engine_off = || confirmed(2);
    let drive =
        || Kind::RoadTest(v1::RoadTest { moment: 1, ticks: vec![1], warmth: 2, ..Default::default() });
    let added = || {
        let amount = Some(v1::fill::Amount::VolumeLitres(0.3));
        Kind::Fill(v1::Fill { purpose: 2, amount, means: 1, ..Default::default() })
    };
    // Warming up to 70 °C, then one reading that is lower: with the readings before it would not be on one line.
    for change in [engine_off(), drive(), added(), gears()] {
        let mut journal = refilled_job();
        for (minute, celsius) in [(61, 50.5), (64, 60.0), (67, 70.0)] {
            at(&mut journal, minute, read(celsius));
        }
        assert!(when_at(&journal, 67).unwrap().starts_with("It does not cool"));
        at(&mut journal, 68, change.clone());
        at(&mut journal, 69, read(69.0));
        let when = when_at(&journal, 69).unwrap();
        assert!(
            when.starts_with("Too hot: 69 °C") && when.contains("until there is a second reading"),
            "{when}"
        );
    }
    // What does not change the heat keeps the line.
    let mut journal = refilled_job();
    at(&mut journal, 61, read(70.0));
    at(&mut journal, 62, confirmed(1));
    at(&mut journal, 66, read(66.0));
    let when = when_at(&journal, 66).unwrap();
    assert!(!when.contains("second reading"), "{when}");
}

#[test]
fn a_look_with_the_engine_started_again_begins_a_new_line_with_its_own_temperature() {
    let mut journal = refilled_job();
    at(&mut journal, 61, confirmed(2));
    at(&mut journal, 62, read(70.0));
    at(&mut journal, 70, read(62.0));
    assert!(!when_at(&journal, 70).unwrap().contains("second reading"));
    at(&mut journal, 75, look(56.0, 3, 1));
    let when = when_at(&journal, 75).unwrap();
    assert!(when.starts_with("Too hot: 56 °C") && when.contains("second reading"), "{when}");
}

#[test]
fn a_look_that_hands_the_reading_over_is_no_second_reading() {
    let mut journal = refilled_job();
    at(&mut journal, 61, read(60.0));
    at(&mut journal, 62, look(60.0, 3, 1));
    assert!(when_at(&journal, 62).unwrap().contains("second reading"));
}

#[test]
fn nothing_is_said_before_the_refill_nor_once_the_level_is_set_or_the_job_closed() {
    let mut journal = settled_job();
    at(&mut journal, 10, read(70.0));
    assert_eq!(when_at(&journal, 10), None, "nothing was done yet");
    at(&mut journal, 50, drained(3.05));
    at(&mut journal, 51, read(70.0));
    assert_eq!(when_at(&journal, 51), None, "the pan is not refilled");
    let mut journal = refilled_job();
    at(&mut journal, 61, read(45.0));
    at(&mut journal, 62, look(45.0, 2, 1));
    let view = view_at(&journal, 62);
    assert_eq!(view.level.set_celsius, Some(45.0));
    assert!(view.level.when.is_none() && view.level.forecast.is_none());
    let mut journal = refilled_job();
    at(&mut journal, 61, read(70.0));
    at(&mut journal, 62, Kind::Closing(v1::Closing { outcome: 1, odometer_kilometres: None }));
    assert_eq!(when_at(&journal, 62), None);
}

#[test]
fn a_time_that_has_not_come_yet_was_typed_wrongly_and_says_nothing() {
    let mut journal = refilled_job();
    at(&mut journal, 61, read(70.0));
    at(&mut journal, 90, read(45.0));
    // At 09:02 nobody can have read what the fluid has at 09:30.
    let when = when_at(&journal, 62).unwrap();
    assert!(when.starts_with("Too hot: 70 °C"), "{when}");
}

#[test]
fn a_counted_drip_is_judged_against_the_warming_and_only_where_it_was_counted() {
    let counted = |drops: i32, celsius: f64| {
        let Kind::LevelCheck(check) = look(celsius, 2, 1) else { panic!() };
        Kind::LevelCheck(v1::LevelCheck { drops_per_minute: Some(drops), ..check })
    };
    let told = |first: f64, drops: i32| {
        let mut journal = refilled_job();
        at(&mut journal, 61, read(first));
        at(&mut journal, 66, counted(drops, 45.0));
        let level = view_at(&journal, 66).level;
        assert!(!all(&level.remarks).contains("drops a minute"), "it stands apart from what the bay reads");
        said(&level.drip.unwrap()).replace('\u{a0}', " ")
    };
    // 9 L of 847 kg/m³ that warm by 1 K/min at 45 °C drive out 6.9 mL/min (computed with the handbook's formula).
    let reached = told(40.0, 170);
    assert!(
        reached.contains("warmed by 1.0 K a minute, which alone drives out about 6.9 mL a minute"),
        "{reached}"
    );
    assert!(reached.contains("no more than warming explains"), "{reached}");
    assert!(told(45.0, 200).contains("did not warm") && told(45.0, 200).contains("still stands above"));
    assert!(told(40.0, 2).contains("less than warming explains"), "{}", told(40.0, 2));
    let mut journal = refilled_job();
    at(&mut journal, 66, counted(170, 45.0));
    assert!(said(&view_at(&journal, 66).level.drip.unwrap()).contains("not read twice within ten minutes"));
    let mut journal = refilled_job();
    at(&mut journal, 66, look(45.0, 2, 1));
    assert!(view_at(&journal, 66).level.drip.is_none());
}
