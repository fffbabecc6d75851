//! Pictures of an owner's figures as lines (SVG 1.1): the funnel of a share over all workshops, and one workshop a month
//! at a time with the limits of both charts. Every number stands in the table above its picture. Computes nothing but
//! places.

use crate::office::language::say;
use crate::tallies::Gathered;
use maud::{Markup, html};
use standpipe_engine::formula::funnel;
use standpipe_engine::owner::Measure;
use standpipe_engine::owner::rates::{Rate, Rates, rates};
use standpipe_engine::sheet::{Cell, Table};
use standpipe_engine::text::number;
use std::fmt::Write as _;

const WIDTH: f64 = 790.0;
const HEIGHT: f64 = 260.0;
const LEFT: f64 = 52.0;
const RIGHT: f64 = 20.0;
const TOP: f64 = 16.0;
const BOTTOM: f64 = 34.0;
/// Places at which a limit is drawn.
const STEPS: u32 = 60;
/// Fewest workshops that a funnel is drawn of; fewer read better in the table.
const SITES_LEAST: usize = 5;
/// Fewest months of a chart.
const MONTHS_LEAST: usize = 3;

/// From numbers to places.
struct Frame {
    across: (f64, f64),
    up: (f64, f64),
}

impl Frame {
    fn x(&self, value: f64) -> f64 {
        LEFT + (WIDTH - LEFT - RIGHT) * part(value, self.across)
    }

    fn y(&self, value: f64) -> f64 {
        HEIGHT - BOTTOM - (HEIGHT - BOTTOM - TOP) * part(value, self.up)
    }

    /// Ends and middle of the scale up, with hairlines.
    fn grid(&self, decimals: usize) -> Markup {
        let (least, greatest) = self.up;
        let values = [least, f64::midpoint(least, greatest), greatest];
        html! {
            @for value in values {
                @let y = self.y(value);
                line.grid x1=(n(LEFT)) x2=(n(WIDTH - RIGHT)) y1=(n(y)) y2=(n(y)) {}
                text.axis.end x=(n(LEFT - 8.0)) y=(n(y + 5.0)) { (number::fixed(value, decimals)) }
            }
        }
    }

    /// A line through points, with gaps where a value is missing.
    fn path(&self, points: impl Iterator<Item = (f64, Option<f64>)>) -> String {
        let (mut path, mut pen) = (String::new(), 'M');
        for (x, value) in points {
            match value.filter(|value| value.is_finite()) {
                Some(value) => {
                    // Writing to a String cannot fail.
                    let _ = write!(path, "{pen}{:.1},{:.1}", self.x(x), self.y(value));
                    pen = 'L';
                }
                None => pen = 'M',
            }
        }
        path
    }
}

fn part(value: f64, (least, greatest): (f64, f64)) -> f64 {
    if greatest > least { ((value - least) / (greatest - least)).clamp(0.0, 1.0) } else { 0.5 }
}

fn n(place: f64) -> String {
    format!("{place:.1}")
}

/// The funnel of a share: each workshop by its jobs and its share, what would be expected of its variants taken out, with
/// the limits of chance about the share of all. Nothing where there are few workshops.
pub(super) fn funnel(gathered: &Gathered, measure: Measure) -> Markup {
    let Rates { sites, factor } = rates(&gathered.figures, measure);
    let compared: Vec<&Rate> =
        sites.iter().filter(|rate| rate.is_compared() && rate.expected > 0.0).collect();
    let (events, jobs) = compared.iter().fold((0, 0), |(e, j), rate| (e + rate.events, j + rate.jobs));
    if compared.len() < SITES_LEAST || events == 0 {
        return html! {};
    }
    let target = float(events) / float(jobs);
    let most = compared.iter().map(|rate| rate.jobs).max().unwrap_or(1);
    let share = |rate: &Rate| 100.0 * target * float(rate.events) / rate.expected;
    let limits =
        |jobs: u64| funnel::limits(jobs, target).map(|limits| limits.widened(target, factor.unwrap_or(1.0)));
    let step = |at: u32| 1 + (most.saturating_sub(1)) * u64::from(at) / u64::from(STEPS);
    let from = compared.iter().map(|rate| rate.jobs).min().unwrap_or(1);
    let highest = limits(from).map_or(0.0, |limits| 100.0 * limits.greatest_998);
    let highest = compared.iter().map(|rate| share(rate)).fold(highest, f64::max).min(100.0);
    let frame = Frame { across: (0.0, float(most)), up: (0.0, (highest * 1.05).max(1.0)) };
    let line = |of: fn(&funnel::Limits) -> f64| {
        let places = (0..=STEPS).map(step).filter(|jobs| *jobs >= from.min(most / 20));
        frame.path(places.map(|jobs| (float(jobs), limits(jobs).map(|limits| 100.0 * of(&limits)))))
    };
    let level = frame.y(100.0 * target);
    html! {
        svg.figures viewBox={ "0 0 " (WIDTH) " " (HEIGHT) } role="img" aria-label=(say!(page_owner_funnel)) {
            (frame.grid(0))
            line.base x1=(n(LEFT)) x2=(n(WIDTH - RIGHT)) y1=(n(level)) y2=(n(level)) {}
            path.limit d=(line(|limits| limits.least_95)) {}
            path.limit d=(line(|limits| limits.greatest_95)) {}
            path.limit.far d=(line(|limits| limits.least_998)) {}
            path.limit.far d=(line(|limits| limits.greatest_998)) {}
            @for rate in &compared {
                @let name = gathered.name_of(&rate.site);
                @let (x, y) = (frame.x(float(rate.jobs)), frame.y(share(rate)));
                circle cx=(n(x)) cy=(n(y)) r="4.5" { title { (name) } }
                @if limits(rate.jobs).is_some_and(|limits| share(rate) > 100.0 * limits.greatest_998) {
                    text.axis.end x=(n(x - 8.0)) y=(n(y + 5.0)) { (name) }
                }
            }
            text.axis x=(n(LEFT + 6.0)) y=(n(TOP + 2.0)) { (say!(page_owner_of_100)) }
            text.axis.end x=(n(WIDTH - RIGHT)) y=(n(HEIGHT - 8.0)) { (say!(page_owner_jobs_to, most.to_string())) }
        }
        p.quiet { (say!(page_owner_funnel_said)) }
    }
}

/// One workshop a month at a time: single values as open circles with their limits, the moving average as a line with its
/// own. Nothing of few months.
pub(super) fn months(table: &Table, named: &str) -> Markup {
    let column = |key: &str| numbers(table, key);
    let is_share = table.columns.iter().any(|column| column.key == "share");
    let values =
        ["beyond", "share"].into_iter().map(column).find(|values| values.iter().any(Option::is_some));
    let Some(values) = values.filter(|values| values.len() >= MONTHS_LEAST) else { return html! {} };
    let [lower, upper, average, average_lower, average_upper] =
        ["lower", "upper", "average", "average-lower", "average-upper"].map(column);
    let each = [&values, &lower, &upper, &average, &average_lower, &average_upper];
    let known = || each.iter().copied().flatten().flatten().copied().filter(|value| value.is_finite());
    let (least, greatest) =
        (known().fold(f64::INFINITY, f64::min), known().fold(f64::NEG_INFINITY, f64::max));
    if least >= greatest {
        return html! {};
    }
    let room = 0.05 * (greatest - least);
    let last = values.len() - 1;
    // A share is shown from nothing on, and there is none above all.
    let up = if is_share { (0.0, (greatest + room).min(100.0)) } else { (least - room, greatest + room) };
    let frame = Frame { across: (0.0, index(last)), up };
    let through =
        |values: &[Option<f64>]| frame.path(values.iter().enumerate().map(|(at, value)| (index(at), *value)));
    let months = words(table, "month");
    let (first, latest) =
        (months.first().cloned().unwrap_or_default(), months.last().cloned().unwrap_or_default());
    html! {
        svg.figures viewBox={ "0 0 " (WIDTH) " " (HEIGHT) } role="img" aria-label=(named) {
            (frame.grid(if is_share { 0 } else { 2 }))
            // What other workshops lose.
            @if !is_share && least < 0.0 && greatest > 0.0 {
                @let level = frame.y(0.0);
                line.base x1=(n(LEFT)) x2=(n(WIDTH - RIGHT)) y1=(n(level)) y2=(n(level)) {}
                text.axis.end x=(n(LEFT - 8.0)) y=(n(level + 5.0)) { "0" }
            }
            text.axis x=(n(LEFT + 6.0)) y=(n(TOP + 2.0)) {
                @if is_share { (say!(page_owner_of_100)) } @else { (say!(page_owner_litres_beyond)) }
            }
            @for limit in [&lower, &upper] { path.limit.far d=(through(limit)) {} }
            @for limit in [&average_lower, &average_upper] { path.limit d=(through(limit)) {} }
            path.curve d=(through(&average)) {}
            @for (at, value) in values.iter().enumerate() {
                @if let Some(value) = value {
                    circle cx=(n(frame.x(index(at)))) cy=(n(frame.y(*value))) r="4.5" {
                        title { (months.get(at).map_or("", String::as_str)) }
                    }
                }
            }
            text.axis x=(n(LEFT)) y=(n(HEIGHT - 8.0)) { (first) }
            text.axis.end x=(n(WIDTH - RIGHT)) y=(n(HEIGHT - 8.0)) { (latest) }
        }
        p.quiet { (say!(page_owner_months_said)) }
    }
}

/// Numbers of a column; nothing where a cell holds none.
fn numbers(table: &Table, key: &str) -> Vec<Option<f64>> {
    let Some(place) = table.columns.iter().position(|column| column.key == key) else { return Vec::new() };
    let number = |cell: &Cell| match cell {
        Cell::Number { value, .. } => Some(*value),
        _ => None,
    };
    table.rows.iter().map(|row| row.cells.get(place).and_then(number)).collect()
}

fn words(table: &Table, key: &str) -> Vec<String> {
    let Some(place) = table.columns.iter().position(|column| column.key == key) else { return Vec::new() };
    let word = |cell: &Cell| match cell {
        Cell::Text(text) => text.clone(),
        _ => String::new(),
    };
    table.rows.iter().map(|row| row.cells.get(place).map(word).unwrap_or_default()).collect()
}

#[allow(clippy::cast_precision_loss, reason = "no owner has so many jobs")]
fn float(count: u64) -> f64 {
    count as f64
}

#[allow(clippy::cast_precision_loss, reason = "a count of months")]
fn index(place: usize) -> f64 {
    place as f64
}
