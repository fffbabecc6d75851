//! Sums of one month of a site as they are kept: one value with all of them. A row for each would cost whoever reads a year of
//! many workshops more than adding them up. No I/O, no SQL.

use super::sum::Sum;
use super::{TallySum, read_as_of};
use std::collections::BTreeMap;

/// Which sums.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(crate) struct MonthKey {
    /// As [`super::TallyBy::number`] gives it.
    pub by: i64,
    pub month: String,
    pub site: String,
}

/// The sums of a month, each as [`Sum::written`] has it, by its variant or equipment. What does not change is never read.
#[derive(Debug, Default)]
pub(crate) struct HeldMonth(BTreeMap<String, Vec<u8>>);

impl HeldMonth {
    /// Reads what is kept.
    pub(crate) fn read(held: &[u8]) -> Result<Self, postcard::Error> {
        Ok(Self(each(held)?.into_iter().map(|(of, sum)| (of.to_owned(), sum.to_vec())).collect()))
    }

    /// As it is kept: the sums in the order of their variant or equipment.
    pub(crate) fn written(&self) -> Result<Vec<u8>, postcard::Error> {
        postcard::to_stdvec(&self.0.iter().collect::<Vec<_>>())
    }

    /// Adds changes; a sum of nothing is kept no longer.
    pub(crate) fn add(&mut self, change: &BTreeMap<String, Sum>) -> Result<(), postcard::Error> {
        for (of, change) in change {
            let mut sum = self.0.get(of).map_or_else(|| Ok(Sum::default()), |held| Sum::read(held))?;
            sum.add(change);
            if sum.is_nothing() {
                self.0.remove(of);
            } else {
                self.0.insert(of.clone(), sum.written()?);
            }
        }
        Ok(())
    }

    #[cfg(test)]
    pub(crate) fn sums(&self) -> Result<BTreeMap<String, Sum>, postcard::Error> {
        self.0.iter().map(|(of, held)| Ok((of.clone(), Sum::read(held)?))).collect()
    }
}

/// The sums of a month as it is kept, with what is old enough on these days; none that has no rows any more.
pub(crate) fn sums_as_of(
    (site, month): (&str, &str),
    held: &[u8],
    asked: [i64; 3],
) -> Result<Vec<TallySum>, postcard::Error> {
    let one = |(of, sum): (&str, &[u8])| {
        Ok(read_as_of(sum, asked)?.map(|(counters, of_age)| TallySum {
            site: site.to_owned(),
            of: of.to_owned(),
            month: month.to_owned(),
            counters,
            old: of_age.old,
            back: of_age.back,
        }))
    };
    each(held)?.into_iter().filter_map(|sum| one(sum).transpose()).collect()
}

/// Each sum with its variant or equipment.
fn each(held: &[u8]) -> Result<Vec<(&str, &[u8])>, postcard::Error> {
    postcard::from_bytes(held)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tallies::TallyRow;

    fn month() -> HeldMonth {
        let mut month = HeldMonth::default();
        for of in ["A8-II", "A8-I"] {
            let mut change = Sum::default();
            change.count(&TallyRow { counters: vec![3, 4], day: Some(9), ..TallyRow::default() }, 1);
            month.add(&[(of.to_owned(), change)].into()).unwrap();
        }
        month
    }

    #[test]
    fn a_month_is_read_as_it_was_written_and_told_in_order() {
        let held = month().written().unwrap();
        let sums = sums_as_of(("harbour-lane", "2026-03"), &held, [9, 8, 10]).unwrap();
        let told: Vec<_> = sums.iter().map(|sum| (sum.of.as_str(), sum.counters[1], sum.old)).collect();
        assert_eq!(told, [("A8-I", 4, [1, 0, 1]), ("A8-II", 4, [1, 0, 1])]);
        assert_eq!(HeldMonth::read(&held).unwrap().written().unwrap(), held);
    }

    #[test]
    fn bytes_that_were_never_written_are_an_error() {
        let held = month().written().unwrap();
        for cut in 0..held.len() {
            HeldMonth::read(&held[..cut]).unwrap_err();
            sums_as_of(("harbour-lane", "2026-03"), &held[..cut], [0; 3]).unwrap_err();
        }
    }
}
