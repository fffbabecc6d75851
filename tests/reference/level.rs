//! Level and temperature: expansion, drip, and the curve of warming and cooling with and without a prior.

use serde_json::Value;
use standpipe_engine::formula::overflow::{
    drop_millilitres, expansion_coefficient, expansion_flow, layer_millilitres, volume_off,
};
use standpipe_engine::formula::temperature_curve::{Curve, Prior, Reading, fit};
use standpipe_engine::quantity::{Celsius, KilogramsPerCubicMetre, Litres};

use super::{Table, near, number, text};

fn celsius(row: &Value, key: &str) -> Celsius {
    Celsius::new(number(row, key)).expect("inside the range")
}

fn density(row: &Value) -> KilogramsPerCubicMetre {
    KilogramsPerCubicMetre::new(number(row, "rho15")).expect("inside the range")
}

fn readings(row: &Value) -> Vec<Reading> {
    let list = |key: &str| row[key].as_array().expect("a list").iter().filter_map(Value::as_f64);
    let pairs = list("t").zip(list("T"));
    pairs
        .map(|(minutes, celsius)| Reading {
            minutes,
            celsius: Celsius::new(celsius).expect("inside the range"),
        })
        .collect()
}

#[test]
fn expansion_drip_and_curves_equal_the_table() {
    let table = Table::read("level_temperature");
    let mut counted = [0; 6];
    for row in table.cases() {
        let kind = match text(row, "kind") {
            "wrong_temperature" => wrong_temperature(row),
            "expansion_overflow" => expansion_overflow(row),
            "height_to_volume" => {
                let found = layer_millilitres(number(row, "dh_mm"), number(row, "free_surface_m2"));
                near(row, "layer", found, number(row, "ml"), number(row, "tol"));
                2
            }
            "drop_tate" => {
                let (radius, tension) = (number(row, "radius_m"), number(row, "surface_tension"));
                let found = drop_millilitres(radius, tension, number(row, "rho"), number(row, "factor"));
                near(row, "drop", found.expect("a drop"), number(row, "drop_ml"), number(row, "tol"));
                3
            }
            "newton" => newton(row),
            "newton_fit" => newton_fit(row),
            unknown => panic!("{}: unknown kind '{unknown}'", row["id"]),
        };
        counted[kind] += 1;
    }
    assert_eq!(counted, [6, 3, 2, 1, 3, 3]);
}

fn wrong_temperature(row: &Value) -> usize {
    let volume = Litres::new(number(row, "V_at_check")).expect("inside the range");
    let (checked, stated) = (celsius(row, "t_check"), celsius(row, "t_spec"));
    let found = volume_off(volume, density(row), checked, stated);
    near(row, "volume off", found, number(row, "volume_change_on_reaching_spec_L"), number(row, "tol"));
    // The table's linear estimate has the plain coefficient of 15 °C.
    let plain = expansion_coefficient(density(row), Celsius::new(15.0).expect("inside the range"));
    let linear = volume.get() * plain * (stated.get() - checked.get());
    near(row, "linear estimate", linear, number(row, "linear_estimate_L"), number(row, "tol"));
    0
}

fn expansion_overflow(row: &Value) -> usize {
    let volume = Litres::new(number(row, "V")).expect("inside the range");
    let (at, rate, tolerance) = (celsius(row, "t"), number(row, "warming_K_per_min"), number(row, "tol"));
    near(row, "α", expansion_coefficient(density(row), at), number(row, "alpha_per_K"), tolerance);
    let flow = expansion_flow(volume, density(row), at, rate).expect("a flow");
    near(row, "q", flow, number(row, "overflow_ml_per_min"), tolerance);
    near(row, "drops", flow / number(row, "drop_ml"), number(row, "drops_per_min"), 1e3 * tolerance);
    1
}

fn newton(row: &Value) -> usize {
    let curve = Curve {
        start: number(row, "T0"),
        end: number(row, "Tinf"),
        ln_time_constant: number(row, "tau_min").ln(),
        covariance: [[0.0; 3]; 3],
        chi_square: 0.0,
        readings: 0,
    };
    let tolerance = number(row, "tol");
    near(row, "T", curve.at(number(row, "t")), number(row, "T"), tolerance);
    let passes = |celsius: f64| curve.passes(celsius).expect("a time").value;
    near(row, "time at 40", passes(40.0), number(row, "t_at_40"), tolerance);
    near(row, "time at 50", passes(50.0), number(row, "t_at_50"), tolerance);
    let inside = (passes(50.0) - passes(40.0)).abs();
    near(row, "minutes in the window", inside, number(row, "minutes_in_window"), tolerance);
    4
}

fn newton_fit(row: &Value) -> usize {
    // Without a prior and with the scatter of the readings, as the other package does it.
    let fitted = fit(&readings(row), 1.0, &Prior::NOTHING).expect("a curve");
    let scaled = fitted.scaled_by_scatter().expect("more than three readings");
    let (relative, relative_sd) = (number(row, "tol_rel_fit"), number(row, "tol_rel_sd"));
    let degrees = f64::from(u32::try_from(fitted.readings - 3).expect("few readings"));
    near(row, "s", (fitted.chi_square / degrees).sqrt(), number(row, "s"), relative * number(row, "s"));
    let tau = scaled.time_constant();
    for (at, key, found, by) in
        [(0, "T0", scaled.start, 1.0), (1, "Tinf", scaled.end, 1.0), (2, "tau", tau, tau)]
    {
        let (value, deviation) = (number(&row["fit"], key), number(&row["sd"], key));
        near(row, key, found, value, relative * value.abs());
        near(row, "sd", scaled.covariance[at][at].sqrt() * by, deviation, relative_sd * deviation);
    }
    let passes = scaled.passes(45.0).expect("a time");
    near(row, "time at 45", passes.value, number(row, "t_at_45"), relative * number(row, "t_at_45"));
    let expected = number(row, "u_t_at_45");
    near(row, "its u", passes.standard_uncertainty, expected, relative_sd * expected);
    5
}

#[test]
fn forecasts_with_a_prior_equal_another_package() {
    let table = Table::read("level_forecast_prior");
    let (mut curves, mut times) = (0, 0);
    for row in table.cases() {
        let pair = |key: &str| {
            let at = |place: usize| row["prior"][key][place].as_f64().expect("a number");
            (at(0), at(1))
        };
        let prior = Prior { end: pair("Tinf"), ln_time_constant: pair("ln_tau") };
        let curve = fit(&readings(row), number(row, "sigma"), &prior).expect("a curve");
        let map = &row["map"];
        near(row, "start", curve.start, number(map, "T0"), number(row, "tol_abs_T0"));
        near(row, "end", curve.end, number(map, "Tinf"), number(row, "tol_abs_Tinf"));
        near(row, "ln τ", curve.ln_time_constant, number(map, "ln_tau"), number(row, "tol_abs_ln_tau"));
        for (celsius, expected) in row["reach"].as_object().expect("temperatures") {
            let passes = curve.passes(celsius.parse().expect("a temperature")).expect("a time");
            near(row, "time", passes.value, number(expected, "t"), number(row, "tol_abs_t"));
            let u = number(expected, "u");
            near(row, "its u", passes.standard_uncertainty, u, number(row, "tol_rel_u") * u);
            times += 1;
        }
        curves += 1;
    }
    assert_eq!((curves, times), (6, 18));
}
