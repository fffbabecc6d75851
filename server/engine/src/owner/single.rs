//! Single jobs that are to be looked at by themselves, whatever their workshops are named for: litres that nobody accounted
//! for, come-backs, tools, fluids, the level, decisions against the advice.
//!
//! A row says it by itself, so that a store can keep the mark. Never here: a comparison, or a person.

use super::JobRow;
use super::come_backs::{WITHIN_DAYS, came_back};
use crate::text::{Sentence, number, sentence};
use std::cmp::Reverse;

/// Litres from which on a job is listed when nobody explained them, in L (common practice, no source).
const UNEXPLAINED_LITRES: f64 = 0.5;

/// The rows that stand out, in the order in which they are shown: litres that nobody accounted for before anything else,
/// and of the same the latest, so that what is left out is the oldest.
pub(super) fn jobs(rows: &[JobRow]) -> Vec<&JobRow> {
    let mut single: Vec<&JobRow> = rows.iter().filter(|row| !stands_out(row).is_empty()).collect();
    single.sort_by_key(|row| (unaccounted(row).is_none(), Reverse((&row.day, &row.job))));
    single
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
    let mut said = Vec::new();
    said.extend(unaccounted(row).map(|litres| sentence::owner_look_unexplained(number::litres(litres, 2))));
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
    if row.done && !row.level_set {
        said.push(sentence::owner_look_level());
    }
    if row.decisions > 0 {
        said.push(sentence::owner_look_decided(u64::from(row.decisions)));
    }
    said
}
