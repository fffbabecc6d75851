//! One variant of the catalogue with everything that is stated of it, each with its source where that is another.
//!
//! What is not stated is left out or said to be looked up. Never here: what a variant means for a job.

use super::super::Office;
use super::super::guard::SignedIn;
use super::super::trouble::{Trouble, capital};
use crate::convert::words;
use axum::extract::{Path, State};
use maud::{Markup, html};
use standpipe_engine::catalogue::{Hookup, Kit, Variant};
use standpipe_engine::text::{Language, sentence};
use std::sync::Arc;

/// What a line states and what it says, if anything.
type Line<'a> = (&'a str, Option<String>);

/// Shows a variant.
pub(in crate::office) async fn show(
    State(office): State<Arc<Office>>,
    person: SignedIn,
    Path(code): Path<String>,
) -> Result<Markup, Trouble> {
    let catalogue = office.workshop.catalogue();
    let revision = &catalogue.now().revision;
    let variant = revision.variant(&code).ok_or(Trouble::NoPage)?;
    let language = revision.workshop().language;
    let content = html! {
        h1 { "Variant " (variant.code) }
        p { (variant.maker) " " (variant.transmission) ", " (variant.label) }
        (facts("Fluid and parts", &fluid_and_parts(variant)))
        (facts("Level", &level(variant)))
        (facts("Screws and torques", &torques(variant)))
        (facts("Maker's interval", &intervals(variant, language)?))
        @if !variant.cautions.is_empty() {
            h2 { "Cautions of the maker" }
            ul { @for caution in &variant.cautions { li { (caution) } } }
        }
        (hookups(&variant.hookups, language)?)
        @if let Some(kit) = &variant.kit { (kit_shown(kit, language)?) }
        (rules(variant))
        h2 { "Where it was read" }
        p { (variant.source) ", " (variant.edition) }
        p.ways { a href="/catalogue" { "Catalogue" } }
    };
    Ok(office.page(&person, &format!("Variant {}", variant.code), content))
}

fn facts(heading: &str, lines: &[Line<'_>]) -> Markup {
    let stated: Vec<_> = lines.iter().filter_map(|(what, said)| Some((what, said.as_ref()?))).collect();
    html! {
        @if !stated.is_empty() {
            h2 { (heading) }
            dl.facts { @for (what, said) in stated { dt { (what) } dd { (said) } } }
        }
    }
}

fn fluid_and_parts(variant: &Variant) -> Vec<Line<'_>> {
    let fluid = &variant.fluid;
    let standpipe = [&variant.standpipe_code, &variant.standpipe_label].into_iter().flatten().cloned();
    let standpipe = standpipe.collect::<Vec<_>>().join(", ");
    vec![
        ("Fluid", Some(format!("{}, {}", fluid.code, fluid.name))),
        ("Colour when fresh", fluid.colour.map(|colour| colour.word().to_owned())),
        ("Density at 15 °C", Some(format!("{}\u{a0}kg/m³", fluid.density_at_15_celsius.get()))),
        ("Total fill", Some(format!("{}\u{a0}L", variant.total_fill_litres))),
        ("Refill after the pan", variant.pan_refill_litres.map(|litres| format!("{litres}\u{a0}L"))),
        (
            "Carried out with parts",
            variant.carried_out_litres.map(|(litres, limit)| format!("{litres}\u{a0}L ± {limit}\u{a0}L")),
        ),
        ("Filter", variant.filter_code.clone()),
        ("Filter as built", variant.old_filter_code.clone()),
        ("Standpipe", (!standpipe.is_empty()).then_some(standpipe)),
        ("Transmission plate", variant.plate_code.clone()),
    ]
}

fn level(variant: &Variant) -> Vec<Line<'_>> {
    let (from, to) = (variant.level_from_celsius, variant.level_to_celsius);
    vec![
        ("Method", Some(variant.level_method.code().replace('_', " "))),
        ("Temperature", Some(format!("{from} to {to}\u{a0}°C"))),
        ("Conditions and marks", variant.level_in_words()),
    ]
}

fn torques(variant: &Variant) -> Vec<Line<'_>> {
    let torque = |torque: Option<f64>| {
        torque.map_or_else(|| "see the maker".to_owned(), |torque| format!("{torque}\u{a0}N·m"))
    };
    let joined = |numbers: Vec<String>| (!numbers.is_empty()).then(|| numbers.join(", "));
    let screws = &variant.screws;
    vec![
        ("Level plug", Some(torque(variant.plug_torque_newton_metres))),
        ("Screws of the pan", variant.pan_screw_count.map(|count| count.to_string())),
        ("Their torque", Some(torque(variant.pan_screw_torque_newton_metres))),
        ("Their order", joined(screws.pan_order.iter().map(u32::to_string).collect())),
        ("Their stages", joined(screws.pan_stages.iter().map(|part| format!("{part}\u{a0}%")).collect())),
    ]
}

fn intervals(variant: &Variant, language: Language) -> Result<Vec<(&'static str, Option<String>)>, Trouble> {
    let said = |kilometres: Option<f64>, months: Option<u16>| {
        let kilometres = kilometres.map(|kilometres| format!("{kilometres}\u{a0}km"));
        let months = months.map(|months| format!("{months}\u{a0}months"));
        let parts: Vec<String> = kilometres.into_iter().chain(months).collect();
        (!parts.is_empty()).then(|| parts.join(" or "))
    };
    let every = &variant.maker_interval;
    let mut lines = vec![("For every use", said(every.kilometres, every.months))];
    for by_use in &variant.maker_intervals_by_use {
        let load = words(language, &sentence::load_word(by_use.load.word()))?;
        let interval = said(by_use.interval.kilometres, by_use.interval.months).unwrap_or_default();
        let said = format!("{load}: {interval} ({}, {})", by_use.source, by_use.edition);
        lines.push(("Instead for", Some(said)));
    }
    Ok(lines)
}

fn hookups(hookups: &[Hookup], language: Language) -> Result<Markup, Trouble> {
    let mut lines = Vec::with_capacity(hookups.len());
    for hookup in hookups {
        let place = capital(&words(language, &sentence::hookup_place(hookup.place.word()))?);
        let adapter = hookup.adapter.as_ref().map(|adapter| format!("adapter {adapter}"));
        let parts = [Some(place), adapter, hookup.note.clone()].into_iter().flatten();
        let origin = format!("{}, {}", hookup.source, hookup.edition);
        lines.push((parts.collect::<Vec<_>>().join(", "), origin));
    }
    Ok(html! {
        @if !lines.is_empty() {
            h2 { "Where equipment is connected" }
            ul { @for (said, origin) in &lines { li { (said) " (" (origin) ")" } } }
        }
    })
}

fn kit_shown(kit: &Kit, language: Language) -> Result<Markup, Trouble> {
    let parts = kit.parts.iter().map(|part| words(language, &sentence::service_part(part.word())));
    let parts = parts.collect::<Result<Vec<_>, _>>()?.join(", ");
    Ok(html! {
        h2 { "Kit " (kit.code) }
        p {
            (capital(&parts))
            @if let Some(count) = kit.new_screw_count { "; " (count) " new screws for the pan" }
            " (" (kit.source) ", " (kit.edition) ")"
        }
    })
}

fn rules(variant: &Variant) -> Markup {
    let rules = &variant.vin_rules;
    let window = |(from, to): (u32, u32)| format!("{from:06} to {to:06}");
    html! {
        h2 { "VINs that it is built into" }
        @if rules.is_empty() {
            p { "No rule is stated; its variant is looked up by the VIN." }
        } @else {
            table.stack.sheet {
                thead {
                    tr {
                        th scope="col" { "Rule" } th scope="col" { "Pattern" } th scope="col" { "Serial numbers" }
                        th scope="col" { "Source" } th scope="col" { "Entered by" }
                    }
                }
                tbody {
                    @for rule in rules {
                        tr {
                            td data-label="Rule" { (rule.code) }
                            td.plate data-label="Pattern" { (rule.pattern.as_str()) }
                            td data-label="Serial numbers" { (rule.serial.map_or_else(|| "all".to_owned(), window)) }
                            td data-label="Source" { (rule.source) ", " (rule.edition) }
                            td data-label="Entered by" { (rule.entered_by) }
                        }
                    }
                }
            }
        }
    }
}
