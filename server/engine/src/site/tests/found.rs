//! What a code belongs to.

use super::*;
use crate::kind::words::Part;
use crate::site::{Found, FoundWhat, find};

fn found(shop: &Shop, code: &str) -> Vec<Found> {
    shop.with(|context| find(context, code))
}

fn words(found: &[Found]) -> Vec<(FoundWhat, String)> {
    found.iter().map(|one| (one.what, said(&one.text))).collect()
}

#[test]
fn a_code_of_the_catalogue_is_the_part_that_carries_it() {
    let shop = Shop::new();
    for (code, part, known, words) in [
        ("linden", Part::FluidContainer, "LN-847", "LN-847: fluid of Alder-8, second series."),
        ("ln 847", Part::FluidContainer, "LN-847", "LN-847: fluid of Alder-8, second series."),
        ("F8-10", Part::Filter, "F8-10", "F8-10: filter of Alder-8, first series."),
        ("sp68", Part::Standpipe, "SP-68", "SP-68: standpipe of Alder-8, second series."),
        (
            "A8 0117",
            Part::TransmissionPlate,
            "A8 0117",
            "A8 0117: transmission plate of Alder-8, first series.",
        ),
    ] {
        let found = found(&shop, code);
        assert_eq!(found.len(), 1, "{code}");
        assert_eq!((found[0].part, found[0].code.as_str()), (Some(part), known));
        assert_eq!(said(&found[0].text), words);
    }
    assert_eq!(found(&shop, "nobody knows it"), []);
}

#[test]
fn a_lot_brings_the_code_of_its_container() {
    let mut shop = Shop::new();
    shop.state(received("LN-847", "L-2209", 60.0, "2026-12-31")).state(recalled("L-2209", "", false));
    let lot = found(&shop, "l2209");
    assert_eq!(
        words(&lot),
        [(
            FoundWhat::Lot,
            "fluid LN-847, lot L-2209: 60.0 L should be there, to be used until 31 December 2026, recalled."
                .to_owned()
        )]
    );
    assert_eq!(
        (lot[0].part, lot[0].lot.as_str(), lot[0].code.as_str()),
        (Some(Part::FluidContainer), "L-2209", "LN-847")
    );
}

#[test]
fn tools_equipment_and_jobs_are_found_by_their_codes() {
    let mut shop = Shop::new();
    shop.job("HL-26-0042", "PH 482 K", VINS[0]);
    shop.uses("HL-26-0042", UseOf::Tool, Use { code: "TW-2".into(), ..Use::default() });
    let held = v1::EquipmentContents { equipment: "E-1".into(), held: 2, ..Default::default() };
    shop.state(Kind::EquipmentContents(held));
    assert_eq!(words(&found(&shop, "tw2")), [(FoundWhat::Tool, "Tool TW-2.".to_owned())]);
    assert_eq!(words(&found(&shop, "E-1")), [(FoundWhat::Equipment, "Exchange equipment E-1.".to_owned())]);
    for code in ["hl-26-0042", "PH482K", VINS[0]] {
        let job = found(&shop, code);
        assert_eq!(job[0].job, "HL-26-0042");
        assert_eq!(said(&job[0].text), "Job HL-26-0042, PH 482 K, opened on 2 November 2026.");
    }
}
