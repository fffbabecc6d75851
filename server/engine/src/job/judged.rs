//! By which revision of the catalogue a job is judged: the one in use when its variant was settled last.
//!
//! Settling it again takes up what the catalogue says now. Never here: which revision was in use at a place in the
//! journal; the server knows that.

use super::Recorded;
use prost::Message as _;
use standpipe_proto::v1::{self, correction::Outcome, fact::Kind};

/// Place in the journal from which a job is judged: that of the last variant settled that counts, else of its first
/// entry; 0 where there is none.
///
/// A corrected entry keeps its place, a withdrawn one has none. `signing_at` says whether the revision in use at a place
/// asks for signatures: then a correction made after the record was issued counts here only once it is signed, so that
/// an unsigned one cannot change the revision that asks for it.
#[must_use]
pub fn judged_from(entries: &[Recorded<'_>], signing_at: impl Fn(u64) -> bool) -> u64 {
    place(entries, &counting(entries, signing_at))
}

/// What was stated when the variant was settled last, as far as it counts; see [`judged_from`].
#[must_use]
pub fn settled_last(
    entries: &[Recorded<'_>],
    signing_at: impl Fn(u64) -> bool,
) -> Option<v1::VariantSettled> {
    let decoded = counting(entries, signing_at);
    let (_, id, kind) = last_settled(&decoded)?;
    let instead = decoded.iter().rev().find_map(|(.., kind)| match kind {
        Kind::Correction(correction) if correction.corrected_entry_id == *id => replacement(correction),
        _ => None,
    });
    match instead.unwrap_or(kind) {
        Kind::VariantSettled(settled) => Some(settled.clone()),
        _ => None,
    }
}

fn place(entries: &[Recorded<'_>], decoded: &[(u64, String, Kind)]) -> u64 {
    let last = last_settled(decoded).map(|(seq, ..)| *seq);
    last.or_else(|| entries.first().map(|entry| entry.seq)).unwrap_or_default()
}

/// The entries without the corrections that wait for a signature.
fn counting(entries: &[Recorded<'_>], signing_at: impl Fn(u64) -> bool) -> Vec<(u64, String, Kind)> {
    let mut all = Vec::with_capacity(entries.len());
    let mut persons = Vec::with_capacity(entries.len());
    for (seq, id, person, kind) in entries.iter().filter_map(decode) {
        all.push((seq, id, kind));
        persons.push(person);
    }
    let issued = all.iter().find(|(.., kind)| matches!(kind, Kind::RecordIssued(_))).map(|(seq, ..)| *seq);
    let Some(issued) = issued else { return all };
    let signed = |seq: u64, id: &String, by: &String| {
        all.iter().zip(&persons).any(|((at, _, kind), person)| match kind {
            Kind::Signature(it) => *at > seq && person == by && it.signed_entry_ids.contains(id),
            _ => false,
        })
    };
    let counts = all.iter().zip(&persons).filter(|((seq, id, kind), by)| {
        !matches!(kind, Kind::Correction(_)) || *seq < issued || signed(*seq, id, by)
    });
    let strict: Vec<_> = counts.map(|(entry, _)| entry.clone()).collect();
    if signing_at(place(entries, &strict)) { strict } else { all }
}

fn replacement(correction: &v1::Correction) -> Option<&Kind> {
    let Some(Outcome::Replacement(fact)) = &correction.outcome else { return None };
    fact.kind.as_ref().filter(|kind| matches!(kind, Kind::VariantSettled(_)))
}

fn last_settled(decoded: &[(u64, String, Kind)]) -> Option<&(u64, String, Kind)> {
    let counts = |(seq, id, kind): &&(u64, String, Kind)| {
        let first = decoded.iter().find(|(_, other, _)| other == id).is_some_and(|(place, ..)| place == seq);
        matches!(kind, Kind::VariantSettled(_)) && !(first && is_withdrawn(decoded, id))
    };
    decoded.iter().rev().find(counts)
}

fn decode(entry: &Recorded<'_>) -> Option<(u64, String, String, Kind)> {
    let decoded = v1::Entry::decode(entry.bytes).ok()?;
    let header = decoded.header?;
    Some((entry.seq, header.entry_id, header.person_code, decoded.fact?.kind?))
}

/// The last correction that fits decides, as in the fold.
fn is_withdrawn(decoded: &[(u64, String, Kind)], id: &str) -> bool {
    let outcomes = decoded.iter().rev().filter_map(|(.., kind)| match kind {
        Kind::Correction(correction) if correction.corrected_entry_id == id => Some(&correction.outcome),
        _ => None,
    });
    let mut fitting = outcomes.filter_map(|outcome| match outcome {
        Some(Outcome::Replacement(fact)) => {
            matches!(fact.kind, Some(Kind::VariantSettled(_))).then_some(false)
        }
        _ => Some(true),
    });
    fitting.next().unwrap_or(false)
}
