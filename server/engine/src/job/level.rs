//! The level: every look at it, and which one counts.
//!
//! A look counts only inside the temperature window, with the engine idling, the vehicle level and
//! drops at the overflow, or between the marks of a dipstick, and only while nothing was put in afterwards.
//! Everything else is an attempt and is shown as one. [`when`] says when to read the temperature again, [`drip`] what a
//! counted drip means.

mod drip;
mod readings;
mod said;
mod when;

pub(crate) use readings::{FreshReading, fresh_temperature};
pub(crate) use said::{celsius_beside, edges};

use super::fold::{Folded, Stated};
use super::{Context, Identity};
use crate::catalogue::LevelMethod;
use crate::kind::Fact;
use crate::kind::level_check::LevelCheck;
use crate::kind::words::{Answer, DrainedFrom, Overflow, Selector, TemperatureMeans};
use crate::text::{Sentence, sentence};
use crate::view::{LevelAttempt, LevelView};
use std::cmp::Ordering;

/// Reads the level from the facts.
pub(super) fn of(context: &Context<'_>, folded: &Folded, identity: &Identity) -> LevelView {
    // Of a contradicted variant no window is told: it may be the other series'.
    let right = identity.variant.as_ref().filter(|_| !identity.variant_contradicted);
    let window = right.and_then(|variant| variant.level_window_celsius);
    let attempts: Vec<LevelAttempt> = folded
        .each::<LevelCheck>()
        .map(|(stated, check)| {
            let reasons = against(folded, identity, stated, check);
            let valid = reasons.is_empty();
            let text = if valid {
                sentence::level_valid(conditions(check), check.seen(), temperature(check, window))
            } else {
                sentence::level_not_valid(check.seen(), reasons.clone(), temperature(check, window))
            };
            let first = reasons.into_iter().next();
            let in_short = first.map(|first| {
                sentence::level_not_valid(check.seen(), vec![first], temperature(check, window))
            });
            let in_short = in_short.unwrap_or_else(|| text.clone());
            LevelAttempt { clock: context.clock(stated.time_us), text, in_short, valid }
        })
        .collect();
    let mut remarks = Vec::new();
    match window {
        Some(window) => {
            let (least, greatest) = edges(window);
            let variant = identity.variant.as_ref();
            remarks.push(sentence::level_window(greatest, least));
            // At an overflow it is read unless something else is said.
            let method = variant.and_then(|variant| variant.level_method);
            let method = method.filter(|method| *method != LevelMethod::StandpipeOverflow);
            remarks.extend(method.map(|method| sentence::level_read(sentence::level_method(method.code()))));
            let conditions = variant.and_then(|variant| variant.level_conditions.as_ref());
            remarks.extend(conditions.map(sentence::level_conditions));
        }
        None => remarks.push(sentence::level_window_unknown()),
    }
    if attempts.is_empty() {
        remarks.push(sentence::level_not_looked_at());
    } else if !attempts.iter().any(|attempt| attempt.valid) {
        remarks.push(sentence::level_not_set());
    }
    let looks = folded.each::<LevelCheck>().zip(&attempts);
    let set_celsius = looks.filter(|(_, attempt)| attempt.valid).map(|((_, check), _)| check.celsius).last();
    let when = when::of(context, folded, identity, set_celsius.is_some());
    LevelView {
        window_celsius: window,
        attempts,
        remarks,
        set_celsius,
        drip: drip::of(folded, identity),
        when: when.said,
        forecast: when.forecast,
    }
}

/// The temperature of the look that counts, in words; absent when none counts.
pub(super) fn set_at(folded: &Folded, identity: &Identity) -> Option<String> {
    let window = identity.variant.as_ref().and_then(|variant| variant.level_window_celsius);
    let valid =
        |(stated, check): &(&Stated, &LevelCheck)| against(folded, identity, stated, check).is_empty();
    folded.each::<LevelCheck>().rev().find(valid).map(|(_, check)| temperature(check, window))
}

/// Everything that keeps a look from counting.
fn against(folded: &Folded, identity: &Identity, stated: &Stated, check: &LevelCheck) -> Vec<Sentence> {
    let mut reasons = Vec::new();
    let window = identity.variant.as_ref().and_then(|variant| variant.level_window_celsius);
    let said = window.map(edges).unwrap_or_default();
    match window {
        None => reasons.push(sentence::level_no_window()),
        Some((_, greatest)) if check.celsius > greatest => {
            reasons.push(sentence::level_too_hot(said.1, said.0));
        }
        Some((least, _)) if check.celsius < least || check.celsius.is_nan() => {
            reasons.push(sentence::level_too_cold(said.1, said.0));
        }
        Some(_) => {}
    }
    match check.means {
        Some(TemperatureMeans::Infrared) => reasons.push(sentence::level_infrared()),
        None => reasons.push(sentence::level_means_not_stated()),
        Some(TemperatureMeans::ScanTool | TemperatureMeans::Thermometer) => {}
    }
    if check.engine_idling != Some(Answer::Yes) {
        reasons.push(sentence::level_engine(check.engine_idling.map_or("not-stated", Answer::word)));
    }
    if check.vehicle_level != Some(Answer::Yes) {
        reasons.push(sentence::level_vehicle(check.vehicle_level.map_or("not-stated", Answer::word)));
    }
    match check.selector {
        Some(Selector::Park | Selector::Neutral) => {}
        other => reasons.push(sentence::level_selector(other.map_or("not-stated", Selector::word))),
    }
    reasons.extend(not_right(identity, check));
    reasons.extend(fluid_changed_afterwards(folded, stated));
    reasons.extend(looked_otherwise_later(folded, stated, window));
    reasons
}

/// Why what was seen is no right level: too low, too high, or seen by another method than the variant's.
fn not_right(identity: &Identity, check: &LevelCheck) -> Option<Sentence> {
    let method = identity.variant.as_ref().and_then(|variant| variant.level_method);
    match (method, check.dipstick) {
        (Some(LevelMethod::Dipstick), None) => Some(sentence::level_needs_dipstick()),
        (Some(LevelMethod::StandpipeOverflow | LevelMethod::SideHole), Some(_)) => {
            Some(sentence::level_needs_overflow())
        }
        _ if check.is_right() => None,
        (_, Some(dipstick)) => Some(sentence::level_dipstick(dipstick.word())),
        (_, None) => Some(sentence::level_overflow(check.overflow.map_or("unknown", Overflow::word))),
    }
}

/// A later look inside the window that saw another level says more than this one.
fn looked_otherwise_later(folded: &Folded, look: &Stated, window: Option<(f64, f64)>) -> Option<Sentence> {
    let (least, greatest) = window?;
    let mut later = folded.each::<LevelCheck>().filter(|(stated, _)| stated.seq > look.seq);
    let otherwise =
        |check: &LevelCheck| check.celsius >= least && check.celsius <= greatest && !check.is_right();
    let (_, check) = later.find(|(_, check)| otherwise(check))?;
    Some(match check.dipstick {
        Some(_) => sentence::level_looked_later_dipstick(),
        None => sentence::level_looked_later(),
    })
}

/// Whatever goes in or runs out after a look makes it a look at another level.
fn fluid_changed_afterwards(folded: &Folded, look: &Stated) -> Option<Sentence> {
    let changes = folded.facts.iter().filter(|stated| match &stated.fact {
        Fact::Fill(_) | Fact::ExchangeReading(_) => true,
        Fact::Drain(drain) => drain.place == Some(DrainedFrom::Pan),
        _ => false,
    });
    let orders: Vec<Option<Ordering>> = changes.map(|stated| stated.moment.certainly(&look.moment)).collect();
    if orders.contains(&Some(Ordering::Greater)) {
        Some(sentence::level_changed_afterwards())
    } else if orders.contains(&None) {
        Some(sentence::level_order_not_certain())
    } else {
        None
    }
}

fn temperature(check: &LevelCheck, window: Option<(f64, f64)>) -> String {
    celsius_beside(check.celsius, window)
}

fn conditions(check: &LevelCheck) -> Sentence {
    let means = check.means.map_or("not-stated", TemperatureMeans::word);
    let selector = check.selector.map_or("not-stated", Selector::word);
    sentence::level_conditions_kept(sentence::temperature_means(means), sentence::selector(selector))
}
