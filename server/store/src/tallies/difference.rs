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
