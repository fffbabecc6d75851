//! From the site's entries to the facts that count.
//!
//! A correction states a fact again or withdraws it, and keeps the original's place, as within a job. What cannot be
//! read and what only the server states is passed over: it is verified elsewhere.

use crate::job::Recorded;
use crate::kind::Typed;
use crate::kind::site::SiteFact;
use prost::Message as _;
use standpipe_proto::v1::{self, correction::Outcome, fact::Kind};
use std::collections::HashMap;

/// A fact of the site that counts, with where it comes from.
#[derive(Debug, Clone, PartialEq)]
pub struct SiteStated {
    /// Place in the journal.
    pub seq: u64,
    /// Person code.
    pub person: String,
    /// When it was done as far as known, else when the station made it; microseconds since 1970.
    pub time_us: i64,
    /// The fact.
    pub fact: SiteFact,
}

pub(super) fn fold(entries: &[Recorded<'_>]) -> Vec<SiteStated> {
    let mut facts: Vec<Option<SiteStated>> = Vec::with_capacity(entries.len());
    let mut places: HashMap<String, usize> = HashMap::new();
    for entry in entries {
        let Ok(v1::Entry { header: Some(header), fact: Some(v1::Fact { kind: Some(kind) }) }) =
            v1::Entry::decode(entry.bytes)
        else {
            continue;
        };
        match kind {
            Kind::Correction(correction) => {
                let place = places.get(&correction.corrected_entry_id);
                let Some(slot) = place.and_then(|place| facts.get_mut(*place)) else { continue };
                put_right(slot, &correction, &header);
            }
            kind => {
                let Some(fact) = SiteFact::read(&kind, Typed(&header.as_typed)) else { continue };
                places.entry(header.entry_id.clone()).or_insert(facts.len());
                let (person, time_us) = (header.person_code.clone(), time_us(&header));
                facts.push(Some(SiteStated { seq: entry.seq, person, time_us, fact }));
            }
        }
    }
    facts.into_iter().flatten().collect()
}

fn put_right(slot: &mut Option<SiteStated>, correction: &v1::Correction, header: &v1::Header) {
    match &correction.outcome {
        Some(Outcome::Replacement(fact)) => {
            let right = fact.kind.as_ref().and_then(|kind| SiteFact::read(kind, Typed(&header.as_typed)));
            // A fact of another kind is no correction; what was withdrawn stays so.
            if let (Some(stated), Some(right)) = (slot.as_mut(), right)
                && stated.fact.name() == right.name()
            {
                stated.fact = right;
            }
        }
        Some(Outcome::Withdrawn(true)) => *slot = None,
        _ => {}
    }
}

fn time_us(header: &v1::Header) -> i64 {
    let done = header.done_time.as_ref().or(header.station_time.as_ref());
    done.map_or(0, |time| {
        time.seconds.saturating_mul(1_000_000).saturating_add(i64::from(time.nanos) / 1_000)
    })
}
