//! Screws and torque tools: order round the ring, units, deviation, due dates.

use jiff::civil::Date;
use serde_json::Value;
use standpipe_engine::formula::screw_order::ring_order;
use standpipe_engine::formula::torque_tool::{
    Standing, Unusable, deviation_percent, due_on, is_inside, unusable,
};
use standpipe_engine::formula::torque_units::TorqueUnit;
use standpipe_proto::typed::{Quantity, read};

use super::{Table, near, number, numbers, text};

#[test]
fn every_ring_of_the_table_gets_the_table_s_order() {
    let table = Table::read("shop_screw_sequence");
    for row in table.cases() {
        let count: u32 = serde_json::from_value(row["screws"].clone()).expect("a count");
        let order: Vec<f64> = ring_order(count).into_iter().map(f64::from).collect();
        assert_eq!(order, numbers(row, "order"), "{}", row["id"]);
    }
    assert_eq!(table.cases().len(), 17);
}

#[test]
fn every_torque_of_the_table_is_the_same_in_the_other_units() {
    let table = Table::read("shop_torque_units");
    for row in table.cases() {
        let torque = number(row, "nm");
        let units = [
            ("lbf_ft", TorqueUnit::PoundForceFoot),
            ("lbf_in", TorqueUnit::PoundForceInch),
            ("kgf_m", TorqueUnit::KilogramForceMetre),
        ];
        for (key, unit) in units {
            // Nine decimals are printed.
            near(row, key, unit.of(torque), number(row, key), 1e-9 * number(row, key).max(1.0));
            // What a station reads is the same torque again.
            let word = unit.symbol();
            let typed = read(&format!("{:.6} {word}", number(row, key)), Quantity::Torque).expect("a torque");
            near(row, key, typed.value, torque, 1e-5 * torque.max(1.0));
        }
    }
    assert_eq!(table.cases().len(), 9);
}

#[test]
fn every_deviation_of_the_table_is_computed_and_judged_as_the_table_does() {
    let table = Table::read("shop_torque_tool_deviation");
    for row in table.cases() {
        let deviation = deviation_percent(number(row, "set_or_shown_nm"), number(row, "reference_nm"));
        near(row, "deviation", deviation, number(row, "deviation_pct"), 5.1e-7);
        let inside = row["inside"].as_bool().expect("yes or no");
        assert_eq!(is_inside(deviation, number(row, "limit_pct")), inside, "{}", row["id"]);
    }
    assert_eq!(table.cases().len(), 9);
}

#[test]
fn every_tool_of_the_table_is_due_as_the_table_says_and_for_its_reasons() {
    let day =
        |row: &Value, key: &str| -> Option<Date> { row[key].as_str().map(|day| day.parse().expect("a day")) };
    let table = Table::read("shop_torque_tool_due");
    for row in table.cases() {
        let due = day(row, "last_calibration").map(|checked| due_on(checked, 12));
        assert_eq!(due, day(row, "due_on"), "{}", row["id"]);
        let found = unusable(&Standing {
            due_on: due,
            day: text(row, "job_date").parse().expect("a day"),
            uses: number(row, "cycles_since"),
            uses_most: 5_000.0,
            overloaded: row["overloaded"].as_bool().expect("yes or no"),
        });
        let word = |why: Unusable| match why {
            Unusable::NeverChecked => "never calibrated",
            Unusable::Old => "older than 12 months",
            Unusable::Worn => "more than 5000 cycles",
            Unusable::Overloaded => "overloaded",
        };
        let reasons: Vec<Value> = found.into_iter().map(|why| Value::from(word(why))).collect();
        assert_eq!(Some(&reasons), row["reasons"].as_array(), "{}", row["id"]);
        assert_eq!(reasons.is_empty(), row["usable"].as_bool().expect("yes or no"), "{}", row["id"]);
    }
    assert_eq!(table.cases().len(), 8);
}
