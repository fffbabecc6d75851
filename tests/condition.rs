//! The condition of the fluid as people meet it: typed with `add`, told by `show`, printed on the record; a laboratory's
//! letter that comes when the job is closed.

use serde_json::Value;
use standpipe_tests::shop::{Home, Shop};

/// A job with four taps before the work, closed.
fn closed() -> (Shop, Home) {
    let shop = Shop::open();
    let office = shop.station("office", "B");
    office.say("open 'PH 482 K' --odometer 118240km").fine();
    office.say("add fluid-sample --moment before --colour darker --clouding clear --smell slightly-sharp --specks none").fine();
    office.say("add closing --outcome no-exchange-done").fine();
    (shop, office)
}

fn side(office: &Home) -> Value {
    office.say("show --output json").fine().json()["condition"][0].clone()
}

#[test]
fn a_letter_that_comes_later_is_typed_with_units_told_with_its_rule_and_marked() {
    let (_shop, office) = closed();
    let before = side(&office);
    assert_eq!((&before["rule"], &before["moment"]), (&Value::from(4), &Value::from("Before the service")));
    office.say("add fluid-sample --moment fresh --acid-number 0.9 --viscosity-40 '30 cSt' --laboratory-report 'data sheet 4'").fine();
    let said = office
        .say(
            "add fluid-sample --moment before --acid-number '2.6 mg KOH/g' --viscosity-40 24,0mm2/s --water 0.09% \
             --particles-4 2600/mL --particles-6 640 --particles-14 80 --crackle growing --laboratory-report L-77",
        )
        .fine();
    let plain = said.out.replace('\u{a0}', " ");
    for understood in
        ["acid number 2.6 mg KOH/g", "viscosity 40 24.0 mm²/s", "water 0.09 % = 900", "particles 4 2600 /mL"]
    {
        assert!(plain.contains(understood), "'{understood}' is missing in {plain}");
    }
    let after = side(&office);
    assert_eq!(after["rule"], Value::from(2), "water by the hot plate is enough alone");
    let line = |kind: &str| {
        let lines = after["lines"].as_array().unwrap();
        lines.iter().find(|line| line["kind"] == kind).unwrap_or_else(|| panic!("{kind}: {after}")).clone()
    };
    let acid = line("acid_number");
    assert_eq!(
        (&acid["speaks_for"], &acid["why"]),
        (&Value::from("says nothing"), &Value::from("no limit is stated"))
    );
    let rise =
        acid["values"].as_array().unwrap().iter().find(|value| value["name"] == "acid_number_rise").unwrap();
    assert!((rise["value"].as_f64().unwrap() - 1.7).abs() < 1e-9 && rise["unit"] == "mg KOH/g", "{rise}");
    assert!(line("particles")["seen"].as_str().unwrap().contains("code 19/16/13"), "ISO 4406:2021, table 1");
    let shown = office.say("show").fine().out.replace(['\u{a0}', '\u{202f}'], " ");
    for part in [
        "Condition of the fluid",
        "Before the service: Smell: slightly sharp – for changing it – comes with oxidised or overheated fluid",
        "(rule 2: two kinds",
        "This speaks for changing it (rule 2",
        "Stated after the job was closed: Sample before the service: laboratory report L-77",
    ] {
        assert!(shown.contains(part), "'{part}' is missing in\n{shown}");
    }
}

#[test]
fn what_is_outside_its_bounds_or_alone_is_refused_by_field_value_and_bound() {
    let (shop, office) = closed();
    let before = shop.entries();
    for (flags, wanted) in [
        ("--viscosity-40 1001mm2/s --laboratory-report L-1", "1001 is outside 1 to 1000 mm²/s"),
        ("--acid-number 21 --laboratory-report L-1", "21 is outside 0 to 20 mg KOH/g"),
        ("--water 6% --laboratory-report L-1", "60000 is outside 0 to 50000 mg/kg"),
        ("--particles-14 10000001 --laboratory-report L-1", "10000001 is outside 0 to 10000000 per mL"),
        (
            "--viscosity-40 24mm2/s",
            "a laboratory's figure needs the number of its report, 1 to 40 characters",
        ),
        (
            "--viscosity 8.5mm2/s --laboratory-report L-1",
            "a viscosity and its temperature are given together",
        ),
        (
            "--viscosity-40 5mm2/s --viscosity-100 30mm2/s --laboratory-report L-1",
            "is not below the viscosity at 40 °C",
        ),
        (
            "--viscosity-40 30mm2/s --viscosity 31mm2/s --viscosity-temperature 40°C --laboratory-report L-1",
            "for which a viscosity is given already",
        ),
        ("--same-light yes", "the same light is said of a photo's colour"),
        ("--sample-colour red", "is no colour written as #rrggbb"),
        ("--white-colour '#f0f0f0'", "a white sheet says nothing without the fluid beside it"),
    ] {
        let refused = office.say(&format!("add fluid-sample --moment before {flags}")).ended(65);
        assert!(refused.err.replace('\u{a0}', " ").contains(wanted), "{flags}: {}", refused.err);
    }
    assert_eq!(shop.entries(), before, "nothing was kept");
}
