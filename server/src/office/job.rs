//! One job, read from top to bottom: what to know, what is open, the figures, and the story with its times.

use super::guard::SignedIn;
use super::language::say;
use super::trouble::{Trouble, capital};
use super::{Office, beside, live, paper, story};
use crate::convert::{all_words, words};
use crate::reading::Now;
use crate::workshop::Computed;
use axum::extract::{Path, State};
use jiff::tz::TimeZone;
use maud::{Markup, html};
use standpipe_engine::gates::Gate;
use standpipe_engine::text::{Language, Sentence};
use standpipe_engine::view::{HistoryLine, JobView, Weight};
use standpipe_store::Customer;
use std::collections::HashMap;
use std::sync::Arc;

/// What the parts of the page need beside the view.
pub(super) struct Told<'a> {
    pub(super) view: &'a JobView,
    pub(super) language: Language,
    pub(super) zone: TimeZone,
    pub(super) names: HashMap<String, String>,
    /// Whether nothing can be put right here.
    pub(super) read_only: bool,
}

impl Told<'_> {
    pub(super) fn words(&self, sentence: &Sentence) -> Result<String, Trouble> {
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
    let entries = workshop.journal.read_job(row.job_id).await?;
    let beside = beside::shown(workshop, &row, &computed.view).await?;
    let persons = workshop.beside.persons().await?.into_iter();
    let told = Told {
        view: &computed.view,
        language: workshop.language(&row),
        zone: workshop.adopted(&row).revision.workshop().time_zone.clone(),
        names: persons.filter_map(|person| Some((person.code, person.name?))).collect(),
        read_only: false,
    };
    let number = &computed.view.head.number;
    let content = html! {
        h1 { (number) @if !computed.view.vehicle.plate.is_empty() { " – " (computed.view.vehicle.plate) } }
        (changes_now(&now))
        (vehicle(&computed, customer.as_ref()))
        @if computed.view.vehicle.variant.is_none() && !computed.view.head.closed {
            p.ways { a href={ "/variant?job=" (number) } { (say!(page_enter_its_variant)) } }
        }
        (shelf.ways(&office, &person, number)?)
        (open_points(&told)?)
        (findings(&told)?)
        (beside)
        (history(&told)?)
        (condition(&told)?)
        (next_due(&told)?)
        (figures(&told)?)
        (story::shown(&told, &entries)?)
        p.quiet { (say!(page_check_value, &computed.view.provenance.check_value)) }
    };
    let live = live::job_path(number, reached, &now);
    Ok(office.live_page(&person, number, &live, content))
}

pub(super) fn vehicle(computed: &Computed, customer: Option<&Customer>) -> Markup {
    let vehicle = &computed.view.vehicle;
    let rows = [
        (say!(page_vehicle), Some(vehicle.name.as_str())),
        (say!(page_vin), vehicle.vin.as_deref()),
        (say!(page_variant), vehicle.variant.as_deref()),
        (say!(page_at_arrival), vehicle.distance_in.as_deref()),
        (say!(page_at_the_end), vehicle.distance_out.as_deref()),
        (say!(page_customer), customer.map(|customer| customer.name.as_str())),
        (say!(page_telephone), customer.map(|customer| customer.telephone.as_str())),
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
        h2 { (say!(page_next)) }
        @if view.head.closed {
            p { @if view.head.no_exchange_done { (say!(page_the_job_is_closed_no_exchange)) } @else { (say!(page_the_job_is_closed)) } }
        }
        @if let Some(next) = &next { p.current { (capital(next)) } }
        @if points.len() > 1 || (next.is_none() && !points.is_empty()) {
            h3 { (say!(page_all_that_is_open)) }
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
        } @else if next.is_none() && !view.head.closed { p { (say!(page_nothing_is_open)) } }
    })
}

fn history(told: &Told<'_>) -> Result<Markup, Trouble> {
    let line = |line: &HistoryLine| Ok((line.job.clone(), told.words(&line.text)?));
    let lines: Vec<(Option<String>, String)> =
        told.view.history.iter().map(line).collect::<Result<_, Trouble>>()?;
    Ok(html! {
        @if !lines.is_empty() {
            h2 { (say!(page_earlier_jobs)) }
            ul {
                @for (job, text) in lines {
                    li {
                        (capital(&text))
                        @if let Some(job) = job {
                            " " a href={ "/job/" (job) } { (say!(page_job_named, &job)) }
                            " " a href={ "/job/" (job) "/record.pdf" } { (say!(page_its_record)) }
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
        Some(Gate::Exchange) => say!(page_before_the_exchange),
        Some(Gate::Pan) => say!(page_before_the_pan),
        Some(Gate::Refill) => say!(page_before_the_refill),
        Some(Gate::StartEngine) => say!(page_before_the_engine_is_started),
        Some(Gate::Level) => say!(page_before_the_level),
        Some(Gate::RoadTest) => say!(page_before_the_drive),
        Some(Gate::Close) => say!(page_before_closing),
        None => gate.to_owned(),
    }
}

pub(super) fn findings(told: &Told<'_>) -> Result<Markup, Trouble> {
    let mut findings: Vec<_> = told.view.findings.iter().collect();
    findings.sort_by_key(|finding| finding.weight != Weight::Stops);
    let findings = findings
        .into_iter()
        .map(|finding| Ok((finding.stands, told.words(&finding.text)?)))
        .collect::<Result<Vec<_>, Trouble>>()?;
    Ok(html! {
        @if !findings.is_empty() {
            h2 { (say!(page_what_to_know)) }
            ul {
                @for (stops, text) in findings {
                    li.stop[stops] { @if stops && !text.contains("Stop") { (say!(page_stop)) " " } (capital(&text)) }
                }
            }
        }
    })
}

/// When the next service is due, and on what that stands; nothing until the job is closed as done.
pub(super) fn next_due(told: &Told<'_>) -> Result<Markup, Trouble> {
    let said = told.view.next_due.sentences.iter().map(|said| told.words(said));
    let said: Vec<String> = said.collect::<Result<_, Trouble>>()?;
    Ok(html! { @if !said.is_empty() { h2 { (say!(page_next_due)) } p { (said.join(" ")) } } })
}

/// What was seen of the fluid, what each sight speaks for, and the rule that decided.
pub(super) fn condition(told: &Told<'_>) -> Result<Markup, Trouble> {
    let mut sides = Vec::new();
    for side in &told.view.condition {
        let lines = side.lines.iter().map(|line| told.words(&line.text)).collect::<Result<Vec<_>, _>>()?;
        sides.push((told.words(&side.moment)?, lines, told.words(&side.conclusion)?));
    }
    Ok(html! {
        @if !sides.is_empty() { h2 { (say!(page_condition_of_the_fluid)) } }
        @for (moment, lines, conclusion) in sides {
            h3 { (capital(&moment)) }
            ul { @for line in lines { li { (capital(&line)) } } }
            p { (conclusion) }
        }
    })
}

pub(super) fn figures(told: &Told<'_>) -> Result<Markup, Trouble> {
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
            h2 { (say!(page_figures)) }
            table.stack {
                thead {
                    tr {
                        th scope="col" { (say!(page_what)) } th scope="col" { (say!(page_value_from_to)) } th scope="col" { (say!(page_rests_on)) }
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
