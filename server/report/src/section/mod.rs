//! The sections of the record, one a file, in the order in which they are read.
//!
//! Page one speaks to the customer; the rest to the expert and the office. A section without anything
//! to say is left out, except those that always stand: head, what was not measured, safety, signatures,
//! foot. Called by `layout`.

pub(crate) mod annex;
mod balance;
mod before_and_after;
mod changes;
mod condition;
mod done;
mod exchange;
mod findings;
pub(crate) mod foot;
pub(crate) mod head;
mod identity;
mod in_short;
mod level;
mod next_due;
mod not_measured;
mod noted;
mod photos;
mod please_note;
pub(crate) mod safety;

pub(crate) mod signatures;
mod still_open;
mod tightening;
pub(crate) mod words;

use crate::compose::Composer;
use crate::error::ReportError;
use crate::options::Given;
use crate::strip::Strip;

/// The sections of page one.
///
/// # Errors
/// As [`Composer::say`].
pub(crate) fn for_the_customer(
    given: &Given<'_>,
    composer: &mut Composer<'_>,
) -> Result<Vec<Vec<Strip>>, ReportError> {
    let view = given.view;
    Ok(vec![
        head::strips(given, composer)?,
        in_short::strips(given, composer)?,
        still_open::strips(view, composer)?,
        please_note::strips(view, composer)?,
        before_and_after::strips(given, composer)?,
        done::strips(view, composer)?,
        next_due::strips(view, composer)?,
    ])
}

/// The sections of page two and after; the signatures stand under the last.
///
/// # Errors
/// As [`Composer::say`].
pub(crate) fn for_the_expert(
    given: &Given<'_>,
    composer: &mut Composer<'_>,
) -> Result<Vec<Vec<Strip>>, ReportError> {
    let view = given.view;
    Ok(vec![
        identity::title(composer)?,
        identity::strips(view, composer)?,
        findings::strips(view, composer)?,
        condition::strips(view, composer)?,
        exchange::strips(view, composer)?,
        balance::strips(view, composer)?,
        level::strips(view, composer)?,
        tightening::strips(view, composer)?,
        not_measured::strips(view, composer)?,
        noted::strips(given, composer)?,
        changes::strips(view, composer)?,
        photos::strips(given, composer)?,
        safety::strips(view, composer)?,
    ])
}

/// The short record of a job that was stopped with no exchange done: why, what was seen, what was left as it
/// is. What was filled or drained before the stop stands in it too.
///
/// # Errors
/// As [`Composer::say`].
pub(crate) fn of_a_stopped_job(
    given: &Given<'_>,
    composer: &mut Composer<'_>,
) -> Result<Vec<Vec<Strip>>, ReportError> {
    let view = given.view;
    let level = if view.level.attempts.is_empty() { Vec::new() } else { level::strips(view, composer)? };
    Ok(vec![
        head::strips(given, composer)?,
        in_short::strips(given, composer)?,
        still_open::strips(view, composer)?,
        findings::strips(view, composer)?,
        please_note::strips(view, composer)?,
        before_and_after::strips(given, composer)?,
        done::strips(view, composer)?,
        condition::strips(view, composer)?,
        exchange::strips(view, composer)?,
        balance::strips(view, composer)?,
        level,
        tightening::strips(view, composer)?,
        not_measured::strips(view, composer)?,
        noted::strips(given, composer)?,
        changes::strips(view, composer)?,
        photos::strips(given, composer)?,
        safety::strips(view, composer)?,
    ])
}
