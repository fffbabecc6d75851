//! Single jobs that are to be looked at by themselves, whatever their workshops are named for: vehicles that may hold
//! too little or too much fluid, litres that nobody accounted for, come-backs, tools, fluids, the level, decisions against the advice.
//!
//! A row says it by itself, so that a store can keep the mark. Never here: a comparison, or a person.

use super::JobRow;
use super::come_backs::{WITHIN_DAYS, came_back};
use crate::text::{Sentence, number, sentence};
use std::cmp::Reverse;

/// Litres from which on a job is listed when nobody explained them, in L (common practice, no source).
const UNEXPLAINED_LITRES: f64 = 0.5;
/// Coverage factor of 95 % (GUM, JCGM 100:2008, 6.3).
const COVERAGE: f64 = 2.0;

/// The rows that stand out, in the order in which they are shown: vehicles at risk, then litres that nobody accounted for,
/// before anything else, and of the same the latest, so that what is left out is the oldest.
pub(super) fn jobs(rows: &[JobRow]) -> Vec<&JobRow> {
    let mut single: Vec<&JobRow> = rows.iter().filter(|row| !stands_out(row).is_empty()).collect();
    // Cached: what makes a row stand out is put into sentences to be known.
    single.sort_by_cached_key(|row| {
        let no_risk = is_at_risk(row).is_none();
        (no_risk, no_risk && unaccounted(row).is_none(), Reverse((&row.day, &row.job)))
    });
    single
}

/// Why a vehicle may have left with too little or too much fluid – without a look at the level that counts – or with work open; absent where
/// nothing says so. What is not accounted for harms no vehicle whose level was looked at as it should be.
pub(super) fn is_at_risk(row: &JobRow) -> Option<Vec<Sentence>> {
    let litres = if row.level_set { None } else { short(row).or_else(|| unexplained(row)) };
    let open = (row.open_at_closing > 0).then(|| sentence::owner_look_open(u64::from(row.open_at_closing)));
    let litres = litres.or_else(|| is_unseen(row).then(sentence::owner_look_level));
    let why: Vec<Sentence> = litres.into_iter().chain(open).collect();
    (row.closed_us.is_some() && !why.is_empty()).then_some(why)
}

/// Fluid was moved, no look at the level counts, and the job did not end as done: of those that did it is told by itself.
fn is_unseen(row: &JobRow) -> bool {
    let was_moved = [row.litres_in, row.litres_out].into_iter().flatten().any(|litres| litres > 0.0);
    was_moved && !row.level_set && !row.done
}

/// Clearly less in than out, as far as either was measured: what was not measured of what came out makes it no better.
fn short(row: &JobRow) -> Option<Sentence> {
    let measured = || {
        let (out, of_out) = row.litres_out.zip(row.litres_out_uncertainty)?;
        let went_in = row.litres_in.unwrap_or_default();
        Some((went_in - out, of_out.hypot(row.litres_in_uncertainty.unwrap_or_default())))
    };
    let (difference, uncertainty) = row.difference.zip(row.difference_uncertainty).or_else(measured)?;
    let is_short = difference + COVERAGE * uncertainty < -UNEXPLAINED_LITRES;
    let litres = || number::litres(-difference, 2);
    // What nobody wrote down was not measured to be less.
    let is_known = row.difference.is_some() || row.litres_in.is_some();
    let said = || if is_known { sentence::owner_look_short } else { sentence::owner_look_only_out };
    is_short.then(|| said()(litres()))
}

/// Litres that nobody accounted for, with their direction: too much is no better than too little.
fn unexplained(row: &JobRow) -> Option<Sentence> {
    let litres = unaccounted(row)?;
    let said = if litres < 0.0 { sentence::owner_look_short } else { sentence::owner_look_unexplained };
    Some(said(number::litres(litres.abs(), 2)))
}

/// Litres of a job that nobody accounted for, where they are worth a look.
fn unaccounted(row: &JobRow) -> Option<f64> {
    row.difference.filter(|litres| row.unexplained && litres.abs() > UNEXPLAINED_LITRES)
}

/// Days after which the vehicle came back, where that is soon.
fn soon_back(row: &JobRow) -> Option<u64> {
    let [soon, ..] = WITHIN_DAYS;
    row.back_after_days.filter(|_| came_back(row, soon)).and_then(|days| u64::try_from(days).ok())
}

/// What makes one job stand out by itself.
pub(super) fn stands_out(row: &JobRow) -> Vec<Sentence> {
    let short = if row.level_set { None } else { short(row) };
    let mut said = Vec::new();
    said.extend(short.or_else(|| unexplained(row)));
    if row.open_at_closing > 0 {
        said.push(sentence::owner_look_open(u64::from(row.open_at_closing)));
    }
    said.extend(soon_back(row).map(sentence::owner_look_back));
    if !row.tools_past_check.is_empty() {
        said.push(sentence::owner_look_tool(row.tools_past_check.join(", ")));
    }
    if row.other_fluid {
        said.push(sentence::owner_look_other_fluid());
    }
    if row.recalled_lot {
        said.push(sentence::owner_look_recalled());
    }
    if !row.level_set && (row.done || is_at_risk(row).is_some()) {
        said.push(sentence::owner_look_level());
    }
    if row.decisions > 0 {
        said.push(sentence::owner_look_decided(u64::from(row.decisions)));
    }
    said
}
