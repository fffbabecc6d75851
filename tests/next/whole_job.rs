//! A whole normal job through `standpipe next`: at most ninety touches.
//!
//! The job is the invented one of the demo (vehicle PH 482 K, second series). At 61 °C the plug stays closed, since the
//! gate says no; a look all the same is in `rules.rs`.

use super::terminal::Terminal;
use super::{EXCHANGE, KNOWN, LEVEL, PAN, TO_THE_END, TO_THE_EXCHANGE, booked, touches, waiting};
use standpipe_tests::shop::{Home, Shop};

/// Touches of a normal job at most (practice of the trade: nobody types more in gloves).
const TOUCHES_MAX: usize = 90;

const GATES: [&str; 7] = ["exchange", "pan", "refill", "start engine", "level", "road test", "close"];

#[test]
fn a_whole_normal_job_takes_at_most_ninety_touches_and_every_gate_says_yes() {
    let shop = Shop::open();
    let (office, bay) = booked(&shop, KNOWN);
    let mut terminal = Terminal::next(&bay, 80);
    let parts = [TO_THE_EXCHANGE, EXCHANGE, PAN, LEVEL, TO_THE_END];
    for part in parts {
        terminal.answer(part);
    }
    terminal.wait("nothing is left to ask");
    let (touched, asked) = (terminal.touches, terminal.questions);
    let (exit, shown) = terminal.end();
    println!("a whole normal job: {touched} touches, {asked} questions\n{}", terminal.raw);
    assert_eq!(exit, Some(0), "{shown}");
    assert_eq!((touched, asked), touches(&parts));
    assert!(touched <= TOUCHES_MAX, "{touched} touches");
    for gate in GATES {
        assert!(shown.contains(&format!("Yes, go-ahead for {gate}.")), "no yes for {gate}: {shown}");
    }
    closed(&office);
    shop.close();
}

fn closed(office: &Home) {
    let json = office.say("show 1 --output json").fine().json();
    assert_eq!(json["summary"]["closed"], true, "{json}");
    assert_eq!(waiting(&json), 0, "{json}");
    let shown = office.say("show 1").fine().out;
    for words in ["61 °C", "43 °C", "LN-847", "SP-68", "0.12", "L-2209"] {
        assert!(shown.replace('\u{a0}', " ").contains(words), "{words}: {shown}");
    }
    let file = office.path.join("record.pdf");
    office.say(&format!("record 1 -o '{}'", file.display())).fine();
    assert!(std::fs::read(&file).unwrap().starts_with(b"%PDF-1.7"));
}
