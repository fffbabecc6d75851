//! The story of one job of a workshop, read through the copy of its journal. Nothing can be stated here; no customer,
//! remark or photo is known, and persons are shown only where the owner switched them on, which every copy is opened with.

use super::super::Office;
use super::super::guard::SignedIn;
use super::super::job::{Told, condition, figures, findings, next_due, vehicle};
use super::super::jobs::urlencoded;
use super::super::language::say;
use super::super::story;
use super::super::trouble::Trouble;
use crate::tallies::name_of;
use axum::extract::{Path, State};
use maud::{Markup, html};
use std::collections::HashMap;
use std::sync::Arc;

/// Shows the job.
pub(in crate::office) async fn show(
    State(office): State<Arc<Office>>,
    person: SignedIn,
    Path((site, job)): Path<(String, String)>,
) -> Result<Markup, Trouble> {
    let tallies = office.tallies()?;
    let names = tallies.names().await?;
    let held = tallies.sites.open(&site).await?;
    let workshop = &*held.workshop;
    let row = workshop.find(&job).await?;
    let mut reading = workshop.read(&row).await?;
    // As the row of the job is computed: as of its last entry, with all that is known of its site by now.
    reading.sight.as_of_us = reading.job.last_received_us;
    let (computed, entries) = (Arc::clone(&reading.job), reading.entries.clone());
    let view = reading.ask(standpipe_engine::job::view).await?;
    let told = Told {
        view: &view,
        language: workshop.language(&row),
        zone: workshop.adopted(&row).revision.workshop().time_zone.clone(),
        names: HashMap::new(),
        read_only: true,
    };
    let (name, number) = (name_of(&names, &site), &view.head.number);
    let content = html! {
        h1 { (number) @if !view.vehicle.plate.is_empty() { " – " (view.vehicle.plate) } }
        p {
            a href={ "/workshop/" (urlencoded(&site)) } { (name) } ". "
            (say!(page_owner_as_of_entry, view.provenance.last_seq.to_string()))
        }
        (vehicle(&computed, None))
        (findings(&told)?)
        (condition(&told)?)
        (next_due(&told)?)
        (figures(&told)?)
        (story::shown(&told, &entries)?)
        p.quiet { (say!(page_owner_not_here)) }
        p.quiet { (say!(page_check_value, &view.provenance.check_value)) }
    };
    Ok(office.page(&person, number, content))
}
