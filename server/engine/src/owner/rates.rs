//! Shares of jobs of each site beside what would be expected of the same work at all sites.
//!
//! Expected is by variant, so that a site with the difficult transmissions is not blamed for them. How much sites differ
//! without anything being wrong is told from ten sites on; fewer are shown side by side, and none is named. Works on sums
//! alone. Never here: words.

use super::figures::Figures;
use super::measure::Measure;
use super::naming::COMPARED_FROM_JOBS;
use crate::formula::funnel::{self, Limits, SITES_FOR_SPREAD};
use crate::formula::proportion::{Interval, wilson};
use crate::formula::standard_ratio::{self, Ratio};
use statrs::distribution::{ContinuousCDF as _, Normal, StudentsT};

/// A share of one site beside what is expected of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Rate {
    /// The site.
    pub site: String,
    /// Jobs of which it is so.
    pub events: u64,
    /// Jobs that count.
    pub jobs: u64,
    /// 95 % interval of the share; absent without jobs.
    pub interval: Option<Interval>,
    /// Events that would be expected of the same jobs by the rates of all sites.
    pub expected: f64,
    /// Observed beside expected; absent where nothing is expected.
    pub ratio: Option<Ratio>,
    /// Limits of chance about what is expected, widened where sites differ more than by chance.
    pub limits: Option<Limits>,
    /// Probability of so many or more by chance and by how much sites differ; absent where there are too few sites to
    /// tell.
    pub p: Option<f64>,
    variance: f64,
}

/// Shares of all sites.
#[derive(Debug, Clone, PartialEq)]
pub struct Rates {
    /// Of each site, in the order of their identities.
    pub sites: Vec<Rate>,
    /// By how much limits are widened; absent where there are too few sites to tell.
    pub factor: Option<f64>,
}

impl Rate {
    /// Whether there are enough jobs to compare.
    #[must_use]
    pub fn is_compared(&self) -> bool {
        self.jobs >= COMPARED_FROM_JOBS
    }
}

/// The shares by a measure; nothing where it is no share.
#[must_use]
pub fn rates(figures: &Figures, measure: Measure) -> Rates {
    let Some((jobs, events)) = measure.share() else { return Rates { sites: Vec::new(), factor: None } };
    let of_all = figures.variants();
    let mut sites: Vec<Rate> = Vec::new();
    for site in figures.sites() {
        let variants = figures.variants_of(site);
        let sorts: Vec<(f64, f64, f64)> = variants
            .iter()
            .map(|(variant, sums)| {
                let of_all =
                    |counter| of_all.get(variant).map_or(0.0, |sums| float(whole(sums.get(counter))));
                (float(whole(sums.get(jobs))), of_all(events), of_all(jobs))
            })
            .collect();
        let count = |counter| variants.values().map(|sums| whole(sums.get(counter))).sum::<u64>();
        let (own_jobs, own_events) = (count(jobs), count(events));
        let (expected, variance) = standard_ratio::expected(&sorts);
        sites.push(Rate {
            site: site.to_owned(),
            events: own_events,
            jobs: own_jobs,
            interval: wilson(own_events, own_jobs),
            expected,
            ratio: standard_ratio::ratio(own_events, expected),
            limits: None,
            p: None,
            variance,
        });
    }
    let compared: Vec<(f64, f64, f64)> = sites
        .iter()
        .filter(|rate| rate.is_compared())
        .map(|rate| (float(rate.events), rate.expected, rate.variance))
        .collect();
    let spread = (compared.len() >= SITES_FOR_SPREAD).then(|| Spread::of(&compared));
    for rate in &mut sites {
        judge(rate, spread.as_ref());
    }
    Rates { sites, factor: spread.map(|spread| spread.factor) }
}

/// How much sites differ without anything being wrong.
struct Spread {
    /// By how much limits are widened.
    factor: f64,
    /// Variance of the true ratios.
    between: f64,
    /// Sites that it is known from, but one.
    degrees_of_freedom: f64,
}

impl Spread {
    fn of(compared: &[(f64, f64, f64)]) -> Self {
        let distances: Vec<f64> = compared
            .iter()
            .map(|(x, expected, variance)| funnel::distance(*x, *expected, *variance))
            .collect();
        Self {
            factor: funnel::spread(&distances).factor,
            between: standard_ratio::between(compared),
            degrees_of_freedom: float(compared.len() as u64) - 1.0,
        }
    }

    /// The widened limits hold a large site to the scatter of a small one, and true ratios are skew. So a name asks for
    /// more than the limits: the tail of counts whose true ratios scatter, its normal quantile against Student's t, since
    /// the scatter is itself estimated from the sites.
    fn chance(&self, rate: &Rate, target: f64) -> f64 {
        let alone = funnel::chance_of_as_many(rate.events, rate.jobs, target);
        if self.between <= 0.0 {
            return alone;
        }
        let chance = standard_ratio::chance_of_as_many(rate.events, rate.expected, self.between).max(alone);
        // The lower tail keeps the digits of a small probability.
        let distance = -Normal::standard().inverse_cdf(chance.clamp(f64::MIN_POSITIVE, 1.0));
        StudentsT::new(0.0, 1.0, self.degrees_of_freedom.max(1.0)).map_or(1.0, |student| student.sf(distance))
    }
}

/// Limits and probability of one site.
fn judge(rate: &mut Rate, spread: Option<&Spread>) {
    if rate.jobs == 0 || rate.expected <= 0.0 {
        return;
    }
    let target = (rate.expected / float(rate.jobs)).clamp(0.0, 1.0);
    let limits = funnel::limits(rate.jobs, target);
    rate.limits = limits.map(|limits| limits.widened(target, spread.map_or(1.0, |spread| spread.factor)));
    rate.p = spread.map(|spread| spread.chance(rate, target));
}

fn whole(count: i64) -> u64 {
    u64::try_from(count).unwrap_or_default()
}

#[allow(clippy::cast_precision_loss, reason = "no owner has so many jobs")]
fn float(count: u64) -> f64 {
    count as f64
}
