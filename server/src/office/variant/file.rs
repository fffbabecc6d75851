//! What the form of a variant says, as a TOML file of the catalogue.
//!
//! Words become TOML strings, so that nothing typed can break out of its line; numbers with a decimal comma become
//! numbers, and what is none stays words, so that the catalogue itself says what is wrong. Never here: what a catalogue
//! may hold.

use super::super::guard::Filled;
use crate::catalogue::Files;
use standpipe_engine::catalogue::Fluid;
use std::fmt::Write as _;

/// Keys at the head of the file.
const HEAD: [&str; 4] = ["name", "maker", "source", "edition"];
/// Keys of the variant that are words.
const WORDS: [&str; 9] = [
    "code",
    "label",
    "fluid_code",
    "fluid_name",
    "filter_code",
    "standpipe_code",
    "standpipe_label",
    "plate_code",
    "level_conditions",
];
/// Keys of the variant that are numbers.
const NUMBERS: [&str; 10] = [
    DENSITY,
    "total_fill_litres",
    "pan_refill_litres",
    "carried_out_litres",
    "carried_out_limit_litres",
    "level_from_celsius",
    "level_to_celsius",
    "plug_torque_newton_metres",
    "pan_screw_torque_newton_metres",
    "maker_interval_kilometres",
];
/// Keys of the variant that are whole numbers.
const WHOLE_NUMBERS: [&str; 2] = ["pan_screw_count", "maker_interval_months"];
/// Boxes of the one VIN rule.
const RULE: [&str; 3] = ["pattern", "serial_from", "serial_to"];
/// Boxes of the one hook-up and of the kit, with their keys there.
const HOOKUP: [(&str, &str); 3] =
    [("hookup_place", "place"), ("hookup_adapter", "adapter"), ("hookup_note", "note")];
const KIT_CODE: &str = "kit_code";
/// Boxes of the maker's cautions.
pub(super) const CAUTIONS: [&str; 4] = ["caution_1", "caution_2", "caution_3", "caution_4"];
/// Ticks of the kit, and how many new pan screws are in it.
pub(super) const KIT_PARTS: &str = "kit_parts";
pub(super) const KIT_SCREWS: &str = "kit_screws";
pub(super) const DENSITY: &str = "density_at_15_celsius_kilograms_per_cubic_metre";

/// A name for the new file: what the transmission and the variant are called, in small letters.
pub(super) fn file_name(files: &Files, transmission: &str, code: &str) -> String {
    let words = format!("{transmission} {code}").to_lowercase();
    let words = words.split(|letter: char| !letter.is_ascii_alphanumeric()).filter(|word| !word.is_empty());
    let stem: String = words.collect::<Vec<_>>().join("-").chars().take(60).collect();
    let stem = if stem.is_empty() { "variant".to_owned() } else { stem };
    let free = |name: &String| !files.iter().any(|(known, _)| known == name);
    let plain = format!("{stem}.toml");
    let numbered = (2..).map(|number| format!("{stem}-{number}.toml"));
    std::iter::once(plain).chain(numbered).find(free).unwrap_or_default()
}

/// The file as the form says it. A known fluid brings its name and density along where their boxes are empty.
pub(super) fn toml(filled: &Filled, fluid: Option<&Fluid>, person_code: &str) -> String {
    let mut text = String::new();
    let mut line = |key: &str, value: String| {
        if !value.is_empty() {
            // Writing to a String cannot fail.
            let _ = writeln!(text, "{key} = {value}");
        }
    };
    let words = |key: &str| {
        Some(filled.text(key)).filter(|words| !words.is_empty()).map(toml_text).unwrap_or_default()
    };
    for key in HEAD {
        line(key, words(key));
    }
    line("\n[[variant]]\nlevel_method", words("level_method"));
    for key in WORDS {
        let known = fluid.filter(|_| key == "fluid_name" && filled.text(key).is_empty());
        line(key, known.map_or_else(|| words(key), |fluid| toml_text(&fluid.name)));
    }
    for key in NUMBERS {
        let known = fluid.filter(|_| key == DENSITY && filled.text(key).is_empty());
        line(
            key,
            known.map_or_else(
                || toml_number(filled.text(key)),
                |fluid| decimal(fluid.density_at_15_celsius.get()),
            ),
        );
    }
    for key in WHOLE_NUMBERS {
        line(key, toml_whole(filled.text(key)));
    }
    line("cautions", toml_list(&CAUTIONS.map(|key| filled.text(key))));
    if HOOKUP.iter().any(|(name, _)| !filled.text(name).is_empty()) {
        for (at, (name, key)) in HOOKUP.into_iter().enumerate() {
            let head = if at == 0 { "\n[[variant.hookup]]\n" } else { "" };
            // The place may be the one that is missing, and the catalogue says so.
            let value = if at == 0 { toml_text(filled.text(name)) } else { words(name) };
            line(&format!("{head}{key}"), value);
        }
    }
    let parts = filled.ticked(KIT_PARTS);
    if !filled.text(KIT_CODE).is_empty() || !parts.is_empty() || !filled.text(KIT_SCREWS).is_empty() {
        // Code or parts may be what is missing, and the catalogue says so.
        line("\n[variant.kit]\ncode", toml_text(filled.text(KIT_CODE)));
        line("parts", toml_list(&parts));
        line("new_screw_count", toml_whole(filled.text(KIT_SCREWS)));
    }
    if RULE.iter().any(|key| !filled.text(key).is_empty()) {
        let name = format!("{} as entered", filled.text("code"));
        line("\n[[variant.vin_rule]]\ncode", toml_text(&name));
        line("pattern", words("pattern"));
        for key in ["serial_from", "serial_to"] {
            line(key, toml_whole(filled.text(key)));
        }
        for key in ["source", "edition"] {
            line(key, words(key));
        }
        line("entered_by", toml_text(person_code));
    }
    text
}

/// A TOML string. A JSON string is one as well.
pub(super) fn toml_text(text: &str) -> String {
    serde_json::Value::from(text).to_string()
}

/// A TOML list of the texts that are not empty; nothing where all are.
fn toml_list(texts: &[&str]) -> String {
    let stated: Vec<&str> = texts.iter().copied().filter(|text| !text.is_empty()).collect();
    if stated.is_empty() { String::new() } else { format!("[{}]", listed(&stated)) }
}

fn listed(texts: &[&str]) -> String {
    texts.iter().map(|text| toml_text(text)).collect::<Vec<_>>().join(", ")
}

/// A TOML number; what is none stays words, and the catalogue says so.
fn toml_number(text: &str) -> String {
    match text.replace(',', ".").parse::<f64>() {
        Ok(number) if number.is_finite() => decimal(number),
        _ if text.is_empty() => String::new(),
        _ => toml_text(text),
    }
}

/// A whole TOML number; what is none stays words, and the catalogue says so.
fn toml_whole(text: &str) -> String {
    match text.parse::<u32>() {
        Ok(number) => number.to_string(),
        Err(_) if text.is_empty() => String::new(),
        Err(_) => toml_text(text),
    }
}

fn decimal(number: f64) -> String {
    format!("{number:?}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_rule_is_written_where_any_of_its_boxes_is_filled_in() {
        let mut boxes = vec![("code", "A8-III"), ("source", "parts data"), ("pan_screw_count", "13")];
        assert!(!toml(&Filled::of(&boxes), None, "B").contains("vin_rule"));
        boxes.extend([
            ("pattern", "AZT*A8[M-N]**L*******"),
            ("serial_from", "38000"),
            ("serial_to", "999999"),
        ]);
        let text = toml(&Filled::of(&boxes), None, "B");
        let (_, rule) = text.split_once("[[variant.vin_rule]]\n").unwrap();
        assert_eq!(
            rule,
            "code = \"A8-III as entered\"\npattern = \"AZT*A8[M-N]**L*******\"\nserial_from = 38000\n\
             serial_to = 999999\nsource = \"parts data\"\nentered_by = \"B\"\n"
        );
    }

    #[test]
    fn kit_hook_up_and_cautions_stand_in_their_own_tables_and_are_left_out_where_empty() {
        let mut boxes = vec![("code", "A8-III"), ("source", "parts data")];
        let bare = toml(&Filled::of(&boxes), None, "B");
        assert!(!bare.contains("kit") && !bare.contains("hookup") && !bare.contains("cautions"), "{bare}");
        boxes.extend([
            ("caution_2", "Never above idle while the level is read."),
            ("hookup_place", "cooler_line"),
            ("hookup_adapter", "AD-14"),
            ("hookup_note", "at the cooler, the upper line"),
            ("kit_code", "K8-30"),
            ("kit_parts", "filter"),
            ("kit_parts", "pan_screws"),
            ("kit_screws", "13"),
        ]);
        let text = toml(&Filled::of(&boxes), None, "B");
        let (_, tables) = text.split_once("cautions = ").unwrap();
        assert_eq!(
            tables,
            "[\"Never above idle while the level is read.\"]\n\n[[variant.hookup]]\nplace = \"cooler_line\"\n\
             adapter = \"AD-14\"\nnote = \"at the cooler, the upper line\"\n\n[variant.kit]\n\
             code = \"K8-30\"\nparts = [\"filter\", \"pan_screws\"]\nnew_screw_count = 13\n"
        );
    }

    #[test]
    fn a_file_is_named_after_what_is_in_it_and_never_over_another() {
        let files: Files = vec![("alder-8-a8-iii.toml".to_owned(), Vec::new())];
        assert_eq!(file_name(&files, "Alder-8", "A8-IV"), "alder-8-a8-iv.toml");
        assert_eq!(file_name(&files, "Alder-8", "A8-III"), "alder-8-a8-iii-2.toml");
        assert_eq!(file_name(&files, "../..", "é"), "variant.toml");
    }

    #[test]
    fn words_and_numbers_become_toml_that_cannot_break_out() {
        assert_eq!(toml_number("9,5"), "9.5");
        assert_eq!(toml_number("40"), "40.0");
        assert_eq!(toml_number("warm"), "\"warm\"");
        assert_eq!((toml_whole("48").as_str(), toml_whole("4.5").as_str()), ("48", "\"4.5\""));
        assert_eq!(toml_text("a\"\n[x]"), r#""a\"\n[x]""#);
    }
}
