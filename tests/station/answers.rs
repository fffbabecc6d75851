//! The forms of an answer: JSON with keys that scripts may rely on, lists for spreadsheets, exit codes, plain text.

use super::{COMPARED, HOOKED_UP, LOOKED_AT, SETTLED};
use serde_json::Value;
use standpipe_tests::shop::{Home, Shop, words};
use standpipe_tests::{programs, site};

/// Requires keys of an object. More may come with a later version; none goes.
#[track_caller]
fn has(value: &Value, keys: &[&str]) {
    let object = value.as_object().unwrap_or_else(|| panic!("an object is expected, not {value}"));
    for key in keys {
        assert!(object.contains_key(*key), "{key} is missing in {value}");
    }
}

/// A served workshop, its office, and a job with some facts in it.
fn begun() -> (Shop, Home) {
    let shop = Shop::open();
    let office = shop.station("office", "B");
    office.say("open 'PH 482 K' --odometer 118240km").fine();
    office.say("add variant-settled --variant-code A8-II --means transmission-plate").fine();
    office.say("add drain --place pan --mass 3.05kg").fine();
    (shop, office)
}

const SUMMARY: [&str; 8] =
    ["closed", "job_id", "last_entry_time", "next_open_point", "number", "plate", "variant", "vin"];

#[test]
fn a_job_for_programs_is_json_with_these_keys() {
    let (_shop, office) = begun();
    let json = |line: &str, exit: i32| office.say(&format!("{line} --output json")).ended(exit).json();
    let job = json("show", 0);
    has(
        &job,
        &[
            "catalogue_revision_id",
            "check_value",
            "engine_version",
            "entry_count",
            "figures",
            "findings",
            "last_seq",
            "not_measured",
            "open_points",
            "remarks",
            "story",
            "summary",
        ],
    );
    has(&job["summary"], &SUMMARY);
    has(&job["story"][0], &["changed", "entry_id", "kind", "late", "person_code", "seq", "text", "time"]);
    has(&job["open_points"][0], &["gate", "text"]);
    let figure = job["figures"].as_array().unwrap().iter().find(|figure| figure["unit"] == "L").unwrap();
    has(figure, &["key", "label", "reasons", "standard_uncertainty", "text", "unit", "value"]);

    let jobs = json("jobs", 0);
    has(&jobs, &["jobs"]);
    has(&jobs["jobs"][0], &SUMMARY);

    let may = json("may exchange", 1);
    has(&may, &["basis", "gate", "last_seq", "missing", "summary", "time", "yes"]);
    assert_eq!((&may["yes"], &may["gate"]), (&Value::Bool(false), &Value::from("exchange")));
    has(&may["missing"][0], &["stops", "text"]);
}

#[test]
fn an_exchange_by_photo_and_instrument_is_json_with_these_keys() {
    let shop = Shop::open();
    let office = shop.station("office", "B");
    office.say("open 'PH 482 K' --odometer 118240km").fine();
    office.say("add variant-settled --variant-code A8-II --means transmission-plate").fine();
    let photo = "--glass-colour '#b06C50' --before-colour '#8c503c' --fresh-colour '#e19682'";
    let refused = office.say(&format!("add exchange-reading --volume-in 3L {photo}")).refused(65);
    assert!(refused.contains("a photo gives all four colours"), "{refused}");
    office.say(&format!("add exchange-reading --volume-in 3L {photo} --white-colour '#fafafa'")).fine();
    office.say("add exchange-reading --volume-in 6L --instrument-new 62% --instrument-uncertainty 2%").fine();
    let job = office.say("show --output json").fine().json();
    let exchange = &job["exchange"];
    has(
        exchange,
        &[
            "advice",
            "alarms",
            "basis",
            "curve",
            "handover_is_forecast",
            "left_litres",
            "looks",
            "next_litre_gain",
            "pushed_litres",
            "share_at_handover",
            "share_now",
            "target_share",
            "two_ways_fit",
        ],
    );
    has(
        &exchange["looks"][0],
        &["at_most", "glass_new_share", "means", "pushed_litres", "standard_uncertainty"],
    );
    has(&exchange["curve"][0], &["greatest", "least", "pushed_litres", "share"]);
    has(&exchange["share_now"], &["greatest", "least", "share", "standard_uncertainty"]);
    assert_eq!(
        (&exchange["looks"][0]["means"], &exchange["basis"]),
        (&Value::from("photo"), &Value::from("models"))
    );
    assert_eq!(exchange["handover_is_forecast"], Value::Bool(true));
    // 17 L at hand, 3.6 L for the pan, 0.5 L for the level, 0.6 L in the hoses, 6 L pushed.
    assert!((exchange["left_litres"].as_f64().unwrap() - 6.3).abs() < 1e-9);
}

#[test]
fn what_a_station_did_is_told_to_programs_as_json_with_these_keys() {
    let (shop, office) = begun();
    let json = |line: &str| office.say(&format!("{line} --output json")).fine().json();
    let added = json("add fill --purpose refill --volume 3,60l");
    has(
        &added,
        &["entry_id", "job", "kind", "sentence", "seq", "state", "station_number", "understood", "waiting"],
    );
    has(&added["job"], &["job_id", "label", "number", "plate"]);
    assert_eq!((&added["state"], &added["waiting"]), (&Value::from("sent"), &Value::from(0)));
    assert_eq!(added["understood"][1]["text"], "3.60\u{a0}L");

    has(&json("send"), &["end", "refused", "sent", "sentence", "waiting"]);
    has(&json("unsent"), &["damaged", "oldest_seconds", "refused", "waiting"]);
    let sent = json("unsent --sent");
    has(
        &sent["sent"][0],
        &[
            "as_typed",
            "day",
            "entry_id",
            "job",
            "kind",
            "person_code",
            "seq",
            "station_number",
            "station_time",
        ],
    );
    let file = shop.path("record.pdf");
    let record = json(&format!("record -o '{}'", file.display()));
    has(&record, &["bytes", "check_value", "file", "job", "warnings"]);
    assert_eq!(record["bytes"].as_u64(), Some(std::fs::metadata(&file).unwrap().len()));
    let home = shop.home("bay-1");
    let joined =
        home.fed(&format!("join {} - --output json", shop.address()), shop.token("bay-1")).fine().json();
    has(&joined, &["address", "site_id", "site_name", "station_id"]);
}

#[test]
fn the_list_of_jobs_is_a_table_for_spreadsheets_and_no_cell_is_a_formula() {
    let (_shop, office) = begun();
    office.say("open '=1+1,\"x\"' --model=-3").fine();
    let said = office.say("jobs --output csv").fine();
    let lines: Vec<&str> = said.out.split_terminator("\r\n").collect();
    assert_eq!(
        lines[0],
        "\"number\",\"plate\",\"vin\",\"variant\",\"closed\",\"next_open_point\",\"last_entry_time\""
    );
    assert_eq!(lines.len(), 3, "{}", said.out);
    // RFC 4180: a quotation mark inside a cell is doubled; the apostrophe keeps a spreadsheet from computing it.
    assert!(lines[1].contains(",\"'=1+1,\"\"x\"\"\","), "the newest job comes first: {}", lines[1]);
    assert!(
        lines[2].contains("\"PH 482 K\"") && lines[2].contains("\"Alder-8, second series\""),
        "{}",
        lines[2]
    );
    assert!(office.say("show --output csv").refused(64).contains("csv is for lists only"));
    let text = office.say("jobs").fine();
    assert_eq!(text.out.lines().count(), 2, "{}", text.out);
    assert_eq!(office.say("jobs --search 482").fine().out.lines().count(), 1);
    assert_eq!(
        office.say("jobs --search nowhere --output json").fine().json()["jobs"],
        serde_json::json!([])
    );
}

/// Each command line with the exit code that the list of commands promises.
#[test]
fn exit_codes_are_those_of_the_list_of_commands() {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    for (line, exit) in [
        ("open 'PH 482 K'", 0),
        ("add vin-reading --vin AZTWA8M47LA042317 --source papers", 0),
        ("may exchange", 1),
    ] {
        bay.say(line).ended(exit);
    }
    for line in [&SETTLED[..], &LOOKED_AT, &COMPARED, &HOOKED_UP].concat() {
        bay.say(line).fine();
    }
    for (line, exit) in [
        ("may exchange", 0),
        ("may close", 1),
        ("may nothing", 64),
        ("add drain --place pan", 64),
        ("add drain --place pan --mass 31kg", 65),
        ("show 4711", 65),
    ] {
        bay.say(line).ended(exit);
    }
    // A token that the server does not know.
    let file = bay.path.join("station.toml");
    let good = std::fs::read_to_string(&file).unwrap();
    std::fs::write(&file, good.replace(shop.token("bay-1"), &"0".repeat(64))).unwrap();
    for line in ["show", "jobs", "may exchange"] {
        bay.say(line).refused(77);
    }
    std::fs::write(&file, good).unwrap();
    assert!(bay.say("use 1").fine().err.is_empty());
    shop.close();
    for (line, exit) in [
        ("add drain --place pan --mass 3kg", 75),
        ("send", 75),
        ("show", 75),
        ("may exchange", 75),
        ("unsent", 0),
    ] {
        bay.say(line).ended(exit);
    }
    bay.say("no-such-command").refused(64);
    let nothing = bay.say("").ended(64);
    assert!(
        nothing.out.is_empty() && nothing.err.contains("Example:"),
        "without a command the help is shown"
    );
}

/// The text of the terminal never carries a sequence that steers it, whatever the terminal or the texts are.
#[test]
fn no_answer_carries_an_escape_sequence() {
    let (shop, office) = begun();
    let lines = [
        "--help",
        "add drain --help",
        "show",
        "jobs",
        "may exchange",
        "unsent",
        "add drain --mass 3",
        "show 99",
    ];
    for line in lines {
        for (name, value) in [("CLICOLOR_FORCE", "1"), ("NO_COLOR", "1"), ("TERM", "xterm-256color")] {
            let mut command = office.command();
            command.args(words(line)).env(name, value);
            let said = standpipe_tests::shop::ended(command, "");
            let steers = |text: &str| text.chars().any(|letter| letter.is_control() && letter != '\n');
            assert!(!steers(&said.out) && !steers(&said.err), "{line} with {name}: {said:?}");
        }
    }
    // On a terminal as well.
    if let Some(script) = programs::tool("script") {
        let station = programs::station();
        let mut command = standpipe_tests::shop::bare(std::path::Path::new(script));
        command.env("STANDPIPE_HOME", &office.path).env("TERM", "xterm-256color");
        command.args([
            "-qec",
            &format!("'{}' show; '{}' --help", station.display(), station.display()),
            "/dev/null",
        ]);
        let said = standpipe_tests::shop::ended(command, "").fine();
        assert!(said.out.contains("check value") && said.out.contains("Example:"), "{}", said.out);
        assert!(!said.out.contains('\u{1b}'), "{}", said.out);
    }
    drop(shop);
}

#[test]
fn the_lists_of_the_server_have_all_three_forms() {
    let shop = Shop::founded();
    let stations = shop.verb("station list --output json").fine().json();
    let names: Vec<&str> =
        stations.as_array().unwrap().iter().map(|station| station["station_id"].as_str().unwrap()).collect();
    for name in ["admin", "bay-1", "bay-2", "office"] {
        assert!(names.contains(&name), "{names:?}");
    }
    has(&stations[0], &["revoked", "role", "station_id"]);
    let csv = shop.verb("station list --output csv").fine();
    assert_eq!(
        csv.out.lines().next().unwrap().trim_end(),
        "station_id,role,enrolled,token_ends,code_until,revoked,only"
    );
    assert_eq!(csv.out.lines().count(), names.len() + 1, "{}", csv.out);
    let text = shop.verb("station list").fine();
    assert!(text.out.contains("bay-1") && !text.out.contains(shop.token("bay-1")), "{}", text.out);

    let persons = shop.verb("person list --output json").fine().json();
    let expected = serde_json::json!([
        { "person_code": "A", "name": "technician A" }, { "person_code": "B", "name": "office B" },
    ]);
    assert_eq!(persons, expected);
    shop.verb("person remove A").fine();
    assert!(!shop.verb("person list").fine().out.contains("technician A"), "the name is erased");

    let catalogues = shop.verb("catalogue list --output json").fine().json();
    assert_eq!((catalogues.as_array().unwrap().len(), &catalogues[0]["current"]), (1, &Value::Bool(true)));
    let revision = catalogues[0]["revision_id"].as_str().unwrap();
    assert!(revision.len() == 64 && revision.bytes().all(|digit| digit.is_ascii_hexdigit()), "{revision}");
    // The same files again are the same revision, and nothing is stated.
    let before = shop.entries();
    let again = shop.verb(&format!("catalogue import '{}'", site::catalogue().display())).fine();
    assert!(again.out.contains(revision) && again.out.contains("was current already"), "{}", again.out);
    assert_eq!(shop.entries(), before);
}
