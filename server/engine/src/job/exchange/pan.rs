//! Pan and refill around an exchange: which came first, what was measured of them, and what is expected.
//!
//! Never here: a sentence, or a formula; where the pan was changed first see [`crate::formula::pan_first`].

use super::litres;
use crate::formula::refill::Refill;
use crate::gates::is_pan_left_out;
use crate::job::balance::{self, Measures};
use crate::job::fold::{Folded, Stated};
use crate::job::order::Moment;
use crate::job::{Context, Identity, level};
use crate::kind::closing::Closing;
use crate::kind::drain::Drain;
use crate::kind::exchange_reading::ExchangeReading;
use crate::kind::fill::Fill;
use crate::kind::words::{DrainedFrom, FillPurpose};
use crate::quantity::Estimate;
use std::collections::BTreeMap;

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
        let readings = folded.each::<ExchangeReading>();
        let pushing = Ends::of(
            readings.filter(|(_, reading)| litres(&reading.pushed_in) > 0.0).map(|(stated, _)| stated),
        );
        let drains = || {
            let drains = folded.each::<Drain>();
            drains
                .filter(|(_, drain)| drain.place == Some(DrainedFrom::Pan))
                .map(|(stated, _)| &stated.moment)
        };
        let refills = || {
            let fills = folded.each::<Fill>();
            fills
                .filter(|(_, fill)| fill.purpose == Some(FillPurpose::Refill))
                .map(|(stated, _)| &stated.moment)
        };
        if drains().all(|drain| pushing.are_before(drain)) {
            Self::Last
        } else if drains().chain(refills()).all(|other| pushing.are_after(other)) && measures.is_refilled() {
            Self::First
        } else {
            Self::Unclear
        }
    }
}

/// The first and the last of several moments: by number within a station's own order, and by the clock.
#[derive(Debug, Clone, Copy)]
struct End {
    numbers: (i64, i64),
    earliest_us: i64,
    latest_us: i64,
}

impl End {
    fn of(moment: &Moment) -> Self {
        let Moment { number, earliest_us, latest_us, .. } = *moment;
        Self { numbers: (number, number), earliest_us, latest_us }
    }

    fn with(self, other: Self) -> Self {
        Self {
            numbers: (self.numbers.0.min(other.numbers.0), self.numbers.1.max(other.numbers.1)),
            earliest_us: self.earliest_us.min(other.earliest_us),
            latest_us: self.latest_us.max(other.latest_us),
        }
    }
}

/// The ends of all moments, station by station; those with a typed time are by the clock alone.
struct Ends<'a>(BTreeMap<Option<&'a (String, String)>, End>);

impl<'a> Ends<'a> {
    fn of(all: impl Iterator<Item = &'a Stated>) -> Self {
        let mut ends: BTreeMap<Option<&(String, String)>, End> = BTreeMap::new();
        for Stated { moment, .. } in all {
            let end = End::of(moment);
            let known = ends.entry(own_order(moment)).or_insert(end);
            *known = known.with(end);
        }
        Self(ends)
    }

    /// Whether each of them surely came before the other, see [`Moment::certainly`].
    fn are_before(&self, other: &Moment) -> bool {
        self.0.iter().all(|(station, end)| match station {
            Some(_) if *station == own_order(other) => end.numbers.1 < other.number,
            _ => end.latest_us < other.earliest_us,
        })
    }

    /// Whether each of them surely came after the other.
    fn are_after(&self, other: &Moment) -> bool {
        self.0.iter().all(|(station, end)| match station {
            Some(_) if *station == own_order(other) => end.numbers.0 > other.number,
            _ => other.latest_us < end.earliest_us,
        })
    }
}

/// The station whose own order says something of a moment.
fn own_order(moment: &Moment) -> Option<&(String, String)> {
    (!moment.typed).then_some(&moment.station)
}

/// What was measured of exchange, pan, refill and level so far.
pub(super) fn measured(measures: &Measures, surplus: Estimate) -> Refill {
    Refill {
        surplus,
        drained: measures.sum(&measures.pan),
        carried_out: measures.carried_out.unwrap_or(Estimate::known(0.0, 0.0)),
        refilled: measures.sum(&measures.refilled),
        added: measures.sum(&measures.added),
        overflow: measures.sum(&measures.overflow),
    }
}

/// Whether pan and refill are over: refilled as drained, or the level set after both.
pub(super) fn is_done(measures: &Measures, level_set: bool) -> bool {
    !measures.pan.is_empty() && !measures.refilled.is_empty() && (measures.is_refilled() || level_set)
}

/// What is expected of pan and refill as far as they are still to come: as much refilled in all as leaves, so that the
/// level is right. Absent when nothing is to come, or nobody states how much it will be.
pub(super) fn expected(
    context: &Context<'_>,
    folded: &Folded,
    identity: &Identity,
    measures: &Measures,
) -> Option<Refill> {
    let over = is_done(measures, level::set_at(folded, identity).is_some());
    if folded.last::<Closing>().is_some() || over {
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
    let carried_out = balance::carried_out(context, identity);
    // The two are one amount: what is not known of it counts once, where it leaves.
    let leaves = drained.value + carried_out.value;
    let refilled = Estimate::known(leaves.max(measures.sum(&measures.refilled).value), 0.0);
    Some(Refill { drained, carried_out, refilled, added: measures.sum(&measures.added), ..Refill::default() })
}
