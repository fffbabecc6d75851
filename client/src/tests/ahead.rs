//! Plan and watch over a real connection: what is written, and what happens when it breaks.

use super::*;
use crate::cli::Exit;
use crate::tests::commands::Bay;
use crate::tests::fake::Fake;

fn open(shop: &Fake) -> Bay {
    let bay = Bay::joined(shop);
    assert_eq!(bay.say(&["open", "TW 4711"]).exit, Exit::Done);
    bay
}

fn said(lines: &[&str]) -> Vec<String> {
    lines.iter().map(|line| (*line).to_owned()).collect()
}

#[test]
fn a_plan_is_a_table_of_at_most_eighty_columns_with_the_advice_below() {
    let shop = Fake::start();
    let bay = open(&shop);
    let told = bay.say(&["plan", "--kit", "14 L"]);
    assert_eq!((told.exit, told.err.as_str()), (Exit::Done, ""), "{}", told.out);
    assert!(told.out.lines().all(|line| line.chars().count() <= 80), "{}", told.out);
    assert!(told.out.starts_with("HL-26-0001 TW 4711\n"), "{}", told.out);
    assert_eq!(told.out.matches("What it shows or risks").count(), 1, "said once: {}", told.out);
    let row = told.out.lines().find(|line| line.starts_with("Exchange")).unwrap();
    let cells: Vec<&str> = row.split_whitespace().collect();
    assert_eq!(cells, ["Exchange", "14.0", "78,", "58-93", "59"]);
    assert!(told.out.ends_with("\n> Exchange: most new fluid for the same litres.\n"), "{}", told.out);
    let json = bay.json(&["plan", "1"]);
    assert_eq!(
        (json["choices"][1]["new_share"].as_f64(), &json["choices"][1]["advised"]),
        (Some(0.784), &true.into())
    );
    assert_eq!(shop.shop().kits, [Some(14.0), None]);
}

#[test]
fn a_kit_without_unit_or_outside_its_bounds_is_not_asked_about() {
    let shop = Fake::start();
    let bay = open(&shop);
    let told = bay.say(&["plan", "--kit", "14"]);
    assert_eq!(told.exit, Exit::Usage, "{}", told.err);
    let told = bay.say(&["plan", "--kit", "140 L"]);
    assert_eq!(told.exit, Exit::Refused, "{}", told.err);
    assert!(told.err.contains("kit_litres") && told.err.contains("0.5 to 60 L"), "{}", told.err);
    assert!(shop.shop().kits.is_empty());
}

#[test]
fn a_watch_shows_each_state_once_goes_on_after_a_break_and_says_so_once() {
    let shop = Fake::start();
    let bay = open(&shop);
    let wide = "Refill 3.6 L: what ran out of the pan. ".repeat(4);
    shop.shop().watches =
        vec![vec![said(&[]), said(&[&wide])], vec![said(&[]), said(&[&wide]), said(&["Look again."])]];
    let told = bay.say(&["watch"]);
    // The test server refuses at the end of the last watch, which ends it.
    assert_eq!(told.exit, Exit::NotPermitted, "{}", told.err);
    assert!(told.out.lines().all(|line| line.chars().count() <= 80), "{}", told.out);
    assert_eq!(told.out.matches("11:00  HL-26-0001 TW 4711").count(), 5, "{}", told.out);
    assert!(told.out.ends_with("11:00  HL-26-0001 TW 4711\n  > Look again.\n"), "{}", told.out);
    let lines: Vec<&str> = told.err.lines().collect();
    let [ended, again, refused] = lines[..] else { panic!("{}", told.err) };
    assert!(ended.contains("the watch goes on when it answers again"), "{}", told.err);
    assert_eq!((again, refused), ("the shop server answers again", "no more watching in this test"));
}

#[test]
fn a_server_that_stops_is_told_in_its_own_words() {
    let shop = Fake::start();
    let bay = open(&shop);
    shop.shop().watches = vec![vec![said(&["One."])], vec![said(&["Two."])]];
    shop.shop().stops_watching = true;
    let told = bay.say(&["watch"]);
    let stopping = "the server is stopping; the watch goes on when it answers again\n";
    assert!(told.err.starts_with(stopping), "{}", told.err);
    assert!(told.out.contains("One.") && told.out.contains("Two."), "{}", told.out);
}

#[test]
fn pauses_are_spread_by_chance_and_at_most_by_a_quarter() {
    let folder = tempfile::tempdir().unwrap();
    let disk = std::sync::Arc::new(crate::disk::SystemDisk);
    let station = Station::open(&folder.path().join("bay-1"), crate::tests::options(disk, 3)).unwrap();
    let pause = Duration::from_secs(4);
    let spread: Vec<_> = (0..20).map(|_| station.spread(pause).unwrap()).collect();
    assert!(spread.iter().all(|spread| (pause..=pause * 5 / 4).contains(spread)), "{spread:?}");
    assert!(spread.iter().any(|one| *one != spread[0]), "{spread:?}");
    assert_eq!(station.spread(Duration::ZERO).unwrap(), Duration::ZERO);
}

#[test]
fn another_command_on_the_folder_only_holds_up_a_watch() {
    let held = ClientError::Locked { holder: "standpipe add".into() };
    assert!(is_passing(&held) && is_passing(&ClientError::Away("x".into())));
    assert!(!is_passing(&ClientError::NotPermitted("x".into())) && !is_passing(&ClientError::NoJob));
}

#[test]
fn nothing_is_planned_on_facts_that_lack_what_was_stated_here() {
    let shop = Fake::start();
    let bay = open(&shop);
    shop.shop().refuses = Some(("drain", tonic::Code::Unavailable));
    bay.say(&["add", "drain", "--place", "pan", "--mass", "3.05kg", "--means", "scale"]);
    let told = bay.say(&["plan", "--kit", "14 L"]);
    assert_eq!(told.exit, Exit::Kept, "{}", told.err);
    let why = "1 entry of job HL-26-0001 TW 4711 is not at the shop server yet";
    assert!(told.err.starts_with(why) && told.err.contains("nothing was planned"), "{}", told.err);
    assert!(told.out.is_empty() && shop.shop().kits.is_empty(), "{}", told.out);
}

#[test]
fn a_connection_made_again_does_not_repeat_what_was_shown() {
    let shop = Fake::start();
    let bay = open(&shop);
    shop.shop().watches = vec![vec![said(&["One."])], vec![said(&["One."])]];
    let told = bay.say(&["watch", "1"]);
    assert_eq!(told.out.matches("One.").count(), 1, "{}", told.out);
}

#[test]
fn states_for_programs_are_a_line_of_json_each() {
    let shop = Fake::start();
    let bay = open(&shop);
    shop.shop().watches = vec![vec![said(&["One."]), said(&["Two."])]];
    let told = bay.say(&["watch", "--output", "json"]);
    let states: Vec<serde_json::Value> =
        told.out.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    assert_eq!(states.len(), 2, "{}", told.out);
    assert_eq!((&states[1]["now"][0], states[1]["last_seq"].as_i64()), (&"Two.".into(), Some(2)));
}

#[test]
fn a_state_without_anything_to_say_names_what_is_open_next() {
    let times = shown::Times::new(0, &jiff::tz::TimeZone::UTC);
    let summary = |closed, next: &str| standpipe_proto::v1::JobSummary {
        number: "HL-26-0042".into(),
        plate: "TW 4711".into(),
        closed,
        next_open_point: next.into(),
        ..Default::default()
    };
    let state = |closed, next| WatchResponse {
        summary: Some(summary(closed, next)),
        time: Some(prost_types::Timestamp { seconds: 0, nanos: 0 }),
        ..WatchResponse::default()
    };
    assert_eq!(
        block(&state(false, "Close the pan."), &times),
        "00:00  HL-26-0042 TW 4711\n  next: Close the pan.\n"
    );
    assert_eq!(block(&state(true, ""), &times), "00:00  HL-26-0042 TW 4711\n  closed\n");
    assert!(block(&state(true, "Issue the record."), &times).contains("closed; next: Issue the record."));
}

#[test]
fn a_watch_shows_the_curve_over_the_litres_in_a_few_points_that_begin_and_end_it() {
    let point = |at: u32| ExchangePoint {
        pushed_litres: f64::from(at) / 4.0,
        share: f64::from(at) / 60.0,
        least: f64::from(at) / 70.0,
        greatest: f64::from(at) / 50.0,
    };
    let look = |at: u32| ExchangeLook {
        pushed_litres: f64::from(at),
        glass_new_share: f64::from(at) / 20.0,
        ..ExchangeLook::default()
    };
    let mut exchange = ExchangeProgress { looks: (1..=2).map(look).collect(), ..ExchangeProgress::default() };
    assert_eq!(curve(&exchange).unwrap(), "new in the glass, of 100: 5 at 1.0 L, 10 at 2.0 L");
    exchange.curve = (0..=48).map(point).collect();
    let told = curve(&exchange).unwrap();
    assert!(told.starts_with("new inside, of 100: 0 (0-0) at 0.0 L, 13 (11-16) at 2.0 L, "), "{told}");
    assert!(told.ends_with("80 (69-96) at 12.0 L"), "{told}");
    assert_eq!(told.matches(" at ").count(), CURVE_POINTS);
    assert_eq!(curve(&ExchangeProgress::default()), None);
}
