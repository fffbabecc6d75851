//! The questions of the work as a technician meets them: the station's program in a pseudo-terminal, a served site,
//! one key after the other.
//!
//! How touches are counted: every key is one, digits, letters and Enter alike, from the first question at the bay to
//! the closed job. A comma or a unit's letter is a key too. What the office types when it books the vehicle (plate, 17
//! characters of the VIN, distance) is not the bay's and not in it.

mod offline;
mod order;
mod rules;
mod slips;
mod stop;
pub(crate) mod terminal;
mod whole_job;

use standpipe_tests::facts::VIN_SECOND_SERIES;
use standpipe_tests::shop::{Home, Shop};

/// A question as it stands on the terminal, and the keys that answer it; a line break is Enter.
type Answered = (&'static str, &'static str);

/// How many open points a gate waits for; record and handover come after the work, and no gate waits for them.
fn waiting(job: &serde_json::Value) -> usize {
    let points = job["open_points"].as_array().unwrap();
    points.iter().filter(|point| !point["gate"].as_str().unwrap_or_default().is_empty()).count()
}

/// A job that the office booked, taken by the bay; the distance is known unless it is left out.
fn booked(shop: &Shop, distance: &str) -> (Home, Home) {
    let office = shop.station("office", "B");
    let bay = shop.station("bay-1", "A");
    office
        .say(&format!("open 'PH 482 K' {distance} --reason harsh-change --maker Tarnwick --model Marl"))
        .fine();
    office.say(&format!("add vin-reading --vin {VIN_SECOND_SERIES} --source papers")).fine();
    bay.say("use 1").fine();
    (office, bay)
}

const KNOWN: &str = "--odometer 118240km";

/// Everything before the exchange.
const TO_THE_EXCHANGE: &[Answered] = &[
    ("Last 8 characters:", "LA042317\n"),
    ("What does the plate on the transmission say?", "1"),
    ("What is stored?", "1"),
    ("What do you feel?", "3\n"),
    ("The transmission is", "2"),
    ("Lift locked, arms on the maker’s points?", "1"),
    ("Fluid colour", "3"),
    ("Clouding", "2"),
    ("Smell", "3"),
    ("Specks in the fluid", "1"),
    ("Which code do you read on the container?", "2"),
    ("Lot:", "L-2209\n"),
    ("Which code do you read on the new filter?", "2"),
    ("Before a line is opened: read this.", "1"),
    ("Where is it connected, and which way does the fluid flow?", "1"),
    ("Before the engine runs: read this.", "1"),
];
/// The exchange with four looks.
const EXCHANGE: &[Answered] = &[
    ("What does the litre display show?", "1"),
    ("Litres pushed in so far (L):", "3\n"),
    ("Which comparison tube looks most like it?", "2"),
    ("Litres pushed in so far (L):", "6\n"),
    ("Which comparison tube looks most like it?", "3"),
    ("Litres pushed in so far (L):", "9\n"),
    ("Which comparison tube looks most like it?", "4"),
    ("Litres pushed in so far (L):", "12\n"),
    ("Which comparison tube looks most like it?", "4"),
    ("Was that the end of the exchange?", "2"),
    ("Litres that came out (L):", "11.9\n"),
];
/// The pan until it is closed and refilled with what ran out, and the gears.
const PAN: &[Answered] = &[
    ("Before the pan comes off: read this.", "1"),
    ("How much ran out (L or kg):", "3.05k\n"),
    ("What lies in the pan and on the magnets?", "2"),
    ("Which standpipe do you see?", "2"),
    ("Which code do you read on the old filter?", "2"),
    ("What is fitted new?", "1"),
    ("How were they tightened?", "1"),
    ("How much went in (kg or L):", "\n"),
    ("From which container?", "1"),
    ("Before gears and level: read this.", "1"),
    ("Who sits in the driver’s seat", "1"),
];
/// The level: too hot once, then drops.
const LEVEL: &[Answered] = &[
    ("Temperature of the fluid (°C):", "61\n"),
    ("61 °C is too hot", "43\n"),
    ("At the overflow you see", "2"),
    ("Engine idling, vehicle level, selector in P?", "1"),
    ("Fluid caught, if measured (L):", "0.12\n"),
];
/// From the plug to the end.
const TO_THE_END: &[Answered] = &[
    ("How was it closed?", "1"),
    ("What do you see?", "1"),
    ("What is stored?", "1"),
    ("What do you feel?", "1"),
    ("How much in all (L):", "\n"),
    ("How does it end?", "1"),
];

/// States by flags what the questions would ask before the exchange.
fn ready_to_push(bay: &Home) {
    for line in [
        "vin-reading --last-eight LA042317 --source body-plate",
        "variant-settled --variant-code A8-II --means catalogue-rule --transmission-plate-agrees yes",
        "fault-codes --moment before --state none",
        "road-test --moment before --ticks harsh --warmth warm",
        "caution-read --group lifted",
        "condition-confirmed --conditions lift-locked",
        "fluid-sample --moment before --colour brown --clouding hazy --smell burnt --specks none",
        "part-checked --part fluid-container --code LN-847 --lot L-2209 --read-by eye",
        "part-checked --part filter --code F8-20 --read-by eye",
        "caution-read --group line-opening",
        "hookup --place cooler-line --direction-tested yes",
        "caution-read --group engine-running",
    ] {
        bay.say(&format!("add {line}")).fine();
    }
}

/// The text that a person reads of a job, in one line.
fn shown(home: &Home) -> String {
    terminal::flat(&home.say("show 1").fine().out)
}

fn touches(parts: &[&[Answered]]) -> (usize, usize) {
    let all = parts.iter().flat_map(|part| part.iter());
    let keys = all.clone().map(|(_, keys)| keys.chars().count()).sum();
    (keys, all.count())
}
