//! What workshops are compared by: intervals of rates, limits of chance, charts, and many tests at once.

use serde_json::Value;
use standpipe_engine::formula::ewma_chart::{self, Settings};
use standpipe_engine::formula::funnel::{self, Limits, Place, limits, spread};
use standpipe_engine::formula::individuals_chart;
use standpipe_engine::formula::{holm, proportion};

use super::{Table, near, number, numbers, text};

fn whole(row: &Value, key: &str) -> u64 {
    row[key].as_u64().unwrap_or_else(|| panic!("{} has no whole number '{key}'", row["id"]))
}

/// Places of a row's list; the test fails if it is not one.
fn places(row: &Value, key: &str) -> Vec<usize> {
    let items = row[key].as_array().unwrap_or_else(|| panic!("{} has no list '{key}'", row["id"]));
    items.iter().map(|item| usize::try_from(item.as_u64().expect("a place")).expect("small")).collect()
}

#[test]
fn rates_of_come_backs_have_the_printed_and_the_computed_intervals() {
    let table = Table::read("shop_wilson");
    let mut printed = 0;
    for row in table.cases() {
        let found = proportion::wilson(whole(row, "returned"), whole(row, "jobs")).expect("jobs");
        near(row, "low", found.least, number(row, "low"), 1e-9);
        near(row, "high", found.greatest, number(row, "high"), 1e-9);
        if row["published_4dp"].is_array() {
            let published = numbers(row, "published_4dp");
            near(row, "printed low", found.least, published[0], 5e-5);
            near(row, "printed high", found.greatest, published[1], 5e-5);
            printed += 1;
        }
    }
    assert_eq!((table.cases().len(), printed), (12, 3));
}

#[test]
fn limits_of_chance_are_the_exact_binomial_ones() {
    let table = Table::read("shop_funnel");
    assert_eq!(text(&table.content, "tolerance"), "1e-8");
    for row in table.cases() {
        let (jobs, target) = (whole(row, "jobs"), number(row, "target"));
        let found: Limits = limits(jobs, target).expect("jobs");
        near(row, "low 99.8", found.least_998, number(row, "low_998"), 1e-8);
        near(row, "low 95", found.least_95, number(row, "low_95"), 1e-8);
        near(row, "high 95", found.greatest_95, number(row, "high_95"), 1e-8);
        near(row, "high 99.8", found.greatest_998, number(row, "high_998"), 1e-8);
        let place = match found.place(number(row, "rate")) {
            Place::Inside => "inside",
            Place::Outside95 => "outside 95, inside 99.8",
            Place::Outside998 => "outside 99.8",
        };
        assert_eq!(place, text(row, "place"), "{}", row["id"]);
        // Beyond the interpolated quantile, more than these are seen in at most one of a thousand.
        let more = whole(row, "events") + 1;
        let chance = funnel::chance_of_as_many(more, jobs, target);
        assert_eq!(number(row, "rate") > found.greatest_998, chance < 0.001, "{}: {chance}", row["id"]);
    }
    assert_eq!(table.cases().len(), 9);
}

#[test]
fn limits_are_widened_where_workshops_differ_more_than_by_chance() {
    let table = Table::read("shop_funnel_overdispersion");
    for row in table.cases() {
        let target = number(row, "target");
        let distances: Vec<f64> = numbers(row, "jobs")
            .iter()
            .zip(numbers(row, "events"))
            .map(|(jobs, events)| funnel::distance(events, jobs * target, jobs * target * (1.0 - target)))
            .collect();
        for (found, expected) in distances.iter().zip(numbers(row, "z")) {
            near(row, "z", *found, expected, 1e-8);
        }
        let found = spread(&distances);
        near(row, "phi", found.phi, number(row, "phi"), 1e-8);
        near(row, "factor", found.factor, number(row, "factor"), 1e-8);
        assert_eq!(Some(found.factor > 1.0), row["widen"].as_bool(), "{}", row["id"]);
    }
    assert_eq!(table.cases().len(), 4);
}

#[test]
fn single_values_have_the_printed_limits() {
    let table = Table::read("shop_individuals_chart");
    for row in table.cases() {
        let found = individuals_chart::chart(&numbers(row, "x")).expect("values");
        near(row, "centre", found.centre, number(row, "centre"), 1e-8);
        near(row, "mean range", found.mean_moving_range, number(row, "mean_moving_range"), 1e-8);
        near(row, "upper", found.upper, number(row, "upper"), 1e-8);
        near(row, "lower", found.lower, number(row, "lower"), 1e-8);
        near(row, "range upper", found.range_upper, number(row, "range_upper"), 1e-8);
        assert_eq!(found.outside, places(row, "outside"), "{}", row["id"]);
        assert_eq!(found.range_outside, places(row, "range_outside"), "{}", row["id"]);
        if let Some(published) = row.get("published") {
            near(row, "printed upper", found.upper, number(published, "upper"), 5e-5);
            near(row, "printed lower", found.lower, number(published, "lower"), 5e-5);
        }
    }
    assert_eq!(table.cases().len(), 6);
}

#[test]
fn moving_averages_have_the_printed_values_and_limits() {
    let table = Table::read("shop_ewma_chart");
    for row in table.cases() {
        let sigma = number(row, "sigma");
        let values: Vec<(f64, f64)> = numbers(row, "x").into_iter().map(|value| (value, sigma)).collect();
        let settings = Settings {
            target: number(row, "target"),
            weight: number(row, "lambda_"),
            width: number(row, "L"),
            steady: text(row, "limits") == "steady",
        };
        let found = ewma_chart::chart(&values, &settings);
        let expected = [numbers(row, "z"), numbers(row, "lower"), numbers(row, "upper")];
        assert_eq!(found.len(), expected[0].len(), "{}", row["id"]);
        for (place, point) in found.iter().enumerate() {
            near(row, "average", point.average, expected[0][place], 1e-8);
            near(row, "lower", point.lower, expected[1][place], 1e-8);
            near(row, "upper", point.upper, expected[2][place], 1e-8);
        }
        if row["published_z_2dp"].is_array() {
            for (point, printed) in found.iter().zip(numbers(row, "published_z_2dp")) {
                near(row, "printed average", point.average, printed, 0.005 + 1e-9);
            }
            let printed = numbers(row, "published_limits");
            near(row, "printed lower", found[0].lower, printed[0], 1e-4);
            near(row, "printed upper", found[0].upper, printed[1], 1e-4);
        } else {
            let outside = found.iter().position(ewma_chart::Point::is_outside);
            let expected = row["first_outside"].as_u64().map(|place| usize::try_from(place).expect("small"));
            assert_eq!(outside, expected, "{}", row["id"]);
        }
    }
    assert_eq!(table.cases().len(), 6);
}

#[test]
fn many_tests_at_once_are_adjusted_step_by_step() {
    let table = Table::read("shop_holm");
    for row in table.cases() {
        let found = holm::adjusted(&numbers(row, "p"));
        let kept = row["keep_at_5pct"].as_array().expect("a list");
        for ((found, expected), kept) in found.iter().zip(numbers(row, "holm")).zip(kept) {
            near(row, "adjusted", *found, expected, 1e-12);
            assert_eq!(Some(*found <= 0.05 + 1e-12), kept.as_bool(), "{}", row["id"]);
        }
    }
    assert_eq!(table.cases().len(), 5);
}
