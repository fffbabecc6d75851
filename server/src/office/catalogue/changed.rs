//! What an adopted revision changed against the one before it.
//!
//! Never here: what a difference is, which is the engine's.

use super::super::Office;
use super::super::guard::SignedIn;
use super::super::jobs::clock;
use super::super::trouble::{Trouble, capital};
use super::short;
use crate::catalogue::{adoptions, kept};
use crate::office::language::say;
use crate::status::Cause;
use crate::workshop::off_the_network;
use axum::extract::{Path, State};
use maud::{Markup, html};
use standpipe_engine::catalogue::{Change, Difference, Otherwise, VariantChange, difference};
use std::sync::Arc;

/// Most lines of each kind that are shown.
const LINES_MAX: usize = 200;

/// Shows what the revision that was adopted at a place in the journal changed.
pub(in crate::office) async fn show(
    State(office): State<Arc<Office>>,
    person: SignedIn,
    Path(seq): Path<u64>,
) -> Result<Markup, Trouble> {
    let workshop = &*office.workshop;
    let adopted = adoptions(&*workshop.journal).await?;
    let place = adopted.iter().position(|adoption| adoption.seq == seq).ok_or(Trouble::NoPage)?;
    let now = adopted.get(place).ok_or(Trouble::NoPage)?;
    let before = place.checked_sub(1).and_then(|place| adopted.get(place));
    let zone = workshop.catalogue().now().revision.workshop().time_zone.clone();
    let (folder, id) = (workshop.folder.clone(), now.revision_id.clone());
    let changed = match before.map(|adoption| adoption.revision_id.clone()) {
        None => None,
        Some(old) => Some(
            off_the_network(move || {
                let ((old_files, old), (files, revision)) = (kept(&folder, &old)?, kept(&folder, &id)?);
                Ok(difference((&old_files, &old), (&files, &revision)))
            })
            .await?
            .map_err(|error: crate::error::ServerError| Cause::internal("comparing revisions", &error))?,
        ),
    };
    let content = html! {
        h1 { (say!(page_revision, short(&now.revision_id))) }
        p { (say!(page_adopted_on, clock(now.adopted_us, &zone, "%-d %B %Y, %H:%M"))) }
        @match (&changed, before) {
            (Some(changed), Some(before)) => {
                p { (say!(page_against_the_one_before, short(&before.revision_id))) }
                (told(changed))
            },
            _ => p { (say!(page_it_is_the_first_one_everything)) },
        }
        p.ways { a href="/catalogue" { (say!(page_catalogue)) } }
    };
    Ok(office.page(&person, &say!(page_revision_of_the_catalogue), content))
}

fn told(changed: &Difference) -> Markup {
    let Difference { settings, variants, vins } = changed;
    html! {
        @if settings.is_empty() && variants.is_empty() && vins.is_empty() { p { (say!(page_nothing_is_different)) } }
        @if !settings.is_empty() { h2 { (say!(page_settings)) } (lines(settings)) }
        @for variant in variants.iter().take(LINES_MAX) { (variant_told(variant)) }
        @if let Some(count) = more(variants.len()) { p { (say!(page_more_variants_are_left_out_here, count)) } }
        @if !vins.is_empty() {
            h2 { (say!(page_vins_that_are_decided_otherwise_by)) }
            ul { @for vin in vins.iter().take(LINES_MAX) { (vin_told(vin)) } }
            @if let Some(count) = more(vins.len()) { p { (say!(page_more_vins_are_left_out_here, count)) } }
        }
    }
}

fn variant_told(variant: &VariantChange) -> Markup {
    let (code, name) = (&variant.code, &variant.name);
    let what = match (variant.was_there, variant.is_there) {
        (false, _) => say!(page_variant_came_in, code, name),
        (true, false) => say!(page_variant_was_taken_out, code, name),
        (true, true) => say!(page_variant_was_changed, code, name),
    };
    html! {
        h2 { (what) }
        (lines(&variant.changes))
    }
}

fn lines(changes: &[Change]) -> Markup {
    html! {
        ul {
            @for change in changes.iter().take(LINES_MAX) {
                li {
                    (capital(&change.what)) ": "
                    @match (&change.before, &change.now) {
                        (Some(before), Some(now)) => (say!(page_now_and_before, before, now)),
                        (None, Some(now)) => (now),
                        (Some(before), None) => (say!(page_not_stated_any_more_before, before)),
                        (None, None) => (say!(page_not_stated)),
                    }
                }
            }
        }
        @if let Some(count) = more(changes.len()) { p { (say!(page_more_lines_are_left_out_here, count)) } }
    }
}

fn vin_told(vin: &Otherwise) -> Markup {
    let named = |codes: &[String]| if codes.is_empty() { say!(page_none) } else { codes.join(", ") };
    html! { li { (vin.vin.as_str()) ": " (say!(page_now_and_before, named(&vin.before), named(&vin.now))) } }
}

/// How many are left out, if any.
fn more(count: usize) -> Option<String> {
    count.checked_sub(LINES_MAX).filter(|more| *more > 0).map(|more| more.to_string())
}
