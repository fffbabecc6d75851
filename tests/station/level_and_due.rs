//! From the temperature that is too hot to the next service: what a station is told in words and as JSON.

use super::SETTLED;
use serde_json::Value;
use standpipe_tests::shop::Shop;

#[test]
fn a_job_says_when_to_read_again_what_went_in_and_out_and_when_the_next_service_is_due() {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    bay.say("open 'PH 482 K' --odometer 118240km --load towing").fine();
    bay.say("add vin-reading --vin AZTWA8M47LA042317 --source papers").fine();
    for line in SETTLED {
        bay.say(line).fine();
    }
    bay.say("add drain --place pan --mass 3.05kg --means scale").fine();
    let figure = |job: &Value, key: &str| {
        job["figures"].as_array().unwrap().iter().find(|figure| figure["key"] == key).cloned()
    };
    let show = || bay.say("show --output json").fine().json();
    assert_eq!(figure(&show(), "refill_kilograms").unwrap()["value"], 3.05);
    bay.say("add fill --purpose refill --mass 4.20kg --means scale --fluid-code LN-847").fine();
    bay.say("add gear-cycle --driver-person-code A --nobody-under-vehicle yes").fine();
    bay.say("add temperature-reading --temperature 70°C --place transmission-fluid --means scan-tool").fine();
    let job = show();
    let level = &job["level"];
    assert_eq!((level["from_celsius"].as_f64(), level["to_celsius"].as_f64()), (Some(40.0), Some(50.0)));
    assert!(level["when"].as_str().unwrap().starts_with("Too hot: 70\u{a0}°C."), "{level}");
    let time = |key: &str| level[key].as_str().unwrap_or_else(|| panic!("{key}: {level}")).to_owned();
    // RFC 3339 times of one zone and year sort as they follow each other, but for the parts of a second.
    let times = ["earliest_time", "likely_time", "latest_time"].map(|key| time(key)[..19].to_owned());
    assert!(times.is_sorted() && time("read_again_time").ends_with('Z'), "{level}");
    assert_eq!(level["reasons"].as_array().unwrap().len(), 1, "one reading is a guess");
    assert!(level["set_celsius"].is_null());

    bay.say(
        "add level-check --temperature 43°C --means scan-tool --overflow drops --engine-idling yes --vehicle-level yes \
         --selector park --drops-per-minute 120",
    )
    .fine();
    let refused =
        bay.say("add level-check --temperature 43°C --overflow drops --drops-per-minute 601").refused(65);
    assert!(refused.contains("600"), "{refused}");
    let job = show();
    assert_eq!((job["level"]["when"].as_str(), job["level"]["set_celsius"].as_f64()), (Some(""), Some(43.0)));
    assert!(job["level"]["drip"].as_str().unwrap().contains("120 drops a minute"), "{}", job["level"]);
    let balance = &job["balance"];
    let rows = |key: &str| balance[key].as_array().unwrap().iter().map(litres).sum::<f64>();
    assert!((rows("went_in") - balance["total_in"]["litres"].as_f64().unwrap()).abs() < 1e-9);
    assert!((rows("came_out") - balance["total_out"]["litres"].as_f64().unwrap()).abs() < 1e-9);
    assert_eq!(balance["compatible"], false);
    assert!(balance["normalised_difference"].as_f64().unwrap() > 1.0);
    assert!(balance["arrived"].as_str().unwrap().contains("short (from"), "{balance}");
    assert!(job["next_due"].is_null(), "the job is open");

    bay.say("add closing --outcome done --odometer 118254km").fine();
    let due = &show()["next_due"];
    assert_eq!(due["kilometres"], 118_254.0 + 35_000.0);
    assert_eq!(
        (&due["kilometres_basis"], &due["date_basis"]),
        (&Value::from("load-word"), &Value::from("workshop"))
    );
    assert_eq!(due["date"].as_str().unwrap().len(), 10);
    let told = bay.say("show").fine().out;
    assert!(told.contains("Next due") && told.contains("whichever comes first"), "{told}");
    assert!(!told.contains("drops a minute at"), "a drip rate is not for the bay: {told}");
}

#[test]
fn temperatures_that_the_control_unit_kept_shorten_the_distance_as_the_reference_table_says() {
    let table: Value = serde_json::from_str(include_str!("../reference/ageing_arrhenius.json")).unwrap();
    let row =
        table["cases"].as_array().unwrap().iter().find(|row| row["id"] == "ageing_arrhenius-017").unwrap();
    let numbers = |key: &str| row[key].as_array().unwrap().iter().map(|number| number.as_f64().unwrap());
    let rows: Vec<(f64, f64)> = numbers("T").zip(numbers("share").map(|share| share * 100.0)).collect();
    let flags = |rows: &[(f64, f64)]| {
        let flag =
            |(celsius, percent): &(f64, f64)| format!(" --temperature-share '{celsius}°C {percent:.0}%'");
        rows.iter().map(flag).collect::<String>()
    };

    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    bay.say("open 'PH 482 K' --odometer 118240km --load towing").fine();
    bay.say("add vin-reading --vin AZTWA8M47LA042317 --source papers").fine();
    for line in SETTLED {
        bay.say(line).fine();
    }
    let refused =
        bay.say(&format!("add fault-codes --moment before --state none{}", flags(&rows[1..]))).refused(65);
    assert!(refused.contains("--temperature-share: the rows add up to 70 %"), "{refused}");
    let refused =
        bay.say("add fault-codes --moment before --state none --temperature-share '181°C 100%'").refused(65);
    assert!(refused.contains("--temperature-share: 181 is outside -40 to 180 °C"), "{refused}");
    let read = bay.say(&format!("add fault-codes --moment before --state none{}", flags(&rows))).fine();
    assert!(read.out.replace('\u{a0}', " ").contains("temperature share 90 °C 50 %"), "{}", read.out);
    bay.say("add drain --place pan --mass 3.05kg --means scale").fine();
    bay.say("add fill --purpose refill --mass 3.05kg --means scale --fluid-code LN-847").fine();
    bay.say(
        "add level-check --temperature 43°C --means scan-tool --overflow drops --engine-idling yes \
         --vehicle-level yes --selector park",
    )
    .fine();
    bay.say("add closing --outcome done --odometer 118254km").fine();

    let due = bay.say("show --output json").fine().json()["next_due"].clone();
    assert_eq!(due["kilometres_basis"], "temperatures", "a load word is stated too");
    let base = row["base_interval_km"].as_f64().unwrap();
    let source = "agreed in this workshop, January 2026";
    assert!(due["sentences"][1].as_str().unwrap().contains(source) && base == 50_000.0, "{due}");
    // Whole kilometres, cut.
    let kilometres = due["kilometres"].as_f64().unwrap() - 118_254.0;
    assert_eq!(kilometres, row["adjusted_interval_km"].as_f64().unwrap().floor());
    let told = bay.say("show").fine().out.replace(['\u{a0}', '\u{202f}'], " ");
    let factor = format!("ages {:.2} times as fast as at 90 °C", row["mean_factor"].as_f64().unwrap());
    for part in [factor.as_str(), "assumed, not measured", "activation energy 83.144 kJ/mol", "USP 1150"] {
        assert!(told.contains(part), "'{part}' is missing in {told}");
    }
}

fn litres(row: &Value) -> f64 {
    row["litres"]["litres"].as_f64().unwrap()
}
