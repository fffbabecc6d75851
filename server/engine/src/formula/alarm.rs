//! What the looks say is not as it should be: nothing arrives, fresh at once, stopped changing, not explained.
//!
//! Plain tests on residuals; what somebody should do about it is said elsewhere. Each test is quiet until it has
//! enough to go by. Their rates of true and false calls are measured in the coverage tests.

use statrs::distribution::{ChiSquared, ContinuousCDF};

use super::fit::Reading;
use super::forecast::{Assessment, Known, assess};
use super::seen::{Seen, sorted};

/// Something about the looks that wants a person's eye.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Alarm {
    /// No fresh fluid reaches the glass: a closed thermostat of the cooler, or the wrong line.
    NothingArrives {
        /// Litres pushed when it was noticed.
        litres: f64,
    },
    /// Fresh fluid returns straight away: hoses exchanged, or a short path.
    FreshAtOnce {
        /// Mean old share of the first looks.
        old_share: f64,
    },
    /// The reading has stopped changing although old fluid is left.
    StoppedChanging {
        /// Litres from which on it did not change.
        from: f64,
        /// New share at which it stands.
        new_share: f64,
    },
    /// Neither way of flowing explains the looks.
    NotExplained {
        /// Sum of the squared residuals by their uncertainty.
        chi_square: f64,
        /// What 99 of 100 exchanges stay below.
        limit: f64,
    },
}

/// All that the looks say is not as it should be.
///
/// * `known` – the exchange
/// * `assessment` – what [`assess`] gave for it
#[must_use]
pub fn alarms(known: &Known<'_>, assessment: &Assessment) -> Vec<Alarm> {
    let readings = sorted(known.taken, known.pushed).readings(known.hose.get());
    let fill = known.fill.map(|fill| fill.value).filter(|fill| *fill > 0.0);
    let nothing = fill.and_then(|fill| nothing_arrives(&readings, fill));
    let found = [
        nothing,
        fresh_at_once(&readings),
        // What never began to change has not stopped.
        if nothing.is_none() { stopped_changing(known, &readings) } else { None },
        not_explained(assessment),
    ];
    found.into_iter().flatten().collect()
}

/// From 0.6 fills on, the mean of the last three old shares is not below `0.95 - 1.645 u / √n`; with fewer looks than
/// three, the mean of those from 0.8 fills on.
///
/// # Source
/// One-sided test at 95 % against an outlet of which one part in twenty is new (ours). Found in all of 1000
/// simulated exchanges without flow, called wrongly in fewer than one of 1000 others.
#[must_use]
pub fn nothing_arrives(readings: &[Reading], fill: f64) -> Option<Alarm> {
    let (counting, from) = match last_of(readings, 3) {
        Some(three) => (three, 0.6),
        // Few looks say nothing before most of what is usual has come.
        None => (readings.get(readings.partition_point(|reading| reading.at < 0.8 * fill)..)?, 0.8),
    };
    let litres = counting.last()?.at;
    let (mean, u) = mean_of(counting);
    let count = counting.iter().map(|_| 1.0).sum::<f64>();
    (litres >= from * fill && mean > 0.95 - 1.645 * u / count.sqrt())
        .then_some(Alarm::NothingArrives { litres })
}

/// Looks up to so many litres are the first ones.
pub const AT_ONCE_LITRES: f64 = 0.6;

/// The mean old share of the first two looks, both within 0.6 L, is below 0.7, or that of a single one below 0.5. It
/// is over when a later look is older by more than twice the combined standard uncertainty: somebody put it right.
///
/// # Source
/// In the models that are usual the outlet is above 0.9 after 0.6 L into 9 L (ours). A short path of half of the
/// fluid is found in all simulated exchanges, none of the others is called.
#[must_use]
pub fn fresh_at_once(readings: &[Reading]) -> Option<Alarm> {
    // At zero nothing has come yet.
    let readings = readings.get(readings.partition_point(|reading| reading.at <= 0.0)..)?;
    let near = readings.iter().take_while(|reading| reading.at <= AT_ONCE_LITRES && !reading.at_least);
    let count = near.take(2).count();
    let (first, later) = readings.split_at_checked(count)?;
    let limit = if count > 1 { 0.7 } else { 0.5 };
    let (old_share, u) = mean_of(first);
    let u = u / first.iter().map(|_| 1.0).sum::<f64>().sqrt();
    let older = |reading: &Reading| reading.value - old_share > 2.0 * reading.standard_uncertainty.hypot(u);
    (old_share < limit && !later.iter().any(older)).then_some(Alarm::FreshAtOnce { old_share })
}

/// From the eighth look on: the slope of the last four lies more than 2.5 combined standard deviations above the
/// slope that the looks before them foretell, and is not itself clearly falling (1.645 standard deviations).
///
/// # Source
/// Difference of two estimates by its standard deviation (JCGM 100:2008, 5.1.2); the limits are ours, chosen by
/// simulation.
#[must_use]
pub fn stopped_changing(known: &Known<'_>, readings: &[Reading]) -> Option<Alarm> {
    if readings.len() < 8 {
        return None;
    }
    let last = last_of(readings, 4)?;
    let from = last.first()?.at;
    let slope = Line::through(last)?;
    // Cheap first: a slope that clearly falls has not stopped.
    if slope.of(last.iter().map(|reading| reading.value)) < -1.645 * slope.standard_uncertainty {
        return None;
    }
    let before: Vec<Seen> =
        known.taken.iter().filter(|seen| seen.look.litres.get() - known.hose.get() < from).copied().collect();
    let forecast = assess(&Known { taken: &before, ..*known }).forecast?;
    let foretold = forecast.of_outlet(|outlet| slope.of(last.iter().map(|reading| outlet(reading.at))));
    let seen = slope.of(last.iter().map(|reading| reading.value));
    let combined = slope.standard_uncertainty.hypot(foretold.standard_uncertainty);
    let (old_share, _) = mean_of(last);
    (seen - foretold.value > 2.5 * combined)
        .then_some(Alarm::StoppedChanging { from, new_share: (1.0 - old_share).clamp(0.0, 1.0) })
}

/// The looks are farther from both ways of flowing than 99 of 100 exchanges are.
///
/// # Source
/// χ² test at 0.99 with as many degrees of freedom as looks: the priors stand for the parameters.
#[must_use]
pub fn not_explained(assessment: &Assessment) -> Option<Alarm> {
    let (chi_square, count) = assessment.forecast.as_ref()?.misfit();
    let limit = chi_square_limit(count)?;
    (chi_square > limit).then_some(Alarm::NotExplained { chi_square, limit })
}

/// The 0.99 quantile of χ²; nothing without a degree of freedom.
pub(super) fn chi_square_limit(degrees_of_freedom: usize) -> Option<f64> {
    let freedom = u32::try_from(degrees_of_freedom).ok().filter(|freedom| *freedom > 0)?;
    ChiSquared::new(f64::from(freedom)).ok().map(|distribution| distribution.inverse_cdf(0.99))
}

fn last_of(readings: &[Reading], count: usize) -> Option<&[Reading]> {
    readings.get(readings.len().checked_sub(count)?..)
}

/// Mean value, and root mean square of the uncertainties.
fn mean_of(readings: &[Reading]) -> (f64, f64) {
    let count = readings.iter().map(|_| 1.0).sum::<f64>();
    let value = readings.iter().map(|reading| reading.value).sum::<f64>() / count;
    let square = readings.iter().map(|reading| reading.standard_uncertainty.powi(2)).sum::<f64>() / count;
    (value, square.sqrt())
}

/// The slope of a straight line through readings, as a weighted sum of their values.
struct Line {
    weights: Vec<f64>,
    standard_uncertainty: f64,
}

impl Line {
    /// Least squares with weights 1/u²: `b = Σ w (x - x̄) y / Σ w (x - x̄)²`, `u(b)² = 1 / Σ w (x - x̄)²`.
    fn through(readings: &[Reading]) -> Option<Self> {
        let weight = |reading: &Reading| reading.standard_uncertainty.powi(-2);
        let total: f64 = readings.iter().map(weight).sum();
        let centre = readings.iter().map(|reading| weight(reading) * reading.at).sum::<f64>() / total;
        let spread: f64 =
            readings.iter().map(|reading| weight(reading) * (reading.at - centre).powi(2)).sum();
        if !(spread > 0.0 && spread.is_finite()) {
            return None;
        }
        let weights =
            readings.iter().map(|reading| weight(reading) * (reading.at - centre) / spread).collect();
        Some(Self { weights, standard_uncertainty: spread.sqrt().recip() })
    }

    fn of(&self, values: impl Iterator<Item = f64>) -> f64 {
        self.weights.iter().zip(values).map(|(weight, value)| weight * value).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::formula::exchange::Look;
    use crate::formula::flow::{Flow, ShortPath, Tanks};
    use crate::quantity::{Estimate, Litres, Share};

    fn seen(at: f64, old: f64) -> Seen {
        let (litres, new_share) = (Litres::new(at).unwrap(), Share::new(1.0 - old).unwrap());
        Seen { look: Look { litres, new_share, standard_uncertainty: 0.03 }, saturated: false }
    }

    fn found(taken: &[Seen]) -> Vec<Alarm> {
        let known = Known {
            taken,
            pushed: taken.last().map_or(Litres::new(0.0).unwrap(), |last| last.look.litres),
            hose: Litres::new(0.0).unwrap(),
            fill: Some(Estimate::known(9.0, 0.45)),
            display_relative_uncertainty: 0.017,
            reference_relative_uncertainty: 0.0,
            common_part: 0.0,
        };
        alarms(&known, &assess(&known))
    }

    fn exchange(flow: &impl Flow, at: &[f64]) -> Vec<Seen> {
        at.iter().map(|litres| seen(*litres, flow.outlet(*litres))).collect()
    }

    const EACH_LITRE: [f64; 12] = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 11.0, 12.0];

    #[test]
    fn an_exchange_as_usual_raises_no_alarm() {
        for count in [1.0, 1.7, 3.0] {
            for looks in 0..=12 {
                assert_eq!(found(&exchange(&Tanks::new(9.0, count).unwrap(), &EACH_LITRE[..looks])), []);
            }
        }
    }

    #[test]
    fn old_fluid_only_after_most_of_a_fill_says_that_nothing_arrives() {
        let taken: Vec<Seen> = [2.0, 4.0, 6.0].map(|litres| seen(litres, 1.0)).to_vec();
        assert!(found(&taken).contains(&Alarm::NothingArrives { litres: 6.0 }));
        assert_eq!(found(&taken[..2]), []);
    }

    #[test]
    fn fresh_fluid_at_once_is_told_and_a_look_too_late_is_not() {
        let short = ShortPath::new(0.5, Tanks::new(9.0, 2.0).unwrap()).unwrap();
        assert!(matches!(found(&exchange(&short, &[0.3, 0.6]))[..], [Alarm::FreshAtOnce { .. }, ..]));
        // One look alone is believed below a half only.
        let short = ShortPath::new(0.4, Tanks::new(9.0, 2.0).unwrap()).unwrap();
        assert!(
            fresh_at_once(&sorted(&exchange(&short, &[0.3, 1.6]), Litres::new(2.0).unwrap()).readings(0.0))
                .is_none()
        );
    }

    #[test]
    fn few_looks_say_that_nothing_arrives_only_after_most_of_a_fill() {
        let nothing = Alarm::NothingArrives { litres: 7.2 };
        assert!(found(&[seen(7.2, 1.0)]).contains(&nothing));
        assert!(found(&[seen(2.0, 0.6), seen(7.2, 1.0)]).contains(&nothing), "the first one came too early");
        assert!(!found(&[seen(7.1, 1.0)]).iter().any(|alarm| matches!(alarm, Alarm::NothingArrives { .. })));
        assert!(!found(&[seen(7.2, 0.85)]).contains(&nothing));
    }

    #[test]
    fn one_look_that_is_mostly_fresh_at_once_is_told_until_a_later_one_is_older() {
        let fresh =
            |taken: &[Seen]| found(taken).iter().any(|alarm| matches!(alarm, Alarm::FreshAtOnce { .. }));
        assert!(fresh(&[seen(0.5, 0.45)]) && fresh(&[seen(0.0, 1.0), seen(0.5, 0.45)]));
        assert!(!fresh(&[seen(0.5, 0.55)]) && !fresh(&[seen(0.7, 0.2)]));
        // 2 √(0.03² + 0.03²) = 0.085.
        assert!(fresh(&[seen(0.5, 0.3), seen(2.0, 0.38)]));
        assert!(!fresh(&[seen(0.5, 0.3), seen(2.0, 0.39)]));
        assert!(!fresh(&[]));
    }

    #[test]
    fn a_curve_that_stands_still_half_way_has_stopped_changing() {
        let tanks = Tanks::new(9.0, 1.7).unwrap();
        let taken: Vec<Seen> =
            EACH_LITRE.iter().map(|litres| seen(*litres, tanks.outlet(litres.min(5.0)))).collect();
        let alarms = found(&taken[..9]);
        let stopped = alarms.iter().find_map(|alarm| match alarm {
            Alarm::StoppedChanging { from, new_share } => Some((*from, *new_share)),
            _ => None,
        });
        let (from, new_share) = stopped.unwrap();
        assert_eq!(from, 6.0);
        assert!((new_share - (1.0 - tanks.outlet(5.0))).abs() < 1e-9);
    }

    #[test]
    fn looks_that_jump_are_not_explained() {
        let jumping: Vec<Seen> = EACH_LITRE
            .iter()
            .map(|litres| seen(*litres, if litres % 2.0 < 1.0 { 0.9 } else { 0.3 }))
            .collect();
        assert!(found(&jumping).iter().any(|alarm| matches!(alarm, Alarm::NotExplained { .. })));
    }

    #[test]
    fn the_limit_of_chi_square_is_that_of_the_tables() {
        // NIST/SEMATECH e-Handbook, 1.3.6.7.4: 0.99, 10 degrees of freedom: 23.209 (from memory).
        assert!((chi_square_limit(10).unwrap() - 23.209).abs() < 5e-4);
        assert_eq!(chi_square_limit(0), None);
    }
}
