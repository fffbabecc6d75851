//! What rows that take the place of others change in the sums and in the ages: no I/O, no SQL. The writers of both
//! databases add it to what is kept; the reference store adds up its rows instead.

use super::{TALLY_COUNTERS_MAX, TallyBy, TallyRow};
use std::collections::BTreeMap;

/// Which sum.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct SumKey {
    /// As [`TallyBy::number`] gives it.
    pub by: i64,
    pub month: String,
    pub site: String,
    pub of: String,
}

/// Which day of a sum.
pub(crate) type AgeKey = (SumKey, i64);

/// Rows with a day, and which of them came back.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct Seen {
    pub seen: i64,
    pub back: [i64; 3],
}

/// By how much a sum changes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct SumChange {
    pub jobs: i64,
    pub seen: Seen,
    /// Least and greatest day that came in; crosswise if none did.
    pub days: (i64, i64),
    pub counters: [i64; TALLY_COUNTERS_MAX],
}

/// All of it.
#[derive(Debug, Default)]
pub(crate) struct Difference {
    pub sums: BTreeMap<SumKey, SumChange>,
    pub ages: BTreeMap<AgeKey, Seen>,
}

impl Default for SumChange {
    fn default() -> Self {
        let days = (i64::MAX, i64::MIN);
        Self { jobs: 0, seen: Seen::default(), days, counters: [0; TALLY_COUNTERS_MAX] }
    }
}

impl Difference {
    /// A row takes the place of an earlier one of the same job, if there was one.
    pub(crate) fn replace(&mut self, earlier: Option<&TallyRow>, row: &TallyRow) {
        if let Some(earlier) = earlier {
            self.count(earlier, -1);
        }
        self.count(row, 1);
    }

    fn count(&mut self, row: &TallyRow, times: i64) {
        if !row.counts {
            return;
        }
        for by in TallyBy::ALL {
            let (month, site, of) = (row.month.clone(), row.site.clone(), row.of(by).to_owned());
            let key = SumKey { by: by.number(), month, site, of };
            let change = self.sums.entry(key.clone()).or_default();
            change.jobs += times;
            for (sum, counter) in change.counters.iter_mut().zip(&row.counters) {
                *sum += times * counter;
            }
            let Some(day) = row.day else { continue };
            change.seen.count(row, times);
            if times > 0 {
                change.days = (change.days.0.min(day), change.days.1.max(day));
            }
            self.ages.entry((key, day)).or_default().count(row, times);
        }
    }

    /// Drops what does not change after all.
    pub(crate) fn settled(mut self) -> Self {
        let same = |change: &SumChange| {
            change.jobs == 0 && change.seen == Seen::default() && change.counters.iter().all(|sum| *sum == 0)
        };
        // A day that moved within a sum widens its days, so such a sum is written all the same.
        self.sums.retain(|_, change| !same(change) || change.days.0 <= change.days.1);
        self.ages.retain(|_, seen| *seen != Seen::default());
        self
    }
}

impl Seen {
    fn count(&mut self, row: &TallyRow, times: i64) {
        self.seen += times;
        for (sum, back) in self.back.iter_mut().zip(row.back) {
            *sum += times * i64::from(back);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::collections::HashMap;

    prop_compose! {
        fn row()(
            job in 0_u8..6,
            month in 1_u8..4,
            words in (0_u8..3, 0_u8..3),
            counters in prop::collection::vec(-9_i64..9, 0..TALLY_COUNTERS_MAX + 1),
            counts: bool,
            day in prop::option::of(0_i64..5),
            back: [bool; 3],
        ) -> TallyRow {
            TallyRow {
                site: format!("site-{}", job % 2),
                job: [job; 16],
                month: format!("2026-{month:02}"),
                variant: format!("v{}", words.0),
                equipment: format!("e{}", words.1),
                counters,
                counts,
                day,
                back,
                ..TallyRow::default()
            }
        }
    }

    /// What is kept after a difference was added to it, as SQL adds it.
    fn added(sums: &mut BTreeMap<SumKey, SumChange>, ages: &mut BTreeMap<AgeKey, Seen>, by: Difference) {
        for (key, change) in by.sums {
            let sum = sums.entry(key).or_default();
            sum.jobs += change.jobs;
            sum.days = (sum.days.0.min(change.days.0), sum.days.1.max(change.days.1));
            sum.counters.iter_mut().zip(change.counters).for_each(|(sum, counter)| *sum += counter);
            add_seen(&mut sum.seen, change.seen);
        }
        for (key, seen) in by.ages {
            add_seen(ages.entry(key).or_default(), seen);
        }
    }

    fn add_seen(sum: &mut Seen, seen: Seen) {
        sum.seen += seen.seen;
        sum.back.iter_mut().zip(seen.back).for_each(|(sum, back)| *sum += back);
    }

    proptest! {
        #[test]
        fn differences_add_up_to_the_sums_of_the_last_rows(puts in prop::collection::vec(row(), 0..60)) {
            let (mut sums, mut ages) = (BTreeMap::new(), BTreeMap::new());
            let mut kept: HashMap<[u8; 16], TallyRow> = HashMap::new();
            for row in puts {
                let mut difference = Difference::default();
                difference.replace(kept.get(&row.job), &row);
                added(&mut sums, &mut ages, difference.settled());
                kept.insert(row.job, row);
            }
            let mut anew = Difference::default();
            kept.values().for_each(|row| anew.replace(None, row));
            ages.retain(|_, seen| *seen != Seen::default());
            prop_assert_eq!(&ages, &anew.ages);
            sums.retain(|_, sum| sum.jobs > 0);
            prop_assert_eq!(sums.len(), anew.sums.len());
            for (key, sum) in sums {
                let expected = &anew.sums[&key];
                prop_assert_eq!((sum.jobs, sum.seen, sum.counters), (expected.jobs, expected.seen, expected.counters));
                prop_assert!(sum.days.0 <= expected.days.0 && sum.days.1 >= expected.days.1);
            }
        }
    }
}
