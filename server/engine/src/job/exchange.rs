//! The exchange: litres, looks, and how much new fluid is inside, as far as that may be said.
//!
//! A share is printed from three spaced looks on, by the balance that needs no idea of how the
//! fluid flows; below that the litres stand in words. After pan and refill it is carried on to the
//! figure that a customer reads. Never here: a formula; those are cited in [`crate::formula`].

use super::balance::Measures;
use super::fold::{Folded, tells};
use super::{Context, Identity};
use crate::amount::{Amount, Read};
use crate::formula::exchange::{self as formula, Exchange, Look as FormulaLook, Retained, Spacing};
use crate::formula::refill::{Refill, new_share_after};
use crate::kind::drain::Drain;
use crate::kind::exchange_reading::ExchangeReading;
use crate::kind::words::DrainedFrom;
use crate::quantity::{Estimate, Litres, Share};
use crate::text::{Sentence, number, sentence};
use crate::view::{CurvePoint, ExchangeView, Finding, Look};
use std::cmp::Ordering;

/// Steps of the curve on the record.
const CURVE_STEPS: u32 = 48;
/// Limit of litres in minus litres out where nobody measured what came out (common practice, no
/// source: a transmission that takes half a litre more or less is seen at the level).
const SURPLUS_UNMEASURED_LITRES: f64 = 0.5;

/// More out than in by so much, as read: stop the engine (common practice, no source).
const MORE_LEFT_LITRES: f64 = 0.5;

/// The exchange with what somebody should know of it.
#[derive(Debug, Clone)]
pub(super) struct ExchangeOf {
    /// What is shown.
    pub view: ExchangeView,
    /// Litres pushed in as read, with unit; absent when none were pushed.
    pub pushed_as_read: Option<String>,
    /// What somebody should know.
    pub findings: Vec<Finding>,
}

/// Reads the exchange from the facts; absent when nothing was pushed in and nothing refilled.
pub(super) fn of(
    context: &Context<'_>,
    folded: &Folded,
    identity: &Identity,
    measures: &Measures,
) -> Option<ExchangeOf> {
    let pushed = by_litres(folded).last().map(|reading| reading.pushed_in.clone());
    if pushed.is_none() && measures.refilled.is_empty() {
        return None;
    }
    let looks = looks(context, folded);
    let litres_in = pushed.as_ref().map_or(0.0, litres);
    let mut built = ExchangeOf {
        view: ExchangeView {
            litres_in,
            looks: looks.iter().map(shown).collect(),
            curve: Vec::new(),
            share_after_exchange: None,
            share_after_pan: None,
            remarks: Vec::new(),
            advice: Vec::new(),
        },
        pushed_as_read: pushed.map(|amount| amount.as_read().to_owned()),
        findings: Vec::new(),
    };
    if let Some(darker) = formula::darker_look(&looks) {
        let seqs: Vec<u64> = folded.each::<ExchangeReading>().map(|(stated, _)| stated.seq).collect();
        built.findings.push(tells(darker.sentence(), seqs));
    }
    built.findings.extend(more_left_than_entered(folded));
    let fill = identity.variant.as_ref().and_then(|variant| variant.total_fill_litres);
    let Some(fill) = fill else {
        built.view.remarks.push(sentence::exchange_fill_unknown());
        return Some(built);
    };
    if litres_in > 0.0 && !pan_came_off_last(folded) {
        built.view.remarks.push(sentence::exchange_order());
    } else if let Some(inside) = exchanged(context, &mut built.view, &looks, measures, fill) {
        after_pan(&mut built.view, measures, &inside, fill);
    }
    built.view.remarks.push(display_remark(context, litres_in));
    Some(built)
}

/// What stayed inside at the end of the exchange.
struct Inside {
    /// Litres kept for the litres that came out.
    retained: Retained,
    /// Litres that came in beyond those that came out.
    surplus: Estimate,
}

/// Whether every reading of the exchange was surely taken before the pan was drained.
fn pan_came_off_last(folded: &Folded) -> bool {
    let pans = || folded.each::<Drain>().filter(|(_, drain)| drain.place == Some(DrainedFrom::Pan));
    folded.each::<ExchangeReading>().all(|(reading, _)| {
        pans().all(|(pan, _)| reading.moment.certainly(&pan.moment) == Some(Ordering::Less))
    })
}

/// What the exchange left inside, with curve and share; absent when too little was seen to say.
///
/// Old fluid leaves with the litres that come out, so the looks are counted over those:
/// new inside = in − out + ∫ old d(out).
fn exchanged(
    context: &Context<'_>,
    view: &mut ExchangeView,
    looks: &[FormulaLook],
    measures: &Measures,
    fill: Estimate,
) -> Option<Inside> {
    let pushed = Litres::new(view.litres_in).ok()?;
    if pushed.get() <= 0.0 {
        // A change of the pan alone: all that was inside is old.
        let none = Estimate::known(0.0, 0.0);
        let retained = Retained { litres: none, last_old: Estimate::known(1.0, 0.0), last_weight: 0.0 };
        return Some(Inside { retained, surplus: none });
    }
    match formula::spacing(looks, pushed) {
        Spacing::Enough => {}
        Spacing::TooFew { found } => {
            let litres = number::litres(pushed.get(), 1);
            view.remarks.push(sentence::exchange_too_few_looks(found as u64, litres));
            return None;
        }
        Spacing::TooWide { from, to } => {
            let (from, to) = (number::fixed(from, 1), number::litres(to, 1));
            view.remarks.push(sentence::exchange_looks_too_wide(from, number::litres(pushed.get(), 1), to));
            return None;
        }
    }
    let out_for_in = measures.out_for_in().unwrap_or(1.0);
    let over_out: Vec<FormulaLook> = looks
        .iter()
        .filter_map(|look| {
            Some(FormulaLook { litres: Litres::new(look.litres.get() * out_for_in).ok()?, ..*look })
        })
        .collect();
    let exchange = Exchange {
        looks: &over_out,
        pushed: Litres::new(pushed.get() * out_for_in).ok()?,
        hose: Litres::new(0.0).ok()?,
        litres_relative_uncertainty: context.workshop().display_error_limit.value / 3.0_f64.sqrt(),
        reference_relative_uncertainty: 0.0,
        common_part: formula::TUBES_COMMON_PART,
    };
    let surplus = measures.surplus().unwrap_or_else(|| Estimate::within(0.0, SURPLUS_UNMEASURED_LITRES));
    let retained = formula::retained(&exchange);
    let share = with_surplus(formula::new_share(retained.litres, fill), fill, surplus);
    view.curve = formula::course(&exchange, fill, CURVE_STEPS)
        .iter()
        .map(|point| {
            let part = point.litres / exchange.pushed.get();
            let share = with_surplus(point.new_share, fill, surplus.scaled(part));
            let (least, greatest) = share.interval95_within((0.0, 1.0));
            CurvePoint { litres: pushed.get() * part, least, share: share.value, greatest }
        })
        .collect();
    view.share_after_exchange = Some(share);
    view.remarks.push(sentence::exchange_means(looks.len() as u64));
    let (value, least, greatest) = parts_of_100(&share);
    view.remarks.push(sentence::exchange_share(greatest, least, value));
    Some(Inside { retained, surplus })
}

/// The share with the litres that came in beyond those that came out: `(V n + S) / (V + S)`.
fn with_surplus(share: Estimate, fill: Estimate, surplus: Estimate) -> Estimate {
    let whole = fill.value + surplus.value;
    let by_share = share.standard_uncertainty * fill.value / whole;
    let by_surplus = surplus.standard_uncertainty * fill.value * (1.0 - share.value) / (whole * whole);
    let value = (fill.value * share.value + surplus.value) / whole;
    Estimate::known(value.clamp(0.0, 1.0), by_share.hypot(by_surplus))
}

fn after_pan(view: &mut ExchangeView, measures: &Measures, inside: &Inside, fill: Estimate) {
    if measures.pan.is_empty() {
        return;
    }
    if measures.refilled.is_empty() {
        view.remarks.push(sentence::exchange_not_refilled());
        return;
    }
    let refill = Refill {
        surplus: inside.surplus,
        drained: measures.sum(&measures.pan),
        carried_out: measures.carried_out.unwrap_or(Estimate::known(0.0, 0.0)),
        refilled: measures.sum(&measures.refilled),
        added: measures.sum(&measures.added),
        overflow: measures.sum(&measures.overflow),
    };
    let share = new_share_after(&inside.retained, fill, &refill);
    view.share_after_pan = Some(share);
    let (value, least, greatest) = parts_of_100(&share);
    view.remarks.push(sentence::exchange_share_after_pan(greatest, least, value));
}

fn display_remark(context: &Context<'_>, litres_in: f64) -> Sentence {
    if litres_in > 0.0 {
        let limit = number::fixed(context.workshop().display_error_limit.value * 100.0, 0);
        sentence::exchange_display_unchecked(number::with_unit(&limit, "%"))
    } else {
        sentence::exchange_pan_only()
    }
}

/// The last reading by which more had left than entered by half a litre: the engine runs dry.
fn more_left_than_entered(folded: &Folded) -> Option<Finding> {
    let (stated, reading) = folded.last::<ExchangeReading>()?;
    let more = litres(reading.came_out.as_ref()?) - litres(&reading.pushed_in);
    let text = || sentence::exchange_more_left(number::litres(more, 1));
    (more >= MORE_LEFT_LITRES).then(|| tells(text(), [stated.seq]))
}

/// The readings in the order of the litre counter.
fn by_litres(folded: &Folded) -> Vec<&ExchangeReading> {
    let mut readings: Vec<&ExchangeReading> =
        folded.each::<ExchangeReading>().map(|(_, reading)| reading).collect();
    readings.sort_by(|one, other| litres(&one.pushed_in).total_cmp(&litres(&other.pushed_in)));
    readings
}

fn litres(amount: &Amount) -> f64 {
    match amount.read() {
        Read::Litres(litres) => litres,
        // The counter shows litres; a mass never gets here.
        Read::Kilograms(_) => 0.0,
    }
}

fn looks(context: &Context<'_>, folded: &Folded) -> Vec<FormulaLook> {
    let tubes = &context.workshop().tubes;
    by_litres(folded)
        .into_iter()
        .filter_map(|reading| {
            let new_share = Share::new(f64::from(reading.tube_percent?) / 100.0).ok()?;
            Some(FormulaLook {
                litres: Litres::new(litres(&reading.pushed_in)).ok()?,
                new_share,
                standard_uncertainty: tubes.look_uncertainty(new_share),
            })
        })
        .collect()
}

fn shown(look: &FormulaLook) -> Look {
    Look {
        litres: look.litres.get(),
        glass_new_share: look.new_share.get(),
        standard_uncertainty: look.standard_uncertainty,
    }
}

/// A share as whole parts of 100: value, least, greatest.
pub(super) fn parts_of_100(share: &Estimate) -> (String, String, String) {
    let (least, greatest) = share.interval95_within((0.0, 1.0));
    let parts = |share: f64| number::fixed(share * 100.0, 0);
    (parts(share.value), parts(least), parts(greatest))
}
