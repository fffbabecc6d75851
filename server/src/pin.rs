//! PINs of persons: how one is turned into what is kept, and how a typed one is held against it.
//!
//! Kept is an Argon2id hash (RFC 9106) in the PHC string form, with the costs of the crate's defaults: 19 MiB, two
//! passes, one lane. Never here: where it is kept, which is the store's. Called by [`crate::Desk`], the login page and
//! [`crate::signing`], which share one [`Pins`]: wrong ones are counted by person code and by where they are typed.

mod hours;

use crate::clock::{Entropy, sixteen};
use crate::door::{Rate, network};
use crate::error::ServerError;
use argon2::Argon2;
use argon2::password_hash::phc::PasswordHash;
use argon2::password_hash::{PasswordHasher as _, PasswordVerifier as _};
use hours::Hours;
use standpipe_proto::check::Violation;
use standpipe_proto::limits::door::{
    SIGN_IN_OF_STRANGERS_SECONDS, SIGN_IN_SECONDS, SIGN_INS_BURST_MAX, SIGN_INS_HERE_BURST_MAX,
    SIGN_INS_OF_STRANGERS_BURST_MAX,
};
use standpipe_store::{Beside, StoreError};
use std::collections::{HashMap, HashSet};
use std::net::IpAddr;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Duration;
use tokio::sync::Semaphore;

/// Fewest and most digits of a PIN.
pub const PIN_DIGITS: std::ops::RangeInclusive<usize> = 4..=12;
/// Most PINs that are held against a hash at the same time; each takes 19 MiB.
const AT_ONCE_MAX: usize = 2;
/// Most that wait or are worked on; whoever comes later is told to try again.
const WAITING_MAX: usize = 16;
const SIGN_IN_OF_STRANGERS: Duration = Duration::from_secs(SIGN_IN_OF_STRANGERS_SECONDS);
/// Costs like those of a real hash and a result that nobody can find a PIN for: an unknown person takes as long to
/// refuse as a wrong PIN.
const DECOY: &str =
    "$argon2id$v=19$m=19456,t=2,p=1$AAAAAAAAAAAAAAAAAAAAAA$AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA";

/// Turns a PIN into what is kept of it.
///
/// # Errors
/// When the PIN has other characters than digits, too few or too many, or the machine gives no random numbers.
pub fn kept_of(pin: &str, entropy: &dyn Entropy) -> Result<String, ServerError> {
    let outside =
        |what: String| ServerError::OutsideBounds(vec![Violation { field: "pin".to_owned(), what }]);
    let (least, most) = (PIN_DIGITS.start(), PIN_DIGITS.end());
    if !pin.bytes().all(|byte| byte.is_ascii_digit()) || !PIN_DIGITS.contains(&pin.len()) {
        return Err(outside(format!("is not {least} to {most} digits; choose one that is")));
    }
    let salt = sixteen(entropy)?;
    let hash: PasswordHash = Argon2::default()
        .hash_password_with_salt(pin.as_bytes(), &salt)
        .map_err(|error| outside(format!("cannot be kept ({error})")))?;
    Ok(hash.to_string())
}

/// Whether a typed PIN is the one behind a hash.
fn fits(pin: &str, kept: &str) -> bool {
    PasswordHash::new(kept).is_ok_and(|hash| Argon2::default().verify_password(pin.as_bytes(), &hash).is_ok())
}

/// Holds typed PINs against what is kept, and remembers how often one was wrong.
pub(crate) struct Pins {
    checker: Checker,
    tries: Tries,
    /// Tries at all stations together.
    at_stations: Hours,
    /// Tries at the pages, by address.
    pages: Rate<IpAddr>,
    /// Tries at the pages of the shop server's own machine.
    pages_here: Rate<IpAddr>,
    /// Tries of a code from where it never was right.
    strangers: Rate<String>,
    /// Codes with where they were right.
    known: Mutex<HashSet<String>>,
}

/// Where a PIN is typed. Wrong ones are counted for each place apart, so that nobody can keep another's code from coming
/// in elsewhere.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Origin<'a> {
    /// A page, asked for from an address; none: from within the server.
    Page(Option<IpAddr>),
    /// A station with a good token, by its id.
    Station(&'a str),
}

impl Origin<'_> {
    fn key(self, code: &str) -> String {
        match self {
            Self::Page(None) => format!("page {code}"),
            Self::Page(Some(address)) => format!("page {} {code}", network(address)),
            Self::Station(id) => format!("station {id} {code}"),
        }
    }

    /// The address, if it is another machine's.
    fn outside(self) -> Option<IpAddr> {
        match self {
            Self::Page(Some(address)) => Some(network(address)).filter(|address| !address.is_loopback()),
            _ => None,
        }
    }
}

/// What came of a typed PIN.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Looked {
    /// It is the person's.
    Right {
        /// What it was held against.
        kept: String,
    },
    /// It is not, or nobody has the code, or the person has no PIN.
    Wrong,
    /// It was wrong so often that nobody looked.
    TooOften {
        /// Seconds until somebody looks again.
        wait_seconds: u32,
    },
    /// So many are looked at that nobody looked.
    Busy,
    /// So many tries came from this address that nobody looked.
    TooManyHere,
}

impl Pins {
    pub(crate) fn new() -> Self {
        let every = |seconds, burst| Rate::every(Duration::from_secs(seconds), burst);
        Self {
            checker: Checker::new(),
            tries: Tries::default(),
            at_stations: Hours::default(),
            pages: every(SIGN_IN_SECONDS, SIGN_INS_BURST_MAX),
            pages_here: every(1, SIGN_INS_HERE_BURST_MAX),
            strangers: Rate::every(SIGN_IN_OF_STRANGERS, SIGN_INS_OF_STRANGERS_BURST_MAX),
            known: Mutex::default(),
        }
    }

    /// Looks at a typed PIN of a person code, which may be anybody's or nobody's; that takes the same time.
    pub(crate) async fn look(
        &self,
        beside: &dyn Beside,
        (code, origin): (&str, Origin<'_>),
        listed: bool,
        pin: String,
        now_us: i64,
    ) -> Result<Looked, StoreError> {
        if !self.may_try(origin) {
            return Ok(Looked::TooManyHere);
        }
        let key = &origin.key(code);
        if let Err(wait_us) = self.tries.begin(key, listed, now_us) {
            return Ok(Looked::TooOften { wait_seconds: whole_seconds(wait_us) });
        }
        let at_stations = matches!(origin, Origin::Station(_));
        if at_stations && let Err(wait_us) = self.at_stations.begin(code, listed, now_us) {
            self.tries.was_not_looked_at(key);
            return Ok(Looked::TooOften { wait_seconds: whole_seconds(wait_us) });
        }
        if let Err(wait) = self.stranger(origin, key, code) {
            self.tries.was_not_looked_at(key);
            let wait_seconds = u32::try_from(wait.as_secs() + 1).unwrap_or(u32::MAX);
            return Ok(Looked::TooOften { wait_seconds });
        }
        let kept = if listed { beside.person_pin(code).await? } else { None };
        Ok(match self.checker.is_right(pin, kept.clone(), origin).await {
            Ok(true) => {
                self.tries.was_right(key);
                if at_stations {
                    self.at_stations.take_back(code);
                }
                self.remember(key);
                Looked::Right { kept: kept.unwrap_or_default() }
            }
            Ok(false) => Looked::Wrong,
            Err(Busy) => {
                self.tries.was_not_looked_at(key);
                if at_stations {
                    self.at_stations.take_back(code);
                }
                Looked::Busy
            }
        })
    }
}

impl Pins {
    /// Whether the pages of an address may try at all: each try costs the server work.
    fn may_try(&self, origin: Origin<'_>) -> bool {
        match (origin, origin.outside()) {
            (_, Some(address)) => self.pages.take(&address).is_ok(),
            (Origin::Page(Some(address)), None) => self.pages_here.take(&network(address)).is_ok(),
            _ => true,
        }
    }

    /// Counts a try from an address where the code never was right, over all such addresses.
    fn stranger(&self, origin: Origin<'_>, key: &str, code: &str) -> Result<(), Duration> {
        if origin.outside().is_none() || self.known().contains(key) {
            return Ok(());
        }
        self.strangers.take(&code.to_owned())
    }

    fn remember(&self, key: &str) {
        let mut known = self.known();
        if known.len() >= REMEMBERED_MAX {
            known.clear();
        }
        known.insert(key.to_owned());
    }

    fn known(&self) -> MutexGuard<'_, HashSet<String>> {
        // Each change under the lock is whole, so a panic elsewhere leaves nothing half done.
        self.known.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// What is left of a wait, so that nobody who waited as told comes too early.
fn whole_seconds(wait_us: i64) -> u32 {
    u32::try_from(wait_us.saturating_add(999_999) / 1_000_000).unwrap_or(u32::MAX).max(1)
}

/// Holds typed PINs against hashes, few at a time.
struct Checker {
    /// Those of pages wait here first, so that places and a turn are left to stations with a good token.
    pages_waiting: Semaphore,
    pages_working: Semaphore,
    waiting: Semaphore,
    working: Semaphore,
}

/// Wrong PINs in a row after which a person code has to wait.
const WRONG_IN_A_ROW_MAX: u32 = 5;
/// How long it then waits after each further wrong one. Four digits last for days that way, and somebody who plays
/// with another's code keeps them out for a minute.
const WAIT_US: i64 = 60_000_000;
/// Person codes that are remembered. Codes that nobody has make room first, and then the one that was wrong longest
/// ago: else whoever tries many codes would have those of others forgotten.
const REMEMBERED_MAX: usize = 1_000;

/// How often the PIN of each person code was wrong in a row, whether anybody has the code or not.
#[derive(Default)]
struct Tries(Mutex<HashMap<String, Wrong>>);

#[derive(Clone, Copy)]
struct Wrong {
    times: u32,
    listed: bool,
    last_us: i64,
}

impl Tries {
    /// Lets a person code try now, or says how many microseconds it has to wait. Counts as wrong until
    /// [`Tries::was_right`], so that many tries at the same time are no way around.
    fn begin(&self, code: &str, listed: bool, now_us: i64) -> Result<(), i64> {
        let mut held = self.held();
        let wrong = held.get(code).copied().unwrap_or(Wrong { times: 0, listed, last_us: now_us });
        // By a clock that was set back the last try is still to come: then the wait begins now, and is no longer than any.
        let last_us = wrong.last_us.min(now_us);
        let left_us = last_us.saturating_add(WAIT_US).saturating_sub(now_us);
        if wrong.times >= WRONG_IN_A_ROW_MAX && left_us > 0 {
            held.insert(code.to_owned(), Wrong { last_us, ..wrong });
            return Err(left_us);
        }
        if held.len() >= REMEMBERED_MAX && !held.contains_key(code) {
            let first = held.iter().min_by_key(|(_, wrong)| (wrong.listed, wrong.last_us));
            let first = first.map(|(code, _)| code.clone());
            first.and_then(|code| held.remove(&code));
        }
        let times = wrong.times.saturating_add(1);
        held.insert(code.to_owned(), Wrong { times, listed, last_us: now_us });
        Ok(())
    }

    /// Takes a try back whose PIN was not looked at: a crowd at the door must not lock anybody out.
    fn was_not_looked_at(&self, code: &str) {
        if let Some(wrong) = self.held().get_mut(code) {
            wrong.times = wrong.times.saturating_sub(1);
        }
    }

    /// Notes that the PIN was right after all.
    fn was_right(&self, code: &str) {
        self.held().remove(code);
    }

    fn held(&self) -> MutexGuard<'_, HashMap<String, Wrong>> {
        // Each change under the lock is whole, so a panic elsewhere leaves nothing half done.
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// Too many people sign in at once.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Busy;

impl Checker {
    fn new() -> Self {
        Self {
            pages_waiting: Semaphore::new(WAITING_MAX / 2),
            pages_working: Semaphore::new(AT_ONCE_MAX - 1),
            waiting: Semaphore::new(WAITING_MAX),
            working: Semaphore::new(AT_ONCE_MAX),
        }
    }

    /// Whether the PIN is right; without anything kept it is wrong after the same time.
    async fn is_right(&self, pin: String, kept: Option<String>, origin: Origin<'_>) -> Result<bool, Busy> {
        let _of_pages = match origin {
            Origin::Page(_) => {
                let place = self.pages_waiting.try_acquire().map_err(|_| Busy)?;
                Some((place, self.pages_working.acquire().await.map_err(|_| Busy)?))
            }
            Origin::Station(_) => None,
        };
        let _place = self.waiting.try_acquire().map_err(|_| Busy)?;
        let _turn = self.working.acquire().await.map_err(|_| Busy)?;
        let known = kept.is_some();
        let kept = kept.unwrap_or_else(|| DECOY.to_owned());
        // A panic inside counts as a wrong PIN.
        let right = tokio::task::spawn_blocking(move || fits(&pin, &kept)).await.unwrap_or(false);
        Ok(right && known)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::clock::SystemEntropy;
    use standpipe_proto::limits::door::{WRONG_PINS_OF_STATIONS_MAX, WRONG_PINS_OF_STATIONS_SECONDS};
    use standpipe_store::MemoryStore;

    #[tokio::test]
    async fn only_the_right_pin_fits_and_nobody_without_one_comes_in() {
        let kept = kept_of("4711", &SystemEntropy).unwrap();
        let checker = Checker::new();
        let is_right = |pin: &str, kept: Option<&str>| {
            checker.is_right(pin.into(), kept.map(Into::into), Origin::Page(None))
        };
        assert_eq!(is_right("4711", Some(&kept)).await, Ok(true));
        assert_eq!(is_right("4712", Some(&kept)).await, Ok(false));
        assert_eq!(is_right("4711", None).await, Ok(false));
        assert_eq!(is_right("4711", Some("no hash")).await, Ok(false));
    }

    async fn looked(pins: &Pins, store: &MemoryStore, origin: Origin<'_>, pin: &str) -> Looked {
        pins.look(store, ("B", origin), true, pin.into(), 0).await.unwrap()
    }

    #[tokio::test]
    async fn a_stranger_s_wrong_pins_lock_nobody_out_elsewhere() {
        let store = MemoryStore::new("site", [1; 16]);
        store.put_person("B", "office B", 0).await.unwrap();
        store.put_person_pin("B", &kept_of("4711", &SystemEntropy).unwrap(), 0).await.unwrap();
        let pins = Pins::new();
        let at = |last: u8| Origin::Page(Some(IpAddr::from([192, 0, 2, last])));
        let is_right = |looked: Looked| matches!(looked, Looked::Right { .. });
        assert!(is_right(looked(&pins, &store, at(1), "4711").await));
        for _ in 0..WRONG_IN_A_ROW_MAX {
            assert_eq!(looked(&pins, &store, at(2), "0000").await, Looked::Wrong);
        }
        assert!(matches!(looked(&pins, &store, at(2), "4711").await, Looked::TooOften { .. }));
        // From many addresses together the tries of one code are few as well.
        let mut tried = 0;
        for last in 3..40 {
            tried += u32::from(looked(&pins, &store, at(last), "0000").await == Looked::Wrong);
        }
        assert!(tried < SIGN_INS_OF_STRANGERS_BURST_MAX, "{tried}");
        for own in [at(1), Origin::Station("bay-1"), Origin::Page(Some(IpAddr::from([127, 0, 0, 1])))] {
            assert!(is_right(looked(&pins, &store, own, "4711").await), "{own:?}");
        }
    }

    #[tokio::test]
    async fn an_address_tries_few_codes_at_once_and_stations_go_on() {
        let store = MemoryStore::new("site", [1; 16]);
        let pins = Pins::new();
        let there = Origin::Page(Some("2001:db8::1".parse().unwrap()));
        let mut looks = Vec::new();
        for code in 0..=SIGN_INS_BURST_MAX {
            let code = format!("x{code}");
            looks.push(pins.look(&store, (&code, there), false, "0000".into(), 0).await.unwrap());
        }
        assert_eq!(looks.pop(), Some(Looked::TooManyHere));
        assert!(looks.iter().all(|look| *look == Looked::Wrong));
        // However many pages wait, a station has a place and a turn.
        let _waiting = pins.checker.pages_waiting.try_acquire_many(8).unwrap();
        let _working = pins.checker.pages_working.try_acquire().unwrap();
        assert_eq!(looked(&pins, &store, Origin::Page(None), "0000").await, Looked::Busy);
        assert_eq!(looked(&pins, &store, Origin::Station("bay-1"), "0000").await, Looked::Wrong);
    }

    #[test]
    fn five_wrong_pins_in_a_row_cost_a_minute_each_from_then_on() {
        let tries = Tries::default();
        for _ in 0..WRONG_IN_A_ROW_MAX {
            assert_eq!(tries.begin("A", true, 0), Ok(()));
        }
        assert_eq!(tries.begin("A", true, WAIT_US - 1), Err(1), "what is left is told");
        assert_eq!(tries.begin("B", true, 0), Ok(()));
        assert_eq!(tries.begin("A", true, WAIT_US), Ok(()));
        assert_eq!(tries.begin("A", true, WAIT_US + 1), Err(WAIT_US - 1));
        tries.was_right("A");
        assert_eq!(tries.begin("A", true, WAIT_US), Ok(()));
    }

    #[test]
    fn a_clock_that_was_set_back_locks_nobody_out_for_long_and_lets_nobody_in_at_once() {
        let (tries, day_us) = (Tries::default(), 86_400_000_000);
        for _ in 0..WRONG_IN_A_ROW_MAX {
            assert_eq!(tries.begin("A", true, day_us), Ok(()));
        }
        assert_eq!(tries.begin("A", true, 0), Err(WAIT_US));
        assert_eq!(tries.begin("A", true, WAIT_US - 1), Err(1));
        assert_eq!(tries.begin("A", true, WAIT_US), Ok(()));
    }

    #[tokio::test]
    async fn wrong_pins_of_one_person_are_counted_over_all_stations_and_right_ones_are_not() {
        let store = MemoryStore::new("site", [1; 16]);
        store.put_person("B", "office B", 0).await.unwrap();
        store.put_person_pin("B", &kept_of("4711", &SystemEntropy).unwrap(), 0).await.unwrap();
        let pins = Pins::new();
        for station in 0..WRONG_PINS_OF_STATIONS_MAX {
            let station = format!("bay-{station}");
            let right = looked(&pins, &store, Origin::Station(&station), "4711").await;
            assert!(matches!(right, Looked::Right { .. }));
            assert_eq!(looked(&pins, &store, Origin::Station(&station), "0000").await, Looked::Wrong);
        }
        let hour = u32::try_from(WRONG_PINS_OF_STATIONS_SECONDS).unwrap();
        let told = looked(&pins, &store, Origin::Station("bay-99"), "4711").await;
        assert_eq!(told, Looked::TooOften { wait_seconds: hour });
        assert!(matches!(looked(&pins, &store, Origin::Page(None), "4711").await, Looked::Right { .. }));
    }

    #[test]
    fn trying_many_codes_makes_nobody_s_wrong_pins_forgotten() {
        let tries = Tries::default();
        for _ in 0..WRONG_IN_A_ROW_MAX {
            assert!(tries.begin("A", true, 0).is_ok());
        }
        for code in 0..2 * REMEMBERED_MAX {
            assert!(tries.begin(&code.to_string(), false, 1).is_ok());
        }
        assert_eq!(tries.held().len(), REMEMBERED_MAX);
        assert!(tries.begin("A", true, 2).is_err());
    }

    #[test]
    fn a_pin_that_was_not_looked_at_is_not_counted() {
        let tries = Tries::default();
        for _ in 0..2 * WRONG_IN_A_ROW_MAX {
            assert!(tries.begin("A", true, 0).is_ok());
            tries.was_not_looked_at("A");
        }
    }

    #[test]
    fn a_decoy_costs_as_much_as_a_kept_pin() {
        let costs = |phc: &str| phc.split('$').take(4).map(str::to_owned).collect::<Vec<_>>();
        let kept = kept_of("123456789012", &SystemEntropy).unwrap();
        assert_eq!(costs(&kept), costs(DECOY));
        assert!(PasswordHash::new(DECOY).is_ok());
    }

    #[test]
    fn a_pin_is_four_to_twelve_digits() {
        for wrong in ["", "123", "1234567890123", "12 34", "12a4", "١٢٣٤"] {
            let refused = kept_of(wrong, &SystemEntropy).unwrap_err().to_string();
            assert!(refused.contains("4 to 12 digits"), "{refused}");
        }
    }

    #[test]
    fn argon2id_gives_the_published_tag() {
        // RFC 9106, section 5.3: Argon2id, version 0x13, 32 KiB, 3 passes, 4 lanes, with secret and associated data.
        let params = argon2::ParamsBuilder::new()
            .m_cost(32)
            .t_cost(3)
            .p_cost(4)
            .output_len(32)
            .data(argon2::AssociatedData::new(&[4; 12]).unwrap())
            .build()
            .unwrap();
        let hasher =
            Argon2::new_with_secret(&[3; 8], argon2::Algorithm::Argon2id, argon2::Version::V0x13, params)
                .unwrap();
        let mut tag = [0; 32];
        hasher.hash_password_into(&[1; 32], &[2; 16], &mut tag).unwrap();
        assert_eq!(
            crate::clock::hex(&tag),
            "0d640df58d78766c08c037a34a8b53c9d01ef0452d75b65eb52520e96b01e659"
        );
    }
}
