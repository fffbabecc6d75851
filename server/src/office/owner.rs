//! The owner's pages: what to look at first in all workshops, how they compare, one workshop a month at a time, the story
//! of a job there, and every job as a file. Only an owner's server has them.
//!
//! What is said and counted is [`crate::tally::owner`]'s; jobs are read through the copies of their journals and nothing
//! can be stated there. No customer is known here; persons are shown only where the owner switched them on.

mod charts;
mod export;
mod job;

pub(super) use export::{csv, json_lines};
pub(super) use job::show as job;

use super::Office;
use super::guard::SignedIn;
use super::jobs::{clock, urlencoded};
use super::language::{piece, say, with_pieces};
use super::tally::{Shown, file_name, taken_along};
use super::trouble::{Trouble, capital};
use crate::convert::words;
use crate::forwarding::SiteState;
use crate::tallies::{Gathered, Tallies};
use crate::tally::{self, Made, owner, print};
use axum::extract::{Path, Query, State};
use axum::response::{IntoResponse as _, Response};
use jiff::tz::TimeZone;
use maud::{Markup, html};
use standpipe_engine::owner::{JobShown, Measure};
use standpipe_engine::sheet::Sheet;
use standpipe_engine::site::tally::Asked;
use standpipe_engine::text::{Language, sentence};
use standpipe_proto::csv as table_csv;
use std::collections::HashMap;
use std::sync::Arc;

/// Tally of all workshops, and of one of them.
const ALL: &str = "owner";
const ONE: &str = "owner-site";
/// A longer list of single jobs stands behind the comparison.
const ROWS_FIRST_MOST: usize = 12;

impl Office {
    /// Rows of all workshops; no page where this is no owner's server.
    fn tallies(&self) -> Result<&Arc<Tallies>, Trouble> {
        self.workshop.tallies.as_ref().ok_or(Trouble::NoPage)
    }
}

/// The first page: what went wrong and where, then how the workshops compare.
pub(super) async fn show(
    State(office): State<Arc<Office>>,
    person: SignedIn,
    Query(asked): Query<HashMap<String, String>>,
) -> Result<Response, Trouble> {
    let question = question(&asked, String::new());
    let (made, gathered) = made(&office, ALL, &question).await?;
    if let Some(file) = file(&office, &asked, &question, made.clone()).await? {
        return Ok(file);
    }
    let language = tally::language(&office.workshop);
    let zone = office.workshop.catalogue().now().revision.workshop().time_zone.clone();
    let shown = Shown { language, gathered: Some(&gathered) };
    let sheet = &made.sheet;
    // What is named stands above with its jobs; a long list of single ones does not part it from the comparison.
    // Of no job one sentence says it, and no table.
    let has_jobs = !gathered.figures.sites().is_empty();
    let look = sheet.tables.first().filter(|_| has_jobs);
    let is_long = look.is_some_and(|look| look.rows.len() > ROWS_FIRST_MOST);
    let content = html! {
        h1 { (capital(&words(language, &sheet.title)?)) }
        (ways("/workshops", &question.period, sheet, language)?)
        (period_box("/workshops", &question.period))
        (first(sheet, &gathered, language, None)?)
        @if let Some(look) = look.filter(|_| !is_long) { (shown.table(look)?) }
        @if is_long { p.only-screen { a href="#jobs" { (say!(page_owner_single_jobs)) } } }
        (journals(&gathered.states, &zone))
        @for (place, table) in sheet.tables.iter().enumerate().skip(1).filter(|_| has_jobs) {
            (shown.table(table)?)
            // Shares follow litres and displays, in the order of their measures.
            @if let Some(measure) = measure_of(place) { (charts::funnel(&gathered, measure)) }
        }
        @if let Some(look) = look.filter(|_| is_long) { div #jobs { (shown.table(look)?) } }
        @if !sheet.notes.is_empty() {
            ul.quiet { @for note in &sheet.notes { li { (capital(&words(language, note)?)) } } }
        }
    };
    Ok(office.page(&person, &say!(page_workshops), content).into_response())
}

/// One workshop a month at a time.
pub(super) async fn site(
    State(office): State<Arc<Office>>,
    person: SignedIn,
    Path(site): Path<String>,
    Query(asked): Query<HashMap<String, String>>,
) -> Result<Response, Trouble> {
    let question = question(&asked, site.clone());
    let (made, gathered) = made(&office, ONE, &question).await?;
    if let Some(file) = file(&office, &asked, &question, made.clone()).await? {
        return Ok(file);
    }
    let language = tally::language(&office.workshop);
    let zone = office.workshop.catalogue().now().revision.workshop().time_zone.clone();
    let shown = Shown { language, gathered: Some(&gathered) };
    let (sheet, address) = (&made.sheet, format!("/workshop/{}", urlencoded(&site)));
    let states: Vec<SiteState> =
        gathered.states.iter().filter(|state| state.site.id == site).cloned().collect();
    let title = capital(&words(language, &sheet.title)?);
    let content = html! {
        h1 { (title) }
        (ways(&address, &question.period, sheet, language)?)
        (period_box(&address, &question.period))
        (first(sheet, &gathered, language, Some(&site))?)
        (journals(&states, &zone))
        @for table in &sheet.tables {
            (shown.table(table)?)
            (charts::months(table, &capital(&words(language, &table.heading)?)))
        }
        @if !sheet.notes.is_empty() {
            ul.quiet { @for note in &sheet.notes { li { (capital(&words(language, note)?)) } } }
        }
    };
    Ok(office.page(&person, &title, content).into_response())
}

fn question(asked: &HashMap<String, String>, about: String) -> Asked {
    let period = asked.get("period").map_or("", |text| text.trim()).to_owned();
    Asked { about, period }
}

async fn made(office: &Office, name: &str, question: &Asked) -> Result<(Made, Arc<Gathered>), Trouble> {
    let made = owner::made(&office.workshop, office.tallies()?, name, question).await?;
    let gathered = made.gathered.clone().ok_or(Trouble::NoPage)?;
    Ok((made, gathered))
}

/// The tally as a file, if one is asked for.
async fn file(
    office: &Office,
    asked: &HashMap<String, String>,
    question: &Asked,
    made: Made,
) -> Result<Option<Response>, Trouble> {
    match asked.get("as").map_or("", String::as_str) {
        "csv" => {
            let number: usize = asked.get("table").and_then(|text| text.parse().ok()).unwrap_or(1);
            let message = tally::message(&office.workshop, &made)?;
            let table = number.checked_sub(1).and_then(|place| message.tables.get(place));
            let text = table_csv::table(table.ok_or(Trouble::NoPage)?);
            let file = (file_name(&made.sheet, question, "csv"), "text/csv; charset=utf-8");
            Ok(Some(taken_along(file, "attachment", text.into_bytes())))
        }
        "pdf" => {
            let file = (file_name(&made.sheet, question, "pdf"), "application/pdf");
            Ok(Some(taken_along(file, "inline", print::pdf(&office.workshop, made).await?)))
        }
        _ => Ok(None),
    }
}

/// Links to the files: the page, each table, every job.
fn ways(address: &str, period: &str, sheet: &Sheet, language: Language) -> Result<Markup, Trouble> {
    let period = if period.is_empty() { String::new() } else { format!("&period={}", urlencoded(period)) };
    let headings = sheet.tables.iter().map(|table| words(language, &table.heading));
    let headings: Vec<String> = headings.collect::<Result<_, _>>()?;
    Ok(html! {
        div.ways {
            a href={ (address) "?as=pdf" (period) } { (say!(page_pdf)) }
            a href={ "/workshops/jobs.csv?all" (period) } { (say!(page_owner_every_job_csv)) }
            a href={ "/workshops/jobs.jsonl?all" (period) } { (say!(page_owner_every_job_lines)) }
        }
        details.more.only-screen {
            summary { (say!(page_owner_tables)) }
            div.ways {
                @for (place, heading) in headings.iter().enumerate() {
                    a href={ (address) "?as=csv&table=" (place + 1) (period) } { (say!(page_csv, heading)) }
                }
            }
        }
    })
}

fn period_box(address: &str, period: &str) -> Markup {
    html! {
        form.search method="get" action=(address) {
            div {
                label for="period" { (say!(page_owner_months)) }
                input type="text" id="period" name="period" value=(period) maxlength="15";
            }
            button type="submit" { (say!(page_show)) }
        }
    }
}

/// What is said first, of all workshops or of one: sentences of the sheet, with each job that is named as a link.
fn first(
    sheet: &Sheet,
    gathered: &Gathered,
    language: Language,
    site: Option<&str>,
) -> Result<Markup, Trouble> {
    let told = gathered.context().told(site);
    let mut lines = Vec::with_capacity(sheet.said.len());
    for said in &sheet.said {
        let text = capital(&words(language, said)?);
        let jobs = told.iter().find(|told| told.text == *said).map_or(&[][..], |told| &told.jobs);
        lines.push((!jobs.is_empty(), linked(&text, jobs, gathered)));
    }
    Ok(html! {
        @for lines in lines.chunk_by(|one, next| one.0 == next.0) {
            @if lines.first().is_some_and(|(is_named, _)| *is_named) {
                ul { @for (_, line) in lines { li { (line) } } }
            } @else {
                @for (_, line) in lines { p { (line) } }
            }
        }
    })
}

/// A sentence in which the jobs whose journals are kept here are links.
fn linked(text: &str, jobs: &[JobShown], gathered: &Gathered) -> Markup {
    let mut text = text.to_owned();
    let mut pieces = Vec::with_capacity(jobs.len());
    for (place, job) in jobs.iter().enumerate() {
        text = text.replacen(&job.number, &piece(place), 1);
        pieces.push(html! {
            @if gathered.has_journal(&job.site) {
                a.number href=(job_address(&job.site, &job.job)) { (job.number) }
            } @else {
                span.number { (job.number) }
            }
        });
    }
    with_pieces(&text, &pieces)
}

/// Where a job of a workshop is read.
pub(super) fn job_address(site: &str, job: &str) -> String {
    format!("/workshop/{}/job/{}", urlencoded(site), urlencoded(job))
}

/// The measure whose shares stand in a table of the owner's sheet, by the place of the table.
fn measure_of(place: usize) -> Option<Measure> {
    /// Jobs to look at, displays, litres.
    const BEFORE: usize = 3;
    let mut shares = Measure::ALL.iter().copied().filter(|measure| measure.share().is_some());
    shares.nth(place.checked_sub(BEFORE)?)
}

/// How it stands with each workshop's journal.
fn journals(states: &[SiteState], zone: &TimeZone) -> Markup {
    let heard =
        |state: &SiteState| state.heard.as_ref().map(|heard| clock(heard.at_us, zone, "%-d %b %Y, %H:%M"));
    html! {
        @if !states.is_empty() {
            h2 { (say!(page_owner_journals)) }
            table.stack.sheet {
                thead {
                    tr {
                        th scope="col" { (say!(page_owner_workshop)) }
                        th.figure scope="col" { (say!(page_owner_entries_here)) }
                        th.figure scope="col" { (say!(page_owner_entries_there)) }
                        th scope="col" { (say!(page_owner_last_heard)) }
                        th scope="col" { (say!(page_what)) }
                    }
                }
                tbody {
                    @for state in states {
                        tr {
                            th scope="row" {
                                a href={ "/workshop/" (urlencoded(&state.site.id)) } { (state.site.name) }
                            }
                            td.figure data-label=(say!(page_owner_entries_here)) { (state.kept) }
                            td.figure data-label=(say!(page_owner_entries_there)) {
                                @if let Some(heard) = &state.heard { (heard.said) }
                            }
                            td data-label=(say!(page_owner_last_heard)) {
                                @match heard(state) { Some(heard) => (heard), None => (say!(page_owner_never)) }
                            }
                            td { (said_of(state, zone)) }
                        }
                    }
                }
            }
        }
    }
}

/// What has to be said of a workshop's journal, if anything.
fn said_of(state: &SiteState, zone: &TimeZone) -> Markup {
    let fork = state.fork.as_ref().map(|fork| {
        let day = clock(fork.first_us, zone, "%-d %B %Y");
        crate::office::language::said(&sentence::owner_site_forked(
            day,
            fork.here.0.to_string(),
            state.site.name.as_str(),
        ))
    });
    let lost = state.heard.as_ref().is_some_and(|heard| heard.lost) && fork.is_none();
    let places: Vec<String> = state.left_out.first.iter().map(u64::to_string).collect();
    html! {
        @if let Some(fork) = fork { div { strong { (fork) } } }
        @if lost { div { (say!(page_owner_lost)) } }
        @if state.left_out.count > 0 { div { (say!(page_owner_unread, state.left_out.count, places.join(", "))) } }
    }
}
