//! Colours: the sRGB chain at its printed constants, and every pair of the published difference table that we have.

use serde_json::Value;
use standpipe_engine::formula::colour::{LabColour, difference, lab, linear, xyz};

use super::{Table, near, number};

fn triple(row: &Value, key: &str) -> [f64; 3] {
    [0, 1, 2].map(|at| row[key][at].as_f64().unwrap_or_else(|| panic!("{}: {key}", row["id"])))
}

fn colour([lightness, a, b]: [f64; 3]) -> LabColour {
    LabColour { lightness, a, b }
}

#[test]
fn srgb_becomes_light_and_lab_as_in_the_table() {
    let table = Table::read("srgb_xyz_lab");
    let mut checked = 0;
    for row in table.cases() {
        let srgb = [0, 1, 2].map(|at| {
            let value = row["srgb8"][at].as_u64().expect("a value");
            u8::try_from(value).expect("0 to 255")
        });
        let found = lab(srgb);
        for (what, found, key, tolerance) in [
            ("linear", srgb.map(linear), "linear", "tol_linear"),
            ("XYZ", xyz(srgb), "XYZ", "tol_XYZ"),
            ("L*a*b*", [found.lightness, found.a, found.b], "Lab", "tol_Lab"),
            // Another library has a matrix of four digits.
            ("L*a*b*", [found.lightness, found.a, found.b], "Lab_library", "tol_Lab_library"),
        ] {
            for (found, expected) in found.into_iter().zip(triple(row, key)) {
                near(row, what, found, expected, number(row, tolerance));
            }
        }
        checked += 1;
    }
    assert_eq!(checked, 16);
}

#[test]
fn differences_equal_the_published_pairs() {
    let table = Table::read("ciede2000_sharma34");
    let mut checked = 0;
    for row in table.cases() {
        let (one, other) = (colour(triple(row, "lab1")), colour(triple(row, "lab2")));
        let found = difference(one, other).expect("a number");
        near(row, "published", found, number(row, "dE00_published"), number(row, "tol_published"));
        near(row, "library", found, number(row, "dE00_library"), number(row, "tol_library"));
        let back = difference(other, one).expect("a number");
        near(row, "the other way round", back, number(row, "dE00_published"), number(row, "tol_published"));
        checked += 1;
    }
    // The file has 26 of the 34 published pairs.
    assert_eq!(checked, 26);
}
