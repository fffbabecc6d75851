//! The table of jobs: what is open first, in the order of the work, then what is closed, newest first.

use super::Office;
use super::guard::SignedIn;
use super::trouble::Trouble;
use crate::rpc::job::refresh;
use crate::workshop::Workshop;
use axum::extract::{Query, State};
use jiff::Timestamp;
use jiff::tz::TimeZone;
use maud::{Markup, html};
use standpipe_engine::gates::Gate;
use standpipe_store::{JobNumber, JobSummary, SummaryFilter};
use std::collections::HashMap;
use std::sync::Arc;

/// Most lines of the page.
const LINES_MAX: usize = 200;

/// One line of the table.
struct Line {
    number: String,
    plate: String,
    vehicle: String,
    customer: String,
    next: String,
    closed: bool,
    changed: String,
    /// Place of the next open point in the order of the work.
    rank: usize,
    place: JobNumber,
}

/// Shows the table, or what a search finds.
pub(super) async fn show(
    State(office): State<Arc<Office>>,
    person: SignedIn,
    Query(asked): Query<HashMap<String, String>>,
) -> Result<Markup, Trouble> {
    let workshop = &*office.workshop;
    let search = asked.get("search").map_or("", |text| text.trim());
    let before = asked.get("before").and_then(|text| place_of(text));
    refresh(workshop).await?;
    let filter = SummaryFilter { text: search.to_owned(), open_only: false, before, customers: true };
    let mut found = workshop.beside.summaries(&filter, LINES_MAX + 1).await?;
    let more = found.len() > LINES_MAX;
    found.truncate(LINES_MAX);
    let oldest = found.last().filter(|_| more).map(|line| line.number);
    // An open job must not be hidden behind newer closed ones.
    if before.is_none() && more {
        let open = SummaryFilter { open_only: true, before: oldest, ..filter };
        found.extend(workshop.beside.summaries(&open, LINES_MAX).await?);
    }
    let mut lines = Vec::with_capacity(found.len());
    for summary in found {
        lines.extend(line(workshop, summary).await?);
    }
    lines.sort_by(|one, other| {
        let newest_first = other.place.cmp(&one.place);
        (one.closed, one.rank).cmp(&(other.closed, other.rank)).then(newest_first)
    });
    Ok(office.page(&person, "Jobs", table(search, &lines, oldest)))
}

async fn line(workshop: &Workshop, summary: JobSummary) -> Result<Option<Line>, Trouble> {
    let Some(row) = workshop.journal.job(summary.job_id).await? else { return Ok(None) };
    let customer = workshop.beside.customer(summary.job_id).await?;
    let rank = if summary.closed { 0 } else { rank(workshop, &row).await };
    let zone = workshop.adopted(&row).revision.workshop().time_zone.clone();
    Ok(Some(Line {
        number: workshop.printed(&row),
        plate: summary.plate,
        vehicle: summary.title,
        customer: customer.map(|customer| customer.name).unwrap_or_default(),
        next: if summary.closed { "closed".to_owned() } else { summary.state },
        closed: summary.closed,
        changed: clock(summary.updated_us, &zone, "%-d %b %Y, %H:%M"),
        rank,
        place: summary.number,
    }))
}

/// Place of the job's next open point among the gates; a job that cannot be read comes first, to be looked at.
async fn rank(workshop: &Workshop, row: &standpipe_store::JobRow) -> usize {
    let Ok(computed) = workshop.computed(row).await else { return 0 };
    let next = computed.view.open_points.first();
    next.and_then(|point| Gate::ALL.iter().position(|gate| gate.name() == point.gate))
        .unwrap_or(Gate::ALL.len())
}

fn table(search: &str, lines: &[Line], oldest: Option<JobNumber>) -> Markup {
    html! {
        h1 { "Jobs" }
        form.search method="get" action="/" role="search" {
            div {
                label for="search" { "Number, plate, last 8 of the VIN, or customer" }
                input type="search" id="search" name="search" value=(search) maxlength="80";
            }
            button type="submit" { "Search" }
            @if !search.is_empty() { a href="/" { "All jobs" } }
        }
        @if lines.is_empty() {
            p {
                @if search.is_empty() { "There is no job yet." } @else { "No job fits '" (search) "'." }
            }
        } @else {
            table {
                thead {
                    tr {
                        th scope="col" { "Number" } th scope="col" { "Plate" } th scope="col" { "Variant" }
                        th scope="col" { "Customer" } th scope="col" { "Next" } th scope="col" { "Last entry" }
                    }
                }
                tbody {
                    @for line in lines {
                        tr {
                            td.number { a href={ "/job/" (line.number) } { (line.number) } }
                            td.plate { (line.plate) }
                            td { (line.vehicle) }
                            td { (line.customer) }
                            td { (line.next) }
                            td.time { (line.changed) }
                        }
                    }
                }
            }
        }
        @if let Some(oldest) = oldest {
            p.only-screen {
                a href={ "/?before=" (oldest) @if !search.is_empty() { "&search=" (urlencoded(search)) } } {
                    "Older jobs"
                }
            }
        }
    }
}

/// A time in the site's zone.
pub(super) fn clock(us: i64, zone: &TimeZone, form: &str) -> String {
    let time = Timestamp::from_microsecond(us).map(|time| time.to_zoned_datetime(zone.clone()));
    time.map(|time| time.strftime(form).to_string()).unwrap_or_default()
}

/// A number as `26-0042`, of this century.
fn place_of(text: &str) -> Option<JobNumber> {
    let (year, ordinal) = text.split_once('-')?;
    let year: i16 = year.parse().ok().filter(|year| (0..100).contains(year))?;
    Some(JobNumber { year: 2000 + year, ordinal: ordinal.parse().ok()? })
}

/// A text within the query of a link (RFC 3986: all but the unreserved characters are written as octets).
fn urlencoded(text: &str) -> String {
    let octets = text.bytes().map(|byte| match byte {
        b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' => char::from(byte).to_string(),
        _ => format!("%{byte:02X}"),
    });
    octets.collect()
}
