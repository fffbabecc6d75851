//! Lines as they are read: numbers, times, cells, and what is wrong with them.

use super::*;
use std::path::Path;

fn reader(text: &str) -> Reader {
    Reader::new(ColumnMap::of(Path::new("feed.toml"), text).unwrap())
}

fn reading(means: Means) -> Reading {
    match means {
        Means::Reading(reading, outside) if outside.is_empty() => reading,
        other => panic!("{other:?}"),
    }
}

fn unreadable(means: Means) -> String {
    match means {
        Means::Unreadable(expected) => expected,
        other => panic!("{other:?}"),
    }
}

#[test]
fn columns_are_found_by_name_and_cells_keep_what_is_quoted() {
    let mut reader = reader(
        "separator = \",\"\nheader = true\ncomment_signs = [\"!\"]\nskip_lines = 1\n[litres_in]\ncolumn = \"in\"\n[time]\ncolumn = \
         \"t\"\n[last]\ncolumn = \"word\"\nword = \"end, all\"\n",
    );
    assert_eq!(reader.read("a title, that is none").unwrap(), Means::Nothing);
    assert_eq!(reader.read("! remark").unwrap(), Means::Nothing);
    assert_eq!(reader.read("word, In ,T").unwrap(), Means::Nothing);
    let found = reading(reader.read("\"END, all\", 4.1 L,10:40:05.5").unwrap());
    assert_eq!((found.litres_in, found.is_last), (Some(4.1), true));
    assert_eq!(found.time_us, Some((10 * 3600 + 40 * 60 + 5) * 1_000_000 + 500_000));
    assert!(!reading(reader.read("run,4.2,10:40:06").unwrap()).is_last);
    assert_eq!(
        unreadable(reader.read("run,4.2").unwrap()),
        "the time, as a clock shows it: 10:40:05 was expected in column 3"
    );
    assert_eq!(
        unreadable(reader.read("run,4.2.1,10:40:06").unwrap()),
        "litres in, a number was expected in column 2"
    );
}

#[test]
fn a_named_column_that_is_not_there_ends_the_feed() {
    let mut reader = reader("separator = \";\"\nheader = true\n[litres_in]\ncolumn = \"in\"\n");
    let told = reader.read("time;litres;out").unwrap_err().to_string();
    assert_eq!(told, "the line that names the columns has no column 'in'; it has: time, litres, out");
    let mut reader = self::reader("separator = \";\"\nheader = true\n[litres_in]\ncolumn = \"in\"\n");
    assert!(reader.read("in;IN").unwrap_err().to_string().contains("more than one column 'in'"));
}

#[test]
fn numbers_are_read_by_the_map_s_decimal_mark_and_never_guessed() {
    let comma = reader("decimal_comma = true\n[litres_in]\ncolumn = 1\n");
    let point = reader("[litres_in]\ncolumn = 1\n");
    let read = |reader: &Reader, line: &str| reader.clone().read(line).unwrap();
    assert_eq!(reading(read(&comma, "4,15")).litres_in, Some(4.15));
    assert_eq!(reading(read(&point, "  +4.15L other words")).litres_in, Some(4.15));
    assert_eq!(reading(read(&point, "4.15e0")).litres_in, Some(4.15));
    for line in ["4,15", "4.1.5", "4.", "four", "4.1x", "inf", "nan", "e", "-", "1e999"] {
        assert!(unreadable(read(&point, line)).starts_with("litres in, a number"), "{line}");
    }
    assert!(unreadable(read(&comma, "4.15")).starts_with("litres in"));
}

#[test]
fn a_value_outside_its_bound_is_left_out_and_told_and_litres_cost_the_line() {
    let reader = reader(
        "separator = \";\"\n[litres_in]\ncolumn = 1\n[litres_out]\ncolumn = 2\n[new_share]\ncolumn = 3\nuncertainty_percent = 2\n\
         [temperature]\ncolumn = 4\nplace = \"coming-out\"\n",
    );
    let read = |line: &str| reader.clone().read(line).unwrap();
    assert_eq!(read("75;1;2;3"), Means::Outside("litres in: 75 L is outside 0 to 60 L".into()));
    assert_eq!(read("-1;1;2;3"), Means::Outside("litres in: -1 L is outside 0 to 60 L".into()));
    let Means::Reading(found, outside) = read("4;61;140;200") else { panic!("it is a reading") };
    assert_eq!(
        (found.litres_in, found.litres_out, found.new_percent, found.celsius),
        (Some(4.0), None, None, None)
    );
    assert_eq!(
        outside,
        [
            "litres out: 61 L is outside 0 to 60 L",
            "share of new fluid: 140 % is outside -20 to 120 %",
            "temperature: 200 °C is outside -40 to 180 °C"
        ]
    );
    // An empty cell, or the dashes of a display that measures nothing, is not measured.
    let found = reading(read("4;;---;-"));
    assert_eq!((found.litres_out, found.new_percent, found.celsius), (None, None, None));
    assert!(unreadable(read("4")).starts_with("litres out, a number was expected in column 2"));
}

#[test]
fn a_clock_goes_over_midnight_and_seconds_are_scaled() {
    let map = "[litres_in]\ncolumn = 2\n[time]\ncolumn = 1\n";
    let mut clock = reader(map);
    let at = |reader: &mut Reader, line: &str| reading(reader.read(line).unwrap()).time_us.unwrap();
    let before = at(&mut clock, "23:59:58 1");
    assert_eq!(at(&mut clock, "00:00:03 1") - before, 5_000_000);
    // A clock that is put right by a few seconds is no new day.
    assert_eq!(at(&mut clock, "00:00:01 1") - before, 3_000_000);
    for line in ["24:00:00 1", "10:60 1", "10 1", "1:2:3:4 1", "10:4x 1", "10:40:60 1", "-1:00 1"] {
        assert!(unreadable(reader(map).read(line).unwrap()).starts_with("the time"), "{line}");
    }
    assert_eq!(at(&mut reader(map), "9:05 1"), (9 * 3600 + 300) * 1_000_000);
    let mut seconds = reader(&format!("{map}form = \"seconds\"\nscale = 0.001\n"));
    assert_eq!(at(&mut seconds, "1500 1"), 1_500_000);
    assert!(unreadable(seconds.read("-1 1").unwrap()).starts_with("the time, 0 to"));
}

#[test]
fn a_line_with_hundreds_of_columns_is_none() {
    let mut reader = reader("[litres_in]\ncolumn = 1\n");
    assert_eq!(unreadable(reader.read(&"1 ".repeat(201)).unwrap()), "at most 200 columns were expected");
    assert_eq!(shown(&"é".repeat(100)).chars().count(), 61);
}

proptest::proptest! {
    #[test]
    fn no_line_stops_the_reader(line in "\\PC{0,80}|[0-9:;,. L%°C-]{0,80}") {
        let mut reader = reader(
            "separator = \";\"\n[time]\ncolumn = 1\n[litres_in]\ncolumn = 2\n[new_share]\ncolumn = 3\nuncertainty_percent = 2\n",
        );
        let means = reader.read(&line).unwrap();
        if let Means::Reading(reading, _) = means {
            proptest::prop_assert!(reading.litres_in.is_some_and(|litres| (0.0..=60.0).contains(&litres)));
            proptest::prop_assert!(reading.new_percent.is_none_or(|share| (-20.0..=120.0).contains(&share)));
        }
    }
}
