//! Shares of jobs, a table a measure: what it is, what would be expected, limits of chance.

use super::OwnerContext;
use super::owner::{of_100, shares};
use super::tables::{count, plain, row_withheld, table, text};
use crate::owner::Measure;
use crate::owner::naming::COMPARED_FROM_JOBS;
use crate::owner::rates::{Rate, rates};
use crate::owner::sums::is_withheld;
use crate::sheet::{Cell, Table};
use crate::text::sentence;

const KEYS: [&str; 12] = [
    "site",
    "jobs",
    "events",
    "share",
    "least",
    "greatest",
    "expected",
    "ratio",
    "limit-95-low",
    "limit-95-high",
    "limit-998-low",
    "limit-998-high",
];

/// The tables, and the most by which limits were widened; absent where there are too few sites to tell.
pub(super) fn tables(context: &OwnerContext<'_>) -> (Vec<Table>, Option<f64>) {
    let mut tables = Vec::new();
    let mut widened: Option<f64> = None;
    for measure in shares() {
        let (table, factor) = of(context, measure);
        tables.push(table);
        widened = match (widened, factor) {
            (Some(one), Some(other)) => Some(one.max(other)),
            (one, other) => one.or(other),
        };
    }
    (tables, widened)
}

fn of(context: &OwnerContext<'_>, measure: Measure) -> (Table, Option<f64>) {
    let mut rates = rates(context.figures, measure);
    rates.sites.retain(|rate| rate.jobs > 0);
    rates.sites.sort_by_key(|rate| context.site_name(&rate.site));
    let (shown, small): (Vec<Rate>, Vec<Rate>) = rates.sites.into_iter().partition(Rate::is_compared);
    let mut rows: Vec<Vec<Cell>> = shown.iter().map(|rate| compared(context, rate)).collect();
    if !small.is_empty() {
        let name =
            Cell::Words(sentence::owner_small_sites(small.len() as u64, COMPARED_FROM_JOBS.to_string()));
        let sum = |of: fn(&Rate) -> u64| signed(small.iter().map(of).sum());
        let jobs = sum(|rate| rate.jobs);
        if is_withheld(jobs) {
            rows.push(row_withheld(vec![name], KEYS.len()));
        } else {
            let mut cells = vec![name, count(jobs), count(sum(|rate| rate.events))];
            cells.resize(KEYS.len(), Cell::Empty);
            rows.push(cells);
        }
    }
    let heading = sentence::owner_heading_share(sentence::owner_measure(measure.word()));
    let empty = match measure {
        Measure::ComeBack => sentence::owner_no_share(),
        _ => sentence::owner_no_work(),
    };
    (table(heading, &KEYS, rows, empty), rates.factor)
}

#[allow(clippy::cast_precision_loss, reason = "no owner has so many jobs")]
fn compared(context: &OwnerContext<'_>, rate: &Rate) -> Vec<Cell> {
    let jobs = rate.jobs as f64;
    let limit = |of: fn(&crate::formula::funnel::Limits) -> f64| of_100(rate.limits.as_ref().map(of));
    vec![
        text(context.site_name(&rate.site)),
        whole(rate.jobs),
        whole(rate.events),
        of_100(Some(rate.events as f64 / jobs)),
        of_100(rate.interval.map(|interval| interval.least)),
        of_100(rate.interval.map(|interval| interval.greatest)),
        of_100(Some(rate.expected / jobs)),
        rate.ratio.map_or(Cell::Empty, |ratio| plain(ratio.ratio, 2, "")),
        limit(|limits| limits.least_95),
        limit(|limits| limits.greatest_95),
        limit(|limits| limits.least_998),
        limit(|limits| limits.greatest_998),
    ]
}

fn whole(number: u64) -> Cell {
    count(signed(number))
}

fn signed(number: u64) -> i64 {
    i64::try_from(number).unwrap_or(i64::MAX)
}
