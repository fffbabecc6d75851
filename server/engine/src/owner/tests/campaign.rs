//! Invented years: what was planted is found, and hardly anything else is named.
//!
//! A few of them daily, and twice two hundred in the full run. No number of the comparison was chosen by these seeds, but by
//! those from 10,000 on.

use super::year::{Fault, Plan, Planted, Year, year, year_until};
use crate::owner::naming::COMPARED_FROM_JOBS;
use crate::owner::{DisplayState, Figures, Measure, Named, named};
use std::collections::BTreeMap;
use std::ops::RangeInclusive;

/// Seeds that are looked at.
fn seeds() -> RangeInclusive<u64> {
    let full = std::env::var("STANDPIPE_TEST_CAMPAIGN").is_ok_and(|campaign| campaign == "full");
    1..=if full { 200 } else { 20 }
}

fn measure(fault: Fault) -> Measure {
    match fault {
        Fault::LitreLost => Measure::LitresLost,
        Fault::LotMixedUp => Measure::Fluid,
        Fault::WrenchPastCheck => Measure::ToolPast,
        Fault::DisplayOff => Measure::DisplayOff,
    }
}

fn is_of(planted: &Planted, named: &Named) -> bool {
    planted.site == named.site
        && measure(planted.fault) == named.measure
        && (planted.equipment.is_empty() || planted.equipment == named.equipment)
}

/// Whether it is so, by what the year was drawn with.
fn is_true(year: &Year, named: &Named) -> bool {
    let unchecked = named.measure == Measure::DisplayUnchecked
        && year.rows.iter().any(|row| {
            row.site == named.site
                && row.equipment == named.equipment
                && row.display == DisplayState::NeverChecked
        });
    unchecked || year.planted.iter().any(|planted| is_of(planted, named))
}

#[derive(Default)]
struct Campaign {
    found: BTreeMap<Measure, u32>,
    planted: BTreeMap<Measure, u32>,
    wrong: BTreeMap<Measure, u32>,
    sites: u32,
}

impl Campaign {
    fn run(seeds: RangeInclusive<u64>, sites: usize, months: usize, faults: bool) -> Self {
        let mut campaign = Self::default();
        for seed in seeds {
            let year = year(&Plan { sites, months, seed, faults });
            let named = named(&Figures::of(&year.rows, year.as_of_us));
            campaign.sites += u32::try_from(sites).unwrap();
            for planted in &year.planted {
                let found = named.iter().any(|named| is_of(planted, named));
                *campaign.planted.entry(measure(planted.fault)).or_default() += 1;
                *campaign.found.entry(measure(planted.fault)).or_default() += u32::from(found);
            }
            for named in named.iter().filter(|named| !is_true(&year, named)) {
                *campaign.wrong.entry(named.measure).or_default() += 1;
            }
        }
        campaign
    }

    /// Of each 100 faults of a sort that were planted those that were found.
    fn found_percent(&self, measure: Measure) -> f64 {
        let of =
            |counts: &BTreeMap<Measure, u32>| f64::from(counts.get(&measure).copied().unwrap_or_default());
        100.0 * of(&self.found) / of(&self.planted)
    }

    /// Of each 100 pairs of a site and a measure that chance plays with those that were named and are not so.
    fn wrong_percent(&self) -> f64 {
        // Displays, litres, and the three shares.
        100.0 * f64::from(self.wrong.values().sum::<u32>()) / (5.0 * f64::from(self.sites))
    }

    /// The same of displays alone, which are the hardest to tell from what a site loses anyhow.
    fn displays_wrong_percent(&self) -> f64 {
        let wrong = self.wrong.get(&Measure::DisplayOff).copied().unwrap_or_default();
        100.0 * f64::from(wrong) / f64::from(self.sites)
    }

    fn print(&self, what: &str) {
        for measure in self.found.keys() {
            println!(
                "owner campaign, {what}: {} found in {:.1} of 100",
                measure.word(),
                self.found_percent(*measure)
            );
        }
        println!(
            "owner campaign, {what}: named wrongly {:.3} of 100 site-measures, displays alone {:.2}, {:?}",
            self.wrong_percent(),
            self.displays_wrong_percent(),
            self.wrong
        );
    }
}

fn hold(seeds: RangeInclusive<u64>) {
    let campaign = Campaign::run(seeds.clone(), 30, 12, true);
    campaign.print(&format!("30 sites, 12 months, seeds {seeds:?}"));
    for fault in Fault::ALL {
        assert!(campaign.found_percent(measure(fault)) >= 95.0, "{fault:?}");
    }
    assert!(campaign.wrong_percent() <= 0.3);
    // A display of 0.8 % at a site whose ways nobody knows looks like one of 2 %: no sums tell these apart better.
    assert!(campaign.displays_wrong_percent() <= 0.5);
}

#[test]
fn planted_faults_are_found_and_hardly_any_site_is_named_wrongly() {
    hold(seeds());
    if *seeds().end() == 200 {
        hold(201..=400);
    }
}

#[test]
fn a_year_without_a_fault_names_hardly_anybody_and_few_sites_neither() {
    for (sites, months) in [(30, 12), (5, 12), (12, 6)] {
        let campaign = Campaign::run(seeds(), sites, months, false);
        campaign.print(&format!("{sites} sites, {months} months, nothing planted"));
        assert!(campaign.wrong_percent() <= 0.3);
    }
}

#[test]
fn the_same_plan_gives_the_same_year_and_small_sites_are_in_it() {
    let plan = Plan { sites: 30, months: 12, seed: 1, faults: true };
    let (one, other) = (year(&plan), year(&plan));
    assert_eq!(one, other);
    assert!(one.rows.len() > 5_000, "{}", one.rows.len());
    let counts = |site: &str| one.rows.iter().filter(|row| row.site == site).count() as u64;
    assert!(one.sites.iter().all(|(site, _)| counts(site) > COMPARED_FROM_JOBS));
}

#[test]
fn a_year_until_a_time_has_its_months_up_to_that_and_nothing_later() {
    let plan = Plan { sites: 3, months: 14, seed: 7, faults: true };
    // 29 February 2028, 12:00 UTC.
    let now_us = 1_835_438_400_000_000;
    let year = year_until(&plan, now_us);
    let months: std::collections::BTreeSet<&str> = year.rows.iter().map(|row| row.month.as_str()).collect();
    assert_eq!((months.first(), months.last(), months.len()), (Some(&"2027-01"), Some(&"2028-02"), 14));
    assert!(year.rows.iter().all(|row| row.closed_us.is_some_and(|closed| closed < now_us)));
    assert!(year.rows.iter().all(|row| row.day.starts_with(&row.month) && row.number.len() == 11));
    assert!(year.rows.iter().any(|row| row.day == "2028-02-29") && year.as_of_us == now_us);
}
