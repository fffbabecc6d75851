//! Volume and temperature: the short form at 15 °C, and the full procedure with its published examples.

use serde_json::Value;
use standpipe_engine::formula::volume::{correction_to_15, density_at, volume_at_15};
use standpipe_engine::formula::volume_2004::{Group, correction, lubricating_to_15};
use standpipe_engine::quantity::{Celsius, Estimate, KilogramsPerCubicMetre};

use super::{Table, near, number, text};

#[test]
fn corrections_equal_table_54d_and_the_procedure_of_2004() {
    let table = Table::read("api_mpms_11_1_ctl");
    let (mut metric, mut published, mut fahrenheit) = (0, 0, 0);
    for row in table.cases() {
        match text(row, "kind") {
            "lubricating_metric" => {
                let density = KilogramsPerCubicMetre::new(number(row, "rho15")).expect("inside the range");
                let celsius = number(row, "tC");
                let expected = number(row, "vcf15_table54D_form");
                // Twelve digits are printed: from 1 on, half of the last one is more than the table's tolerance.
                let tolerance = number(row, "tol_54D") + if expected >= 1.0 { 5e-12 } else { 0.0 };
                let found = correction_to_15(density, Celsius::new(celsius).expect("inside the range"));
                near(row, "VCF", found, expected, tolerance);
                let (density_60, full) = lubricating_to_15(celsius, density.get()).expect("inside the range");
                near(row, "VCF, full procedure", full, number(row, "vcf15_full"), number(row, "tol_full"));
                near(row, "density at 60 °F", density_60, number(row, "rho60"), 5e-10);
                let coefficient =
                    correction(60.0, density_60, Group::LUBRICATING).expect("inside").coefficient;
                near(row, "α60", coefficient, number(row, "alpha60_perF"), 5e-16);
                near(row, "α15", 0.6278 / density.get(), number(row, "alpha15_perC"), 5e-15);
                // The short form stays near it.
                near(row, "VCF, both forms", found, number(row, "vcf15_full"), 6.8e-6);
                let litre = volume_at_15(Estimate::known(1.0, 0.0), Estimate::known(celsius, 0.0), density);
                near(row, "V15 of one litre", litre.value, found, 1e-15);
                let warm = density_at(density, Celsius::new(celsius).expect("inside the range"));
                near(row, "density", warm, density.get() * expected, 1e-8);
                metric += 1;
            }
            "published_example" => {
                let group = Group { k0: number(row, "K0"), k1: number(row, "K1"), k2: number(row, "K2") };
                let found =
                    correction(number(row, "tF"), number(row, "rho60"), group).expect("inside the range");
                for (what, found, key, tolerance) in [
                    ("t68", found.fahrenheit_68, "t68F", "tol_t68"),
                    ("ρ*", found.density_68, "rho68", "tol_rho68"),
                    ("α60", found.coefficient, "alpha60_perF", "tol_alpha"),
                    ("CTL", found.factor, "ctl", "tol_ctl"),
                ] {
                    near(
                        row,
                        what,
                        found,
                        number(row, key),
                        number(row, tolerance).max(half_digit(row, key)),
                    );
                }
                published += 1;
            }
            "lubricating_60F" => {
                let (celsius, density) = (number(row, "tF"), number(row, "rho60"));
                let found = correction(celsius, density, Group::LUBRICATING).expect("inside the range");
                near(row, "CTL", found.factor, number(row, "ctl"), number(row, "tol_ctl"));
                near(row, "CTL, five decimals", found.factor, number(row, "ctl_rounded"), 5e-6);
                // Without the shift of scales, as the table of 1980 does it at 60 °F.
                let (alpha, off) = (Group::LUBRICATING.k1 / density, celsius - 60.0);
                let simple = (-alpha * off * (1.0 + 0.8 * alpha * off)).exp();
                near(row, "CTL, simple", simple, number(row, "ctl_simple"), number(row, "tol_ctl"));
                fahrenheit += 1;
            }
            unknown => panic!("{}: unknown kind '{unknown}'", row["id"]),
        }
    }
    assert_eq!((metric, published, fahrenheit), (45, 5, 11));
}

/// Half of the twelfth digit, to which the table prints: sometimes more than its tolerance.
fn half_digit(row: &Value, key: &str) -> f64 {
    0.5 * 10.0_f64.powf(number(row, key).abs().log10().floor() - 11.0)
}
