//! What counts only when it is signed, where the settings say so.

use super::gates::{codes, decision, lacks};
use super::*;
use crate::job::fold;

/// A code that waits for a named decision (SAE J2012: P0218 says that the fluid was too hot).
const CODE: &str = "P0218";
const POINT: &str = "signed-decision";

fn signature(of: &[usize]) -> Kind {
    let signed_entry_ids = of.iter().map(|number| Journal::id(*number)).collect();
    Kind::Signature(v1::Signature { signed_entry_ids })
}

/// A job with a code (entry 2) and a decision on it (entry 3).
fn decided(signing: bool) -> Journal {
    let mut journal = Journal::signing(signing);
    journal.add(arrival()).add(codes(1, &[CODE])).add(decision(POINT));
    journal
}

fn waiting(journal: &Journal) -> Vec<u64> {
    journal.view().to_sign.iter().filter(|it| it.waits()).map(|it| it.seq).collect()
}

#[test]
fn a_decision_counts_once_it_is_signed_and_says_so_until_then() {
    let mut journal = decided(true);
    assert!(lacks(&journal, Gate::Exchange).contains(&POINT));
    let missing = journal.missing(Gate::Exchange);
    assert!(missing.contains("signed decision is decided by technician A but not signed"), "{missing}");
    assert!(missing.contains("standpipe as A --pin"), "{missing}");
    let view = journal.view();
    assert!(view.open_points.iter().any(|point| point.text.key() == "open-sign-decision"));
    assert!(view.findings.iter().any(|finding| finding.text.key() == "finding-decision-unsigned"));
    assert!(all(&view.decisions).contains("not signed, so it does not count"), "{}", all(&view.decisions));
    assert_eq!(waiting(&journal), [3]);

    journal.add(signature(&[3]));
    assert!(!lacks(&journal, Gate::Exchange).contains(&POINT));
    let view = journal.view();
    assert!(waiting(&journal).is_empty());
    assert!(!view.open_points.iter().any(|point| point.text.key() == "open-sign-decision"));
    assert!(!view.findings.iter().any(|finding| finding.text.key() == "finding-decision-unsigned"));
    let listed = all(&view.decisions);
    assert!(
        listed.contains("agreed with the customer (decided by technician A")
            && listed.contains("signed with PIN")
    );
}

#[test]
fn a_decision_that_waits_is_signed_and_not_decided_again() {
    let go_ahead = decided(true).with(|context, entries| may(context, entries, Gate::Exchange));
    assert!(go_ahead.missing.iter().any(|missing| missing.key == "signature"));
    assert!(!go_ahead.decidable.contains(&"signature"));
}

#[test]
fn a_yes_says_that_its_decision_was_signed() {
    let signed = |signing: bool, signatures: &[usize]| {
        let mut journal = decided(signing);
        if !signatures.is_empty() {
            journal.add(signature(signatures));
        }
        journal.with(|context, entries| {
            let folded = fold::fold(context, entries);
            all(&crate::gates::decided::basis(context, &folded, Gate::Exchange))
        })
    };
    assert!(signed(true, &[3]).contains("signed with PIN"), "{}", signed(true, &[3]));
    assert!(signed(false, &[]).contains("Decided by technician A:"), "{}", signed(false, &[]));
    assert_eq!(signed(true, &[]), "");
}

#[test]
fn without_the_setting_a_decision_counts_as_it_is_stated() {
    let journal = decided(false);
    assert!(!lacks(&journal, Gate::Exchange).contains(&POINT));
    let view = journal.view();
    assert_eq!(view.to_sign, []);
    assert!(
        all(&view.decisions).ends_with("(decided by technician A, 18 March, 08:03)"),
        "{}",
        all(&view.decisions)
    );
}

#[test]
fn only_a_later_signature_of_the_same_person_counts() {
    let mut early = Journal::signing(true);
    early.add(arrival()).add(codes(1, &[CODE])).add(signature(&[4])).add(decision(POINT));
    assert_eq!(waiting(&early), [4]);
    let mut of_another = decided(true);
    of_another.add(signature(&[3]));
    let (_, last) = of_another.entries.last_mut().unwrap();
    let mut entry = v1::Entry::decode(last.as_slice()).unwrap();
    entry.header.as_mut().unwrap().person_code = "B".into();
    *last = entry.encode_to_vec();
    assert_eq!(waiting(&of_another), [3]);
}

pub(super) fn correction(of: usize, right: Kind) -> Kind {
    let fact = v1::Fact { kind: Some(right) };
    Kind::Correction(Box::new(v1::Correction {
        corrected_entry_id: Journal::id(of),
        reason: "read wrongly".into(),
        outcome: Some(v1::correction::Outcome::Replacement(Box::new(fact))),
    }))
}

fn issued(tree_size: i64) -> Kind {
    Kind::RecordIssued(v1::RecordIssued {
        edition: 1,
        blob_digest: "a".repeat(64),
        tree_size,
        tree_root: "b".repeat(64),
        names_customer: false,
        engine_version: "0.1.0".into(),
        catalogue_revision_id: String::new(),
        language: "en".into(),
    })
}

fn other_plate(plate: &str) -> Kind {
    let Kind::Arrival(arrived) = arrival() else { panic!("an arrival") };
    Kind::Arrival(v1::Arrival { plate: plate.into(), ..arrived })
}

#[test]
fn a_correction_after_the_record_keeps_the_old_value_until_it_is_signed() {
    for signing in [true, false] {
        let mut journal = Journal::signing(signing);
        journal.add(arrival());
        journal.add(correction(1, other_plate("AB 111")));
        assert_eq!(journal.view().vehicle.plate, "AB 111", "before the record nobody signs");
        journal.add(issued(2));
        journal.add(correction(1, other_plate("AB 222")));
        let view = journal.view();
        assert_eq!(view.vehicle.plate, if signing { "AB 111" } else { "AB 222" });
        assert_eq!(waiting(&journal), if signing { vec![4] } else { vec![] });
        let told = view.findings.iter().any(|it| it.text.key() == "finding-correction-unsigned");
        assert_eq!(told, signing);
        let line = view.story.iter().find(|line| line.seq == 4).unwrap();
        assert_eq!(line.changed.is_some(), signing, "the story says that it does not count");
        if signing {
            journal.add(signature(&[4]));
            assert_eq!(journal.view().vehicle.plate, "AB 222");
            assert!(waiting(&journal).is_empty());
        }
    }
}

#[test]
fn a_signature_covers_the_words_that_were_signed_and_no_later_ones() {
    let mut journal = decided(true);
    journal.add(signature(&[3]));
    let other = v1::Decision { point: POINT.into(), reason: "nobody asked".into() };
    journal.add(correction(3, Kind::Decision(other)));
    assert_eq!(waiting(&journal), [5]);
    let listed = all(&journal.view().decisions);
    assert!(listed.contains("agreed with the customer") && !listed.contains("nobody asked"), "{listed}");
    journal.add(signature(&[5]));
    let listed = all(&journal.view().decisions);
    assert!(listed.contains("nobody asked") && listed.contains("signed with PIN"), "{listed}");
    let withdrawn = Kind::Correction(Box::new(v1::Correction {
        corrected_entry_id: Journal::id(3),
        reason: "not agreed".into(),
        outcome: Some(v1::correction::Outcome::Withdrawn(true)),
    }));
    journal.add(withdrawn.clone());
    assert_eq!(waiting(&journal), [7], "what a PIN was given for is taken back by one");
    assert!(all(&journal.view().decisions).contains("nobody asked"));
    journal.add(signature(&[7]));
    assert!(lacks(&journal, Gate::Exchange).contains(&POINT));
    assert_eq!(journal.view().decisions, []);
    let mut unsigned = decided(true);
    unsigned.add(withdrawn);
    assert_eq!(waiting(&unsigned), [0; 0], "what waits for its PIN is dropped without one");
}

#[test]
fn an_unsigned_withdrawal_after_the_record_does_not_change_the_revision_that_asks_for_signatures() {
    let settled = || {
        Kind::VariantSettled(v1::VariantSettled {
            variant_code: "A8-II".into(),
            means: 2,
            source: "Tarnwick parts data".into(),
            ..Default::default()
        })
    };
    let mut journal = Journal::signing(true);
    journal.add(arrival()).add(settled()).add(settled()).add(issued(3));
    journal.add(Kind::Correction(Box::new(v1::Correction {
        corrected_entry_id: Journal::id(3),
        reason: "looked again".into(),
        outcome: Some(v1::correction::Outcome::Withdrawn(true)),
    })));
    let place = |journal: &Journal, from: u64| {
        journal.with(|_, entries| crate::job::judged_from(entries, |at| at >= from))
    };
    assert_eq!(place(&journal, 0), 3, "both revisions ask for signatures");
    assert_eq!(place(&journal, 3), 3, "only the later one does, and is not switched off by it");
    assert_eq!(place(&journal, 99), 2, "none asks for them");
    journal.add(signature(&[5]));
    assert_eq!(place(&journal, 0), 2);
}
