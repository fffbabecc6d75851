//! How many wrong codes to join came from each address lately.
//!
//! A code stands few wrong guesses by itself; this keeps somebody from trying many codes that are open at once, and from
//! asking the store without end. Asked by `Join` only; kept in memory, so a restart forgets it.

use standpipe_proto::limits::{JOIN_CODE_SECONDS, JOIN_GUESSES_PER_ADDRESS_MAX, JOIN_GUESSING_ADDRESSES_MAX};
use std::collections::HashMap;
use std::net::IpAddr;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Duration;

/// Time after which the guesses of an address are forgotten, in microseconds.
const FORGOTTEN_AFTER_US: i64 = JOIN_CODE_SECONDS as i64 * 1_000_000;

/// Wrong codes by address.
#[derive(Debug, Default)]
pub(crate) struct Guesses(Mutex<HashMap<IpAddr, Counted>>);

#[derive(Debug)]
struct Counted {
    first_us: i64,
    wrong: u32,
}

impl Guesses {
    /// Lets an address show a code, or says how long it waits until it may.
    pub(crate) fn admit(&self, address: IpAddr, now_us: i64) -> Result<(), Duration> {
        let mut counted = self.counted();
        let key = network(address);
        let Some(of_address) = counted.get(&key) else { return Ok(()) };
        let since = now_us.saturating_sub(of_address.first_us);
        // A clock that was set back must not lock anybody out.
        if !(0..FORGOTTEN_AFTER_US).contains(&since) {
            counted.remove(&key);
            return Ok(());
        }
        if of_address.wrong < JOIN_GUESSES_PER_ADDRESS_MAX {
            return Ok(());
        }
        Err(Duration::from_micros((FORGOTTEN_AFTER_US - since).unsigned_abs()))
    }

    /// Counts a wrong code.
    pub(crate) fn count(&self, address: IpAddr, now_us: i64) {
        let mut counted = self.counted();
        let key = network(address);
        if counted.len() >= JOIN_GUESSING_ADDRESSES_MAX && !counted.contains_key(&key) {
            counted.retain(|_, it| (0..FORGOTTEN_AFTER_US).contains(&now_us.saturating_sub(it.first_us)));
            if counted.len() >= JOIN_GUESSING_ADDRESSES_MAX {
                // So many at once are one attacker with many addresses; each code still stands few guesses by itself.
                counted.clear();
            }
        }
        let of_address = counted.entry(key).or_insert(Counted { first_us: now_us, wrong: 0 });
        of_address.wrong = of_address.wrong.saturating_add(1);
    }

    fn counted(&self) -> MutexGuard<'_, HashMap<IpAddr, Counted>> {
        // Each change under this lock is whole in itself, so a panic elsewhere leaves nothing half done.
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// What is counted as one address: of IPv6 the first 64 bits, since whoever has one address there has all of them.
fn network(address: IpAddr) -> IpAddr {
    match address {
        IpAddr::V6(v6) => match v6.to_ipv4_mapped() {
            Some(v4) => v4.into(),
            None => std::net::Ipv6Addr::from(u128::from(v6) >> 64 << 64).into(),
        },
        v4 => v4,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_address_is_kept_from_guessing_for_a_while_and_others_are_not() {
        let guesses = Guesses::default();
        let (here, there) = ("192.0.2.1".parse().unwrap(), "192.0.2.2".parse().unwrap());
        for _ in 0..JOIN_GUESSES_PER_ADDRESS_MAX {
            assert_eq!(guesses.admit(here, 5), Ok(()));
            guesses.count(here, 5);
        }
        assert_eq!(guesses.admit(here, 5 + 1_000_000), Err(Duration::from_secs(JOIN_CODE_SECONDS - 1)));
        assert_eq!(guesses.admit("::ffff:192.0.2.1".parse().unwrap(), 5).is_err(), true);
        assert_eq!(guesses.admit(there, 5), Ok(()));
        assert_eq!(guesses.admit(here, 5 + FORGOTTEN_AFTER_US), Ok(()));
        assert_eq!(guesses.admit(here, 6), Ok(()), "it begins anew");
    }

    #[test]
    fn all_of_a_network_of_ipv6_is_one_address() {
        let address = |text: &str| network(text.parse().unwrap());
        assert_eq!(address("2001:db8:1:2::3"), address("2001:db8:1:2:ffff::"));
        assert_ne!(address("2001:db8:1:2::3"), address("2001:db8:1:3::3"));
    }

    #[test]
    fn never_more_addresses_are_counted_than_may_be() {
        let guesses = Guesses::default();
        for number in 0..3 * u32::try_from(JOIN_GUESSING_ADDRESSES_MAX).unwrap() {
            guesses.count(std::net::Ipv4Addr::from(number).into(), 5);
        }
        assert!(guesses.counted().len() <= JOIN_GUESSING_ADDRESSES_MAX);
    }
}
