//! Parts into pages: what belongs on one page is moved closer until it fits, what does not fit goes on.
//!
//! Knows the order of the parts and nothing of their words. Called by `render` and `bay_sheet`.

use standpipe_engine::text::sentence;

use crate::closeness::{Closeness, height_of};
use crate::compose::Composer;
use crate::error::ReportError;
use crate::options::Given;
use crate::page::{self, Page, Pages};
use crate::section;
use crate::sheet::{self, SheetInput};
use crate::strip::Strip;

/// Sections, each of strips.
type Part = Vec<Vec<Strip>>;

/// The pages of the record with everything in its place.
///
/// # Errors
/// As [`Composer::say`].
pub(crate) fn record(given: &Given<'_>, composer: &mut Composer<'_>) -> Result<Vec<Page>, ReportError> {
    let identity = section::foot::identity(given.view, given.options, composer)?;
    let mut pages = empty_pages(&identity, composer)?;
    let signatures = section::signatures::strips(given.view, composer)?;
    if given.view.head.no_exchange_done {
        let part =
            closest(&pages, &signatures, composer, |composer| section::of_a_stopped_job(given, composer))?;
        stack_signed(&mut pages, &part, &signatures);
        let behind =
            closest(&pages, &[], composer, |composer| section::behind_a_stopped_job(given, composer))?;
        if !behind.is_empty() {
            pages.turn();
            behind.iter().for_each(|strips| pages.stack(strips));
        }
    } else {
        let part = closest(&pages, &[], composer, |composer| section::for_the_customer(given, composer))?;
        part.iter().for_each(|strips| pages.stack(strips));
        pages.turn();
        let part =
            closest(&pages, &signatures, composer, |composer| section::for_the_expert(given, composer))?;
        stack_signed(&mut pages, &part, &signatures);
    }
    if given.options.annex {
        pages.turn();
        composer.set_closeness(Closeness::ANNEX);
        for strips in section::annex::parts(given, composer)? {
            pages.stack(&Closeness::ANNEX.applied(strips));
        }
    }
    finished(pages, &identity, composer)
}

/// The page of the bay sheet.
///
/// # Errors
/// As [`Composer::say`].
pub(crate) fn bay_sheet(
    given: &Given<'_>,
    input: &SheetInput,
    composer: &mut Composer<'_>,
) -> Result<Vec<Page>, ReportError> {
    let identity = sheet::identity(given.view, composer)?;
    let mut pages = empty_pages(&identity, composer)?;
    let part = closest(&pages, &[], composer, |composer| sheet::parts(given, input, composer))?;
    part.iter().for_each(|strips| pages.stack(strips));
    finished(pages, &identity, composer)
}

fn empty_pages(identity: &str, composer: &mut Composer<'_>) -> Result<Pages, ReportError> {
    let widest = composer.say(&sentence::record_page("100", "100"))?;
    Ok(Pages::new(page::foot_lines(composer.faces(), identity, &widest)?))
}

fn finished(pages: Pages, identity: &str, composer: &mut Composer<'_>) -> Result<Vec<Page>, ReportError> {
    let faces = composer.faces();
    pages.finish(faces, identity, |page, count| section::foot::page_words(composer, page, count))
}

/// The last section ends the page together with the signatures.
fn stack_signed(pages: &mut Pages, part: &[Vec<Strip>], signatures: &[Strip]) {
    if let [before @ .., last] = part {
        before.iter().for_each(|strips| pages.stack(strips));
        pages.stack_with_foot(last, signatures);
    }
}

/// A part as loose as it fits on one page above `at_foot`; as usual if it needs more than one anyway.
fn closest(
    pages: &Pages,
    at_foot: &[Strip],
    composer: &mut Composer<'_>,
    mut make: impl FnMut(&mut Composer<'_>) -> Result<Part, ReportError>,
) -> Result<Part, ReportError> {
    let room = pages.full_height() - height_of(at_foot);
    let mut usual = None;
    for step in Closeness::STEPS {
        composer.set_closeness(step);
        let part: Part = make(composer)?.into_iter().map(|strips| step.applied(strips)).collect();
        let height: f64 = part.iter().map(|strips| height_of(strips)).sum();
        composer.set_closeness(Closeness::USUAL);
        if height <= room {
            return Ok(part);
        }
        usual.get_or_insert(part);
    }
    Ok(usual.unwrap_or_default())
}
