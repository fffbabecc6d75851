//! One job, read from top to bottom: what to know, what is open, the figures, and the story with its times.

use super::guard::SignedIn;
use super::jobs::clock;
use super::trouble::{Trouble, capital};
use super::{Office, beside, live, paper};
use crate::convert::{all_words, words};
use crate::reading::Now;
use crate::workshop::Computed;
use axum::extract::{Path, State};
use jiff::tz::TimeZone;
use maud::{Markup, html};
use standpipe_engine::gates::Gate;
use standpipe_engine::text::{Language, Sentence};
use standpipe_engine::view::{HistoryLine, JobView, StoryLine, Weight};
use standpipe_store::Customer;
use std::collections::HashMap;
use std::sync::Arc;

/// What the parts of the page need beside the view.
struct Told<'a> {
    view: &'a JobView,
    language: Language,
    zone: TimeZone,
    names: HashMap<String, String>,
}

impl Told<'_> {
    fn words(&self, sentence: &Sentence) -> Result<String, Trouble> {
        Ok(words(self.language, sentence)?)
    }
}

/// Shows the job.
pub(super) async fn show(
    State(office): State<Arc<Office>>,
    person: SignedIn,
    Path(job): Path<String>,
) -> Result<Markup, Trouble> {
    let workshop = &*office.workshop;
    let row = workshop.find(&job).await?;
    // Before the reading, so that the page is told of what comes in between.
    let reached = workshop.journal.head().await?.seq;
    let Now { job: computed, view: as_of_now, .. } = workshop.as_of_now(&row).await?;
    let now = all_words(workshop.language(&row), &as_of_now.now)?;
    let customer = workshop.beside.customer(row.job_id).await?;
    let shelf = paper::Shelf::of(workshop, &computed, customer.is_some()).await?;
    let beside = beside::shown(workshop, &row, &computed.view).await?;
    let persons = workshop.beside.persons().await?.into_iter();
    let told = Told {
        view: &computed.view,
        language: workshop.language(&row),
        zone: workshop.adopted(&row).revision.workshop().time_zone.clone(),
        names: persons.filter_map(|person| Some((person.code, person.name?))).collect(),
    };
    let number = &computed.view.head.number;
    let content = html! {
        h1 { (number) @if !computed.view.vehicle.plate.is_empty() { " – " (computed.view.vehicle.plate) } }
        (changes_now(&now))
        (vehicle(&computed, customer.as_ref()))
        @if computed.view.vehicle.variant.is_none() && !computed.view.head.closed {
            p.ways { a href={ "/variant?job=" (number) } { "Enter its variant" } }
        }
        (shelf.ways(&office, &person, number)?)
        (open_points(&told)?)
        (findings(&told)?)
        (beside)
        (history(&told)?)
        (condition(&told)?)
        (next_due(&told)?)
        (figures(&told)?)
        (story(&told)?)
        p.quiet { "Check value " (computed.view.provenance.check_value) }
    };
    let live = live::job_path(number, reached, &now);
    Ok(office.live_page(&person, number, &live, content))
}

fn vehicle(computed: &Computed, customer: Option<&Customer>) -> Markup {
    let vehicle = &computed.view.vehicle;
    let rows = [
        ("Vehicle", Some(vehicle.name.as_str())),
        ("VIN", vehicle.vin.as_deref()),
        ("Variant", vehicle.variant.as_deref()),
        ("At arrival", vehicle.distance_in.as_deref()),
        ("At the end", vehicle.distance_out.as_deref()),
        ("Customer", customer.map(|customer| customer.name.as_str())),
        ("Telephone", customer.map(|customer| customer.telephone.as_str())),
    ];
    html! {
        dl.facts {
            @for (label, value) in rows {
                @if let Some(value) = value.filter(|value| !value.is_empty()) {
                    dt { (label) } dd { (value) }
                }
            }
        }
    }
}

/// What changes what the bay does next, in the head of the page.
fn changes_now(lines: &[String]) -> Markup {
    html! {
        @if !lines.is_empty() {
            ul.now { @for line in lines { li { (capital(line)) } } }
        }
    }
}

fn open_points(told: &Told<'_>) -> Result<Markup, Trouble> {
    let view = told.view;
    let points = view.open_points.iter().map(|point| Ok((point.gate, told.words(&point.text)?)));
    let points: Vec<(&str, String)> = points.collect::<Result<_, Trouble>>()?;
    let next = view.head.next_open_point.as_ref().map(|next| told.words(next)).transpose()?;
    Ok(html! {
        h2 { "Next" }
        @if view.head.closed {
            p { @if view.head.no_exchange_done { "The job is closed; no exchange was done." } @else { "The job is closed." } }
        }
        @if let Some(next) = &next { p.current { (capital(next)) } }
        @if points.len() > 1 || (next.is_none() && !points.is_empty()) {
            h3 { "All that is open" }
            div.open {
                @for points in points.chunk_by(|one, next| one.0 == next.0) {
                    @if let Some((gate, _)) = points.first() {
                        div {
                            @if !gate.is_empty() { h4 { (before(gate)) } }
                            ul { @for (_, point) in points { li { (capital(point)) } } }
                        }
                    }
                }
            }
        } @else if next.is_none() && !view.head.closed { p { "Nothing is open." } }
    })
}

fn history(told: &Told<'_>) -> Result<Markup, Trouble> {
    let line = |line: &HistoryLine| Ok((line.job.clone(), told.words(&line.text)?));
    let lines: Vec<(Option<String>, String)> =
        told.view.history.iter().map(line).collect::<Result<_, Trouble>>()?;
    Ok(html! {
        @if !lines.is_empty() {
            h2 { "Earlier jobs" }
            ul {
                @for (job, text) in lines {
                    li {
                        (capital(&text))
                        @if let Some(job) = job {
                            " " a href={ "/job/" (job) } { "Job " (job) }
                            " " a href={ "/job/" (job) "/record.pdf" } { "Its record" }
                        }
                    }
                }
            }
        }
    })
}

/// What a gate is the gate to.
fn before(gate: &str) -> String {
    match Gate::from_name(gate) {
        Some(Gate::Exchange) => "Before the exchange".to_owned(),
        Some(Gate::Pan) => "Before the pan".to_owned(),
        Some(Gate::Refill) => "Before the refill".to_owned(),
        Some(Gate::StartEngine) => "Before the engine is started".to_owned(),
        Some(Gate::Level) => "Before the level".to_owned(),
        Some(Gate::RoadTest) => "Before the drive".to_owned(),
        Some(Gate::Close) => "Before closing".to_owned(),
        None => gate.to_owned(),
    }
}

fn findings(told: &Told<'_>) -> Result<Markup, Trouble> {
    let mut findings: Vec<_> = told.view.findings.iter().collect();
    findings.sort_by_key(|finding| finding.weight != Weight::Stops);
    let findings = findings
        .into_iter()
        .map(|finding| Ok((finding.weight == Weight::Stops, told.words(&finding.text)?)))
        .collect::<Result<Vec<_>, Trouble>>()?;
    Ok(html! {
        @if !findings.is_empty() {
            h2 { "What to know" }
            ul {
                @for (stops, text) in findings {
                    li.stop[stops] { @if stops && !text.contains("Stop") { "Stop: " } (capital(&text)) }
                }
            }
        }
    })
}

/// When the next service is due, and on what that stands; nothing until the job is closed as done.
fn next_due(told: &Told<'_>) -> Result<Markup, Trouble> {
    let said = told.view.next_due.sentences.iter().map(|said| told.words(said));
    let said: Vec<String> = said.collect::<Result<_, Trouble>>()?;
    Ok(html! { @if !said.is_empty() { h2 { "Next due" } p { (said.join(" ")) } } })
}

/// What was seen of the fluid, what each sight speaks for, and the rule that decided.
fn condition(told: &Told<'_>) -> Result<Markup, Trouble> {
    let mut sides = Vec::new();
    for side in &told.view.condition {
        let lines = side.lines.iter().map(|line| told.words(&line.text)).collect::<Result<Vec<_>, _>>()?;
        sides.push((told.words(&side.moment)?, lines, told.words(&side.conclusion)?));
    }
    Ok(html! {
        @if !sides.is_empty() { h2 { "Condition of the fluid" } }
        @for (moment, lines, conclusion) in sides {
            h3 { (capital(&moment)) }
            ul { @for line in lines { li { (capital(&line)) } } }
            p { (conclusion) }
        }
    })
}

fn figures(told: &Told<'_>) -> Result<Markup, Trouble> {
    let mut rows = Vec::new();
    // Figures that follow each other and rest on the same are told so once.
    for group in told.view.figures.chunk_by(|one, next| one.reasons == next.reasons) {
        for (at, figure) in group.iter().enumerate() {
            let reasons = figure.reasons.iter().map(|reason| told.words(reason));
            let reasons = reasons.collect::<Result<Vec<_>, Trouble>>()?;
            let reasons = (at == 0).then_some((group.len(), reasons));
            rows.push((told.words(&figure.label)?, told.words(&figure.text)?, reasons));
        }
    }
    Ok(html! {
        @if !rows.is_empty() {
            h2 { "Figures" }
            table.stack {
                thead {
                    tr {
                        th scope="col" { "What" } th scope="col" { "Value, from-to" } th scope="col" { "Rests on" }
                    }
                }
                tbody {
                    @for (label, text, reasons) in rows {
                        tr {
                            td { (capital(&label)) }
                            td { (text) }
                            @if let Some((rows, reasons)) = reasons {
                                td rowspan=(rows) { @for reason in reasons { div { (capital(&reason)) } } }
                            }
                        }
                    }
                }
            }
        }
    })
}

fn story(told: &Told<'_>) -> Result<Markup, Trouble> {
    let mut rows = Vec::new();
    let mut day = String::new();
    for line in &told.view.story {
        let on = clock(line.time_us, &told.zone, "%A %-d %B %Y");
        let new_day = (on != day).then(|| on.clone());
        day = on;
        rows.push((new_day, story_line(told, line)?));
    }
    Ok(html! {
        h2 { "Story" }
        table {
            thead.only-screen { tr { th scope="col" { "Time" } th scope="col" { "Entry" } th scope="col" { "By" } } }
            tbody {
                @for (new_day, line) in rows {
                    @if let Some(day) = new_day { tr.day { td colspan="3" { (day) } } }
                    (line)
                }
            }
        }
    })
}

fn story_line(told: &Told<'_>, line: &StoryLine) -> Result<Markup, Trouble> {
    let text = capital(&told.words(&line.text)?);
    let changed = line.changed.as_ref().map(|changed| told.words(changed)).transpose()?;
    let person = told.names.get(&line.person).filter(|name| !name.is_empty()).unwrap_or(&line.person);
    Ok(html! {
        tr id={ "entry-" (line.seq) } {
            td.time { (clock(line.time_us, &told.zone, "%H:%M")) }
            td {
                @match changed {
                    Some(changed) => { s { (text) } div { (capital(&changed)) } }
                    None => (text)
                }
                @if line.late { div.quiet { "Entered later" } }
            }
            td { (person) }
        }
    })
}
