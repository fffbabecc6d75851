//! Each cause with its code, its reason and a sentence that says what to do.

use super::*;
use standpipe_store::{EntryId, JobId};
use std::fmt::Write as _;

/// One of each cause, its variables filled in by `word` and by numbers that differ.
fn causes_saying(word: impl Fn() -> String) -> Vec<Cause> {
    let text = &word;
    let mut causes = of_a_workshop(text);
    causes.extend(of_an_owner(text));
    causes
}

fn of_an_owner(text: &impl Fn() -> String) -> Vec<Cause> {
    vec![
        Cause::Forwarding(Forwarding::NoOwner),
        Cause::Forwarding(Forwarding::SiteNotOfStation { named: text(), station: text(), site: text() }),
        Cause::Forwarding(Forwarding::SiteUnknown { site: text() }),
        Cause::Forwarding(Forwarding::Forked { site: text(), what: text() }),
        Cause::Forwarding(Forwarding::OfAnother { site: text(), name: text(), kept: 11 }),
        Cause::Forwarding(Forwarding::EntriesMissing { first_seq: 19, here: 11 }),
        Cause::Forwarding(Forwarding::RevisionUnknown { revision: text() }),
        Cause::Forwarding(Forwarding::RevisionDiffers { named: text(), found: text() }),
        Cause::Forwarding(Forwarding::RevisionTooLarge { greatest: 65_536 }),
        Cause::Forwarding(Forwarding::SiteTaken { site: text() }),
        Cause::Forwarding(Forwarding::TooManyRevisions { most: 1_000 }),
        Cause::Forwarding(Forwarding::RevisionsTooLarge { greatest: 268_435_456 }),
        Cause::Forwarding(Forwarding::TooManySites { most: 1_000 }),
        Cause::Forwarding(Forwarding::CodeOfForwarder { station: text() }),
        Cause::Forwarding(Forwarding::CodeOfStation { station: text() }),
        Cause::Forwarding(Forwarding::WorkshopUnknown { site: text(), known: text() }),
        Cause::Forwarding(Forwarding::NoClosedJob { site: text(), first: text(), last: text() }),
        Cause::TallyOfOwner { name: text() },
    ]
}

fn of_a_workshop(text: &impl Fn() -> String) -> Vec<Cause> {
    vec![
        Cause::OutsideBounds(vec![Violation { field: "fact.drain".into(), what: "is missing".into() }]),
        Cause::EntryUnreadable(text()),
        Cause::EntryTooLarge { bytes: 65_537, greatest: 65_536 },
        Cause::MessageTooLarge { greatest: 1_048_576 },
        Cause::PageToken,
        Cause::GateUnknown { gate: text(), known: text() },
        Cause::JobUnknown { job: text(), example: text() },
        Cause::RevisionUnknown { revision: text() },
        Cause::NoCatalogue,
        Cause::Unauthenticated,
        Cause::NotPermitted { role: "bay", method: text() },
        Cause::StationMismatch { named: text(), station: text() },
        Cause::SiteMismatch { named: text(), site: text() },
        Cause::KindNotPermitted { kind: "record_issued" },
        Cause::KindNotOfStation { kind: text(), station: text(), kinds: text() },
        Cause::ClosedLongAgo { job: text(), days: 7 },
        Cause::RecordNamesCustomer { job: text() },
        Cause::EditionUnknown { job: text(), edition: 4, last: 3 },
        Cause::JobNotClosed { job: text() },
        Cause::RecordUnchanged { job: text(), edition: 3 },
        Cause::RecordTooLarge { bytes: 65_537, greatest: 65_536 },
        Cause::BlobUnknown { digest: text() },
        Cause::BlobErased { digest: text() },
        Cause::BlobDamaged { digest: text() },
        Cause::BlobDigest { named: text(), found: text() },
        Cause::BlobTooLarge { greatest: 65_536 },
        Cause::BlobRefused { what: text() },
        Cause::JoinCodeNotGood,
        Cause::TooManyGuesses { seconds: 600 },
        Cause::TokenNotDue,
        Cause::PinNotGood,
        Cause::PinTriedTooOften { seconds: 60 },
        Cause::PinsBusy,
        Cause::EntryNotToSign { entry_id: text() },
        Cause::TooManyWatches { station: text(), most: 8 },
        Cause::Overload(Overload::TooManyCalls {
            station: text(),
            per_second: 50,
            wait: Duration::from_millis(1_020),
        }),
        Cause::Overload(Overload::TooManyFailures { wait: Duration::from_millis(1_100) }),
        Cause::Overload(Overload::TooManyRenewals { wait: Duration::from_secs(599) }),
        Cause::Overload(Overload::ReaderTooSlow { seconds: 60, last_seq: 17 }),
        Cause::Overload(Overload::Busy),
        Cause::Overload(Overload::TooLate { within: Duration::from_secs(60) }),
        Cause::Tally(TallyError::Unknown { name: text(), known: text() }),
        Cause::Tally(TallyError::AboutNothing { name: "lot", what: "lot" }),
        Cause::Tally(TallyError::NoPeriod { name: "lot" }),
        Cause::Tally(TallyError::OwnerPeriod { period: text(), most: 1 }),
        Cause::Tally(TallyError::Period { period: text() }),
        Cause::Stopping,
        Cause::ListIncomplete,
        Cause::Store(StoreError::EntryIdReused { entry_id: EntryId([1; 16]), seq: 3 }),
        Cause::Store(StoreError::JobUnknown { job: JobId([2; 16]) }),
        Cause::Store(StoreError::JobFull { job: JobId([2; 16]), limit: 10_000 }),
        Cause::Store(StoreError::NoJobToOpen { entry_id: EntryId([1; 16]) }),
        Cause::Store(StoreError::OutOfRange { field: "year", value: 9, least: 10, greatest: 20 }),
        Cause::Store(StoreError::DiskFull),
        Cause::Store(StoreError::Busy),
        Cause::Store(StoreError::Disk { doing: "committing", cause: "a secret path".into() }),
        Cause::Store(StoreError::Broken { cause: "a secret path".into() }),
        Cause::Store(StoreError::Closed),
        Cause::Store(StoreError::Damaged { seq: Some(5), job_number: None, what: text() }),
        Cause::Internal { log_id: text() },
        Cause::Stream(Box::new(Status::cancelled("the other side went away"))),
    ]
}

/// Those that leave with details of our own; a broken stream is passed on as it came.
fn causes() -> Vec<Cause> {
    let count = std::cell::Cell::new(0);
    let word = || {
        count.set(count.get() + 1);
        format!("word-{}-x", count.get())
    };
    causes_saying(word).into_iter().filter(|cause| !matches!(cause, Cause::Stream(_))).collect()
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
fn each_overload_is_among_the_causes() {
    // A new one does not compile here until it has a place.
    let place = |overload: &Overload| match overload {
        Overload::TooManyCalls { .. } => 0,
        Overload::TooManyFailures { .. } => 1,
        Overload::TooManyRenewals { .. } => 2,
        Overload::ReaderTooSlow { .. } => 3,
        Overload::Busy => 4,
        Overload::TooLate { .. } => 5,
    };
    let causes = causes();
    let overloads = causes.iter().filter_map(|cause| match cause {
        Cause::Overload(overload) => Some(place(overload)),
        _ => None,
    });
    assert_eq!(overloads.collect::<std::collections::BTreeSet<_>>(), (0..6).collect());
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

#[test]
fn every_variable_of_a_sentence_stands_in_its_details_and_nothing_else() {
    for cause in causes() {
        let (message, status) = (cause.to_string(), Status::from(cause));
        let info = status.get_details_error_info().unwrap();
        for (name, value) in &info.metadata {
            assert!(message.contains(value.as_str()), "{name} is {value}, which is not in: {message}");
        }
        let said = message.split(|letter: char| !(letter.is_alphanumeric() || letter == '-'));
        for word in said.filter(|word| word.starts_with("word-") && word.ends_with("-x")) {
            let told = info.metadata.values().any(|value| value.contains(word));
            assert!(told, "{word} is not in the details of: {message}");
        }
    }
}

#[test]
fn whatever_can_be_repeated_later_says_when() {
    for cause in causes() {
        let code = cause.row().0;
        let status = Status::from(cause.clone());
        let wait = status.get_details_retry_info().and_then(|retry| retry.retry_delay);
        let later = matches!(code, Code::Unavailable | Code::ResourceExhausted | Code::DeadlineExceeded);
        assert_eq!(wait.is_some(), later, "{cause}");
        let bounds = Duration::from_millis(1)..=Duration::from_secs(600);
        assert!(wait.is_none_or(|wait| bounds.contains(&wait)), "{cause}");
        assert!(!later || !cause.is_permanent(), "a station keeps what it can send again later: {cause}");
    }
}

fn reasons() -> impl Iterator<Item = Reason> {
    (1..1_000).filter_map(|number| Reason::try_from(number).ok())
}

#[test]
fn each_reason_is_given_by_a_cause() {
    let given: Vec<Reason> = causes_saying(String::new).iter().map(|cause| cause.row().1).collect();
    for reason in reasons() {
        assert!(given.contains(&reason), "{} is given by nothing", reason.as_str_name());
    }
}

/// What the messages say of each reason, from the comments before it.
fn meanings() -> Vec<(String, String)> {
    let mut comment: Vec<&str> = Vec::new();
    let mut meanings = Vec::new();
    for line in include_str!("../../../proto/standpipe/v1/error.proto").lines().map(str::trim) {
        match line.strip_prefix("//") {
            Some(words) => comment.push(words.trim()),
            None => {
                if let Some((name, _)) =
                    line.split_once(" = ").filter(|(name, _)| name.starts_with("REASON_"))
                {
                    meanings.push((name.to_owned(), comment.join(" ")));
                }
                comment.clear();
            }
        }
    }
    meanings
}

/// The page of all reasons.
fn page() -> String {
    let mut page = String::from(
        "# Reasons\n\nWhy a call was refused, as programs read it: `google.rpc.ErrorInfo.reason` in the error details \
         (AIP-193), with the domain `standpipe.v1`. Every variable of the sentence also stands in `metadata`; fields \
         outside their bounds are named in `google.rpc.BadRequest`. What can be sent again later carries \
         `google.rpc.RetryInfo`. The same reasons stand in `standpipe/v1/error.proto`; this page is made from them and \
         from the one map of errors, by `STANDPIPE_SNAPSHOT=update cargo nextest run -p standpipe-server reasons`.\n\n\
         | reason | code | what it means | again | the sentence says what to do |\n|---|---|---|---|---|\n",
    );
    let causes = causes_saying(|| "…".to_owned());
    for (name, meaning) in meanings() {
        let Some(reason) = Reason::from_str_name(&name).filter(|reason| *reason != Reason::Unspecified)
        else {
            continue;
        };
        let of_reason: Vec<_> = causes.iter().filter(|cause| cause.row().1 == reason).collect();
        let (mut codes, mut sentences, mut again) = (Vec::new(), Vec::new(), "no".to_owned());
        for cause in &of_reason {
            let code = format!("{:?}", cause.row().0);
            let code = code.chars().enumerate().fold(String::new(), |mut words, (place, letter)| {
                if place > 0 && letter.is_uppercase() {
                    words.push('_');
                }
                words.push(letter.to_ascii_uppercase());
                words
            });
            if !codes.contains(&code) {
                codes.push(code);
            }
            let sentence = cause.to_string();
            if !sentences.contains(&sentence) {
                sentences.push(sentence);
            }
            if let Some(wait) = cause.wait() {
                again = format!("after {} s", wait.as_secs());
            }
        }
        let (codes, sentences) = (codes.join(", "), sentences.join("<br>").replace('|', "\\|"));
        writeln!(page, "| {} | {codes} | {meaning} | {again} | {sentences} |", reason_word(reason)).unwrap();
    }
    page
}

#[test]
fn the_page_of_reasons_is_that_of_the_messages_and_of_the_map() {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../proto/REASONS.md");
    if std::env::var_os("STANDPIPE_SNAPSHOT").is_some_and(|wish| wish == "update") {
        std::fs::write(&path, page()).unwrap();
    }
    let kept = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(kept == page(), "proto/REASONS.md is not up to date; renew it with STANDPIPE_SNAPSHOT=update");
    assert_eq!(meanings().len(), reasons().count() + 1, "each reason has its comment");
}
