//! The form of a variant: what is needed first, the rest folded.

use super::super::frame::TextBox;
use super::super::guard::{Filled, SignedIn};
use super::Problems;
use super::file::DENSITY;
use maud::{Markup, html};
use standpipe_engine::catalogue::LevelMethod;

const METHODS: [(LevelMethod, &str); 3] = [
    (LevelMethod::StandpipeOverflow, "overflow at the standpipe"),
    (LevelMethod::SideHole, "hole in the side"),
    (LevelMethod::Dipstick, "dipstick"),
];

/// Boxes of the folded part.
const FOLDED: [(&str, &str, &str); 16] = [
    ("plate_code", "", ""),
    ("filter_code", "", ""),
    ("standpipe_code", "", ""),
    ("standpipe_label", "", "For example: long."),
    ("level_conditions", "", "For example: engine idling, selector in P, level car."),
    ("plug_torque_newton_metres", "N·m", "An empty box prints 'see the maker'."),
    ("pan_screw_count", "", ""),
    ("pan_screw_torque_newton_metres", "N·m", "An empty box prints 'see the maker'."),
    ("pan_refill_litres", "L", ""),
    ("carried_out_litres", "L", "With the old filter and the film in the pan."),
    ("carried_out_limit_litres", "L", "How far that may be off; both or neither."),
    ("maker_interval_kilometres", "km", "No next service is named beyond it."),
    ("maker_interval_months", "months", ""),
    ("pattern", "", "All 17 characters: * for any, [J-L] for one of a range, [JK] for one of these."),
    ("serial_from", "", "Last six characters of the VIN, if the rule holds for a part of them."),
    ("serial_to", "", ""),
];

/// What a key is called on the page.
pub(super) fn label(key: &str) -> &str {
    match key {
        "name" => "Transmission",
        "maker" => "Maker",
        "source" => "Source",
        "edition" => "Edition",
        "code" => "Code",
        "label" => "What tells it apart",
        "fluid_code" => "Fluid, code on the container",
        "fluid_name" => "Fluid, name",
        DENSITY => "Fluid, density at 15 °C",
        "filter_code" => "Filter, code",
        "plate_code" => "Transmission plate, code",
        "total_fill_litres" => "Total fill, dry",
        "pan_refill_litres" => "Refill after the pan",
        "carried_out_litres" => "Carried out with parts",
        "carried_out_limit_litres" => "Carried out with parts, give or take",
        "standpipe_code" => "Standpipe, code",
        "standpipe_label" => "Standpipe, what it looks like",
        "pan_screw_count" => "Screws of the pan",
        "pan_screw_torque_newton_metres" => "Screws of the pan, torque",
        "level_conditions" => "Level, conditions",
        "pattern" => "VINs that it is built into, pattern",
        "serial_from" => "Serial number, from",
        "serial_to" => "Serial number, to",
        "level_from_celsius" => "Level, from",
        "level_to_celsius" => "Level, to",
        "level_method" => "Level, method",
        "plug_torque_newton_metres" => "Level plug, torque",
        "maker_interval_kilometres" => "Maker's interval, distance",
        "maker_interval_months" => "Maker's interval, time",
        other => other,
    }
}

/// The form as it is filled in, with what is wrong.
pub(super) fn page(person: &SignedIn, filled: &Filled, problems: &Problems) -> Markup {
    let one = |name: &'static str, unit: &'static str, hint: &'static str| {
        let length = if name == "source" { 200 } else { 80 };
        let (label, value, first) = (label(name), filled.text(name), name == "maker");
        let wrong = problems.boxes.get(name).map(String::as_str);
        TextBox { name, label, unit, hint, value, length, first, wrong, ..TextBox::PLAIN }.show()
    };
    let method = filled.text("level_method");
    // What was filled in or is wrong is never hidden.
    let unfolded =
        FOLDED.iter().any(|(name, ..)| !filled.text(name).is_empty() || problems.boxes.contains_key(*name));
    html! {
        h1 { "Enter a variant" }
        p { "Copy every value from the maker's instructions. A value that they do not state stays empty." }
        @if !problems.boxes.is_empty() || !problems.others.is_empty() {
            div role="alert" {
                p.wrong { "Nothing was entered yet; put right what stands beside the boxes and send it again." }
                @if !problems.others.is_empty() { ul { @for problem in &problems.others { li { (problem) } } } }
            }
        }
        form method="post" action="/variant" {
            (person.key_box())
            input type="hidden" name="job" value=(filled.text("job"));
            fieldset {
                legend { "Transmission" }
                (one("maker", "", ""))
                (one("name", "", ""))
                (one("code", "", "Unique in this catalogue."))
                (one("label", "", "For example: second series."))
            }
            fieldset {
                legend { "Fluid and level" }
                (one("fluid_code", "", ""))
                (one("fluid_name", "", "May stay empty for a fluid of the catalogue."))
                (one(DENSITY, "kg/m³", "May stay empty for a fluid of the catalogue; else from its data sheet."))
                (one("total_fill_litres", "L", "With converter, cooler and lines."))
                (one("level_from_celsius", "°C", ""))
                (one("level_to_celsius", "°C", ""))
                div.box {
                    label for="level_method" { (label("level_method")) }
                    select id="level_method" name="level_method" {
                        @for (known, words) in METHODS {
                            option value=(known.code()) selected[known.code() == method] { (words) }
                        }
                    }
                    @if let Some(wrong) = problems.boxes.get("level_method") { span.wrong { (wrong) } }
                }
            }
            fieldset {
                legend { "Where it was read" }
                (one("source", "", ""))
                (one("edition", "", "Or the date of the look-up."))
            }
            details.more open[unfolded] {
                summary { "What else is stated: filter, standpipe, torques, intervals, VINs" }
                @for (name, unit, hint) in FOLDED { (one(name, unit, hint)) }
            }
            button type="submit" { "Enter the variant" }
        }
        p.ways { a href="/catalogue" { "Catalogue" } }
    }
}
