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
/// The words of the scale stand above the drawing, where no circle covers them.
const TOP: f64 = 28.0;
/// Steps of a scale, about.
const SCALE_STEPS: f64 = 4.0;
const BOTTOM: f64 = 34.0;
/// Where these words stand.
const WORDS: f64 = 12.0;
/// Places at which a limit is drawn.
const STEPS: u32 = 60;
/// Fewest workshops that a funnel is drawn of; fewer read better in the table.
const SITES_LEAST: usize = 5;
/// Fewest months of a chart.
const MONTHS_LEAST: usize = 3;

/// From numbers to places.
struct Frame {
    across: (f64, f64),
    /// Ends of the scale up, whole steps both.
    up: (f64, f64),
    step: f64,
}

impl Frame {
    /// With a scale up that holds both numbers and has round steps: 1, 2 or 5 of a power of ten.
    fn of(across: (f64, f64), (least, greatest): (f64, f64)) -> Self {
        let about = (greatest - least) / SCALE_STEPS;
        let power = 10_f64.powf(about.log10().floor());
        // A bit less than wanted is enough: a tenth is not a tenth in binary.
        let holds = |step: &f64| *step >= about * (1.0 - 1e-9);
        let step = [1.0, 2.0, 5.0, 10.0].map(|times| times * power).into_iter().find(holds).unwrap_or(about);
        let whole = |value: f64| (value / step * 1e6).round() / 1e6;
        Self { across, up: (whole(least).floor() * step, whole(greatest).ceil() * step), step }
    }

    fn x(&self, value: f64) -> f64 {
        LEFT + (WIDTH - LEFT - RIGHT) * part(value, self.across)
    }

    fn y(&self, value: f64) -> f64 {
        HEIGHT - BOTTOM - (HEIGHT - BOTTOM - TOP) * part(value, self.up)
    }

    /// Steps of the scale up, with hairlines.
    fn grid(&self) -> Markup {
        let (least, greatest) = self.up;
        let decimals = [1.0, 0.1, 0.01].iter().position(|part| self.step > part * 0.999).unwrap_or(3);
        let values = std::iter::successors(Some(least), |value| Some(value + self.step));
        html! {
            @for value in values.take_while(|value| *value < greatest + self.step / 2.0) {
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
    let frame = Frame::of((0.0, float(most)), (0.0, highest.max(1.0)));
    let line = |of: fn(&funnel::Limits) -> f64| {
        let places = (0..=STEPS).map(step).filter(|jobs| *jobs >= from.min(most / 20));
        frame.path(places.map(|jobs| (float(jobs), limits(jobs).map(|limits| 100.0 * of(&limits)))))
    };
    let level = frame.y(100.0 * target);
    html! {
        svg.figures viewBox={ "0 0 " (WIDTH) " " (HEIGHT) } role="img" aria-label=(say!(page_owner_funnel)) {
            (frame.grid())
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
            text.axis x=(n(LEFT)) y=(n(WORDS)) { (say!(page_owner_of_100)) }
            text.axis.end x=(n(WIDTH - RIGHT)) y=(n(HEIGHT - 8.0)) { (say!(page_owner_jobs_to, most.to_string())) }
        }
        p.quiet { (say!(page_owner_funnel_said)) }
    }
}

/// One workshop a month at a time: single values as open circles with their limits, the moving average as a line with its
/// own. Nothing of few months.
pub(super) fn months(table: &Table, named: &str) -> Markup {
    let column = |key: &str| numbers(table, key);
    let has = |key: &str| table.columns.iter().any(|column| column.key == key);
    let is_share = has("share");
    let of_scale = match (is_share, has("beyond")) {
        (true, _) => say!(page_owner_of_100),
        (false, true) => say!(page_owner_litres_beyond),
        (false, false) => say!(page_owner_litres_own),
    };
    let values = ["beyond", "lost", "share"].into_iter().map(column);
    let values = values.into_iter().find(|values| values.iter().any(Option::is_some));
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
    let last = values.len() - 1;
    // A share is shown from nothing on.
    let frame = Frame::of((0.0, index(last)), (if is_share { 0.0 } else { least }, greatest));
    let through =
        |values: &[Option<f64>]| frame.path(values.iter().enumerate().map(|(at, value)| (index(at), *value)));
    let months = words(table, "month");
    let (first, latest) =
        (months.first().cloned().unwrap_or_default(), months.last().cloned().unwrap_or_default());
    html! {
        svg.figures viewBox={ "0 0 " (WIDTH) " " (HEIGHT) } role="img" aria-label=(named) {
            (frame.grid())
            // What is beside the others, or nothing lost.
            @if !is_share && least < 0.0 && greatest > 0.0 {
                @let level = frame.y(0.0);
                line.base x1=(n(LEFT)) x2=(n(WIDTH - RIGHT)) y1=(n(level)) y2=(n(level)) {}
            }
            text.axis x=(n(LEFT)) y=(n(WORDS)) { (of_scale) }
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_scale_has_few_round_steps_and_holds_both_ends() {
        for (least, greatest, up, step) in [
            (-0.48, 1.14, (-0.5, 1.5), 0.5),
            (0.0, 9.2, (0.0, 10.0), 5.0),
            (0.0, 100.0, (0.0, 100.0), 50.0),
            (-0.05, 0.06, (-0.05, 0.1), 0.05),
            (0.0, 0.4, (0.0, 0.4), 0.1),
        ] {
            let frame = Frame::of((0.0, 1.0), (least, greatest));
            let near = |one: f64, other: f64| (one - other).abs() < 1e-9;
            let told = (frame.step, frame.up);
            assert!(near(told.0, step) && near(told.1.0, up.0) && near(told.1.1, up.1), "{told:?}");
        }
        let lines = Frame::of((0.0, 1.0), (-0.48, 1.14)).grid().into_string();
        let told: Vec<_> = lines.split("</text>").filter_map(|text| text.rsplit('>').next()).collect();
        assert_eq!(told, ["\u{2212}0.5", "0.0", "0.5", "1.0", "1.5", ""]);
    }
}
