//! The exchange: litres, looks, how much new fluid is inside, and how far to go.
//!
//! Without a look the share rests on the litres and what is usual, below three spaced looks on two usual ways of
//! flowing, from there on on the balance, which needs no idea of how the fluid flows. After pan and refill it is
//! carried on to the figure that a customer reads. Never here: a formula; those are cited in [`crate::formula`].

mod advice;
mod alarms;
mod colour;
mod equipment;
mod looks;
pub(super) mod on_sheet;
mod pan;
mod share;
mod withheld;

use self::advice::{Asked, Lines};
use self::alarms::About;
use self::equipment::Equipment;
use self::looks::Looks;
use self::pan::Order;
use self::share::Inside;
use self::withheld::Why;
use super::balance::Measures;
use super::fold::{Folded, Stated};
use super::{Context, Identity, level};
use crate::amount::{Amount, Read};
use crate::formula::refill::Refill;
use crate::formula::seen::Warning;
use crate::kind::exchange_reading::ExchangeReading;
use crate::quantity::{Estimate, Litres};
use crate::text::{Sentence, number, sentence};
use crate::view::{ExchangeView, Finding, Progress, ShareBasis};
use std::cmp::Ordering;

/// The exchange with what somebody should know of it.
#[derive(Debug, Clone)]
pub(super) struct ExchangeOf {
    /// What is shown.
    pub view: ExchangeView,
    /// Litres pushed in as read, with unit; absent when none were pushed.
    pub pushed_as_read: Option<String>,
    /// For the customer, where the fluid inside may not have been exchanged at all.
    pub note: Option<Sentence>,
    /// What somebody should know.
    pub findings: Vec<Finding>,
    /// What somebody at the bay reads of it.
    pub lines: Lines,
    /// That clearly more entered than left, until somebody looks at the level.
    pub unaccounted: Option<Sentence>,
}

/// Reads the exchange from the facts; absent when nothing was pushed in and nothing refilled.
pub(super) fn of(
    context: &Context<'_>,
    folded: &Folded,
    identity: &Identity,
    measures: &Measures,
) -> Option<ExchangeOf> {
    let pushed = latest(folded).map(|(_, reading)| reading.pushed_in.clone());
    if pushed.is_none() && measures.refilled.is_empty() {
        return None;
    }
    let litres_in = pushed.as_ref().map_or(0.0, litres);
    let looks = Looks::of(context, folded);
    let fill = identity.variant.as_ref().and_then(|variant| variant.total_fill_litres);
    let order = Order::of(folded, measures);
    let level_set = level::set_at(folded, identity).is_some();
    let of_equipment = Equipment::of(context, folded, identity);
    let inside = Inside::of(&of_equipment, (fill, level_set), measures, &looks, (litres_in, order));
    let expected = pan::expected(context, folded, identity, measures);
    let alarms = alarms::of(context, folded, identity, measures, &looks, inside.as_ref());

    let mut built = ExchangeOf {
        view: ExchangeView {
            litres_in,
            looks: looks.shown(),
            curve: inside.as_ref().map_or_else(Vec::new, Inside::curve),
            share_after_exchange: inside
                .as_ref()
                .filter(|it| it.basis().is_some())
                .and_then(Inside::share_now),
            share_after_pan: None,
            remarks: Vec::new(),
            advice: Vec::new(),
            progress: Progress::default(),
        },
        pushed_as_read: pushed.map(|amount| amount.as_read().to_owned()),
        note: inside.as_ref().and_then(Inside::withheld).and_then(Why::note),
        findings: findings(&looks, inside.as_ref(), litres_in),
        lines: Lines::default(),
        unaccounted: alarms
            .iter()
            .find(|it| it.about == About::MoreEntered)
            .map(|it| it.finding.text.clone()),
    };
    built.findings.extend(alarms.iter().map(|alarm| alarm.finding.clone()));
    built.view.remarks.extend(looks.remarks.iter().cloned());
    if let Some(inside) = &inside {
        shares(&mut built.view, (measures, level_set), inside, expected.as_ref());
        said(&mut built.view, folded, measures, &looks, inside);
    }
    if litres_in > 0.0 {
        built.view.remarks.push(super::registers::display_said(context, folded));
        let foreign = super::registers::pushed_in(context, folded, identity);
        let litres = foreign.map(|foreign| number::litres(foreign.litres.value, 1));
        built.view.remarks.extend(litres.map(sentence::exchange_foreign));
    } else if !measures.refilled.is_empty() {
        built.view.remarks.push(sentence::exchange_pan_only());
    }
    let (inside, expected) = (inside.as_ref(), expected.as_ref());
    let asked = Asked { context, folded, identity, measures, order, pushed: litres_in, inside, expected };
    let of_readings = [looks.photos.clone(), of_readings(&looks, litres_in)].concat();
    built.lines = asked.lines(&alarms, &of_readings, &mut built.view);
    Some(built)
}

/// Notes the shares and what they rest on.
fn shares(
    view: &mut ExchangeView,
    (measures, level_set): (&Measures, bool),
    inside: &Inside,
    expected: Option<&Refill>,
) {
    let printed = inside.basis().is_some() || (inside.pushed <= 0.0 && inside.withheld().is_none());
    let done = pan::is_done(measures, level_set) && printed;
    let measured = pan::measured(measures, inside.surplus);
    view.share_after_pan =
        Some(measured).filter(|_| done).and_then(|refill| inside.share_after_done(&refill));
    view.progress.share_expected = expected
        .filter(|_| inside.pushed > 0.0 && inside.basis().is_some())
        .and_then(|refill| inside.share_after(refill, inside.pushed));
    // What holds after the exchange holds no more when the pan was drained since.
    let before_pan = view.share_after_exchange.filter(|_| measures.pan.is_empty());
    view.progress.share_now = view.share_after_pan.or(before_pan);
    view.progress.basis = inside.basis();
    view.progress.withheld = inside.withheld().map(Why::sentence);
    view.progress.pan_open = !measures.pan.is_empty() && !pan::is_done(measures, level_set) && printed;
    view.progress.kept_litres = inside.kept_by_balance();
    view.progress.two_ways_fit =
        !view.looks.is_empty() && inside.forecast().is_some_and(|forecast| forecast.both_ways_fit());
}

/// How it was found out, what came out, how certain it is: or why there is no share.
fn said(view: &mut ExchangeView, folded: &Folded, measures: &Measures, looks: &Looks, inside: &Inside) {
    let remarks = &mut view.remarks;
    if inside.fill.is_none() {
        remarks.push(sentence::exchange_fill_unknown());
        return;
    }
    match inside.basis() {
        None if view.progress.withheld.is_some() => remarks.extend(view.progress.withheld.clone()),
        None if inside.pushed > 0.0 && inside.has_pan_first() => {
            remarks.push(sentence::exchange_pan_first_few())
        }
        None if inside.pushed > 0.0 => remarks.push(sentence::exchange_order()),
        None => {}
        Some(basis) => {
            remarks.extend(looks.in_words());
            remarks.extend(looks.at_most_in_words());
            match basis {
                ShareBasis::Litres => remarks.push(sentence::exchange_basis_litres()),
                ShareBasis::Models => remarks.push(sentence::exchange_basis_models()),
                ShareBasis::Balance => {}
                ShareBasis::PanFirst => remarks.push(sentence::exchange_pan_first()),
            }
            if view.progress.two_ways_fit {
                remarks.push(sentence::exchange_two_ways());
            }
            if basis != ShareBasis::PanFirst && (basis != ShareBasis::Balance || inside.goes_beyond_looks()) {
                remarks.push(sentence::exchange_hopeful());
            }
        }
    }
    if let Some(share) = view.share_after_exchange.filter(|_| !inside.has_pan_first()) {
        let (value, least, greatest) = parts_of_100(&share);
        remarks.push(if has_ended(folded) || !measures.pan.is_empty() {
            sentence::exchange_share(greatest, least, value)
        } else {
            sentence::exchange_share_so_far(greatest, least, number::litres(inside.pushed, 1), value)
        });
    }
    if let Some(share) = view.share_after_pan {
        let (value, least, greatest) = parts_of_100(&share);
        remarks.push(if inside.has_pan_first() && has_ended(folded) {
            sentence::exchange_share_at_the_end(greatest, least, value)
        } else if inside.has_pan_first() {
            sentence::exchange_share_so_far(greatest, least, number::litres(inside.pushed, 1), value)
        } else {
            sentence::exchange_share_after_pan(greatest, least, value)
        });
    }
    if !measures.pan.is_empty() && measures.refilled.is_empty() {
        remarks.push(sentence::exchange_not_refilled());
    } else if view.progress.pan_open {
        let refilled = number::litres(measures.sum(&measures.refilled).value, 1);
        remarks.push(sentence::exchange_refilled_in_part(
            number::litres(measures.sum(&measures.pan).value, 1),
            refilled,
        ));
    }
    if let Some(share) = view.progress.share_expected {
        let (value, least, greatest) = parts_of_100(&share);
        remarks.push(sentence::exchange_share_expected(greatest, least, value));
    }
}

/// What is wrong with readings and looks, each with the entries it rests on.
fn findings(looks: &Looks, inside: Option<&Inside>, litres_in: f64) -> Vec<Finding> {
    let mut found = of_readings(looks, litres_in);
    let fitted = inside.iter().flat_map(|inside| &inside.assessment.warnings);
    let of_all = fitted.filter(|warning| matches!(warning, Warning::FillUnknown | Warning::NotFitted));
    found.extend(of_all.filter_map(|warning| looks.finding(warning)));
    found
}

/// What is wrong with single readings, each with the entries it rests on.
fn of_readings(looks: &Looks, litres_in: f64) -> Vec<Finding> {
    let pushed = Litres::new(litres_in);
    let warnings = pushed.map_or_else(|_| Vec::new(), |pushed| looks.warnings(pushed));
    looks.findings.iter().cloned().chain(warnings).collect()
}

/// Litres pushed in, as the counter showed them.
pub(super) fn litres_pushed(folded: &Folded) -> f64 {
    latest(folded).map_or(0.0, |(_, reading)| litres(&reading.pushed_in))
}

fn has_ended(folded: &Folded) -> bool {
    folded.each::<ExchangeReading>().any(|(_, reading)| reading.last)
}

/// The reading at the most litres; of several that with the most out, so that the order of the journal says nothing.
pub(super) fn latest(folded: &Folded) -> Option<(&Stated, &ExchangeReading)> {
    let out = |reading: &ExchangeReading| reading.came_out.as_ref().map_or(-1.0, size);
    folded.each::<ExchangeReading>().max_by(|one, other| {
        let by_out = out(one.1).total_cmp(&out(other.1));
        by_counter(one, other).then(by_out).then_with(|| by_station(one.0, other.0))
    })
}

fn by_counter((_, one): &(&Stated, &ExchangeReading), (_, other): &(&Stated, &ExchangeReading)) -> Ordering {
    litres(&one.pushed_in).total_cmp(&litres(&other.pushed_in))
}

/// An order that is the same however the entries of several stations arrived.
fn by_station(one: &Stated, other: &Stated) -> Ordering {
    (&one.moment.station, one.moment.number).cmp(&(&other.moment.station, other.moment.number))
}

/// The readings in the order of the litre counter.
pub(super) fn by_litres(folded: &Folded) -> Vec<(&Stated, &ExchangeReading)> {
    let mut readings: Vec<(&Stated, &ExchangeReading)> = folded.each::<ExchangeReading>().collect();
    readings.sort_by(|one, other| by_counter(one, other).then_with(|| by_station(one.0, other.0)));
    readings
}

pub(super) fn litres(amount: &Amount) -> f64 {
    match amount.read() {
        Read::Litres(litres) => litres,
        // The counter shows litres; a mass never gets here.
        Read::Kilograms(_) => 0.0,
    }
}

fn size(amount: &Amount) -> f64 {
    match amount.read() {
        Read::Litres(size) | Read::Kilograms(size) => size,
    }
}

/// A share as whole parts of 100: value, least, greatest.
pub(super) fn parts_of_100(share: &Estimate) -> (String, String, String) {
    let (least, greatest) = share.interval95_within((0.0, 1.0));
    let parts = |share: f64| number::fixed(share * 100.0, 0);
    (parts(share.value), parts(least), parts(greatest))
}
