//! When things were done, as intervals, and whether one surely came before another.
//!
//! A station's own order is certain. Between stations only intervals of time are compared, and
//! where they overlap the answer is that the order is not certain. Clocks never decide more than that.

use std::cmp::Ordering;

/// Microseconds in a second.
const SECOND_US: i64 = 1_000_000;
/// How well a station's clock is believed when nothing speaks against it: house value.
const CLOCK_US: i64 = 5 * SECOND_US;
/// A typed time names a minute.
const TYPED_US: i64 = 60 * SECOND_US;

/// When a fact was done: at a station, in its order, within an interval.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Moment {
    /// Station and epoch of its unsent list.
    pub station: (String, String),
    /// Number within it.
    pub number: i64,
    /// True when the time was typed, so that the station's order says nothing.
    pub typed: bool,
    /// Earliest time, microseconds since 1970.
    pub earliest_us: i64,
    /// Latest time, microseconds since 1970.
    pub latest_us: i64,
}

impl Moment {
    /// The moment of an entry: `station_us` is the station's clock, `received_us` the server's.
    ///
    /// `clock_right` says that some entry of the same start of the station arrived at once, so that its
    /// clock is known to be right. Without that a late entry may come from a wrong clock, from a list
    /// that was kept for hours, or from both: then it is only known to be done before it arrived.
    #[must_use]
    pub fn new(
        station: (String, String),
        number: i64,
        (station_us, received_us): (i64, i64),
        clock_right: bool,
        done_us: Option<i64>,
    ) -> Self {
        let (earliest_us, latest_us) = match done_us {
            Some(done) => (done, done.saturating_add(TYPED_US)),
            None if clock_right => (station_us.saturating_sub(CLOCK_US), station_us.saturating_add(CLOCK_US)),
            None => (i64::MIN, received_us),
        };
        Self { station, number, typed: done_us.is_some(), earliest_us, latest_us }
    }

    /// Whether an entry arrived as soon as its station's clock says it was made.
    #[must_use]
    pub fn arrived_at_once(station_us: i64, received_us: i64) -> bool {
        received_us.saturating_sub(station_us).abs() <= CLOCK_US
    }

    /// Whether this surely came before (`Less`) or after (`Greater`) the other; absent when the
    /// order is not certain.
    #[must_use]
    pub fn certainly(&self, other: &Self) -> Option<Ordering> {
        if self.station == other.station && !self.typed && !other.typed {
            return Some(self.number.cmp(&other.number));
        }
        if self.latest_us < other.earliest_us {
            Some(Ordering::Less)
        } else if other.latest_us < self.earliest_us {
            Some(Ordering::Greater)
        } else {
            None
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn at(station: &str, number: i64, seconds: i64, received: i64) -> Moment {
        let times = (seconds * SECOND_US, received * SECOND_US);
        let clock_right = Moment::arrived_at_once(times.0, times.1);
        Moment::new((station.into(), "e".into()), number, times, clock_right, None)
    }

    #[test]
    fn a_station_knows_its_own_order_whatever_its_clock_says() {
        assert_eq!(at("bay-1", 1, 500, 500).certainly(&at("bay-1", 2, 100, 501)), Some(Ordering::Less));
    }

    #[test]
    fn between_stations_close_times_leave_the_order_open() {
        assert_eq!(at("bay-1", 1, 100, 100).certainly(&at("bay-2", 1, 104, 104)), None);
        assert_eq!(at("bay-1", 1, 100, 100).certainly(&at("bay-2", 1, 200, 200)), Some(Ordering::Less));
    }

    #[test]
    fn an_entry_that_arrived_hours_late_is_only_known_to_be_done_before() {
        assert_eq!(at("bay-1", 1, 100, 7300).certainly(&at("bay-2", 1, 3000, 3000)), None);
        assert_eq!(at("bay-1", 1, 6000, 7300).certainly(&at("bay-2", 1, 3000, 3000)), None);
        assert_eq!(at("bay-1", 1, 100, 7300).certainly(&at("bay-2", 1, 9000, 9000)), Some(Ordering::Less));
    }

    #[test]
    fn a_station_whose_clock_is_known_to_be_right_is_believed_also_when_it_sends_late() {
        let late =
            Moment::new(("bay-1".into(), "e".into()), 1, (100 * SECOND_US, 7300 * SECOND_US), true, None);
        assert_eq!(late.certainly(&at("bay-2", 1, 3000, 3000)), Some(Ordering::Less));
    }

    #[test]
    fn a_typed_time_takes_the_station_s_order_away() {
        let typed = Moment::new(("bay-1".into(), "e".into()), 9, (0, 0), true, Some(10 * SECOND_US));
        assert_eq!(typed.certainly(&at("bay-1", 2, 1000, 1000)), Some(Ordering::Less));
        assert_eq!(typed.certainly(&at("bay-1", 2, 20, 20)), None);
    }

    proptest! {
        #[test]
        fn certainty_is_mirrored(a in 0i64..10_000, b in 0i64..10_000, late in 0i64..5_000) {
            let (first, second) = (at("bay-1", 1, a, a + late), at("bay-2", 1, b, b));
            prop_assert_eq!(first.certainly(&second), second.certainly(&first).map(Ordering::reverse));
        }
    }
}
