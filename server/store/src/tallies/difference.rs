//! What rows that take the place of others change in the sums: no I/O, no SQL. The writers of both databases add it to what
//! is kept; the reference store adds up its rows instead.

use super::sum::Sum;
use super::{TallyBy, TallyRow};
use std::collections::{BTreeMap, HashMap};

/// Which sum.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(crate) struct SumKey {
    /// As [`TallyBy::number`] gives it.
    pub by: i64,
    pub month: String,
    pub site: String,
    pub of: String,
}

/// All of it.
#[derive(Debug, Default)]
pub(crate) struct Difference(BTreeMap<SumKey, Sum>);

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
            self.0.entry(key).or_default().count(row, times);
        }
    }

    /// The sums that change, by their key.
    pub(crate) fn changes(self) -> Vec<(SumKey, Sum)> {
        self.0.into_iter().filter(|(_, change)| !change.is_nothing()).collect()
    }
}

/// The changed sums as they are to be kept, in the order of the changes. Goes into SQL, so an error is one of SQL's.
pub(crate) fn added<'a>(
    changes: &'a [(SumKey, Sum)],
    kept: &HashMap<SumKey, Sum>,
) -> Result<Vec<(&'a SumKey, Vec<u8>)>, sqlx::Error> {
    let one = |(key, change): &'a (SumKey, Sum)| {
        let mut sum = kept.get(key).cloned().unwrap_or_default();
        sum.add(change);
        sum.written().map(|held| (key, held)).map_err(|error| sqlx::Error::Encode(error.into()))
    };
    changes.iter().map(one).collect()
}

#[cfg(test)]
mod tests {
    use super::super::TALLY_COUNTERS_MAX;
    use super::*;
    use proptest::prelude::*;

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

    proptest! {
        #[test]
        fn differences_add_up_to_the_sums_of_the_last_rows(puts in prop::collection::vec(row(), 0..60)) {
            let mut sums: BTreeMap<SumKey, Sum> = BTreeMap::new();
            let mut kept: HashMap<[u8; 16], TallyRow> = HashMap::new();
            for row in puts {
                let mut difference = Difference::default();
                difference.replace(kept.get(&row.job), &row);
                for (key, change) in difference.changes() {
                    sums.entry(key).or_default().add(&change);
                }
                kept.insert(row.job, row);
            }
            let mut anew = Difference::default();
            kept.values().for_each(|row| anew.replace(None, row));
            sums.retain(|_, sum| !sum.is_nothing());
            prop_assert_eq!(sums, anew.0);
        }
    }
}
