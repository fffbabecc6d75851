//! What the facts of a site mean together with its jobs: store and lots, tools, equipment, waste, the month.
//!
//! [`SiteFacts`] holds what stations stated of the site and an account of each job; a job's view looks things up in it,
//! and [`tally`] makes sheets of it. Pure like the view: the server brings entries and accounts.
//! Never here: what a job's own entries mean, which is [`crate::job`]'s.

pub mod account;
pub(crate) mod density;
pub(crate) mod display;
pub(crate) mod equipment;
pub mod exact;
pub mod find;
pub(crate) mod lot_good;
pub(crate) mod lots;
pub mod shared;
mod stated;
mod store;
pub mod tally;
#[cfg(test)]
mod tests;
pub(crate) mod tools;
pub mod waste;

pub use account::{JobAccount, Use, UseOf};
pub use find::{Found, FoundWhat, find};
pub use shared::Accounts;
pub use stated::SiteStated;
pub(crate) use tools::worst as tool_deviation;

use crate::catalogue::{Revision, Workshop};
use crate::job::Recorded;
use crate::kind::site::SiteKind;
use crate::text::{Sentence, sentence};
use jiff::Timestamp;
use jiff::civil::Date;

/// What is known of a site beside its catalogue.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct SiteFacts {
    stated: stated::Folded,
    accounts: Accounts,
}

/// What a tally is made with.
#[derive(Debug, Clone)]
pub struct SiteContext<'a> {
    /// The catalogue revision in use.
    pub revision: &'a Revision,
    /// Name of the site.
    pub site_name: &'a str,
    /// Facts and accounts.
    pub facts: &'a SiteFacts,
    /// Names of persons by their code, as far as they are known and were not erased.
    pub names: &'a [(String, String)],
    /// Time the tally is made for, microseconds since 1970.
    pub as_of_us: i64,
}

impl SiteContext<'_> {
    /// The settings of the workshop.
    pub(crate) fn workshop(&self) -> &Workshop {
        self.revision.workshop()
    }

    /// The day of a time at the site.
    pub(crate) fn date(&self, us: i64) -> Date {
        let time = Timestamp::from_microsecond(us).unwrap_or(Timestamp::UNIX_EPOCH);
        time.to_zoned_datetime(self.workshop().time_zone.clone()).date()
    }

    /// How a person is shown: by name, or by code where no name is known or it was erased.
    pub(crate) fn person(&self, code: &str) -> Sentence {
        let known = self.names.iter().find(|(known, name)| known == code && !name.is_empty());
        known.map_or_else(|| sentence::person_code(code), |(_, name)| sentence::person_name(name))
    }
}

impl SiteFacts {
    /// Reads the entries of the site, in the order of the journal; what a station did not state is passed over.
    #[must_use]
    pub fn of(entries: &[Recorded<'_>]) -> Self {
        Self::default().followed_by(entries)
    }

    /// The same with later entries of the site, which alone are read.
    #[must_use]
    pub fn followed_by(&self, entries: &[Recorded<'_>]) -> Self {
        let mut stated = self.stated.clone();
        stated.fold(entries);
        Self { stated, accounts: self.accounts.clone() }
    }

    /// The same facts with other accounts of the jobs.
    #[must_use]
    pub fn with_accounts(&self, accounts: Accounts) -> Self {
        Self { stated: self.stated.clone(), accounts }
    }

    /// Facts of one kind that count up to a place in the journal, in its order.
    pub(crate) fn each<K: SiteKind + 'static>(
        &self,
        up_to_seq: u64,
    ) -> impl DoubleEndedIterator<Item = (&SiteStated, &K)> {
        let known = self.stated.facts().filter(move |stated| stated.seq <= up_to_seq);
        known.filter_map(|stated| K::of(&stated.fact).map(|kind| (stated, kind)))
    }

    /// Place in the journal of the last fact up to a place; 0 where there is none.
    pub(crate) fn last_said(&self, up_to_seq: u64) -> u64 {
        let said = self.stated.facts().map(|stated| stated.seq);
        said.filter(|seq| *seq <= up_to_seq).max().unwrap_or_default()
    }

    /// The account of a job.
    pub(crate) fn account(&self, job: &str) -> Option<&JobAccount> {
        self.accounts.get(job).map(|account| &**account)
    }

    /// All accounts with the identities of their jobs.
    pub(crate) fn accounts(&self) -> impl Iterator<Item = (&str, &JobAccount)> {
        self.accounts.iter()
    }

    /// What all jobs used of one sort up to a place in the journal, with the jobs' identities.
    pub(crate) fn uses(&self, of: UseOf, up_to_seq: u64) -> impl Iterator<Item = (&str, &Use)> {
        self.accounts().flat_map(move |(job, account)| {
            let uses = account.uses.iter().filter(move |used| used.of == of && used.seq <= up_to_seq);
            uses.map(move |used| (job, used))
        })
    }
}

/// The litres of an amount that was read in litres.
fn litres_of(amount: &crate::amount::Amount) -> f64 {
    match amount.read() {
        crate::amount::Read::Litres(litres) => litres,
        crate::amount::Read::Kilograms(_) => 0.0,
    }
}
