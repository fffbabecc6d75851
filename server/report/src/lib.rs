//! The customer's service record as PDF bytes: a pure function of the view of a job.
//!
//! [`render`] lays out what the engine has already put into sentences and numbers: page one for the
//! customer, page two for the expert and the office. The crate never does I/O, never reads a clock, the
//! environment or a locale, computes no result of a job, and knows neither the store nor the network's
//! messages. The same view and options give the same bytes. The server calls it.

mod chart;
mod compose;
mod error;
mod font;
mod page;
mod paragraph;
mod pdf;
mod section;
mod stated;
mod strip;
mod table;

use standpipe_engine::text::{Language, sentence};
use standpipe_engine::view::JobView;

pub use error::ReportError;

use compose::Composer;
use font::Faces;
use page::{Page, Pages};

/// What the record says beside the view.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Options {
    /// Language of the record.
    pub language: Language,
    /// Number of the edition, from 1; absent while the record is not issued, and then it says so.
    pub edition: Option<u32>,
}

/// A finished record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rendered {
    /// The bytes of the PDF file.
    pub pdf: Vec<u8>,
    /// One sentence for each text of a person that holds signs the font cannot draw; they are spelled
    /// out on the record as `[U+XXXX]`.
    pub warnings: Vec<String>,
}

/// The record of a job, two A4 pages for a normal one.
///
/// # Errors
/// [`ReportError`] only for a mistake of ours: a sentence without words, or with a character that the font
/// has no glyph for. Whatever people wrote is printed.
///
/// # Example
/// ```
/// # use standpipe_engine::view::JobView;
/// # use standpipe_report::{Options, ReportError, render};
/// fn print(job: &JobView) -> Result<Vec<u8>, ReportError> {
///     Ok(render(job, &Options::default())?.pdf)
/// }
/// ```
pub fn render(view: &JobView, options: &Options) -> Result<Rendered, ReportError> {
    let faces = Faces::shipped()?;
    let mut composer = Composer::new(faces, options.language);
    let pages = lay_out(view, options, &mut composer)?;
    let info = pdf::FileInfo {
        title: composer.say(&sentence::record_file_title(view.head.number.as_str()))?,
        author: composer.stated(&view.head.workshop),
        producer: format!("standpipe {}", view.provenance.engine_version),
        language: options.language.code().to_owned(),
        created_unix_seconds: view.provenance.as_of_us.div_euclid(1_000_000),
    };
    let pdf = pdf::write(faces, &pages, &info)?;
    Ok(Rendered { pdf, warnings: composer.into_warnings() })
}

/// The pages with everything in its place.
fn lay_out(view: &JobView, options: &Options, composer: &mut Composer<'_>) -> Result<Vec<Page>, ReportError> {
    let faces = composer.faces();
    let identity = section::foot::identity(view, options, composer)?;
    let widest = section::foot::page_words(composer, 100, 100)?;
    let mut pages = Pages::new(page::foot_lines(faces, &identity, &widest)?);
    for strips in section::for_the_customer(view, composer)? {
        pages.stack(&strips);
    }
    pages.turn();
    for strips in section::for_the_expert(view, composer)? {
        pages.stack(&strips);
    }
    let safety = section::safety::strips(view, composer)?;
    pages.stack_with_foot(&safety, &section::signatures::strips(composer)?);
    pages.finish(faces, &identity, |page, count| section::foot::page_words(composer, page, count))
}

#[cfg(test)]
mod tests;
