//! Litres that a site's jobs lose more than those of other sites, and whether a display explains them.
//!
//! A litre display that is off loses the same part of every litre that it shows; hands lose litres whatever it shows.
//! Both are looked for from any month to any other. Works on sums alone. Never here: words.

use super::sums::{Counter, Sums};
use crate::quantity::Estimate;
use statrs::distribution::{ContinuousCDF as _, StudentsT};
use std::ops::{Add, Sub};

/// Litres a job that a site may differ from the others without anything being worth a word: half of what is told of a
/// single job (common practice, no source).
pub const LITRES_TOLERATED: f64 = 0.25;
/// Part by which a display may be off without anything being worth a word: its last digit in a fill of ten litres
/// (common practice, no source).
pub const DISPLAY_TOLERATED: f64 = 0.01;
/// A display that is off by more than this part is noticed, so litres are taken for its error only if they clearly go
/// with what it showed (common practice, no source).
const DISPLAY_PLAUSIBLE: f64 = 0.05;
/// How much likelier the display has to be than hands where it is checked or would be off by more than anybody overlooks,
/// as a natural logarithm: e² is about seven times (ours).
const CLEARLY: f64 = 2.0;
/// How much likelier hands have to be than a display that nobody checked: the display is looked at before people (ours).
const VERY_CLEARLY: f64 = 4.0;
/// Jobs of a stretch of months below which nothing is said of it (ours).
const STRETCH_JOBS: f64 = 10.0;
/// Of the probability of naming a display wrongly, the part for all of its months without a check (ours).
const KNOWN_WEIGHT: f64 = 0.7;
/// The part for the later ones of them, since a display that went off stays off until somebody checks it; what is left is
/// for any stretch of months (ours).
const LATER_WEIGHT: f64 = 0.2;
/// Scatter below which no readings of ours are, in L; keeps equal figures from being sure of anything.
const SCATTER_LEAST: f64 = 0.01;

/// Sums over jobs of litres lost beyond a centre, and of litres that the display showed.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Offsets {
    /// Jobs.
    pub jobs: f64,
    lost: f64,
    lost_squared: f64,
    shown: f64,
    shown_squared: f64,
    shown_lost: f64,
    displays_read: f64,
    displays_checked: f64,
}

impl Offsets {
    /// Of sums, beyond a centre in litres a job.
    #[allow(
        clippy::cast_precision_loss,
        reason = "sums of millions of jobs are below 2^63 and need no last digit"
    )]
    pub fn of(sums: &Sums, centre: f64) -> Self {
        let millilitres = |counter| sums.get(counter) as f64 / 1e3;
        let squares = |counter| sums.get(counter) as f64 / 1e6;
        let jobs = sums.get(Counter::Balanced) as f64;
        let (lost, shown) = (millilitres(Counter::Lost), millilitres(Counter::Shown));
        Self {
            jobs,
            lost: lost - jobs * centre,
            lost_squared: squares(Counter::LostSquared) - 2.0 * centre * lost + jobs * centre * centre,
            shown,
            shown_squared: squares(Counter::ShownSquared),
            shown_lost: squares(Counter::ShownLost) - centre * shown,
            displays_read: sums.get(Counter::DisplayRead) as f64,
            displays_checked: sums.get(Counter::DisplayChecked) as f64,
        }
    }

    /// Mean litres a job; absent without jobs.
    pub fn mean(&self) -> Option<f64> {
        (self.jobs > 0.0).then(|| self.lost / self.jobs)
    }

    /// Mean litres a job with its standard uncertainty from the scatter of the jobs; absent below two.
    pub fn mean_estimate(&self) -> Option<Estimate> {
        let mean = self.mean().filter(|_| self.jobs > 1.0)?;
        let scatter = (self.constant().residual / (self.jobs - 1.0)).max(SCATTER_LEAST * SCATTER_LEAST);
        Some(Estimate {
            value: mean,
            standard_uncertainty: (scatter / self.jobs).sqrt(),
            degrees_of_freedom: self.jobs - 1.0,
        })
    }

    /// Squares left about the mean.
    pub fn residual(&self) -> f64 {
        if self.jobs > 0.0 { self.constant().residual } else { 0.0 }
    }

    /// By what part more a display shows than came out, with its standard uncertainty; absent below two jobs.
    ///
    /// * `ways` – what the site loses with a display that is right: these sums are beyond its value
    pub fn display_estimate(&self, ways: &Estimate) -> Option<Estimate> {
        let found = self.proportional();
        if self.jobs < 2.0 || found.weight <= 0.0 {
            return None;
        }
        let scatter = (found.residual / (self.jobs - 1.0)).max(SCATTER_LEAST * SCATTER_LEAST);
        Some(with_ways(&found, scatter, self.jobs - 1.0, ways))
    }

    fn constant(&self) -> Fit {
        let value = self.lost / self.jobs;
        Fit {
            value,
            residual: (self.lost_squared - self.lost * value).max(0.0),
            weight: self.jobs,
            by_litre: 1.0,
        }
    }

    fn proportional(&self) -> Fit {
        let value = self.shown_lost / self.shown_squared;
        let residual = (self.lost_squared - self.shown_lost * value).max(0.0);
        Fit { value, residual, weight: self.shown_squared, by_litre: self.shown / self.shown_squared }
    }

    /// Whether most displays had a check that counts, so that their error is already taken out.
    pub fn is_checked(&self) -> bool {
        2.0 * self.displays_checked > self.displays_read
    }

    /// Whether litres lost go with what the display showed rather than with the number of jobs.
    ///
    /// `ln L = −n/2 ln(residual)` of both, in favour of a display that nobody checked unless it would be off by more than
    /// anybody overlooks
    pub fn goes_with_display(&self) -> bool {
        if self.jobs < 2.0 || self.shown_squared <= 0.0 {
            return false;
        }
        let (constant, proportional) = (self.constant(), self.proportional());
        let least = self.jobs * SCATTER_LEAST * SCATTER_LEAST;
        let likelier =
            self.jobs / 2.0 * (constant.residual.max(least) / proportional.residual.max(least)).ln();
        let overlooked = proportional.value.abs() <= DISPLAY_PLAUSIBLE && !self.is_checked();
        let needed = if overlooked { -VERY_CLEARLY } else { CLEARLY };
        likelier > needed
    }
}

impl Add for Offsets {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        Self {
            jobs: self.jobs + other.jobs,
            lost: self.lost + other.lost,
            lost_squared: self.lost_squared + other.lost_squared,
            shown: self.shown + other.shown,
            shown_squared: self.shown_squared + other.shown_squared,
            shown_lost: self.shown_lost + other.shown_lost,
            displays_read: self.displays_read + other.displays_read,
            displays_checked: self.displays_checked + other.displays_checked,
        }
    }
}

impl Sub for Offsets {
    type Output = Self;

    fn sub(self, other: Self) -> Self {
        Self {
            jobs: self.jobs - other.jobs,
            lost: self.lost - other.lost,
            lost_squared: self.lost_squared - other.lost_squared,
            shown: self.shown - other.shown,
            shown_squared: self.shown_squared - other.shown_squared,
            shown_lost: self.shown_lost - other.shown_lost,
            displays_read: self.displays_read - other.displays_read,
            displays_checked: self.displays_checked - other.displays_checked,
        }
    }
}

/// A value by least squares, what it leaves, and what its variance is divided by.
struct Fit {
    value: f64,
    residual: f64,
    weight: f64,
    /// By how much it changes where each job loses a litre more.
    by_litre: f64,
}

/// The stretch of months that stands out most.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Stretch {
    /// Place of its first month.
    pub from: usize,
    /// Place of its last month.
    pub to: usize,
    /// Its sums.
    pub inside: Offsets,
    /// Litres a job, or part of the litres shown.
    pub size: Estimate,
    /// Probability of standing out so much by chance, over all stretches that were looked at.
    pub p: f64,
}

impl Stretch {
    /// The same as one of several looks, of which it has a part of the probability of naming wrongly.
    fn weighted(self, part: f64) -> Self {
        Self { p: (self.p / part).min(1.0), ..self }
    }
}

/// What is looked for in months.
struct Look<'a> {
    fit: fn(&Offsets) -> Fit,
    /// What is tolerated.
    tolerated: f64,
    /// Whether less than nothing is looked for too.
    both_ways: bool,
    /// What the site loses anyhow, as well as it is known.
    ways: &'a Estimate,
}

impl Look<'_> {
    /// How far a value is beyond what is tolerated, in standard uncertainties.
    fn beyond(&self, size: &Estimate) -> f64 {
        let far = if self.both_ways { size.value.abs() } else { size.value };
        (far - self.tolerated) / size.standard_uncertainty
    }

    /// Probability of standing out by so many standard uncertainties by chance, for a value that is just tolerated: beyond
    /// it, or beyond what is tolerated on the other side.
    fn chance(&self, t: f64, size: &Estimate) -> f64 {
        let Ok(student) = StudentsT::new(0.0, 1.0, size.degrees_of_freedom) else { return 1.0 };
        let other = if self.both_ways {
            student.sf(t + 2.0 * self.tolerated / size.standard_uncertainty)
        } else {
            0.0
        };
        student.sf(t) + other
    }
}

/// The stretch of months in which more litres a job are lost than [`LITRES_TOLERATED`].
pub(super) fn litres_lost(months: &[Offsets]) -> Option<Stretch> {
    let ways = &Estimate::known(0.0, 0.0);
    let look = Look { fit: Offsets::constant, tolerated: LITRES_TOLERATED, both_ways: false, ways };
    most(months, &look, every(months))
}

/// Stretches of months in which a display is off by more than [`DISPLAY_TOLERATED`], in either direction: first the
/// months without a check that counts, then the later ones of them, then the one that stands out most of all.
///
/// * `ways` – what the site loses with a display that is right: the months are beyond its value
///
/// # Source
/// Weights of tests that are not looked at alike: B. L. Wiens, Pharmaceutical Statistics 2 (2003) 211-215 (from memory).
pub(super) fn display_off(months: &[Offsets], ways: &Estimate) -> Vec<Stretch> {
    let look = Look { fit: Offsets::proportional, tolerated: DISPLAY_TOLERATED, both_ways: true, ways };
    let unchecked = |month: &Offsets| month.displays_read > 0.0 && !month.is_checked();
    let from = months.iter().position(unchecked);
    let Some((from, to)) = from.zip(months.iter().rposition(unchecked)) else {
        return most(months, &look, every(months)).into_iter().collect();
    };
    let whole = most(months, &look, std::iter::once((from, to))).map(|found| found.weighted(KNOWN_WEIGHT));
    let later = most(months, &look, (from + 1..=to).map(|from| (from, to)));
    let later = later.map(|found| found.weighted(LATER_WEIGHT));
    let any =
        most(months, &look, every(months)).map(|found| found.weighted(1.0 - KNOWN_WEIGHT - LATER_WEIGHT));
    [whole, later, any].into_iter().flatten().collect()
}

/// One stretch: how far it stands out, in standard deviations, and what it is.
fn stretch(
    (from, to): (usize, usize),
    inside: Offsets,
    outside: &Offsets,
    look: &Look<'_>,
) -> Option<(f64, Stretch)> {
    let found = (look.fit)(&inside);
    if inside.jobs < STRETCH_JOBS || !(found.weight > 0.0 && found.value.is_finite()) {
        return None;
    }
    let (left, used) = left_outside(outside, look.fit);
    let degrees_of_freedom = inside.jobs + outside.jobs - 1.0 - used;
    let scatter = ((found.residual + left) / degrees_of_freedom).max(SCATTER_LEAST * SCATTER_LEAST);
    let size = with_ways(&found, scatter, degrees_of_freedom, look.ways);
    Some((look.beyond(&size), Stretch { from, to, inside, size, p: 1.0 }))
}

/// A fitted value with the uncertainty of what is left and of what was taken off each job.
///
/// `u² = s²/w + (b u(c))²`, b the change of the value by a litre more a job; degrees of freedom by Welch and Satterthwaite
///
/// # Source
/// JCGM 100:2008, 5.1.2 and G.4.1.
fn with_ways(found: &Fit, scatter: f64, degrees_of_freedom: f64, ways: &Estimate) -> Estimate {
    let own = scatter / found.weight;
    let of_ways = (found.by_litre * ways.standard_uncertainty).powi(2);
    let variance = own + of_ways;
    let parts = own * own / degrees_of_freedom + of_ways * of_ways / ways.degrees_of_freedom;
    Estimate {
        value: found.value,
        standard_uncertainty: variance.sqrt(),
        degrees_of_freedom: variance * variance / parts,
    }
}

/// Looks at every stretch: `t = (b − b₀) / u`, b by least squares inside, b₀ what is tolerated, u by [`with_ways`] from what
/// is left inside and, about a value of its own, outside. The probability is multiplied by the number of stretches
/// (Bonferroni).
///
/// # Source
/// Likelihood ratio for a shift at an unknown place: D. M. Hawkins, Journal of the American Statistical Association 72
/// (1977) 180-186 (from memory).
fn most(
    months: &[Offsets],
    look: &Look<'_>,
    stretches: impl Iterator<Item = (usize, usize)>,
) -> Option<Stretch> {
    let mut best: Option<(f64, Stretch)> = None;
    let mut looked_at = 0.0;
    let sum = |months: &[Offsets]| months.iter().fold(Offsets::default(), |sum, month| sum + *month);
    let whole = sum(months);
    // A stretch that goes on by a month from the one before adds that month; any other is summed.
    let mut before: Option<(usize, usize, Offsets)> = None;
    for (from, to) in stretches {
        let Some(each) = months.get(from..=to) else { continue };
        let inside = match (before, each.last()) {
            (Some((first, last, inside)), Some(month)) if first == from && last + 1 == to => inside + *month,
            _ => sum(each),
        };
        before = Some((from, to, inside));
        let Some((t, found)) = stretch((from, to), inside, &(whole - inside), look) else { continue };
        looked_at += 1.0;
        if best.as_ref().is_none_or(|(best, _)| t > *best) {
            best = Some((t, found));
        }
    }
    let (t, found) = best?;
    Some(Stretch { p: (look.chance(t, &found.size) * looked_at).min(1.0), ..found })
}

/// First and last month of every stretch.
fn every(months: &[Offsets]) -> impl Iterator<Item = (usize, usize)> {
    let count = months.len();
    (0..count).flat_map(move |from| (from..count).map(move |to| (from, to)))
}

/// What is left outside about a value of its own, and how many values that took.
fn left_outside(outside: &Offsets, fit: fn(&Offsets) -> Fit) -> (f64, f64) {
    if outside.jobs < 1.0 {
        return (0.0, 0.0);
    }
    let found = fit(outside);
    if found.weight > 0.0 && found.residual.is_finite() {
        (found.residual, 1.0)
    } else {
        (outside.lost_squared, 0.0)
    }
}
