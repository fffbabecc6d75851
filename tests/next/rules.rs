//! The rules of the questions (practice of the trade): one at a time, Enter takes what is proposed, back, later, why,
//! the person by one key, nothing lost by a kill, safety never skipped.

use super::terminal::Terminal;
use super::{EXCHANGE, KNOWN, TO_THE_EXCHANGE, booked, ready_to_push, shown};
use standpipe_tests::shop::Shop;

#[test]
fn a_session_killed_in_the_middle_of_an_answer_goes_on_at_the_same_question() {
    let shop = Shop::open();
    let (_, bay) = booked(&shop, KNOWN);
    let mut killed = Terminal::next(&bay, 80);
    killed.answer(&TO_THE_EXCHANGE[..7]).wait("Clouding").press("2").wait("Smell");
    killed.kill();
    let mut terminal = Terminal::next(&bay, 80);
    // The sample was not complete: it is asked again from its first field, and nothing before it is.
    terminal.answer(&TO_THE_EXCHANGE[6..]);
    let all = terminal.wait("Yes, go-ahead for exchange.").press("q").end().1;
    assert!(!all.contains("Last 8 characters") && all.contains("Fluid colour"), "{all}");
    let story = shown(&bay);
    assert_eq!(story.matches("Sample before the service: brown").count(), 1, "{story}");
}

#[test]
fn a_safety_step_is_never_skipped() {
    let shop = Shop::open();
    let (_, bay) = booked(&shop, KNOWN);
    let mut terminal = Terminal::next(&bay, 80);
    terminal.answer(&TO_THE_EXCHANGE[..5]);
    terminal.answer(&[("Lift locked", "s"), ("it is never skipped", "\n"), ("Enter does not", "w")]);
    terminal.wait("This step is never skipped.").press("q");
    assert_eq!(terminal.end().0, Some(0));
    // Saying so by flags hides it no better.
    bay.say("add skipped --step lift-locked --reason not-possible").fine();
    let mut again = Terminal::next(&bay, 80);
    again.wait("Lift locked, arms on the maker’s points?").press("q");
    assert_eq!(again.end().0, Some(0));
    assert!(bay.say("may exchange").ended(1).out.contains("Lock the lift and confirm it."));
}

#[test]
fn codes_are_asked_only_when_some_were_read() {
    let shop = Shop::open();
    let (_, bay) = booked(&shop, KNOWN);
    let mut terminal = Terminal::next(&bay, 80);
    terminal.answer(&TO_THE_EXCHANGE[..2]);
    terminal.answer(&[("What is stored?", "2"), ("The codes, with commas between:", "P0420,P0700\n")]);
    // Back to the entry before, and answered again: nothing is asked where it could not be read.
    terminal.answer(&[
        ("What do you feel?", "b"),
        ("answer it again", "2"),
        ("What is stored?", "3"),
        ("Why?", "1"),
        ("What do you feel?", "q"),
    ]);
    assert_eq!(terminal.end().0, Some(0));
    let story = shown(&bay);
    assert!(story.contains("Fault codes before the service: not readable."), "{story}");
}

#[test]
fn the_person_is_one_key_and_the_distance_is_asked_where_the_office_did_not_know_it() {
    let shop = Shop::open();
    let (office, bay) = booked(&shop, "");
    bay.say("as B").fine();
    let mut terminal = Terminal::next(&bay, 80);
    terminal.answer(&[
        ("Who works?", "2"),
        ("Distance shown (km):", "118240\n"),
        ("Last 8 characters:", ".w"),
        ("Nothing is proposed here", ".q"),
    ]);
    assert_eq!(terminal.end().0, Some(0));
    let json = office.say("show 1 --output json").fine().json();
    let last = json["story"].as_array().and_then(|story| story.last()).unwrap();
    assert_eq!((last["kind"].as_str(), last["person_code"].as_str()), (Some("arrival"), Some("A")));
    assert_eq!(json["summary"]["plate"], "PH 482 K");
    let record = shown(&office);
    assert!(record.contains("Vehicle PH 482 K arrived: 118 240 km."), "{record}");
}

#[test]
fn enter_takes_a_proposal_but_no_code_that_is_to_be_read() {
    let shop = Shop::open();
    let (_, bay) = booked(&shop, KNOWN);
    let mut terminal = Terminal::next(&bay, 80);
    terminal.answer(&TO_THE_EXCHANGE[..10]);
    terminal
        .answer(&[("Which code do you read on the container?", "\n"), ("press the number of a choice", "1")]);
    // The sister's fluid: kept, told at the gate, and asked again until the right one was fetched.
    terminal.answer(&[("Lot:", "\n"), ("Which code do you read on the container?", "2"), ("Lot:", "\n")]);
    terminal.wait("Which code do you read on the new filter?").press("q");
    assert_eq!(terminal.end().0, Some(0));
    assert!(shown(&bay).contains("Code BR-861 read on the fluid container."));
}

#[test]
fn lines_follow_the_width_and_one_accent_goes_with_no_color() {
    let shop = Shop::open();
    let (_, bay) = booked(&shop, KNOWN);
    ready_to_push(&bay);
    let mut narrow = Terminal::next(&bay, 44);
    narrow.wait("What does the litre display show?").wait("quit").press("q");
    narrow.end();
    for line in narrow.raw.replace('\r', "").lines() {
        let plain = line.replace("\u{1b}[1m", "").replace("\u{1b}[0m", "");
        assert!(plain.chars().count() <= 44, "{line}");
        assert_eq!(
            plain != line,
            line.contains("Exchange: read") || line.contains("fluid that comes"),
            "{line}"
        );
    }
    let mut command = bay.command();
    command.arg("next").env("TERM", "xterm").env("NO_COLOR", "1");
    let mut plain = Terminal::with(command, 80);
    plain.wait("What does the litre display show?").wait("quit").press("q");
    plain.end();
    assert!(!plain.raw.contains('\u{1b}'), "{}", plain.raw);
}

#[test]
fn every_look_is_answered_with_what_it_says_and_so_is_who_begins_again_between_looks() {
    let shop = Shop::open();
    let (_, bay) = booked(&shop, KNOWN);
    ready_to_push(&bay);
    let mut terminal = Terminal::next(&bay, 80);
    terminal.answer(&EXCHANGE[..3]).wait("> What leaves and what enters cannot be watched");
    terminal.wait("> After 3.0 L ").wait("> 9.3 L are left for pushing");
    terminal.answer(&EXCHANGE[3..5]).wait("> After 6.0 L ");
    terminal.wait("Litres pushed in so far (L):").press("q");
    assert_eq!(terminal.end().0, Some(0));
    let mut again = Terminal::next(&bay, 80);
    again.wait("> After 6.0 L ").wait("Litres pushed in so far (L):").press("q");
    assert_eq!(again.end().0, Some(0));
    // By flags the first line stands behind the acknowledgement.
    let added =
        bay.say("add exchange-reading --volume-in 7.0L --volume-out 8.4L --output json").fine().json();
    assert!(added["now"].as_str().unwrap().starts_with("Stop the engine: 1."), "{added}");
    let added = bay.say("add exchange-reading --volume-in 7.1L --volume-out 8.5L").fine().out;
    assert!(added.lines().nth(1).unwrap().starts_with("> Stop the engine"), "{added}");
    let mut again = Terminal::next(&bay, 80);
    again.wait("> Stop the engine").wait("Litres pushed in so far (L):").press("q");
    assert_eq!(again.end().0, Some(0));
}

#[test]
fn a_reading_without_a_go_ahead_is_kept_and_tells_why_there_is_none() {
    let shop = Shop::open();
    let (_, bay) = booked(&shop, KNOWN);
    ready_to_push(&bay);
    let reading = |litres: &str| format!("add exchange-reading --volume-in {litres}L");
    assert!(!bay.say(&reading("1.0")).fine().out.contains("no go-ahead"));
    bay.say("add part-checked --part fluid-container --code Bramble").fine();
    let added = bay.say(&reading("2.0")).fine().out;
    assert!(added.lines().nth(1).unwrap().starts_with("> Wrong fluid is inside: 1.0"), "{added}");
    assert!(added.contains("> no go-ahead for exchange: "), "{added}");
    bay.say("add part-checked --part fluid-container --code Linden").fine();
    let added = bay.say(&reading("3.0")).fine().out;
    assert!(added.contains("a named person decides how it is put right"), "{added}");
    let json = bay.say(&format!("{} --output json", reading("4.0"))).fine().json();
    assert_eq!(json["against"].as_array().unwrap().len(), 1, "{json}");
    let back = bay.say(&reading("2.5")).fine().out;
    assert!(back.contains("> The litre counter went back from 4.0"), "{back}");
    let listed = bay.say("jobs").fine().out;
    assert!(listed.contains("A stop stands. "), "{listed}");
}
