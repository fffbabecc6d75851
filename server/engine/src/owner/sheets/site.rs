//! One site a month at a time, by both charts: in minus out with what was spilled, beyond other sites, and shares of jobs.

use super::OwnerContext;
use super::owner::{of_100, shares};
use super::tables::{count, estimate, month, plain, row_withheld, table, text};
use crate::formula::ewma_chart::{self, Settings, WEIGHT, WIDTH};
use crate::formula::individuals_chart;
use crate::formula::proportion::wilson;
use crate::owner::Measure;
use crate::owner::compare;
use crate::owner::naming::{Centres, OfAll};
use crate::owner::offsets::Offsets;
use crate::owner::sums::{Sums, is_withheld};
use crate::sheet::{Cell, Sheet, Table};
use crate::site::tally::TallyError;
use crate::text::{number, sentence};

/// Makes the sheet.
pub(super) fn sheet(context: &OwnerContext<'_>, about: &str) -> Result<Sheet, TallyError> {
    let about = about.trim();
    let sites = context.sites();
    let site = sites.into_iter().find(|site| *site == about || context.site_name(site) == about);
    let Some(site) = site.filter(|_| !about.is_empty()) else {
        return Err(TallyError::AboutNothing { name: "owner-site", what: "workshop that has closed jobs" });
    };
    let named: Vec<_> = context.named.iter().filter(|named| named.site == site).cloned().collect();
    let exceptions = compare::exceptions(&named, context.rows, |site| context.site_name(site));
    let said = context.told_first(&exceptions, Some(site));
    Ok(Sheet {
        tally: "owner-site",
        title: context.title(Some(site)),
        said,
        tables: [months(context, site)]
            .into_iter()
            .chain(shares().filter_map(|measure| share(context, site, measure)))
            .collect(),
        notes: vec![
            sentence::owner_note_charts(number::plain(WEIGHT), number::plain(WIDTH)),
            sentence::owner_note_people(),
        ],
    })
}

fn months(context: &OwnerContext<'_>, site: &str) -> Table {
    let of_all = OfAll::of(context.figures);
    let centres = Centres::of(context.figures, site, &of_all);
    let months = context.figures.months.iter().zip(centres.monthly());
    let every: Vec<(&String, Offsets)> =
        months.filter(|(_, offsets)| offsets.mean_estimate().is_some()).collect();
    // A month of few jobs is in no chart, so that nothing of it is read from the months after it.
    let known: Vec<(&String, Offsets)> =
        every.iter().filter(|(_, offsets)| !is_withheld(jobs_of(offsets))).copied().collect();
    // What other sites lose is the centre; where none of them has enough jobs for that, a site has only itself.
    let own = known.iter().fold(Offsets::default(), |sum, (_, month)| sum + *month).mean();
    let target = if centres.is_known { Target::Given(0.0) } else { Target::Own(own) };
    // Scatter of the jobs within their months; a shift from month to month is not in it.
    let (left, jobs) = known
        .iter()
        .fold((0.0, 0.0), |(left, jobs), (_, month)| (left + month.residual(), jobs + month.jobs - 1.0));
    let scatter = if jobs > 0.0 { (left / jobs).sqrt() } else { f64::NAN };
    let values: Vec<(f64, f64)> =
        known.iter().filter_map(|(_, month)| Some((month.mean()?, scatter / month.jobs.sqrt()))).collect();
    let mut charts = charts(&values, target, 2, "L", None).into_iter();
    let rows = every.iter().map(|(name, offsets)| {
        if is_withheld(jobs_of(offsets)) {
            return few(name, MONTHS.len() + 1);
        }
        let mut cells = vec![text(month(name)), count(jobs_of(offsets))];
        cells.extend(estimate(offsets.mean_estimate(), "L"));
        cells.extend(charts.next().into_iter().flatten());
        cells
    });
    let [month, balanced, least, greatest] = MONTHS;
    let value = if centres.is_known { "beyond" } else { "lost" };
    let keys = [[month, balanced, value, least, greatest].as_slice(), CHARTS.as_slice()].concat();
    table(
        sentence::owner_heading_months(if centres.is_known { "others" } else { "own" }),
        &keys,
        rows.collect(),
        sentence::owner_no_litres(),
    )
}

/// One share a month at a time, of 100 jobs.
#[allow(clippy::cast_precision_loss, reason = "no owner has so many jobs")]
fn share(context: &OwnerContext<'_>, site: &str, measure: Measure) -> Option<Table> {
    let (jobs, events) = measure.share()?;
    let count_of = |sums: &Sums, counter| u64::try_from(sums.get(counter)).unwrap_or_default();
    let months = context.figures.months.iter().zip(context.figures.monthly(site));
    let every: Vec<(&String, u64, u64)> = months
        .map(|(month, sums)| (month, count_of(&sums, jobs), count_of(&sums, events)))
        .filter(|(_, jobs, _)| *jobs > 0)
        .collect();
    let known: Vec<(&String, u64, u64)> =
        every.iter().filter(|(_, jobs, _)| !is_withheld(signed(*jobs))).copied().collect();
    let sum = |of: fn(&(&String, u64, u64)) -> u64| known.iter().map(of).sum::<u64>() as f64;
    let all = sum(|(.., events)| *events) / sum(|(_, jobs, _)| *jobs);
    let values: Vec<(f64, f64)> = known
        .iter()
        .map(|(_, jobs, events)| {
            let jobs = *jobs as f64;
            (100.0 * *events as f64 / jobs, 100.0 * (all * (1.0 - all) / jobs).sqrt())
        })
        .collect();
    let own = Target::Own(Some(100.0 * all).filter(|all| all.is_finite()));
    let charts = charts(&values, own, 1, "", Some(OF_100));
    let mut shown = values.iter().zip(charts);
    let rows = every.iter().map(|(name, jobs, events)| {
        let Some(((share, _), charts)) = (!is_withheld(signed(*jobs))).then(|| shown.next()).flatten() else {
            return few(name, SHARE.len());
        };
        let interval = wilson(*events, *jobs);
        let whole = |number| count(signed(number));
        let mut cells = vec![text(month(name)), whole(*jobs), whole(*events), plain(*share, 1, "")];
        cells.push(of_100(interval.map(|interval| interval.least)));
        cells.push(of_100(interval.map(|interval| interval.greatest)));
        cells.extend(charts);
        cells
    });
    let keys = [&SHARE, CHARTS.as_slice()].concat();
    let heading = sentence::owner_heading_share(sentence::owner_measure(measure.word()));
    let empty = match measure {
        Measure::ComeBack => sentence::owner_no_share(),
        _ => sentence::owner_no_work(),
    };
    Some(table(heading, &keys, rows.collect(), empty))
}

/// A month of so few jobs that they are not shown by themselves.
fn few(name: &str, columns: usize) -> Vec<Cell> {
    row_withheld(vec![text(month(name))], columns + CHARTS.len())
}

/// Columns of litres a month, before those of the charts; the value stands before the last two.
const MONTHS: [&str; 4] = ["month", "balanced", "least", "greatest"];
/// Columns of a share a month, before those of the charts.
const SHARE: [&str; 6] = ["month", "jobs", "events", "share", "least", "greatest"];
/// A share is nothing at least and all at most, of 100 jobs; the charts reckon as if it had no end.
const OF_100: (f64, f64) = (0.0, 100.0);
/// Columns of both charts.
const CHARTS: [&str; 5] = ["lower", "upper", "average", "average-lower", "average-upper"];

/// Fewest values of a moving average.
const MOVES_FROM: usize = 2;

/// What values are held against.
#[derive(Clone, Copy)]
enum Target {
    /// What is known from elsewhere: both charts stand about it, so that a site that is off most of the time does not make
    /// that its own measure.
    Given(f64),
    /// Nothing but themselves: single values about their mean, the moving average about this.
    Own(Option<f64>),
}

/// Cells of both charts, a value with its standard deviation a row: limits of single values; the moving average and its
/// limits about a target.
///
/// * `ends` – what no value can be below or above; limits are cut there
fn charts(
    values: &[(f64, f64)],
    target: Target,
    decimals: usize,
    unit: &'static str,
    ends: Option<(f64, f64)>,
) -> Vec<[Cell; 5]> {
    let single = individuals_chart::chart(&values.iter().map(|(value, _)| *value).collect::<Vec<_>>());
    let (centre, target) = match target {
        Target::Given(target) => (Some(target), target),
        Target::Own(target) => (None, target.unwrap_or(f64::NAN)),
    };
    let settings = Settings { target, weight: WEIGHT, width: WIDTH, steady: false };
    // One value moves nothing.
    let averages = if values.len() < MOVES_FROM { Vec::new() } else { ewma_chart::chart(values, &settings) };
    let cell = |value: Option<f64>| value.map_or(Cell::Empty, |value| plain(value, decimals, unit));
    let limit = |value: Option<f64>| {
        cell(value.map(|value| ends.map_or(value, |(least, most)| value.clamp(least, most))))
    };
    // About a given centre the limits are as wide as about the mean.
    let single = single.map(|chart| {
        let shift = centre.map_or(0.0, |centre| centre - chart.centre);
        (chart.lower + shift, chart.upper + shift)
    });
    let row = |place: usize| {
        let average = averages.get(place);
        [
            limit(single.map(|(lower, _)| lower)),
            limit(single.map(|(_, upper)| upper)),
            cell(average.map(|point| point.average)),
            limit(average.map(|point| point.lower)),
            limit(average.map(|point| point.upper)),
        ]
    };
    (0..values.len()).map(row).collect()
}

fn signed(number: u64) -> i64 {
    i64::try_from(number).unwrap_or(i64::MAX)
}

#[allow(clippy::cast_possible_truncation, reason = "a count of jobs")]
fn jobs_of(offsets: &Offsets) -> i64 {
    offsets.jobs as i64
}
