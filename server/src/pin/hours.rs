//! How often the PIN of each person code was wrong at all stations together, within an hour: whoever has the tokens of
//! many stations tries no more PINs of one person than who has one.
//!
//! Called by [`super::Pins`]. Never here: wrong ones in a row at one place.

use super::REMEMBERED_MAX;
use standpipe_proto::limits::door::{WRONG_PINS_OF_STATIONS_MAX, WRONG_PINS_OF_STATIONS_SECONDS};
use std::collections::HashMap;
use std::sync::{Mutex, MutexGuard, PoisonError};

const HOUR_US: i64 = WRONG_PINS_OF_STATIONS_SECONDS as i64 * 1_000_000;

/// The counts by person code, whether anybody has the code or not.
#[derive(Default)]
pub(super) struct Hours(Mutex<HashMap<String, Counted>>);

#[derive(Clone, Copy)]
struct Counted {
    times: u32,
    listed: bool,
    since_us: i64,
}

impl Hours {
    /// Lets a person code try now, or says how many microseconds it has to wait. Counts as wrong until
    /// [`Hours::take_back`].
    pub(super) fn begin(&self, code: &str, listed: bool, now_us: i64) -> Result<(), i64> {
        let mut held = self.held();
        let fresh = Counted { times: 0, listed, since_us: now_us };
        let counted = held.get(code).copied().unwrap_or(fresh);
        // By a clock that was set back the hour is still to come: then it begins now.
        let counted = Counted { since_us: counted.since_us.min(now_us), ..counted };
        let left_us = counted.since_us.saturating_add(HOUR_US).saturating_sub(now_us);
        let counted = if left_us > 0 { counted } else { fresh };
        if counted.times >= WRONG_PINS_OF_STATIONS_MAX {
            held.insert(code.to_owned(), counted);
            return Err(left_us);
        }
        if held.len() >= REMEMBERED_MAX && !held.contains_key(code) {
            let first = held.iter().min_by_key(|(_, counted)| (counted.listed, counted.since_us));
            let first = first.map(|(code, _)| code.clone());
            first.and_then(|code| held.remove(&code));
        }
        held.insert(code.to_owned(), Counted { times: counted.times + 1, ..counted });
        Ok(())
    }

    /// Takes a try back whose PIN was right, or not looked at.
    pub(super) fn take_back(&self, code: &str) {
        if let Some(counted) = self.held().get_mut(code) {
            counted.times = counted.times.saturating_sub(1);
        }
    }

    fn held(&self) -> MutexGuard<'_, HashMap<String, Counted>> {
        // Each change under the lock is whole, so a panic elsewhere leaves nothing half done.
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn so_many_an_hour_and_then_anew_also_by_a_clock_that_was_set_back() {
        let (hours, day_us) = (Hours::default(), 86_400_000_000);
        for _ in 0..WRONG_PINS_OF_STATIONS_MAX {
            assert_eq!(hours.begin("A", true, day_us), Ok(()));
        }
        assert_eq!(hours.begin("A", true, day_us + 1), Err(HOUR_US - 1));
        assert_eq!(hours.begin("B", true, day_us + 1), Ok(()));
        assert_eq!(hours.begin("A", true, 0), Err(HOUR_US));
        assert_eq!(hours.begin("A", true, HOUR_US), Ok(()));
        hours.take_back("A");
        assert_eq!(hours.begin("A", true, HOUR_US + 1), Ok(()));
    }
}
