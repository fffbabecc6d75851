//! The jobs that are open, each a large button with what comes next: where a tablet begins.

use super::page::framed;
use super::{Bay, Office};
use crate::lines::refresh;
use crate::office::language::{language, say};
use crate::office::trouble::{Trouble, capital};
use axum::extract::State;
use maud::{Markup, html};
use standpipe_store::{SummaryFilter, SummaryOrder};
use std::sync::Arc;

/// Most jobs of the list: nobody has more open at the same time in reach of one tablet.
const JOBS_MOST: usize = 40;

/// Shows the open jobs in the order of the work.
pub(super) async fn show(State(office): State<Arc<Office>>, _bay: Bay) -> Result<Markup, Trouble> {
    let workshop = &*office.workshop;
    let complete = refresh(workshop).await?;
    let order = SummaryOrder::Rank { after: None };
    let filter = SummaryFilter { text: String::new(), open_only: true, order, customers: false };
    let lines = workshop.beside.summaries(&filter, JOBS_MOST).await?;
    let mut jobs = Vec::with_capacity(lines.len());
    for line in lines {
        let Some(row) = workshop.journal.job(line.job_id).await? else { continue };
        jobs.push((workshop.printed(&row), line.plate, line.title, capital(&line.state)));
    }
    let title = say!(bay_jobs);
    let none = say!(bay_jobs_none);
    let loading = say!(bay_jobs_loading);
    let content = html! {
        main.jobs {
            h1 { (title) }
            @if !complete { p { (loading) } }
            @if jobs.is_empty() { p { (none) } }
            ul {
                @for (number, plate, variant, next) in jobs {
                    li {
                        a.button href={ "/bay/" (number) } {
                            strong { (number) } " " span { (plate) } " " span { (variant) } " " span.found { (next) }
                        }
                    }
                }
            }
        }
    };
    Ok(framed(&title, language(), content))
}
