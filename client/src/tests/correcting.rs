//! What stays of an entry that is put right, and what does not.

use super::*;
use crate::cli::Exit;
use crate::tests::commands::Bay;
use crate::tests::fake::Fake;
use standpipe_proto::v1::{Answer, Arrival, drain::Amount};

fn arrived(shop: &Fake) -> (Arrival, Vec<AsTyped>) {
    let entries = shop.shop().entries();
    let id = entries[0].header.clone().unwrap().entry_id;
    let (fact, typed) = says_now(&id, &entries).unwrap();
    let Some(Kind::Arrival(arrival)) = fact.kind else { panic!() };
    (arrival, typed)
}

#[test]
fn what_the_flags_leave_out_stays_with_its_digits_and_is_told() {
    let shop = Fake::start();
    let bay = Bay::joined(&shop);
    bay.say(&["open", "TW 4711", "--odometer", "118240km", "--reason", "shudder", "--high-voltage", "yes"]);
    let right = bay.say(&["correct", "1", "arrival", "--plate", "TW 4712", "--reason", "misread the plate"]);
    assert_eq!(right.exit, Exit::Done, "{}", right.err);
    let told =
        "put right arrival, plate TW 4712, kept: odometer 118240km, reasons shudder, high voltage yes;";
    assert!(right.out.contains(told), "{}", right.out);
    let (arrival, typed) = arrived(&shop);
    assert_eq!((arrival.plate.as_str(), arrival.odometer_kilometres), ("TW 4712", Some(118_240.0)));
    assert_eq!(arrival.high_voltage(), Answer::Yes);
    assert_eq!(typed.iter().map(|typed| typed.text.as_str()).collect::<Vec<_>>(), ["118240km"]);
    // A second correction starts from the first, and an empty text takes back.
    bay.say(&["correct", "1", "arrival", "--odometer", "", "--reason", "was not read"]);
    let (arrival, typed) = arrived(&shop);
    assert_eq!((arrival.plate.as_str(), arrival.odometer_kilometres), ("TW 4712", None));
    assert!(typed.is_empty());
    let nothing = bay.say(&["correct", "1", "arrival", "--reason", "was not read"]);
    assert!(nothing.err.contains("nothing is put right"), "{}", nothing.err);
}

#[test]
fn one_of_several_takes_the_place_of_the_other_also_without_the_server() {
    let shop = Fake::start();
    let bay = Bay::joined(&shop);
    bay.say(&["open", "TW 4711"]);
    bay.say(&["add", "drain", "--place", "pan", "--mass", "3,05kg", "--temperature", "40°C"]);
    drop(shop);
    let right = bay.say(&["correct", "2", "drain", "--volume", "3.6 L", "--reason", "it was a jug"]);
    assert_eq!(right.exit, Exit::Kept, "{}{}", right.out, right.err);
    assert!(right.out.contains("volume 3.6\u{a0}L, kept: place pan, temperature 40°C;"), "{}", right.out);
}

#[test]
fn rows_stay_with_their_digits_and_an_empty_one_takes_all_back() {
    let kind = Words::get().unwrap().kind("fault-codes").unwrap();
    let rows = ["--temperature-share", "70 °C 40%", "--temperature-share", "90°C 60%"];
    let flags = [&["--moment", "before", "--state", "none"], &rows[..]].concat();
    let stated = crate::words::read_fact("fault-codes", &flags).unwrap();
    let right = |change: [&str; 3]| {
        let command = flags::with_flags(clap::Command::new("x"), &kind.message, &CORRECT).unwrap();
        let matches = command.try_get_matches_from(change).unwrap();
        let read = flags::read(&kind.message, &matches, &CORRECT).unwrap();
        let right = put_right(kind, &(stated.fact.clone(), stated.as_typed.clone()), read).unwrap();
        let Some(Kind::FaultCodes(codes)) = right.fact.kind else { panic!() };
        (codes.temperature_shares.len(), right.as_typed.len(), right.understood.last().unwrap().text.clone())
    };
    let kept = "moment before, state none, temperature share 70 °C 40%, 90°C 60%".to_owned();
    assert_eq!(right(["x", "--adaptation-done", "no"]), (2, 2, kept));
    assert_eq!(right(["x", "--temperature-share", ""]), (0, 0, "moment before, state none".to_owned()));
    assert_eq!(right(["x", "--temperature-share", "90°C 100%"]).0, 1);
}

#[test]
fn a_yes_is_taken_back_by_its_no() {
    let kind = Words::get().unwrap().kind("exchange-reading").unwrap();
    let stated = crate::words::read_fact("exchange-reading", &["--volume-in", "12L", "--last"]).unwrap();
    let command = flags::with_flags(clap::Command::new("x"), &kind.message, &CORRECT).unwrap();
    let matches = command.try_get_matches_from(["x", "--no-last"]).unwrap();
    let read = flags::read(&kind.message, &matches, &CORRECT).unwrap();
    let right = put_right(kind, &(stated.fact, stated.as_typed), read).unwrap();
    let Some(Kind::ExchangeReading(reading)) = right.fact.kind else { panic!() };
    assert!(!reading.last && (reading.volume_in_litres - 12.0).abs() < 1e-9);
    assert_eq!(right.understood.last().unwrap().to_string(), "kept: volume in 12L");
}

#[test]
fn an_amount_that_is_replaced_leaves_nothing_of_the_other() {
    let kind = Words::get().unwrap().kind("drain").unwrap();
    let stated = crate::words::read_fact("drain", &["--place", "pan", "--mass", "3,05kg"]).unwrap();
    let command = flags::with_flags(clap::Command::new("x"), &kind.message, &CORRECT).unwrap();
    let matches = command.try_get_matches_from(["x", "--volume", "3.6L"]).unwrap();
    let read = flags::read(&kind.message, &matches, &CORRECT).unwrap();
    let right = put_right(kind, &(stated.fact, stated.as_typed), read).unwrap();
    let Some(Kind::Drain(drain)) = right.fact.kind else { panic!() };
    assert_eq!(drain.amount, Some(Amount::VolumeLitres(3.6)));
    assert_eq!(right.as_typed.len(), 1);
}
