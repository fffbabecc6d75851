//! Viscosity over temperature and viscosity index: worked examples of the standards, and another package.

use serde_json::Value;
use standpipe_engine::formula::viscosity::{Form, Line};
use standpipe_engine::formula::viscosity_index::{Procedure, viscosity_index};
use standpipe_engine::quantity::Celsius;

use super::{Table, near, number, text};

#[test]
fn viscosities_lie_on_the_line_of_the_standard() {
    let table = Table::read("d341_walther");
    let (mut worked, mut computed) = (0, 0);
    for row in table.cases() {
        // The worked sheet counts from 273, the standard from 273.15: the same line, 0.15 K aside.
        let shift = number(row, "kelvin_offset") - 273.15;
        let at = |key: &str| Celsius::new(number(row, key) + shift).expect("inside the range");
        let (first, second) = ((at("t1"), number(row, "v1")), (at("t2"), number(row, "v2")));
        let line = Line::through(Form::Simple, first, second).expect("a line");
        let (a, b) = line.coefficients();
        let found = line.at(at("t")).expect("inside the form");
        let (t, v) = (number(row, "t"), number(row, "v"));
        assert_eq!(found.continued, !(40.0..=100.0).contains(&t), "{}", row["id"]);
        match text(row, "kind") {
            "published_worked" => {
                near(row, "A", a, number(row, "A"), number(row, "tol_A"));
                near(row, "B", b, number(row, "B"), number(row, "tol_B"));
                near(row, "ν", found.viscosity, v, number(row, "tol_v"));
                worked += 1;
            }
            "interp_07" => {
                let relative = number(row, "tol_rel");
                near(row, "A", a, number(row, "A"), relative * number(row, "A"));
                near(row, "B", b, number(row, "B"), relative * number(row, "B"));
                near(row, "ν", found.viscosity, v, relative * v);
                let back = line.temperature_of(found.viscosity).expect("inside the form");
                near(row, "t", back.get(), t, 1e-8);
                computed += 1;
            }
            unknown => panic!("{}: unknown kind '{unknown}'", row["id"]),
        }
    }
    assert_eq!((worked, computed), (1, 32));
}

#[test]
fn viscosity_indices_equal_the_worked_examples_and_another_package() {
    let table = Table::read("d2270_vi");
    let (mut defined, mut undefined) = (0, 0);
    for row in table.cases() {
        let found = viscosity_index(number(row, "v40"), number(row, "v100"));
        if text(row, "kind") == "undefined" {
            assert_eq!(found, None, "{}", row["id"]);
            undefined += 1;
            continue;
        }
        let found = found.expect("an index");
        near(row, "reported index", found.rounded(), number(row, "VI_rounded"), 0.0);
        // Where the sheet prints no decimals, the whole number is all there is.
        let printed = row["VI"].as_f64().unwrap_or(number(row, "VI_rounded"));
        near(row, "index", found.value, printed, number(row, "tol"));
        match row["procedure"].as_str() {
            Some("A") => assert_eq!(found.procedure, Procedure::A, "{}", row["id"]),
            Some("B") => assert_eq!(found.procedure, Procedure::B, "{}", row["id"]),
            _ => {}
        }
        // Half of the last printed digit, which H of the second example lies on.
        for (what, value) in [("L", found.l), ("H", found.h)] {
            if let Some(printed) = row[what].as_f64() {
                near(row, what, value, printed, 0.005 + 1e-12);
            }
        }
        if let Some(printed) = row["N"].as_f64() {
            // The sheet computes N with H rounded to two decimals: half of that in log₁₀, and half a digit.
            let n = (found.h / number(row, "v40")).log10() / number(row, "v100").log10();
            near(row, "N", n, printed, 0.005 / found.h / 10.0_f64.ln() / number(row, "v100").log10() + 5e-6);
        }
        defined += 1;
    }
    assert_eq!((defined, undefined), (33, 1));
}

#[test]
fn the_reference_oils_equal_every_row_of_the_table() {
    let table = Table::read("d2270_table_LH");
    let rows = table.content["rows"].as_array().expect("rows");
    let value = |row: &Value, at: usize| row[at].as_f64().expect("a number");
    for row in rows {
        let (y, l, h) = (value(row, 0), value(row, 1), value(row, 2));
        // An oil of index 0 and one of index 100, as the table defines them.
        let (poor, good) = (viscosity_index(l, y).expect("index"), viscosity_index(h, y).expect("index"));
        for (what, found, expected) in [("L", poor.l, l), ("H", poor.h, h)] {
            assert!((found - expected).abs() <= 1e-12 * expected, "{y}: {what} is {found}, not {expected}");
        }
        assert!(poor.value.abs() < 1e-9 && (good.value - 100.0).abs() < 1e-9, "{y}");
    }
    assert_eq!(rows.len(), 311);
}
