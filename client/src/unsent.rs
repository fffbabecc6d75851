//! The unsent list as a state machine: what a station keeps until the shop server acknowledged it.
//!
//! Events and the time go in, actions come out. Here are decided: the numbers of entries, the order of sending and
//! how many may wait for their answer, what an acknowledgement or a refusal means, when to try again, and when a new
//! epoch begins. Never here: disk, network, clock, randomness. [`crate::Station`] carries the actions out.
//!
//! Two numbers belong to an entry. The *place* orders the files of the folder and only ever grows. The *station
//! number* in the header counts from 1 within an epoch: the place less the place at which the epoch began. A list
//! that was copied (a folder restored from a backup, a disk image used twice) makes numbers that were used before;
//! the server says so, and entries made from then on get a new epoch. What is sealed already stays as it is.

use crate::error::is_permanent;
use standpipe_proto::limits::{STREAM_WINDOW_MAX, UNSENT_BYTES_MAX, UNSENT_ENTRIES_MAX};
use standpipe_proto::v1::Refusal;
use std::collections::{BTreeMap, BTreeSet};

/// First wait after a try that brought nothing, in microseconds.
const RETRY_LEAST_MICROSECONDS: i64 = 1_000_000;
/// Longest wait between two tries, without its random part, in microseconds.
const RETRY_GREATEST_MICROSECONDS: i64 = 60_000_000;

/// An entry that waits for its acknowledgement, as far as the list needs to know it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Waiting {
    /// Identity of the entry.
    pub entry_id: String,
    /// Epoch in its header.
    pub epoch: String,
    /// Size of the sealed entry in bytes.
    pub bytes: u64,
    /// True for an arrival: what follows waits until it is answered, since it may belong to the job it opens.
    pub opens_job: bool,
}

/// What happened.
#[derive(Debug, Clone, PartialEq)]
pub enum Event {
    /// The station wants to keep a new entry.
    Wanted,
    /// The entry of this place is on the disk.
    Stored {
        /// Its place.
        place: i64,
        /// The entry.
        waiting: Waiting,
    },
    /// A new epoch was drawn and is on the disk.
    EpochBegan {
        /// Its identity.
        epoch: String,
        /// The last place before it.
        after: i64,
    },
    /// A try to send begins.
    Began {
        /// Random: moves the next try, if one is needed, by up to a quarter of its wait.
        jitter: u16,
    },
    /// The server has an entry on its disk.
    Acknowledged {
        /// Which.
        entry_id: String,
        /// Another entry had the same station number.
        station_number_reused: bool,
    },
    /// The server refused an entry.
    Refused(Refusal),
    /// The connection could not be made, or ended before all answers came.
    Broke,
}

/// What is to be done, in this order.
#[derive(Debug, Clone, PartialEq)]
pub enum Action {
    /// Store the new entry at this place under this number.
    Store {
        /// Place in the list.
        place: i64,
        /// Number for the header.
        station_number: i64,
    },
    /// The list takes no more entries.
    Full,
    /// Draw a new epoch that begins after this place, and write it down.
    BeginEpoch {
        /// The last place before it.
        after: i64,
    },
    /// Put the entry of this place on the stream.
    Send {
        /// Its place.
        place: i64,
    },
    /// Move the entry of this place to those sent.
    MoveToSent {
        /// Its place.
        place: i64,
    },
    /// Put the entry of this place aside with the server's sentence.
    SetAside {
        /// Its place.
        place: i64,
        /// Why.
        refusal: Refusal,
    },
    /// The try is over.
    Ended {
        /// When the next one makes sense, in monotonic microseconds; nothing when no entry waits for one.
        again_at: Option<i64>,
    },
}

/// The list.
#[derive(Debug, Clone, Default)]
pub struct UnsentList {
    epoch: String,
    epoch_after: i64,
    greatest_place: i64,
    new_epoch_needed: bool,
    waiting: BTreeMap<i64, Waiting>,
    bytes: u64,
    attempt: Option<Attempt>,
    fruitless_tries: u32,
}

/// One try to send.
#[derive(Debug, Clone, Default)]
struct Attempt {
    jitter: u16,
    last_sent: i64,
    unanswered: BTreeSet<i64>,
    /// Refused, while entries before are still unanswered: whether it is final depends on them.
    undecided: BTreeMap<i64, Refusal>,
    /// First entry that the server did not take for now. Nothing after it is sent or put aside in this try.
    stalled_at: Option<i64>,
    fruitful: bool,
}

impl UnsentList {
    /// Takes over what is on the disk: at the beginning, and after another command worked on the same folder.
    pub fn reconcile(
        &mut self,
        epoch: String,
        epoch_after: i64,
        greatest_place: i64,
        waiting: BTreeMap<i64, Waiting>,
    ) {
        self.epoch = epoch;
        self.epoch_after = epoch_after;
        self.greatest_place = greatest_place.max(self.greatest_place);
        self.bytes = waiting.values().map(|entry| entry.bytes).sum();
        self.waiting = waiting;
        if let Some(attempt) = &mut self.attempt {
            attempt.unanswered.retain(|place| self.waiting.contains_key(place));
            attempt.undecided.retain(|place, _| self.waiting.contains_key(place));
        }
    }

    /// Epoch that the next entry is made in.
    #[must_use]
    pub fn epoch(&self) -> &str {
        &self.epoch
    }

    /// Number of entries that wait for their acknowledgement.
    #[must_use]
    pub fn len(&self) -> usize {
        self.waiting.len()
    }

    /// True when nothing waits.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.waiting.is_empty()
    }

    /// Size of what waits, in bytes.
    #[must_use]
    pub fn bytes(&self) -> u64 {
        self.bytes
    }

    /// Greatest place that was ever used.
    #[must_use]
    pub fn greatest_place(&self) -> i64 {
        self.greatest_place
    }

    /// Place of a waiting entry.
    #[must_use]
    pub fn place_of(&self, entry_id: &str) -> Option<i64> {
        self.waiting.iter().find(|(_, entry)| entry.entry_id == entry_id).map(|(place, _)| *place)
    }

    /// True while a try to send runs.
    #[must_use]
    pub fn is_sending(&self) -> bool {
        self.attempt.is_some()
    }

    /// Takes an event at a time in monotonic microseconds and says what is to be done.
    pub fn step(&mut self, event: Event, now: i64) -> Vec<Action> {
        match event {
            Event::Wanted => vec![self.wanted()],
            Event::Stored { place, waiting } => {
                self.greatest_place = self.greatest_place.max(place);
                self.bytes = self.bytes.saturating_add(waiting.bytes);
                self.waiting.insert(place, waiting);
                self.go_on(now)
            }
            Event::EpochBegan { epoch, after } => {
                self.epoch = epoch;
                self.epoch_after = after;
                self.new_epoch_needed = false;
                Vec::new()
            }
            Event::Began { jitter } => {
                self.attempt = Some(Attempt { jitter, ..Attempt::default() });
                self.go_on(now)
            }
            Event::Acknowledged { entry_id, station_number_reused } => {
                self.acknowledged(&entry_id, station_number_reused, now)
            }
            Event::Refused(refusal) => self.refused(refusal, now),
            Event::Broke => self.broke(now),
        }
    }

    fn wanted(&self) -> Action {
        if self.new_epoch_needed || self.epoch.is_empty() {
            Action::BeginEpoch { after: self.greatest_place }
        } else if self.waiting.len() >= UNSENT_ENTRIES_MAX || self.bytes >= UNSENT_BYTES_MAX {
            Action::Full
        } else {
            let place = self.greatest_place + 1;
            Action::Store { place, station_number: place - self.epoch_after }
        }
    }

    fn acknowledged(&mut self, entry_id: &str, reused: bool, now: i64) -> Vec<Action> {
        let mut actions = Vec::new();
        let Some(attempt) = &mut self.attempt else { return actions };
        let place = attempt
            .unanswered
            .iter()
            .copied()
            .find(|place| self.waiting.get(place).is_some_and(|entry| entry.entry_id == entry_id));
        // An answer to something that does not wait says nothing new.
        let Some(place) = place else { return actions };
        attempt.unanswered.remove(&place);
        attempt.fruitful = true;
        if let Some(entry) = self.waiting.remove(&place) {
            self.bytes = self.bytes.saturating_sub(entry.bytes);
            if reused && entry.epoch == self.epoch && !self.new_epoch_needed {
                // Before the entry is moved: if the station dies in between, the answer comes again.
                self.new_epoch_needed = true;
                actions.push(Action::BeginEpoch { after: self.greatest_place });
            }
        }
        actions.push(Action::MoveToSent { place });
        actions.extend(self.go_on(now));
        actions
    }

    fn refused(&mut self, refusal: Refusal, now: i64) -> Vec<Action> {
        let Some(attempt) = &mut self.attempt else { return Vec::new() };
        let place = attempt.unanswered.iter().copied().find(|place| {
            // A refusal without an id answers the entry that has waited longest.
            refusal.entry_id.is_empty()
                || self.waiting.get(place).is_some_and(|entry| entry.entry_id == refusal.entry_id)
        });
        let Some(place) = place else { return Vec::new() };
        attempt.unanswered.remove(&place);
        if is_permanent(refusal.code) {
            attempt.undecided.insert(place, refusal);
        } else {
            attempt.stalled_at = Some(attempt.stalled_at.map_or(place, |first| first.min(place)));
        }
        self.go_on(now)
    }

    fn broke(&mut self, now: i64) -> Vec<Action> {
        let Some(attempt) = self.attempt.take() else { return Vec::new() };
        self.fruitless_tries = if attempt.fruitful { 0 } else { self.fruitless_tries.saturating_add(1) };
        let again_at = (!self.waiting.is_empty()).then(|| now.saturating_add(self.wait(attempt.jitter)));
        vec![Action::Ended { again_at }]
    }

    /// Decides what can be decided, sends what may be sent, ends the try when nothing is left to wait for.
    fn go_on(&mut self, now: i64) -> Vec<Action> {
        let mut actions = Vec::new();
        let Some(attempt) = &mut self.attempt else { return actions };
        while let Some((&place, _)) = attempt.undecided.first_key_value() {
            if attempt.unanswered.first().is_some_and(|first| *first < place) {
                break;
            }
            let Some(refusal) = attempt.undecided.remove(&place) else { break };
            // Refused perhaps only because an entry before it was not taken for now: it stays and is sent again.
            if attempt.stalled_at.is_none_or(|first| first > place) {
                if let Some(entry) = self.waiting.remove(&place) {
                    self.bytes = self.bytes.saturating_sub(entry.bytes);
                }
                attempt.fruitful = true;
                actions.push(Action::SetAside { place, refusal });
            }
        }
        while attempt.stalled_at.is_none() && attempt.unanswered.len() < STREAM_WINDOW_MAX {
            let opens_job = |place: &i64| self.waiting.get(place).is_some_and(|entry| entry.opens_job);
            if attempt.unanswered.iter().any(opens_job) {
                break;
            }
            let Some((&place, _)) = self.waiting.range(attempt.last_sent + 1..).next() else { break };
            attempt.last_sent = place;
            attempt.unanswered.insert(place);
            actions.push(Action::Send { place });
        }
        if attempt.unanswered.is_empty() && attempt.undecided.is_empty() {
            let stalled = attempt.stalled_at.is_some();
            let (jitter, fruitful) = (attempt.jitter, attempt.fruitful);
            self.attempt = None;
            self.fruitless_tries =
                if stalled && !fruitful { self.fruitless_tries.saturating_add(1) } else { 0 };
            let again_at = stalled.then(|| now.saturating_add(self.wait(jitter)));
            actions.push(Action::Ended { again_at });
        }
        actions
    }

    /// How long to wait after so many tries without any answer: none, then 1 s doubled each time up to 60 s, and up
    /// to a quarter more, so that stations that lost their server together do not come back together.
    fn wait(&self, jitter: u16) -> i64 {
        if self.fruitless_tries == 0 {
            return 0;
        }
        let doubled = RETRY_LEAST_MICROSECONDS << (self.fruitless_tries - 1).min(6);
        let wait = doubled.min(RETRY_GREATEST_MICROSECONDS);
        wait + wait / 4 * i64::from(jitter) / i64::from(u16::MAX)
    }
}

#[cfg(test)]
#[path = "tests/unsent.rs"]
mod tests;
