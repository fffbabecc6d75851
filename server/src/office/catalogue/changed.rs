//! What an adopted revision changed against the one before it.
//!
//! Never here: what a difference is, which is the engine's.

use super::super::Office;
use super::super::guard::SignedIn;
use super::super::jobs::clock;
use super::super::trouble::{Trouble, capital};
use super::short;
use crate::catalogue::{adoptions, kept};
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
        h1 { "Revision " (short(&now.revision_id)) }
        p { "Adopted on " (clock(now.adopted_us, &zone, "%-d %B %Y, %H:%M")) "." }
        @match (&changed, before) {
            (Some(changed), Some(before)) => {
                p { "Against " (short(&before.revision_id)) ", the one before:" }
                (told(changed))
            },
            _ => p { "It is the first one; everything in it was new." },
        }
        p.ways { a href="/catalogue" { "Catalogue" } }
    };
    Ok(office.page(&person, "Revision of the catalogue", content))
}

fn told(changed: &Difference) -> Markup {
    let Difference { settings, variants, vins } = changed;
    html! {
        @if settings.is_empty() && variants.is_empty() && vins.is_empty() { p { "Nothing is different." } }
        @if !settings.is_empty() { h2 { "Settings" } (lines(settings)) }
        @for variant in variants.iter().take(LINES_MAX) { (variant_told(variant)) }
        (left_out(variants.len(), "variants"))
        @if !vins.is_empty() {
            h2 { "VINs that are decided otherwise, by an example each" }
            ul { @for vin in vins.iter().take(LINES_MAX) { (vin_told(vin)) } }
            (left_out(vins.len(), "VINs"))
        }
    }
}

fn variant_told(variant: &VariantChange) -> Markup {
    let what = match (variant.was_there, variant.is_there) {
        (false, _) => "came in",
        (true, false) => "was taken out",
        (true, true) => "was changed",
    };
    html! {
        h2 { "Variant " (variant.code) ", " (variant.name) ", " (what) }
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
                        (Some(before), Some(now)) => { (now) ", before: " (before) },
                        (None, Some(now)) => (now),
                        (Some(before), None) => { "not stated any more, before: " (before) },
                        (None, None) => "not stated",
                    }
                }
            }
        }
        (left_out(changes.len(), "lines"))
    }
}

fn vin_told(vin: &Otherwise) -> Markup {
    let named = |codes: &[String]| if codes.is_empty() { "none".to_owned() } else { codes.join(", ") };
    html! { li { (vin.vin.as_str()) ": " (named(&vin.now)) ", before: " (named(&vin.before)) } }
}

fn left_out(count: usize, what: &str) -> Markup {
    html! { @if count > LINES_MAX { p { (count - LINES_MAX) " more " (what) " are left out here." } } }
}
