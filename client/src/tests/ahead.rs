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
    assert!(told.err.contains("kit_litres") && told.err.contains("100"), "{}", told.err);
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
