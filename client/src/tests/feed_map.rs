//! The column map: every key, and what is wrong with one.

use super::*;

const SAMPLE: &str = include_str!("../../../deploy/feed-sample.toml");

fn of(text: &str) -> Result<ColumnMap, ClientError> {
    ColumnMap::of(Path::new("feed.toml"), text)
}

fn wrong(text: &str) -> String {
    of(text).unwrap_err().to_string()
}

#[test]
fn the_sample_is_read_and_shows_every_key() {
    let map = of(SAMPLE).unwrap();
    assert_eq!((map.separator, map.decimal_comma, map.header), (Some(';'), true, true));
    assert_eq!(map.bin, BinSize { litres: 0.1, seconds: 10.0 });
    assert_eq!(map.new_share.as_ref().unwrap().uncertainty_percent, 2.0);
    assert_eq!(map.temperature.as_ref().unwrap().place, Place::ComingOut);
    assert_eq!(map.serial, SerialLine::USUAL, "what is left out is as the sample says");
    // A key that the sample does not show would not be found: the sentence of an unknown one lists them all.
    for table in ["", "time", "litres_in", "litres_out", "new_share", "temperature", "last", "serial"] {
        let head = if table.is_empty() { String::new() } else { format!("[{table}]\n") };
        let needed = match table {
            "time" | "litres_in" | "litres_out" => "column = 1\n",
            "new_share" => "column = 1\nuncertainty_percent = 2\n",
            "temperature" => "column = 1\nplace = \"fresh-fluid\"\n",
            "last" => "column = 1\nword = \"end\"\n",
            _ => "",
        };
        let litres = if ["", "litres_in"].contains(&table) { "" } else { "\n[litres_in]\ncolumn = 1\n" };
        let litres = if table.is_empty() { "\n[litres_in]\ncolumn = 1\n" } else { litres };
        let told = wrong(&format!("{head}{needed}qqqq = 1\n{litres}"));
        let (_, keys) = told.split_once("the keys here are ").unwrap_or_else(|| panic!("{told}"));
        for key in keys.split(", ") {
            let shown = SAMPLE
                .lines()
                .any(|line| line.starts_with(&format!("{key} = ")) || line == format!("[{key}]"));
            // A temperature that stands in the reading of the exchange has no means; the sample says so in words.
            assert!(shown || (key == "means" && SAMPLE.contains("means: \"scan-tool\"")), "{table}.{key}");
        }
    }
}

#[test]
fn what_is_wrong_is_told_with_file_line_and_key_and_what_was_meant() {
    let litres = "\n[litres_in]\ncolumn = 2\n";
    for (text, sentence) in [
        ("seperator = \";\"", "feed.toml: line 1: seperator: is not known here; did you mean separator?"),
        (
            "[litres_in]\ncolumn = 1\nunits = \"L\"",
            "line 3: litres_in.units: is not known here; did you mean unit?",
        ),
        ("[litres_in]\n", "line 1: litres_in.column: is missing"),
        (
            "[litres_in]\ncolumn = 0",
            "line 2: litres_in.column: must be a whole number from 1 to 200, found 0",
        ),
        (
            "[litres_in]\ncolumn = 1\nunit = \"kg\"",
            "line 3: litres_in.unit: cannot be 'kg'; it must be L, mL or US qt",
        ),
        (
            "[litres_in]\ncolumn = 1\nscale = 0",
            "litres_in.scale: must be a number from 0.000001 to 1000000, found 0",
        ),
        ("bin_litres = 0.05\n", "bin_litres: must be a number from 0.1 to 5 L, found 0.05"),
        ("bin_seconds = 700\n", "bin_seconds: must be a number from 10 to 600 s, found 700"),
        ("header = 1\n", "line 1: header: must be true or false, found integer"),
        ("comment_signs = \"#\"\n", "comment_signs: must be a list of texts, found string"),
        ("separator = \"1\"\n", "separator: cannot be '1', which may stand in a number"),
        ("separator = \",\"\ndecimal_comma = true\n", "line 1: separator: cannot be a comma"),
        ("[new_share]\ncolumn = 3\n", "line 1: new_share.uncertainty_percent: is missing"),
        ("[new_share]\ncolumn = 3\nuncertainty_percent = 0", "must be a number from 0.1 to 50 %, found 0"),
        (
            "[temperature]\ncolumn = 3\n",
            "temperature.place: is missing; say what has this temperature: coming-out",
        ),
        ("[temperature]\ncolumn = 3\nplace = \"pan\"", "temperature.place: must be coming-out or"),
        (
            "[temperature]\ncolumn = 3\nplace = \"coming-out\"\nmeans = \"thermometer\"",
            "line 4: temperature.means: is not stated of fluid coming out",
        ),
        ("[time]\ncolumn = 1\nscale = 0.001", "line 3: time.scale: is for seconds"),
        ("[last]\ncolumn = 1", "last.word: is missing"),
        ("[serial]\nspeed = 100", "serial.speed: must be a whole number from 300 to 921600, found 100"),
        ("[serial]\nparity = \"maybe\"", "serial.parity: must be none or even or odd, found 'maybe'"),
        ("[serial]\ndata_bits = 9", "serial.data_bits: must be 8 or 7, found '9'"),
        ("[litres_in", "line 1: this is not TOML: "),
    ] {
        let whole = if text.contains("[litres_in") { text.to_owned() } else { format!("{text}{litres}") };
        let told = wrong(&whole);
        assert!(told.contains(sentence), "{told}\n{sentence}");
        assert!(told.starts_with("feed.toml: line "), "{told}");
    }
}

#[test]
fn tables_that_need_each_other_say_so() {
    let named = "[litres_in]\ncolumn = \"in\"\n";
    assert!(wrong(named).contains("header: is false, but the column 'in' is named"), "{}", wrong(named));
    assert!(of(&format!("header = true\n{named}")).is_ok());
    let alone = "[new_share]\ncolumn = 1\nuncertainty_percent = 2\n";
    assert!(wrong(alone).contains("new_share: belongs to an exchange"), "{}", wrong(alone));
    assert!(wrong("header = true\n").contains("add [litres_in] or [temperature]"));
    assert!(of("[temperature]\ncolumn = 1\nplace = \"fresh-fluid\"\n").is_ok());
}

#[test]
fn units_and_scale_become_one_factor() {
    let text = "[litres_in]\ncolumn = 1\nunit = \"US qt\"\nscale = 0.1\n[temperature]\ncolumn = 2\nunit = \"°F\"\nplace = \
                \"coming-out\"\n[new_share]\ncolumn = 3\nunit = \"1\"\nuncertainty_percent = 2\n";
    let map = of(text).unwrap();
    // NIST SP 811, appendix B: a US liquid quart is 0.946 352 946 L exactly; 212 °F are 100 °C.
    assert!((map.litres_in.unwrap().factor - 0.094_635_294_6).abs() < 1e-12);
    let temperature = map.temperature.unwrap().number;
    assert!((212.0 * temperature.factor + temperature.offset - 100.0).abs() < 1e-9);
    assert_eq!(map.new_share.unwrap().number.factor, 100.0);
}

#[test]
fn a_map_that_is_too_large_or_not_there_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("feed.toml");
    assert!(ColumnMap::read(&file).unwrap_err().to_string().contains("the column map cannot be read"));
    std::fs::write(&file, "#".repeat(70_000)).unwrap();
    assert!(ColumnMap::read(&file).unwrap_err().to_string().contains("more than 65536 bytes"));
}
