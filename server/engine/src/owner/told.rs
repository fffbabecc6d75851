//! What is told first: vehicles that may be harmed, then what is named, a sentence each, but many displays that nobody checked
//! in one, so that they hide nothing else; last in how many jobs the level was not looked at.
//!
//! Never here: what is named, or in which order.

use super::compare::{Exception, JOBS_NAMED, JobShown, equipment, listed, shown};
use super::measure::Measure;
use super::{JobRow, single};
use crate::text::{Sentence, sentence};
use std::cmp::Reverse;

/// Displays without a check from which on they are told together.
pub const TOGETHER_FROM: usize = 3;
/// Most displays that are named then; how many more there are is said.
const DISPLAYS_NAMED: usize = 12;

/// A sentence and the jobs whose numbers stand in it, in their order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Told {
    /// In words.
    pub text: Sentence,
    /// Jobs that can be opened from it.
    pub jobs: Vec<JobShown>,
}

impl Told {
    /// A sentence that names no job.
    pub(super) fn plain(text: Sentence) -> Self {
        Self { text, jobs: Vec::new() }
    }
}

/// Vehicles at risk, in one sentence.
///
/// * `rows` – closed jobs; those that stand out at least
pub(super) fn at_risk<'a>(
    rows: impl Iterator<Item = &'a JobRow>,
    site_name: impl Fn(&str) -> String,
) -> Option<Told> {
    let mut at_risk: Vec<(&JobRow, Vec<Sentence>)> =
        rows.filter_map(|row| Some((row, single::is_at_risk(row)?))).collect();
    at_risk.sort_by_key(|(row, _)| Reverse((&row.day, &row.job)));
    let count = at_risk.len() as u64;
    at_risk.truncate(JOBS_NAMED);
    let jobs = at_risk.iter().map(|(row, _)| shown(row)).collect();
    let named: Vec<Sentence> = at_risk
        .into_iter()
        .map(|(row, why)| sentence::owner_at_risk_of(row.number.clone(), site_name(&row.site), why))
        .collect();
    let text = match count.saturating_sub(named.len() as u64) {
        0 => (count > 0).then(|| sentence::owner_at_risk(count, named)),
        more => Some(sentence::owner_at_risk_more(count.to_string(), named, more.to_string())),
    };
    Some(Told { text: text?, jobs })
}

/// In how many jobs the level was not looked at, with the latest of them.
///
/// * `count` – as the sums have it
/// * `rows` – closed jobs; those that stand out at least
/// * `site_name` – where they are of several sites: paper has no links, and two sites may number alike
pub(super) fn level_unset<'a>(
    count: u64,
    rows: impl Iterator<Item = &'a JobRow>,
    site_name: Option<impl Fn(&str) -> String>,
) -> Option<Told> {
    let mut unset: Vec<&JobRow> = rows.filter(|row| row.done && !row.level_set).collect();
    unset.sort_by_key(|row| Reverse((&row.day, &row.job)));
    let jobs: Vec<_> = unset.into_iter().take(JOBS_NAMED).map(shown).collect();
    if count == 0 || jobs.is_empty() {
        return None;
    }
    let more = count.saturating_sub(jobs.len() as u64);
    let named = jobs.iter().map(|job| match &site_name {
        Some(site_name) => format!("{} {}", site_name(&job.site), job.number),
        None => job.number.clone(),
    });
    let named = listed(&named.collect::<Vec<_>>(), more);
    Some(Told { text: sentence::owner_level_unset(count, named), jobs })
}

/// What is named, in its order.
pub(super) fn told(exceptions: &[Exception], site_name: impl Fn(&str) -> String) -> Vec<Told> {
    let is_unchecked = |it: &&Exception| it.named.measure == Measure::DisplayUnchecked;
    let unchecked: Vec<&Exception> = exceptions.iter().filter(is_unchecked).collect();
    let mut together = (unchecked.len() >= TOGETHER_FROM).then(|| displays(&unchecked, site_name));
    let is_together = together.is_some();
    let mut said = Vec::with_capacity(exceptions.len());
    for exception in exceptions {
        if is_together && is_unchecked(&exception) {
            said.extend(together.take());
        } else {
            said.push(Told { text: exception.text.clone(), jobs: exception.jobs.clone() });
        }
    }
    said
}

fn displays(unchecked: &[&Exception], site_name: impl Fn(&str) -> String) -> Told {
    let one = |it: &&Exception| {
        let jobs = it.jobs.len() as u64 + it.more;
        let first = it.jobs.first().map(|job| job.number.clone()).unwrap_or_default();
        sentence::owner_display_of(
            equipment(&it.named.equipment),
            first,
            jobs.to_string(),
            site_name(&it.named.site),
        )
    };
    let named: Vec<Sentence> = unchecked.iter().take(DISPLAYS_NAMED).map(one).collect();
    let count = unchecked.len().to_string();
    let jobs = unchecked.iter().take(DISPLAYS_NAMED).filter_map(|it| it.jobs.first().cloned()).collect();
    let text = match unchecked.len() - named.len() {
        0 => sentence::owner_displays_unchecked(count, named),
        more => sentence::owner_displays_unchecked_more(count, named, more.to_string()),
    };
    Told { text, jobs }
}
