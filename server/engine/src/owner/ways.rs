//! What a site's jobs lose with a display that is right: its jug, its rags, how it drains – no error of a display.
//!
//! A display that nobody checked is held against this, so how well it is known is a part of how well the display is. Where
//! other displays of the site are checked their jobs say it; else it is only known by how much sites differ. Works on sums
//! alone. Never here: what is named.

use super::figures::Figures;
use super::naming::Centres;
use super::offsets::{LITRES_TOLERATED, Offsets};
use crate::formula::funnel::SITES_FOR_SPREAD;
use crate::quantity::Estimate;

/// Standard deviation, in L a job, of what sites lose with a display that is right, where there are too few sites to tell:
/// a third of what is worth a word (ours).
const USUAL: f64 = LITRES_TOLERATED / 3.0;
/// A site that is farther from the others than so many standard deviations says nothing of how they differ (common
/// practice, no source).
const FAR: f64 = 3.0;
/// Standard deviation of a normal distribution divided by its median absolute deviation.
const NORMAL_BY_MEDIAN: f64 = 1.4826;

/// How much what sites lose a job differs without anything being wrong.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Ways {
    /// Variance, L².
    variance: f64,
    /// Degrees of freedom of it.
    degrees_of_freedom: f64,
    /// Sites that it is of.
    sites: f64,
}

impl Default for Ways {
    fn default() -> Self {
        Self { variance: USUAL * USUAL, degrees_of_freedom: f64::INFINITY, sites: 1.0 }
    }
}

impl Ways {
    /// By what each site loses a job: the variance of those that are not far off, less what their own scatter makes.
    ///
    /// # Source
    /// Median and median absolute deviation as what far-off values do not move: F. R. Hampel, Journal of the American
    /// Statistical Association 69 (1974) 383-393 (from memory).
    #[allow(clippy::cast_precision_loss, reason = "no owner has so many sites")]
    pub fn of(sites: &[Estimate]) -> Self {
        if sites.len() < SITES_FOR_SPREAD {
            return Self { sites: (sites.len() as f64).max(1.0), ..Self::default() };
        }
        let middle = median(sites.iter().map(|site| site.value).collect()).unwrap_or_default();
        let from_middle = |site: &Estimate| (site.value - middle).abs();
        let near = NORMAL_BY_MEDIAN * median(sites.iter().map(from_middle).collect()).unwrap_or_default();
        let kept: Vec<&Estimate> = sites.iter().filter(|site| from_middle(site) <= FAR * near).collect();
        let count = kept.len() as f64;
        let mean = kept.iter().map(|site| site.value).sum::<f64>() / count;
        let about = kept.iter().map(|site| (site.value - mean).powi(2)).sum::<f64>() / (count - 1.0);
        let scatter = kept.iter().map(|site| site.standard_uncertainty.powi(2)).sum::<f64>() / count;
        let variance = (about - scatter).max(0.0);
        if variance.is_finite() {
            Self { variance, degrees_of_freedom: count - 1.0, sites: count }
        } else {
            Self::default()
        }
    }

    /// What one site loses with a display that is right: what its jobs with a checked display say, drawn towards the other
    /// sites by how well they say it.
    ///
    /// `(m/u² + c/τ²) / (1/u² + 1/τ²)` and `1/√(1/u² + 1/τ²)`; τ² with the uncertainty of the median c of the others
    ///
    /// # Source
    /// Normal mean with a normal prior; variance of a median, π/2 of that of a mean (both from memory).
    pub fn of_site(&self, figures: &Figures, site: &str, centres: &Centres<'_>) -> Estimate {
        let others = self.variance * (1.0 + std::f64::consts::FRAC_PI_2 / self.sites);
        let unknown = Estimate {
            value: centres.all,
            standard_uncertainty: others.sqrt(),
            degrees_of_freedom: self.degrees_of_freedom,
        };
        let months =
            figures.equipment_of(site).into_iter().flat_map(|equipment| figures.monthly_of(site, equipment));
        let checked = months.map(|sums| Offsets::of(&sums, centres.all)).filter(Offsets::is_checked);
        let own = checked.fold(Offsets::default(), |sum, month| sum + month).mean_estimate();
        // So much that it is itself worth a look is nobody's way.
        let Some(own) = own.filter(|own| own.value.abs() <= LITRES_TOLERATED) else { return unknown };
        let scatter = own.standard_uncertainty.powi(2);
        let variance = others * scatter / (others + scatter);
        Estimate {
            value: centres.all + own.value * others / (others + scatter),
            standard_uncertainty: variance.sqrt(),
            degrees_of_freedom: own.degrees_of_freedom,
        }
    }
}

fn median(mut values: Vec<f64>) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    let upper = values.get(values.len() / 2).copied()?;
    let lower = values.get((values.len() - 1) / 2).copied()?;
    Some(f64::midpoint(lower, upper))
}
