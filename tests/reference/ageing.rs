//! Ageing with temperature: closed forms computed elsewhere.

use standpipe_engine::formula::ageing::{Assumption, Histogram, activation_energy};
use standpipe_engine::quantity::{Celsius, Share};

use super::{Table, near, number, text};

fn celsius(value: f64) -> Celsius {
    Celsius::new(value).expect("inside the range")
}

#[test]
fn rates_and_intervals_equal_the_closed_forms() {
    let table = Table::read("ageing_arrhenius");
    let mut counted = [0; 4];
    for row in table.cases() {
        let relative = number(row, "tol_rel");
        let check = |what: &str, found: Option<f64>, key: &str| {
            let expected = number(row, key);
            near(row, what, found.expect("a number"), expected, relative * expected);
        };
        let at = |key: &str| celsius(number(row, key));
        let kind = match text(row, "kind") {
            "Ea_from_factor" => {
                let energy = activation_energy(at("T"), number(row, "factor"), number(row, "dT"));
                check("energy", energy, "Ea_J_per_mol");
                0
            }
            "acceleration" => {
                let assumption = Assumption::ActivationEnergy(number(row, "Ea"));
                check("rate", assumption.acceleration(at("T"), at("Tref")), "factor");
                1
            }
            "doubling_rule" => {
                let assumption = Assumption::DoublesEvery(number(row, "step_K"));
                check("rate", assumption.acceleration(at("T"), at("Tref")), "factor");
                2
            }
            "histogram" => {
                let list = |key: &str| row[key].as_array().expect("a list").clone();
                let parts: Vec<(Celsius, Share)> = list("T")
                    .iter()
                    .zip(list("share"))
                    .map(|(t, share)| {
                        let share = Share::new(share.as_f64().expect("a share")).expect("inside 0 to 1");
                        (celsius(t.as_f64().expect("a temperature")), share)
                    })
                    .collect();
                let driven = Histogram::new(&parts).expect("a histogram");
                let energy = number(row, "Ea");
                check(
                    "mean kinetic temperature",
                    driven.mean_kinetic_celsius(energy),
                    "mean_kinetic_temperature",
                );
                let factor = driven.mean_factor(Assumption::ActivationEnergy(energy), at("Tref"));
                check("mean rate", factor, "mean_factor");
                let base = number(row, "base_interval_km");
                check("interval", factor.map(|factor| base / factor), "adjusted_interval_km");
                check("distance", factor.map(|factor| 30_000.0 * factor), "equivalent_km_after_30000");
                let doubling = driven.mean_factor(Assumption::DoublesEvery(10.0), at("Tref"));
                check("mean rate by doubling", doubling, "doubling_mean_factor");
                3
            }
            unknown => panic!("{}: unknown kind '{unknown}'", row["id"]),
        };
        counted[kind] += 1;
    }
    assert_eq!(counted, [4, 6, 3, 3]);
}
