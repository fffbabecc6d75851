//! The accounts of all jobs in the order of their identities, in chunks that copies share.
//!
//! Whoever answers holds a copy while the next account comes in. A change makes one chunk anew and shares all others,
//! so that it costs the same in a workshop of many years. Never here: what an account means.

use super::JobAccount;
use std::collections::BTreeMap;
use std::sync::Arc;

/// Most accounts in a chunk; a larger one is parted in two.
const CHUNK_MAX: usize = 128;

type Chunk = BTreeMap<String, Arc<JobAccount>>;

/// Accounts by the identities of their jobs.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Accounts {
    /// None is empty; each begins after the end of the one before.
    chunks: Vec<Arc<Chunk>>,
}

impl Accounts {
    /// The account of a job.
    #[must_use]
    pub fn get(&self, job: &str) -> Option<&Arc<JobAccount>> {
        self.chunks.get(self.place(job))?.get(job)
    }

    /// Puts an account in the place of an earlier one of the same job.
    pub fn put(&mut self, job: String, account: Arc<JobAccount>) {
        let place = self.place(&job);
        let Some(chunk) = self.chunks.get_mut(place) else {
            self.chunks.push(Arc::new(Chunk::from([(job, account)])));
            return;
        };
        let own = Arc::make_mut(chunk);
        own.insert(job, account);
        if own.len() > CHUNK_MAX {
            let middle = own.keys().nth(CHUNK_MAX / 2).cloned().unwrap_or_default();
            let later = own.split_off(&middle);
            self.chunks.insert(place + 1, Arc::new(later));
        }
    }

    /// All of them with the identities of their jobs, in the order of these.
    pub fn iter(&self) -> impl Iterator<Item = (&str, &JobAccount)> {
        let each = self.chunks.iter().flat_map(|chunk| chunk.iter());
        each.map(|(job, account)| (job.as_str(), &**account))
    }

    /// The chunk that a job belongs to: the last one that begins with it or before it, else the first.
    fn place(&self, job: &str) -> usize {
        let begins_before =
            |chunk: &Arc<Chunk>| chunk.first_key_value().is_some_and(|(first, _)| first.as_str() <= job);
        self.chunks.partition_point(begins_before).saturating_sub(1)
    }
}

impl FromIterator<(String, Arc<JobAccount>)> for Accounts {
    fn from_iter<T: IntoIterator<Item = (String, Arc<JobAccount>)>>(each: T) -> Self {
        let mut accounts = Self::default();
        for (job, account) in each {
            accounts.put(job, account);
        }
        accounts
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn account(number: usize) -> Arc<JobAccount> {
        Arc::new(JobAccount { number: number.to_string(), ..JobAccount::default() })
    }

    #[test]
    fn they_stay_in_order_and_each_is_found_whatever_order_they_came_in() {
        let mut accounts = Accounts::default();
        // 7 has no factor in common with 1000, so this visits each number once.
        for number in (0..1_000).map(|at| at * 7 % 1_000) {
            accounts.put(format!("{number:04}"), account(number));
        }
        let jobs: Vec<_> = accounts.iter().map(|(job, _)| job.to_owned()).collect();
        assert_eq!(jobs, (0..1_000).map(|number| format!("{number:04}")).collect::<Vec<_>>());
        for number in 0..1_000 {
            assert_eq!(accounts.get(&format!("{number:04}")), Some(&account(number)));
        }
        assert_eq!(accounts.get("1000"), None);
    }

    #[test]
    fn a_change_shares_all_chunks_but_its_own_with_the_copy_before() {
        let mut accounts: Accounts =
            (0..1_000).map(|number| (format!("{number:04}"), account(number))).collect();
        let before = accounts.clone();
        accounts.put("0500".to_owned(), account(1));
        let shared = before.chunks.iter().zip(&accounts.chunks).filter(|(a, b)| Arc::ptr_eq(a, b)).count();
        assert_eq!((shared, accounts.chunks.len()), (before.chunks.len() - 1, before.chunks.len()));
        assert_eq!(before.get("0500"), Some(&account(500)));
        assert_eq!(accounts.get("0500"), Some(&account(1)));
    }
}
