//! A later version states words that this one does not know, and people state words of their own: whatever an entry
//! says, the job is shown and every sentence renders.

use super::*;
use crate::gates;
use crate::steps;
use prost::encoding::{WireType, encode_key, encode_varint};
use std::panic::{AssertUnwindSafe, catch_unwind};

/// Tags of the kinds of a job in `fact.kind`.
const KINDS: std::ops::Range<u32> = 10..50;
/// More fields than any kind has.
const FIELDS: std::ops::Range<u32> = 1..16;

fn part(field: u32, form: u8, value: u64) -> Vec<u8> {
    let mut bytes = Vec::new();
    match form {
        0 => {
            encode_key(field, WireType::Varint, &mut bytes);
            encode_varint(value, &mut bytes);
        }
        1 => {
            encode_key(field, WireType::SixtyFourBit, &mut bytes);
            #[allow(clippy::cast_precision_loss)]
            bytes.extend(((value % 50) as f64).to_le_bytes());
        }
        _ => {
            encode_key(field, WireType::LengthDelimited, &mut bytes);
            bytes.extend([9]);
            bytes.extend(format!("word-{:04}", value % 10_000).bytes());
        }
    }
    bytes
}

fn fact_of(kind: u32, fields: &[u8]) -> Option<Kind> {
    let mut bytes = Vec::new();
    encode_key(kind, WireType::LengthDelimited, &mut bytes);
    encode_varint(fields.len() as u64, &mut bytes);
    bytes.extend(fields);
    v1::Fact::decode(bytes.as_slice()).ok()?.kind
}

/// A kind with the same value in every field that takes it.
fn filled(kind: u32, value: u64, leave_out: Option<u32>) -> Option<Kind> {
    fact_of(kind, &[])?;
    let takes = |field: u32| {
        (0..3).map(move |form| part(field, form, value)).find(|part| fact_of(kind, part).is_some())
    };
    let fields = FIELDS.filter(|field| Some(*field) != leave_out).filter_map(takes).flatten();
    fact_of(kind, &fields.collect::<Vec<u8>>())
}

fn stated(kinds: &[Kind]) -> Journal {
    let mut journal = settled_job();
    for kind in kinds {
        journal.add(caution_as_place());
        let (_, bytes) = journal.entries.last_mut().unwrap();
        let mut entry = v1::Entry::decode(bytes.as_slice()).unwrap();
        entry.fact = Some(v1::Fact { kind: Some(kind.clone()) });
        *bytes = entry.encode_to_vec();
    }
    journal
}

fn caution_as_place() -> Kind {
    super::gates::caution(1)
}

/// Renders every sentence that a job shows; the words of those that do not render.
fn broken(journal: &Journal) -> Vec<String> {
    let view = journal.view();
    let mut shown: Vec<Sentence> = view.story.iter().map(|line| line.text.clone()).collect();
    shown.extend(view.story.iter().filter_map(|line| line.changed.clone()));
    shown.extend(view.findings.iter().map(|finding| finding.text.clone()));
    shown.extend(view.open_points.iter().map(|point| point.text.clone()));
    for list in [
        &view.in_short,
        &view.please_note,
        &view.identity,
        &view.tightening,
        &view.waste,
        &view.acknowledged,
        &view.skipped,
        &view.decisions,
        &view.not_measured,
        &view.cautions,
    ] {
        shown.extend(list.iter().cloned());
    }
    shown.extend(view.photos.iter().map(|photo| photo.caption.clone()));
    shown.extend(view.remarks.iter().map(|remark| remark.subject.clone()));
    shown.extend(view.level.attempts.iter().map(|attempt| attempt.text.clone()));
    shown.extend(view.level.remarks.iter().cloned());
    for row in &view.before_and_after {
        shown.extend([Some(row.label.clone()), row.before.clone(), row.after.clone()].into_iter().flatten());
    }
    for row in &view.done {
        shown.extend([Some(row.what.clone()), row.detail.clone(), row.amount.clone()].into_iter().flatten());
    }
    if let Some(balance) = &view.balance {
        shown.extend(balance.went_in.iter().chain(&balance.came_out).map(|row| row.label.clone()));
        shown.extend(balance.remarks.iter().cloned());
    }
    if let Some(exchange) = &view.exchange {
        shown.extend(exchange.remarks.iter().cloned());
    }
    for gate in Gate::ALL {
        let go_ahead = journal.with(|context, entries| gates::may(context, entries, *gate));
        shown.extend(go_ahead.missing.iter().map(|missing| missing.text.clone()));
    }
    for step in journal.with(steps::remaining) {
        shown.push(step.question);
        shown.extend(step.caution);
        for field in step.fields {
            shown.push(field.ask);
            shown.extend(field.proposal.map(|proposal| proposal.why));
            if let steps::Input::Choice(choices) | steps::Input::Choices(choices) = field.input {
                shown.extend(choices.into_iter().map(|choice| choice.text));
            }
        }
    }
    let unrendered =
        |sentence: &Sentence| render(Language::English, sentence).err().map(|error| error.to_string());
    shown.iter().filter_map(unrendered).collect()
}

#[test]
fn no_word_that_this_version_does_not_know_keeps_a_job_from_being_shown() {
    let mut wrong = Vec::new();
    for kind in KINDS {
        for value in (0..12).chain([99, u64::MAX]) {
            for leave_out in std::iter::once(None).chain(FIELDS.map(Some)) {
                let Some(fact) = filled(kind, value, leave_out) else { continue };
                let found = catch_unwind(AssertUnwindSafe(|| broken(&stated(std::slice::from_ref(&fact)))));
                match found {
                    Ok(found) => wrong.extend(found.into_iter().map(|text| format!("{fact:?}: {text}"))),
                    Err(_) => wrong.push(format!("{fact:?}: panicked")),
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{} broken, such as\n{}", wrong.len(), wrong[..wrong.len().min(20)].join("\n"));
}

#[test]
fn no_mixture_of_such_words_does_either() {
    for value in 0..12 {
        let kinds: Vec<Kind> =
            KINDS.filter_map(|kind| filled(kind, (value + u64::from(kind)) % 12, None)).collect();
        assert_eq!(broken(&stated(&kinds)), [""; 0], "{value}");
    }
}
