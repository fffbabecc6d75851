//! The customer's service record and the bay sheet as PDF bytes: pure functions of the view of a job.
//!
//! [`render`] lays out what the engine has already put into sentences and numbers: page one for the
//! customer, page two for the expert and the office, an annex on request. [`bay_sheet`] is the page to write
//! on at the vehicle. The crate never does I/O, never reads a clock, the environment or a locale, computes no
//! result of a job, and knows neither the store nor the network's messages. The same view and options give
//! the same bytes. The server calls it.

mod chart;
mod closeness;
mod code;
mod compose;
mod date;
mod error;
mod font;
mod jpeg;
mod layout;
mod options;
mod owner_sheet;
mod page;
mod paragraph;
mod pdf;
mod photo_sheet;
mod section;
mod sheet;
mod stated;
mod strip;
mod table;
mod tally;

use standpipe_engine::text::{Language, Sentence, sentence};
use standpipe_engine::view::JobView;

pub use error::ReportError;
pub use options::{EntryTimes, Options, PHOTOS_SHOWN, Photo, Remark};
pub use owner_sheet::owner_sheet;
pub use sheet::SheetInput;
pub use tally::{TallyPaper, tally};

use compose::Composer;
use font::Faces;
use options::Given;
use page::Page;

/// A finished record or bay sheet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rendered {
    /// The bytes of the PDF file.
    pub pdf: Vec<u8>,
    /// One sentence for each text of a person that holds signs the font cannot draw, which are spelled out
    /// as `[U+XXXX]`, and for each photo that cannot be embedded.
    pub warnings: Vec<String>,
}

/// The record of a job: two A4 pages for a normal one, one for a job that was stopped with no exchange done.
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
    let given = Given::new(view, options);
    let mut composer = Composer::new(Faces::shipped()?, options.language);
    let pages = layout::record(&given, &mut composer)?;
    let title = sentence::record_file_title(view.head.number.as_str());
    written(&given, composer, &pages, &title)
}

/// The bay sheet of a job: one A4 page to write on, with what the variant takes, the cautions in their five
/// groups and a box for everything that is entered later. It shows no reading.
///
/// # Errors
/// As [`render`].
pub fn bay_sheet(view: &JobView, input: &SheetInput, options: &Options) -> Result<Rendered, ReportError> {
    let given = Given::new(view, options);
    let mut composer = Composer::new(Faces::shipped()?, options.language);
    let pages = layout::bay_sheet(&given, input, &mut composer)?;
    let title = sentence::sheet_file_title(view.head.number.as_str());
    written(&given, composer, &pages, &title)
}

/// The reference sheet for photos of fluid: two A4 pages, one for bottles and one for comparison tubes.
///
/// # Errors
/// As [`render`].
pub fn photo_sheet(language: Language, made_us: i64) -> Result<Vec<u8>, ReportError> {
    let mut composer = Composer::new(Faces::shipped()?, language);
    let pages = photo_sheet::pages(&mut composer)?;
    let info = pdf::FileInfo {
        title: composer.say(&sentence::photo_sheet_title())?,
        author: String::new(),
        producer: format!("standpipe {}", env!("CARGO_PKG_VERSION")),
        language: language.code().to_owned(),
        created_unix_seconds: made_us.div_euclid(1_000_000),
    };
    pdf::write(composer.faces(), &pages, &[], &info)
}

fn written(
    given: &Given<'_>,
    mut composer: Composer<'_>,
    pages: &[Page],
    title: &Sentence,
) -> Result<Rendered, ReportError> {
    let info = pdf::FileInfo {
        title: composer.say(title)?,
        author: composer.stated(&given.view.head.workshop),
        producer: format!("standpipe {}", given.view.provenance.engine_version),
        language: given.options.language.code().to_owned(),
        created_unix_seconds: given.view.provenance.as_of_us.div_euclid(1_000_000),
    };
    let pdf = pdf::write(composer.faces(), pages, &given.photos, &info)?;
    let mut warnings = composer.into_warnings();
    warnings.extend(given.photo_warnings());
    Ok(Rendered { pdf, warnings })
}

#[cfg(test)]
mod tests;
