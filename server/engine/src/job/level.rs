//! The level: every look at it, and which one counts.
//!
//! A look counts only inside the temperature window, with the engine idling, the vehicle level and
//! drops at the overflow, and only while nothing was put in afterwards. Everything else is an
//! attempt and is shown as one. [`when`] says when to read the temperature again, [`drip`] what a
//! counted drip means.

mod drip;
mod readings;
mod said;
mod when;

pub(crate) use readings::{FreshReading, fresh_temperature};
pub(crate) use said::{celsius_beside, edges};

use super::fold::{Folded, Stated};
use super::{Context, Identity};
use crate::kind::Fact;
use crate::kind::level_check::LevelCheck;
use crate::kind::words::{Answer, DrainedFrom, Overflow, Selector, TemperatureMeans};
use crate::text::{Sentence, sentence};
use crate::view::{LevelAttempt, LevelView};
use std::cmp::Ordering;

/// Reads the level from the facts.
pub(super) fn of(context: &Context<'_>, folded: &Folded, identity: &Identity) -> LevelView {
    let window = identity.variant.as_ref().and_then(|variant| variant.level_window_celsius);
    let attempts: Vec<LevelAttempt> = folded
        .each::<LevelCheck>()
        .map(|(stated, check)| {
            let reasons = against(folded, stated, check, window);
            let valid = reasons.is_empty();
            let text = if valid {
                sentence::level_valid(conditions(check), overflow(check), temperature(check, window))
            } else {
                sentence::level_not_valid(overflow(check), reasons.clone(), temperature(check, window))
            };
            let first = reasons.into_iter().next();
            let in_short = first.map(|first| {
                sentence::level_not_valid(overflow(check), vec![first], temperature(check, window))
            });
            let in_short = in_short.unwrap_or_else(|| text.clone());
            LevelAttempt { clock: context.clock(stated.time_us), text, in_short, valid }
        })
        .collect();
    let mut remarks = Vec::new();
    match window {
        Some(window) => {
            let (least, greatest) = edges(window);
            let method = identity.variant.as_ref().and_then(|variant| variant.level_conditions.as_ref());
            remarks.push(sentence::level_window(greatest, least));
            remarks.extend(method.map(sentence::level_conditions));
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
    let valid = |(stated, check): &(&Stated, &LevelCheck)| against(folded, stated, check, window).is_empty();
    folded.each::<LevelCheck>().rev().find(valid).map(|(_, check)| temperature(check, window))
}

/// Everything that keeps a look from counting.
fn against(
    folded: &Folded,
    stated: &Stated,
    check: &LevelCheck,
    window: Option<(f64, f64)>,
) -> Vec<Sentence> {
    let mut reasons = Vec::new();
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
    match check.overflow {
        Some(Overflow::Drops) => {}
        other => reasons.push(sentence::level_overflow(other.map_or("unknown", Overflow::word))),
    }
    reasons.extend(fluid_changed_afterwards(folded, stated));
    reasons.extend(looked_otherwise_later(folded, stated, window));
    reasons
}

/// A later look inside the window that saw no drops says more than this one.
fn looked_otherwise_later(folded: &Folded, look: &Stated, window: Option<(f64, f64)>) -> Option<Sentence> {
    let (least, greatest) = window?;
    let mut later = folded.each::<LevelCheck>().filter(|(stated, _)| stated.seq > look.seq);
    let otherwise = later.any(|(_, check)| {
        check.celsius >= least && check.celsius <= greatest && check.overflow != Some(Overflow::Drops)
    });
    otherwise.then(sentence::level_looked_later)
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

fn overflow(check: &LevelCheck) -> Sentence {
    sentence::overflow(check.overflow.map_or("unknown", Overflow::word))
}

fn conditions(check: &LevelCheck) -> Sentence {
    let means = check.means.map_or("not-stated", TemperatureMeans::word);
    let selector = check.selector.map_or("not-stated", Selector::word);
    sentence::level_conditions_kept(sentence::temperature_means(means), sentence::selector(selector))
}
