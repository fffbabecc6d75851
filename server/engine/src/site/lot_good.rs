//! Whether the lots of a job are good: not recalled, not past their last day, and of the fluid that the container says.
//!
//! Gates ask before the work, the view tells afterwards. A register that knows no lot says nothing. A lot that was
//! recalled after a job used it is told to the workshop, which calls the customer; the record does not change by it.

use super::account::{COMPARED, Use, UseOf, fluid_uses, part_uses};
use super::density::same_fluid;
use super::lots::Lots;
use super::tools::in_words;
use crate::gates::Missing;
use crate::job::{Context, Folded, Identity, Stated};
use crate::kind::Fact;
use crate::kind::closing::Closing;
use crate::kind::decision::Decision;
use crate::kind::fill::Fill;
use crate::kind::part_checked::PartChecked;
use crate::kind::part_fitted::PartFitted;
use crate::kind::words::Part;
use crate::text::{Sentence, sentence};
use crate::view::{Finding, Weight};

/// Key of the point that a named person may decide: a lot past its last day is used all the same.
pub(crate) const EXPIRED: &str = "lot-expired";
/// Key of the point that nobody may decide while the recall stands.
const RECALLED: &str = "lot-recalled";

/// A day of the site as YYYY-MM-DD, which compares as a day does.
pub(super) fn iso_day(context: &Context<'_>, us: i64) -> Option<String> {
    let zone = context.workshop().time_zone.clone();
    let time = jiff::Timestamp::from_microsecond(us).ok()?;
    Some(time.to_zoned_datetime(zone).date().to_string())
}

/// A day as people say it, for example 18 March 2026.
pub(super) fn day_in_words(day: &str) -> String {
    day.parse().map_or_else(|_| day.to_owned(), in_words)
}

/// A lot with the code of what it is a lot of, as far as that is known.
pub(super) fn lot_named(code: &str, lot: &str) -> Sentence {
    if code.is_empty() { sentence::lot_named_plain(lot) } else { sentence::lot_named(code, lot) }
}

/// What speaks against the lots at hand; `decided` says whether a named person decided after a fact.
pub(crate) fn lacking(
    context: &Context<'_>,
    folded: &Folded,
    decided: impl Fn(&Stated) -> bool,
) -> Vec<Missing> {
    let lots = Lots::new(context.revision, context.site, context.site_up_to);
    if lots.is_empty() {
        return Vec::new();
    }
    let mut missing = Vec::new();
    for (stated, code, lot) in at_hand(context, folded) {
        if let Some((_, recall)) = lots.recalled(lot, code) {
            let text = sentence::need_lot_recalled(&recall.reason, lot_named(code, lot));
            missing.push(Missing { key: RECALLED, text, stops: true });
        }
        let mut used = folded.facts.iter().filter(|fact| goes_in(&fact.fact));
        let used = used.rfind(|used| used.seq == stated.seq || used.is_after(stated));
        let day = iso_day(context, used.map_or(context.as_of_us, |used| used.time_us));
        let last = lots.last_day(lot, code).zip(day).filter(|(last, day)| *last < day.as_str());
        if let Some((last, _)) = last.filter(|_| !decided(stated)) {
            let text = sentence::need_lot_expired(day_in_words(last), lot_named(code, lot));
            missing.push(Missing { key: EXPIRED, text, stops: false });
        }
    }
    missing
}

/// Whether fluid goes in with it.
fn goes_in(fact: &Fact) -> bool {
    match fact {
        Fact::Fill(_) => true,
        Fact::ExchangeReading(reading) => !reading.pushed_in.is_zero(),
        _ => false,
    }
}

/// The lots that go in: of the fluid and of the filter the one read last, and of the parts fitted last.
fn at_hand<'a>(context: &Context<'_>, folded: &'a Folded) -> Vec<(&'a Stated, &'a str, &'a str)> {
    let filter = folded.each::<PartChecked>().rfind(|(_, check)| check.part == Some(Part::Filter));
    let filter = filter.map(|(stated, check)| (stated, check.code.as_str(), check.lot.as_str()));
    let mut at_hand: Vec<(&Stated, &str, &str)> =
        fluid_at_hand(context, folded).into_iter().chain(filter).collect();
    let fitted = folded.last::<PartFitted>();
    at_hand.extend(fitted.map(|(stated, fitted)| (stated, fitted.kit.as_str(), fitted.lot.as_str())));
    at_hand.retain(|(_, _, lot)| !lot.is_empty());
    at_hand
}

/// The lot read last of the fluid at hand, on its container or with a fill. Reading the code again without a lot is no
/// other lot: it may be the same container.
fn fluid_at_hand<'a>(context: &Context<'_>, folded: &'a Folded) -> Option<(&'a Stated, &'a str, &'a str)> {
    let read = |stated: &'a Stated| match &stated.fact {
        Fact::PartChecked(check) if check.part == Some(Part::FluidContainer) => {
            Some((stated, check.code.as_str(), check.lot.as_str()))
        }
        Fact::Fill(fill) => Some((stated, fill.fluid_code.as_str(), fill.lot.as_str())),
        _ => None,
    };
    let mut codes = folded.facts.iter().filter_map(read).map(|(_, code, _)| code);
    let code = codes.rfind(|code| !code.is_empty()).unwrap_or_default();
    let same = |other: &str| code.is_empty() || other.is_empty() || same_fluid(context.revision, other, code);
    let mut lots = folded.facts.iter().filter_map(read);
    lots.rfind(|(_, other, lot)| !lot.is_empty() && same(other))
}

/// A lot that the register knows as another fluid than the container says: the container read last, and every fill.
pub(crate) fn contradictions(context: &Context<'_>, folded: &Folded) -> Vec<(Sentence, u64)> {
    let lots = Lots::new(context.revision, context.site, context.site_up_to);
    if lots.is_empty() {
        return Vec::new();
    }
    let container = folded.each::<PartChecked>().rfind(|(_, it)| it.part == Some(Part::FluidContainer));
    let container = container.map(|(stated, check)| (stated, &check.code, &check.lot));
    let fills = folded.each::<Fill>().map(|(stated, fill)| (stated, &fill.fluid_code, &fill.lot));
    let mut found: Vec<(Sentence, u64)> = Vec::new();
    let named = container.into_iter().chain(fills);
    for (stated, code, lot) in named.filter(|(_, code, lot)| !code.is_empty() && !lot.is_empty()) {
        if let Some(other) = lots.other_fluid(lot, code).filter(|other| lots.are_unlike(code, other)) {
            let (container, register) = (fluid_name(context, code), fluid_name(context, other));
            let text = sentence::lot_of_other_fluid(container, lot, register);
            if !found.iter().any(|(known, _)| *known == text) {
                found.push((text, stated.seq));
            }
        }
    }
    found
}

fn fluid_name(context: &Context<'_>, code: &str) -> String {
    context.revision.fluid(code).map_or_else(|| code.to_owned(), |fluid| fluid.name.clone())
}

/// What the register says of the lots that went in.
pub(crate) fn findings(context: &Context<'_>, folded: &Folded, identity: &Identity) -> Vec<Finding> {
    let lots = Lots::new(context.revision, context.site, context.site_up_to);
    if lots.is_empty() {
        return Vec::new();
    }
    let fluids = fluid_uses(context, folded, identity);
    let mut findings: Vec<Finding> = Vec::new();
    for used in fluids.iter().chain(&part_uses(folded)) {
        let found = match (used.lot.is_empty(), used.purpose.as_str()) {
            (true, _) => without_lot(&lots, used),
            (false, COMPARED) => only_read(&lots, used),
            (false, _) => of_lot(context, &lots, used),
        };
        for finding in found {
            match findings.iter_mut().find(|known| known.text == finding.text) {
                Some(known) => known.seqs.extend(finding.seqs),
                None => findings.push(finding),
            }
        }
    }
    // What was said of its use already is not said of the lot once more.
    if !findings.iter().any(|finding| finding.weight == Weight::Stops) {
        findings.extend(read_now(context, folded));
    }
    findings
}

/// What speaks against a lot is said as soon as it is read, before a gate is asked; after the closing nobody uses it.
fn read_now(context: &Context<'_>, folded: &Folded) -> Vec<Finding> {
    if folded.last::<Closing>().is_some() {
        return Vec::new();
    }
    let against = lacking(context, folded, |stated| {
        let mut decisions = folded.each::<Decision>();
        decisions.any(|(made, decision)| decision.point == EXPIRED && made.is_after(stated))
    });
    let finding = |missing: Missing| Finding {
        text: missing.text,
        weight: if missing.stops { Weight::Stops } else { Weight::Tells },
        seqs: Vec::new(),
        on_record: false,
        stands: missing.stops,
    };
    against.into_iter().map(finding).collect()
}

/// A lot that was read on a container and from which nothing is known to have been drawn.
fn only_read(lots: &Lots<'_>, read: &Use) -> Vec<Finding> {
    let recalled = lots.recalled(&read.lot, &read.code);
    let text = recalled
        .map(|(_, recall)| sentence::lot_read_recalled(&recall.reason, lot_named(&read.code, &read.lot)));
    text.map(|text| aside(text, read)).into_iter().collect()
}

/// Code and lot of the fluid that was drawn; a lot that was only looked at is none of them.
pub(crate) fn drawn_lots(
    context: &Context<'_>,
    folded: &Folded,
    identity: &Identity,
) -> Vec<(String, String)> {
    let drawn = fluid_uses(context, folded, identity).into_iter();
    drawn.filter(|used| used.purpose != COMPARED).map(|used| (used.code, used.lot)).collect()
}

/// Somebody in the workshop should know it; the customer has nothing from it.
fn aside(text: Sentence, used: &Use) -> Finding {
    Finding { text, weight: Weight::Tells, seqs: vec![used.seq], on_record: false, stands: false }
}

fn without_lot(lots: &Lots<'_>, used: &Use) -> Vec<Finding> {
    let wanted = used.amount > 0.0 && !used.code.is_empty() && lots.knows(&used.code);
    wanted.then(|| aside(sentence::lot_not_read(&used.code), used)).into_iter().collect()
}

fn of_lot(context: &Context<'_>, lots: &Lots<'_>, used: &Use) -> Vec<Finding> {
    let (code, lot) = (used.code.as_str(), used.lot.as_str());
    let mut found = Vec::new();
    match lots.recalled(lot, code) {
        Some((stated, recall)) if stated.seq < used.seq => found.push(Finding {
            weight: Weight::Stops,
            on_record: true,
            stands: true,
            ..aside(sentence::lot_used_recalled(&recall.reason, lot_named(code, lot)), used)
        }),
        Some((_, recall)) => {
            found.push(aside(sentence::lot_recalled_later(&recall.reason, lot_named(code, lot)), used))
        }
        None => {}
    }
    let day = iso_day(context, used.done_us);
    if let Some((last, _)) = lots.last_day(lot, code).zip(day).filter(|(last, day)| *last < day.as_str()) {
        let text = sentence::lot_used_expired(day_in_words(last), lot_named(code, lot));
        found.push(Finding { on_record: true, ..aside(text, used) });
    }
    // Under which code it came in may be another word for the same fluid.
    let other = lots.other_fluid(lot, code).filter(|_| used.of == UseOf::Fluid && !code.is_empty());
    if let Some(other) = other.filter(|other| !lots.are_unlike(code, other)) {
        let (container, register) = (fluid_name(context, code), fluid_name(context, other));
        found.push(aside(sentence::lot_of_other_code(container, lot, register), used));
        return found;
    }
    let known = lots.deliveries(lot, code).next().is_some();
    if !known && lots.knows(code) {
        found.push(aside(sentence::lot_unknown(lot_named(code, lot)), used));
    }
    found
}
