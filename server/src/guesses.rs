//! How many wrong codes to join came from each address lately.
//!
//! A code stands few wrong guesses by itself; this keeps somebody from trying many codes that are open at once, and from
//! asking the store without end. Asked by `Join` only; kept in memory, so a restart forgets it.

use crate::door::network;
use standpipe_proto::limits::{JOIN_CODE_SECONDS, JOIN_GUESSES_PER_ADDRESS_MAX, JOIN_GUESSING_ADDRESSES_MAX};
use std::collections::HashMap;
use std::net::IpAddr;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Duration;

/// Time after which the guesses of an address are forgotten, in microseconds.
const FORGOTTEN_AFTER_US: i64 = JOIN_CODE_SECONDS as i64 * 1_000_000;

/// Wrong codes by address.
#[derive(Debug, Default)]
pub(crate) struct CodeGuesses(Mutex<HashMap<IpAddr, Counted>>);

#[derive(Debug)]
struct Counted {
    first_us: i64,
    wrong: u32,
}

impl CodeGuesses {
    /// Lets an address show a code, or says how long it waits until it may. Counts as wrong until
    /// [`CodeGuesses::was_good`].
    pub(crate) fn begin(&self, address: IpAddr, now_us: i64) -> Result<(), Duration> {
        let mut counted = self.counted();
        let key = network(address);
        if let Some(of_address) = counted.get(&key) {
            let since = now_us.saturating_sub(of_address.first_us);
            // A clock that was set back must not lock anybody out.
            if !(0..FORGOTTEN_AFTER_US).contains(&since) {
                counted.remove(&key);
            } else if of_address.wrong >= JOIN_GUESSES_PER_ADDRESS_MAX {
                return Err(Duration::from_micros((FORGOTTEN_AFTER_US - since).unsigned_abs()));
            }
        }
        if counted.len() >= JOIN_GUESSING_ADDRESSES_MAX && !counted.contains_key(&key) {
            counted.retain(|_, it| (0..FORGOTTEN_AFTER_US).contains(&now_us.saturating_sub(it.first_us)));
            if counted.len() >= JOIN_GUESSING_ADDRESSES_MAX {
                // So many at once are one attacker with many addresses; each code still stands few guesses by itself.
                counted.clear();
            }
        }
        let of_address = counted.entry(key).or_insert(Counted { first_us: now_us, wrong: 0 });
        of_address.wrong = of_address.wrong.saturating_add(1);
        Ok(())
    }

    /// Takes one back that was good after all.
    pub(crate) fn was_good(&self, address: IpAddr) {
        if let Some(of_address) = self.counted().get_mut(&network(address)) {
            of_address.wrong = of_address.wrong.saturating_sub(1);
        }
    }

    fn counted(&self) -> MutexGuard<'_, HashMap<IpAddr, Counted>> {
        // Each change under this lock is whole in itself, so a panic elsewhere leaves nothing half done.
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_address_is_kept_from_guessing_for_a_while_and_others_are_not() {
        let guesses = CodeGuesses::default();
        let (here, there) = ("192.0.2.1".parse().unwrap(), "192.0.2.2".parse().unwrap());
        for _ in 0..3 * JOIN_GUESSES_PER_ADDRESS_MAX {
            assert_eq!(guesses.begin(here, 5), Ok(()));
            guesses.was_good(here);
        }
        for _ in 0..JOIN_GUESSES_PER_ADDRESS_MAX {
            assert_eq!(guesses.begin(here, 5), Ok(()));
        }
        assert_eq!(guesses.begin(here, 5 + 1_000_000), Err(Duration::from_secs(JOIN_CODE_SECONDS - 1)));
        assert!(guesses.begin("::ffff:192.0.2.1".parse().unwrap(), 5).is_err());
        assert_eq!(guesses.begin(there, 5), Ok(()));
        assert_eq!(guesses.begin(here, 5 + FORGOTTEN_AFTER_US), Ok(()));
        assert_eq!(guesses.begin(here, 6), Ok(()), "it begins anew");
    }

    #[test]
    fn never_more_addresses_are_counted_than_may_be() {
        let guesses = CodeGuesses::default();
        for number in 0..3 * u32::try_from(JOIN_GUESSING_ADDRESSES_MAX).unwrap() {
            guesses.begin(std::net::Ipv4Addr::from(number).into(), 5).unwrap();
        }
        assert!(guesses.counted().len() <= JOIN_GUESSING_ADDRESSES_MAX);
    }
}
