//! The register of waste of an invented workshop.

use super::*;

fn waste(word: &str, amount: f64, unit: &str, container: &str) -> Use {
    Use {
        code: word.into(),
        amount,
        unit: unit.into(),
        container: container.into(),
        density: (unit == "L").then_some(0.847),
        ..Use::default()
    }
}

fn taken(code: &str, kilograms: f64) -> Kind {
    Kind::WasteCollected(v1::WasteCollected {
        waste_code: code.into(),
        mass_kilograms: kilograms,
        carrier: "Quay Carriers".into(),
        document: "W-7751".into(),
        destination: "oil works".into(),
        container: "W-2".into(),
    })
}

fn shop(settings: &str) -> Shop {
    let mut shop = Shop::with_settings(settings);
    shop.on("2026-10-31").job("HL-26-0041", "PH 482 K", VINS[0]);
    shop.uses("HL-26-0041", UseOf::Waste, waste("used-fluid", 15.4, "L", "W-2"));
    shop.on("2026-11-02").job("HL-26-0042", "PM 117 C", VINS[1]);
    shop.uses("HL-26-0042", UseOf::Waste, waste("used-fluid", 7.1, "kg", "W-2"));
    shop.uses("HL-26-0042", UseOf::Waste, waste("filter", 1.0, "pieces", "W-3"));
    shop.on("2026-11-20").state(taken("130206", 20.0));
    shop
}

#[test]
fn a_month_has_its_lines_collections_and_what_is_held_at_its_end() {
    let sheet = shop(CODES).sheet("waste", "", "2026-11");
    assert_eq!(said(&sheet.title), "Register of waste, November 2026, Harbour Lane");
    assert!(sheet.said.is_empty());
    assert_eq!(
        rows(&sheet.tables[0]),
        // 15.4 L at 0.847 kg/L are 13.04 kg; 13.04 + 7.1 - 20 = 0.14 kg.
        ["13 02 06*|Used fluid|7.1 kg||20.0 kg|0.14 kg", "16 01 07*|Filters|0.0 kg|1 pcs|0.0 kg|0.0 kg"]
    );
    assert_eq!(
        rows(&sheet.tables[1]),
        [
            "2026-11-02|HL-26-0042|13 02 06*|Used fluid|||7.1 kg||W-2|technician A",
            "2026-11-02|HL-26-0042|16 01 07*|Filters||1 pcs|||W-3|technician A",
        ]
    );
    assert_eq!(
        rows(&sheet.tables[2]),
        ["2026-11-20|130206|20.0 kg|Quay Carriers|W-7751|oil works|W-2|office B"]
    );
    assert_eq!(sheet.tables[1].rows[0].job.as_deref(), Some("HL-26-0042"));
}

#[test]
fn a_year_adds_its_months() {
    let sheet = shop(CODES).sheet("waste", "", "2026");
    assert_eq!(
        rows(&sheet.tables[1]),
        [
            "October 2026|13 02 06*|Used fluid|13.04 kg|0.0 kg|13.04 kg",
            "November 2026|13 02 06*|Used fluid|7.1 kg|20.0 kg|0.14 kg",
        ]
    );
    assert_eq!(
        rows(&sheet.tables[2])[0],
        "2026-10-31|HL-26-0041|13 02 06*|Used fluid|15.4 L||13.04 kg|0.847 kg/L|W-2|technician A"
    );
}

#[test]
fn the_day_of_a_line_is_that_of_the_site() {
    let mut shop = Shop::with_settings(CODES);
    shop.on("2026-07-01").uses("HL-26-0042", UseOf::Waste, waste("cloths", 0.4, "kg", ""));
    // Half past midnight in London's summer is still 30 June by the clock of the world.
    let account = shop.accounts.get_mut("HL-26-0042").unwrap();
    account.uses[0].done_us = "2026-06-30T23:30:00Z".parse::<jiff::Timestamp>().unwrap().as_microsecond();
    assert_eq!(shop.sheet("waste", "", "2026-07").tables[1].rows.len(), 1);
    assert_eq!(shop.sheet("waste", "", "2026-06").tables[1].rows.len(), 0);
}

#[test]
fn without_codes_the_word_of_the_kind_stands_and_a_note_says_so() {
    let page = page(&shop("").sheet("waste", "", "2026-11"));
    assert!(
        page.contains("|not set|Used fluid|") && page.contains("a table [waste_codes] with used_fluid"),
        "{page}"
    );
    assert!(!page.contains("too little"), "what the carrier calls it, no line is called: {page}");
}

#[test]
fn unlike_waste_in_one_container_is_said() {
    let mut shop = shop(CODES);
    shop.uses("HL-26-0042", UseOf::Waste, waste("filter", 0.6, "kg", "w 2"));
    assert!(shop.sheet("waste", "", "").said.is_empty(), "it was emptied before");
    shop.uses("HL-26-0042", UseOf::Waste, waste("used-fluid", 3.0, "kg", "W-2"));
    let text = all(&shop.sheet("waste", "", "").said);
    assert!(
        text.contains("Container W-2 holds 16 01 07* and 13 02 06*: unlike waste is kept apart."),
        "{text}"
    );
}

#[test]
fn a_line_keeps_the_code_of_its_time_and_warnings_are_those_of_the_period() {
    let mut shop = shop(CODES);
    let used = Use { waste_code: "13 03 07*".into(), ..waste("used-fluid", 5.0, "kg", "W-9") };
    shop.on("2026-10-15").uses("HL-26-0041", UseOf::Waste, used);
    shop.uses("HL-26-0041", UseOf::Waste, waste("filter", 0.6, "kg", "W-9"));
    let october = shop.sheet("waste", "", "2026-10");
    assert!(
        rows(&october.tables[0])[1].starts_with("13 03 07*|Used fluid|5.0 kg"),
        "{:?}",
        rows(&october.tables[0])
    );
    let text = all(&october.said);
    assert!(text.contains("13 03 07*") && text.contains("Container W-9 holds"), "{text}");
    assert_eq!(all(&shop.sheet("waste", "", "2026-11").said), "");
}

#[test]
fn a_period_that_is_none_is_named() {
    for wrong in ["26", "2026-13", "2026-1", "november", "2026-00", "20261-1"] {
        let error = shop(CODES).asked("waste", "", wrong).unwrap_err();
        assert_eq!(error, TallyError::Period { period: wrong.into() });
    }
}
