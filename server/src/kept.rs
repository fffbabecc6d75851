//! Answers that are kept until something makes them wrong.
//!
//! Whoever misses one gets a ticket, works the answer out, and hands it back with the ticket. If anything was
//! forgotten meanwhile, the answer may be the old one and is not kept. Used by [`crate::workshop`] only.

use std::collections::HashMap;
use std::hash::Hash;
use std::sync::{Mutex, MutexGuard, PoisonError};

/// So many answers; all are dropped when there is no room for another.
pub(crate) struct Kept<K, V> {
    most: usize,
    inner: Mutex<Inner<K, V>>,
}

struct Inner<K, V> {
    answers: HashMap<K, V>,
    forgotten: u64,
}

/// How often something had been forgotten when an answer was missed.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Ticket(u64);

impl<K: Hash + Eq, V: Clone> Kept<K, V> {
    /// Nothing yet, and room for so many.
    pub(crate) fn new(most: usize) -> Self {
        Self { most, inner: Mutex::new(Inner { answers: HashMap::new(), forgotten: 0 }) }
    }

    /// A kept answer, or the ticket to hand a new one back with.
    pub(crate) fn get(&self, key: &K) -> Result<V, Ticket> {
        let inner = self.inner();
        inner.answers.get(key).cloned().ok_or(Ticket(inner.forgotten))
    }

    /// A ticket for an answer that is worked out anyway.
    pub(crate) fn ticket(&self) -> Ticket {
        Ticket(self.inner().forgotten)
    }

    /// Keeps an answer unless something was forgotten since its ticket was given.
    pub(crate) fn keep(&self, Ticket(forgotten): Ticket, key: K, answer: V) {
        let mut inner = self.inner();
        if inner.forgotten != forgotten {
            return;
        }
        if inner.answers.len() >= self.most {
            inner.answers.clear();
        }
        inner.answers.insert(key, answer);
    }

    /// Forgets one answer.
    pub(crate) fn forget(&self, key: &K) {
        let mut inner = self.inner();
        inner.answers.remove(key);
        inner.forgotten += 1;
    }

    /// Forgets all answers.
    pub(crate) fn forget_all(&self) {
        let mut inner = self.inner();
        inner.answers.clear();
        inner.forgotten += 1;
    }

    fn inner(&self) -> MutexGuard<'_, Inner<K, V>> {
        // Each change under this lock is whole in itself, so a panic elsewhere leaves nothing half done.
        self.inner.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_answer_worked_out_before_something_was_forgotten_is_not_kept() {
        let kept = Kept::new(2);
        let early = kept.get(&"a").unwrap_err();
        kept.forget(&"a");
        kept.keep(early, "a", 1);
        assert!(kept.get(&"a").is_err());
        kept.keep(kept.ticket(), "a", 2);
        assert_eq!(kept.get(&"a").ok(), Some(2));
        kept.forget_all();
        assert!(kept.get(&"a").is_err());
    }

    #[test]
    fn there_are_never_more_than_so_many() {
        let kept = Kept::new(2);
        for key in 0..5 {
            kept.keep(kept.ticket(), key, key);
        }
        assert_eq!((0..5).filter(|key| kept.get(key).is_ok()).count(), 1);
    }
}
