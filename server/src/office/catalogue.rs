//! The catalogue as the office reads it: the variants of the revision in use, searched and a page at a time, and which
//! revisions were adopted when. One variant is shown by [`one`], what a revision changed by [`changed`].
//!
//! Never here: what a variant means for a job, or how a revision is made, which is [`super::variant`]'s.

pub(super) mod changed;
pub(super) mod one;

use super::Office;
use super::at_owner::offers;
use super::guard::SignedIn;
use super::jobs::{clock, urlencoded};
use super::language::say;
use super::trouble::Trouble;
use crate::catalogue::{Adoption, adoptions};
use axum::extract::{Query, State};
use maud::{Markup, html};
use standpipe_engine::catalogue::{Revision, Variant};
use std::collections::HashMap;
use std::sync::Arc;

/// Hexadecimal digits of a revision that are shown, as on the record.
const REVISION_DIGITS: usize = 8;
/// Variants on one page.
const VARIANTS_A_PAGE: usize = 50;
/// Revisions that are listed.
const REVISIONS_MAX: usize = 100;
/// Most characters that are searched for.
const SEARCH_LENGTH: usize = 40;

/// Shows the catalogue.
pub(super) async fn show(
    State(office): State<Arc<Office>>,
    person: SignedIn,
    Query(asked): Query<HashMap<String, String>>,
) -> Result<Markup, Trouble> {
    let search = asked.get("text").map_or("", |text| text.trim());
    let page = asked.get("page").and_then(|page| page.parse().ok()).unwrap_or(1);
    let workshop = &*office.workshop;
    let catalogue = workshop.catalogue();
    let revision = &catalogue.now().revision;
    let mut adopted = adoptions(&*workshop.journal).await?;
    adopted.reverse();
    let content = html! {
        h1 { (say!(page_catalogue)) }
        div.ways { a href="/variant" { (say!(page_enter_a_variant)) } }
        (offers(&office, &person).await?)
        (variants(revision, search, page))
        (revisions(revision, &adopted))
    };
    Ok(office.page(&person, &say!(page_catalogue), content))
}

fn variants(revision: &Revision, search: &str, page: usize) -> Markup {
    let variants = revision.variants();
    let found: Vec<&Variant> = variants.iter().filter(|variant| fits(variant, search)).collect();
    let pages = found.len().div_ceil(VARIANTS_A_PAGE).max(1);
    let page = page.clamp(1, pages);
    let from = (page - 1) * VARIANTS_A_PAGE;
    html! {
        h2 { (say!(page_variants_in_use)) }
        @if !variants.is_empty() { (search_box(search)) }
        @if found.is_empty() && !variants.is_empty() {
            p { (say!(page_no_variant_has_in_its_code, search)) }
        } @else if variants.is_empty() {
            p { (say!(page_no_variant_yet_a_job_can)) }
        } @else {
            table.stack.sheet {
                thead {
                    tr {
                        th scope="col" { (say!(page_code)) } th scope="col" { (say!(page_variant)) } th scope="col" { (say!(page_fluid)) }
                        th scope="col" { (say!(page_filter)) } th scope="col" { (say!(page_standpipe)) } th scope="col" { (say!(page_level)) }
                        th scope="col" { (say!(page_torques)) } th scope="col" { (say!(page_source)) }
                    }
                }
                tbody { @for variant in found.iter().skip(from).take(VARIANTS_A_PAGE) { (line(variant)) } }
            }
            @if pages > 1 {
                p.ways {
                    (say!(page_page_of_variants, found.len().to_string(), page.to_string(), pages.to_string()))
                    @if page > 1 { a href=(address(search, page - 1)) { (say!(page_page_before)) } }
                    @if page < pages { a href=(address(search, page + 1)) { (say!(page_next_page)) } }
                }
            }
        }
    }
}

fn address(search: &str, page: usize) -> String {
    format!("/catalogue?text={}&page={page}", urlencoded(search))
}

/// Whether every word searched for stands in what tells variants apart, in whatever letters.
fn fits(variant: &Variant, search: &str) -> bool {
    let parts = [&variant.filter_code, &variant.standpipe_code, &variant.plate_code].into_iter().flatten();
    let own = [&variant.code, &variant.maker, &variant.transmission, &variant.label];
    let own = own.into_iter().chain([&variant.fluid.code, &variant.fluid.name]).chain(parts);
    let text = own.map(|part| part.to_lowercase()).collect::<Vec<_>>().join(" ");
    search.to_lowercase().split_whitespace().all(|word| text.contains(word))
}

fn search_box(search: &str) -> Markup {
    html! {
        form.search method="get" action="/catalogue" {
            div {
                label for="text" { (say!(page_code_name_fluid_or_part)) }
                input type="search" id="text" name="text" value=(search) maxlength=(SEARCH_LENGTH);
            }
            button type="submit" { (say!(page_search)) }
        }
    }
}

/// A revision as it is named to people.
pub(super) fn short(revision_id: &str) -> String {
    revision_id.chars().take(REVISION_DIGITS).collect()
}

fn line(variant: &Variant) -> Markup {
    let or_none = |text: &Option<String>| text.clone().unwrap_or_else(|| say!(page_not_stated));
    let standpipe = match (&variant.standpipe_code, &variant.standpipe_label) {
        (Some(code), Some(label)) => format!("{code}, {label}"),
        (code, label) => or_none(if code.is_some() { code } else { label }),
    };
    let torque = |torque: Option<f64>| {
        torque.map_or_else(|| say!(page_see_the_maker), |torque| format!("{torque}\u{a0}N·m"))
    };
    let screws = variant.pan_screw_count.map_or_else(String::new, |count| format!("{count} × "));
    html! {
        tr {
            td.plate data-label=(say!(page_code)) {
                a href={ "/catalogue/variant/" (urlencoded(&variant.code)) } { (variant.code) }
            }
            td data-label=(say!(page_variant)) { (variant.maker) " " (variant.transmission) ", " (variant.label) }
            td data-label=(say!(page_fluid)) {
                (variant.fluid.code) " " (variant.fluid.name) ", " (variant.total_fill_litres) "\u{a0}L"
            }
            td data-label=(say!(page_filter)) { (or_none(&variant.filter_code)) }
            td data-label=(say!(page_standpipe)) { (standpipe) }
            td data-label=(say!(page_level)) { (say!(page_celsius_window, variant.level_from_celsius.to_string(), variant.level_to_celsius.to_string())) }
            td data-label=(say!(page_torques)) {
                div { (say!(page_plug, torque(variant.plug_torque_newton_metres))) }
                div { (say!(page_pan, format!("{screws}{}", torque(variant.pan_screw_torque_newton_metres)))) }
            }
            td data-label=(say!(page_source)) { (variant.source) ", " (variant.edition) }
        }
    }
}

fn revisions(revision: &Revision, adopted: &[Adoption]) -> Markup {
    let zone = &revision.workshop().time_zone;
    html! {
        h2 { (say!(page_revisions_each_with_what_it_changed)) }
        @if adopted.is_empty() { p { (say!(page_none_was_adopted_yet)) } }
        ul {
            @for (place, adoption) in adopted.iter().take(REVISIONS_MAX).enumerate() {
                li {
                    (clock(adoption.adopted_us, zone, "%-d %B %Y, %H:%M")) ": "
                    a href={ "/catalogue/revision/" (adoption.seq) } { (short(&adoption.revision_id)) }
                    @if place == 0 { (say!(page_revision_in_use)) }
                }
            }
        }
    }
}
