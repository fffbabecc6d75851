//! The catalogue as the office reads it: the variants of the revision in use, and which revisions were adopted when.
//!
//! Never here: what a variant means for a job, or how a revision is made, which is [`super::variant`]'s.

use super::Office;
use super::guard::SignedIn;
use super::jobs::clock;
use super::trouble::Trouble;
use crate::catalogue::{Adoption, adoptions};
use axum::extract::State;
use maud::{Markup, html};
use standpipe_engine::catalogue::{Revision, Variant};
use std::sync::Arc;

/// Hexadecimal digits of a revision that are shown, as on the record.
const REVISION_DIGITS: usize = 8;

/// Shows the catalogue.
pub(super) async fn show(State(office): State<Arc<Office>>, person: SignedIn) -> Result<Markup, Trouble> {
    let workshop = &*office.workshop;
    let catalogue = workshop.catalogue();
    let revision = &catalogue.now().revision;
    let mut adopted = adoptions(&*workshop.journal).await?;
    adopted.reverse();
    let content = html! {
        h1 { "Catalogue" }
        div.ways { a href="/variant" { "Enter a variant" } }
        (variants(revision))
        (revisions(revision, &adopted))
    };
    Ok(office.page(&person, "Catalogue", content))
}

fn variants(revision: &Revision) -> Markup {
    let variants = revision.variants();
    html! {
        h2 { "Variants in use" }
        @if variants.is_empty() {
            p { "No variant yet. A job can be done all the same: look its variant up, and enter it here." }
        } @else {
            table.stack.sheet {
                thead {
                    tr {
                        th scope="col" { "Code" } th scope="col" { "Variant" } th scope="col" { "Fluid" }
                        th scope="col" { "Filter" } th scope="col" { "Standpipe" } th scope="col" { "Level" }
                        th scope="col" { "Torques" } th scope="col" { "Source" }
                    }
                }
                tbody { @for variant in variants { (line(variant)) } }
            }
        }
    }
}

fn line(variant: &Variant) -> Markup {
    let or_none = |text: &Option<String>| text.clone().unwrap_or_else(|| "not stated".to_owned());
    let standpipe = match (&variant.standpipe_code, &variant.standpipe_label) {
        (Some(code), Some(label)) => format!("{code}, {label}"),
        (code, label) => or_none(if code.is_some() { code } else { label }),
    };
    let torque = |torque: Option<f64>| {
        torque.map_or_else(|| "see the maker".to_owned(), |torque| format!("{torque}\u{a0}N·m"))
    };
    let screws = variant.pan_screw_count.map_or_else(String::new, |count| format!("{count} × "));
    html! {
        tr {
            td.plate data-label="Code" { (variant.code) }
            td data-label="Variant" { (variant.maker) " " (variant.transmission) ", " (variant.label) }
            td data-label="Fluid" {
                (variant.fluid.code) " " (variant.fluid.name) ", " (variant.total_fill_litres) "\u{a0}L"
            }
            td data-label="Filter" { (or_none(&variant.filter_code)) }
            td data-label="Standpipe" { (standpipe) }
            td data-label="Level" { (variant.level_from_celsius) " to " (variant.level_to_celsius) "\u{a0}°C" }
            td data-label="Torques" {
                div { "Plug: " (torque(variant.plug_torque_newton_metres)) }
                div { "Pan: " (screws) (torque(variant.pan_screw_torque_newton_metres)) }
            }
            td data-label="Source" { (variant.source) ", " (variant.edition) }
        }
    }
}

fn revisions(revision: &Revision, adopted: &[Adoption]) -> Markup {
    let zone = &revision.workshop().time_zone;
    html! {
        h2 { "Revisions" }
        @if adopted.is_empty() { p { "None was adopted yet." } }
        ul {
            @for (place, adoption) in adopted.iter().enumerate() {
                li {
                    (clock(adoption.adopted_us, zone, "%-d %B %Y, %H:%M")) ": "
                    (adoption.revision_id.chars().take(REVISION_DIGITS).collect::<String>())
                    @if place == 0 { ", in use" }
                }
            }
        }
    }
}
