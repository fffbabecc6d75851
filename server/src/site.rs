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
use serde::{Deserialize, Serialize};
use standpipe_engine::site::{Accounts, JobAccount, SiteFacts};
use standpipe_proto::v1::{Entry, fact::Kind};
use standpipe_store::{JobId, PAGE_ROWS_MAX, StoreError, StoredEntry};
use std::collections::BTreeSet;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// What computed an account: the program, and a number that goes up whenever accounts are computed otherwise within it.
const ACCOUNT_VERSION: &str = concat!(env!("CARGO_PKG_VERSION"), "/3");

/// Facts and accounts, as they are looked at for one answer.
#[derive(Debug, Clone, Default)]
pub(crate) struct Known {
    /// The facts, with the accounts.
    pub(crate) facts: Arc<SiteFacts>,
    /// How often something that was there already became another.
    pub(crate) age: u64,
    /// Last entry of the journal that it rests on.
    pub(crate) reached: u64,
    /// Whether the account of every job is there that can be read; false for a while after the first start of a version
    /// or of a restored site.
    pub(crate) complete: bool,
    /// Jobs that cannot be read.
    pub(crate) left_out: Vec<JobId>,
}

/// What is kept.
#[derive(Default)]
pub(crate) struct SiteKept {
    /// Held while the journal is read, so that nobody reads it twice.
    reading: tokio::sync::Mutex<Read>,
    /// Held while accounts are loaded; true once they are.
    loading: tokio::sync::Mutex<bool>,
    accounts: Mutex<Kept>,
}

/// How far the journal was read.
#[derive(Default)]
struct Read {
    /// Last entry of the site.
    last: u64,
    /// Its facts, without accounts.
    stated: SiteFacts,
    /// What is handed out.
    known: Known,
    /// Change of the accounts that it holds.
    accounts_change: u64,
}

#[derive(Default)]
struct Kept {
    accounts: Accounts,
    /// Jobs whose account beside the journal is of another version.
    outdated: BTreeSet<JobId>,
    /// Jobs that could not be read when they were last looked at.
    left_out: BTreeSet<JobId>,
    /// See [`Known::complete`].
    complete: bool,
    /// Counts the changes.
    change: u64,
    /// Place in the journal up to which facts were handed out.
    seen: u64,
    /// See [`Known::age`].
    age: u64,
}

/// An account as it stands beside the journal.
#[derive(Serialize, Deserialize)]
struct Written<A> {
    version: String,
    account: A,
}

/// An account in the form in which it stands beside the journal.
pub(crate) fn written(account: &JobAccount) -> Result<String, Cause> {
    let written = Written { version: ACCOUNT_VERSION.to_owned(), account };
    serde_json::to_string(&written).map_err(|error| Cause::internal("writing the account of a job", &error))
}

/// Reads it again; nothing if another version wrote it.
fn read(written: &str) -> Option<JobAccount> {
    let read: Written<JobAccount> = serde_json::from_str(written).ok()?;
    (read.version == ACCOUNT_VERSION).then_some(read.account)
}

impl SiteKept {
    /// Takes the account of a job in the place of an earlier one.
    pub(crate) fn put(&self, job: JobId, account: JobAccount) {
        let mut kept = self.kept();
        kept.outdated.remove(&job);
        kept.left_out.remove(&job);
        kept.put(job.to_string(), account);
    }

    /// Notes that a job cannot be read.
    pub(crate) fn leave_out(&self, job: JobId) {
        let mut kept = self.kept();
        kept.outdated.remove(&job);
        kept.left_out.insert(job);
    }

    /// How many jobs cannot be read.
    pub(crate) fn left_out(&self) -> usize {
        self.kept().left_out.len()
    }

    /// Jobs whose account is of another version, at most so many.
    pub(crate) fn outdated(&self, most: usize) -> Vec<JobId> {
        self.kept().outdated.iter().copied().take(most).collect()
    }

    /// Notes that the account of every job is there.
    pub(crate) fn complete(&self) {
        self.kept().complete = true;
    }

    /// See [`Known::complete`].
    pub(crate) fn is_complete(&self) -> bool {
        self.kept().complete
    }

    /// The account of a job.
    pub(crate) fn account(&self, job: &str) -> Option<Arc<JobAccount>> {
        self.kept().accounts.get(job).cloned()
    }

    /// The printed number of a job, if it has an account.
    pub(crate) fn number_of(&self, job: &str) -> Option<String> {
        self.account(job).map(|account| account.number.clone())
    }

    fn kept(&self) -> MutexGuard<'_, Kept> {
        // Each change under this lock is whole in itself, so a panic elsewhere leaves nothing half done.
        self.accounts.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Kept {
    fn put(&mut self, job: String, account: JobAccount) {
        let before = self.accounts.get(&job);
        if before.is_some_and(|before| **before == account) {
            return;
        }
        let seen = self.seen;
        let nothing = JobAccount::default();
        let before: &JobAccount = before.map_or(&nothing, |before| before);
        self.age += u64::from(!before.looked_up(seen).eq(account.looked_up(seen)));
        self.change += 1;
        self.accounts.put(job, Arc::new(account));
    }
}

impl Workshop {
    /// What is known of the site now. It holds every fact of it before an entry that was read earlier.
    pub(crate) async fn site(&self) -> Result<Known, Cause> {
        lines::refresh(self).await?;
        let mut read = self.site.reading.lock().await;
        let reached = self.journal.head().await?.seq;
        let fresh =
            if reached > read.known.reached { self.entries_after(read.last).await? } else { Vec::new() };
        let corrects = fresh.iter().any(is_correction);
        let grown = !fresh.is_empty();
        if let Some(last) = fresh.last().map(|entry| entry.seq) {
            let before = read.stated.clone();
            read.stated = off_the_network(move || before.followed_by(&recorded(&fresh))).await?;
            read.last = last;
        }
        let mut kept = self.site.kept();
        kept.seen = kept.seen.max(reached).max(read.last);
        kept.age += u64::from(corrects);
        if grown || kept.change != read.accounts_change {
            read.accounts_change = kept.change;
            read.known.facts = Arc::new(read.stated.with_accounts(kept.accounts.clone()));
        }
        read.known.age = kept.age;
        read.known.reached = kept.seen;
        read.known.complete = kept.complete;
        read.known.left_out = kept.left_out.iter().copied().collect();
        Ok(read.known.clone())
    }

    /// The same for an answer that must not be given on some of the jobs only.
    pub(crate) async fn require_whole_site(&self) -> Result<(), Cause> {
        lines::refresh(self).await?;
        if self.site.is_complete() { Ok(()) } else { Err(Cause::ListIncomplete) }
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

    /// Loads the accounts that stand beside the journal, once. What was computed meanwhile is later than they are and
    /// stays; what another version computed is noted to be computed again.
    pub(crate) async fn load_accounts(&self) -> Result<(), Cause> {
        let mut loaded = self.site.loading.lock().await;
        if *loaded {
            return Ok(());
        }
        let written = self.beside.accounts().await?;
        let each = written.into_iter();
        let accounts =
            off_the_network(move || each.map(|(job, text)| (job, read(&text))).collect::<Vec<_>>()).await?;
        let mut kept = self.site.kept();
        for (job, account) in accounts {
            if kept.accounts.get(&job.to_string()).is_some() {
                continue;
            }
            match account {
                Some(account) => kept.put(job.to_string(), account),
                None => drop(kept.outdated.insert(job)),
            }
        }
        drop(kept);
        *loaded = true;
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
    use standpipe_engine::site::{Use, UseOf};

    fn account(seqs: &[u64]) -> JobAccount {
        let uses = seqs.iter().map(|seq| Use { seq: *seq, of: UseOf::Equipment, ..Use::default() });
        JobAccount { number: "HL-26-0001".to_owned(), uses: uses.collect(), ..JobAccount::default() }
    }

    #[test]
    fn only_what_was_there_already_makes_kept_views_wrong() {
        let mut accounts = Kept { seen: 10, ..Kept::default() };
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

    #[test]
    fn what_no_other_view_looks_up_makes_none_wrong() {
        let mut kept = Kept { seen: 10, ..Kept::default() };
        for seq in [5, 9, 12] {
            let pushed = Use { seq, of: UseOf::Fluid, amount: 1.0, ..Use::default() };
            kept.put("job".to_owned(), JobAccount { uses: vec![pushed], ..JobAccount::default() });
        }
        assert_eq!((kept.age, kept.change), (0, 3));
    }

    #[test]
    fn an_account_of_another_version_is_not_read() {
        let text = written(&account(&[1])).unwrap();
        assert_eq!(read(&text), Some(account(&[1])));
        let other = text.replace(ACCOUNT_VERSION, "0.1.0/1");
        for unread in ["", "{}", other.as_str(), &serde_json::to_string(&account(&[1])).unwrap()] {
            assert_eq!(read(unread), None, "{unread}");
        }
    }
}
