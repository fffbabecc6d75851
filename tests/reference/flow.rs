//! Ways of flowing, procedures, and the mixing of colours.

use standpipe_engine::formula::colour::linear;
use standpipe_engine::formula::flow::{
    ALL_OLD, Flow, Plug, ShortPath, Tanks, TwoCompartments, litres_to_mean, litres_to_outlet,
};
use standpipe_engine::formula::mixing::{References, mixed};
use standpipe_engine::formula::sequence::{drains_to, old_after_drains};

use super::{Table, near, number, numbers, text};

#[test]
fn tanks_in_a_row_equal_the_table() {
    let table = Table::read("exchange_tanks");
    let mut counted = [0; 4];
    for row in table.cases() {
        let kind = text(row, "kind");
        let tolerance = number(row, "tol");
        if kind == "plug" {
            let plug = Plug::new(number(row, "V")).expect("a fill");
            near(row, "outlet", plug.outlet(number(row, "v")), number(row, "old_outlet"), tolerance);
            near(row, "mean", plug.mean(number(row, "v")), number(row, "old_mean"), tolerance);
            counted[0] += 1;
            continue;
        }
        let tanks = Tanks::new(number(row, "V"), number(row, "n")).expect("tanks");
        if kind == "tanks_need" {
            let old = 1.0 - number(row, "target_new");
            let to_outlet = litres_to_outlet(&tanks, old).expect("reached");
            near(row, "to outlet", to_outlet, number(row, "v_outlet"), tolerance);
            near(
                row,
                "to mean",
                litres_to_mean(&tanks, old).expect("reached"),
                number(row, "v_mean"),
                tolerance,
            );
            counted[1] += 1;
            continue;
        }
        counted[if kind == "gamma_rtd" { 2 } else { 3 }] += 1;
        assert!(matches!(kind, "gamma_rtd" | "tanks_in_series"), "{}: '{kind}'", row["id"]);
        near(row, "outlet", tanks.outlet(number(row, "v")), number(row, "old_outlet"), tolerance);
        near(row, "mean", tanks.mean(number(row, "v")), number(row, "old_mean"), tolerance);
    }
    assert_eq!(counted, [3, 7, 5, 27]);
}

#[test]
fn litres_to_an_outlet_share_equal_the_printed_table_of_chi_square() {
    let table = Table::read("tanks_chi2_table");
    for row in table.cases() {
        let tanks = Tanks::new(1.0, number(row, "n")).expect("tanks");
        let theta = litres_to_outlet(&tanks, number(row, "old_outlet")).expect("reached");
        near(row, "theta", theta, number(row, "theta"), number(row, "tol_theta"));
        near(row, "exact", theta, number(row, "theta_exact"), 1e-9);
    }
    assert_eq!(table.cases().len(), 14);
}

#[test]
fn two_compartments_equal_the_table() {
    let table = Table::read("exchange_two_compartment");
    let (mut washed, mut needed) = (0, 0);
    for row in table.cases() {
        let tolerance = number(row, "tol");
        let flow = TwoCompartments::new(number(row, "Va"), number(row, "Vd"), number(row, "kappa"));
        let flow = flow.expect("compartments");
        if text(row, "kind") == "two_need" {
            let found = litres_to_mean(&flow, 1.0 - number(row, "target_new"));
            match row["v_mean"].as_f64() {
                Some(litres) => near(row, "litres", found.expect("reached"), litres, tolerance),
                None => assert_eq!(found, None, "{}", row["id"]),
            }
            needed += 1;
            continue;
        }
        let after = flow.from_start(ALL_OLD, number(row, "v"));
        near(row, "outlet", after.flowing, number(row, "old_outlet"), tolerance);
        near(row, "slow part", after.slow, number(row, "old_dead"), tolerance);
        near(row, "mean", flow.whole(after), number(row, "old_mean"), tolerance);
        near(row, "slow rate", flow.rates().0, number(row, "lambda1"), tolerance);
        near(row, "fast rate", flow.rates().1, number(row, "lambda2"), tolerance);
        washed += 1;
    }
    assert_eq!((washed, needed), (27, 7));
}

#[test]
fn a_short_path_equals_the_table() {
    let table = Table::read("exchange_bypass");
    for row in table.cases() {
        let tanks = Tanks::new(number(row, "V"), number(row, "n")).expect("tanks");
        let flow = ShortPath::new(number(row, "beta"), tanks).expect("a share");
        let tolerance = number(row, "tol");
        // Before the first litre nothing has returned: the table's outlet at 0 is 1 less the share that will.
        near(row, "outlet", flow.outlet(number(row, "v")), number(row, "old_outlet"), tolerance);
        near(row, "mean", flow.mean(number(row, "v")), number(row, "old_mean"), tolerance);
    }
    assert_eq!(table.cases().len(), 18);
}

#[test]
fn drains_and_fills_equal_the_table() {
    let table = Table::read("exchange_drain_fill");
    let (mut shares, mut needs) = (0, 0);
    for row in table.cases() {
        let part = number(row, "f");
        if text(row, "kind") == "drain_fill_need" {
            let needed = drains_to(part, number(row, "target_new")).map(f64::from);
            assert_eq!(needed, Some(number(row, "n_min")), "{}", row["id"]);
            needs += 1;
        } else {
            let times = row["n"].as_u64().and_then(|times| u32::try_from(times).ok()).expect("a count");
            let old = old_after_drains(part, times);
            near(row, "old", old, number(row, "old"), number(row, "tol"));
            near(row, "new", 1.0 - old, number(row, "new"), number(row, "tol"));
            shares += 1;
        }
    }
    assert_eq!((shares, needs), (12, 4));
}

#[test]
fn colours_of_mixtures_equal_the_table() {
    let table = Table::read("beer_lambert_mixing");
    for row in table.cases() {
        let channels = |key: &str| {
            let values: Vec<f64> = numbers(row, key);
            [values[0], values[1], values[2]]
        };
        let sample = |key: &str| channels(key).map(|value| linear(value as u8));
        let references = References {
            before: sample("srgb_old"),
            fresh: sample("srgb_new"),
            standard_uncertainty: number(row, "sigma_T"),
        };
        let seen = channels("T_linear");
        let read = mixed(&references, seen).expect("fluids that differ");
        let tolerance = number(row, "tol");
        near(row, "old share", read.old_share, number(row, "old_fraction"), tolerance);
        near(row, "uncertainty", read.standard_uncertainty, number(row, "u_old_fraction"), tolerance);
        assert!(read.explained && !read.saturated, "{}", row["id"]);
        for (transmittance, absorbance) in seen.iter().zip(channels("absorbance")) {
            near(row, "absorbance", -transmittance.log10(), absorbance, tolerance);
        }
    }
    assert_eq!(table.cases().len(), 6);
}
