//! One variant of the catalogue with everything that is stated of it, each with its source where that is another.
//!
//! What is not stated is left out or said to be looked up. Never here: what a variant means for a job.

use super::super::Office;
use super::super::guard::SignedIn;
use super::super::trouble::{Trouble, capital};
use crate::convert::words;
use crate::office::language::{Words, say, word};
use axum::extract::{Path, State};
use maud::{Markup, html};
use standpipe_engine::catalogue::{Hookup, Kit, LevelMethod, Variant};
use standpipe_engine::text::{Language, sentence};
use std::sync::Arc;

/// What a line states and what it says, if anything.
type Line = (Words, Option<String>);

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
        h1 { (say!(page_variant_named, &variant.code)) }
        p { (variant.maker) " " (variant.transmission) ", " (variant.label) }
        (facts(sentence::page_fluid_and_parts, &fluid_and_parts(variant)))
        (facts(sentence::page_level, &level(variant)))
        (facts(sentence::page_screws_and_torques, &torques(variant)))
        (facts(sentence::page_makers_interval, &intervals(variant, language)?))
        @if !variant.cautions.is_empty() {
            h2 { (say!(page_cautions_of_the_maker)) }
            ul { @for caution in &variant.cautions { li { (caution) } } }
        }
        (hookups(&variant.hookups, language)?)
        @if let Some(kit) = &variant.kit { (kit_shown(kit, language)?) }
        (rules(variant))
        h2 { (say!(page_where_it_was_read)) }
        p { (variant.source) ", " (variant.edition) }
        p.ways { a href="/catalogue" { (say!(page_catalogue)) } }
    };
    Ok(office.page(&person, &say!(page_variant_named, &variant.code), content))
}

fn facts(heading: Words, lines: &[Line]) -> Markup {
    let stated: Vec<_> = lines.iter().filter_map(|(what, said)| Some((what, said.as_ref()?))).collect();
    html! {
        @if !stated.is_empty() {
            h2 { (word(heading)) }
            dl.facts { @for (what, said) in stated { dt { (word(*what)) } dd { (said) } } }
        }
    }
}

fn fluid_and_parts(variant: &Variant) -> Vec<Line> {
    let fluid = &variant.fluid;
    let standpipe = [&variant.standpipe_code, &variant.standpipe_label].into_iter().flatten().cloned();
    let standpipe = standpipe.collect::<Vec<_>>().join(", ");
    vec![
        (sentence::page_fluid, Some(format!("{}, {}", fluid.code, fluid.name))),
        (sentence::page_colour_when_fresh, fluid.colour.map(|colour| colour.word().to_owned())),
        (sentence::page_density_at_15_c, Some(format!("{}\u{a0}kg/m³", fluid.density_at_15_celsius.get()))),
        (sentence::page_total_fill, Some(format!("{}\u{a0}L", variant.total_fill_litres))),
        (
            sentence::page_refill_after_the_pan,
            variant.pan_refill_litres.map(|litres| format!("{litres}\u{a0}L")),
        ),
        (
            sentence::page_carried_out_with_parts,
            variant.carried_out_litres.map(|(litres, limit)| format!("{litres}\u{a0}L ± {limit}\u{a0}L")),
        ),
        (sentence::page_filter, variant.filter_code.clone()),
        (sentence::page_filter_as_built, variant.old_filter_code.clone()),
        (sentence::page_standpipe, (!standpipe.is_empty()).then_some(standpipe)),
        (sentence::page_transmission_plate, variant.plate_code.clone()),
    ]
}

fn level_method(method: LevelMethod) -> String {
    match method {
        LevelMethod::StandpipeOverflow => say!(page_standpipe_overflow),
        LevelMethod::SideHole => say!(page_side_hole),
        LevelMethod::Dipstick => say!(page_dipstick),
    }
}

fn level(variant: &Variant) -> Vec<Line> {
    let (from, to) = (variant.level_from_celsius, variant.level_to_celsius);
    vec![
        (sentence::page_method, Some(level_method(variant.level_method))),
        (sentence::page_temperature, Some(say!(page_celsius_window, from.to_string(), to.to_string()))),
        (sentence::page_conditions_and_marks, variant.level_in_words()),
    ]
}

fn torques(variant: &Variant) -> Vec<Line> {
    let torque = |torque: Option<f64>| {
        torque.map_or_else(|| say!(page_see_the_maker), |torque| format!("{torque}\u{a0}N·m"))
    };
    let joined = |numbers: Vec<String>| (!numbers.is_empty()).then(|| numbers.join(", "));
    let screws = &variant.screws;
    vec![
        (sentence::page_level_plug, Some(torque(variant.plug_torque_newton_metres))),
        (sentence::page_screws_of_the_pan, variant.pan_screw_count.map(|count| count.to_string())),
        (sentence::page_their_torque, Some(torque(variant.pan_screw_torque_newton_metres))),
        (sentence::page_their_order, joined(screws.pan_order.iter().map(u32::to_string).collect())),
        (
            sentence::page_their_stages,
            joined(screws.pan_stages.iter().map(|part| format!("{part}\u{a0}%")).collect()),
        ),
    ]
}

fn intervals(variant: &Variant, language: Language) -> Result<Vec<Line>, Trouble> {
    let said = |kilometres: Option<f64>, months: Option<u16>| {
        let kilometres = kilometres.map(|kilometres| format!("{kilometres}\u{a0}km"));
        let months = months.map(|months| say!(page_months_counted, months.to_string()));
        let parts: Vec<String> = kilometres.into_iter().chain(months).collect();
        (!parts.is_empty()).then(|| parts.join(&format!(" {} ", say!(page_or))))
    };
    let every = &variant.maker_interval;
    let mut lines: Vec<Line> = vec![(sentence::page_for_every_use, said(every.kilometres, every.months))];
    for by_use in &variant.maker_intervals_by_use {
        let load = words(language, &sentence::load_word(by_use.load.word()))?;
        let interval = said(by_use.interval.kilometres, by_use.interval.months).unwrap_or_default();
        let said = format!("{load}: {interval} ({}, {})", by_use.source, by_use.edition);
        lines.push((sentence::page_instead_for, Some(said)));
    }
    Ok(lines)
}

fn hookups(hookups: &[Hookup], language: Language) -> Result<Markup, Trouble> {
    let mut lines = Vec::with_capacity(hookups.len());
    for hookup in hookups {
        let place = capital(&words(language, &sentence::hookup_place(hookup.place.word()))?);
        let adapter = hookup.adapter.as_ref().map(|adapter| say!(page_adapter, adapter));
        let parts = [Some(place), adapter, hookup.note.clone()].into_iter().flatten();
        let origin = format!("{}, {}", hookup.source, hookup.edition);
        lines.push((parts.collect::<Vec<_>>().join(", "), origin));
    }
    Ok(html! {
        @if !lines.is_empty() {
            h2 { (say!(page_where_equipment_is_connected)) }
            ul { @for (said, origin) in &lines { li { (said) " (" (origin) ")" } } }
        }
    })
}

fn kit_shown(kit: &Kit, language: Language) -> Result<Markup, Trouble> {
    let parts = kit.parts.iter().map(|part| words(language, &sentence::service_part(part.word())));
    let parts = parts.collect::<Result<Vec<_>, _>>()?.join(", ");
    Ok(html! {
        h2 { (say!(page_kit_named, &kit.code)) }
        p {
            (capital(&parts))
            @if let Some(count) = kit.new_screw_count { (say!(page_kit_screws, count.to_string())) }
            " (" (kit.source) ", " (kit.edition) ")"
        }
    })
}

fn rules(variant: &Variant) -> Markup {
    let rules = &variant.vin_rules;
    let window = |(from, to): (u32, u32)| say!(page_serials_window, format!("{from:06}"), format!("{to:06}"));
    html! {
        h2 { (say!(page_vins_that_it_is_built_into)) }
        @if rules.is_empty() {
            p { (say!(page_no_rule_is_stated_its_variant)) }
        } @else {
            table.stack.sheet {
                thead {
                    tr {
                        th scope="col" { (say!(page_rule)) } th scope="col" { (say!(page_pattern)) } th scope="col" { (say!(page_serial_numbers)) }
                        th scope="col" { (say!(page_source)) } th scope="col" { (say!(page_entered_by)) }
                    }
                }
                tbody {
                    @for rule in rules {
                        tr {
                            td data-label=(say!(page_rule)) { (rule.code) }
                            td.plate data-label=(say!(page_pattern)) { (rule.pattern.as_str()) }
                            td data-label=(say!(page_serial_numbers)) { (rule.serial.map_or_else(|| say!(page_serials_all), window)) }
                            td data-label=(say!(page_source)) { (rule.source) ", " (rule.edition) }
                            td data-label=(say!(page_entered_by)) { (rule.entered_by) }
                        }
                    }
                }
            }
        }
    }
}
