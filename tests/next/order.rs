//! The work in another order than usual: pan first, no exchange at all, too hot for now.

use super::terminal::Terminal;
use super::{EXCHANGE, KNOWN, PAN, booked, ready_to_push, shown};
use standpipe_tests::shop::Shop;

#[test]
fn the_pan_is_taken_off_first_and_the_exchange_gets_its_yes_when_the_pan_is_back() {
    let shop = Shop::open();
    let (_, bay) = booked(&shop, KNOWN);
    ready_to_push(&bay);
    let mut terminal = Terminal::next(&bay, 80);
    terminal.wait("What does the litre display show?").press("l");
    terminal.answer(&[("Engine off, cooler line closed with clip and cap?", "1")]);
    terminal.wait("Yes, go-ahead for pan.").answer(&PAN[1..3]);
    terminal.wait("Which standpipe do you see?");
    // Pushing with the pan off would run the pump dry.
    terminal.choose("o", "Exchange: read the litre display");
    terminal
        .wait(
            "No go-ahead for exchange: Hook up the equipment and test the direction of flow. Close the pan.",
        )
        .wait("What does the litre display show?")
        .press("l");
    terminal.answer(&PAN[3..9]);
    terminal.answer(&[("Pan closed, tools and people clear of the vehicle?", "1")]);
    // The line was closed meanwhile: who connects the equipment again tests the direction again.
    terminal.answer(&[("Where is it connected, and which way does the fluid flow?", "1")]);
    terminal.wait("Engine off, cooler line closed").choose("o", "Exchange: read the litre display");
    terminal.wait("Yes, go-ahead for exchange.");
    terminal.answer(&EXCHANGE[..7]).wait("Litres pushed in so far (L):").press("q");
    assert_eq!(terminal.end().0, Some(0));
    let shown = shown(&bay);
    assert!(shown.contains("9 L pushed in: nearest comparison tube 75 of 100 new."), "{shown}");
}

#[test]
fn without_an_exchange_the_pan_gets_its_yes_and_the_record_says_what_was_left_out() {
    let shop = Shop::open();
    let (office, bay) = booked(&shop, KNOWN);
    ready_to_push(&bay);
    let mut terminal = Terminal::next(&bay, 80);
    terminal.wait("What does the litre display show?").press("s").wait("Why is it left out?").press("2");
    terminal.answer(&PAN[..3]);
    terminal.wait("Which standpipe do you see?").press("s").wait("Why is it left out?").press("1");
    terminal.wait("Which code do you read on the old filter?").press("q");
    let (_, all) = terminal.end();
    assert!(all.contains("Yes, go-ahead for pan."), "{all}");
    let shown = shown(&office);
    assert!(
        shown.contains("Left out: exchange,") && shown.contains("Left out: standpipe in the pan,"),
        "{shown}"
    );
    assert!(!shown.contains("pan-seen") && !shown.contains("pan seen"), "{shown}");
}

#[test]
fn too_hot_leads_to_other_work_and_back_to_the_temperature() {
    let shop = Shop::open();
    let (office, bay) = booked(&shop, KNOWN);
    ready_to_push(&bay);
    for line in [
        "exchange-reading --volume-in 12.0L --volume-out 11.9L --last",
        "condition-confirmed --conditions engine-off,line-closed",
        "caution-read --group pan-and-hot",
        "drain --place pan --mass 3.05kg --debris fine-grey-paste",
        "part-checked --part standpipe --code SP-68 --read-by eye",
        "part-checked --part old-filter --code F8-20 --read-by eye",
        "part-fitted --fitted filter,pan-seal",
        "tightening --group pan --screw-count 13 --new-screw-count 13 --torque 9N·m --order-kept yes",
        "fill --purpose refill --mass 3.07kg --fluid-code LN-847",
        "condition-confirmed --conditions pan-closed,tools-and-people-clear",
        "caution-read --group gears-and-level",
        "gear-cycle --driver-person-code A --nobody-under-vehicle yes",
    ] {
        bay.say(&format!("add {line}")).fine();
    }
    let mut terminal = Terminal::next(&bay, 80);
    terminal.answer(&[("Temperature of the fluid (°C):", "61\n"), ("Leave the plug closed", "l")]);
    // Neither the look at the level nor what comes after it is asked now.
    terminal.answer(&[("What is stored?", "1"), ("How much in all (L):", "l")]);
    terminal.wait("what was put off is asked again").wait("Leave the plug closed");
    // A look all the same is kept, and does not count.
    terminal.choose("o", "open the level plug");
    terminal.wait("No go-ahead for level: The fluid has 61 °C");
    terminal.answer(&[
        ("At the overflow you see", "3"),
        ("Engine idling, vehicle level, selector in P?", "1"),
        ("Fluid caught, if measured (L):", "\n"),
    ]);
    // Nothing inside the window comes out of it: added, and looked at again.
    terminal.answer(&[
        ("61 °C is too hot", "44\n"),
        ("At the overflow you see", "1"),
        ("Engine idling, vehicle level, selector in P?", "1"),
        ("Fluid caught, if measured (L):", "\n"),
        ("How much was added (L or kg):", "0.3l\n"),
        ("From which container?", "1"),
        ("At the overflow you see", "2"),
        ("Engine idling, vehicle level, selector in P?", "1"),
        ("Fluid caught, if measured (L):", "\n"),
        ("How was it closed?", "1"),
    ]);
    terminal.wait("Wipe everything dry").press("q");
    assert_eq!(terminal.end().0, Some(0));
    let shown = shown(&office);
    assert!(shown.contains("0.3 L of LN-847 added at the level check"), "{shown}");
    assert!(shown.contains("61 °C") && shown.contains("too hot"), "{shown}");
}
