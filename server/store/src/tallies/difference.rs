//! What rows that take the place of others change in the sums: no I/O, no SQL. The writers of both databases add it to what
//! is kept; the reference store adds up its rows instead.

use super::month::{HeldMonth, MonthKey};
use super::sum::Sum;
use super::{TallyBy, TallyRow};
use std::collections::{BTreeMap, HashMap};

/// Changes of the sums of one month of a site, by their variant or equipment.
pub(crate) type MonthChange = BTreeMap<String, Sum>;

/// All of it.
#[derive(Debug, Default)]
pub(crate) struct Difference(BTreeMap<MonthKey, MonthChange>);

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
            let key = MonthKey { by: by.number(), month: row.month.clone(), site: row.site.clone() };
            self.0.entry(key).or_default().entry(row.of(by).to_owned()).or_default().count(row, times);
        }
    }

    /// The months whose sums change, by their key, each with the sums that do.
    pub(crate) fn changes(self) -> Vec<(MonthKey, MonthChange)> {
        let mut changes = self.0;
        changes.values_mut().for_each(|month| month.retain(|_, change| !change.is_nothing()));
        changes.into_iter().filter(|(_, month)| !month.is_empty()).collect()
    }
}

/// The changed months as they are to be kept, in the order of the changes. Goes into SQL, so an error is one of SQL's.
pub(crate) fn added<'a>(
    changes: &'a [(MonthKey, MonthChange)],
    kept: &mut HashMap<MonthKey, HeldMonth>,
) -> Result<Vec<(&'a MonthKey, Vec<u8>)>, sqlx::Error> {
    let mut one = |(key, change): &'a (MonthKey, MonthChange)| {
        let mut month = kept.remove(key).unwrap_or_default();
        month.add(change)?;
        month.written().map(|held| (key, held))
    };
    changes.iter().map(|change| one(change).map_err(|error| sqlx::Error::Encode(error.into()))).collect()
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
            let mut held: HashMap<MonthKey, Vec<u8>> = HashMap::new();
            let mut kept: HashMap<[u8; 16], TallyRow> = HashMap::new();
            for row in puts {
                let mut difference = Difference::default();
                difference.replace(kept.get(&row.job), &row);
                let changes = difference.changes();
                let mut of_months: HashMap<_, _> =
                    held.iter().map(|(key, held)| (key.clone(), HeldMonth::read(held).unwrap())).collect();
                for (key, written) in added(&changes, &mut of_months).unwrap() {
                    held.insert(key.clone(), written);
                }
                kept.insert(row.job, row);
            }
            let mut anew = Difference::default();
            kept.values().for_each(|row| anew.replace(None, row));
            let sums = held.into_iter().map(|(key, held)| (key, HeldMonth::read(&held).unwrap().sums().unwrap()));
            let sums: BTreeMap<_, _> = sums.filter(|(_, month)| !month.is_empty()).collect();
            prop_assert_eq!(sums, anew.changes().into_iter().collect());
        }
    }
}
