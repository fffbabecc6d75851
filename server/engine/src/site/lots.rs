//! Lots that the register knows: what their containers say, how long they may be used, whether they are recalled.
//!
//! A lot is a number and the code of what it is a lot of; codes of a fluid and its name are the same. Never here: how
//! much is left, which is [`super::store`]'s.

use super::density::same_fluid;
use super::{SiteFacts, SiteStated};
use crate::catalogue::{Revision, same_code};
use crate::kind::lot_recalled::LotRecalled;
use crate::kind::lot_received::LotReceived;
use crate::kind::words::Supply;

/// The register as it is known up to a place in the journal.
#[derive(Clone, Copy)]
pub(crate) struct Lots<'a> {
    revision: &'a Revision,
    facts: &'a SiteFacts,
    up_to: u64,
}

impl<'a> Lots<'a> {
    pub fn new(revision: &'a Revision, facts: &'a SiteFacts, up_to: u64) -> Self {
        Self { revision, facts, up_to }
    }

    /// Whether nothing was ever received or recalled.
    pub fn is_empty(&self) -> bool {
        self.received().next().is_none() && self.facts.each::<LotRecalled>(self.up_to).next().is_none()
    }

    fn received(&self) -> impl Iterator<Item = (&'a SiteStated, &'a LotReceived)> + use<'a> {
        self.facts.each::<LotReceived>(self.up_to)
    }

    /// Deliveries with this lot number, of whatever code.
    pub fn numbered(self, lot: &str) -> impl Iterator<Item = (&'a SiteStated, &'a LotReceived)> {
        self.received().filter(move |(_, received)| same_code(&received.lot, lot))
    }

    /// Deliveries of this lot; an empty code takes any.
    pub fn deliveries(
        self,
        lot: &str,
        code: &str,
    ) -> impl Iterator<Item = (&'a SiteStated, &'a LotReceived)> {
        let same = move |other: &str| code.is_empty() || same_fluid(self.revision, other, code);
        self.numbered(lot).filter(move |(_, received)| same(&received.code))
    }

    /// Code of the fluid under which a lot came in, where none came in under this one.
    pub fn other_fluid(&self, lot: &str, code: &str) -> Option<&'a str> {
        if self.deliveries(lot, code).next().is_some() {
            return None;
        }
        let mut others = self.numbered(lot).filter(|(_, received)| received.what == Some(Supply::Fluid));
        others.next().map(|(_, received)| received.code.as_str())
    }

    /// Whether a fluid is known to be another than one that came in: both are in the catalogue, or both came in.
    pub fn are_unlike(&self, code: &str, received: &str) -> bool {
        let listed = self.revision.fluid(code).is_some() && self.revision.fluid(received).is_some();
        listed || self.knows(code)
    }

    /// Whether any lot of this code is known.
    pub fn knows(&self, code: &str) -> bool {
        self.received().any(|(_, received)| same_fluid(self.revision, &received.code, code))
    }

    /// Last day on which the lot may be used, as YYYY-MM-DD: the earliest that a container of it states.
    pub fn last_day(&self, lot: &str, code: &str) -> Option<&'a str> {
        let days = self.deliveries(lot, code).map(|(_, received)| received.expires_on.as_str());
        days.filter(|day| !day.is_empty()).min()
    }

    /// The recall of a lot that stands, the first one; an empty code is that of any lot with the number.
    pub fn recalled(&self, lot: &str, code: &str) -> Option<(&'a SiteStated, &'a LotRecalled)> {
        let same = |one: &str, other: &str| same_fluid(self.revision, one, other);
        let mut standing: Vec<(&SiteStated, &LotRecalled)> = Vec::new();
        for (stated, said) in self.facts.each::<LotRecalled>(self.up_to) {
            if !same_code(&said.lot, lot) {
                continue;
            }
            if said.lifted {
                standing.retain(|(_, recall)| {
                    let own = said.code.is_empty() || same(&said.code, &recall.code);
                    let part = recall.code.is_empty() && same(&said.code, code);
                    !(own || part)
                });
            } else if said.code.is_empty() || code.is_empty() || same(&said.code, code) {
                standing.push((stated, said));
            }
        }
        standing.first().copied()
    }

    /// Whether a recall was lifted as a whole afterwards.
    pub fn is_lifted(&self, stated: &SiteStated, recall: &LotRecalled) -> bool {
        let mut later = self.facts.each::<LotRecalled>(self.up_to).filter(|(said, _)| said.seq > stated.seq);
        later.any(|(_, said)| {
            let own = said.code.is_empty() || same_fluid(self.revision, &said.code, &recall.code);
            said.lifted && own && same_code(&said.lot, &recall.lot)
        })
    }
}
