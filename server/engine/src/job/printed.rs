//! What a customer reads first: in short, what was put in and fitted; and the computed numbers.

use super::exchange::{ExchangeOf, parts_of_100};
use super::fold::Folded;
use super::{Context, Identity, balance, level, seen};
use crate::catalogue::same_code;
use crate::kind::arrival::Arrival;
use crate::kind::closing::Closing;
use crate::kind::fill::Fill;
use crate::kind::part_checked::PartChecked;
use crate::kind::part_fitted::{PartFitted, in_words};
use crate::kind::plug_closed::PlugClosed;
use crate::kind::tightening::Tightening;
use crate::kind::words::{FillPurpose, Outcome, Part, ServicePart};
use crate::quantity::Estimate;
use crate::text::{Sentence, number, sentence};
use crate::view::{BalanceView, DoneRow, Figure, LevelView};

/// The parts of a view that the customer's page draws on.
pub(super) struct Parts<'a> {
    /// The exchange.
    pub exchange: Option<&'a ExchangeOf>,
    /// The level.
    pub level: &'a LevelView,
}

/// Asked, done, found, level, new-fluid share: at most five sentences.
pub(super) fn in_short(context: &Context<'_>, folded: &Folded, parts: &Parts<'_>) -> Vec<Sentence> {
    let mut short = Vec::with_capacity(5);
    let reasons = folded.last::<Arrival>().and_then(|(_, arrival)| arrival.reasons_in_words());
    short.push(reasons.map_or_else(sentence::short_asked_plain, sentence::short_asked));
    let outcome = folded.last::<Closing>().and_then(|(_, closing)| closing.outcome);
    if outcome == Some(Outcome::NoExchangeDone) {
        short.push(sentence::short_no_exchange());
        short.extend(seen::found(folded));
        return short;
    }
    let Some(exchange) = parts.exchange else {
        short.push(sentence::short_did_nothing());
        short.extend(seen::found(folded));
        return short;
    };
    short.push(did(folded, exchange));
    short.extend(seen::found(folded));
    short.push(level_sentence(context, folded, parts.level));
    short.push(share(exchange));
    short
}

fn did(folded: &Folded, exchange: &ExchangeOf) -> Sentence {
    let drained = balance::drained_from_pan(folded).map(|(_, drain)| drain.amount.as_read());
    let refill = folded.each::<Fill>().rfind(|(_, fill)| fill.purpose == Some(FillPurpose::Refill));
    let refilled = refill.map(|(_, fill)| fill.amount.as_read());
    match (&exchange.pushed_as_read, drained, refilled) {
        (Some(pushed), Some(drained), Some(refilled)) => sentence::short_did_both(drained, pushed, refilled),
        (Some(pushed), ..) => sentence::short_did_exchange(pushed),
        (None, Some(drained), Some(refilled)) => sentence::short_did_pan(drained, refilled),
        (None, ..) => sentence::short_did_nothing(),
    }
}

fn share(exchange: &ExchangeOf) -> Sentence {
    match exchange.view.share_after_pan.or(exchange.view.share_after_exchange) {
        Some(share) => {
            let (value, least, greatest) = parts_of_100(&share);
            sentence::short_share(greatest, least, value)
        }
        None => sentence::short_share_unknown(),
    }
}

fn level_sentence(context: &Context<'_>, folded: &Folded, view: &LevelView) -> Sentence {
    let identity = Identity::of(context, folded);
    match (level::set_at(folded, &identity), view.window_celsius) {
        (Some(temperature), Some((least, greatest))) => {
            sentence::short_level(number::celsius(greatest, 0), number::fixed(least, 0), temperature)
        }
        _ => sentence::short_level_unset(),
    }
}

/// What was put in and fitted, a line each: fluid, filter, parts, screws, magnets, plug.
pub(super) fn done(folded: &Folded, identity: &Identity, balance: Option<&BalanceView>) -> Vec<DoneRow> {
    let mut rows = Vec::new();
    let filled: Vec<&Fill> = folded.each::<Fill>().map(|(_, fill)| fill).collect();
    let checks: Vec<&PartChecked> = folded.each::<PartChecked>().map(|(_, check)| check).collect();
    let containers = checks.iter().filter(|check| check.part == Some(Part::FluidContainer));
    if let Some(total) = balance.and_then(balance::fresh_total) {
        let wanted = identity.variant.as_ref().and_then(|variant| variant.fluid.as_ref());
        let name = wanted
            .map(|(_, name)| name.clone())
            .or_else(|| filled.iter().map(|fill| fill.fluid_code.clone()).find(|code| !code.is_empty()));
        let mut lots: Vec<&str> = Vec::new();
        let taken = containers
            .filter(|check| identity.variant.as_ref().is_none_or(|variant| variant.takes_fluid(&check.code)));
        let read = taken.map(|check| check.lot.as_str()).chain(filled.iter().map(|fill| fill.lot.as_str()));
        for lot in read.filter(|lot| !lot.is_empty()) {
            if !lots.iter().any(|known| same_code(known, lot)) {
                lots.push(lot);
            }
        }
        rows.push(DoneRow {
            what: name.map_or_else(sentence::done_fluid, sentence::done_fluid_named),
            detail: (!lots.is_empty()).then(|| sentence::done_lots(lots.join(", "))),
            amount: Some(sentence::done_litres(number::litres(total.value, 1))),
        });
    }
    rows.extend(filter_row(&checks));
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

fn filter_row(checks: &[&PartChecked]) -> Option<DoneRow> {
    let filter = checks.iter().rfind(|check| check.part == Some(Part::Filter))?;
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
        share("new_fluid_share_after_pan", sentence::figure_after_pan, view.share_after_pan, reasons);
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
