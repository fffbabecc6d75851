//! How far the journal is at the owner's server, and what the owner offers, as the office reads it. Where the site has joined
//! no owner's server, nothing is shown.
//!
//! An offered revision is used when somebody says so here, with the workshop's own settings. Never here: what is brought.

use super::Office;
use super::catalogue::short;
use super::guard::{SignedForm, SignedIn};
use super::jobs::clock;
use super::language::say;
use super::trouble::Trouble;
use super::variant::current_files;
use crate::catalogue::kept_files;
use crate::error::ServerError;
use crate::forwarding::{AtOwner, Course, offer};
use crate::order::Order;
use crate::status::Cause;
use crate::workshop::off_the_network;
use axum::extract::{Path, State};
use axum::response::Redirect;
use jiff::tz::TimeZone;
use maud::{Markup, html};
use standpipe_engine::catalogue::Revision;
use std::path::PathBuf;
use std::sync::Arc;

/// A line for the foot of the table of jobs.
pub(super) fn line(office: &Office) -> Markup {
    let zone = office.workshop.catalogue().now().revision.workshop().time_zone.clone();
    html! {
        @if let Some(at) = office.workshop.bond.at_owner() {
            p.quiet { (reach(&at, &zone)) }
            @if at.course.is_stopped() { p { (at.trouble) } }
        }
    }
}

fn reach(at: &AtOwner, zone: &TimeZone) -> String {
    let (kept, entries) = (at.kept.to_string(), at.entries.to_string());
    let level = at.level_us.filter(|_| at.course != Course::Level);
    match (at.course, level) {
        (Course::Level, _) => say!(page_the_owners_server_has_all, entries),
        (_, Some(level_us)) => {
            let since = clock(level_us, zone, "%-d %b %Y, %H:%M");
            say!(page_the_owners_server_has_some_since, entries, kept, since)
        }
        (_, None) => say!(page_the_owners_server_has_some, entries, kept),
    }
}

/// What the owner offers that is not in use.
pub(super) async fn offers(office: &Office, person: &SignedIn) -> Result<Markup, Trouble> {
    let mut others = Vec::new();
    for revision in office.workshop.bond.at_owner().map(|at| at.offered).unwrap_or_default() {
        let own = current_files(&office.workshop, &office.workshop.catalogue()).await?;
        // One whose files did not come yet is shown when they are here.
        if let Some(offered) = files_of(office, &revision).await?
            && offer::is_other(offered, &own)
        {
            others.push(revision);
        }
    }
    Ok(html! {
        @for revision in &others {
            form.ways method="post" action={ "/catalogue/offered/" (revision) } {
                (person.key_box())
                p { (say!(page_the_owner_offers, short(revision))) }
                button type="submit" { (say!(page_use_what_is_offered, short(revision))) }
            }
        }
    })
}

async fn files_of(office: &Office, revision: &str) -> Result<Option<crate::catalogue::Files>, Trouble> {
    let (folder, id) = (office.workshop.folder.clone(), revision.to_owned());
    Ok(off_the_network(move || kept_files(&folder, &id)).await?.ok())
}

/// Uses an offered revision from now on.
pub(super) async fn adopt(
    State(office): State<Arc<Office>>,
    Path(revision): Path<String>,
    SignedForm(person, _): SignedForm,
) -> Result<Redirect, Trouble> {
    let offered = office.workshop.bond.at_owner().is_some_and(|at| at.offered.contains(&revision));
    let files = if offered { files_of(&office, &revision).await? } else { None };
    let files = files.ok_or(Trouble::NoPage)?;
    // Whoever closes the page meanwhile does not leave it half done.
    let adopting = tokio::spawn(adopted(office, files, person.code));
    adopting.await.map_err(|error| Cause::internal("adopting a catalogue revision", &error))??;
    Ok(Redirect::to("/catalogue"))
}

async fn adopted(
    office: Arc<Office>,
    offered: crate::catalogue::Files,
    person_code: String,
) -> Result<(), Trouble> {
    let workshop = &*office.workshop;
    let mut desk = workshop.desk.lock().await;
    let own = current_files(workshop, &workshop.catalogue()).await?;
    let files = offer::here(offered, &own);
    let parsed = files.clone();
    let revision = off_the_network(move || Revision::parse(parsed)).await?.map_err(ServerError::from)?;
    let imported = desk.adopt(&files, &revision, &person_code).await;
    workshop.look_again(&Order::ImportCatalogue { from: PathBuf::new() }).await?;
    imported?;
    Ok(())
}
