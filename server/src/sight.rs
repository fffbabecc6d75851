//! What the engine is given: the owned parts of its contexts, and stored entries in its form.
//!
//! Put together by [`crate::workshop`]. Never here: what is kept between answers.

use crate::catalogue::{Adopted, Catalogue};
use crate::site::Known;
use standpipe_engine::job::{Context, EarlierJob, Newer, Recorded, judged_from};
use standpipe_engine::photo::Extracts;
use standpipe_engine::site::{SiteContext, SiteFacts};
use standpipe_store::StoredEntry;
use std::sync::Arc;

/// The owned parts of the engine's context.
#[derive(Clone)]
pub(crate) struct Sight {
    /// The revision that the job is judged by.
    pub(crate) adopted: Adopted,
    /// Place in the journal at which it was adopted; 0 where none was.
    pub(crate) adopted_at: u64,
    /// The one in use instead by now, with the place at which it was adopted.
    pub(crate) newer: Option<(u64, Adopted)>,
    pub(crate) job_id: String,
    pub(crate) number: String,
    pub(crate) site_name: String,
    pub(crate) names: Arc<Vec<(String, String)>>,
    /// Whether sentences name persons; off where a copy is read and the owner did not switch them on.
    pub(crate) persons: bool,
    /// What the photos say that readings name.
    pub(crate) extracts: Arc<Extracts>,
    /// Earlier jobs of the vehicle.
    pub(crate) earlier: Vec<EarlierJob>,
    /// What is known of the site.
    pub(crate) site: Arc<SiteFacts>,
    /// Place in the journal up to which it counts.
    pub(crate) site_up_to: u64,
    pub(crate) as_of_us: i64,
}

impl Sight {
    /// The same with the earlier jobs that a computed job looks back at.
    pub(crate) fn looking_back(self, earlier: Vec<EarlierJob>) -> Self {
        Self { earlier, ..self }
    }

    /// The same with what the photos say that readings name.
    pub(crate) fn seeing(self, extracts: Arc<Extracts>) -> Self {
        Self { extracts, ..self }
    }

    /// The same with what is known of the site up to a place in the journal.
    pub(crate) fn knowing(self, site: &Known, site_up_to: u64) -> Self {
        Self { site: Arc::clone(&site.facts), site_up_to, ..self }
    }

    /// The same with the revision that these entries of the job are judged by, and the one adopted since, as far as a
    /// place in the journal: what is on paper knows no later one.
    pub(crate) fn judging(self, catalogue: &Catalogue, entries: &[StoredEntry], up_to_seq: u64) -> Self {
        let place = judged_from(&recorded(entries), |at| catalogue.signing_at(at));
        let newer = catalogue.newer_than(place, up_to_seq);
        let newer = newer.map(|(adopted_at, adopted)| (adopted_at, adopted.clone()));
        let (adopted, adopted_at) = (catalogue.of_job(place).clone(), catalogue.adopted_before(place));
        Self { adopted, adopted_at, newer, ..self }
    }

    pub(crate) fn context(&self) -> Context<'_> {
        let newer = self.newer.as_ref();
        let newer = newer.map(|(at, newer)| Newer { revision: &newer.revision, adopted_at: *at });
        Context {
            revision: &self.adopted.revision,
            adopted_at: self.adopted_at,
            revision_id: &self.adopted.id,
            job_id: &self.job_id,
            number: &self.number,
            site_name: &self.site_name,
            names: &self.names,
            persons: self.persons,
            extracts: &self.extracts,
            earlier: &self.earlier,
            site: &self.site,
            site_up_to: self.site_up_to,
            newer,
            as_of_us: self.as_of_us,
        }
    }
}

/// The owned parts of what the engine takes for the site as a whole.
pub(crate) struct Overlook {
    pub(crate) adopted: Adopted,
    pub(crate) site_name: String,
    pub(crate) names: Arc<Vec<(String, String)>>,
    pub(crate) facts: Arc<SiteFacts>,
    pub(crate) as_of_us: i64,
}

impl Overlook {
    pub(crate) fn context(&self) -> SiteContext<'_> {
        SiteContext {
            revision: &self.adopted.revision,
            site_name: &self.site_name,
            facts: &self.facts,
            names: &self.names,
            as_of_us: self.as_of_us,
        }
    }
}

/// Stored entries as the engine takes them.
pub(crate) fn recorded(entries: &[StoredEntry]) -> Vec<Recorded<'_>> {
    let each = entries.iter().map(|entry| Recorded {
        seq: entry.seq,
        received_us: entry.received_us,
        leaf_hash: entry.leaf_hash,
        bytes: &entry.bytes,
    });
    each.collect()
}
