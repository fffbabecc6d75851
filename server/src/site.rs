//! What is known of the site beside its catalogue, kept between answers: its facts as far as the journal was read, and
//! an account of each job.
//!
//! Facts are read beyond the last place seen; accounts are loaded once and replaced with the lines of the list. Kept
//! views rest on both up to the last entry of their job. What comes later cannot change them, so only a change of
//! what was there already, a correction for example, makes them wrong: then the [`Known::age`] is another one.
//! Called by [`crate::workshop`] and [`crate::lines`]. Never here: what a fact means, which is the engine's.

use crate::lines;
use crate::sight::recorded;
use crate::status::Cause;
use crate::workshop::{Workshop, off_the_network};
use prost::Message as _;
use standpipe_engine::site::{JobAccount, SiteFacts};
use standpipe_proto::v1::{Entry, fact::Kind};
use standpipe_store::{JobId, PAGE_ROWS_MAX, StoreError, StoredEntry};
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// Facts and accounts, as they are looked at for one answer.
#[derive(Debug, Clone, Default)]
pub(crate) struct Known {
    /// The facts, with the accounts.
    pub(crate) facts: Arc<SiteFacts>,
    /// How often something that was there already became another.
    pub(crate) age: u64,
    /// Last entry of the journal that it rests on.
    pub(crate) reached: u64,
}

/// What is kept.
#[derive(Default)]
pub(crate) struct SiteKept {
    /// Held while the journal is read, so that nobody reads it twice.
    reading: tokio::sync::Mutex<Read>,
    accounts: Mutex<Accounts>,
}

/// How far the journal was read.
#[derive(Default)]
struct Read {
    /// Entries of the site, in the order of the journal.
    entries: Arc<Vec<StoredEntry>>,
    /// Their facts, without accounts.
    stated: SiteFacts,
    /// What is handed out.
    known: Known,
    /// Change of the accounts that it holds.
    accounts_change: u64,
}

#[derive(Default)]
struct Accounts {
    /// False until those that were kept beside the journal are loaded.
    loaded: bool,
    by_job: BTreeMap<String, Arc<JobAccount>>,
    /// Counts the changes.
    change: u64,
    /// Place in the journal up to which facts were handed out.
    seen: u64,
    /// See [`Known::age`].
    age: u64,
}

impl SiteKept {
    /// Takes the account of a job in the place of an earlier one. Those that are not loaded yet are loaded with it.
    pub(crate) fn put(&self, job: JobId, account: JobAccount) {
        let mut accounts = self.accounts();
        if accounts.loaded {
            accounts.put(job.to_string(), account);
        }
    }

    /// The printed number of a job, if it has an account.
    pub(crate) fn number_of(&self, job: &str) -> Option<String> {
        self.accounts().by_job.get(job).map(|account| account.number.clone())
    }

    fn accounts(&self) -> MutexGuard<'_, Accounts> {
        // Each change under this lock is whole in itself, so a panic elsewhere leaves nothing half done.
        self.accounts.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Accounts {
    fn put(&mut self, job: String, account: JobAccount) {
        let earlier = |account: &JobAccount| -> Vec<_> {
            account.uses.iter().filter(|used| used.seq <= self.seen).cloned().collect()
        };
        let before = self.by_job.get(&job);
        if before.is_some_and(|before| **before == account) {
            return;
        }
        if before.map(|before| earlier(before)).unwrap_or_default() != earlier(&account) {
            self.age += 1;
        }
        self.change += 1;
        self.by_job.insert(job, Arc::new(account));
    }
}

impl Workshop {
    /// What is known of the site now. It holds every fact of it before an entry that was read earlier.
    pub(crate) async fn site(&self) -> Result<Known, Cause> {
        lines::refresh(self).await?;
        let mut read = self.site.reading.lock().await;
        self.load_accounts().await?;
        let last = read.entries.last().map_or(0, |entry| entry.seq);
        let reached = self.journal.head().await?.seq;
        let fresh =
            if reached > self.site.accounts().seen { self.entries_after(last).await? } else { Vec::new() };
        let corrects = fresh.iter().any(is_correction);
        let grown = !fresh.is_empty();
        if grown {
            let mut entries = read.entries.as_ref().clone();
            entries.extend(fresh);
            let entries = Arc::new(entries);
            let all = Arc::clone(&entries);
            read.stated = off_the_network(move || SiteFacts::of(&recorded(&all))).await?;
            read.entries = entries;
        }
        let last = read.entries.last().map_or(0, |entry| entry.seq);
        let mut accounts = self.site.accounts();
        accounts.seen = accounts.seen.max(reached).max(last);
        accounts.age += u64::from(corrects);
        if grown || accounts.change != read.accounts_change {
            read.accounts_change = accounts.change;
            read.known.facts = Arc::new(read.stated.with_accounts(accounts.by_job.clone()));
        }
        read.known.age = accounts.age;
        read.known.reached = accounts.seen;
        Ok(read.known.clone())
    }

    async fn entries_after(&self, last: u64) -> Result<Vec<StoredEntry>, StoreError> {
        let mut entries: Vec<StoredEntry> = Vec::new();
        loop {
            let from = entries.last().map_or(last, |entry| entry.seq) + 1;
            let page = self.journal.read_site(from, PAGE_ROWS_MAX).await?;
            let ended = page.len() < PAGE_ROWS_MAX;
            entries.extend(page);
            if ended {
                return Ok(entries);
            }
        }
    }

    /// Loads the accounts that stand beside the journal, once. What is computed meanwhile is put there first, so it is
    /// loaded with them or comes after them.
    async fn load_accounts(&self) -> Result<(), Cause> {
        if self.site.accounts().loaded {
            return Ok(());
        }
        let _listing = self.listing.lock().await;
        let kept = self.beside.accounts().await?;
        let mut accounts = self.site.accounts();
        for (job, account) in kept {
            match serde_json::from_str(&account) {
                Ok(account) => accounts.put(job.to_string(), account),
                // The line is computed again with the next entry of its job; until then its sums are not known.
                Err(error) => tracing::warn!(%job, %error, "the account of a job cannot be read"),
            }
        }
        accounts.loaded = true;
        Ok(())
    }
}

fn is_correction(entry: &StoredEntry) -> bool {
    let kind = Entry::decode(&*entry.bytes).ok().and_then(|entry| entry.fact).and_then(|fact| fact.kind);
    matches!(kind, Some(Kind::Correction(_)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use standpipe_engine::site::Use;

    fn account(seqs: &[u64]) -> JobAccount {
        let uses = seqs.iter().map(|seq| Use { seq: *seq, ..Use::default() });
        JobAccount { number: "HL-26-0001".to_owned(), uses: uses.collect(), ..JobAccount::default() }
    }

    #[test]
    fn only_what_was_there_already_makes_kept_views_wrong() {
        let mut accounts = Accounts { seen: 10, ..Accounts::default() };
        let mut ages = |seqs: &[u64]| {
            accounts.put("job".to_owned(), account(seqs));
            (accounts.age, accounts.change)
        };
        assert_eq!(ages(&[11]), (0, 1), "later than any kept view");
        assert_eq!(ages(&[11, 12]), (0, 2));
        assert_eq!(ages(&[11, 12]), (0, 2), "the same again");
        assert_eq!(ages(&[5, 11, 12]), (1, 3), "found out only now, for example after a restore");
        assert_eq!(ages(&[11, 12]), (2, 4), "withdrawn");
    }
}
