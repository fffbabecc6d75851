//! The sums of a period as the comparison reads them: by site, by variant, by equipment, a month at a time.
//!
//! A store fills them with its own sums, or they are made of rows. Never here: what a figure means.

use super::JobRow;
use super::sums::{Groups, Key, Sums, by_equipment, by_variant};
use std::collections::{BTreeMap, BTreeSet};

/// Sums of a period.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Figures {
    /// Months that the sums are of, in their order, as YYYY-MM.
    pub months: Vec<String>,
    /// Sums by site, variant and month.
    pub by_variant: Groups,
    /// Sums by site, equipment and month.
    pub by_equipment: Groups,
}

impl Figures {
    /// Sums of rows whose come-backs were joined.
    #[must_use]
    pub fn of(rows: &[JobRow], as_of_us: i64) -> Self {
        Self::new(by_variant(rows, as_of_us), by_equipment(rows, as_of_us))
    }

    /// Of sums that were made elsewhere; the months are those that occur.
    #[must_use]
    pub fn new(by_variant: Groups, by_equipment: Groups) -> Self {
        let months: BTreeSet<String> = by_variant.keys().map(|key| key.month.clone()).collect();
        Self { months: months.into_iter().collect(), by_variant, by_equipment }
    }

    /// Identities of the sites, in their order.
    #[must_use]
    pub fn sites(&self) -> Vec<&str> {
        let sites: BTreeSet<&str> = self.by_variant.keys().map(|key| key.site.as_str()).collect();
        sites.into_iter().collect()
    }

    /// All that one site has.
    #[must_use]
    pub fn site(&self, site: &str) -> Sums {
        added(own(&self.by_variant, site).map(|(_, sums)| sums))
    }

    /// What one site has in each month, in their order.
    #[must_use]
    pub fn monthly(&self, site: &str) -> Vec<Sums> {
        self.in_months(own(&self.by_variant, site))
    }

    /// What one piece of equipment of a site has in each month, in their order.
    pub(super) fn monthly_of(&self, site: &str, equipment: &str) -> Vec<Sums> {
        self.in_months(own(&self.by_equipment, site).filter(|(key, _)| key.of == equipment))
    }

    /// Codes of the equipment of a site; an empty one where it was not named.
    pub(super) fn equipment_of(&self, site: &str) -> BTreeSet<&str> {
        own(&self.by_equipment, site).map(|(key, _)| key.of.as_str()).collect()
    }

    /// What one site has by variant.
    pub(super) fn variants_of(&self, site: &str) -> BTreeMap<&str, Sums> {
        let mut variants: BTreeMap<&str, Sums> = BTreeMap::new();
        for (key, sums) in own(&self.by_variant, site) {
            variants.entry(&key.of).or_default().add(sums);
        }
        variants
    }

    /// What all sites have by variant.
    pub(super) fn variants(&self) -> BTreeMap<&str, Sums> {
        let mut variants: BTreeMap<&str, Sums> = BTreeMap::new();
        for (key, sums) in &self.by_variant {
            variants.entry(&key.of).or_default().add(sums);
        }
        variants
    }

    /// Place of a month.
    pub(super) fn place(&self, month: &str) -> Option<usize> {
        self.months.binary_search_by(|known| known.as_str().cmp(month)).ok()
    }

    fn in_months<'a>(&self, groups: impl Iterator<Item = (&'a Key, &'a Sums)>) -> Vec<Sums> {
        let mut months = vec![Sums::default(); self.months.len()];
        for (key, sums) in groups {
            if let Some(month) = self.place(&key.month).and_then(|place| months.get_mut(place)) {
                month.add(sums);
            }
        }
        months
    }
}

/// The groups of one site, without a look at the others.
pub(super) fn own<'a>(groups: &'a Groups, site: &str) -> impl Iterator<Item = (&'a Key, &'a Sums)> {
    let first = Key { site: site.to_owned(), ..Key::default() };
    let site = site.to_owned();
    groups.range(first..).take_while(move |(key, _)| key.site == site)
}

/// Sums added.
pub(super) fn added<'a>(each: impl Iterator<Item = &'a Sums>) -> Sums {
    let mut total = Sums::default();
    each.for_each(|sums| total.add(sums));
    total
}
