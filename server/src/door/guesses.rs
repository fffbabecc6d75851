//! Tokens that are not good: counted by the address they come from, so that nobody makes the server look up one after
//! another.
//!
//! A token that was good once is always looked at, so that a good station suffers from no neighbour behind the same
//! address. Never here: whether a token is good, which is [`crate::workshop`]'s.

use super::rates::Rate;
use crate::status::{Cause, Overload};
use standpipe_store::TokenDigest;
use std::collections::HashSet;
use std::net::IpAddr;
use std::sync::{Mutex, MutexGuard, PoisonError};

/// Most tokens that are remembered as good; with more, all are forgotten and found good again.
const KNOWN_MAX: usize = 4_096;

/// What is known of shown tokens.
pub(crate) struct TokenGuesses {
    known: Mutex<HashSet<TokenDigest>>,
    failed: Rate<IpAddr>,
}

impl TokenGuesses {
    /// So many that are not good in a second from one address, and so many at once.
    pub(crate) fn new(per_second_and_burst: (u32, u32)) -> Self {
        Self { known: Mutex::default(), failed: Rate::new(per_second_and_burst) }
    }

    /// Whether a token may be looked up.
    ///
    /// # Errors
    /// [`Overload::TooManyFailures`] when it is none that was good before and too many came from its address.
    pub(crate) fn may_look_up(&self, token: Option<&TokenDigest>, from: Option<IpAddr>) -> Result<(), Cause> {
        if token.is_some_and(|token| self.known().contains(token)) {
            return Ok(());
        }
        let Some(from) = from else { return Ok(()) };
        Ok(self.failed.take(&from).map_err(|wait| Overload::TooManyFailures { wait })?)
    }

    /// Remembers what was found of a token.
    pub(crate) fn found(&self, token: Option<TokenDigest>, good: bool) {
        let Some(token) = token else { return };
        let mut known = self.known();
        if !good {
            known.remove(&token);
        } else if !known.contains(&token) {
            if known.len() >= KNOWN_MAX {
                known.clear();
            }
            known.insert(token);
        }
    }

    fn known(&self) -> MutexGuard<'_, HashSet<TokenDigest>> {
        // Each change under the lock is whole, so a panic elsewhere leaves nothing half done.
        self.known.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_token_that_was_good_is_always_looked_at_and_others_only_so_often() {
        let guesses = TokenGuesses::new((1, 3));
        let (good, here) = ([7; 32], Some(IpAddr::from([10, 0, 0, 7])));
        assert!(guesses.may_look_up(Some(&good), here).is_ok());
        guesses.found(Some(good), true);
        let asked = (0..9).filter(|guess| guesses.may_look_up(Some(&[*guess; 32]), here).is_ok()).count();
        // The first look at the good one was counted; time may pass and make room for another.
        assert!((2..=3).contains(&asked), "{asked}");
        assert!(matches!(
            guesses.may_look_up(None, here),
            Err(Cause::Overload(Overload::TooManyFailures { .. }))
        ));
        assert!(guesses.may_look_up(Some(&good), here).is_ok());
        assert!(guesses.may_look_up(Some(&[8; 32]), Some(IpAddr::from([10, 0, 0, 8]))).is_ok());
        guesses.found(Some(good), false);
        assert!(guesses.may_look_up(Some(&good), here).is_err(), "it was taken back");
    }
}
