//! Lots that go in: recalled, past their last day, of another fluid, not in the register.

use super::gates::{decision, lacks, ready_to_push};
use super::*;
use crate::site::SiteFacts;

fn received(code: &str, lot: &str, expires_on: &str) -> Kind {
    Kind::LotReceived(v1::LotReceived {
        lot: lot.into(),
        what: 1,
        code: code.into(),
        amount: Some(v1::lot_received::Amount::VolumeLitres(60.0)),
        expires_on: expires_on.into(),
        ..Default::default()
    })
}

fn recalled(lot: &str, lifted: bool) -> Kind {
    let (reason, code) = ("water in the drum".into(), String::new());
    Kind::LotRecalled(v1::LotRecalled { lot: lot.into(), code, reason, lifted })
}

/// Facts of the site with their places in the journal; a job's own begin at 1.
fn site(stated: &[(u64, Kind)]) -> SiteFacts {
    let bytes: Vec<(u64, Vec<u8>)> = stated
        .iter()
        .map(|(seq, kind)| {
            let entry = v1::Entry {
                header: Some(v1::Header {
                    entry_id: Journal::id(usize::try_from(*seq).unwrap() + 500),
                    subject: Some(Subject::SiteId("01890a5d-ac96-774b-bcce-eeeeeeeeeeee".into())),
                    station_id: "office-1".into(),
                    station_epoch: "0".repeat(32),
                    station_number: 1,
                    person_code: "B".into(),
                    station_time: Some(prost_types::Timestamp { seconds: START_US / 1_000_000, nanos: 0 }),
                    boot_id: "0".repeat(32),
                    ..v1::Header::default()
                }),
                fact: Some(v1::Fact { kind: Some(kind.clone()) }),
            };
            standpipe_proto::check::entry(&entry).unwrap();
            (*seq, entry.encode_to_vec())
        })
        .collect();
    let entries: Vec<Recorded<'_>> = bytes
        .iter()
        .map(|(seq, bytes)| Recorded { seq: *seq, received_us: START_US, leaf_hash: [7; 32], bytes })
        .collect();
    SiteFacts::of(&entries)
}

fn ready(stated: &[(u64, Kind)]) -> Journal {
    let mut journal = ready_to_push();
    journal.site = site(stated);
    journal
}

fn findings(journal: &Journal) -> Vec<(String, Weight, bool)> {
    let view = journal.view();
    let lots = view.findings.iter().filter(|finding| said(&finding.text).to_lowercase().contains("lot "));
    lots.map(|finding| (said(&finding.text), finding.weight, finding.on_record)).collect()
}

#[test]
fn an_empty_register_says_nothing_of_lots() {
    let mut journal = ready(&[]);
    assert_eq!(lacks(&journal, Gate::Exchange), Vec::<&str>::new());
    journal.add(pushed(9.0, None, None, true));
    assert_eq!(findings(&journal), []);
    // Lots of another fluid alone say nothing of this one either.
    journal.site = site(&[(1, received("BR-861", "L-9", ""))]);
    assert_eq!(findings(&journal), []);
}

#[test]
fn a_recalled_lot_stops_while_the_recall_stands_and_nobody_decides_it() {
    let mut journal = ready(&[(1, received("LN-847", "L-2209", "")), (2, recalled("L-2209", false))]);
    assert_eq!(lacks(&journal, Gate::Exchange), ["lot-recalled"]);
    let go_ahead = journal.with(|context, entries| may(context, entries, Gate::Exchange));
    assert!(go_ahead.missing[0].stops);
    assert_eq!(
        said(&go_ahead.missing[0].text),
        "Recalled (water in the drum): Linden, lot L-2209. Do not use it; fetch another lot and read its container."
    );
    journal.add(decision("lot-recalled"));
    assert_eq!(lacks(&journal, Gate::Exchange), ["lot-recalled"]);
    assert!(lacks(&journal, Gate::Refill).contains(&"lot-recalled"));
    let lifted = [
        (1, received("LN-847", "L-2209", "")),
        (2, recalled("L-2209", false)),
        (3, recalled("L-2209", true)),
    ];
    journal.site = site(&lifted);
    assert_eq!(lacks(&journal, Gate::Exchange), Vec::<&str>::new());
}

#[test]
fn fluid_of_a_recalled_lot_is_on_the_record_and_of_one_recalled_later_on_the_call_list() {
    let mut journal = ready(&[(1, recalled("L-2209", false))]);
    journal.add(pushed(9.0, None, None, true));
    let known = (
        "It had been recalled (water in the drum) before it was used: Linden, lot L-2209.".to_owned(),
        Weight::Stops,
        true,
    );
    assert_eq!(findings(&journal), [known]);
    journal.site = site(&[(900, recalled("L-2209", false))]);
    let later = (
        "Recalled since it was used (water in the drum): Linden, lot L-2209. Call the customer.".to_owned(),
        Weight::Tells,
        false,
    );
    let still_at_hand = (
        "Recalled (water in the drum): Linden, lot L-2209. Do not use it; fetch another lot and read its container."
            .to_owned(),
        Weight::Stops,
        false,
    );
    assert_eq!(findings(&journal), [later, still_at_hand]);
}

#[test]
fn a_lot_past_its_last_day_is_decided_by_name() {
    // The job is on 18 March 2026.
    let mut journal = ready(&[(1, received("LN-847", "L-2209", "2026-03-17"))]);
    assert_eq!(lacks(&journal, Gate::Exchange), ["lot-expired"]);
    journal.add(decision("lot-expired"));
    assert_eq!(lacks(&journal, Gate::Exchange), Vec::<&str>::new());
    journal.add(pushed(9.0, None, None, true));
    let text = "Used after its last day: Linden, lot L-2209, to be used until 17 March 2026.";
    assert_eq!(findings(&journal), [(text.to_owned(), Weight::Tells, true)]);
    let journal = ready(&[(1, received("LN-847", "L-2209", "2026-03-18"))]);
    assert_eq!(lacks(&journal, Gate::Exchange), Vec::<&str>::new(), "the last day is one of them");
}

#[test]
fn a_lot_that_the_register_knows_as_another_fluid_contradicts() {
    let mut journal = ready(&[(1, received("BR-861", "L-2209", ""))]);
    assert_eq!(lacks(&journal, Gate::Exchange), ["contradiction"]);
    let why = journal.missing(Gate::Exchange);
    assert!(
        why.starts_with("The register knows lot L-2209 as Bramble, but the container says Linden."),
        "{why}"
    );
    journal.add(decision("contradiction"));
    assert_eq!(lacks(&journal, Gate::Exchange), ["contradiction"]);
    // Two fluids may carry the same number.
    journal.site = site(&[(1, received("BR-861", "L-2209", "")), (2, received("Linden", "l-2209", ""))]);
    assert_eq!(lacks(&journal, Gate::Exchange), Vec::<&str>::new());
    // A filter with the number of a fluid's lot is no fluid.
    let mut filter = ready(&[]);
    let amount = Some(v1::lot_received::Amount::PieceCount(3));
    let lot =
        v1::LotReceived { lot: "L-2209".into(), what: 2, code: "F8-20".into(), amount, ..Default::default() };
    filter.site = site(&[(1, Kind::LotReceived(lot))]);
    assert_eq!(lacks(&filter, Gate::Exchange), Vec::<&str>::new());
}

#[test]
fn a_code_that_may_be_another_word_for_the_same_fluid_is_told_and_stops_nothing() {
    // The catalogue does not know what the delivery calls it, and nothing came in under the container's code.
    let mut journal = ready(&[(1, received("AF-10", "L-2209", ""))]);
    assert_eq!(lacks(&journal, Gate::Exchange), Vec::<&str>::new());
    journal.add(pushed(9.0, None, None, true));
    let found = findings(&journal);
    assert!(found[0].0.contains("nothing says whether that is the same fluid"), "{found:?}");
    assert_eq!((found.len(), found[0].1), (1, Weight::Tells));
    // Where both came in under their own codes they are not the same.
    let both = ready(&[(1, received("AF-10", "L-2209", "")), (2, received("LN-847", "L-1", ""))]);
    assert_eq!(lacks(&both, Gate::Exchange), ["contradiction"]);
}

#[test]
fn what_the_register_learned_after_the_work_does_not_judge_the_work() {
    let mut journal = ready(&[(900, received("BR-861", "L-2209", ""))]);
    journal.add(pushed(9.0, None, None, true));
    let view = journal.view();
    let told: Vec<String> = view.findings.iter().map(|finding| said(&finding.text)).collect();
    assert!(told.iter().any(|text| text.contains("The register knows lot L-2209 as Bramble")), "{told:?}");
    assert!(!told.iter().any(|text| text.contains("although no go-ahead")), "{told:?}");
    journal.site = site(&[(1, received("BR-861", "L-2209", ""))]);
    let told =
        journal.view().findings.into_iter().filter(|it| said(&it.text).contains("although no go-ahead"));
    assert_eq!(told.count(), 1, "it was known before");
}

#[test]
fn an_unknown_lot_is_told_where_the_register_knows_lots_of_that_fluid() {
    let mut journal = ready(&[(1, received("LN-847", "L-1", ""))]);
    assert_eq!(lacks(&journal, Gate::Exchange), Vec::<&str>::new());
    journal.add(pushed(9.0, None, None, true));
    let text = "Not in the register: Linden, lot L-2209. Write the delivery down.";
    assert_eq!(findings(&journal), [(text.to_owned(), Weight::Tells, false)]);
    let mut journal = settled_job();
    journal.site = site(&[(1, received("LN-847", "L-1", ""))]);
    journal.add(Kind::PartChecked(v1::PartChecked {
        part: 1,
        code: "Linden".into(),
        lot: String::new(),
        read_by: 1,
    }));
    journal.add(pushed(9.0, None, None, true));
    let text = "The lot of Linden was not read; a recall would not find this vehicle.";
    assert_eq!(findings(&journal), [(text.to_owned(), Weight::Tells, false)]);
}

#[test]
fn a_recalled_lot_is_said_when_it_is_read_and_reading_the_code_alone_does_not_clear_it() {
    let mut journal = ready(&[(1, received("LN-847", "L-2209", "")), (2, recalled("L-2209", false))]);
    let said_at_once = |journal: &Journal| {
        let stops = findings(journal).into_iter().filter(|(_, weight, _)| *weight == Weight::Stops);
        stops.map(|(text, ..)| text).collect::<Vec<_>>().join("\n")
    };
    assert!(said_at_once(&journal).contains("Do not use it"), "{}", said_at_once(&journal));
    journal.add(super::gates::part(1, "Linden"));
    assert_eq!(lacks(&journal, Gate::Exchange), ["lot-recalled"]);
    assert!(said_at_once(&journal).contains("Do not use it"));
    journal.add(pushed(9.0, None, None, true));
    assert!(lacks(&journal, Gate::Refill).contains(&"lot-recalled"));
    assert!(lacks(&journal, Gate::StartEngine).contains(&"lot-recalled"));
}
