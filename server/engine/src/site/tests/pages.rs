//! Every tally of a workshop with something in each, as the office reads it.

use super::*;

fn november() -> Shop {
    let mut shop = Shop::new();
    shop.on("2026-10-01").state(received("LN-847", "L-2209", 60.0, "2026-11-15"));
    shop.state(received("LN-847", "L-2301", 60.0, "2027-12-31")).state(received("BR-861", "L-9", 20.0, ""));
    let amount = Some(v1::lot_received::Amount::PieceCount(4));
    let kits =
        v1::LotReceived { lot: "K-7".into(), what: 3, code: "KIT-A8".into(), amount, ..Default::default() };
    shop.state(Kind::LotReceived(kits));
    for (number, day, plate, vin, lot, litres) in [
        ("HL-26-0040", "2026-10-20", "PH 482 K", VINS[0], "L-2209", 12.4),
        ("HL-26-0041", "2026-11-03", "PM 117 C", VINS[1], "L-2301", 15.0),
        ("HL-26-0042", "2026-11-18", "PT 900 A", "", "", 9.2),
    ] {
        shop.on(day).job(number, plate, vin);
        shop.drew(number, "Linden", lot, litres);
        let kit = Use {
            code: "KIT-A8".into(),
            lot: "K-7".into(),
            amount: 1.0,
            purpose: "kit".into(),
            ..Use::default()
        };
        shop.uses(number, UseOf::Part, kit);
        let waste = Use {
            code: "used-fluid".into(),
            amount: litres,
            unit: "L".into(),
            density: Some(0.847),
            container: "W-2".into(),
            ..Use::default()
        };
        shop.uses(number, UseOf::Waste, waste);
        let filter = Use { code: "filter".into(), amount: 1.0, unit: "pieces".into(), ..Use::default() };
        shop.uses(number, UseOf::Waste, filter);
    }
    let closed = shop.time_us();
    let account = shop.job("HL-26-0041", "", "");
    (account.closed_us, account.record_open, account.issued) = (Some(closed), true, true);
    shop.job("HL-26-0040", "", "").closed_us = Some(closed);
    shop.on("2026-11-24").state(Kind::WasteCollected(v1::WasteCollected {
        waste_code: "13 02 06*".into(),
        mass_kilograms: 32.0,
        carrier: "Quay Carriers".into(),
        document: "W-7751".into(),
        destination: "oil works, Dock 4".into(),
        container: "W-2".into(),
    }));
    shop.on("2026-11-25").state(recalled("L-2209", "LN-847", false));
    let amount = Some(v1::stock_counted::Amount::PieceCount(1));
    let kits = v1::StockCounted { what: 3, code: "KIT-A8".into(), lot: String::new(), amount };
    shop.on("2026-11-30").state(counted("LN-847", "L-2301", 44.5)).state(Kind::StockCounted(kits));
    shop
}

#[test]
fn every_page_reads_without_a_number_that_is_none_or_a_word_left_open() {
    let shop = november();
    for (name, about, period) in [
        ("store", "", ""),
        ("lot", "L-2209", ""),
        ("lot", "PH 482 K", ""),
        ("recall", "", ""),
        ("waste", "", "2026-11"),
        ("waste", "", "2026"),
        ("month", "", "2026-11"),
    ] {
        let sheet = shop.sheet(name, about, period);
        let page = page(&sheet);
        println!("{page}\n\n=====\n");
        assert_eq!(sheet.tally, name);
        for wrong in ["NaN", "infinity", "{", "  ", ".."] {
            assert!(!page.contains(wrong), "{name} has '{wrong}': {page}");
        }
        assert!(page.lines().count() > 5);
        assert_eq!(sheet, shop.sheet(name, about, period), "the same facts give the same page");
    }
}
