//! The month end on one page.

use super::*;

#[test]
fn month_end_names_what_is_open_and_what_is_due() {
    let mut shop = Shop::new();
    shop.on("2026-10-28").state(received("LN-847", "L-2209", 60.0, ""));
    shop.state(received("BR-861", "L-9", 20.0, ""));
    shop.on("2026-10-30").job("HL-26-0040", "PH 482 K", VINS[0]);
    shop.on("2026-11-03");
    let closed = shop.time_us();
    let account = shop.job("HL-26-0041", "PM 117 C", VINS[1]);
    account.closed_us = Some(closed);
    account.record_open = true;
    shop.drew("HL-26-0041", "Linden", "L-2209", 12.4);
    shop.on("2022-12-01").job("HL-22-0007", "PT 900 A", "").due_on = "2026-12-01".into();
    shop.on("2022-11-20").job("HL-22-0005", "PT 901 A", "").due_on = "2026-11-20".into();
    let account = shop.on("2022-12-10").job("HL-22-0009", "PT 902 A", "");
    account.due_on = "2026-12-31".into();
    account.due_kilometres = Some(168_240.0);
    // It came back since, so that the later job counts.
    shop.on("2026-05-01").job("HL-26-0011", "PT 900 A", "").due_on = "2030-05-01".into();
    for account in ["HL-22-0007", "HL-22-0005", "HL-22-0009", "HL-26-0011"] {
        shop.accounts.get_mut(account).unwrap().closed_us = Some(closed);
    }
    shop.on("2026-11-30").state(counted("LN-847", "L-2209", 47.0));
    let sheet = shop.sheet("month", "", "");
    assert_eq!(said(&sheet.title), "Month end, November 2026, Harbour Lane");
    let text = all(&sheet.said);
    for part in [
        "One job is open now.",
        "One record is not handed over.",
        "Linden, lot L-2209: on 30 November 2026 47.0 L were counted and 47.6 L should have been there: 0.6 L less",
        "One vehicle was due earlier and has not been back.",
    ] {
        assert!(text.contains(part), "{part}: {text}");
    }
    let tables: Vec<Vec<String>> = sheet.tables.iter().map(rows).collect();
    assert_eq!(tables[0], ["HL-26-0040|PH 482 K|2026-10-30"]);
    assert_eq!(tables[1], ["HL-26-0041|PM 117 C|2026-11-03|record not issued"]);
    assert_eq!(
        tables[2],
        [
            "BR-861|Bramble|all lots|not counted||||20.0 L",
            "LN-847|Linden|L-2209|2026-11-30|47.6 L|47.0 L|−0.6 L|47.0 L",
        ]
    );
    assert_eq!(tables[4], ["HL-22-0009|PT 902 A||2026-12-31|168 240 km"]);
    assert_eq!(said(&sheet.tables[4].heading), "Services due in December 2026");
}

#[test]
fn an_empty_month_says_so_in_words() {
    let page = page(&Shop::new().sheet("month", "", "2026-02"));
    for part in [
        "No job is open now.",
        "Every record is handed over.",
        "No waste was written down.",
        "No service is due.",
    ] {
        assert!(page.contains(part), "{part}: {page}");
    }
}

#[test]
fn an_unknown_tally_names_all_there_are() {
    let error = Shop::new().asked("stock", "", "").unwrap_err().to_string();
    assert!(
        error.starts_with(
            "there is no tally 'stock'; there are: store, lot, recall, waste, tools, tool, equipment, month"
        ),
        "{error}"
    );
}

#[test]
fn what_is_open_now_is_named_whatever_month_is_asked_for() {
    let mut shop = Shop::new();
    shop.on("2026-11-03").job("HL-26-0040", "PH 482 K", VINS[0]);
    let sheet = shop.sheet("month", "", "2026-02");
    assert_eq!(said(&sheet.tables[0].heading), "Jobs that are open now");
    assert_eq!(rows(&sheet.tables[0]), ["HL-26-0040|PH 482 K|2026-11-03"]);
}

#[test]
fn a_tally_of_now_has_no_period() {
    let shop = Shop::new();
    for name in ["store", "recall", "tools", "equipment"] {
        let error = shop.asked(name, "", "2026-11").unwrap_err().to_string();
        assert!(error.starts_with(&format!("tally {name} is as of now and has no period")), "{error}");
        assert!(shop.asked(name, "", " ").is_ok());
    }
}
