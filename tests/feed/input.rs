//! Lines from the input and from a file, with what is wrong with them.

use super::*;

#[test]
fn the_sample_becomes_readings_that_draw_a_curve_and_its_broken_lines_are_told_once_a_sort() {
    let (shop, bay) = at_work();
    let before = shop.entries();
    let fed =
        bay.fed(&format!("feed --map {}", sample("feed-sample.toml").display()), &sample_lines()).fine();
    let told: Vec<&str> = fed.err.lines().collect();
    // The second line that cannot be read, 183, is only counted.
    let sentences = [
        "line 77: '10:41:14;1,' cannot be read: litres in, a number was expected in column 2 (further ones are counted)",
        "line 245: share of new fluid: 999.9 % is outside -20 to 120 %; that value is not used",
        "line 303: litres in: 75 L is outside 0 to 60 L; the line is not used",
        "line 363: litres in went back from 8.97 to 6 L; the line is not used; if the display was set to zero, feed it again",
    ];
    assert_eq!(told.len(), sentences.len(), "{told:?}");
    for (told, sentence) in told.iter().zip(sentences) {
        assert!(told.starts_with(sentence), "{told}");
    }
    let summary = fed.out.lines().last().unwrap();
    assert!(
        summary.contains(
            "483 lines read, 477 used, 2 passed over, 2 cannot be read, 1 outside the bounds, 1 with a value outside its \
             bounds, 1 going back; 1"
        ) && summary.ends_with("all at the shop server"),
        "{summary}"
    );
    let stated = readings(&bay);
    assert_eq!(stated.len(), fed.out.lines().count() - 1);
    assert!(stated.len() <= 121, "at most one for 0.1 L: {}", stated.len());
    assert!(stated[1].contains("mean of 4 lines") && stated[1].contains("of 100 new (±"), "{}", stated[1]);
    let last = stated.last().unwrap();
    assert!(last.starts_with("12.0 L pushed in") && last.contains("end of the exchange"), "{last}");
    let exchange = &job(&bay)["exchange"];
    assert!(exchange["curve"].as_array().unwrap().len() > 10, "{exchange}");
    // Two tanks in a row of 9 L, 12 L pushed: 1 - e^(-a) (1 + a / 2), a = 24 / 9 (Levenspiel, tanks in series).
    let a: f64 = 24.0 / 9.0;
    let inside = 1.0 - (-a).exp() * (1.0 + a / 2.0);
    let now = &exchange["share_now"];
    assert!((now["share"].as_f64().unwrap() - inside).abs() < 0.03, "{now} {inside}");
    assert!(exchange["looks"].as_array().unwrap().iter().all(|look| look["means"] == "instrument"));
    assert_eq!(shop.entries(), before + stated.len() as u64);
}

#[test]
fn the_same_lines_give_the_same_readings_from_a_file_in_pieces_and_replayed() {
    let map = sample("feed-sample.toml");
    let (lines, map) = (sample_lines(), map.display());
    let from_input = {
        let (_shop, bay) = at_work();
        bay.fed(&format!("feed --map {map}"), &lines).fine();
        readings(&bay)
    };
    let from_file = {
        let (_shop, bay) = at_work();
        bay.say(&format!("feed --map {map} {}", sample("feed-sample.csv").display())).fine();
        readings(&bay)
    };
    assert_eq!(from_file, from_input);
    let in_pieces = {
        let (_shop, bay) = at_work();
        let mut feeding = Feeding::begin(&bay, &format!("feed --map {map}"));
        for piece in lines.as_bytes().chunks(997) {
            feeding.input.as_mut().unwrap().write_all(piece).unwrap();
        }
        drop(feeding.input.take());
        assert_eq!(feeding.ended().0, Some(0));
        readings(&bay)
    };
    assert_eq!(in_pieces, from_input);
    let (_shop, bay) = at_work();
    bay.fed(&format!("feed --map {map} --replay"), &lines).fine();
    assert_eq!(readings(&bay), from_input);
}

#[test]
fn replayed_entries_are_made_at_the_times_of_their_lines_and_the_last_one_is_now() {
    let (shop, bay) = at_work();
    let map = written(&shop, "feed.toml", TIMED);
    shop.close();
    let lines = "0 1.0 5\n60 2.0 15\n600 3.0 30\n";
    bay.fed(&format!("feed --map {} --replay", map.display()), lines).ended(75);
    let waiting = bay.say("unsent --output json").fine().json();
    let times: Vec<i64> = waiting["waiting"]
        .as_array()
        .unwrap()
        .iter()
        .map(|entry| entry["station_time"].as_str().unwrap().parse::<jiff::Timestamp>().unwrap().as_second())
        .collect();
    // An entry is made a little after the one before it; whole seconds may fall on either side.
    let apart: Vec<i64> = times.windows(2).map(|pair| pair[1] - pair[0]).collect();
    assert!((60..=61).contains(&apart[0]) && (540..=541).contains(&apart[1]), "{apart:?}");
    let now = jiff::Timestamp::now().as_second();
    assert!((0..60).contains(&(now - times[2])), "{times:?} {now}");
    let sentence = bay
        .fed(&format!("feed --map {} --replay", written(&shop, "b.toml", PLAIN).display()), "")
        .refused(64);
    assert!(sentence.contains("--replay needs the times of the lines"), "{sentence}");
}

#[test]
fn a_wrong_map_job_or_file_is_refused_before_anything_is_read() {
    let (shop, bay) = at_work();
    let before = shop.entries();
    let refused = |text: &str, rest: &str, exit: i32| {
        let map = written(&shop, "feed.toml", text);
        bay.fed(&format!("feed --map {} {rest}", map.display()), "4.0 50\n").refused(exit)
    };
    let told = refused(&format!("seperator = \";\"\n{PLAIN}"), "", 64);
    assert!(
        told.contains("feed.toml: line 1: seperator: is not known here; did you mean separator?"),
        "{told}"
    );
    assert!(refused(PLAIN, "--job 99", 65).contains("99"));
    assert!(refused(PLAIN, "no-such-file.txt", 64).contains("no-such-file.txt cannot be read"));
    assert!(
        refused(PLAIN, "--device no-such-device", 74)
            .contains("opening the serial line no-such-device failed")
    );
    let told = refused(PLAIN, &format!("--device {}", shop.path("feed.toml").display()), 64);
    assert!(told.contains("is no serial line; give a file as INPUT"), "{told}");
    assert!(refused(PLAIN, "lines.txt --device no-such-device", 64).contains("cannot be used with"));
    let fresh = shop.station("bay-2", "A");
    let map = shop.path("feed.toml");
    assert!(fresh.fed(&format!("feed --map {}", map.display()), "").refused(64).contains("no job is set"));
    assert_eq!(shop.entries(), before);
}

#[test]
fn lines_of_which_none_can_be_read_are_a_refusal_and_no_line_is_none() {
    let (shop, bay) = at_work();
    let map = written(&shop, "feed.toml", PLAIN);
    let said = bay.fed(&format!("feed --map {}", map.display()), "four fifty\nfive fifty\n").ended(65);
    assert!(said.out.contains("2 lines read, 0 used, 2 cannot be read; 0 entries"), "{}", said.out);
    let told: Vec<&str> = said.err.lines().collect();
    assert_eq!(
        told,
        [
            "line 1: 'four fifty' cannot be read: litres in, a number was expected in column 1 (further ones are counted)",
            "no line could be read; look at the column map"
        ]
    );
    let said = bay.fed(&format!("feed --map {}", map.display()), "").fine();
    assert!(
        said.out.contains("0 lines read, 0 used; 0 entries") && said.err.is_empty(),
        "{}{}",
        said.out,
        said.err
    );
    let headed =
        written(&shop, "headed.toml", "separator = \";\"\nheader = true\n[litres_in]\ncolumn = \"in\"\n");
    let said = bay.fed(&format!("feed --map {}", headed.display()), "time;out\n1;2\n").ended(64);
    assert!(said.err.contains("has no column 'in'; it has: time, out"), "{}", said.err);
}

#[test]
fn a_display_set_to_zero_counts_on_top_only_where_a_person_said_so() {
    let (shop, bay) = at_work();
    let map = written(&shop, "feed.toml", TIMED);
    let lines = "0 3.9 20\n1 4.3 25\n2 0.1 25\n3 0.4 30\n";
    let said = bay.fed(&format!("feed --map {}", map.display()), lines).fine();
    assert!(said.one_line().contains("line 3: litres in went back from 4.3 to 0.1 L"), "{}", said.err);
    assert!(readings(&bay).last().unwrap().starts_with("4.3 L pushed in"), "{:?}", readings(&bay));
    let said = bay.fed(&format!("feed --map {} --reset --last", map.display()), lines).fine();
    assert!(said.one_line().ends_with("what it shows now counts on top"), "{}", said.err);
    let last = readings(&bay).pop().unwrap();
    assert!(last.starts_with("4.7 L pushed in") && last.contains("end of the exchange"), "{last}");
}

#[test]
fn temperatures_of_a_thermometer_are_readings_of_their_own() {
    let (shop, bay) = at_work();
    let map = "decimal_comma = true\n[time]\ncolumn = 1\nform = \"seconds\"\n[temperature]\ncolumn = 2\nunit = \"°F\"\nplace = \
               \"transmission-fluid\"\nmeans = \"thermometer\"\n";
    let map = written(&shop, "feed.toml", map);
    // 104 °F are 40 °C, 105,8 °F 41 °C.
    let said =
        bay.fed(&format!("feed --map {} --output json", map.display()), "0 104,0\n5 105,8\n10 104\n").fine();
    let lines: Vec<serde_json::Value> =
        said.out.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    let [first, second, summary] = &lines[..] else { panic!("{}", said.out) };
    assert_eq!(
        (&first["kind"], &first["fields"]["sample_count"]),
        (&"temperature_reading".into(), &2.into())
    );
    assert!((first["fields"]["temperature_celsius"].as_f64().unwrap() - 40.5).abs() < 1e-9, "{first}");
    assert!((first["fields"]["spread_celsius"].as_f64().unwrap() - 0.5_f64.sqrt()).abs() < 1e-6, "{first}");
    assert!(second["fields"].get("sample_count").is_none_or(serde_json::Value::is_null), "{second}");
    assert_eq!(
        (&summary["lines"]["used"], &summary["entries"], &summary["end"]),
        (&3.into(), &2.into(), &"lines".into())
    );
    let stated = readings(&bay);
    assert!(stated[0].contains("(thermometer") && stated[0].ends_with(", mean of 2 lines."), "{stated:?}");
}
