//! Without the server: the station asks on from the last answer, without go-aheads.

use super::terminal::Terminal;
use super::{KNOWN, booked, ready_to_push, shown};
use standpipe_tests::shop::Shop;

#[test]
fn looks_with_tubes_and_the_end_of_the_exchange_are_asked_without_the_server() {
    let shop = Shop::open();
    let (_, bay) = booked(&shop, KNOWN);
    ready_to_push(&bay);
    let mut first = Terminal::next(&bay, 80);
    first.wait("What does the litre display show?").press("q");
    assert_eq!(first.end().0, Some(0));
    shop.close();
    let mut terminal = Terminal::next(&bay, 80);
    terminal.wait("offline:").wait("No go-ahead for exchange is known");
    terminal.answer(&[
        ("What does the litre display show?", "1"),
        ("What does the litre display show?", "2"),
        ("Litres pushed in so far (L):", "6\n"),
        ("Which comparison tube looks most like it?", "3"),
        ("Was that the end of the exchange?", "1"),
        ("What does the litre display show?", "2"),
        ("Litres pushed in so far (L):", "12\n"),
        ("Which comparison tube looks most like it?", "\n"),
        ("Was that the end of the exchange?", "2"),
        ("Litres that came out (L):", "11.9\n"),
        ("Engine off, cooler line closed with clip and cap?", "q"),
    ]);
    let (exit, all) = terminal.end();
    assert_eq!(exit, Some(0));
    assert!(!all.contains("Yes, go-ahead"), "{all}");
    assert_eq!(bay.unsent_files().len(), 3, "three looks wait");
    shop.serve();
    shop.join(&bay);
    bay.say("send").fine();
    let shown = shown(&bay);
    assert!(shown.contains("6 L pushed in: nearest comparison tube 50 of 100 new."), "{shown}");
    assert!(shown.contains("12 L pushed in: 11.9 L came out, end of the exchange."), "{shown}");
}
