//! Slips of a long day: a wrong end of the VIN, a plate that says something else, a wrong fluid, a scanned code where
//! keys are asked, a unit left out, screws that were used again.

use super::terminal::Terminal;
use super::{EXCHANGE, KNOWN, PAN, TO_THE_EXCHANGE, booked, ready_to_push};
use standpipe_tests::shop::{Home, Shop};

/// Place in the journal of the last entry of a kind.
fn place(bay: &Home, kind: &str) -> i64 {
    let json = bay.say("show 1 --output json").fine().json();
    let story = json["story"].as_array().unwrap();
    story.iter().rfind(|line| line["kind"] == kind).unwrap()["seq"].as_i64().unwrap()
}

#[test]
fn a_contradiction_is_told_at_once_and_until_it_is_put_right() {
    let shop = Shop::open();
    let (_, bay) = booked(&shop, KNOWN);
    let mut terminal = Terminal::next(&bay, 80);
    terminal.answer(&[("Last 8 characters:", "LA042318\n")]);
    terminal.wait("STOP ").wait("in the journal; put it right: o (other step), or standpipe correct");
    terminal.wait("What does the plate on the transmission say?").press("2");
    terminal.wait("STOP ").wait("The plate on the transmission does not agree").press(".q");
    assert_eq!(terminal.end().0, Some(0));
    let vin = format!("correct {} vin-reading --last-eight LA042317", place(&bay, "vin_reading"));
    let kept = bay.say(&format!("{vin} --reason 'read wrongly'")).fine().out;
    assert!(kept.contains("kept: source body plate;"), "{kept}");
    let plate =
        format!("correct {} variant-settled --transmission-plate-agrees yes", place(&bay, "variant_settled"));
    bay.say(&format!("{plate} --reason 'read wrongly'")).fine();
    let mut again = Terminal::next(&bay, 80);
    let all = again.wait("What is stored?").press("q").end().1;
    assert!(!all.contains("STOP"), "{all}");
}

#[test]
fn a_wrong_fluid_is_told_above_every_question_until_the_right_one_is_read() {
    let shop = Shop::open();
    let (_, bay) = booked(&shop, KNOWN);
    let mut terminal = Terminal::next(&bay, 80);
    terminal.answer(&TO_THE_EXCHANGE[..10]);
    terminal.answer(&[("Which code do you read on the container?", "BR-861\n"), ("Lot:", "\n")]);
    terminal.wait("STOP Code BR-861 on the").wait("it rests on place");
    terminal.answer(&[("Which code do you read on the container?", "ln-847\n"), ("Lot:", "\n")]);
    let (_, all) = terminal.wait("Which code do you read on the new filter?").press("q").end();
    let (_, after) = all.rsplit_once("Lot:").unwrap();
    assert!(!after.contains("STOP"), "{after}");
}

#[test]
fn a_scanned_code_commands_nothing_where_keys_are_asked() {
    let shop = Shop::open();
    let (_, bay) = booked(&shop, KNOWN);
    let mut terminal = Terminal::next(&bay, 80);
    terminal.answer(&TO_THE_EXCHANGE[..2]);
    terminal.answer(&[("What is stored?", "LN-847\n"), ("and nothing was chosen", "1")]);
    terminal.answer(&[("What do you feel?", "LN-847\n"), ("and nothing was chosen", "13\n")]);
    terminal.answer(&[("does not go together with another", "1\n"), ("The transmission is", "2")]);
    let (exit, all) = terminal.wait("Lift locked, arms on the maker’s points?").press("q").end();
    assert_eq!(exit, Some(0));
    assert!(!all.contains("put off") && !all.contains("Why is it left out?"), "{all}");
}

#[test]
fn no_unit_is_guessed_and_no_screw_is_new_that_was_not_named() {
    let shop = Shop::open();
    let (_, bay) = booked(&shop, KNOWN);
    ready_to_push(&bay);
    let mut terminal = Terminal::next(&bay, 80);
    terminal.answer(EXCHANGE);
    terminal.wait("Engine off, cooler line closed").press("1");
    terminal.answer(&[("How much ran out (L or kg):", "3,05\n"), ("say L or kg, for example", "3,05k\n")]);
    terminal.answer(&PAN[2..5]);
    terminal.answer(&[("What is fitted new?", "2"), ("New are", "4\n"), ("Screws tightened:", "\n")]);
    terminal.wait("Of these new:").press("\n").wait("nothing is proposed").press("12\n");
    let (exit, all) = terminal.wait("Torque set").press("q").end();
    assert_eq!(exit, Some(0));
    assert!(!all.contains("How were they tightened?"), "{all}");
}
