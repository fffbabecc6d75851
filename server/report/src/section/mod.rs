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

use standpipe_engine::text::Sentence;

use self::condition::Lines;
use crate::compose::Composer;
use crate::error::ReportError;
use crate::options::Given;
use crate::strip::Strip;

/// What of a list stands in a section: the customer's pages carry no figure of a laboratory or a photo.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Place {
    /// Everything, for the expert.
    Expert,
    /// What carries no such figure.
    Customer,
    /// Only what does, behind the customer's pages.
    Behind,
}

impl Place {
    fn takes<'a>(self, said: impl IntoIterator<Item = &'a Sentence>) -> bool {
        let is_figure = |key: &str| key == "letter" || key == "sample-photo";
        match self {
            Self::Expert => true,
            Self::Customer => !said.into_iter().any(|said| said.holds(is_figure)),
            Self::Behind => said.into_iter().any(|said| said.holds(is_figure)),
        }
    }
}

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
        findings::strips(view, Place::Expert, composer)?,
        condition::strips(view, Lines::All, composer)?,
        exchange::strips(view, composer)?,
        balance::strips(view, composer)?,
        level::strips(view, composer)?,
        tightening::strips(view, composer)?,
        not_measured::strips(view, composer)?,
        noted::strips(given, composer)?,
        changes::strips(view, Place::Expert, composer)?,
        photos::strips(given, composer)?,
        safety::strips(view, composer)?,
    ])
}

/// The short record of a job that was stopped with no exchange done: why, what was seen, what was left as it
/// is. What was filled or drained before the stop stands in it too; what a laboratory or a photo says stands behind it.
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
        findings::strips(view, Place::Customer, composer)?,
        please_note::strips(view, composer)?,
        before_and_after::strips(given, composer)?,
        done::strips(view, composer)?,
        condition::strips(view, Lines::WithoutFigures, composer)?,
        exchange::strips(view, composer)?,
        balance::strips(view, composer)?,
        level,
        tightening::strips(view, composer)?,
        not_measured::strips(view, composer)?,
        noted::strips(given, composer)?,
        changes::strips(view, Place::Customer, composer)?,
        photos::strips(given, composer)?,
        safety::strips(view, composer)?,
    ])
}

/// What stands behind the short record of a stopped job: the figures of a laboratory and of photos; nothing where there
/// are none.
///
/// # Errors
/// As [`Composer::say`].
pub(crate) fn behind_a_stopped_job(
    given: &Given<'_>,
    composer: &mut Composer<'_>,
) -> Result<Vec<Vec<Strip>>, ReportError> {
    let view = given.view;
    let figures = [
        condition::strips(view, Lines::Figures, composer)?,
        findings::strips(view, Place::Behind, composer)?,
        changes::strips(view, Place::Behind, composer)?,
    ];
    let figures: Vec<Vec<Strip>> = figures.into_iter().filter(|strips| !strips.is_empty()).collect();
    if figures.is_empty() {
        return Ok(figures);
    }
    Ok(std::iter::once(identity::title(composer)?).chain(figures).collect())
}
