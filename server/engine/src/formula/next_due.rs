//! When the next fluid service is due, and on what that stands.
//!
//! The workshop's interval, shortened or stretched by load words or by a histogram of temperatures, and never
//! later than the vehicle maker's. Whichever of distance and date comes first counts. The handover calls it.

use jiff::{Span, civil::Date};

use super::ageing::{Assumption, Histogram};
use crate::quantity::Celsius;

/// Distance and months between services; what is not stated is absent.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Interval {
    /// Distance in km, more than 0.
    pub kilometres: Option<f64>,
    /// Months, 1 or more.
    pub months: Option<u16>,
}

/// How the vehicle is used, as far as anybody knows.
#[derive(Clone, Debug, PartialEq)]
pub enum Load {
    /// Nothing is known: the interval stands as it is.
    NotStated,
    /// A load word of the workshop, for example towing, with the factor on the distance that the workshop set.
    Word {
        /// Factor on the distance, more than 0; 0.8 makes it shorter by a fifth.
        factor: f64,
    },
    /// Fluid temperatures over the distance.
    Temperatures {
        /// Parts of the distance by temperature.
        driven: Histogram,
        /// Where the workshop's interval is meant to hold, in °C.
        reference: Celsius,
        /// What is assumed of the ageing.
        assumption: Assumption,
    },
}

/// What the figure stands on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Basis {
    /// The workshop's interval as it stands.
    Workshop,
    /// The workshop's interval times the factor of a load word.
    LoadWord {
        /// The factor that was applied.
        factor: f64,
    },
    /// The workshop's interval divided by the mean rate of ageing.
    Temperatures {
        /// Mean rate of ageing, as a multiple of that at the reference temperature.
        mean_factor: f64,
        /// Where the workshop's interval is meant to hold, in °C.
        reference: Celsius,
        /// What is assumed of the ageing; it is printed beside the figure.
        assumption: Assumption,
    },
    /// The vehicle maker's interval, which is the shorter one.
    Maker,
}

/// Something a reader has to know beside the due date.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Caveat {
    /// The maker's interval was not stated; the distance was therefore not stretched beyond the workshop's.
    MakerNotStated,
    /// The load or the histogram gave no factor that can be one; the interval stands as it is.
    LoadNotUsable,
    /// The distance on the vehicle is not known: only the date can be given.
    DistanceNotKnown,
}

/// When the next service is due: at the distance or on the date, whichever comes first.
#[derive(Clone, Debug, PartialEq)]
pub struct NextDue {
    /// Distance on the vehicle in km, and what it stands on.
    pub kilometres: Option<(f64, Basis)>,
    /// Date, and what it stands on.
    pub date: Option<(Date, Basis)>,
    /// What has to be said beside it.
    pub caveats: Vec<Caveat>,
}

/// When the next service is due; nothing where no interval is stated at all.
///
/// `s = s_done + min(s_workshop f, s_maker)`, `d = d_done + min(m_workshop, m_maker)`, with f the factor of the load
/// word, or 1 / mean rate of ageing, or 1. Without a maker's distance f is cut to 1. Months are not scaled.
///
/// * `done_at_kilometres` – s_done in km, 0 or more, if it was read
/// * `done_on` – d_done
/// * `workshop` – what the workshop's settings state, with their source there
/// * `maker` – what the vehicle maker states, as far as the catalogue has it
/// * `load` – how the vehicle is used
///
/// # Source
/// Common practice, no source; ageing as in [`super::ageing`]. That the maker's interval is never passed is a rule
/// of this house.
///
/// # Example
/// ```
/// use jiff::civil::date;
/// use standpipe_engine::formula::next_due::{Basis, Interval, Load, next_due};
/// let workshop = Interval { kilometres: Some(50_000.0), months: Some(48) };
/// let maker = Interval { kilometres: Some(60_000.0), months: None };
/// let towing = Load::Word { factor: 0.8 };
/// let due = next_due(Some(120_000.0), date(2026, 2, 28), &workshop, &maker, &towing).unwrap();
/// assert_eq!(due.kilometres, Some((160_000.0, Basis::LoadWord { factor: 0.8 })));
/// assert_eq!(due.date, Some((date(2030, 2, 28), Basis::Workshop)));
/// ```
#[must_use]
pub fn next_due(
    done_at_kilometres: Option<f64>,
    done_on: Date,
    workshop: &Interval,
    maker: &Interval,
    load: &Load,
) -> Option<NextDue> {
    let mut caveats = Vec::new();
    let maker_kilometres = maker.kilometres.filter(|distance| usable(*distance));
    let distance = distance(workshop, maker_kilometres, load, &mut caveats);
    let months = match (workshop.months.filter(|m| *m > 0), maker.months.filter(|m| *m > 0)) {
        (Some(own), Some(maker)) if maker < own => Some((maker, Basis::Maker)),
        (Some(own), _) => Some((own, Basis::Workshop)),
        (None, maker) => maker.map(|months| (months, Basis::Maker)),
    };
    let date = months.and_then(|(months, basis)| {
        let date = done_on.checked_add(Span::new().try_months(i64::from(months)).ok()?).ok()?;
        Some((date, basis))
    });
    let read = done_at_kilometres.filter(|read| *read >= 0.0 && read.is_finite());
    if distance.is_some() && read.is_none() {
        caveats.push(Caveat::DistanceNotKnown);
    }
    let kilometres = distance.zip(read).map(|((distance, basis), read)| (read + distance, basis));
    (kilometres.is_some() || date.is_some()).then_some(NextDue { kilometres, date, caveats })
}

fn distance(
    workshop: &Interval,
    maker: Option<f64>,
    load: &Load,
    caveats: &mut Vec<Caveat>,
) -> Option<(f64, Basis)> {
    let Some(own) = workshop.kilometres.filter(|distance| usable(*distance)) else {
        return maker.map(|distance| (distance, Basis::Maker));
    };
    let (factor, basis) = factor(load).unwrap_or_else(|| {
        caveats.push(Caveat::LoadNotUsable);
        (1.0, Basis::Workshop)
    });
    match maker {
        Some(maker) if maker < own * factor => Some((maker, Basis::Maker)),
        Some(_) => Some((own * factor, basis)),
        None => {
            caveats.push(Caveat::MakerNotStated);
            if factor > 1.0 { Some((own, Basis::Workshop)) } else { Some((own * factor, basis)) }
        }
    }
}

/// Factor on the distance and what it stands on; nothing where the load gives none that can be one.
fn factor(load: &Load) -> Option<(f64, Basis)> {
    let (factor, basis) = match load {
        Load::NotStated => (1.0, Basis::Workshop),
        Load::Word { factor } => (*factor, Basis::LoadWord { factor: *factor }),
        Load::Temperatures { driven, reference, assumption } => {
            let mean_factor = driven.mean_factor(*assumption, *reference)?;
            let basis = Basis::Temperatures { mean_factor, reference: *reference, assumption: *assumption };
            (1.0 / mean_factor, basis)
        }
    };
    usable(factor).then_some((factor, basis))
}

fn usable(number: f64) -> bool {
    number > 0.0 && number.is_finite()
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;
    use proptest::prelude::*;

    use super::*;
    use crate::quantity::Share;

    const NONE: Interval = Interval { kilometres: None, months: None };

    fn every(kilometres: f64, months: u16) -> Interval {
        Interval { kilometres: Some(kilometres), months: Some(months) }
    }

    fn hot(celsius: f64) -> Load {
        let part = (Celsius::new(celsius).unwrap(), Share::new(1.0).unwrap());
        Load::Temperatures {
            driven: Histogram::new(&[part]).unwrap(),
            reference: Celsius::new(90.0).unwrap(),
            assumption: Assumption::CUSTOMARY,
        }
    }

    #[test]
    fn nothing_stated_gives_no_due_date() {
        assert_eq!(next_due(Some(1000.0), date(2026, 1, 1), &NONE, &NONE, &Load::NotStated), None);
        let bad = every(f64::NAN, 0);
        assert_eq!(next_due(Some(1000.0), date(2026, 1, 1), &bad, &NONE, &Load::NotStated), None);
    }

    #[test]
    fn the_assumption_stands_beside_the_distance() {
        let due = next_due(Some(0.0), date(2026, 1, 1), &every(50_000.0, 48), &NONE, &hot(110.0)).unwrap();
        let Some((kilometres, Basis::Temperatures { mean_factor, assumption, .. })) = due.kilometres else {
            panic!("{due:?}");
        };
        assert!((kilometres * mean_factor - 50_000.0).abs() < 1e-6 && mean_factor > 1.0);
        assert_eq!(assumption, Assumption::CUSTOMARY);
        assert_eq!(due.caveats, [Caveat::MakerNotStated]);
    }

    #[test]
    fn a_cool_vehicle_is_not_stretched_where_the_maker_is_not_known() {
        let due = next_due(Some(0.0), date(2026, 1, 1), &every(50_000.0, 48), &NONE, &hot(60.0)).unwrap();
        assert_eq!(due.kilometres, Some((50_000.0, Basis::Workshop)));
        let maker = every(80_000.0, 60);
        let due = next_due(Some(0.0), date(2026, 1, 1), &every(50_000.0, 48), &maker, &hot(60.0)).unwrap();
        assert_eq!(due.kilometres, Some((80_000.0, Basis::Maker)));
    }

    #[test]
    fn a_load_that_is_none_leaves_the_interval_and_says_so() {
        for factor in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            let load = Load::Word { factor };
            let due = next_due(Some(7.0), date(2026, 1, 1), &every(50_000.0, 48), &NONE, &load).unwrap();
            assert_eq!(due.kilometres, Some((50_007.0, Basis::Workshop)));
            assert!(due.caveats.contains(&Caveat::LoadNotUsable));
        }
    }

    #[test]
    fn without_a_distance_on_the_vehicle_only_the_date_is_given() {
        let due = next_due(None, date(2026, 1, 31), &every(50_000.0, 1), &NONE, &Load::NotStated).unwrap();
        assert_eq!(due.kilometres, None);
        // The last day of a shorter month.
        assert_eq!(due.date, Some((date(2026, 2, 28), Basis::Workshop)));
        assert!(due.caveats.contains(&Caveat::DistanceNotKnown));
        let unreadable =
            next_due(Some(f64::NAN), date(2026, 1, 31), &every(50_000.0, 1), &NONE, &Load::NotStated);
        assert_eq!(unreadable, Some(due));
    }

    proptest! {
        #[test]
        fn never_later_than_the_maker_s(
            own in 1_000.0_f64..200_000.0, maker in 1_000.0_f64..200_000.0, own_months in 1_u16..120,
            maker_months in 1_u16..120, factor in 0.1_f64..3.0, celsius in 40.0_f64..140.0, word in any::<bool>(),
        ) {
            let load = if word { Load::Word { factor } } else { hot(celsius) };
            let done = date(2026, 3, 1);
            let due = next_due(Some(0.0), done, &every(own, own_months), &every(maker, maker_months), &load).unwrap();
            prop_assert!(due.kilometres.unwrap().0 <= maker);
            let latest = done.checked_add(Span::new().months(i64::from(maker_months))).unwrap();
            prop_assert!(due.date.unwrap().0 <= latest);
        }
    }
}
