//! The fitter and the forecast that rests on it.

use serde_json::Value;
use standpipe_engine::formula::fit::{Fit, Prior, Reading, fit};
use standpipe_engine::formula::flow::{Flow, litres_to_mean, litres_to_outlet};
use standpipe_engine::formula::forecast::{Known, fit_tanks, fit_two_compartments, forecast, tanks_of};
use standpipe_engine::quantity::{Estimate, Litres};

use super::{Table, near, number, numbers, text};

fn readings(row: &Value, (at, value): (&str, &str), standard_uncertainty: f64) -> Vec<Reading> {
    let pairs = numbers(row, at).into_iter().zip(numbers(row, value));
    pairs.map(|(at, value)| Reading { at, value, standard_uncertainty, at_least: false }).collect()
}

/// Compares with NIST's certified parameters, deviations and sum of squares; gives the least number of digits.
fn certified<const P: usize, C, F>(row: &Value, curve: C) -> f64
where
    C: Fn(&[f64; P]) -> F,
    F: Fn(f64) -> f64,
{
    let (b, sd) = (numbers(row, "b"), numbers(row, "sd"));
    let readings = readings(row, ("x", "y"), 1.0);
    let mut digits = f64::INFINITY;
    for start in row["starts"].as_array().expect("starts") {
        let start: Vec<f64> = start.as_array().expect("a start").iter().filter_map(Value::as_f64).collect();
        let priors: [Prior; P] = std::array::from_fn(|at| Prior::free(start[at]));
        let fitted: Fit<P> = fit(&curve, &readings, &priors).expect("NIST's start leads to the solution");
        let scale = (fitted.cost / (readings.len() - P) as f64).sqrt();
        near(row, "rss", fitted.cost / number(row, "rss"), 1.0, number(row, "tol_rel_rss"));
        for at in 0..P {
            let off = (fitted.parameters[at] / b[at] - 1.0).abs();
            digits = digits.min(-off.max(1e-11).log10());
            near(row, "parameter", fitted.parameters[at] / b[at], 1.0, number(row, "tol_rel_b"));
            let deviation = scale * fitted.covariance[at][at].sqrt();
            near(row, "deviation", deviation / sd[at], 1.0, number(row, "tol_rel_sd"));
        }
    }
    digits
}

#[test]
fn the_exponential_sets_of_nist_come_out_to_six_digits() {
    let table = Table::read("nist_strd_exponential");
    for row in table.cases() {
        let digits = match text(row, "dataset") {
            "Misra1a" => certified(row, |b: &[f64; 2]| {
                let [scale, rate] = *b;
                move |x: f64| scale * (1.0 - (-rate * x).exp())
            }),
            "MGH17" => certified(row, |b: &[f64; 5]| {
                let [level, first, second, slow, fast] = *b;
                move |x: f64| level + first * (-x * slow).exp() + second * (-x * fast).exp()
            }),
            other => panic!("{other} has no curve here"),
        };
        println!("{}: {digits:.1} certified digits", text(row, "dataset"));
        assert!(digits >= 6.0, "{}: {digits}", row["id"]);
    }
    assert_eq!(table.cases().len(), 2);
}

#[test]
fn fits_of_tanks_and_litres_to_go_equal_the_table() {
    let table = Table::read("exchange_fit");
    for row in table.cases() {
        let readings = readings(row, ("v", "old_outlet"), number(row, "sigma"));
        let (means, widths) = (numbers(&row["prior"], "mean"), numbers(&row["prior"], "sd"));
        let curve = |parameters: &[f64; 2]| {
            let tanks = tanks_of(parameters).expect("finite parameters");
            move |litres: f64| tanks.outlet(litres)
        };
        let free = fit(curve, &readings, &[Prior::free(means[0]), Prior::free(means[1])]).expect("a fit");
        let ls = &row["ls"];
        let scale = (free.cost / (readings.len() - 2) as f64).sqrt();
        for (at, (value, deviation)) in [("lnV", "sd_lnV"), ("ln_n", "sd_ln_n")].into_iter().enumerate() {
            near(row, value, free.parameters[at], number(ls, value), number(row, "tol_abs_ls"));
            let found = scale * free.covariance[at][at].sqrt();
            near(row, deviation, found / number(ls, deviation), 1.0, number(row, "tol_rel_sd"));
        }
        // The sum of squares is flat at its least: parameters inside their tolerance move it by less than that.
        near(row, "s2", scale * scale / number(ls, "s2"), 1.0, number(row, "tol_abs_ls"));
        let priors = [Prior::normal(means[0], widths[0]), Prior::normal(means[1], widths[1])];
        let known = fit(curve, &readings, &priors).expect("a fit");
        let (map, tolerance) = (&row["map"], number(row, "tol_abs_map"));
        near(row, "lnV", known.parameters[0], number(map, "lnV"), tolerance);
        near(row, "ln n", known.parameters[1], number(map, "ln_n"), tolerance);
        near(row, "sd lnV", known.covariance[0][0].sqrt(), number(map, "sd_lnV"), tolerance);
        near(row, "sd ln n", known.covariance[1][1].sqrt(), number(map, "sd_ln_n"), tolerance);
        near(row, "cov", known.covariance[0][1], number(map, "cov"), tolerance);
        let to_outlet = known.carried(|theta| Some(litres_to_outlet(&tanks_of(theta)?, 0.05)?.ln()));
        let to_mean = known.carried(|theta| Some(litres_to_mean(&tanks_of(theta)?, 0.1)?.ln()));
        for (key, found) in [("litres_to_outlet_new_0.95", to_outlet), ("litres_to_mean_new_0.90", to_mean)] {
            let (found, expected) = (found.expect("reached"), &row["forecast"][key]);
            let tolerance = number(row, "tol_rel_forecast");
            near(row, key, found.value.exp() / number(expected, "estimate"), 1.0, tolerance);
            near(row, key, found.standard_uncertainty / number(expected, "sd_ln"), 1.0, tolerance);
            let reach = |sign: f64| (found.value + sign * 1.96 * found.standard_uncertainty).exp();
            near(row, key, reach(-1.0) / number(expected, "low95"), 1.0, tolerance);
            near(row, key, reach(1.0) / number(expected, "high95"), 1.0, tolerance);
        }
    }
    assert_eq!(table.cases().len(), 6);
}

#[test]
fn averaged_forecasts_equal_the_table() {
    let table = Table::read("exchange_forecast_averaged");
    for row in table.cases() {
        let sigma = number(row, "sigma");
        let (fill, relative) = (number(row, "V_fill"), number(row, "u_rel_V_fill"));
        let readings = readings(row, ("v", "old_outlet"), sigma);
        let tanks = fit_tanks(fill, relative, &readings).expect("a fit");
        let slow = fit_two_compartments(fill, relative, &readings).expect("a fit");
        model(row, "tanks", &tanks);
        model(row, "dead_zone", &slow);
        let known = Known {
            taken: &[],
            pushed: Litres::new(readings.last().expect("readings").at).expect("litres"),
            hose: Litres::new(0.0).expect("litres"),
            fill: None,
            display_relative_uncertainty: 0.0,
            reference_relative_uncertainty: 0.0,
            common_part: 0.0,
        };
        let fill = Estimate::known(fill, relative * fill);
        let forecast = forecast(&known, fill, &readings, true).expect("a fit");
        let tolerance = number(row, "tol_abs_overall");
        near(
            row,
            "weight",
            forecast.weight_tanks(),
            number(row, "weight_tanks"),
            number(row, "tol_abs_weight"),
        );
        let then = forecast.share_at(number(row, "vF"));
        near(row, "share then", then.value, number(row, "overall_at_vF"), tolerance);
        let u = then.standard_uncertainty / number(row, "u_overall_at_vF");
        near(row, "u(share then)", u, 1.0, number(row, "tol_rel_u"));
        near(row, "share now", forecast.share_now().value, number(row, "overall_now"), tolerance);
    }
    assert_eq!(table.cases().len(), 6);
}

fn model<const P: usize>(row: &Value, name: &str, fitted: &Fit<P>) {
    let expected = &row["models"][name];
    let map = numbers(expected, "map");
    for (found, expected) in fitted.parameters.iter().zip(&map) {
        near(row, name, *found, *expected, number(row, "tol_abs_map"));
    }
    near(row, name, fitted.cost / number(expected, "cost"), 1.0, number(row, "tol_rel_cost"));
    // The weight follows the difference of two log evidences, at its steepest by a quarter of it; so the tolerance of
    // the weight is strict enough for each.
    near(row, name, fitted.log_evidence, number(expected, "log_evidence"), number(row, "tol_abs_weight"));
}
