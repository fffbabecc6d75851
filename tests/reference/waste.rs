//! The register of waste: sums by month, what is held, containers, and codes that are not for gearbox oil.

use super::{Table, number, text};
use jiff::ToSpan as _;
use jiff::civil::Date;
use serde_json::Value;
use standpipe_engine::site::exact::Exact;
use standpipe_engine::site::waste::{Collection, Line, Register};
use standpipe_engine::text::{Language, render};

fn day(row: &Value) -> Date {
    text(row, "date").parse().expect("a day")
}

fn rows<'a>(case: &'a Value, key: &str) -> &'a [Value] {
    case[key].as_array().map(Vec::as_slice).unwrap_or_default()
}

fn register(case: &Value) -> Register {
    let line = |(seq, row): (u64, &Value)| Line {
        date: day(row),
        seq,
        job_id: None,
        job: "HL-26-0042".to_owned(),
        code: text(row, "code").to_owned(),
        what: String::new(),
        litres: None,
        pieces: None,
        kilograms: Some(Exact::new(number(row, "kg"))),
        density: None,
        container: row["container"].as_str().unwrap_or_default().to_owned(),
        person: "A".to_owned(),
    };
    let collection = |(seq, row): (u64, &Value)| Collection {
        date: day(row),
        seq,
        code: text(row, "code").to_owned(),
        kilograms: Exact::new(number(row, "kg")),
        carrier: "Quay Carriers".to_owned(),
        document: "W-7751".to_owned(),
        destination: String::new(),
        container: String::new(),
        person: "B".to_owned(),
    };
    let lines = (1..).zip(rows(case, "entries")).map(line).collect();
    Register::new(lines, (100..).zip(rows(case, "collections")).map(collection).collect())
}

/// Kilograms by code, without those that are nothing.
fn compare(case: &Value, expected: &Value, found: impl Fn(&str) -> Exact, codes: &[&str]) {
    let expected = expected.as_object().expect("kilograms by code");
    for code in codes {
        let wanted = expected.get(*code).map_or(0.0, |kilograms| kilograms.as_f64().expect("kilograms"));
        // Exactly: sums of tenths are tenths.
        assert_eq!(found(code).value(), wanted, "{} {code}", case["id"]);
    }
    assert!(expected.keys().all(|code| codes.contains(&code.as_str())), "{}: a code is missing", case["id"]);
}

#[test]
fn every_register_of_the_table_comes_out_as_printed() {
    let table = Table::read("shop_waste_register");
    let end: Date = "2027-01-01".parse().expect("a day");
    let mut sums = 0;
    for case in table.cases() {
        let register = register(case);
        let codes = register.codes(end);
        for (month, expected) in case["monthly"].as_object().into_iter().flatten() {
            let first: Date = format!("{month}-01").parse().expect("a month");
            let days = first..first.checked_add(1.month()).expect("a month");
            compare(case, expected, |code| register.generated(code, &days), &codes);
            sums += 1;
        }
        if case["held_after"].is_object() {
            compare(case, &case["held_after"], |code| register.held(code, end), &codes);
            sums += 1;
        }
        let warnings = register.warnings(&(Date::MIN..end), true);
        let said: Vec<String> = warnings
            .iter()
            .map(|warning| render(Language::English, warning).expect("a sentence").replace('\u{a0}', " "))
            .collect();
        match case["verdict"].as_str() {
            // 'refused' is a finding here: facts are never refused for being inconvenient.
            Some(verdict) => {
                let wanted = verdict.split_once(": ").expect("a verdict with its reason").1;
                assert_eq!(said.len(), 1, "{}: {said:?}", case["id"]);
                assert!(said[0].contains(wanted), "{}: {said:?} without '{wanted}'", case["id"]);
            }
            None => assert!(said.is_empty(), "{}: {said:?}", case["id"]),
        }
    }
    assert_eq!((table.cases().len(), sums), (4, 3));
}
