//! Lots: which vehicles got one, recalls, and calls.

use super::*;

fn call(of: UseOf, word: &str) -> (UseOf, Use) {
    (of, Use { purpose: word.into(), ..Use::default() })
}

/// Two vehicles got lot L-2209, one of them got another lot too.
fn shop() -> Shop {
    let mut shop = Shop::new();
    shop.on("2026-10-01").state(received("LN-847", "L-2209", 60.0, "2026-12-31"));
    shop.on("2026-10-20").job("HL-26-0042", "PH 482 K", VINS[0]);
    shop.drew("HL-26-0042", "Linden", "L-2209", 12.4).drew("HL-26-0042", "Linden", "L-2300", 3.0);
    shop.on("2026-10-22").job("HL-26-0047", "PM 117 C", VINS[1]);
    shop.drew("HL-26-0047", "LN-847", "L-2209", 9.0).on("2026-11-02");
    shop
}

#[test]
fn a_lot_tells_which_vehicles_got_it_and_a_vehicle_which_lots_it_got() {
    let shop = shop();
    let sheet = shop.sheet("lot", "l2209", "");
    assert_eq!(all(&sheet.said), "To be used until 31 December 2026. 2 jobs used it.");
    assert_eq!(
        rows(&sheet.tables[0]),
        ["2026-10-01|received|LN-847|fluid|60.0 L|drum|1|2026-12-31|DN-118|office B"]
    );
    assert_eq!(
        rows(&sheet.tables[1]),
        [
            "HL-26-0042|PH 482 K|AZTWA8M47LA042317|2026-10-20|Linden|L-2209|12.4 L|pushed in",
            "HL-26-0047|PM 117 C|AZTWA8M45LA017206|2026-10-22|LN-847|L-2209|9.0 L|pushed in",
        ]
    );
    assert_eq!(sheet.tables[1].rows[0].job.as_deref(), Some("HL-26-0042"));
    for about in ["HL-26-0042", "ph482k", VINS[0]] {
        let back = rows(&shop.sheet("lot", about, "").tables[0]);
        assert!(back.len() == 2 && back[1].contains("|L-2300|3.0 L|"), "{about}: {back:?}");
    }
    assert_eq!(
        shop.asked("lot", "", "").unwrap_err().to_string(),
        "tally lot is about one lot, job, plate or VIN; give its code"
    );
}

#[test]
fn a_recall_lists_every_vehicle_until_it_was_told_and_looked_at() {
    let mut shop = shop();
    assert!(page(&shop.sheet("recall", "", "")).contains("No customer has to be called."));
    let (of, used) = call(UseOf::Told, "informed");
    shop.uses("HL-26-0042", of, used).state(recalled("L-2209", "", false));
    let sheet = shop.sheet("recall", "", "");
    assert_eq!(all(&sheet.said), "2 jobs are still to be called about or looked at.");
    assert_eq!(rows(&sheet.tables[0]), ["2026-11-02|L-2209|any|water in the drum|stands|2|office B"]);
    assert_eq!(
        rows(&sheet.tables[1])[0],
        "HL-26-0042|PH 482 K|AZTWA8M47LA042317|2026-10-20|Linden, lot L-2209, 12.4 L|not yet|not yet",
        "a call before the recall was about something else"
    );
    let (of, used) = call(UseOf::Told, "agrees");
    shop.on("2026-11-04").uses("HL-26-0042", of, used);
    // It comes back in a job of its own.
    shop.on("2026-11-05").job("HL-26-0060", "PH 482 K", VINS[0]);
    let (of, used) = call(UseOf::LookedAt, "in-order");
    shop.uses("HL-26-0060", of, used);
    let sheet = shop.sheet("recall", "", "");
    assert_eq!(all(&sheet.said), "One job is still to be called about or looked at.");
    let rows = rows(&sheet.tables[1]);
    assert!(rows[0].starts_with("HL-26-0047|"), "what is done stands last: {rows:?}");
    assert!(rows[1].ends_with("|2026-11-04, agrees|2026-11-05, as it should be"), "{rows:?}");
    shop.state(recalled("L-2209", "", true));
    let page = page(&shop.sheet("recall", "", ""));
    assert!(page.contains("|lifted|0|") && page.contains("No job is concerned."), "{page}");
}

#[test]
fn a_recall_of_one_code_leaves_another_with_the_same_number_alone() {
    let mut shop = shop();
    shop.state(recalled("L-2209", "Bramble", false));
    assert!(page(&shop.sheet("recall", "", "")).contains("No job is concerned."));
    shop.state(recalled("L-2209", "Linden", false));
    assert_eq!(shop.sheet("recall", "", "").tables[1].rows.len(), 2);
    let store = page(&shop.sheet("store", "", ""));
    assert!(store.contains("Linden, lot L-2209: recalled."), "{store}");
}

#[test]
fn a_job_whose_equipment_held_a_recalled_lot_of_the_job_before_or_of_a_rinse_is_called_too() {
    let mut shop = shop();
    let through = |equipment: &str, lot: &str| Use {
        code: equipment.into(),
        lot: lot.into(),
        amount: 12.0,
        purpose: "Linden".into(),
        ..Use::default()
    };
    shop.uses("HL-26-0047", UseOf::Equipment, through("E-1", "L-2209"));
    shop.job("HL-26-0050", "PT 900 A", "");
    shop.uses("HL-26-0050", UseOf::Equipment, through("E-1", "L-2300"));
    shop.job("HL-26-0051", "PT 901 A", "");
    shop.uses("HL-26-0051", UseOf::Equipment, through("E-1", "L-2300"));
    shop.state(Kind::EquipmentContents(v1::EquipmentContents {
        equipment: "E-2".into(),
        held: 1,
        fluid_code: "LN-847".into(),
        rinsed_litres: Some(1.0),
        lot: "L-2209".into(),
        ..Default::default()
    }));
    shop.job("HL-26-0052", "PT 902 A", "");
    shop.uses("HL-26-0052", UseOf::Equipment, through("E-2", "L-2300"));
    shop.state(recalled("L-2209", "", false));
    let rows = rows(&shop.sheet("recall", "", "").tables[1]);
    let named = |number: &str| rows.iter().find(|row| row.starts_with(number));
    let why = "Linden, lot L-2209: in equipment E-1 when it was pushed through";
    assert!(named("HL-26-0050").is_some_and(|row| row.contains(why)), "{rows:?}");
    assert!(named("HL-26-0052").is_some_and(|row| row.contains("equipment E-2")), "{rows:?}");
    assert_eq!(named("HL-26-0051"), None, "it got what the job before had pushed");
}

#[test]
fn a_damaged_part_is_not_done_with_and_a_declined_call_is() {
    let mut shop = shop();
    shop.state(recalled("L-2209", "", false));
    for (of, used) in [call(UseOf::Told, "agrees"), call(UseOf::LookedAt, "damaged")] {
        shop.uses("HL-26-0042", of, used);
    }
    let (of, used) = call(UseOf::Told, "declines");
    shop.uses("HL-26-0047", of, used);
    let sheet = shop.sheet("recall", "", "");
    assert_eq!(all(&sheet.said), "One job is still to be called about or looked at.");
    assert!(rows(&sheet.tables[1])[1].starts_with("HL-26-0047|"));
}

#[test]
fn jobs_whose_lot_nobody_read_are_named_beside_a_recall_of_that_fluid() {
    let mut shop = shop();
    shop.job("HL-26-0050", "PT 900 A", "");
    shop.drew("HL-26-0050", "ln 847", "", 9.0).drew("HL-26-0051", "Bramble", "", 9.0);
    assert_eq!(all(&shop.sheet("recall", "", "").said), "No customer has to be called.");
    shop.state(recalled("L-2209", "", false));
    let text = all(&shop.sheet("recall", "", "").said);
    assert!(text.ends_with("can say whether these jobs got a recalled one: HL-26-0050."), "{text}");
}
