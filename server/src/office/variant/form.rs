//! The form of a variant: what is needed first, the rest folded.

use super::super::frame::TextBox;
use super::super::guard::{Filled, SignedIn};
use super::Problems;
use super::file::{CAUTIONS, DENSITY, KIT_PARTS, KIT_SCREWS};
use crate::office::language::{Words, say, unit, word};
use maud::{Markup, html};
use standpipe_engine::catalogue::LevelMethod;
use standpipe_engine::text::sentence;

const METHODS: [(LevelMethod, Words); 3] = [
    (LevelMethod::StandpipeOverflow, sentence::page_overflow_at_the_standpipe),
    (LevelMethod::SideHole, sentence::page_hole_in_the_side),
    (LevelMethod::Dipstick, sentence::page_dipstick),
];

/// Boxes of the folded part.
const FOLDED: [(&str, &str, Option<Words>); 16] = [
    ("plate_code", "", None),
    ("filter_code", "", None),
    ("standpipe_code", "", None),
    ("standpipe_label", "", Some(sentence::page_for_example_long)),
    ("level_conditions", "", Some(sentence::page_for_example_engine_idling_selector_in)),
    ("plug_torque_newton_metres", "N·m", Some(sentence::page_an_empty_box_prints_see_the)),
    ("pan_screw_count", "", None),
    ("pan_screw_torque_newton_metres", "N·m", Some(sentence::page_an_empty_box_prints_see_the)),
    ("pan_refill_litres", "L", None),
    ("carried_out_litres", "L", Some(sentence::page_with_the_old_filter_and_the)),
    ("carried_out_limit_litres", "L", Some(sentence::page_how_far_that_may_be_off)),
    ("maker_interval_kilometres", "km", Some(sentence::page_no_next_service_is_named_beyond)),
    ("maker_interval_months", "months", None),
    ("pattern", "", Some(sentence::page_all_17_characters_for_any_j)),
    ("serial_from", "", Some(sentence::page_last_six_characters_of_the_vin)),
    ("serial_to", "", None),
];

/// Boxes of the hook-up and of the kit.
const HOOKUP: [(&str, &str, Option<Words>); 2] =
    [("hookup_adapter", "", None), ("hookup_note", "", Some(sentence::page_hookup_note_hint))];
const KIT: [(&str, &str, Option<Words>); 2] = [("kit_code", "", None), (KIT_SCREWS, "pieces", None)];
/// Where equipment is connected, as the catalogue writes it and as a sentence names it.
const PLACES: [(&str, &str); 2] = [("cooler_line", "cooler-line"), ("transmission", "transmission")];
/// What a kit may hold.
const PARTS: [&str; 9] =
    ["filter", "pan_seal", "magnets", "pan_screws", "pan", "standpipe", "plug", "plug_seal", "wiring_sleeve"];
/// Most characters of a note and of a caution, as the catalogue takes.
const NOTE_LENGTH: usize = 120;

/// The box of a key of the file, by the table that it stands in.
pub(super) fn box_of(key: &str) -> String {
    let name = key.rsplit('.').next().unwrap_or_default();
    let of = |table: &str| key.split('.').any(|part| part.split('[').next() == Some(table));
    match name {
        "new_screw_count" => KIT_SCREWS.to_owned(),
        _ if name.starts_with("cautions") => "caution_1".to_owned(),
        _ if of("kit") => format!("kit_{name}"),
        _ if of("hookup") => format!("hookup_{name}"),
        _ => name.to_owned(),
    }
}

/// What a key is called on the page; nothing for a key that has no box.
pub(super) fn label(key: &str) -> Option<Words> {
    Some(match key {
        "name" => sentence::page_transmission,
        "maker" => sentence::page_maker,
        "source" => sentence::page_source,
        "edition" => sentence::page_edition,
        "code" => sentence::page_code,
        "label" => sentence::page_what_tells_it_apart,
        "fluid_code" => sentence::page_fluid_code_on_the_container,
        "fluid_name" => sentence::page_fluid_name,
        DENSITY => sentence::page_fluid_density_at_15_c,
        "filter_code" => sentence::page_filter_code,
        "plate_code" => sentence::page_transmission_plate_code,
        "total_fill_litres" => sentence::page_total_fill_dry,
        "pan_refill_litres" => sentence::page_refill_after_the_pan,
        "carried_out_litres" => sentence::page_carried_out_with_parts,
        "carried_out_limit_litres" => sentence::page_carried_out_with_parts_give_or,
        "standpipe_code" => sentence::page_standpipe_code,
        "standpipe_label" => sentence::page_standpipe_what_it_looks_like,
        "pan_screw_count" => sentence::page_screws_of_the_pan,
        "pan_screw_torque_newton_metres" => sentence::page_screws_of_the_pan_torque,
        "level_conditions" => sentence::page_level_conditions,
        "pattern" => sentence::page_vin_pattern,
        "serial_from" => sentence::page_serial_number_from,
        "serial_to" => sentence::page_serial_number_to,
        "level_from_celsius" => sentence::page_level_from,
        "level_to_celsius" => sentence::page_level_to,
        "level_method" => sentence::page_level_method,
        "plug_torque_newton_metres" => sentence::page_level_plug_torque,
        "maker_interval_kilometres" => sentence::page_makers_interval_distance,
        "maker_interval_months" => sentence::page_makers_interval_time,
        "kit_code" => sentence::page_kit_code,
        KIT_PARTS => sentence::page_kit_parts,
        KIT_SCREWS => sentence::page_kit_new_screws,
        "hookup_place" => sentence::page_hookup_place,
        "hookup_adapter" => sentence::page_hookup_adapter,
        "hookup_note" => sentence::page_hookup_note,
        _ => return None,
    })
}

/// The same in words.
fn named(key: &str) -> String {
    label(key).map(word).unwrap_or_default()
}

/// The form as it is filled in, with what is wrong.
pub(super) fn page(person: &SignedIn, filled: &Filled, problems: &Problems) -> Markup {
    let one = |name: &'static str, beside: &'static str, hint: Option<Words>| {
        let length = match name {
            "source" => 200,
            "hookup_note" => NOTE_LENGTH,
            _ if CAUTIONS.contains(&name) => NOTE_LENGTH,
            _ => 80,
        };
        let (value, first) = (filled.text(name), name == "maker");
        let caution = CAUTIONS.iter().position(|known| *known == name);
        let label = caution.map_or_else(|| named(name), |at| say!(page_maker_caution, (at + 1).to_string()));
        let (label, unit) = (&label, &unit(beside));
        let hint = &hint.map(word).unwrap_or_default();
        let wrong = problems.boxes.get(name).map(String::as_str);
        TextBox { name, label, unit, hint, value, length, first, wrong, ..TextBox::PLAIN }.show()
    };
    // What was filled in or is wrong is never hidden.
    let told = |name: &str| !filled.text(name).is_empty() || problems.boxes.contains_key(name);
    let names = FOLDED.iter().chain(&HOOKUP).chain(&KIT).map(|(name, ..)| *name).chain(CAUTIONS);
    let unfolded = names.chain(["hookup_place", KIT_PARTS]).any(told);
    html! {
        h1 { (say!(page_enter_a_variant)) }
        p { (say!(page_copy_every_value_from_the_makers)) }
        @if !problems.boxes.is_empty() || !problems.others.is_empty() {
            div role="alert" {
                p.wrong { (say!(page_nothing_was_entered_yet_put_right)) }
                @if !problems.others.is_empty() { ul { @for problem in &problems.others { li { (problem) } } } }
            }
        }
        form method="post" action="/variant" {
            (person.key_box())
            input type="hidden" name="job" value=(filled.text("job"));
            fieldset {
                legend { (say!(page_transmission)) }
                (one("maker", "", None))
                (one("name", "", None))
                (one("code", "", Some(sentence::page_unique_in_this_catalogue)))
                (one("label", "", Some(sentence::page_for_example_second_series)))
            }
            fieldset {
                legend { (say!(page_fluid_and_level)) }
                (one("fluid_code", "", None))
                (one("fluid_name", "", Some(sentence::page_may_stay_empty_for_a_fluid)))
                (one(DENSITY, "kg/m³", Some(sentence::page_density_hint)))
                (one("total_fill_litres", "L", Some(sentence::page_with_converter_cooler_and_lines)))
                (one("level_from_celsius", "°C", None))
                (one("level_to_celsius", "°C", None))
                (method(filled, problems))
            }
            fieldset {
                legend { (say!(page_where_it_was_read)) }
                (one("source", "", None))
                (one("edition", "", Some(sentence::page_or_the_date_of_the_look)))
            }
            details.more open[unfolded] {
                summary { (say!(page_what_else_is_stated_filter_standpipe)) }
                @for (name, beside, hint) in FOLDED { (one(name, beside, hint)) }
                (places(filled, problems))
                @for (name, beside, hint) in HOOKUP { (one(name, beside, hint)) }
                (parts(filled, problems))
                @for (name, beside, hint) in KIT { (one(name, beside, hint)) }
                @for (at, name) in CAUTIONS.into_iter().enumerate() {
                    (one(name, "", (at == 0).then_some(sentence::page_maker_caution_hint as Words)))
                }
            }
            button type="submit" { (say!(page_enter_the_variant)) }
        }
        p.ways { a href="/catalogue" { (say!(page_catalogue)) } }
    }
}

/// How the level is read.
fn method(filled: &Filled, problems: &Problems) -> Markup {
    let methods = METHODS.into_iter().map(|(known, words)| (known.code(), word(words)));
    choice("level_method", methods, (filled, problems))
}

/// Where equipment is connected.
fn places(filled: &Filled, problems: &Problems) -> Markup {
    let places = PLACES.into_iter().map(|(known, place)| (known, say!(hookup_place, place)));
    choice("hookup_place", [("", say!(page_not_stated))].into_iter().chain(places), (filled, problems))
}

/// One of several words.
fn choice(
    name: &'static str,
    options: impl Iterator<Item = (&'static str, String)>,
    (filled, problems): (&Filled, &Problems),
) -> Markup {
    let chosen = filled.text(name);
    html! {
        div.box {
            label for=(name) { (named(name)) }
            select id=(name) name=(name) {
                @for (value, words) in options {
                    option value=(value) selected[value == chosen] { (words) }
                }
            }
            @if let Some(wrong) = problems.boxes.get(name) { span.wrong { (wrong) } }
        }
    }
}

/// What the kit holds.
fn parts(filled: &Filled, problems: &Problems) -> Markup {
    let ticked = filled.ticked(KIT_PARTS);
    html! {
        fieldset {
            legend { (named(KIT_PARTS)) }
            div.ticks {
                @for part in PARTS {
                    label {
                        input type="checkbox" name=(KIT_PARTS) value=(part) checked[ticked.contains(&part)];
                        (say!(service_part, part.replace('_', "-")))
                    }
                }
            }
            @if let Some(wrong) = problems.boxes.get(KIT_PARTS) { p.wrong { (wrong) } }
        }
    }
}
