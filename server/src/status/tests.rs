//! Each cause with its code, its reason and a sentence that says what to do.

use super::*;
use standpipe_store::EntryId;

fn causes() -> Vec<Cause> {
    let text = || "x".to_owned();
    vec![
        Cause::OutsideBounds(vec![Violation { field: "fact.drain".into(), what: "is missing".into() }]),
        Cause::EntryUnreadable(text()),
        Cause::EntryTooLarge { bytes: 2, greatest: 1 },
        Cause::MessageTooLarge { greatest: 1 },
        Cause::PageToken,
        Cause::GateUnknown { gate: text(), known: text() },
        Cause::JobUnknown { job: text(), example: text() },
        Cause::RevisionUnknown { revision: text() },
        Cause::NoCatalogue,
        Cause::Unauthenticated,
        Cause::NotPermitted { role: "bay", method: text() },
        Cause::StationMismatch { named: text(), station: text() },
        Cause::SiteMismatch { named: text(), site: text() },
        Cause::KindNotPermitted { kind: "x" },
        Cause::ClosedLongAgo { job: text(), days: 7 },
        Cause::EditionUnknown { job: text(), edition: 2, last: 1 },
        Cause::RecordTooLarge { bytes: 2, greatest: 1 },
        Cause::BlobUnknown { digest: text() },
        Cause::BlobErased { digest: text() },
        Cause::BlobDamaged { digest: text() },
        Cause::BlobDigest { named: text(), found: text() },
        Cause::BlobTooLarge { greatest: 1 },
        Cause::BlobRefused { what: text() },
        Cause::JoinCodeNotGood,
        Cause::TooManyGuesses { seconds: 600 },
        Cause::TooManyWatches { station: text(), most: 8 },
        Cause::Tally(TallyError::Unknown { name: text(), known: text() }),
        Cause::Tally(TallyError::AboutNothing { name: "lot", what: "lot" }),
        Cause::Tally(TallyError::NoPeriod { name: "lot" }),
        Cause::Tally(TallyError::Period { period: text() }),
        Cause::Stopping,
        Cause::ListIncomplete,
        Cause::Store(StoreError::DiskFull),
        Cause::Store(StoreError::EntryIdReused { entry_id: EntryId([1; 16]), seq: 3 }),
        Cause::internal("testing", &"a secret path"),
    ]
}

#[test]
fn every_answer_carries_one_reason_in_upper_snake_case() {
    for cause in causes() {
        let (code, reason) = cause.row();
        let reason = reason_word(reason);
        let message = cause.to_string();
        let status = Status::from(cause);
        assert_eq!((status.code(), status.message()), (code, message.as_str()));
        let info = status.get_details_error_info().unwrap();
        assert_eq!((info.reason.as_str(), info.domain.as_str()), (reason, ERROR_DOMAIN));
        assert!(reason.len() <= 63 && reason.bytes().all(|b| b.is_ascii_uppercase() || b == b'_'));
    }
}

#[test]
fn violations_are_named_by_field() {
    let violation = Violation { field: "fact.drain.volume_litres".into(), what: "400 is outside".into() };
    let status = Status::from(Cause::OutsideBounds(vec![violation]));
    let request = status.get_details_bad_request().unwrap();
    assert_eq!(request.field_violations[0].field, "fact.drain.volume_litres");
}

#[test]
fn what_is_internal_stays_in_the_log() {
    let error = StoreError::Missing { path: "/secret/place".into() };
    let status = Status::from(Cause::from(error));
    assert_eq!(status.code(), Code::Internal);
    assert!(!status.message().contains("secret"), "{}", status.message());
    let disk = StoreError::Disk { doing: "committing", cause: "secret".into() };
    assert!(!Status::from(Cause::from(disk)).message().contains("secret"));
}

#[test]
fn a_giant_sentence_still_fits_into_the_trailers() {
    let violations = vec![Violation { field: "f".into(), what: "ä".repeat(20_000) }];
    let status = Status::from(Cause::OutsideBounds(violations));
    assert!(status.message().len() <= SENTENCE_BYTES_MAX && status.details().len() < 8 * 1024);
}

#[test]
fn only_what_can_never_be_taken_is_permanent() {
    assert!(Cause::from(StoreError::EntryIdReused { entry_id: EntryId([1; 16]), seq: 3 }).is_permanent());
    assert!(!Cause::from(StoreError::DiskFull).is_permanent());
    assert!(!Cause::Stopping.is_permanent());
}
