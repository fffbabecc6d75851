//! Volume and temperature: the short form at 15 °C.

use standpipe_engine::formula::volume::{correction_to_15, density_at, volume_at_15};
use standpipe_engine::quantity::{Celsius, Estimate, KilogramsPerCubicMetre};

use super::{Table, near, number, text};

#[test]
fn corrections_of_lubricating_oil_equal_table_54d() {
    let table = Table::read("api_mpms_11_1_ctl");
    let (mut checked, mut other_procedure) = (0, 0);
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
                // The full procedure of 2004 is not in the engine; the short form stays within 6.8e-6 of it.
                near(row, "VCF, full procedure", found, number(row, "vcf15_full"), 6.8e-6);
                let litre = volume_at_15(Estimate::known(1.0, 0.0), Estimate::known(celsius, 0.0), density);
                near(row, "V15 of one litre", litre.value, found, 1e-15);
                let warm = density_at(density, Celsius::new(celsius).expect("inside the range"));
                near(row, "density", warm, density.get() * expected, 1e-8);
                checked += 1;
            }
            // Other groups and the Fahrenheit form of the full procedure, which the engine does not have.
            "published_example" | "lubricating_60F" => other_procedure += 1,
            unknown => panic!("{}: unknown kind '{unknown}'", row["id"]),
        }
    }
    assert_eq!((checked, other_procedure), (45, 16));
}
