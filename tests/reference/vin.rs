//! VINs: check digit, structure, model year, and the catalogue's rules.

use serde_json::Value;
use standpipe_engine::catalogue::Revision;
use standpipe_engine::catalogue::vin_rule::{Pattern, VinRule, fitting};
use standpipe_engine::formula::vin::{
    Verdict, Vin, check_digit, light_vehicle_model_year, model_years, read, weighted_sum,
};
use standpipe_engine::text::{Language, Sentence, render};

use super::{Table, number, text};

#[test]
fn check_digits_equal_the_regulation_s_examples_and_two_packages() {
    let table = Table::read("shop_vin_check_digit");
    for row in table.cases() {
        let vin = Vin::from_exact(text(row, "in")).unwrap_or_else(|| panic!("{} is legal", row["id"]));
        let sum = weighted_sum(&vin);
        assert_eq!(f64::from(sum), number(row, "weighted_sum"), "{}", row["id"]);
        assert_eq!(f64::from(sum % 11), number(row, "remainder"), "{}", row["id"]);
        let digit = check_digit(&vin).to_string();
        assert_eq!(digit, text(row, "expected_check"), "{}", row["id"]);
        assert_eq!(Some(digit == vin.as_str()[8..9]), row["matches"].as_bool(), "{}", row["id"]);
    }
    assert_eq!(table.cases().len(), 47);
}

#[test]
fn typed_vins_get_the_table_s_verdicts_in_its_words() {
    let table = Table::read("shop_vin_structure");
    for row in table.cases() {
        let reading = read(text(row, "raw"));
        let verdict = match reading.verdict {
            Verdict::Accepted => "accepted",
            Verdict::AcceptedWithWarning => "accepted with warning",
            Verdict::RefusedUntilReadTwice => "refused until re-read twice",
            Verdict::Refused => "refused",
        };
        assert_eq!(verdict, text(row, "verdict"), "{}", row["id"]);
        assert_eq!(reading.as_typed, text(row, "raw"), "{}: the text as typed stays", row["id"]);
        let problems: Vec<String> =
            reading.problems.iter().map(|problem| words(&problem.sentence())).collect();
        assert_eq!(problems, list(row, "problems"), "{}", row["id"]);
        let warnings: Vec<String> =
            reading.warnings.iter().map(|warning| words(&warning.sentence())).collect();
        let mut expected = list(row, "warnings");
        if text(row, "id") == "asia-bad" {
            // The table shortens this one sentence; the product always names both digits.
            assert_eq!(expected, ["check digit not mandatory in this region"]);
            expected = vec!["check digit would be X, found 9; not mandatory in this region".to_owned()];
        }
        assert_eq!(warnings, expected, "{}", row["id"]);
        if let Some(region) = row["region"].as_str() {
            let area = reading.vin.as_ref().and_then(Vin::area).map(|area| words(&area.sentence()));
            assert_eq!(area.as_deref(), Some(region), "{}", row["id"]);
        }
        if let Some(stored) = row["stored"].as_str() {
            assert_eq!(reading.vin.as_ref().map(Vin::as_str), Some(stored), "{}", row["id"]);
        }
        let suggestion = reading.suggestion.as_ref().map(Vin::as_str);
        assert_eq!(suggestion, row["suggestion"].as_str(), "{}", row["id"]);
    }
    assert_eq!(table.cases().len(), 12);
}

#[test]
fn position_10_gives_two_years_and_position_7_decides_for_light_vehicles_of_north_america() {
    let table = Table::read("shop_vin_model_year");
    for row in table.cases() {
        let vin = Vin::from_exact(text(row, "vin")).unwrap_or_else(|| panic!("{} is legal", row["id"]));
        assert_eq!(vin.as_str()[9..10], *text(row, "code"), "{}", row["id"]);
        assert_eq!(vin.as_str()[6..7], *text(row, "position7"), "{}", row["id"]);
        let years: Vec<u16> = row["candidates"].as_array().expect("years").iter().filter_map(year).collect();
        assert_eq!(model_years(&vin).map(Vec::from).unwrap_or_default(), years, "{}", row["id"]);
        let decided = year(&row["north_american_light_vehicle"]);
        assert_eq!(light_vehicle_model_year(&vin), decided, "{}", row["id"]);
        // The same code elsewhere: candidates only, as the table says of each row.
        assert_eq!(text(row, "elsewhere"), "candidates only, never decided by the code alone");
        let elsewhere = Vin::from_exact(&format!("W{}", &vin.as_str()[1..])).expect("legal");
        assert_eq!(model_years(&elsewhere), model_years(&vin), "{}", row["id"]);
        assert_eq!(light_vehicle_model_year(&elsewhere), None, "{}", row["id"]);
    }
    assert_eq!(table.cases().len(), 50);
}

fn year(row: &Value) -> Option<u16> {
    row.as_u64().map(|year| u16::try_from(year).expect("a year"))
}

#[test]
fn a_vin_gets_the_set_of_variants_and_every_rule_that_was_hit() {
    let table = Table::read("shop_vin_variant_match");
    let rules: Vec<VinRule> = table.content["rules"].as_array().expect("rules").iter().map(rule).collect();
    assert_eq!(rules.len(), 5);
    let revision = catalogue(&rules);
    for row in table.cases() {
        let vin = Vin::from_exact(text(row, "vin")).unwrap_or_else(|| panic!("{} is legal", row["id"]));
        let found = fitting(&rules, &vin);
        // The catalogue finds the same by its index.
        let matched = revision.match_vin(&vin);
        let mut by_index: Vec<&str> = matched.rules.iter().map(|rule| rule.code.as_str()).collect();
        let mut variants: Vec<&str> = matched.variants.iter().map(|it| it.code.as_str()).collect();
        by_index.sort_unstable();
        variants.sort_unstable();
        let sorted = |key: &str| {
            let mut listed = list(row, key);
            listed.sort_unstable();
            listed
        };
        assert_eq!(
            (by_index, variants),
            (
                sorted("rules_hit").iter().map(String::as_str).collect(),
                sorted("variants").iter().map(String::as_str).collect(),
            ),
            "{}",
            row["id"]
        );
        let hit: Vec<&str> = found.rules.iter().map(|rule| rule.code.as_str()).collect();
        assert_eq!(hit, list(row, "rules_hit"), "{}", row["id"]);
        assert_eq!(found.variants, list(row, "variants"), "{}", row["id"]);
        let outcome = match found.variants.len() {
            0 => "no rule: block and ask",
            1 => "settled",
            _ => "two variants fit: block and ask",
        };
        assert_eq!(outcome, text(row, "outcome"), "{}", row["id"]);
    }
    assert_eq!(table.cases().len(), 12);
}

/// A catalogue of these rules, each variant with what a variant needs.
fn catalogue(rules: &[VinRule]) -> Revision {
    let mut variants: Vec<&str> = rules.iter().map(|rule| rule.variant.as_str()).collect();
    variants.sort_unstable();
    variants.dedup();
    let mut text = "name = \"Elm\"\nmaker = \"Tarnwick\"\nsource = \"table\"\nedition = \"1\"\n".to_owned();
    for variant in variants {
        text += &format!(
            "[[variant]]\ncode = \"{variant}\"\nlabel = \"{variant}\"\nfluid_code = \"LN-847\"\n\
             fluid_name = \"Linden\"\ndensity_at_15_celsius_kilograms_per_cubic_metre = 847.0\n\
             total_fill_litres = 9.0\nlevel_from_celsius = 40.0\nlevel_to_celsius = 50.0\n\
             level_method = \"dipstick\"\n"
        );
        for rule in rules.iter().filter(|rule| rule.variant == variant) {
            let serial = rule.serial.map(|(from, to)| format!("serial_from = {from}\nserial_to = {to}\n"));
            text += &format!(
                "[[variant.vin_rule]]\ncode = \"{}\"\npattern = \"{}\"\n{}source = \"table\"\nedition = \"1\"\n\
                 entered_by = \"table\"\n",
                rule.code,
                rule.pattern.as_str(),
                serial.unwrap_or_default(),
            );
        }
    }
    let files = [("workshop.toml", "name = \"Harbour Lane\"\n"), ("elm.toml", text.as_str())];
    let files = files.map(|(name, text)| (name.to_owned(), text.as_bytes().to_vec()));
    Revision::parse(files.to_vec()).expect("a catalogue of the table's rules")
}

fn rule(row: &Value) -> VinRule {
    let bound = |at: usize| u32::try_from(row["serial"][at].as_u64().expect("a number")).expect("six digits");
    VinRule {
        code: text(row, "rule").to_owned(),
        variant: text(row, "variant").to_owned(),
        pattern: Pattern::parse(text(row, "pattern")).expect("17 places"),
        serial: row["serial"].is_array().then(|| (bound(0), bound(1))),
        source: "reference table".to_owned(),
        edition: "1".to_owned(),
        entered_by: "reference table".to_owned(),
    }
}

fn words(sentence: &Sentence) -> String {
    render(Language::English, sentence).expect("every sentence renders")
}

fn list(row: &Value, key: &str) -> Vec<String> {
    let items = row[key].as_array().unwrap_or_else(|| panic!("{} has no list '{key}'", row["id"]));
    items.iter().map(|item| item.as_str().expect("a text").to_owned()).collect()
}
