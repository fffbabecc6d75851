//! Who is signed in at the office pages: in memory only, for twelve hours, gone with the server.
//!
//! A session is found by the SHA-256 of the random key in its cookie. Each has a second random key that every form
//! carries, so that no other page can fill one in. Never here: whether a person may, which is [`super::guard`]'s.

use crate::clock::{Entropy, hex};
use crate::error::ServerError;
use sha2::{Digest as _, Sha256};
use std::collections::HashMap;
use std::sync::{Mutex, MutexGuard, PoisonError};
use tokio::sync::watch;

/// A session ends after this many seconds.
pub(super) const SESSION_SECONDS: i64 = 12 * 60 * 60;
/// Most sessions; the one that ends first makes room for another.
const SESSIONS_MAX: usize = 500;

/// A person who is signed in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Session {
    /// Code of the person.
    pub(super) person_code: String,
    /// What each form of this session carries.
    pub(super) form_key: String,
    /// Digest of what the PIN was compared with; with another PIN the session is no longer good.
    pin: [u8; 32],
    ends_us: i64,
}

impl Session {
    /// Whether the person still has the PIN that the session was begun with.
    pub(super) fn has_pin(&self, kept_pin: &str) -> bool {
        self.pin == digest(kept_pin)
    }
}

/// All sessions.
#[derive(Default)]
pub(super) struct Sessions {
    open: Mutex<HashMap<[u8; 32], Session>>,
    ended: watch::Sender<u64>,
}

impl Sessions {
    /// Begins a session and gives the key for its cookie.
    pub(super) fn begin(
        &self,
        person_code: &str,
        kept_pin: &str,
        now_us: i64,
        entropy: &dyn Entropy,
    ) -> Result<String, ServerError> {
        let key = random_key(entropy)?;
        let session = Session {
            person_code: person_code.to_owned(),
            form_key: random_key(entropy)?,
            pin: digest(kept_pin),
            ends_us: now_us.saturating_add(SESSION_SECONDS * 1_000_000),
        };
        let mut sessions = self.held();
        sessions.retain(|_, session| session.ends_us > now_us);
        if sessions.len() >= SESSIONS_MAX {
            let first = sessions.iter().min_by_key(|(_, session)| session.ends_us).map(|(digest, _)| *digest);
            first.and_then(|digest| sessions.remove(&digest));
            self.ended.send_modify(|ended| *ended += 1);
        }
        sessions.insert(digest(&key), session);
        Ok(key)
    }

    /// The session of a cookie, unless it has ended.
    pub(super) fn find(&self, key: &str, now_us: i64) -> Option<Session> {
        self.held().get(&digest(key)).filter(|session| session.ends_us > now_us).cloned()
    }

    /// Ends a session.
    pub(super) fn end(&self, key: &str) {
        self.held().remove(&digest(key));
        self.ended.send_modify(|ended| *ended += 1);
    }

    /// Changes when a session was ended before its time.
    pub(super) fn ended(&self) -> watch::Receiver<u64> {
        self.ended.subscribe()
    }

    fn held(&self) -> MutexGuard<'_, HashMap<[u8; 32], Session>> {
        // Each change under the lock is whole, so a panic elsewhere leaves nothing half done.
        self.open.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// 256 random bits as hexadecimal digits.
pub(super) fn random_key(entropy: &dyn Entropy) -> Result<String, ServerError> {
    let mut bytes = [0; 32];
    entropy.fill(&mut bytes)?;
    Ok(hex(&bytes))
}

/// Whether a text can be a key of [`random_key`].
pub(super) fn is_key(text: &str) -> bool {
    text.len() == 64 && text.bytes().all(|digit| digit.is_ascii_hexdigit())
}

/// Whether two keys are the same; takes as long wherever they differ.
pub(super) fn same_key(one: &str, other: &str) -> bool {
    !one.is_empty() && digest(one) == digest(other)
}

fn digest(key: &str) -> [u8; 32] {
    Sha256::digest(key.as_bytes()).into()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::clock::SystemEntropy;

    #[test]
    fn a_session_ends_by_itself_after_twelve_hours_or_when_told() {
        let sessions = Sessions::default();
        let key = sessions.begin("B", "", 0, &SystemEntropy).unwrap();
        let last_us = SESSION_SECONDS * 1_000_000 - 1;
        assert_eq!(sessions.find(&key, last_us).unwrap().person_code, "B");
        assert_eq!(sessions.find(&key, last_us + 1), None);
        assert_eq!(sessions.find("guessed", 0), None);
        sessions.end(&key);
        assert_eq!(sessions.find(&key, 0), None);
    }

    #[test]
    fn the_oldest_session_makes_room() {
        let sessions = Sessions::default();
        let first = sessions.begin("B", "", 0, &SystemEntropy).unwrap();
        for at in 1..=SESSIONS_MAX as i64 {
            sessions.begin("C", "", at, &SystemEntropy).unwrap();
        }
        assert_eq!(sessions.find(&first, 1), None);
        assert_eq!(sessions.held().len(), SESSIONS_MAX);
    }

    #[test]
    fn an_empty_key_is_never_the_same() {
        assert!(same_key("a1", "a1") && !same_key("a1", "a2") && !same_key("", ""));
    }
}
