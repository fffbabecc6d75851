//! One job from the founding of the site to its record.

use super::{COMPARED, HOOKED_UP, LOOKED_AT, SETTLED};
use standpipe_tests::programs;
use standpipe_tests::shop::{Home, Shop};

/// States facts, one a line; each must be sent at once.
#[track_caller]
fn state(station: &Home, lines: &[&str]) {
    for line in lines {
        let said = station.say(line).fine();
        assert!(said.out.contains("place ") && said.out.contains(" in the journal"), "{}", said.out);
        assert_eq!(said.err, "", "{line}");
    }
}

const EXCHANGE: [&str; 5] = [
    "add exchange-reading --volume-in 0.0L",
    "add exchange-reading --volume-in 3.0L --tube 25%",
    "add exchange-reading --volume-in 6.0L --tube 50%",
    "add exchange-reading --volume-in 9.0L --tube 75%",
    "add exchange-reading --volume-in 12.0L --tube 75% --volume-out 11.9L --temperature 62°C --last",
];

/// What follows the look at the old filter, up to the refilled transmission.
const PAN_ON: [&str; 4] = [
    "add part-checked --part standpipe --code SP-68",
    "add part-checked --part old-filter --code F8-20",
    "add part-fitted --kit K8-II --fitted filter --fitted pan-seal --fitted magnets --fitted pan-screws --lot K-0417",
    "add tightening --group pan --screw-count 13 --new-screw-count 13 --torque 9N·m --order-kept yes --tool TW-2",
];

/// After the level was set.
const FINISHED: [&str; 4] = [
    "add fault-codes --moment after --state none --adaptation-done yes",
    "add road-test --moment after --ticks normal --warmth warm",
    "add fluid-sample --moment after --place cooler-line --colour as-fresh --clouding clear --smell as-fresh",
    "add waste --kind used-fluid --volume 15.4L --container W-2",
];

/// Facts that the whole path below states, function by function.
const STATED: u64 = (2 + 2 + 5 + 1 + 2 + 3) + (5 + 2 + 4) + (4 + 2 + 2 + 3 + 2 + 4 + 1);

#[test]
fn a_whole_job_goes_from_the_command_line_into_the_journal_and_out_as_a_record() {
    let shop = Shop::open();
    let before = shop.entries();
    let office = shop.station("office", "B");
    let bay = shop.station("bay-1", "A");
    identified(&office, &bay);
    exchanged_and_corrected(&office, &bay);
    levelled_and_closed(&bay);
    let json = shown(&office);
    assert_eq!(json["entry_count"], STATED);
    assert_eq!(shop.entries(), before + STATED, "the journal holds what was stated and nothing else");
    printed(&shop, &[&office, &bay], json["check_value"].as_str().unwrap());

    // What the journal holds is the same after a restart.
    shop.close();
    shop.serve();
    shop.join(&office);
    assert_eq!(office.say("show --output json").fine().json(), json);
    shop.close();
    assert!(shop.verb("verify").fine().out.contains("every entry of the journal is as it was written"));
}

/// No variant, no go-ahead; the wrong fluid stops; the right one goes.
fn identified(office: &Home, bay: &Home) {
    // The office opens the job; the bay takes it by the end of its number.
    let opened =
        office.say("open 'PH 482 K' --odometer 118240km --reason harsh-change --maker Tarnwick --model Marl");
    assert!(opened.fine().out.contains("-0001 PH 482 K: arrival, plate PH 482 K, odometer 118240"));
    state(office, &["add vin-reading --vin 'AZTWA8M4 7LA042317' --source papers"]);
    assert!(bay.say("use 1").fine().out.contains("PH 482 K: what is added next belongs to it"));

    let unsettled = bay.say("may exchange").ended(1);
    assert!(unsettled.out.contains("no go-ahead for exchange"), "{}", unsettled.out);
    state(bay, &SETTLED);
    state(bay, &LOOKED_AT);
    state(bay, &["add part-checked --part fluid-container --code BR-861 --lot L-1840 --read-by eye"]);
    for gate in ["exchange", "refill"] {
        let wrong = bay.say(&format!("may {gate}")).ended(1);
        assert!(wrong.out.contains("BR-861") && wrong.out.contains("Linden"), "{}", wrong.out);
        assert!(wrong.out.contains("Nobody can override this."), "{}", wrong.out);
    }
    state(bay, &COMPARED);
    let not_hooked_up = bay.say("may exchange").ended(1);
    assert!(!not_hooked_up.out.contains("Nobody can override this."), "{}", not_hooked_up.out);
    state(bay, &HOOKED_UP);
    let yes = bay.say("may exchange").fine();
    assert!(
        yes.out.contains("yes, go-ahead for exchange at ") && yes.out.contains("It ends with the next entry")
    );
    assert!(yes.out.contains("Fluid Linden"), "what a yes rests on is said: {}", yes.out);
}

/// A bay puts an entry right by its place in the journal, the office withdraws one.
fn exchanged_and_corrected(office: &Home, bay: &Home) {
    bay.say("may pan").ended(1);
    state(bay, &EXCHANGE);
    state(
        bay,
        &[
            "add condition-confirmed --conditions engine-off --conditions line-closed",
            "add caution-read --group pan-and-hot",
        ],
    );
    granted(bay, "pan");
    state(bay, &["add drain --place pan --mass 3.30kg --means scale --debris fine-grey-paste"]);
    let drained = bay.say("unsent --sent --output json").fine().json();
    let drained = drained["sent"].as_array().unwrap().last().unwrap().clone();
    assert_eq!(drained["kind"], "drain");
    let seq = drained["seq"].as_u64().unwrap();

    let correction =
        format!("correct {seq} drain --place pan --mass 3.05kg --means scale --debris fine-grey-paste");
    state(bay, &[&format!("{correction} --reason 'scale had the tray on it'")]);
    state(bay, &["add temperature-reading --temperature 21°C --place fresh-fluid --means thermometer"]);
    let story = office.say("show --output json").fine().json();
    let reading =
        story["story"].as_array().unwrap().iter().find(|line| line["kind"] == "temperature_reading").unwrap();
    let withdraw = format!("correct {} --withdraw --reason 'belongs to another vehicle'", reading["seq"]);
    state(office, &[&withdraw]);
}

fn levelled_and_closed(bay: &Home) {
    bay.say("may refill").ended(1);
    state(bay, &PAN_ON);
    granted(bay, "refill");
    state(
        bay,
        &[
            "add fill --purpose refill --mass 3.07kg --means scale --fluid-code LN-847 --lot L-2209",
            "add condition-confirmed --conditions tools-and-people-clear",
        ],
    );
    granted(bay, "start-engine");
    state(
        bay,
        &[
            "add caution-read --group gears-and-level",
            "add gear-cycle --driver-person-code A --nobody-under-vehicle yes",
        ],
    );
    let look = |celsius: &str, seen: &str| {
        format!(
            "add level-check --temperature {celsius}°C --means scan-tool --overflow {seen} --engine-idling yes \
             --vehicle-level yes --selector park"
        )
    };
    state(bay, &[&look("61", "stream")]);
    bay.say("may level").ended(1);
    state(bay, &["add temperature-reading --temperature 43°C --place transmission-fluid --means scan-tool"]);
    granted(bay, "level");
    state(bay, &[&format!("{} --caught 0.12L", look("43", "drops"))]);
    state(
        bay,
        &[
            "add plug-closed --seal-new yes --plug-new yes --torque 22N·m --tool TW-2",
            "add leak-check --found dry --line-closed yes",
        ],
    );
    granted(bay, "road-test");
    state(bay, &FINISHED);
    granted(bay, "close");
    state(bay, &["add closing --outcome done --odometer 118254km"]);
}

/// A yes is one, says when it ends, and names the usual cautions.
#[track_caller]
fn granted(bay: &Home, gate: &str) {
    let yes = bay.say(&format!("may {gate}")).fine();
    assert!(yes.out.contains(&format!("yes, go-ahead for {gate} at ")), "{}", yes.out);
    assert!(yes.out.contains("It ends with the next entry"), "{}", yes.out);
}

/// The job in words and for programs.
fn shown(office: &Home) -> serde_json::Value {
    let shown = office.say("show").fine();
    for part in [
        "PH 482 K, AZTWA8M47LA042317, Alder-8, second series, closed",
        "scale had the tray on it",
        "belongs to another vehicle",
        "Code BR-861 on the fluid container was seen first",
        "New fluid inside after pan and refill",
        "check value ",
    ] {
        assert!(shown.out.contains(part), "{part} is missing in\n{}", shown.out);
    }
    let json = office.say("show --output json").fine().json();
    // By hand, at 15 °C: 11.9 L at 62 °C × 0.96491, 3.05 kg / 0.847 kg/L, 0.25 L with parts, 0.12 L at 43 °C × 0.979.
    // With the 3.30 kg that were put right it would be 15.75 L.
    let out = json["figures"].as_array().unwrap().iter().find(|figure| figure["key"] == "fluid_out").unwrap();
    assert!((out["value"].as_f64().unwrap() - 15.450).abs() < 0.005, "{out}");
    json
}

/// The record carries the check value of the job; whoever prints it gets the same bytes.
fn printed(shop: &Shop, stations: &[&Home], check_value: &str) {
    let file = shop.path("record.pdf");
    let printed = stations[0].say(&format!("record -o '{}'", file.display())).fine();
    assert_eq!((check_value.len(), printed.out.contains(check_value)), (16, true), "{}", printed.out);
    let pdf = std::fs::read(&file).unwrap();
    assert!(pdf.starts_with(b"%PDF-1.7"));
    for station in stations {
        assert!(station.say("record 1 --file -").fine().bytes == pdf, "other bytes on the standard output");
    }
    if let Some(qpdf) = programs::tool("qpdf") {
        let checked = std::process::Command::new(qpdf).arg("--check").arg(&file).output().unwrap();
        assert!(checked.status.success(), "{}", String::from_utf8_lossy(&checked.stdout));
    }
}

#[test]
fn a_job_without_exchange_is_closed_so_and_says_it() {
    let shop = Shop::open();
    let office = shop.station("office", "B");
    state(&office, &["open 'QR 207 T' --reason leak", "add closing --outcome no-exchange-done"]);
    let shown = office.say("show").fine();
    assert!(
        shown.out.contains("closed") && shown.out.contains("No fluid was pushed through."),
        "{}",
        shown.out
    );
    assert!(office.say("jobs").fine().out.contains("no open jobs"));
    assert!(office.say("jobs --all").fine().out.contains("QR 207 T"));
}

#[test]
fn a_station_whose_right_was_taken_back_keeps_its_facts_until_a_code_lets_it_in_again() {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    state(&bay, &["open 'PH 482 K'"]);
    shop.close();
    assert!(shop.verb("station revoke bay-1").fine().out.contains("is revoked"));
    assert!(shop.verb("station revoke bay-1").refused(65).contains("revoked already"));
    let before = shop.entries();
    shop.serve();
    let address = shop.address();
    // The token is no longer good: neither to join again nor, with the address written by hand, to send.
    bay.fed(&format!("join {address} -"), shop.token("bay-1")).refused(77);
    let file = bay.path.join("station.toml");
    let text = std::fs::read_to_string(&file).unwrap();
    let old = text.lines().find(|line| line.starts_with("address")).unwrap();
    std::fs::write(&file, text.replace(old, &format!("address = \"http://{address}\""))).unwrap();
    let said = bay.say("add drain --place pan --mass 3.05kg").ended(77);
    assert!(said.out.contains("kept unsent (1 waiting)"), "{}", said.out);
    said.one_line();
    assert_eq!((bay.unsent_files().len(), shop.entries()), (1, before));
    bay.say("may exchange").refused(77);
    // A code lets the same station in again, and what it kept arrives.
    let line = shop.verb("station code bay-1").fine();
    bay.say(&format!("join {}", line.line())).fine();
    bay.say("send").fine();
    assert_eq!(
        (bay.unsent_files().len(), shop.entries()),
        (0, before + 2),
        "the fact, and that it is let in again"
    );
}
