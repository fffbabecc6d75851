//! Bad input: one sentence that names field, value and bound, nothing stored anywhere, never a panic.

use standpipe_client::cli::{Console, Exit, Machine, SystemKeys, run};
use standpipe_client::config::Environment;
use standpipe_client::{Deadlines, StationOptions};
use standpipe_tests::shop::{Home, Shop};
use std::ffi::OsString;

/// A command line, its exit code, and what the one sentence must name.
struct Case {
    line: &'static str,
    exit: i32,
    names: &'static [&'static str],
}

const fn case(line: &'static str, exit: i32, names: &'static [&'static str]) -> Case {
    Case { line, exit, names }
}

const CASES: &[Case] = &[
    // Out of range.
    case("add drain --place pan --mass 400kg", 65, &["--mass", "400", "0 to 30 kg"]),
    case("add drain --place pan --mass=-1kg", 65, &["--mass", "-1", "0 to 30 kg"]),
    case("add drain --place pan --volume 30.001L", 65, &["--volume", "30.001", "0 to 30 L"]),
    case("add fill --purpose refill --mass 70lb", 65, &["--mass", "31.7", "0 to 30 kg"]),
    case("add exchange-reading --volume-in 61L", 65, &["--volume-in", "61", "0 to 60 L"]),
    case("add exchange-reading --volume-in 3L --tube 120%", 65, &["--tube", "120", "0 to 100 %"]),
    case(
        "add temperature-reading --place fresh-fluid --temperature 400°C",
        65,
        &["--temperature", "400", "-40 to 180 °C"],
    ),
    case(
        "add temperature-reading --place fresh-fluid --temperature -50°C",
        65,
        &["--temperature", "-50", "-40 to 180 °C"],
    ),
    case(
        "add level-check --overflow drops --temperature 43°C --caught 11L",
        65,
        &["--caught", "11", "0 to 10 L"],
    ),
    case("open 'PH 1' --odometer 3000001km", 65, &["--odometer", "3000001", "0 to 3000000 km"]),
    // No number.
    case("add drain --place pan --mass NaNkg", 64, &["--mass", "'NaNkg'", "kg"]),
    case("add drain --place pan --mass infkg", 64, &["--mass", "'infkg'", "kg"]),
    case("add drain --place pan --mass 1e3kg", 64, &["--mass", "'1e3kg'", "kg"]),
    case("add drain --place pan --mass '1 000 kg'", 64, &["--mass", "'1 000 kg'", "kg"]),
    case("add drain --place pan --mass 3..05kg", 64, &["--mass", "'3..05kg'"]),
    case("add drain --place pan --mass ''", 64, &["--mass", "''"]),
    case("add exchange-reading --volume-in 3L --tube 33.3%", 64, &["--tube", "'33.3%'", "whole number"]),
    case("add exchange-reading --volume-in 3L --tube 99999999999%", 64, &["--tube", "'99999999999%'"]),
    // Unknown words.
    case("add drain --place pan --mass 3kg --colour red", 64, &["'--colour'"]),
    case("add drains --place pan --mass 3kg", 64, &["'drains'"]),
    case("add correction --reason x", 64, &["'correction'"]),
    case("add drain --place pot --mass 3kg", 64, &["'pot'", "--place", "pan, spill, sample"]),
    case(
        "add level-check --temperature 43°C --overflow much",
        64,
        &["'much'", "--overflow", "nothing, drops, stream"],
    ),
    case("open 'PH 1' --reason harsh", 64, &["'harsh'", "--reason", "harsh-change"]),
    case("may go", 64, &["'go'", "exchange, pan, refill, start-engine, level, road-test, close"]),
    case("jobs --output xml", 64, &["'xml'", "text, json, csv"]),
    case("brew", 64, &["'brew'"]),
    // Missing or too much.
    case("add drain --place pan", 64, &["--volume", "--mass"]),
    case("add drain --mass 3kg", 64, &["--place"]),
    case("add drain --place pan --mass 3kg --volume 3L", 64, &["--mass", "--volume"]),
    case(
        "add exchange-reading --volume-in 3L --volume-out 3L --mass-out 3kg",
        65,
        &["--mass-out", "not both"],
    ),
    case("add variant-settled --variant-code A8-II --means looked-up", 65, &["--source", "looked"]),
    case("open ''", 65, &["PLATE", "missing", "1 to 16"]),
    case("open 'PH 482 K PH 482 K'", 65, &["PLATE", "17 characters", "1 to 16"]),
    case("add part-checked --part filter --code 'F8;20'", 65, &["--code", "';'", "letters A to Z"]),
    case(
        "add variant-settled --variant-code X --means looked-up --source y --looked-up-date 2026-02-30",
        65,
        &["--looked-up-date", "2026-02-30", "YYYY-MM-DD"],
    ),
    case("as 'technician A'", 64, &["'technician A'", "1 to 8"]),
    // Unknown jobs and entries.
    case("add drain --place pan --mass 3kg --job HL-26-0099", 65, &["'HL-26-0099'", "not known"]),
    case("use new-9", 65, &["'new-9'", "not known"]),
    case("show '; drop table entry'", 65, &["allowed"]),
    case("correct 999 --withdraw --reason 'not there'", 65, &["'999'"]),
    case("correct 5 drain --place pan --mass 3kg --reason 'wrong kind'", 65, &["arrival", "drain"]),
    case("correct 5 --withdraw", 64, &["--reason", "3 to 400"]),
    case("correct 5 --withdraw --reason no", 65, &["--reason", "2 characters", "3 to 400"]),
    case("correct 5 --reason 'and what now'", 64, &["--withdraw"]),
    case("correct 5 arrival --plate 'QR 1' --withdraw --reason 'both'", 64, &["--withdraw"]),
    // Times.
    case("add drain --place pan --mass 3kg --done 25:00", 64, &["--done", "'25:00'", "10:40"]),
    case("add drain --place pan --mass 3kg --done yesterday", 64, &["--done", "'yesterday'"]),
    // Addresses, codes and tokens.
    case("join 'no address' abc", 64, &["'no address'", "192.168.0.10:50551"]),
    case("join 0.0.0.0:80 abc", 64, &["28 letters and digits", "nothing was sent"]),
    case("join example.org:80 abc", 64, &["28 letters and digits", "nothing was sent"]),
];

/// Everything that a refusal must leave as it was.
fn state(shop: &Shop, bay: &Home) -> (u64, Vec<String>, serde_json::Value) {
    (shop.entries(), bay.unsent_files(), bay.say("unsent --sent --output json").fine().json())
}

#[test]
fn bad_input_gets_one_sentence_that_names_it_and_stores_nothing() {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    let opened = bay.say("open 'PH 482 K' --output json").fine().json();
    // The corrections of the table name the arrival by its place.
    let seq = opened["seq"].to_string();
    let before = state(&shop, &bay);
    for Case { line, exit, names } in CASES {
        let line = line.replace("correct 5 ", &format!("correct {seq} "));
        let sentence = bay.say(&line).refused(*exit);
        for name in *names {
            assert!(sentence.contains(name), "{line}\n{sentence}\nhas no {name}");
        }
        assert!(!sentence.contains("fact.") && !sentence.contains("header."), "{line}: {sentence}");
    }
    assert_eq!(state(&shop, &bay), before);
    println!("{} bad inputs refused", CASES.len());
}

/// Direction marks and control characters could make a text read as another one.
#[test]
fn marks_that_steer_a_text_are_refused_by_their_number() {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    let seq = bay.say("open 'PH 482 K' --output json").fine().json()["seq"].to_string();
    let before = state(&shop, &bay);
    for (mark, number) in [
        ('\u{202e}', "U+202E"),
        ('\u{2066}', "U+2066"),
        ('\u{200f}', "U+200F"),
        ('\u{1b}', "U+001B"),
        ('\n', "U+000A"),
        ('\t', "U+0009"),
        ('\u{7f}', "U+007F"),
        ('\u{85}', "U+0085"),
        ('\u{2028}', "U+2028"),
    ] {
        let sentence = bay.say(&format!("open 'PH{mark}482'")).refused(65);
        assert!(sentence.contains("PLATE") && sentence.contains(number), "{sentence}");
    }
    // In every other place for words as well.
    for (line, field) in [
        ("open 'PH 1' --maker 'Tarn\u{202e}wick'", "--maker"),
        ("open 'PH 1' --model 'Ma\u{202e}rl'", "--model"),
        ("add variant-settled --variant-code X --means looked-up --source 'parts\u{202e}data'", "--source"),
        (&format!("correct {seq} --withdraw --reason 'mis\u{202e}take'"), "--reason"),
    ] {
        let sentence = bay.say(line).refused(65);
        assert!(sentence.contains(field) && sentence.contains("U+202E"), "{sentence}");
    }
    assert_eq!(state(&shop, &bay), before);
}

/// As long as the operating system lets an argument be, by the program.
#[test]
fn a_giant_text_is_refused_by_its_length() {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    bay.say("open 'PH 482 K'").fine();
    let before = state(&shop, &bay);
    let giant = "x".repeat(120_000);
    for (line, exit, parts) in [
        (format!("open '{giant}'"), 65, ["PLATE", "120000 characters"]),
        (format!("open PH --model '{giant}'"), 65, ["--model", "120000 characters"]),
        (format!("add part-checked --part filter --code {giant}"), 65, ["--code", "120000 characters"]),
        (format!("add drain --place pan --mass {giant}"), 64, ["--mass", "…"]),
        (format!("add vin-reading --source papers --vin {giant}"), 65, ["--vin", "x"]),
        (
            format!("add vin-reading --source papers --vin {}", "A".repeat(120_000)),
            65,
            ["--vin", "120000 characters"],
        ),
        (format!("show {giant}"), 65, ["120000 characters", "40"]),
    ] {
        let said = bay.say(&line);
        let sentence = said.refused(exit);
        for part in parts {
            assert!(sentence.to_uppercase().contains(&part.to_uppercase()), "{part} is not in {sentence}");
        }
    }
    // A token is read from the input, which may be as long as it likes.
    let fed = bay.fed(&format!("join {} -", shop.address()), &"x".repeat(1_000_000));
    assert!([64, 77].contains(&fed.exit), "{fed:?}");
    fed.one_line();
    assert_eq!(state(&shop, &bay), before);
}

/// A million bytes are more than an argument can carry, so the library is called as the program calls it.
#[test]
fn a_text_of_a_million_bytes_is_refused_by_its_length() {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    bay.say("open 'PH 482 K'").fine();
    let before = state(&shop, &bay);
    let machine = Machine {
        environment: Environment { home: Some(bay.path.clone()), ..Environment::default() },
        zone: jiff::tz::TimeZone::UTC,
        options: StationOptions {
            deadlines: Deadlines::default(),
            ..StationOptions::of_this_machine().unwrap()
        },
    };
    for arguments in [
        vec!["open".to_owned(), "x".repeat(1_000_000)],
        vec!["open".to_owned(), "PH".to_owned(), "--maker".to_owned(), "\u{1f697}".repeat(250_000)],
        vec![
            "add".to_owned(),
            "part-checked".to_owned(),
            "--part=filter".to_owned(),
            format!("--code={}", "7".repeat(1_000_000)),
        ],
    ] {
        let words = std::iter::once("standpipe".to_owned()).chain(arguments).map(OsString::from);
        let (mut out, mut err) = (Vec::new(), Vec::new());
        let exit = run(
            words.collect(),
            &machine,
            &mut Console { out: &mut out, err: &mut err, keys: &mut SystemKeys::default() },
        );
        let sentence = String::from_utf8(err).unwrap();
        assert_eq!(exit, Exit::Refused, "{sentence}");
        assert!(out.is_empty() && sentence.lines().count() == 1 && sentence.len() < 400, "{sentence}");
        assert!(sentence.contains("000 characters"), "{sentence}");
    }
    assert_eq!(state(&shop, &bay), before);
}
