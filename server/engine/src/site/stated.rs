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
use std::sync::Arc;

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

/// The facts that count so far, and where each entry stands, so that later entries can follow. Copies share the facts.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Folded {
    /// Nothing where a fact was withdrawn.
    facts: Vec<Option<Arc<SiteStated>>>,
    places: HashMap<Arc<str>, usize>,
}

impl Folded {
    /// Takes entries in the order of the journal.
    pub fn fold(&mut self, entries: &[Recorded<'_>]) {
        for entry in entries {
            let Ok(v1::Entry { header: Some(header), fact: Some(v1::Fact { kind: Some(kind) }) }) =
                v1::Entry::decode(entry.bytes)
            else {
                continue;
            };
            match kind {
                Kind::Correction(correction) => {
                    let place = self.places.get(correction.corrected_entry_id.as_str());
                    let Some(slot) = place.and_then(|place| self.facts.get_mut(*place)) else { continue };
                    put_right(slot, &correction, &header);
                }
                kind => {
                    let Some(fact) = SiteFact::read(&kind, Typed(&header.as_typed)) else { continue };
                    self.places.entry(header.entry_id.as_str().into()).or_insert(self.facts.len());
                    let (person, time_us) = (header.person_code.clone(), time_us(&header));
                    self.facts.push(Some(Arc::new(SiteStated { seq: entry.seq, person, time_us, fact })));
                }
            }
        }
    }

    /// Those that count, in the order of the journal.
    pub fn facts(&self) -> impl DoubleEndedIterator<Item = &SiteStated> {
        self.facts.iter().flatten().map(|stated| &**stated)
    }
}

fn put_right(slot: &mut Option<Arc<SiteStated>>, correction: &v1::Correction, header: &v1::Header) {
    match &correction.outcome {
        Some(Outcome::Replacement(fact)) => {
            let right = fact.kind.as_ref().and_then(|kind| SiteFact::read(kind, Typed(&header.as_typed)));
            // A fact of another kind is no correction; what was withdrawn stays so.
            if let (Some(stated), Some(right)) = (slot.as_mut(), right)
                && stated.fact.name() == right.name()
            {
                Arc::make_mut(stated).fact = right;
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
