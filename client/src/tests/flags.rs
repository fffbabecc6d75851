//! Flags of every kind that there is, and the number grammar from the text to the fact.

use super::*;
use crate::words::descriptor::KindWords;
use crate::words::{ReadFact, read_fact};
use prost_reflect::Value;
use prost_types::Timestamp;
use standpipe_proto::check;
use standpipe_proto::limits::Form;
use standpipe_proto::v1::{
    self, Entry, Fact, Header, Overflow, Selector, drain, fact::Kind as Fk, header::Subject,
};
use standpipe_proto::words::reading::grouped;

fn kinds() -> impl Iterator<Item = &'static KindWords> {
    Words::get()
        .unwrap()
        .kinds()
        .filter(|kind| !["correction", "record_issued", "signature"].contains(&kind.name()))
}

fn entry(kind: &KindWords, read: ReadFact) -> Entry {
    let id = "01890a5d-ac96-774b-bcce-b302099a8057".to_owned();
    let site = || Subject::SiteId("harbour-lane".into());
    let header = Header {
        entry_id: id.clone(),
        subject: Some(if kind.is_of_site() { site() } else { Subject::JobId(id) }),
        station_id: "bay-1".into(),
        station_epoch: "0".repeat(32),
        station_number: 1,
        person_code: "A".into(),
        station_time: Some(Timestamp { seconds: 1_770_000_000, nanos: 0 }),
        boot_id: "0".repeat(32),
        as_typed: read.as_typed,
        ..Header::default()
    };
    Entry { header: Some(header), fact: Some(read.fact) }
}

/// Splits an example as a shell would, as far as the examples need it.
fn split(example: &str) -> Vec<String> {
    let mut words = vec![String::new()];
    let mut quoted = false;
    for letter in example.chars() {
        match letter {
            '\'' => quoted = !quoted,
            ' ' if !quoted => words.push(String::new()),
            other => words.last_mut().unwrap().push(other),
        }
    }
    words
}

fn fact(kind: &str, flags: &[&str]) -> Fact {
    read_fact(kind, flags).unwrap().fact
}

fn sentence(kind: &str, flags: &[&str]) -> String {
    read_fact(kind, flags).unwrap_err().to_string()
}

#[test]
fn every_kind_has_flags_and_its_example_makes_a_fact_inside_its_bounds() {
    let mut count = 0;
    for kind in kinds() {
        let example = example(&kind.message, &FLAGS).unwrap();
        let words: Vec<_> = split(&example).into_iter().filter(|word| !word.is_empty()).collect();
        let read = read_fact(kind.name(), &words.iter().map(String::as_str).collect::<Vec<_>>());
        let read = read.unwrap_or_else(|error| panic!("{} {example}: {error}", kind.name()));
        assert_eq!(check::entry(&entry(kind, read)), Ok(()), "{} {example}", kind.name());
        count += 1;
    }
    assert!(count >= 11, "{count}");
}

#[test]
fn a_field_without_a_bound_or_of_an_unknown_type_has_no_flag() {
    assert!(bound("Drain", "nothing").is_err());
    // A header has fields of types that no fact has.
    let message = prost_reflect::DescriptorPool::decode(standpipe_proto::DESCRIPTOR_SET).unwrap();
    let header = message.get_message_by_name("standpipe.v1.Header").unwrap();
    let sentence = with_flags(Command::new("x"), &header, &FLAGS).unwrap_err().to_string();
    assert!(sentence.contains("Header."), "{sentence}");
}

#[test]
fn no_flag_has_the_name_of_one_that_every_command_has_or_of_another_field() {
    for kind in kinds() {
        let mut seen = vec!["job", "done", "output", "home", "withdraw", "help", "version", "file"]
            .into_iter()
            .map(str::to_owned)
            .collect::<Vec<_>>();
        for field in kind.message.fields() {
            let in_one_of = field.containing_oneof().is_some_and(|oneof| !oneof.is_synthetic());
            let flag = flag_name(&field, &FLAGS);
            assert!(
                !seen.contains(&flag),
                "{}: --{flag} stands twice{}",
                kind.name(),
                if in_one_of { "" } else { "!" }
            );
            seen.push(flag);
        }
    }
}

#[test]
fn the_help_of_every_number_and_text_says_its_range_from_the_table_of_bounds() {
    for kind in kinds() {
        for field in kind.message.fields() {
            let bound = bound(kind.message.name(), field.name()).unwrap();
            let help = arg(&field, &FLAGS).unwrap().get_help().unwrap().to_string();
            let wanted = match bound.span {
                Span::Number { least, greatest, .. } => {
                    format!("{} to {}", grouped(least), grouped(greatest))
                }
                Span::Whole { least, greatest, .. } => format!("{least} to {greatest}"),
                Span::Text { form: Form::Vin | Form::Day | Form::Colour, .. } => continue,
                Span::Text { greatest, .. } => format!("{greatest} characters"),
                _ => continue,
            };
            assert!(help.contains(&wanted), "{}.{}: '{help}' lacks '{wanted}'", kind.name(), field.name());
        }
    }
}

#[test]
fn numbers_keep_their_digits_and_unit_as_typed() {
    let read =
        read_fact("drain", &["--place", "pan", "--mass", " 3,05 kg ", "--temperature", "\u{2212}3.5 °C"])
            .unwrap();
    let Some(Fk::Drain(drain)) = &read.fact.kind else { panic!() };
    assert_eq!(drain.amount, Some(drain::Amount::MassKilograms(3.05)));
    assert_eq!(drain.temperature_celsius, Some(-3.5));
    let typed: Vec<_> =
        read.as_typed.iter().map(|typed| (typed.field.as_str(), typed.text.as_str())).collect();
    assert_eq!(typed, [("mass_kilograms", "3,05 kg"), ("temperature_celsius", "\u{2212}3.5 °C")]);
    let understood: Vec<_> = read.understood.iter().map(ToString::to_string).collect();
    assert_eq!(understood, ["place pan", "mass 3.05\u{a0}kg", "temperature \u{2212}3.5\u{a0}°C"]);
}

#[test]
fn other_units_are_turned_into_the_kept_one_and_told() {
    // 110 °F = (110 − 32) × 5/9 °C; NIST SP 811, appendix B.9.
    let read =
        read_fact("temperature-reading", &["--temperature", "110 °F", "--place", "transmission-fluid"])
            .unwrap();
    let Some(Fk::TemperatureReading(reading)) = &read.fact.kind else { panic!() };
    assert!((reading.temperature_celsius - 43.333_333).abs() < 1e-5);
    assert_eq!(read.understood[0].text, "110\u{a0}°F = 43.33 °C");
    // A sign of less than zero needs no quotes or equals sign.
    assert!(read_fact("temperature-reading", &["--temperature", "-3.5°C", "--place", "fresh-fluid"]).is_ok());
}

#[test]
fn a_missing_or_wrong_unit_names_the_flag_and_the_units() {
    assert_eq!(
        sentence("drain", &["--place", "pan", "--volume", "3.6"]),
        "--volume: '3.6' has no unit; L, mL or US qt is needed"
    );
    assert!(
        sentence("drain", &["--place", "pan", "--volume", "3.6 kg"])
            .starts_with("--volume: 'kg' in '3.6 kg'")
    );
    assert!(sentence("drain", &["--place", "pan", "--volume", "NaN L"]).contains("is no number"));
    assert!(
        sentence("exchange-reading", &["--volume-in", "4L", "--tube", "12.5%"]).contains("no whole number")
    );
}

#[test]
fn choices_are_words_and_one_of_several_fields_excludes_the_others() {
    let flags =
        ["--temperature", "43 °C", "--overflow", "drops", "--selector", "park", "--engine-idling", "yes"];
    let Some(Fk::LevelCheck(check)) = fact("level-check", &flags).kind else { panic!() };
    assert_eq!((check.overflow(), check.selector()), (Overflow::Drops, Selector::Park));
    assert!(
        sentence("level-check", &["--temperature", "43°C", "--overflow", "much"])
            .contains("nothing, drops, stream")
    );
    let both = sentence("drain", &["--place", "pan", "--volume", "3L", "--mass", "3kg"]);
    assert!(both.contains("cannot be used with"), "{both}");
    let neither = sentence("drain", &["--place", "pan"]);
    assert!(neither.contains("--volume") && neither.contains("--mass"), "{neither}");
    assert!(sentence("drain", &["--volume", "3L"]).contains("--place"));
    assert!(
        sentence("drain", &["--place", "pan", "--volume", "3L", "--colour", "brown"]).contains("--colour")
    );
    assert!(sentence("closing", &["--outcome", "unspecified"]).contains("done, no-exchange-done"));
}

#[test]
fn yes_or_no_is_a_flag_by_itself() {
    let Some(Fk::ExchangeReading(reading)) =
        fact("exchange-reading", &["--volume-in", "12.0L", "--tube", "75%", "--last"]).kind
    else {
        panic!()
    };
    assert!(reading.last && reading.tube_percent == Some(75));
    let Some(Fk::ExchangeReading(reading)) = fact("exchange-reading", &["--volume-in", "4L"]).kind else {
        panic!()
    };
    assert!(!reading.last && reading.tube_percent.is_none());
}

#[test]
fn a_vin_is_cleaned_kept_as_typed_and_never_repaired() {
    let read = read_fact("vin-reading", &["--vin", "1m8 gdm9a-xkp042788", "--source", "body-plate"]).unwrap();
    let Some(Fk::VinReading(reading)) = &read.fact.kind else { panic!() };
    assert_eq!(reading.reading, Some(v1::vin_reading::Reading::Vin("1M8GDM9AXKP042788".into())));
    assert_eq!(read.as_typed[0].text, "1m8 gdm9a-xkp042788");
    let refused = sentence("vin-reading", &["--vin", "1M8GDM9AXKPO42788", "--source", "papers"]);
    assert!(refused.starts_with("--vin: ") && refused.ends_with("write 1M8GDM9AXKP042788"), "{refused}");
    assert!(
        sentence("vin-reading", &["--last-eight", "KP04278", "--source", "papers"])
            .contains("has 7 characters")
    );
}

#[test]
fn an_unknown_kind_names_those_there_are() {
    assert!(sentence("oil-change", &[]).contains("exchange-reading, drain, fill"));
}

#[test]
fn several_reasons_stand_in_one_flag_or_in_many() {
    for flags in [
        &["--plate", "TW 1", "--reasons", "noise,slip"][..],
        &["--plate", "TW 1", "--reasons", "noise", "--reasons", "slip"],
    ] {
        let Some(Fk::Arrival(arrival)) = fact("arrival", flags).kind else { panic!() };
        assert_eq!(arrival.reasons, [v1::VisitReason::Noise as i32, v1::VisitReason::Slip as i32]);
    }
}

#[test]
fn lists_of_words_and_of_codes_stand_behind_commas() {
    let flags = ["--moment", "before", "--ticks", "harsh,flare", "--warmth", "cold"];
    let Some(Fk::RoadTest(drive)) = fact("road-test", &flags).kind else { panic!() };
    assert_eq!(drive.ticks, [v1::DriveTick::Harsh as i32, v1::DriveTick::Flare as i32]);
    let Some(Fk::ConditionConfirmed(confirmed)) =
        fact("condition-confirmed", &["--conditions", "engine-off,line-closed"]).kind
    else {
        panic!()
    };
    assert_eq!(confirmed.conditions, [v1::Condition::EngineOff as i32, v1::Condition::LineClosed as i32]);
    let Some(Fk::FaultCodes(read)) =
        fact("fault-codes", &["--moment", "before", "--state", "read", "--codes", "P0741,P0700"]).kind
    else {
        panic!()
    };
    assert_eq!(read.codes, ["P0741", "P0700"]);
}

#[test]
fn a_row_of_numbers_is_one_text_and_a_flag_each() {
    let flags = ["--moment", "before", "--state", "none", "--temperature-share", "89,5 °C 50 %"];
    let flags = [&flags[..], &["--temperature-share", " 230°F 50%", "--temperature-share=-5°C 0"]].concat();
    let read = read_fact("fault-codes", &flags).unwrap();
    let Some(Fk::FaultCodes(codes)) = &read.fact.kind else { panic!() };
    let rows: Vec<_> = codes.temperature_shares.iter().map(|row| (row.celsius, row.percent)).collect();
    // 230 °F = (230 − 32) × 5/9 °C = 110 °C; NIST SP 811, appendix B.9.
    assert!(
        rows[0] == (89.5, 50.0) && (rows[1].0 - 110.0).abs() < 1e-9 && rows[2] == (-5.0, 0.0),
        "{rows:?}"
    );
    let typed: Vec<_> =
        read.as_typed.iter().map(|typed| (typed.field.as_str(), typed.text.as_str())).collect();
    assert_eq!(typed, ["89,5 °C 50 %", "230°F 50%", "-5°C 0"].map(|text| ("temperature_shares", text)));
    assert_eq!(read.understood[2].to_string(), "temperature share 89.5\u{a0}°C 50\u{a0}%");
    let kind = Words::get().unwrap().kind("fault-codes").unwrap();
    assert_eq!(check::entry(&entry(kind, read)), Ok(()));

    let refused = |text: &str| {
        sentence("fault-codes", &["--moment", "before", "--state", "none", "--temperature-share", text])
    };
    for text in ["90°C", "90 50", "70°C 30%, 90°C 70%", "50"] {
        let told = refused(text);
        assert!(
            told.starts_with(&format!(
                "--temperature-share: '{text}' is no temperature and percent; write one row"
            )) && told.contains("for example '43°C 75%'"),
            "{told}"
        );
    }
    assert_eq!(
        refused("90 km 50%"),
        "--temperature-share: 'km' in '90 km' is no unit for this; °C or °F is needed"
    );
    let kind = Words::get().unwrap().kind("fault-codes").unwrap();
    let field = kind.message.get_field_by_name("temperature_shares").unwrap();
    let help = arg(&field, &FLAGS).unwrap().get_help().unwrap().to_string();
    for part in
        ["for example 90°C 50%", "at most 12 rows", "-40 to 180 °C, written in °C or °F", "0 to 100 %"]
    {
        assert!(help.contains(part), "'{part}' is missing in {help}");
    }
    let value = Value::List(vec![Reading::of(&field).unwrap().read("", "90°C 50%").unwrap().0]);
    assert_eq!(told(&field, &value, None, &FLAGS).unwrap(), "temperature share 90\u{a0}°C 50\u{a0}%");
}

#[test]
fn a_count_is_a_whole_number_without_a_unit() {
    let flags = ["--group", "pan", "--screw-count", "13", "--new-screw-count", "0", "--torque", "10N·m"];
    let Some(Fk::Tightening(tightening)) = fact("tightening", &flags).kind else { panic!() };
    assert_eq!((tightening.screw_count, tightening.new_screw_count), (13, 0));
    let read = read_fact("waste", &["--kind", "filter", "--piece-count", "1"]).unwrap();
    let Some(Fk::Waste(waste)) = read.fact.kind else { panic!() };
    assert_eq!(waste.amount, Some(v1::waste::Amount::PieceCount(1)));
    assert!(read.as_typed.is_empty());
}

#[test]
fn a_correction_keeps_its_own_reason_beside_that_of_the_fact() {
    let kind = Words::get().unwrap().kind("decision").unwrap();
    let flags: Vec<_> = kind.message.fields().map(|field| flag_name(&field, &CORRECT)).collect();
    assert_eq!(flags, ["point", "its-reason"]);
}

#[test]
fn the_example_vin_has_a_right_check_digit() {
    // Weights and values of 49 CFR 565.15(c).
    const WEIGHTS: [u32; 17] = [8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2];
    let value = |letter: char| match letter {
        '0'..='9' => letter.to_digit(10).unwrap(),
        'A'..='H' => letter as u32 - 'A' as u32 + 1,
        'J'..='R' => letter as u32 - 'J' as u32 + 1,
        _ => letter as u32 - 'S' as u32 + 2,
    };
    let kind = Words::get().unwrap().kind("vin-reading").unwrap();
    let example = example(&kind.message, &FLAGS).unwrap();
    let vin = example.split(' ').nth(1).unwrap();
    let sum: u32 = vin.chars().zip(WEIGHTS).map(|(letter, weight)| value(letter) * weight).sum();
    let digit = if sum % 11 == 10 { 'X' } else { char::from_digit(sum % 11, 10).unwrap() };
    assert_eq!(vin.chars().nth(8), Some(digit), "{vin}");
}

#[test]
fn thousands_are_written_with_spaces() {
    assert_eq!([grouped(3_000_000.0), grouped(-20.0), grouped(801.0)], ["3 000 000", "-20", "801"]);
}
