//! The form of a variant: what is needed first, the rest folded.

use super::super::frame::TextBox;
use super::super::guard::{Filled, SignedIn};
use super::Problems;
use super::file::DENSITY;
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
        let length = if name == "source" { 200 } else { 80 };
        let (value, first) = (filled.text(name), name == "maker");
        let (label, unit) = (&named(name), &unit(beside));
        let hint = &hint.map(word).unwrap_or_default();
        let wrong = problems.boxes.get(name).map(String::as_str);
        TextBox { name, label, unit, hint, value, length, first, wrong, ..TextBox::PLAIN }.show()
    };
    let method = filled.text("level_method");
    // What was filled in or is wrong is never hidden.
    let unfolded =
        FOLDED.iter().any(|(name, ..)| !filled.text(name).is_empty() || problems.boxes.contains_key(*name));
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
                div.box {
                    label for="level_method" { (named("level_method")) }
                    select id="level_method" name="level_method" {
                        @for (known, words) in METHODS {
                            option value=(known.code()) selected[known.code() == method] { (word(words)) }
                        }
                    }
                    @if let Some(wrong) = problems.boxes.get("level_method") { span.wrong { (wrong) } }
                }
            }
            fieldset {
                legend { (say!(page_where_it_was_read)) }
                (one("source", "", None))
                (one("edition", "", Some(sentence::page_or_the_date_of_the_look)))
            }
            details.more open[unfolded] {
                summary { (say!(page_what_else_is_stated_filter_standpipe)) }
                @for (name, beside, hint) in FOLDED { (one(name, beside, hint)) }
            }
            button type="submit" { (say!(page_enter_the_variant)) }
        }
        p.ways { a href="/catalogue" { (say!(page_catalogue)) } }
    }
}
