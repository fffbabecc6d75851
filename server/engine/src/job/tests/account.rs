//! The account of a job: what it drew, fitted and threw away, for sums over many jobs.

use super::*;
use crate::site::{JobAccount, Use, UseOf};

fn account(journal: &Journal) -> JobAccount {
    journal.with(JobAccount::of)
}

fn of(account: &JobAccount, of: UseOf) -> Vec<&Use> {
    account.uses.iter().filter(|used| used.of == of).collect()
}

/// Code, lot, purpose and tenths of a litre of everything drawn.
fn drawn(journal: &Journal) -> Vec<(String, String, String, i64)> {
    let account = account(journal);
    #[allow(clippy::cast_possible_truncation)]
    let row = |used: &&Use| {
        (used.code.clone(), used.lot.clone(), used.purpose.clone(), (used.amount * 10.0).round() as i64)
    };
    of(&account, UseOf::Fluid).iter().map(row).collect()
}

fn row(code: &str, lot: &str, purpose: &str, tenths: i64) -> (String, String, String, i64) {
    (code.into(), lot.into(), purpose.into(), tenths)
}

fn lot(code: &str, lot: &str) -> Kind {
    Kind::PartChecked(v1::PartChecked { part: 1, code: code.into(), lot: lot.into(), read_by: 1 })
}

fn correct(journal: &Journal, number: usize, outcome: Outcome) -> Kind {
    assert!(number <= journal.entries.len());
    Kind::Correction(Box::new(v1::Correction {
        corrected_entry_id: Journal::id(number),
        reason: "misread".into(),
        outcome: Some(outcome),
    }))
}

#[test]
fn litres_pushed_in_and_refilled_belong_to_the_container_compared_before() {
    let journal = serviced_job();
    // 3.07 kg of 847 kg/m³ at 15 °C are 3.07 / (0.847 × 0.99629) = 3.638 L in a bay of 20 °C.
    assert_eq!(
        drawn(&journal),
        [row("Linden", "L-2209", "exchange", 94), row("Linden", "L-2209", "refill", 36)]
    );
    let account = account(&journal);
    let refill = account.uses.iter().find(|used| used.purpose == "refill").unwrap();
    assert!((refill.amount - 3.638).abs() < 5e-4, "{:?}", account.uses);
    assert_eq!((account.number.as_str(), account.plate.as_str()), ("HL-26-0042", "PH 482 K"));
    assert_eq!(account.vin, "AZTWA8M47LA042317");
}

#[test]
fn a_second_drum_gets_only_what_was_pushed_after_it_was_read() {
    let mut journal = settled_job();
    journal.add(lot("Linden", "L-1")).add(pushed(4.0, None, None, false)).add(lot("Linden", "L-2"));
    journal.add(pushed(9.0, None, None, true));
    assert_eq!(drawn(&journal), [row("Linden", "L-1", "exchange", 40), row("Linden", "L-2", "exchange", 50)]);
}

#[test]
fn cans_read_one_after_the_other_are_found_by_a_recall_without_litres() {
    let mut journal = settled_job();
    journal.add(lot("Bramble", "L-9")).add(lot("Linden", "L-1")).add(lot("ln-847", "L-2"));
    journal.add(pushed(9.0, None, None, true));
    assert_eq!(
        drawn(&journal),
        [row("Linden", "L-1", "compared", 0), row("ln-847", "L-2", "exchange", 90)],
        "the other fluid was read and put back"
    );
}

#[test]
fn a_fill_has_its_own_lot_and_a_correction_counts() {
    let mut journal = settled_job();
    journal.add(lot("Linden", "L-1"));
    let fill = |litres: f64, fluid: &str, lot: &str| {
        let amount = Some(v1::fill::Amount::VolumeLitres(litres));
        let fill =
            v1::Fill { purpose: 2, amount, fluid_code: fluid.into(), lot: lot.into(), ..Default::default() };
        Kind::Fill(fill)
    };
    journal.add(fill(0.5, "", "")).add(fill(0.3, "LN-847", "L-2")).add(fill(0.2, "Hazel", ""));
    assert_eq!(
        drawn(&journal),
        [row("Linden", "L-1", "level", 5), row("LN-847", "L-2", "level", 3), row("Hazel", "", "level", 2)]
    );
    let last = journal.entries.len();
    let right = Outcome::Replacement(Box::new(v1::Fact { kind: Some(fill(0.4, "LN-847", "L-3")) }));
    let (right, gone) =
        (correct(&journal, last - 1, right), correct(&journal, last, Outcome::Withdrawn(true)));
    journal.add(right).add(gone);
    assert_eq!(drawn(&journal), [row("Linden", "L-1", "level", 5), row("LN-847", "L-3", "level", 4)]);
}

#[test]
fn without_a_container_the_settled_variant_s_fluid_is_drawn_and_no_lot() {
    let mut journal = settled_job();
    journal.add(pushed(9.0, None, None, true));
    assert_eq!(drawn(&journal), [row("LN-847", "", "exchange", 90)]);
}

#[test]
fn a_kit_counts_once_and_the_lot_of_its_filter_is_kept() {
    let mut journal = settled_job();
    let filter = v1::PartChecked { part: 2, code: "F8-20".into(), lot: "F-31".into(), read_by: 2 };
    let kit = v1::PartFitted { kit: "KIT-A8".into(), lot: "K-7".into(), ..Default::default() };
    journal
        .add(Kind::PartChecked(filter.clone()))
        .add(Kind::PartFitted(kit.clone()))
        .add(Kind::PartFitted(kit));
    let found = account(&journal);
    let parts: Vec<_> = of(&found, UseOf::Part)
        .iter()
        .map(|used| (used.code.as_str(), used.lot.as_str(), used.purpose.as_str(), used.amount))
        .collect();
    assert_eq!(parts, [("KIT-A8", "K-7", "kit", 1.0), ("F8-20", "F-31", "filter", 0.0)]);
    let mut journal = settled_job();
    journal.add(Kind::PartChecked(filter));
    assert!(of(&account(&journal), UseOf::Part).is_empty(), "read, but not fitted");
    journal.add(Kind::PartFitted(v1::PartFitted { fitted: vec![1, 2], ..Default::default() }));
    assert_eq!(of(&account(&journal), UseOf::Part)[0].amount, 1.0);
}

#[test]
fn waste_brings_the_density_that_its_kilograms_are_computed_with() {
    let mut journal = settled_job();
    let amount = Some(v1::waste::Amount::VolumeLitres(15.4));
    journal.add(Kind::Waste(v1::Waste { kind: 1, amount, container: "W-2".into() }));
    let amount = Some(v1::waste::Amount::PieceCount(1));
    journal.add(Kind::Waste(v1::Waste { kind: 2, amount, container: String::new() }));
    let account = account(&journal);
    let waste = of(&account, UseOf::Waste);
    let first =
        (waste[0].code.as_str(), waste[0].unit.as_str(), waste[0].density, waste[0].container.as_str());
    assert_eq!(first, ("used-fluid", "L", Some(0.847), "W-2"));
    assert_eq!(
        (waste[1].code.as_str(), waste[1].unit.as_str(), waste[1].density),
        ("filter", "pieces", None)
    );
    assert_eq!(waste[0].person, "A");
}

#[test]
fn calls_about_a_recall_and_looks_at_its_work_are_kept() {
    let mut journal = settled_job();
    journal.add(Kind::CustomerAnswer(v1::CustomerAnswer { topic: 7, said: 1 }));
    journal.add(Kind::CustomerAnswer(v1::CustomerAnswer { topic: 5, said: 1 }));
    let part = v1::InspectedPart::RecalledWork.into();
    let found = v1::InspectionFound::PutRight.into();
    journal.add(Kind::Inspection(v1::Inspection { part, found }));
    let account = account(&journal);
    assert_eq!(of(&account, UseOf::Told)[0].purpose, "informed");
    assert_eq!(of(&account, UseOf::LookedAt)[0].purpose, "put-right");
    assert_eq!(account.uses.len(), 2);
}

#[test]
fn an_account_knows_when_the_next_service_is_due_and_what_its_record_lacks() {
    let mut journal = serviced_job();
    assert!(!account(&journal).record_open, "an open job has no record to hand over");
    journal.add(Kind::Closing(v1::Closing { outcome: 1, odometer_kilometres: Some(118_240.0) }));
    let closed = account(&journal);
    assert_eq!((closed.due_on.as_str(), closed.due_kilometres), ("2030-03-18", Some(168_240.0)));
    assert!(closed.record_open && closed.closed_us.is_some() && !closed.handed_over);
}

#[test]
fn an_account_that_an_older_version_kept_can_be_read() {
    let old: JobAccount = serde_json::from_str(r#"{"number": "HL-26-0042", "uses": [{"seq": 3}]}"#).unwrap();
    assert_eq!((old.number.as_str(), old.uses[0].seq, old.vin.as_str()), ("HL-26-0042", 3, ""));
    let kept = account(&serviced_job());
    let again: JobAccount = serde_json::from_str(&serde_json::to_string(&kept).unwrap()).unwrap();
    assert_eq!(again, kept);
}
