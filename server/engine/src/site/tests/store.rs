//! The store: what came in, was drawn and counted; nothing below zero is hidden.

use super::*;
use crate::site::exact::Exact;
use crate::site::store::{Balance, Store};
use proptest::prelude::*;

fn store(shop: &Shop) -> Store {
    Store::of(&shop.revision, &shop.facts())
}

#[test]
fn what_is_there_is_what_came_in_less_what_was_drawn() {
    let mut shop = Shop::new();
    shop.state(received("LN-847", "L-2209", 60.0, "2027-06-30")).drew("HL-26-0042", "Linden", "l 2209", 12.4);
    shop.drew("HL-26-0043", "ln 847", "L-2209", 3.6);
    let store = store(&shop);
    let shelf = store.shelf("Linden").unwrap();
    assert_eq!(
        (store.shelves.len(), shelf.lots.len()),
        (1, 1),
        "code, name and spelling are one fluid, one lot"
    );
    assert_eq!(shelf.lots[0].there().value(), 44.0);
    assert_eq!(shelf.lots[0].last_day, "2027-06-30");
}

#[test]
fn a_count_is_the_basis_for_what_follows_and_says_since_when_it_differs() {
    let mut shop = Shop::new();
    shop.on("2026-10-01").state(received("LN-847", "L-2209", 60.0, ""));
    shop.on("2026-10-20").drew("HL-26-0042", "Linden", "L-2209", 12.4);
    shop.on("2026-11-03").state(counted("LN-847", "L-2209", 45.0)).drew(
        "HL-26-0043",
        "Linden",
        "L-2209",
        5.0,
    );
    let sheet = shop.sheet("store", "", "");
    let text = all(&sheet.said);
    let wanted = "Linden, lot L-2209: on 3 November 2026 45.0 L were counted and 47.6 L should have been there: 2.6 L \
        less since 1 October 2026.";
    assert_eq!(text, wanted);
    assert_eq!(
        rows(&sheet.tables[0]),
        ["LN-847|Linden|L-2209|fluid|drum|60.0 L|17.4 L|45.0 L|2026-11-03|−2.6 L|40.0 L||"]
    );
    shop.on("2026-11-10").state(counted("LN-847", "L-2209", 40.0));
    assert!(shop.sheet("store", "", "").said.is_empty(), "the last count found what was computed");
}

#[test]
fn weighed_fluid_is_counted_in_litres_at_the_temperature_of_the_bay() {
    let mut shop = Shop::new();
    let amount = Some(v1::stock_counted::Amount::MassKilograms(42.35));
    let count = v1::StockCounted { what: 1, code: "LN-847".into(), lot: "L-2209".into(), amount };
    shop.state(received("LN-847", "L-2209", 60.0, "")).state(Kind::StockCounted(count));
    // 847 kg/m³ at 15 °C are 843.86 kg/m³ at 20 °C (API MPMS 11.1, form of table 54D: factor 0.99629).
    let litres = 42.35 / (0.847 * 0.996_29);
    assert!((store(&shop).shelves[0].lots[0].there().value() - litres).abs() < 1e-3);
}

#[test]
fn more_drawn_than_came_in_is_said_and_never_hidden() {
    let mut shop = Shop::new();
    shop.state(received("LN-847", "L-2209", 10.0, "")).drew("HL-26-0042", "Linden", "L-2209", 12.4);
    let sheet = shop.sheet("store", "", "");
    assert_eq!(all(&sheet.said), "Linden, lot L-2209: 2.4 L more were drawn than came in.");
    assert!(rows(&sheet.tables[0])[0].contains("|−2.4 L|"));
    shop.drew("HL-26-0043", "Linden", "L-7", 1.0);
    assert!(
        all(&shop.sheet("store", "", "").said).contains("Linden, lot L-7: no delivery was written down.")
    );
}

#[test]
fn litres_without_a_lot_come_out_of_one_of_the_lots() {
    let mut shop = Shop::new();
    shop.state(received("LN-847", "L-1", 20.0, "")).state(received("LN-847", "L-2", 20.0, ""));
    shop.drew("HL-26-0042", "Linden", "", 12.0);
    let page = page(&shop.sheet("store", "", ""));
    assert!(
        page.contains("no lot noted|fluid||0.0 L|12.0 L||||−12.0 L||12.0 L drawn without a lot"),
        "{page}"
    );
    assert!(page.contains("all lots|fluid||40.0 L|12.0 L||||28.0 L||"), "{page}");
    shop.on("2026-11-09").state(counted("Linden", "", 27.0));
    let sheet = shop.sheet("store", "", "");
    assert!(
        all(&sheet.said)
            .starts_with("All of Linden: on 9 November 2026 27.0 L were counted and 28.0 L should")
    );
    assert!(rows(&sheet.tables[0])[3].ends_with("27.0 L|2026-11-09|−1.0 L|27.0 L||"), "{sheet:?}");
}

#[test]
fn a_workshop_without_deliveries_is_not_told_that_it_overdraws() {
    let mut shop = Shop::new();
    assert!(page(&shop.sheet("store", "", "")).contains("Nothing was received, counted or drawn yet."));
    shop.drew("HL-26-0042", "Linden", "L-2209", 12.4);
    let sheet = shop.sheet("store", "", "");
    assert!(sheet.said.is_empty());
    assert_eq!(
        rows(&sheet.tables[0]),
        ["LN-847|Linden|L-2209|fluid||0.0 L|12.4 L||||||drawn, but never received or counted here"]
    );
}

#[test]
fn a_rinse_draws_from_its_lot_and_goes_to_used_fluid() {
    let mut shop = Shop::new();
    let rinse = v1::EquipmentContents {
        equipment: "E-1".into(),
        held: 1,
        fluid_code: "Linden".into(),
        held_litres: Some(0.6),
        rinsed_litres: Some(1.5),
        lot: "L-2209".into(),
    };
    shop.state(received("LN-847", "L-2209", 60.0, "")).state(Kind::EquipmentContents(rinse));
    assert_eq!(store(&shop).shelves[0].lots[0].there().value(), 58.5);
    let sheet = shop.sheet("waste", "", "");
    assert_eq!(
        rows(&sheet.tables[1]),
        ["2026-11-02|equipment rinsed|13 02 06*|Used fluid|1.5 L||1.27 kg|0.847 kg/L||office B"]
    );
}

#[test]
fn a_withdrawn_delivery_never_came_in() {
    let mut shop = Shop::new();
    shop.state(received("LN-847", "L-1", 20.0, ""));
    let withdrawn = v1::Correction {
        corrected_entry_id: shop.last_id(),
        reason: "sent back".into(),
        outcome: Some(v1::correction::Outcome::Withdrawn(true)),
    };
    shop.state(Kind::Correction(Box::new(withdrawn)));
    assert!(store(&shop).shelves.is_empty());
}

#[test]
fn pieces_are_counted_apart_from_litres() {
    let mut shop = Shop::new();
    let amount = Some(v1::lot_received::Amount::PieceCount(4));
    let kits =
        v1::LotReceived { lot: "K-7".into(), what: 3, code: "KIT-A8".into(), amount, ..Default::default() };
    shop.state(Kind::LotReceived(kits));
    let used = Use {
        code: "kit a8".into(),
        lot: "K-7".into(),
        amount: 1.0,
        unit: "pieces".into(),
        ..Use::default()
    };
    shop.uses("HL-26-0042", UseOf::Part, used);
    assert_eq!(rows(&shop.sheet("store", "", "").tables[0]), ["KIT-A8||K-7|kit||4 pcs|1 pcs||||3 pcs||"]);
}

/// Deliveries, draws and counts in any order: kind, lot, tenths of a litre.
fn steps() -> impl Strategy<Value = Vec<(u8, u8, u32)>> {
    prop::collection::vec((0_u8..4, 0_u8..4, 0_u32..2_000), 0..40)
}

proptest! {
    #[test]
    fn the_store_conserves_litres_in_any_order(steps in steps()) {
        let mut shop = Shop::new();
        let lots = ["", "L-1", "L-2", "L-3"];
        for (kind, lot, tenths) in &steps {
            let (lot, litres) = (lots[usize::from(*lot)], f64::from(*tenths) / 10.0);
            match kind {
                0 => shop.state(received("LN-847", if lot.is_empty() { "L-1" } else { lot }, litres, "")),
                1 => shop.drew("HL-26-0042", "Linden", lot, litres),
                _ => shop.state(counted("Linden", lot, litres)),
            };
        }
        for shelf in &store(&shop).shelves {
            let differences: Exact = shelf
                .lots
                .iter()
                .flat_map(|lot| &lot.counts)
                .chain(&shelf.counts)
                .map(|count| count.difference())
                .sum();
            let sum = |of: fn(&Balance) -> Exact| shelf.sum(of);
            prop_assert_eq!(differences, sum(|lot| lot.difference));
            prop_assert_eq!(
                sum(|lot| lot.received) + differences,
                sum(|lot| lot.drawn) + sum(Balance::there)
            );
        }
        // Nothing that was stated is lost on the way to the shelves.
        let by_hand = |kind: u8| steps.iter().filter(|step| step.0 == kind).map(|step| step.2).sum::<u32>();
        let shelf = store(&shop);
        let total = |of: fn(&Balance) -> Exact| shelf.shelves.iter().map(|shelf| shelf.sum(of)).sum::<Exact>();
        prop_assert_eq!(total(|lot| lot.received), Exact::new(f64::from(by_hand(0)) / 10.0));
        prop_assert_eq!(total(|lot| lot.drawn), Exact::new(f64::from(by_hand(1)) / 10.0));
    }

    #[test]
    fn after_a_count_of_everything_what_is_there_is_what_was_counted(steps in steps(), last in 0_u32..2_000) {
        let mut shop = Shop::new();
        for (kind, lot, tenths) in &steps {
            let (lot, litres) = (format!("L-{lot}"), f64::from(*tenths) / 10.0);
            match kind {
                0 => shop.state(received("LN-847", &lot, litres, "")),
                _ => shop.drew("HL-26-0042", "Linden", &lot, litres),
            };
        }
        shop.state(counted("Linden", "", f64::from(last) / 10.0));
        let there = store(&shop).shelves[0].sum(Balance::there);
        prop_assert_eq!(there, Exact::new(f64::from(last) / 10.0));
    }
}
