//! What a code belongs to.

use super::*;
use crate::kind::words::Part;
use crate::site::{Found, FoundWhat, find};

fn found(shop: &Shop, code: &str) -> Vec<Found> {
    shop.with(|context| find(context, code, None))
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
    let holds = "Equipment E-1: holds nothing, it was emptied; no check of its display is known.";
    assert_eq!(words(&found(&shop, "E-1")), [(FoundWhat::Equipment, holds.to_owned())]);
    for code in ["hl-26-0042", "PH482K", VINS[0]] {
        let job = found(&shop, code);
        assert_eq!(job[0].job, "HL-26-0042");
        assert_eq!(said(&job[0].text), "Job HL-26-0042, PH 482 K, opened on 2 November 2026.");
    }
}

#[test]
fn equipment_and_its_display_are_one_thing_that_says_what_it_holds() {
    let mut shop = Shop::new();
    let held = v1::EquipmentContents {
        equipment: "EX-1".into(),
        held: v1::Held::Fluid.into(),
        fluid_code: "LN-847".into(),
        held_litres: Some(0.6),
        ..Default::default()
    };
    let check = v1::ToolChecked {
        tool: "EX-1".into(),
        kind: v1::ToolKind::LitreDisplay.into(),
        event: v1::ToolEvent::Checked.into(),
        shown_litres: Some(5.0),
        reference: Some(v1::tool_checked::Reference::ReferenceLitres(4.9)),
        ..Default::default()
    };
    shop.state(Kind::EquipmentContents(held)).state(Kind::ToolChecked(check));
    let holds = "Equipment EX-1: holds Linden, about 0.6 L; its display was checked on 2 November 2026";
    assert_eq!(words(&found(&shop, "ex1")), [(FoundWhat::Equipment, format!("{holds}."))]);
    shop.on("2028-11-02");
    let [(_, old)] = words(&found(&shop, "EX-1")).try_into().unwrap();
    assert!(old.starts_with(&format!("{holds}, and a check was due on ")), "{old}");
}

#[test]
fn kits_adapters_and_what_was_looked_up_for_the_job_are_known() {
    let shop = Shop::new();
    let kits: Vec<_> = shop.revision.variants().iter().filter_map(|variant| variant.kit.as_ref()).collect();
    let adapters = shop.revision.variants().iter().flat_map(|variant| &variant.hookups);
    let adapter = adapters.filter_map(|hookup| hookup.adapter.clone()).next().expect("an adapter");
    let kit = kits.first().expect("a kit").code.clone();
    for (code, what) in [(&kit, "kit"), (&adapter, "adapter")] {
        let [(found, said)] = words(&found(&shop, code)).try_into().unwrap();
        assert_eq!(found, FoundWhat::Part);
        assert!(said.starts_with(&format!("{code}: {what} of Alder-8, ")), "{said}");
    }
    let settled = v1::VariantSettled {
        variant_code: "E5".into(),
        label: "Elm-5".into(),
        fluid_code: "ML-839".into(),
        filter_code: "F5-1".into(),
        ..Default::default()
    };
    let of_job = |code: &str| shop.with(|context| find(context, code, Some(&settled)));
    assert_eq!(found(&shop, "F5-1"), [], "of no job");
    assert_eq!(words(&of_job("f5 1")), [(FoundWhat::Part, "F5-1: filter of Elm-5.".to_owned())]);
    assert_eq!(of_job("ML-839")[0].part, Some(Part::FluidContainer));
    assert_eq!(of_job("F8-10")[0].code, "F8-10");
}

#[test]
fn a_lot_past_its_last_day_says_so() {
    let mut shop = Shop::new();
    shop.state(received("LN-847", "L-1900", 20.0, "2026-11-30")).on("2026-12-01");
    let [(_, said)] = words(&found(&shop, "L-1900")).try_into().unwrap();
    assert!(said.ends_with("past its last day, 30 November 2026."), "{said}");
}
