//! Issuing and handing over: what is left after the closing, and what does not fit.

use super::*;

fn closed() -> Journal {
    let mut journal = Journal::new();
    journal.add(arrival()).add(closing());
    journal
}

fn closing() -> Kind {
    Kind::Closing(v1::Closing { outcome: 1, odometer_kilometres: None })
}

/// As the shop server states it: the edition saw the tree as far as it had grown.
fn issued(journal: &Journal, edition: i32) -> Kind {
    Kind::RecordIssued(v1::RecordIssued {
        edition,
        blob_digest: "0".repeat(64),
        tree_size: i64::try_from(journal.entries.len()).unwrap(),
        tree_root: "0".repeat(64),
        engine_version: "0.1.0".into(),
        language: "en".into(),
        ..Default::default()
    })
}

fn handover(edition: i32) -> Kind {
    Kind::Handover(v1::Handover { edition })
}

fn open(journal: &Journal) -> String {
    let points = journal.view().open_points;
    assert!(points.iter().all(|point| point.gate.is_empty()));
    points.iter().map(|point| said(&point.text)).collect::<Vec<_>>().join(" ")
}

fn told(journal: &Journal) -> String {
    journal.view().findings.iter().map(|finding| said(&finding.text)).collect::<Vec<_>>().join(" ")
}

#[test]
fn a_closed_job_waits_for_its_record_and_then_for_the_handover() {
    let mut journal = closed();
    assert_eq!(open(&journal), "Issue the record. Hand over the vehicle and the record.");
    let edition = issued(&journal, 1);
    journal.add(edition);
    assert_eq!(open(&journal), "Hand over the vehicle and the record.");
    journal.add(handover(1));
    assert_eq!((open(&journal).as_str(), told(&journal).as_str()), ("", ""));
    assert_eq!(journal.view().head.next_open_point, None);
}

#[test]
fn a_job_that_changes_after_its_record_asks_for_a_new_edition_and_for_giving_it() {
    let mut journal = closed();
    let edition = issued(&journal, 1);
    journal.add(edition).add(handover(1));
    journal.add(Kind::LeakCheck(v1::LeakCheck { found: 1, line_closed: 1, after_drive: true }));
    assert!(open(&journal).contains("changed since edition 1"), "{}", open(&journal));
    let edition = issued(&journal, 2);
    journal.add(edition);
    assert_eq!(
        open(&journal),
        "Edition 2 was issued after edition 1 was handed over: give the customer the new one."
    );
    journal.add(handover(2));
    assert_eq!(open(&journal), "");
}

#[test]
fn an_entry_between_print_and_issue_is_a_change_too() {
    let mut journal = closed();
    let edition = issued(&journal, 1);
    journal.add(Kind::Waste(v1::Waste {
        kind: 1,
        amount: Some(v1::waste::Amount::VolumeLitres(9.0)),
        ..Default::default()
    }));
    journal.add(edition);
    assert!(open(&journal).contains("changed since edition 1"), "{}", open(&journal));
}

#[test]
fn a_handover_before_the_closing_or_of_no_edition_is_told() {
    let mut journal = Journal::new();
    journal.add(arrival()).add(handover(3)).add(closing());
    let told = told(&journal);
    assert!(told.contains("handed over before the job was closed"), "{told}");
    assert!(told.contains("Edition 3 was handed over, but no such edition had been issued"), "{told}");
}
