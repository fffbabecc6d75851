//! How much new fluid is inside, now and after further litres, from whatever was seen.
//!
//! Two ways of flowing are fitted to the looks and weighted by their evidence. From three spaced looks on only the
//! litres still to come rest on them: what was seen is counted by the balance of `exchange`, which needs no way of
//! flowing. Below that the share is that of the models, without any look that of what is usual. The share at
//! handover is `refill`, fed with [`Forecast::kept_at`]; how far to go is in `to_go`. Nothing here has a sentence.

mod anchor;

use self::anchor::Anchor;
use super::exchange::{Exchange, Retained, Spacing, new_share, retained, spacing};
use super::fit::{Fit, Prior, Reading, fit};
use super::flow::{Flow, Tanks, TwoCompartments};
use super::seen::{Seen, Sorted, Warning, sorted};
use crate::quantity::{Estimate, Litres};

/// What is usual for `ln n` of tanks in a row: 1.7 tanks, within a factor of 1.5 (house values, no source).
pub const TANKS_PRIOR: Prior = Prior::normal(0.530_628_251_062_170_4, 0.40);
/// What is usual for `ln(d / (1 - d))` of the slow part: two of ten litres (house values, no source).
pub const SLOW_PART_PRIOR: Prior = Prior::normal(-1.386_294_361_119_890_6, 0.7);
/// What is usual for `ln k`: a slow part that exchanges 0.05 L for each litre pushed (house values, no source).
pub const SLOW_EXCHANGE_PRIOR: Prior = Prior::normal(-2.995_732_273_553_991, 0.8);

/// What is known of an exchange.
#[derive(Clone, Copy, Debug)]
pub struct Known<'a> {
    /// The looks, in the order in which they were taken.
    pub taken: &'a [Seen],
    /// Litres pushed in all.
    pub pushed: Litres,
    /// Litres in the hose between the transmission and the glass; 0 where it does not matter.
    pub hose: Litres,
    /// Litres inside when the level is right.
    pub fill: Option<Estimate>,
    /// Relative standard uncertainty of the litre display: 0.03 / √3 unless it was checked.
    pub display_relative_uncertainty: f64,
    /// Relative standard uncertainty that all looks have in common, from the samples they are compared with.
    pub reference_relative_uncertainty: f64,
    /// Part of the looks' variance that they have in common, see [`super::exchange::TUBES_COMMON_PART`].
    pub common_part: f64,
}

/// What the share rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Basis {
    /// No look: litres and what is usual.
    Litres,
    /// Fewer than three spaced looks: the two ways of flowing, weighted.
    Models,
    /// Three spaced looks or more: the balance, and the ways of flowing only beyond the last look.
    Balance,
}

/// What can be said of an exchange.
#[derive(Clone, Debug)]
pub struct Assessment {
    /// What whoever reads a number of it should know; never empty where something is wrong with the input.
    pub warnings: Vec<Warning>,
    /// Litres kept up to the last look by the balance alone; absent below three spaced looks. Needs no fill.
    pub balance: Option<Retained>,
    /// The share over the litres; absent where the fill is unknown.
    pub forecast: Option<Forecast>,
}

/// A flow, and the trapezoid through its outlet at the looks, which is the same however far it is carried.
#[derive(Clone, Debug, PartialEq)]
struct Drawn<F> {
    flow: F,
    straight: f64,
}

/// A way of flowing, fitted: at the best parameters, and one step of the covariance to each side.
#[derive(Clone, Debug, PartialEq)]
struct Way<F> {
    best: Drawn<F>,
    steps: Vec<[Drawn<F>; 2]>,
    log_evidence: f64,
    readings_cost: f64,
}

impl<F: Flow> Way<F> {
    /// Draws straight lines through the outlet at the looks.
    fn drawn(mut self, anchor: &Anchor) -> Self {
        for drawn in std::iter::once(&mut self.best).chain(self.steps.iter_mut().flatten()) {
            drawn.straight = anchor.straight(&drawn.flow);
        }
        self
    }

    /// What follows from the flow, with the uncertainty of its parameters: each step of a whole standard deviation
    /// to both sides (JCGM 100:2008, 5.1.3 note 2).
    fn carried(&self, result: impl Fn(&Drawn<F>) -> f64) -> Estimate {
        let mut variance = 0.0;
        for [up, down] in &self.steps {
            variance += ((result(up) - result(down)) / 2.0).powi(2);
        }
        Estimate::known(result(&self.best), variance.sqrt())
    }

    /// As [`Way::carried`], with the bend of the curve in the value: its mean over what is usual, not its value at
    /// the middle, which matters while little was seen (JCGM 100:2008, 5.1.2 note: terms of higher order).
    fn carried_with_bend(&self, result: impl Fn(&Drawn<F>) -> f64) -> Estimate {
        let straight = self.carried(&result);
        let both = |[up, down]: &[Drawn<F>; 2]| (result(up) + result(down)) / 2.0 - straight.value;
        let bend: f64 = self.steps.iter().map(both).sum();
        Estimate { value: straight.value + bend, ..straight }
    }
}

/// The share of new fluid over the litres.
#[derive(Clone, Debug)]
pub struct Forecast {
    basis: Basis,
    fill: Estimate,
    display_relative_uncertainty: f64,
    pushed: f64,
    /// What the balance says was kept by the last look.
    anchor: Option<Anchor>,
    tanks: Way<Tanks>,
    two_compartments: Way<TwoCompartments>,
    weight_tanks: f64,
    readings: usize,
}

/// Reads all that was seen of an exchange.
///
/// `e_m = (G + B_m + V_m (m_m(v_last) - m_m(v))) / V`, `w = 1 / (1 + exp(ln ev_d - ln ev_t))`, `e = w e_t + (1 - w) e_d`,
/// `u² = w (u_t² + (e_t - e)²) + (1 - w)(u_d² + (e_d - e)²)`
///
/// * `known` – looks, litres and fill
///
/// G is the trapezoid through the looks up to the last, B_m how much model m bends away from straight lines between
/// them, m_m its mean old share (tanks t, slow part d), all at its best parameters and carried with their
/// covariance. Below three spaced looks `e_m = 1 - m_m(v)`.
///
/// # Source
/// Mass balance (Danckwerts, Chem. Eng. Sci. 2 (1953) 1-13); averaging of models: Kass and Raftery, J. Am. Stat.
/// Assoc. 90 (1995) 773 (from memory). The anchoring is ours: the models differ by up to 14 of 100 parts in what
/// they say was kept, the balance by less than one. So is B_m: without it four looks give 1.7 of 100 parts too much
/// where there is a slow part (1000 simulated exchanges), and with looks at each litre it vanishes.
#[must_use]
pub fn assess(known: &Known<'_>) -> Assessment {
    let Sorted { looks, mut warnings } = sorted(known.taken, known.pushed);
    let seen = Sorted { looks, warnings: Vec::new() };
    let readings = seen.readings(known.hose.get());
    let balance = balance(known, &seen, &readings);
    let fill = known
        .fill
        .filter(|fill| fill.value > 0.0 && fill.value.is_finite() && fill.standard_uncertainty.is_finite());
    let Some(fill) = fill else {
        warnings.push(Warning::FillUnknown);
        return Assessment { warnings, balance, forecast: None };
    };
    let forecast = forecast(known, fill, &readings, balance.is_some());
    let with_litres_alone = || {
        warnings.push(Warning::NotFitted);
        self::forecast(known, fill, &[], false)
    };
    let forecast = forecast.or_else(with_litres_alone);
    Assessment { warnings, balance, forecast }
}

/// The share over the litres from readings of the outlet curve, of which some may lie a little outside 0 to 1.
///
/// * `known` – litres and what is common to the readings; its looks are not used
/// * `fill` – V in litres, more than 0
/// * `readings` – old shares in rising order of the litres that had left
/// * `spaced` – whether they carry a balance
///
/// Nothing comes back if the ways of flowing cannot be fitted.
#[must_use]
pub fn forecast(known: &Known<'_>, fill: Estimate, readings: &[Reading], spaced: bool) -> Option<Forecast> {
    let display = known.display_relative_uncertainty;
    let relative = (fill.standard_uncertainty / fill.value).hypot(display);
    let (tanks, two_compartments) = ways(fill.value, relative, readings)?;
    let last = readings.last().map_or(0.0, |last| last.at + known.hose.get());
    let anchor = spaced.then(|| Anchor::through(known, readings));
    let (tanks, two_compartments) = match &anchor {
        Some(anchor) => (tanks.drawn(anchor), two_compartments.drawn(anchor)),
        None => (tanks, two_compartments),
    };
    Some(Forecast {
        basis: match (spaced, readings.is_empty()) {
            (true, _) => Basis::Balance,
            (false, false) => Basis::Models,
            (false, true) => Basis::Litres,
        },
        fill,
        display_relative_uncertainty: display,
        pushed: known.pushed.get().max(last),
        anchor,
        weight_tanks: 1.0 / (1.0 + (two_compartments.log_evidence - tanks.log_evidence).exp()),
        tanks,
        two_compartments,
        readings: readings.len(),
    })
}

/// The balance up to the last look, where there are three spaced ones.
fn balance(known: &Known<'_>, seen: &Sorted, readings: &[Reading]) -> Option<Retained> {
    let looks = seen.for_balance();
    let last = readings.last()?.at;
    if readings.len() < 3 || spacing(&looks, looks.last()?.litres) != Spacing::Enough {
        return None;
    }
    Some(retained(&Exchange {
        looks: &looks,
        pushed: Litres::new(last).ok()?,
        hose: known.hose,
        litres_relative_uncertainty: known.display_relative_uncertainty,
        reference_relative_uncertainty: known.reference_relative_uncertainty,
        common_part: known.common_part,
    }))
}

/// Tanks from `ln V, ln n`.
#[must_use]
pub fn tanks_of(&[ln_fill, ln_count]: &[f64; 2]) -> Option<Tanks> {
    Tanks::new(ln_fill.exp(), ln_count.exp())
}

/// Two compartments from `ln V, ln(d / (1 - d)), ln k`.
#[must_use]
pub fn two_compartments_of(&[ln_fill, logit_slow, ln_exchange]: &[f64; 3]) -> Option<TwoCompartments> {
    let (fill, slow) = (ln_fill.exp(), 1.0 / (1.0 + (-logit_slow).exp()));
    TwoCompartments::new(fill * (1.0 - slow), fill * slow, ln_exchange.exp())
}

/// Tanks in a row fitted to readings of the outlet.
///
/// * `fill`, `relative` – what is known of the fill: litres and relative standard uncertainty
#[must_use]
pub fn fit_tanks(fill: f64, relative: f64, readings: &[Reading]) -> Option<Fit<2>> {
    let priors = [Prior::normal(fill.ln(), relative), TANKS_PRIOR];
    fit(|parameters| outlet(tanks_of(parameters)), readings, &priors)
}

/// Two compartments fitted to readings of the outlet.
///
/// * `fill`, `relative` – what is known of the fill: litres and relative standard uncertainty
#[must_use]
pub fn fit_two_compartments(fill: f64, relative: f64, readings: &[Reading]) -> Option<Fit<3>> {
    let priors = [Prior::normal(fill.ln(), relative), SLOW_PART_PRIOR, SLOW_EXCHANGE_PRIOR];
    fit(|parameters| outlet(two_compartments_of(parameters)), readings, &priors)
}

/// The outlet curve; parameters that are no flow give no number, which the search turns away from.
fn outlet<F: Flow>(flow: Option<F>) -> impl Fn(f64) -> f64 {
    move |litres| flow.as_ref().map_or(f64::NAN, |flow| flow.outlet(litres))
}

fn ways(fill: f64, relative: f64, readings: &[Reading]) -> Option<(Way<Tanks>, Way<TwoCompartments>)> {
    /// A fill known without any doubt would leave the fit no freedom at all.
    const LEAST_RELATIVE: f64 = 1e-3;
    let relative = relative.max(LEAST_RELATIVE);
    let tanks = way(&fit_tanks(fill, relative, readings)?, tanks_of)?;
    let two_compartments = way(&fit_two_compartments(fill, relative, readings)?, two_compartments_of)?;
    Some((tanks, two_compartments))
}

fn way<const P: usize, F>(fitted: &Fit<P>, flow: fn(&[f64; P]) -> Option<F>) -> Option<Way<F>> {
    let drawn = |parameters: &[f64; P]| Some(Drawn { flow: flow(parameters)?, straight: 0.0 });
    let mut steps = Vec::with_capacity(P);
    for [up, down] in &fitted.steps(1.0) {
        steps.push([drawn(up)?, drawn(down)?]);
    }
    Some(Way {
        best: drawn(&fitted.parameters)?,
        steps,
        log_evidence: fitted.log_evidence,
        readings_cost: fitted.readings_cost,
    })
}

impl Forecast {
    /// What the share rests on.
    #[must_use]
    pub fn basis(&self) -> Basis {
        self.basis
    }

    /// Litres pushed so far.
    #[must_use]
    pub fn pushed(&self) -> f64 {
        self.pushed
    }

    /// Litres inside when the level is right.
    #[must_use]
    pub fn fill(&self) -> Estimate {
        self.fill
    }

    /// Weight of the tanks in a row, 0 to 1; the rest is the slow part's.
    #[must_use]
    pub fn weight_tanks(&self) -> f64 {
        self.weight_tanks
    }

    /// Whether the readings leave open which way the fluid flows: the weight is from 0.1 to 0.9.
    #[must_use]
    pub fn both_ways_fit(&self) -> bool {
        (0.1..=0.9).contains(&self.weight_tanks)
    }

    /// The least sum of squared residuals of the looks that one of the two ways leaves, and how many looks.
    #[must_use]
    pub fn misfit(&self) -> (f64, usize) {
        (self.tanks.readings_cost.min(self.two_compartments.readings_cost), self.readings)
    }

    /// Old share at the outlet after `litres`.
    #[must_use]
    pub fn outlet_at(&self, litres: f64) -> Estimate {
        let old = self.averaged(
            self.tanks.carried_with_bend(|of| of.flow.outlet(litres)),
            self.two_compartments.carried_with_bend(|of| of.flow.outlet(litres)),
        );
        Estimate { value: old.value.clamp(0.0, 1.0), ..old }
    }

    /// What follows from the outlet curve, averaged over both ways; for sums over several places.
    #[must_use]
    pub fn of_outlet(&self, result: impl Fn(&dyn Fn(f64) -> f64) -> f64) -> Estimate {
        self.averaged(
            self.tanks.carried(|of| result(&|litres| of.flow.outlet(litres))),
            self.two_compartments.carried(|of| result(&|litres| of.flow.outlet(litres))),
        )
    }

    /// New litres inside after `litres`, as `refill` takes them; litres before the last look are taken as its own.
    ///
    /// Below three spaced looks the litres stand for the share: share times fill, with as much uncertainty as
    /// leaves that of the share when the fill's is added.
    #[must_use]
    pub fn kept_at(&self, litres: f64) -> Retained {
        let fill = self.fill.value;
        let kept = match &self.anchor {
            Some(anchor) => {
                let more = self.averaged(
                    self.tanks.carried(|of| anchor.beyond(&of.flow, of.straight, litres)),
                    self.two_compartments.carried(|of| anchor.beyond(&of.flow, of.straight, litres)),
                );
                let value = (anchor.kept.value + more.value).clamp(0.0, fill.min(litres.max(0.0)));
                let by_display = self.display_relative_uncertainty * value;
                let by_looks = anchor.kept.standard_uncertainty.hypot(more.standard_uncertainty);
                Estimate::known(value, by_looks.hypot(by_display))
            }
            None => {
                let share = self.averaged(
                    self.tanks.carried_with_bend(|of| 1.0 - of.flow.mean(litres)),
                    self.two_compartments.carried_with_bend(|of| 1.0 - of.flow.mean(litres)),
                );
                let value = share.value.clamp(0.0, 1.0);
                let by_fill = value * self.fill.standard_uncertainty / fill;
                let other = (share.standard_uncertainty.powi(2) - by_fill.powi(2)).max(0.0).sqrt();
                Estimate::known(value * fill, other * fill)
            }
        };
        Retained { litres: kept, last_old: self.outlet_at(litres), last_weight: 0.0 }
    }

    /// Share of new fluid in the whole fill after `litres`, 0 to 1.
    #[must_use]
    pub fn share_at(&self, litres: f64) -> Estimate {
        new_share(self.kept_at(litres).litres, self.fill)
    }

    /// Share of new fluid in the whole fill now.
    #[must_use]
    pub fn share_now(&self) -> Estimate {
        self.share_at(self.pushed)
    }

    /// Mean of both ways by their weights; what they differ by is part of what is not known.
    fn averaged(&self, tanks: Estimate, slow: Estimate) -> Estimate {
        let (w, v) = (self.weight_tanks, 1.0 - self.weight_tanks);
        let value = w * tanks.value + v * slow.value;
        let part = |one: Estimate| one.standard_uncertainty.powi(2) + (one.value - value).powi(2);
        Estimate::known(value, (w * part(tanks) + v * part(slow)).sqrt())
    }
}

#[cfg(test)]
#[path = "forecast/tests.rs"]
mod tests;
