//! A sum as it is kept: one value with all that was added up. A column for each counter would cost whoever reads a year
//! more than everything else together. Its rows are also counted by their day, so that it can say how many of them are old
//! enough to tell whether their vehicles came back, and how many did. No I/O, no SQL.

use super::{TALLY_COUNTERS_MAX, TallyRow};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// What was added up of rows, or by how much that changes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Sum {
    /// Rows.
    pub jobs: i64,
    pub counters: [i64; TALLY_COUNTERS_MAX],
    /// Rows with a day, by it; none that counts nothing.
    pub days: BTreeMap<i64, Seen>,
}

/// Rows with a day, and which of them came back.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub(crate) struct Seen {
    pub seen: i64,
    pub back: [i64; 3],
}

/// Which of a sum's rows are old enough for each of three spans, and of these, which came back within it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct OldEnough {
    pub old: [i64; 3],
    pub back: [i64; 3],
}

/// First part of a sum as it is written; the days follow, as `Vec<(i64, Seen)>` in their order.
#[derive(Debug, Serialize, Deserialize)]
struct Head {
    jobs: i64,
    /// Without what is 0 at the end.
    counters: Vec<i64>,
    /// First and last day, and all of the days together.
    days: Option<(i64, i64, Seen)>,
}

impl Default for Sum {
    fn default() -> Self {
        Self { jobs: 0, counters: [0; TALLY_COUNTERS_MAX], days: BTreeMap::new() }
    }
}

impl Sum {
    /// A row comes in (`times` 1) or goes (−1).
    pub(super) fn count(&mut self, row: &TallyRow, times: i64) {
        self.jobs += times;
        for (sum, counter) in self.counters.iter_mut().zip(&row.counters) {
            *sum += times * counter;
        }
        if let Some(day) = row.day {
            self.add_day(day, Seen { seen: times, back: row.back.map(|back| times * i64::from(back)) });
        }
    }

    /// Adds another one.
    pub(crate) fn add(&mut self, other: &Self) {
        self.jobs += other.jobs;
        for (sum, counter) in self.counters.iter_mut().zip(other.counters) {
            *sum += counter;
        }
        other.days.iter().for_each(|(day, seen)| self.add_day(*day, *seen));
    }

    fn add_day(&mut self, day: i64, seen: Seen) {
        let sum = self.days.entry(day).or_default();
        sum.add(seen);
        if *sum == Seen::default() {
            self.days.remove(&day);
        }
    }

    /// Whether adding it changes nothing.
    pub(crate) fn is_nothing(&self) -> bool {
        *self == Self::default()
    }

    /// As it is kept.
    pub(crate) fn written(&self) -> Result<Vec<u8>, postcard::Error> {
        let used = self.counters.iter().rposition(|counter| *counter != 0).map_or(0, |last| last + 1);
        let counters = self.counters.iter().take(used).copied().collect();
        let ends = self.days.first_key_value().zip(self.days.last_key_value());
        let days = ends.map(|((first, _), (last, _))| (*first, *last, all_of(self.days.values())));
        let written = postcard::to_stdvec(&Head { jobs: self.jobs, counters, days })?;
        let days: Vec<(&i64, &Seen)> = self.days.iter().collect();
        postcard::to_extend(&days, written)
    }

    /// Reads what is kept.
    pub(crate) fn read(held: &[u8]) -> Result<Self, postcard::Error> {
        let (head, rest) = postcard::take_from_bytes::<Head>(held)?;
        let days: Vec<(i64, Seen)> = postcard::from_bytes(rest)?;
        let mut sum = Self { jobs: head.jobs, days: days.into_iter().collect(), ..Self::default() };
        sum.counters.iter_mut().zip(head.counters).for_each(|(to, counter)| *to = counter);
        Ok(sum)
    }
}

impl Seen {
    fn add(&mut self, other: Self) {
        self.seen += other.seen;
        self.back.iter_mut().zip(other.back).for_each(|(sum, back)| *sum += back);
    }
}

fn all_of<'a>(days: impl Iterator<Item = &'a Seen>) -> Seen {
    let mut all = Seen::default();
    days.for_each(|seen| all.add(*seen));
    all
}

/// Counters, all [`TALLY_COUNTERS_MAX`], and what is old enough on these days, of a sum as it is kept; `None` if it has no rows
/// any more. The days are only read one by one where an asked one falls among them.
pub(crate) fn read_as_of(
    held: &[u8],
    asked: [i64; 3],
) -> Result<Option<(Vec<i64>, OldEnough)>, postcard::Error> {
    let (Head { jobs, mut counters, days }, rest) = postcard::take_from_bytes::<Head>(held)?;
    if jobs <= 0 {
        return Ok(None);
    }
    counters.resize(TALLY_COUNTERS_MAX, 0);
    let mut old_enough = OldEnough::default();
    let Some((first, last, all)) = days else { return Ok(Some((counters, old_enough))) };
    let is_within = |day: &i64| (first..last).contains(day);
    let by_day: Vec<(i64, Seen)> =
        if asked.iter().any(is_within) { postcard::from_bytes(rest)? } else { Vec::new() };
    let spans = old_enough.old.iter_mut().zip(&mut old_enough.back).zip(asked).enumerate();
    for (span, ((old, back), day)) in spans {
        let up_to = if day >= last {
            all
        } else {
            all_of(by_day.iter().take_while(|(of, _)| *of <= day).map(|(_, seen)| seen))
        };
        (*old, *back) = (up_to.seen, up_to.back.get(span).copied().unwrap_or_default());
    }
    Ok(Some((counters, old_enough)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    prop_compose! {
        fn row()(
            counters in prop::collection::vec(-9_i64..9, 0..TALLY_COUNTERS_MAX + 1),
            day in prop::option::of(-3_i64..5),
            back: [bool; 3],
        ) -> TallyRow {
            TallyRow { counters, counts: true, day, back, ..TallyRow::default() }
        }
    }

    proptest! {
        #[test]
        fn a_sum_is_read_as_it_was_written(rows in prop::collection::vec(row(), 0..40), asked: [i8; 3]) {
            let mut sum = Sum::default();
            rows.iter().for_each(|row| sum.count(row, 1));
            let held = sum.written().unwrap();
            prop_assert_eq!(Sum::read(&held).unwrap(), sum.clone());
            let asked = asked.map(|day| i64::from(day) % 7);
            let Some((counters, found)) = read_as_of(&held, asked).unwrap() else {
                prop_assert!(rows.is_empty());
                return Ok(());
            };
            prop_assert_eq!(counters, sum.counters.to_vec());
            for (span, last) in asked.into_iter().enumerate() {
                let old: Vec<_> = rows.iter().filter(|row| row.day.is_some_and(|day| day <= last)).collect();
                prop_assert_eq!(found.old[span], old.len() as i64);
                prop_assert_eq!(found.back[span], old.iter().filter(|row| row.back[span]).count() as i64);
            }
        }
    }

    #[test]
    fn bytes_that_were_never_written_are_an_error() {
        let mut sum = Sum::default();
        sum.count(&TallyRow { counters: vec![1; 3], day: Some(9), ..TallyRow::default() }, 1);
        let held = sum.written().unwrap();
        for cut in 0..held.len() {
            Sum::read(&held[..cut]).unwrap_err();
        }
        read_as_of(&[], [0; 3]).unwrap_err();
    }
}
