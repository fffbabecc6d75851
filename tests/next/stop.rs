//! A job that is stopped: from any question, with why and what the customer says, and its own short record.

use super::terminal::Terminal;
use super::{KNOWN, booked, shown, waiting};
use standpipe_tests::shop::Shop;

#[test]
fn a_job_is_stopped_in_the_middle_and_closed_with_no_exchange_done() {
    let shop = Shop::open();
    let (office, bay) = booked(&shop, KNOWN);
    let mut terminal = Terminal::next(&bay, 80);
    terminal.answer(&[("Last 8 characters:", "LA042317\n"), ("What does the plate", "x")]);
    // Enter goes on, and nothing was kept.
    terminal.answer(&[("Stop the job. Why?", "\n"), ("What does the plate", "x")]);
    terminal.answer(&[
        ("Stop the job. Why?", "2"),
        ("What does the customer say?", "2"),
        ("The job ends here, with no exchange done.", "1"),
    ]);
    terminal.wait("nothing is left to ask");
    assert_eq!(terminal.end().0, Some(0));
    let json = office.say("show 1 --output json").fine().json();
    assert_eq!((json["summary"]["closed"].as_bool(), waiting(&json)), (Some(true), 0));
    let shown = shown(&office);
    for words in ["look inside first", "Customer agrees to", "no exchange done"] {
        assert!(shown.contains(words), "{words}: {shown}");
    }
    let file = office.path.join("stopped.pdf");
    office.say(&format!("record 1 -o '{}'", file.display())).fine();
    assert!(std::fs::read(&file).unwrap().starts_with(b"%PDF-1.7"));
}
