//! Pan and refill around an exchange: which came first, what was measured of them, and what is expected.
//!
//! Where the pan was changed first, its new litres are inside from the start, and no way of flowing is fitted: only
//! the balance is carried on. Never here: a sentence.

use super::litres;
use crate::formula::exchange::{CoursePoint, Exchange, Retained, Spacing, new_share, retained, spacing};
use crate::formula::refill::Refill;
use crate::gates::is_pan_left_out;
use crate::job::balance::Measures;
use crate::job::fold::{Folded, Stated};
use crate::job::{Context, Identity};
use crate::kind::closing::Closing;
use crate::kind::drain::Drain;
use crate::kind::exchange_reading::ExchangeReading;
use crate::kind::fill::Fill;
use crate::kind::words::{DrainedFrom, FillPurpose};
use crate::quantity::{Estimate, Litres};
use std::cmp::Ordering;

/// A pan that was refilled with less than was drained, by more than this, was not full when the exchange began
/// (common practice, no source).
const REFILLED_SHORT_LITRES: f64 = 0.5;

/// Whether the pan came off before or after the exchange.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Order {
    /// Surely after every litre that was pushed in, or not at all.
    Last,
    /// Surely changed and refilled before the first litre.
    First,
    /// Neither is certain.
    Unclear,
}

impl Order {
    /// From the moments of drains, refills and readings.
    pub fn of(folded: &Folded, measures: &Measures) -> Self {
        let pushing: Vec<&Stated> = folded
            .each::<ExchangeReading>()
            .filter(|(_, reading)| litres(&reading.pushed_in) > 0.0)
            .map(|(stated, _)| stated)
            .collect();
        let drains = || {
            let drains = folded.each::<Drain>();
            drains.filter(|(_, drain)| drain.place == Some(DrainedFrom::Pan)).map(|(stated, _)| stated)
        };
        let refills = || {
            let fills = folded.each::<Fill>();
            fills.filter(|(_, fill)| fill.purpose == Some(FillPurpose::Refill)).map(|(stated, _)| stated)
        };
        let all = |others: &mut dyn Iterator<Item = &Stated>, order: Ordering| {
            let mut pushing = others.flat_map(|other| pushing.iter().map(move |reading| (reading, other)));
            pushing.all(|(reading, other)| reading.moment.certainly(&other.moment) == Some(order))
        };
        let (drained, refilled) = (measures.sum(&measures.pan).value, measures.sum(&measures.refilled).value);
        if all(&mut drains(), Ordering::Less) {
            Self::Last
        } else if all(&mut drains(), Ordering::Greater)
            && all(&mut refills(), Ordering::Greater)
            && refilled > drained - REFILLED_SHORT_LITRES
        {
            Self::First
        } else {
            Self::Unclear
        }
    }
}

/// What was measured of pan, refill and level; absent while the pan is not both drained and refilled.
pub(super) fn done(measures: &Measures) -> Option<Refill> {
    if measures.pan.is_empty() || measures.refilled.is_empty() {
        return None;
    }
    Some(Refill {
        drained: measures.sum(&measures.pan),
        carried_out: measures.carried_out.unwrap_or(Estimate::known(0.0, 0.0)),
        refilled: measures.sum(&measures.refilled),
        added: measures.sum(&measures.added),
        overflow: measures.sum(&measures.overflow),
        ..Refill::default()
    })
}

/// What is expected of pan and refill that are still to come: as much refilled as leaves, so that the level is right.
/// Absent when nothing is to come, or nobody states how much it will be.
pub(super) fn expected(
    context: &Context<'_>,
    folded: &Folded,
    identity: &Identity,
    measures: &Measures,
) -> Option<Refill> {
    if folded.last::<Closing>().is_some() || !measures.refilled.is_empty() {
        return None;
    }
    let workshop = context.workshop();
    let drained = if !measures.pan.is_empty() {
        measures.sum(&measures.pan)
    } else if is_pan_left_out(folded) {
        return None;
    } else {
        let stated = identity.variant.as_ref().and_then(|variant| variant.pan_refill_litres)?;
        Estimate::known(stated, stated * workshop.vehicle_fill_relative_uncertainty.value)
    };
    let carried_out = workshop.carried_out_litres.estimate();
    // The two are one amount: what is not known of it counts once, where it leaves.
    let refilled = Estimate::known(drained.value + carried_out.value, 0.0);
    Some(Refill { drained, carried_out, refilled, ..Refill::default() })
}

/// An exchange after the pan was changed, with three spaced looks.
pub(super) struct PanFirst {
    /// New litres that the exchange kept beyond those of the refill.
    pub kept: Retained,
    refilled: Estimate,
    /// By how much the outlet may have begun below all old, 0 to 1.
    begins_below: f64,
    /// Litres that had come out at the first look.
    first_look: f64,
}

impl PanFirst {
    /// The balance, with the start of the outlet curve anywhere between all old and the mean of the whole
    /// (rectangular, JCGM 100:2008, 4.3.7); absent below three spaced looks.
    pub fn of(exchange: &Exchange<'_>, fill: Estimate, refilled: Estimate) -> Option<Self> {
        if spacing(exchange.looks, exchange.pushed) != Spacing::Enough {
            return None;
        }
        let looks = exchange.looks.iter().map(|look| look.litres);
        let first_look =
            looks.filter(|litres| litres.get() > 0.0).map(Litres::get).fold(f64::INFINITY, f64::min);
        let begins_below = (refilled.value / fill.value).clamp(0.0, 1.0);
        let mut pan = Self { kept: retained(exchange), refilled, begins_below, first_look };
        let (less, u) = pan.less_up_to(first_look);
        let kept = pan.kept.litres;
        let value = (kept.value - less).max(0.0);
        pan.kept.litres = Estimate::known(value, kept.standard_uncertainty.hypot(u));
        Some(pan)
    }

    /// New-fluid share now, without surplus.
    pub fn share(&self, fill: Estimate) -> Estimate {
        new_share(plus(self.kept.litres, self.refilled), fill)
    }

    /// A point of the plain balance's curve as it is with the pan's new litres inside from the start.
    pub fn on_course(&self, point: &CoursePoint, fill: Estimate) -> Estimate {
        let (less, u) = self.less_up_to(point.litres.min(self.first_look));
        let by_refill = new_share(self.refilled, fill);
        let value = point.new_share.value + by_refill.value - less / fill.value;
        let own = point.new_share.standard_uncertainty.hypot(u / fill.value);
        Estimate::known(value.clamp(0.0, 1.0), own.hypot(by_refill.standard_uncertainty))
    }

    /// Litres that a lower start keeps less up to some litres before the first look, in the middle, and their standard
    /// uncertainty: the start weighs on the first gap alone, falling to nothing at its end.
    fn less_up_to(&self, litres: f64) -> (f64, f64) {
        let area = litres - litres * litres / (2.0 * self.first_look);
        (self.begins_below / 2.0 * area, self.begins_below / (2.0 * 3.0_f64.sqrt()) * area)
    }
}

fn plus(one: Estimate, other: Estimate) -> Estimate {
    Estimate::known(one.value + other.value, one.standard_uncertainty.hypot(other.standard_uncertainty))
}
