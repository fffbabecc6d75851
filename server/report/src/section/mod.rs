//! The sections of the record, one a file, in the order in which they are read.
//!
//! Page one speaks to the customer; the rest to the expert and the office. A section without anything
//! to say is left out, except those that always stand: head, what was not measured, safety, signatures,
//! foot. Called by `render`.

mod balance;
mod before_and_after;
mod changes;
mod done;
mod exchange;
mod findings;
pub(crate) mod foot;
mod head;
mod identity;
mod in_short;
mod level;
mod not_measured;
mod please_note;
pub(crate) mod safety;
pub(crate) mod signatures;
mod still_open;

use standpipe_engine::view::JobView;

use crate::compose::Composer;
use crate::error::ReportError;
use crate::strip::Strip;

/// The sections of page one.
///
/// # Errors
/// As [`Composer::say`].
pub(crate) fn for_the_customer(
    view: &JobView,
    composer: &mut Composer<'_>,
) -> Result<Vec<Vec<Strip>>, ReportError> {
    Ok(vec![
        head::strips(view, composer)?,
        in_short::strips(view, composer)?,
        still_open::strips(view, composer)?,
        please_note::strips(view, composer)?,
        before_and_after::strips(view, composer)?,
        done::strips(view, composer)?,
    ])
}

/// The sections of page two and after, but for the last, which the signatures stand under.
///
/// # Errors
/// As [`Composer::say`].
pub(crate) fn for_the_expert(
    view: &JobView,
    composer: &mut Composer<'_>,
) -> Result<Vec<Vec<Strip>>, ReportError> {
    Ok(vec![
        identity::strips(view, composer)?,
        findings::strips(view, composer)?,
        exchange::strips(view, composer)?,
        balance::strips(view, composer)?,
        level::strips(view, composer)?,
        not_measured::strips(view, composer)?,
        changes::strips(view, composer)?,
    ])
}
