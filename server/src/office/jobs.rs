//! The table of jobs: what is open first, in the order of the work, then what is closed, newest first.

use super::guard::SignedIn;
use super::language::say;
use super::trouble::{Trouble, capital};
use super::{Office, at_owner, live};
use crate::lines::refresh;
use crate::workshop::Workshop;
use axum::extract::{Query, State};
use jiff::Timestamp;
use jiff::tz::TimeZone;
use maud::{Markup, html};
use standpipe_store::{JobNumber, JobSummary, SummaryFilter, SummaryOrder, SummaryPlace};
use std::collections::HashMap;
use std::sync::Arc;

/// Most lines of the page.
const LINES_MAX: usize = 100;

/// One line of the table.
struct Line {
    number: String,
    plate: String,
    vehicle: String,
    customer: String,
    next: String,
    changed: String,
}

/// Shows the table, or what a search finds.
pub(super) async fn show(
    State(office): State<Arc<Office>>,
    person: SignedIn,
    Query(asked): Query<HashMap<String, String>>,
) -> Result<Markup, Trouble> {
    let workshop = &*office.workshop;
    let search = asked.get("search").map_or("", |text| text.trim());
    let after = asked.get("after").and_then(|text| place_of(text));
    // The reach is read first: what comes meanwhile is told again rather than missed.
    let reached = workshop.journal.head().await?.seq;
    let complete = refresh(workshop).await?;
    let order = SummaryOrder::Rank { after };
    let filter = SummaryFilter { text: search.to_owned(), open_only: false, order, customers: true };
    let mut found = workshop.beside.summaries(&filter, LINES_MAX + 1).await?;
    let more = found.len() > LINES_MAX;
    found.truncate(LINES_MAX);
    let last = found.last().filter(|_| more).map(|line| line.place());
    let mut lines = Vec::with_capacity(found.len());
    for summary in found {
        lines.extend(line(workshop, summary).await?);
    }
    let content = html! {
        (table(search, after.is_some(), complete, &lines, last))
        (at_owner::line(&office))
    };
    Ok(office.live_page(&person, &say!(page_jobs), &live::table_path(reached), content))
}

async fn line(workshop: &Workshop, summary: JobSummary) -> Result<Option<Line>, Trouble> {
    let Some(row) = workshop.journal.job(summary.job_id).await? else { return Ok(None) };
    let customer = workshop.beside.customer(summary.job_id).await?;
    let zone = workshop.adopted(&row).revision.workshop().time_zone.clone();
    Ok(Some(Line {
        number: workshop.printed(&row),
        plate: summary.plate,
        vehicle: summary.title,
        customer: customer.map(|customer| customer.name).unwrap_or_default(),
        next: capital(&summary.state),
        changed: clock(summary.updated_us, &zone, "%-d %b %Y, %H:%M"),
    }))
}

fn table(search: &str, later: bool, complete: bool, lines: &[Line], last: Option<SummaryPlace>) -> Markup {
    html! {
        h1 { (say!(page_jobs)) }
        p.ways { a href="/open" { (say!(page_open_a_job)) } }
        form.search method="get" action="/" role="search" {
            div {
                label for="search" { (say!(page_number_plate_last_8_of_the)) }
                input type="search" id="search" name="search" value=(search) maxlength="80";
            }
            button type="submit" { (say!(page_search)) }
            @if !search.is_empty() || later { a href="/" { (say!(page_all_jobs)) } }
        }
        @if !complete { p { (say!(page_the_list_is_still_being_put)) } }
        @if lines.is_empty() {
            p {
                @if search.is_empty() { (say!(page_there_is_no_job_yet)) } @else { (say!(page_no_job_fits, search)) }
            }
        } @else {
            table.stack {
                caption.quiet { (say!(page_open_jobs_first_in_the_order)) }
                thead {
                    tr {
                        th scope="col" { (say!(page_number)) } th scope="col" { (say!(page_plate)) } th scope="col" { (say!(page_variant)) }
                        th scope="col" { (say!(page_customer)) } th scope="col" { (say!(page_next)) } th scope="col" { (say!(page_last_entry)) }
                    }
                }
                tbody {
                    @for line in lines {
                        tr id={ "job-" (line.number) } {
                            th.number scope="row" { a href={ "/job/" (line.number) } { (line.number) } }
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
        @if let Some(last) = last {
            p.only-screen {
                a href={ "/?after=" (place_text(last)) @if !search.is_empty() { "&search=" (urlencoded(search)) } } {
                    (say!(page_more_jobs))
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

/// A place in the table, as a link carries it.
fn place_text(place: SummaryPlace) -> String {
    let SummaryPlace { closed, rank, number } = place;
    format!("{}.{rank}.{}.{}", u8::from(closed), number.year, number.ordinal)
}

fn place_of(text: &str) -> Option<SummaryPlace> {
    let mut parts = text.splitn(4, '.');
    let closed = parts.next()? == "1";
    let rank = parts.next()?.parse().ok()?;
    let number = JobNumber { year: parts.next()?.parse().ok()?, ordinal: parts.next()?.parse().ok()? };
    Some(SummaryPlace { closed, rank, number })
}

/// A text within the query of a link (RFC 3986: all but the unreserved characters are written as octets).
pub(super) fn urlencoded(text: &str) -> String {
    let octets = text.bytes().map(|byte| match byte {
        b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' => char::from(byte).to_string(),
        _ => format!("%{byte:02X}"),
    });
    octets.collect()
}
