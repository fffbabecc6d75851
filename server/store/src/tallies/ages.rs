//! How many rows of a sum are old enough to say whether their vehicles came back, and how many did. Most sums lie wholly
//! before or after a day that is asked for; only where the day falls among a sum's own days are its rows looked at by day.
//! No I/O, no SQL.

use super::TallySum;
use super::difference::Seen;
use std::collections::{BTreeSet, HashMap};

/// A sum as it is kept.
#[derive(Debug, Clone)]
pub(crate) struct SumRow {
    /// Without what depends on the asked days.
    pub sum: TallySum,
    pub seen: Seen,
    /// No day is before the first or after the second; crosswise if there is none.
    pub days: (i64, i64),
}

/// Rows up to a day, by site and variant or equipment, of one span and month.
pub(crate) type Ages = HashMap<(usize, String), HashMap<(String, String), Seen>>;

impl SumRow {
    /// Rows up to a day; `None` where they must be looked at by day.
    fn up_to(&self, day: i64) -> Option<Seen> {
        let (least, most) = self.days;
        if day >= most {
            return Some(self.seen);
        }
        (day < least).then(Seen::default)
    }

    /// Spans and months whose days must be looked at.
    pub(crate) fn asked(rows: &[Self], days: [i64; 3]) -> BTreeSet<(usize, String)> {
        let spans = days.into_iter().enumerate();
        spans
            .flat_map(|(span, day)| {
                let within = rows.iter().filter(move |row| row.up_to(day).is_none());
                within.map(move |row| (span, row.sum.month.clone()))
            })
            .collect()
    }
}

/// The sums in their order, with what was looked up of their days.
pub(crate) fn with_ages(rows: Vec<SumRow>, days: [i64; 3], ages: &Ages) -> Vec<TallySum> {
    let mut sums: Vec<TallySum> = rows
        .into_iter()
        .map(|row| {
            let seen = [0, 1, 2].map(|span| {
                let day = days.get(span).copied().unwrap_or(i64::MIN);
                row.up_to(day).unwrap_or_else(|| {
                    let of_month = ages.get(&(span, row.sum.month.clone()));
                    let key = (row.sum.site.clone(), row.sum.of.clone());
                    of_month.and_then(|of_month| of_month.get(&key)).copied().unwrap_or_default()
                })
            });
            let [first, second, third] = seen;
            let old = seen.map(|seen| seen.seen);
            TallySum { old, back: [first.back[0], second.back[1], third.back[2]], ..row.sum }
        })
        .collect();
    sums.sort_unstable_by(|a, b| (&a.site, &a.of, &a.month).cmp(&(&b.site, &b.of, &b.month)));
    sums
}
