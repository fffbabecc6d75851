//! What a customer reads first: in short, what was put in and fitted; and the computed numbers.

use super::exchange::{ExchangeOf, litres_pushed as exchange_litres, parts_of_100};
use super::fold::Folded;
use super::{Context, Identity, balance, level, put_in, seen};
use crate::amount::{Amount, Read};
use crate::catalogue::same_code;
use crate::kind::Kind;
use crate::kind::arrival::Arrival;
use crate::kind::closing::Closing;
use crate::kind::fill::Fill;
use crate::kind::part_checked::PartChecked;
use crate::kind::part_fitted::{PartFitted, in_words};
use crate::kind::plug_closed::PlugClosed;
use crate::kind::tightening::Tightening;
use crate::kind::words::{FillPurpose, Outcome, Part, ServicePart, VisitReason};
use crate::quantity::Estimate;
use crate::text::{Sentence, number, sentence};
use crate::view::{BalanceView, DoneRow, Figure, LevelView, ShareBasis};

/// The parts of a view that the customer's page draws on.
pub(super) struct Parts<'a> {
    /// The exchange.
    pub exchange: Option<&'a ExchangeOf>,
    /// Vehicle, variant and fluid.
    pub identity: &'a Identity,
    /// Every amount in litres at 15 °C.
    pub measures: &'a balance::Measures,
    /// The level.
    pub level: &'a LevelView,
}

/// Asked, done, found, level, new-fluid share: at most five sentences.
pub(super) fn in_short(folded: &Folded, parts: &Parts<'_>) -> Vec<Sentence> {
    let mut short = Vec::with_capacity(5);
    short.push(asked(folded));
    let outcome = folded.last::<Closing>().and_then(|(_, closing)| closing.outcome);
    if outcome == Some(Outcome::NoExchangeDone) && parts.exchange.is_none() {
        short.push(sentence::short_no_exchange());
        short.extend(seen::found(folded));
        return short;
    }
    let Some(exchange) = parts.exchange else {
        short.push(sentence::short_did_nothing());
        short.extend(seen::found(folded));
        return short;
    };
    short.push(did(folded, parts.measures, exchange));
    short.extend(seen::found(folded));
    short.push(level_sentence(folded, parts));
    short.push(share(exchange));
    short
}

fn asked(folded: &Folded) -> Sentence {
    let arrival = folded.last::<Arrival>().map(|(_, arrival)| arrival);
    let reasons = arrival.and_then(Arrival::reasons_in_words);
    match (arrival.and_then(|arrival| arrival.complaint_about_job.as_ref()), reasons) {
        (Some(job), Some(reasons)) => sentence::short_complained(job, reasons),
        (Some(job), None) => sentence::short_complained_plain(job),
        (None, _) => asked_because(arrival.map_or(&[], |arrival| arrival.reasons.as_slice())),
    }
}

fn asked_because(reasons: &[VisitReason]) -> Sentence {
    let is_due = reasons.contains(&VisitReason::ServiceDue);
    let causes = reasons.iter().filter(|reason| **reason != VisitReason::ServiceDue);
    let causes: Vec<Sentence> = causes.map(|reason| sentence::visit_cause(reason.word())).collect();
    match (is_due, causes.is_empty()) {
        (false, true) => sentence::short_asked_plain(),
        (true, true) => sentence::short_asked_due(),
        (false, false) => sentence::short_asked(causes),
        (true, false) => sentence::short_asked_due_and(causes),
    }
}

fn did(folded: &Folded, measures: &balance::Measures, exchange: &ExchangeOf) -> Sentence {
    let drain = balance::drained_from_pan(folded).map(|(_, drain)| &drain.amount);
    let refill = folded.each::<Fill>().rfind(|(_, fill)| fill.purpose == Some(FillPurpose::Refill));
    let refill = refill.map(|(_, fill)| &fill.amount);
    let is_litres = |amount: Option<&Amount>, all: &[balance::Measured]| {
        all.len() > 1 || matches!(amount.map(Amount::read), Some(Read::Litres(_)))
    };
    let any_litres = exchange.pushed_as_read.is_some()
        || is_litres(drain, &measures.pan)
        || is_litres(refill, &measures.refilled);
    let amount = |one: Option<&Amount>, all: &[balance::Measured]| {
        let litres = || number::litres(measures.sum(all).value, 1);
        match (all, one?.read()) {
            ([], _) => None,
            // Two units in one sentence cannot be compared.
            ([_], Read::Kilograms(_)) if any_litres => Some(format!("{} ({})", one?.as_read(), litres())),
            ([_], _) => Some(one?.as_read().to_owned()),
            _ => Some(litres()),
        }
    };
    let (drained, refilled) = (amount(drain, &measures.pan), amount(refill, &measures.refilled));
    match (&exchange.pushed_as_read, drained, refilled) {
        (Some(pushed), Some(drained), Some(refilled)) => sentence::short_did_both(drained, pushed, refilled),
        (Some(pushed), Some(drained), None) => sentence::short_did_exchange_drained(drained, pushed),
        (Some(pushed), None, _) => sentence::short_did_exchange(pushed),
        (None, Some(drained), None) => sentence::short_did_drain(drained),
        (None, Some(drained), Some(refilled)) => sentence::short_did_pan(drained, refilled),
        (None, None, Some(refilled)) => sentence::short_did_refill(refilled),
        (None, ..) => sentence::short_did_nothing(),
    }
}

fn share(exchange: &ExchangeOf) -> Sentence {
    match exchange.view.progress.share_now {
        Some(share) => {
            let (value, least, greatest) = parts_of_100(&share);
            if exchange.view.progress.basis == Some(ShareBasis::Litres) {
                sentence::short_share_litres(greatest, least, value)
            } else {
                sentence::short_share(greatest, least, value)
            }
        }
        None if exchange.view.progress.withheld.is_some() => sentence::short_share_withheld(),
        None if exchange.view.progress.pan_open => sentence::short_share_pan_open(),
        None => sentence::short_share_unknown(),
    }
}

fn level_sentence(folded: &Folded, parts: &Parts<'_>) -> Sentence {
    match (level::set_at(folded, parts.identity), parts.level.window_celsius) {
        (Some(temperature), Some(window)) => {
            let (least, greatest) = level::edges(window);
            sentence::short_level(greatest, least, temperature)
        }
        _ => sentence::short_level_unset(),
    }
}

/// Each fluid that went in, with litres and lots.
type Fluids = Vec<(Option<String>, f64, Vec<String>)>;

/// Fewest litres that show in tenths.
const LITRES_SHOWN_LEAST: f64 = 0.05;

fn add_fluid(fluids: &mut Fluids, name: Option<String>, litres: f64, lots: Vec<String>) {
    let place = fluids.iter().position(|(known, ..)| *known == name);
    let place = place.unwrap_or_else(|| {
        fluids.push((name, 0.0, Vec::new()));
        fluids.len() - 1
    });
    let Some(row) = fluids.get_mut(place) else { return };
    row.1 += litres;
    for lot in lots.into_iter().filter(|lot| !lot.is_empty()) {
        if !row.2.iter().any(|known| same_code(known, &lot)) {
            row.2.push(lot);
        }
    }
}

/// What was put in and fitted, a line each: the fluid that went in, whatever should have; filter, parts,
/// screws, magnets, plug.
pub(super) fn done(context: &Context<'_>, folded: &Folded, parts: &Parts<'_>) -> Vec<DoneRow> {
    let Parts { identity, measures, .. } = *parts;
    let mut fluids: Fluids = Vec::new();
    let drawn = crate::site::lot_good::drawn_lots(context, folded, identity);
    for measured in measures.pushed.iter().chain(&measures.refilled).chain(&measures.added) {
        let Some(stated) = folded.facts.iter().find(|stated| stated.seq == measured.seq) else { continue };
        let (code, lot) = match Fill::of(&stated.fact) {
            Some(fill) => (put_in::filled_with(folded, stated, fill), Some(fill.lot.clone())),
            None => (put_in::container_before(folded, stated), None),
        };
        let name = code.map(|code| fluid_name(context, identity, &code));
        let of_name = |code: &str| Some(fluid_name(context, identity, code)) == name;
        let of_fluid = drawn.iter().filter(|(code, _)| of_name(code)).map(|(_, lot)| lot.clone());
        let lots: Vec<String> = lot.into_iter().chain(of_fluid).collect();
        // The litre counter does not know from which container it drew; the looks at containers do.
        let counted = Fill::of(&stated.fact).is_none();
        let wrong = identity.wrong_fluid.as_ref().filter(|_| counted);
        // As read, brought to the 15 °C of what is measured.
        let as_read = exchange_litres(folded);
        let at_15 =
            |litres: f64| if as_read > 0.0 { litres * measured.litres.value / as_read } else { litres };
        let others: f64 = wrong.map_or(0.0, |wrong| wrong.pushed().iter().map(|it| at_15(it.1)).sum());
        let name = wrong.map_or(name, |wrong| Some(wrong.own().to_owned()));
        let own = measured.litres.value - others;
        // An exchange with nothing but another fluid put none of the right one in.
        if others == 0.0 || own >= LITRES_SHOWN_LEAST {
            add_fluid(&mut fluids, name, own, lots);
        }
        for (other, litres) in wrong.iter().flat_map(|wrong| wrong.pushed()) {
            add_fluid(&mut fluids, Some(other.clone()), at_15(*litres), Vec::new());
        }
    }
    let mut rows: Vec<DoneRow> = fluids
        .into_iter()
        .map(|(name, litres, lots)| DoneRow {
            what: name.map_or_else(sentence::done_fluid, sentence::done_fluid_named),
            detail: (!lots.is_empty()).then(|| sentence::done_lots(lots.join(", "))),
            amount: Some(sentence::done_litres(number::litres(litres, 1))),
        })
        .collect();
    rows.extend(filter_row(folded));
    rows.extend(folded.each::<PartFitted>().filter_map(|(_, fitted)| parts_row(fitted)));
    rows.extend(folded.each::<Tightening>().map(|(_, tightening)| DoneRow {
        what: tightening.group_in_words(),
        detail: Some(sentence::done_list(tightening.how())),
        amount: Some(tightening.new_in_words()),
    }));
    if folded.each::<PartFitted>().any(|(_, fitted)| fitted.is_new(ServicePart::Magnets)) {
        rows.push(DoneRow {
            what: sentence::done_magnets(),
            detail: None,
            amount: Some(sentence::done_new()),
        });
    }
    rows.extend(folded.last::<PlugClosed>().map(|(_, plug)| DoneRow {
        what: sentence::done_plug(),
        detail: Some(sentence::done_list(plug.how())),
        amount: Some(sentence::done_list(plug.new_in_words())),
    }));
    rows
}

fn filter_row(folded: &Folded) -> Option<DoneRow> {
    let (_, filter) = folded.each::<PartChecked>().rfind(|(_, check)| check.part == Some(Part::Filter))?;
    let detail = Some(sentence::done_code(&filter.code));
    Some(DoneRow { what: sentence::done_filter(), detail, amount: None })
}

/// New parts: 'all of the kit, except …' with kit code and lot, and the parts that were named. Magnets have
/// their own row.
fn parts_row(fitted: &PartFitted) -> Option<DoneRow> {
    let named: Vec<ServicePart> = fitted
        .fitted
        .iter()
        .copied()
        .filter(|part| fitted.is_new(*part) && *part != ServicePart::Magnets)
        .collect();
    let mut details = fitted.codes();
    let what = match (fitted.kit.is_empty(), fitted.excepted.is_empty()) {
        (false, true) => sentence::done_kit_all(),
        (false, false) => sentence::done_kit_except(in_words(&fitted.excepted)),
        (true, _) if named.is_empty() => return None,
        (true, _) => sentence::done_parts(in_words(&named)),
    };
    if !fitted.kit.is_empty() {
        details.extend(in_words(&named));
    }
    let detail = (!details.is_empty()).then(|| sentence::done_list(details));
    Some(DoneRow { what, detail, amount: Some(sentence::done_new()) })
}

/// The name of a fluid by the code on its container, or the code as read.
fn fluid_name(context: &Context<'_>, identity: &Identity, code: &str) -> String {
    let own = identity.variant.as_ref().filter(|variant| variant.takes_fluid(code));
    let own = own.and_then(|variant| variant.fluid.as_ref()).map(|(_, name)| name.clone());
    own.or_else(|| context.revision.fluid(code).map(|fluid| fluid.name.clone()))
        .unwrap_or_else(|| code.to_owned())
}

/// The computed numbers with their uncertainty.
pub(super) fn figures(exchange: Option<&ExchangeOf>, balance: Option<&BalanceView>) -> Vec<Figure> {
    let mut figures = Vec::new();
    let mut share = |key, label: fn() -> Sentence, estimate: Option<Estimate>, reasons: &[Sentence]| {
        let Some(estimate) = estimate else { return };
        let (value, least, greatest) = parts_of_100(&estimate);
        let text = sentence::figure_share(greatest, least, value);
        figures.push(Figure { key, label: label(), estimate, unit: "1", text, reasons: reasons.to_vec() });
    };
    if let Some(exchange) = exchange {
        let view = &exchange.view;
        let reasons = &view.remarks;
        share(
            "new_fluid_share_after_exchange",
            sentence::figure_after_exchange,
            view.share_after_exchange,
            reasons,
        );
        share("new_fluid_share_now", sentence::figure_share_now, view.progress.share_now, reasons);
        // Done or foretold, it is the figure at handover.
        let (label, at_handover): (fn() -> Sentence, _) = match view.share_after_pan {
            None => (sentence::figure_after_pan_expected, view.progress.share_expected),
            done if view.progress.basis == Some(ShareBasis::PanFirst) => (sentence::figure_at_the_end, done),
            done => (sentence::figure_after_pan, done),
        };
        share("new_fluid_share_after_pan", label, at_handover, reasons);
        if let Some(kept) = view.progress.kept_litres {
            let half = number::litres(kept.expanded95(), 2);
            let text = sentence::figure_litres(half, number::fixed(kept.value, 2));
            let (label, reasons) = (sentence::figure_kept(), reasons.clone());
            figures.push(Figure { key: "new_fluid_kept", label, estimate: kept, unit: "L", text, reasons });
        }
    }
    if let Some(balance) = balance {
        let rows = [
            (
                "fluid_in",
                sentence::figure_fluid_in as fn() -> Sentence,
                (!balance.went_in.is_empty()).then_some(balance.total_in),
            ),
            (
                "fluid_out",
                sentence::figure_fluid_out,
                (!balance.came_out.is_empty()).then_some(balance.total_out),
            ),
            ("fluid_in_minus_out", sentence::figure_difference, balance.difference),
        ];
        for (key, label, estimate) in rows {
            let Some(estimate) = estimate else { continue };
            let half = number::litres(estimate.expanded95(), 2);
            let text = sentence::figure_litres(half, number::fixed(estimate.value, 2));
            let reasons = balance.remarks.clone();
            figures.push(Figure { key, label: label(), estimate, unit: "L", text, reasons });
        }
    }
    figures
}
