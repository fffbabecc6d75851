//! What is named as it is told: a sentence each, but many displays that nobody checked in one, so that they hide nothing else.
//!
//! Never here: what is named, or in which order.

use super::compare::{Exception, equipment};
use super::measure::Measure;
use crate::text::{Sentence, sentence};

/// Displays without a check from which on they are told together.
pub const TOGETHER_FROM: usize = 3;
/// Most displays that are named then; how many more there are is said.
const DISPLAYS_NAMED: usize = 12;

/// The sentences, in the order of what is named.
#[must_use]
pub fn told(exceptions: &[Exception], site_name: impl Fn(&str) -> String) -> Vec<Sentence> {
    let is_unchecked = |it: &&Exception| it.named.measure == Measure::DisplayUnchecked;
    let unchecked: Vec<&Exception> = exceptions.iter().filter(is_unchecked).collect();
    let mut together = (unchecked.len() >= TOGETHER_FROM).then(|| displays(&unchecked, site_name));
    let is_together = together.is_some();
    let mut said = Vec::with_capacity(exceptions.len());
    for exception in exceptions {
        if is_together && is_unchecked(&exception) {
            said.extend(together.take());
        } else {
            said.push(exception.text.clone());
        }
    }
    said
}

fn displays(unchecked: &[&Exception], site_name: impl Fn(&str) -> String) -> Sentence {
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
    match unchecked.len() - named.len() {
        0 => sentence::owner_displays_unchecked(count, named),
        more => sentence::owner_displays_unchecked_more(count, named, more.to_string()),
    }
}
