//! One site a month at a time: litres not accounted for beyond other sites, by both charts.

use super::OwnerContext;
use super::tables::{count, estimate, month, plain, table, text};
use crate::formula::ewma_chart::{self, Settings, WEIGHT, WIDTH};
use crate::formula::individuals_chart;
use crate::owner::compare;
use crate::owner::naming::{Centres, OfAll, named};
use crate::owner::offsets::Offsets;
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
    let named: Vec<_> = named(context.figures).into_iter().filter(|named| named.site == site).collect();
    let exceptions = compare::exceptions(&named, context.rows, |site| context.site_name(site));
    let mut said: Vec<_> = exceptions.into_iter().map(|exception| exception.text).collect();
    if said.is_empty() {
        said.push(sentence::owner_nothing());
    }
    Ok(Sheet {
        tally: "owner-site",
        title: sentence::period(context.site_name(site)),
        said,
        tables: vec![months(context, site)],
        notes: vec![
            sentence::owner_note_charts(number::plain(WEIGHT), number::plain(WIDTH)),
            sentence::owner_note_people(),
        ],
    })
}

fn months(context: &OwnerContext<'_>, site: &str) -> Table {
    let of_all = OfAll::of(context.figures);
    let offsets = Centres::of(context.figures, site, &of_all).monthly();
    let known: Vec<(&String, Offsets)> = context
        .figures
        .months
        .iter()
        .zip(offsets)
        .filter(|(_, offsets)| offsets.mean_estimate().is_some())
        .collect();
    let all = known.iter().fold(Offsets::default(), |sum, (_, month)| sum + *month);
    // Scatter of the jobs within their months; a shift from month to month is not in it.
    let (left, jobs) = known
        .iter()
        .fold((0.0, 0.0), |(left, jobs), (_, month)| (left + month.residual(), jobs + month.jobs - 1.0));
    let scatter = if jobs > 0.0 { (left / jobs).sqrt() } else { f64::NAN };
    let means: Vec<f64> = known.iter().filter_map(|(_, month)| month.mean()).collect();
    let single = individuals_chart::chart(&means);
    let values: Vec<(f64, f64)> =
        known.iter().filter_map(|(_, month)| Some((month.mean()?, scatter / month.jobs.sqrt()))).collect();
    let target = all.mean().unwrap_or(f64::NAN);
    let settings = Settings { target, weight: WEIGHT, width: WIDTH, steady: false };
    let averages = ewma_chart::chart(&values, &settings);
    let rows = known.iter().enumerate().map(|(place, (name, offsets))| {
        let mut cells = vec![text(month(name)), jobs_of(offsets)];
        cells.extend(estimate(offsets.mean_estimate(), "L"));
        let limit = |value: Option<f64>| value.map_or(Cell::Empty, |value| plain(value, 2, "L"));
        let average = averages.get(place);
        cells.push(limit(single.as_ref().map(|chart| chart.lower)));
        cells.push(limit(single.as_ref().map(|chart| chart.upper)));
        cells.push(limit(average.map(|point| point.average)));
        cells.push(limit(average.map(|point| point.lower)));
        cells.push(limit(average.map(|point| point.upper)));
        cells
    });
    let keys = [
        "month",
        "balanced",
        "beyond",
        "least",
        "greatest",
        "lower",
        "upper",
        "average",
        "average-lower",
        "average-upper",
    ];
    table(sentence::owner_heading_months(), &keys, rows.collect(), sentence::owner_no_litres())
}

#[allow(clippy::cast_possible_truncation, reason = "a count of jobs")]
fn jobs_of(offsets: &Offsets) -> Cell {
    count(offsets.jobs as i64)
}
