//! Which figures of which site are named: facts always, figures only where they are beyond chance.
//!
//! All figures of all sites are tested at once, so whatever hints at people has to be so far off that of twenty such
//! sheets nineteen name nobody wrongly (Holm). A display is named sooner, since checking it costs five minutes and blames
//! nobody. Works on sums alone, which a store can make. Never here: words, or jobs by themselves.

use super::figures::{Figures, added, own};
use super::measure::Measure;
use super::offsets::{Offsets, Stretch, display_off, litres_lost};
use super::rates::{Rate, rates};
use super::sums::{Counter, Sums};
use super::ways::Ways;
use crate::formula::funnel::SITES_FOR_SPREAD;
use crate::formula::holm;
use crate::quantity::Estimate;
use std::collections::BTreeMap;

/// Sites with fewer jobs than these are not compared, and their names are not shown beside figures of chance (common
/// practice, no source).
pub const COMPARED_FROM_JOBS: u64 = 20;
/// Probability that a sheet names anybody wrongly for what is no display, over all its tests.
pub const NAMED_WRONGLY: f64 = 0.05;
/// Probability that a display with a check that counts is named wrongly: one side of the 99.8 % limits of a funnel.
pub const CHECKED_NAMED_WRONGLY: f64 = 0.001;
/// The same for a display without one that is off by just what is tolerated. It is to be checked in any case, so it is
/// named sooner; how little is known of what the site loses anyhow is counted (ours).
pub const UNCHECKED_NAMED_WRONGLY: f64 = 0.15;

/// A site that is named for something.
#[derive(Debug, Clone, PartialEq)]
pub struct Named {
    /// For what.
    pub measure: Measure,
    /// Identity of the site.
    pub site: String,
    /// Code of the equipment that it is about; empty where it is about none.
    pub equipment: String,
    /// First month.
    pub from_month: String,
    /// Last month.
    pub to_month: String,
    /// Jobs of these months that count.
    pub jobs: u64,
    /// Of these the jobs of which it is so; all where it is about litres.
    pub events: u64,
    /// Litres a job beyond the other sites, or the part by which a display is off; absent for shares and facts.
    pub size: Option<Estimate>,
    /// Events that would be expected; absent for litres and facts.
    pub expected: Option<f64>,
}

/// What each site loses a job, by variant and of all variants together.
#[derive(Debug, Default)]
pub(super) struct OfAll<'a> {
    variants: BTreeMap<&'a str, Vec<(&'a str, f64)>>,
    sites: Vec<(&'a str, f64)>,
    /// How much sites differ without anything being wrong.
    pub ways: Ways,
}

/// Litres a job that vehicles of other sites arrive short, by variant where these have enough jobs.
pub(super) struct Centres<'a> {
    figures: &'a Figures,
    site: &'a str,
    /// Litres a job of all their jobs; 0 where none of them has enough.
    pub all: f64,
    /// Whether another site has enough jobs to be a centre.
    pub is_known: bool,
    variants: BTreeMap<&'a str, f64>,
}

/// Everything that is named, in the order of [`Measure`], then of the sites.
#[must_use]
pub fn named(figures: &Figures) -> Vec<Named> {
    let mut named = facts(figures);
    let (displays, others) = tests(figures);
    let adjusted = holm::adjusted(&others.iter().map(|(p, _)| *p).collect::<Vec<_>>());
    let beyond = others.into_iter().zip(adjusted).filter(|(_, p)| *p <= NAMED_WRONGLY);
    named.extend(beyond.filter_map(|((_, test), _)| test));
    // Litres that do not go with what a display showed are lost whatever the display does; part of them looks like one.
    let lost: Vec<String> = named
        .iter()
        .filter(|named| named.measure == Measure::LitresLost)
        .map(|named| named.site.clone())
        .collect();
    named.extend(displays.into_iter().filter(|display| !lost.contains(&display.site)));
    named.sort_by(|one, other| {
        (one.measure, &one.site, &one.equipment).cmp(&(other.measure, &other.site, &other.equipment))
    });
    named
}

/// Every measure that chance plays with, and of how many sites it was tested, of those that are asked for: without a test
/// nothing is beyond chance, and nothing within it.
pub(super) fn tested(figures: &Figures, site: Option<&str>) -> Vec<(Measure, usize)> {
    let asked = |of: &str| site.is_none_or(|site| site == of);
    let litres = figures.sites().into_iter().filter(|of| asked(of) && enough(&figures.site(of)).is_some());
    let shares = Measure::ALL.iter().copied().filter(|measure| measure.share().is_some());
    let shares = shares.map(|measure| {
        let sites = rates(figures, measure).sites;
        let compared: Vec<&Rate> = sites.iter().filter(|rate| rate.is_compared()).collect();
        // Where nothing is expected, none occurred among as many jobs of as many sites.
        let has_none = compared.len() >= SITES_FOR_SPREAD;
        let is_tested = |rate: &&&Rate| rate.p.is_some() || has_none && rate.expected <= 0.0;
        (measure, compared.iter().filter(|rate| asked(&rate.site)).filter(is_tested).count())
    });
    let has_display = |site: &&str| {
        let mut displays = figures.equipment_of(site).into_iter().filter(|equipment| !equipment.is_empty());
        displays.any(|equipment| enough(&added(figures.monthly_of(site, equipment).iter())).is_some())
    };
    let displays = figures.sites().into_iter().filter(|of| asked(of)).filter(has_display).count();
    [(Measure::LitresLost, litres.count()), (Measure::DisplayOff, displays)]
        .into_iter()
        .chain(shares)
        .collect()
}

/// Facts: no chance plays with them.
fn facts(figures: &Figures) -> Vec<Named> {
    let mut named = Vec::new();
    for site in figures.sites() {
        for equipment in figures.equipment_of(site) {
            let months = figures.monthly_of(site, equipment);
            let read = |sums: &Sums| sums.get(Counter::DisplayRead);
            let unchecked = |sums: &Sums| read(sums) - sums.get(Counter::DisplayChecked);
            named.extend(fact(
                figures,
                Measure::DisplayUnchecked,
                (site, equipment),
                &months,
                read,
                unchecked,
            ));
        }
        let months = figures.monthly(site);
        let jobs = |sums: &Sums| sums.get(Counter::Jobs);
        let tools = |sums: &Sums| sums.get(Counter::ToolPast);
        let fluid = |sums: &Sums| sums.get(Counter::OtherFluid) + sums.get(Counter::RecalledLot);
        named.extend(fact(figures, Measure::ToolPast, (site, ""), &months, jobs, tools));
        named.extend(fact(figures, Measure::Fluid, (site, ""), &months, jobs, fluid));
    }
    named
}

fn fact(
    figures: &Figures,
    measure: Measure,
    (site, equipment): (&str, &str),
    months: &[Sums],
    jobs: impl Fn(&Sums) -> i64,
    events: impl Fn(&Sums) -> i64,
) -> Option<Named> {
    let from = months.iter().position(|sums| events(sums) > 0)?;
    let to = months.iter().rposition(|sums| events(sums) > 0)?;
    let inside = added(months.get(from..=to)?.iter());
    Some(Named {
        measure,
        site: site.to_owned(),
        equipment: equipment.to_owned(),
        from_month: figures.months.get(from)?.clone(),
        to_month: figures.months.get(to)?.clone(),
        jobs: u64::try_from(jobs(&inside)).unwrap_or_default(),
        events: u64::try_from(events(&inside)).unwrap_or_default(),
        size: None,
        expected: None,
    })
}

/// One test: its probability by chance, and what it would name. One that names nothing counts all the same.
type Test = (f64, Option<Named>);

/// Displays that are named, and every test of all else that is made.
fn tests(figures: &Figures) -> (Vec<Named>, Vec<Test>) {
    let mut tests = Vec::new();
    let mut of_displays = Vec::new();
    let of_all = OfAll::of(figures);
    for site in figures.sites() {
        let centres = Centres::of(figures, site, &of_all);
        tests.extend(litres(figures, site, &centres));
        of_displays.extend(displays(figures, site, &of_all.ways.of_site(figures, site, &centres)));
    }
    for measure in Measure::ALL.iter().copied().filter(|measure| measure.share().is_some()) {
        for rate in rates(figures, measure).sites.into_iter().filter(Rate::is_compared) {
            let named = Named {
                measure,
                site: rate.site,
                equipment: String::new(),
                from_month: figures.months.first().cloned().unwrap_or_default(),
                to_month: figures.months.last().cloned().unwrap_or_default(),
                jobs: rate.jobs,
                events: rate.events,
                size: None,
                expected: Some(rate.expected),
            };
            tests.extend(rate.p.map(|p| (p, Some(named))));
        }
    }
    (of_displays, tests)
}

fn litres(figures: &Figures, site: &str, centres: &Centres<'_>) -> Option<Test> {
    let months = centres.monthly();
    if !is_compared(&months) {
        return None;
    }
    let stretch = litres_lost(&months)?;
    let people = !stretch.inside.goes_with_display();
    Some((stretch.p, found(figures, Measure::LitresLost, (site, ""), &stretch).filter(|_| people)))
}

fn displays(figures: &Figures, site: &str, ways: &Estimate) -> Vec<Named> {
    let test = |equipment: &str| {
        let sums = figures.monthly_of(site, equipment);
        let months: Vec<Offsets> = sums.iter().map(|sums| Offsets::of(sums, ways.value)).collect();
        let looks = display_off(&months, ways).into_iter().filter(|_| is_compared(&months));
        let found = looks.filter_map(|stretch| {
            let checked = stretch.inside.is_checked();
            let most = if checked { CHECKED_NAMED_WRONGLY } else { UNCHECKED_NAMED_WRONGLY };
            let display = stretch.p <= most && stretch.inside.goes_with_display();
            found(figures, Measure::DisplayOff, (site, equipment), &stretch).filter(|_| display)
        });
        found.into_iter().next()
    };
    let named = figures.equipment_of(site).into_iter().filter(|equipment| !equipment.is_empty());
    named.filter_map(test).collect()
}

fn found(
    figures: &Figures,
    measure: Measure,
    (site, equipment): (&str, &str),
    stretch: &Stretch,
) -> Option<Named> {
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a count of jobs")]
    let jobs = stretch.inside.jobs as u64;
    Some(Named {
        measure,
        site: site.to_owned(),
        equipment: equipment.to_owned(),
        from_month: figures.months.get(stretch.from)?.clone(),
        to_month: figures.months.get(stretch.to)?.clone(),
        jobs,
        events: jobs,
        size: Some(stretch.size),
        expected: None,
    })
}

#[allow(clippy::cast_precision_loss, reason = "a small number")]
fn is_compared(months: &[Offsets]) -> bool {
    months.iter().map(|month| month.jobs).sum::<f64>() >= COMPARED_FROM_JOBS as f64
}

impl<'a> OfAll<'a> {
    /// Once for all centres.
    pub fn of(figures: &'a Figures) -> Self {
        let mut of_all = Self::default();
        let mut sites: Vec<Estimate> = Vec::new();
        for site in figures.sites() {
            let variants = figures.variants_of(site);
            for (variant, sums) in &variants {
                of_all.variants.entry(*variant).or_default().extend(mean(site, sums));
            }
            let all = added(variants.values());
            of_all.sites.extend(mean(site, &all));
            sites.extend(enough(&all).and_then(|offsets| offsets.mean_estimate()));
        }
        of_all.ways = Ways::of(&sites);
        of_all
    }
}

impl<'a> Centres<'a> {
    /// By all sites but one, so that a site is not compared with itself: the median of what each loses a job, which one
    /// site that loses much does not move.
    pub fn of(figures: &'a Figures, site: &'a str, of_all: &OfAll<'a>) -> Self {
        // A variant that has a centre is of a site that has enough jobs altogether.
        let known = median(site, &of_all.sites);
        let all = known.unwrap_or_default();
        let own = figures.variants_of(site).into_keys();
        let centre = |variant| of_all.variants.get(variant).and_then(|means| median(site, means));
        let variants = own.map(|variant| (variant, centre(variant).unwrap_or(all))).collect();
        Self { figures, site, all, is_known: known.is_some(), variants }
    }

    /// What the site's jobs lose beyond the centres, a month at a time.
    pub fn monthly(&self) -> Vec<Offsets> {
        let mut months = vec![Offsets::default(); self.figures.months.len()];
        for (key, sums) in own(&self.figures.by_variant, self.site) {
            let centre = self.variants.get(key.of.as_str()).copied().unwrap_or(self.all);
            let place = self.figures.place(&key.month);
            if let Some(month) = place.and_then(|place| months.get_mut(place)) {
                *month = *month + Offsets::of(sums, centre);
            }
        }
        months
    }
}

/// What a site loses a job, where it has enough jobs to say so.
fn mean<'a>(site: &'a str, sums: &Sums) -> Option<(&'a str, f64)> {
    enough(sums)?.mean().map(|mean| (site, mean))
}

#[allow(clippy::cast_precision_loss, reason = "a small number")]
fn enough(sums: &Sums) -> Option<Offsets> {
    Some(Offsets::of(sums, 0.0)).filter(|offsets| offsets.jobs >= COMPARED_FROM_JOBS as f64)
}

/// Median of all but one site.
fn median(site: &str, means: &[(&str, f64)]) -> Option<f64> {
    let mut others: Vec<f64> = means.iter().filter(|(of, _)| *of != site).map(|(_, mean)| *mean).collect();
    others.sort_by(f64::total_cmp);
    let upper = others.get(others.len() / 2).copied()?;
    let lower = others.get((others.len() - 1) / 2).copied()?;
    Some(f64::midpoint(lower, upper))
}
