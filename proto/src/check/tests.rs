//! Entries inside and outside their bounds.

use super::*;
use crate::v1::{Drain, Entry, Fact, Header, drain};

fn drained(amount: drain::Amount) -> Entry {
    Entry {
        header: Some(Header {
            entry_id: "01890a5d-ac96-774b-bcce-b302099a8057".into(),
            subject: Some(Subject::JobId("01890a5d-ac96-774b-bcce-b302099a8058".into())),
            station_id: "bay-1".into(),
            station_epoch: "0".repeat(32),
            station_number: 1,
            person_code: "A".into(),
            station_time: Some(prost_types::Timestamp { seconds: 1_770_000_000, nanos: 0 }),
            boot_id: "0".repeat(32),
            ..Header::default()
        }),
        fact: Some(Fact {
            kind: Some(Kind::Drain(Drain { place: 1, amount: Some(amount), ..Drain::default() })),
        }),
    }
}

fn said(entry: &Entry) -> String {
    match self::entry(entry) {
        Ok(()) => String::new(),
        Err(error) => error.to_string(),
    }
}

#[test]
fn an_entry_inside_all_bounds_passes() {
    assert_eq!(said(&drained(drain::Amount::VolumeLitres(3.6))), "");
}

#[test]
fn a_value_outside_names_field_value_and_bound() {
    for value in [400.0, f64::NAN, -0.1, f64::INFINITY] {
        let text = said(&drained(drain::Amount::VolumeLitres(value)));
        assert!(text.starts_with("fact.drain.volume_litres: ") && text.contains("0 to 30 L"), "{text}");
    }
}

#[test]
fn colours_are_six_hexadecimal_digits_behind_a_hash() {
    for colour in ["#a0522d", "#FFFFFF"] {
        assert_eq!(wrong_colour(colour), None);
    }
    for colour in ["a0522d0", "#a0522", "#a0522g", "#é0522", "red"] {
        assert!(wrong_colour(colour).is_some(), "{colour}");
    }
}

#[test]
fn everything_wrong_is_named_at_once() {
    let mut entry = drained(drain::Amount::MassKilograms(99.0));
    if let Some(header) = &mut entry.header {
        header.person_code = "a person".into();
        header.entry_id = "01890a5d-ac96-474b-bcce-b302099a8057".into();
    }
    let text = said(&entry);
    assert!(text.matches("; ").count() >= 2, "{text}");
    for part in [
        "header.entry_id: is no UUID of version 7",
        "header.person_code: the character ' '",
        "mass_kilograms: 99",
    ] {
        assert!(text.contains(part), "{part} is missing in {text}");
    }
}

#[test]
fn a_kind_of_the_site_is_not_taken_for_a_job() {
    let mut entry = drained(drain::Amount::VolumeLitres(1.0));
    entry.fact = Some(Fact {
        kind: Some(Kind::PersonListed(v1::PersonListed { listed_person_code: "B".into(), removed: false })),
    });
    assert!(said(&entry).contains("belongs to the site"));
}

#[test]
fn unreadable_and_giant_bytes_are_refused() {
    assert!(matches!(sealed_entry(&[0xff; 40]), Err(CheckError::Unreadable(_))));
    assert!(matches!(sealed_entry(&vec![0; limits::ENTRY_BYTES_MAX + 1]), Err(CheckError::TooLarge { .. })));
}

fn reading(reading: v1::ExchangeReading) -> String {
    let mut entry = drained(drain::Amount::VolumeLitres(1.0));
    entry.fact = Some(Fact { kind: Some(Kind::ExchangeReading(reading)) });
    said(&entry)
}

#[test]
fn a_photo_gives_all_four_colours_or_none() {
    let whole = v1::ExchangeReading {
        glass_colour: "#a03020".into(),
        before_colour: "#3C1E0F".into(),
        fresh_colour: "#c8282d".into(),
        white_colour: "#f8f8f0".into(),
        ..Default::default()
    };
    assert_eq!(reading(whole.clone()), "");
    let text = reading(v1::ExchangeReading { white_colour: String::new(), ..whole.clone() });
    assert!(text.contains("exchange_reading.white_colour: is missing"), "{text}");
    for wrong in ["a03020f", "#a0302", "#a0302g", "#\u{e4}3020"] {
        let text = reading(v1::ExchangeReading { glass_colour: wrong.into(), ..whole.clone() });
        assert!(text.contains("glass_colour"), "{wrong}: {text}");
    }
}

#[test]
fn an_instrument_is_read_with_its_uncertainty_inside_its_bounds() {
    let of = |new: Option<f64>, uncertainty: Option<f64>| {
        reading(v1::ExchangeReading {
            instrument_new_percent: new,
            instrument_uncertainty_percent: uncertainty,
            ..Default::default()
        })
    };
    assert_eq!(of(Some(-20.0), Some(0.1)), "");
    assert_eq!(of(Some(120.0), Some(50.0)), "");
    assert!(of(Some(60.0), None).contains("instrument_uncertainty_percent: is missing"));
    assert!(of(None, Some(2.0)).contains("instrument_new_percent: is missing"));
    for (new, uncertainty) in [(120.1, 2.0), (f64::NAN, 2.0), (60.0, 0.0), (60.0, f64::NAN), (60.0, 51.0)] {
        assert!(of(Some(new), Some(uncertainty)).contains("is outside"), "{new} {uncertainty}");
    }
}

#[test]
fn days_follow_the_calendar() {
    for day in ["2026-02-28", "2024-02-29", "2000-02-29"] {
        assert_eq!(wrong_day(day), None);
    }
    for day in ["2026-02-29", "1900-02-29", "2026-13-01", "2026-1-01", "26-01-01", "2026-04-31", "2026/04/30"]
    {
        assert!(wrong_day(day).is_some(), "{day}");
    }
}

#[test]
fn the_parts_of_a_distance_make_all_of_it_and_come_from_a_unit_that_was_read() {
    let of = |state: v1::CodesState, rows: &[(f64, f64)]| {
        let mut entry = drained(drain::Amount::VolumeLitres(3.0));
        let shares = rows
            .iter()
            .map(|(celsius, percent)| v1::TemperatureShare { celsius: *celsius, percent: *percent });
        entry.fact = Some(Fact {
            kind: Some(Kind::FaultCodes(v1::FaultCodes {
                moment: 1,
                state: state.into(),
                temperature_shares: shares.collect(),
                ..Default::default()
            })),
        });
        self::entry(&entry).err().map(|error| error.to_string()).unwrap_or_default()
    };
    let none = v1::CodesState::None;
    for whole in [&[(90.0, 99.0)][..], &[(-40.0, 50.5), (180.0, 50.5)], &[(90.0, 100.0), (110.0, 0.0)], &[]] {
        assert_eq!(of(none, whole), "", "{whole:?}");
    }
    for (rows, sum) in [
        (&[(90.0, 50.0)][..], "50 %"),
        (&[(90.0, 98.99)], "98.99 %"),
        (&[(90.0, 60.0), (80.0, 41.5)], "101.5 %"),
    ] {
        let told = of(none, rows);
        assert!(
            told.starts_with("fact.fault_codes.temperature_shares: the rows add up to")
                && told.contains(sum)
                && told.contains("outside 99 to 101 %"),
            "{told}"
        );
    }
    let told = of(none, &[(90.0, 50.0), (181.0, f64::NAN)]);
    for part in [
        "temperature_shares[1].celsius: 181 is outside -40 to 180 °C",
        "temperature_shares[1].percent: NaN is outside 0 to 100 %",
        "add up to NaN %",
    ] {
        assert!(told.contains(part), "'{part}' is missing in {told}");
    }
    let rows = [(90.0, 100.0 / 13.0); 13];
    assert!(of(none, &rows).contains("temperature_shares: has 13 items; at most 12 are allowed"));
    assert!(of(v1::CodesState::NotReadable, &[(90.0, 100.0)]).contains("could be read"));
    assert_eq!(of(v1::CodesState::Read, &[(90.0, 100.0)]), "");
}

#[test]
fn a_level_is_looked_at_in_one_way() {
    let look = |overflow: v1::Overflow, dipstick: v1::Dipstick| {
        let mut entry = drained(drain::Amount::VolumeLitres(3.6));
        entry.fact = Some(Fact {
            kind: Some(Kind::LevelCheck(v1::LevelCheck {
                temperature_celsius: 43.0,
                overflow: overflow.into(),
                dipstick: dipstick.into(),
                ..v1::LevelCheck::default()
            })),
        });
        said(&entry)
    };
    let (no_overflow, no_dipstick) = (v1::Overflow::Unspecified, v1::Dipstick::Unspecified);
    assert_eq!(look(v1::Overflow::Drops, no_dipstick), "");
    assert_eq!(look(no_overflow, v1::Dipstick::Between), "");
    let neither = look(no_overflow, no_dipstick);
    assert!(
        neither.starts_with("fact.level_check.overflow: is missing") && neither.contains("dipstick"),
        "{neither}"
    );
    let both = look(v1::Overflow::Drops, v1::Dipstick::Between);
    assert!(both.starts_with("fact.level_check.dipstick: is given instead of overflow"), "{both}");
}

#[test]
fn a_mean_is_stated_with_its_count_and_its_spread() {
    let fed = |reading: v1::ExchangeReading| {
        let mut entry = drained(drain::Amount::VolumeLitres(1.0));
        entry.fact = Some(Fact { kind: Some(Kind::ExchangeReading(reading)) });
        said(&entry)
    };
    let whole = v1::ExchangeReading {
        volume_in_litres: 4.0,
        instrument_new_percent: Some(41.0),
        instrument_uncertainty_percent: Some(2.0),
        temperature_celsius: Some(62.0),
        sample_count: Some(12),
        instrument_spread_percent: Some(1.5),
        temperature_spread_celsius: Some(0.2),
        ..Default::default()
    };
    assert_eq!(fed(whole.clone()), "");
    let without = [
        (
            v1::ExchangeReading { sample_count: None, ..whole.clone() },
            "instrument_spread_percent: is stated without sample_count",
        ),
        (
            v1::ExchangeReading {
                instrument_spread_percent: None,
                temperature_spread_celsius: None,
                ..whole.clone()
            },
            "instrument_spread_percent: is missing",
        ),
        (
            v1::ExchangeReading { temperature_celsius: None, ..whole.clone() },
            "temperature_spread_celsius: is stated without temperature_celsius",
        ),
        (v1::ExchangeReading { sample_count: Some(1), ..whole.clone() }, "2 to 100000"),
        (v1::ExchangeReading { temperature_spread_celsius: Some(101.0), ..whole }, "0 to 100 °C"),
    ];
    for (reading, sentence) in without {
        let told = fed(reading);
        assert!(told.contains(sentence), "{told}");
    }
    let mut entry = drained(drain::Amount::VolumeLitres(1.0));
    let reading = v1::TemperatureReading {
        temperature_celsius: 60.0,
        place: 1,
        spread_celsius: Some(0.2),
        ..Default::default()
    };
    entry.fact = Some(Fact { kind: Some(Kind::TemperatureReading(reading)) });
    assert!(said(&entry).contains("spread_celsius: is stated without sample_count"), "{}", said(&entry));
}
