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
/// A corrected entry keeps its place, a withdrawn one has none.
#[must_use]
pub fn judged_from(entries: &[Recorded<'_>]) -> u64 {
    let decoded: Vec<(u64, String, Kind)> = entries.iter().filter_map(decode).collect();
    let last = last_settled(&decoded).map(|(seq, ..)| *seq);
    last.or_else(|| entries.first().map(|entry| entry.seq)).unwrap_or_default()
}

/// What was stated when the variant was settled last, as far as it counts.
#[must_use]
pub fn settled_last(entries: &[Recorded<'_>]) -> Option<v1::VariantSettled> {
    let decoded: Vec<(u64, String, Kind)> = entries.iter().filter_map(decode).collect();
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

fn decode(entry: &Recorded<'_>) -> Option<(u64, String, Kind)> {
    let decoded = v1::Entry::decode(entry.bytes).ok()?;
    Some((entry.seq, decoded.header?.entry_id, decoded.fact?.kind?))
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
