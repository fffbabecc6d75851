//! What was seen at the glass, put in order, with a warning for all that does not fit together.
//!
//! A look that contradicts another is kept: what is wrong with it is for a person to find. Only a look without
//! any stated uncertainty cannot be used. `forecast` and `alarm` take the looks from here, so that no number
//! comes without its warnings.

use super::exchange::{DarkerLook, Look, darker_look};
use super::fit::Reading;
use crate::quantity::{Litres, Share};

/// A look, and whether the instrument was at its end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Seen {
    /// The look.
    pub look: Look,
    /// The fluid was too dark to be read: at least this much of it is old, perhaps all.
    pub saturated: bool,
}

/// Something about the input that whoever reads the result should know.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Warning {
    /// Without the fill quantity there is no share.
    FillUnknown,
    /// A look stands at fewer litres than the one before it.
    LitresGoBack {
        /// Litres of the look before.
        from: Litres,
        /// Litres of the look.
        to: Litres,
    },
    /// Several looks at the same litres; they count as one, at their mean.
    SameLitres {
        /// The litres.
        litres: Litres,
        /// Whether they differ by more than twice their uncertainty.
        differ: bool,
    },
    /// A look at more litres than were pushed in all; the litres of the look count.
    BeyondPushed {
        /// Litres of the look.
        litres: Litres,
        /// Litres pushed in all, as stated.
        pushed: Litres,
    },
    /// A look whose uncertainty is not a number above 0; it is left out.
    NoUncertainty {
        /// Litres of the look.
        litres: Litres,
    },
    /// A look that only says "at least so much is old".
    Saturated {
        /// Litres of the look.
        litres: Litres,
    },
    /// A later look shows more old fluid than an earlier one.
    Darker(DarkerLook),
    /// The flow models could not be fitted; the forecast rests on the litres alone.
    NotFitted,
}

/// Looks in rising order of litres, one at each.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Sorted {
    /// The looks.
    pub looks: Vec<Seen>,
    /// What does not fit together.
    pub warnings: Vec<Warning>,
}

/// No look is better than this: a share of 1 in 200 is what the best reading of a colour gives (ours).
const LEAST_UNCERTAINTY: f64 = 0.005;

/// Sorts looks that are given in the order in which they were taken; the result does not depend on that order, only
/// the warnings do.
#[must_use]
pub fn sorted(taken: &[Seen], pushed: Litres) -> Sorted {
    let mut warnings = Vec::new();
    for pair in taken.windows(2) {
        if let [before, after] = pair
            && after.look.litres < before.look.litres
        {
            warnings.push(Warning::LitresGoBack { from: before.look.litres, to: after.look.litres });
        }
    }
    let mut looks = Vec::with_capacity(taken.len());
    for seen in taken {
        let u = seen.look.standard_uncertainty;
        if u > 0.0 && u.is_finite() {
            let standard_uncertainty = u.max(LEAST_UNCERTAINTY);
            looks.push(Seen { look: Look { standard_uncertainty, ..seen.look }, ..*seen });
        } else {
            warnings.push(Warning::NoUncertainty { litres: seen.look.litres });
        }
    }
    // Equal litres are ordered by what was seen, so that the mean is added up in one order only.
    looks.sort_by(|one, other| {
        let key =
            |seen: &Seen| [seen.look.litres.get(), seen.look.new_share.get(), seen.look.standard_uncertainty];
        let keys = key(one).into_iter().zip(key(other));
        keys.map(|(one, other)| one.total_cmp(&other))
            .fold(std::cmp::Ordering::Equal, std::cmp::Ordering::then)
    });
    let groups = looks.chunk_by(|one, other| one.look.litres == other.look.litres);
    let looks: Vec<Seen> = groups.filter_map(|group| merged(group, &mut warnings)).collect();
    for seen in &looks {
        if seen.look.litres > pushed {
            warnings.push(Warning::BeyondPushed { litres: seen.look.litres, pushed });
        }
        if seen.saturated {
            warnings.push(Warning::Saturated { litres: seen.look.litres });
        }
    }
    let plain: Vec<Look> = looks.iter().filter(|seen| !seen.saturated).map(|seen| seen.look).collect();
    warnings.extend(darker_look(&plain).map(Warning::Darker));
    Sorted { looks, warnings }
}

/// Several looks at the same litres as one: the mean, no better than a single look, since one eye and one light
/// saw all of them.
fn merged(group: &[Seen], warnings: &mut Vec<Warning>) -> Option<Seen> {
    let (first, last) = (group.first()?, group.last()?);
    if group.len() == 1 {
        return Some(*first);
    }
    let count = f64::from(u32::try_from(group.len()).ok()?);
    let mean = |value: fn(&Seen) -> f64| group.iter().map(value).sum::<f64>() / count;
    let standard_uncertainty = mean(|seen| seen.look.standard_uncertainty);
    let apart = last.look.new_share.get() - first.look.new_share.get();
    let differ = apart > 2.0 * 2.0_f64.sqrt() * standard_uncertainty;
    warnings.push(Warning::SameLitres { litres: first.look.litres, differ });
    let new_share = Share::new(mean(|seen| seen.look.new_share.get()).clamp(0.0, 1.0)).ok()?;
    // What the looks differ by is part of what is not known.
    let standard_uncertainty = standard_uncertainty.max(apart / (2.0 * 3.0_f64.sqrt()));
    let look = Look { litres: first.look.litres, new_share, standard_uncertainty };
    Some(Seen { look, saturated: group.iter().any(|seen| seen.saturated) })
}

impl Sorted {
    /// The looks as readings of the outlet curve: old share over the litres that had left, those of the hose taken
    /// off.
    #[must_use]
    pub fn readings(&self, hose: f64) -> Vec<Reading> {
        let reading = |seen: &Seen| Reading {
            at: seen.look.litres.get() - hose,
            value: 1.0 - seen.look.new_share.get(),
            standard_uncertainty: seen.look.standard_uncertainty,
            at_least: seen.saturated,
        };
        self.looks.iter().map(reading).filter(|reading| reading.at > 0.0).collect()
    }

    /// The looks for the balance: one that only says "at least" stands half way to all old, as uncertain as that
    /// is wide (rectangular, JCGM 100:2008, 4.3.7).
    #[must_use]
    pub fn for_balance(&self) -> Vec<Look> {
        let middle = |seen: &Seen| {
            if !seen.saturated {
                return seen.look;
            }
            let half = seen.look.new_share.get() / 2.0;
            Look {
                new_share: Share::new(half).unwrap_or(seen.look.new_share),
                standard_uncertainty: seen.look.standard_uncertainty.hypot(half / 3.0_f64.sqrt()),
                ..seen.look
            }
        };
        self.looks.iter().map(middle).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn litres(value: f64) -> Litres {
        Litres::new(value).unwrap()
    }

    fn seen(at: f64, new_share: f64, standard_uncertainty: f64) -> Seen {
        let new_share = Share::new(new_share).unwrap();
        Seen { look: Look { litres: litres(at), new_share, standard_uncertainty }, saturated: false }
    }

    #[test]
    fn litres_that_go_back_are_told_and_sorted() {
        let sorted = sorted(&[seen(4.0, 0.3, 0.05), seen(3.0, 0.2, 0.05)], litres(4.0));
        assert_eq!(sorted.warnings, [Warning::LitresGoBack { from: litres(4.0), to: litres(3.0) }]);
        assert_eq!(sorted.looks, [seen(3.0, 0.2, 0.05), seen(4.0, 0.3, 0.05)]);
    }

    #[test]
    fn looks_at_the_same_litres_count_once_and_are_told() {
        let twice = sorted(&[seen(4.0, 0.3, 0.05), seen(4.0, 0.3, 0.05)], litres(4.0));
        assert_eq!(twice.warnings, [Warning::SameLitres { litres: litres(4.0), differ: false }]);
        assert_eq!(twice.looks, [seen(4.0, 0.3, 0.05)]);
        let apart = sorted(&[seen(4.0, 0.2, 0.05), seen(4.0, 0.8, 0.05)], litres(4.0));
        assert_eq!(apart.warnings, [Warning::SameLitres { litres: litres(4.0), differ: true }]);
        assert!(apart.looks[0].look.standard_uncertainty > 0.17);
        assert!((apart.looks[0].look.new_share.get() - 0.5).abs() < 1e-12);
    }

    #[test]
    fn a_look_without_an_uncertainty_is_left_out_and_told() {
        for bad in [0.0, -0.1, f64::NAN, f64::INFINITY] {
            let sorted = sorted(&[seen(4.0, 0.3, bad)], litres(4.0));
            assert_eq!(sorted.warnings, [Warning::NoUncertainty { litres: litres(4.0) }], "{bad}");
            assert!(sorted.looks.is_empty());
        }
    }

    #[test]
    fn a_look_beyond_what_was_pushed_is_told() {
        let sorted = sorted(&[seen(5.0, 0.3, 0.05)], litres(4.0));
        assert_eq!(sorted.warnings, [Warning::BeyondPushed { litres: litres(5.0), pushed: litres(4.0) }]);
    }

    #[test]
    fn a_darker_look_is_told() {
        let sorted = sorted(&[seen(4.0, 0.6, 0.05), seen(6.0, 0.3, 0.05)], litres(6.0));
        assert!(matches!(sorted.warnings.as_slice(), [Warning::Darker(_)]));
    }

    #[test]
    fn a_look_that_was_too_dark_says_at_least_and_stands_half_way() {
        let sorted = sorted(&[Seen { saturated: true, ..seen(2.0, 0.4, 0.05) }], litres(2.0));
        assert_eq!(sorted.warnings, [Warning::Saturated { litres: litres(2.0) }]);
        assert!(sorted.readings(0.0)[0].at_least);
        let balance = sorted.for_balance()[0];
        assert!((balance.new_share.get() - 0.2).abs() < 1e-12 && balance.standard_uncertainty > 0.115);
    }

    #[test]
    fn the_hose_is_taken_off_and_looks_inside_it_say_nothing() {
        let sorted = sorted(&[seen(0.4, 0.0, 0.05), seen(2.0, 0.1, 0.05)], litres(2.0));
        let readings = sorted.readings(0.5);
        assert_eq!(readings.len(), 1);
        assert!((readings[0].at - 1.5).abs() < 1e-12);
    }
}
