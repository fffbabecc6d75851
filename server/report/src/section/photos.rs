//! Photos: up to four beside each other, upright and uncut, each with what it shows. A photo that has not
//! arrived yet, was erased or cannot be shown is an empty frame that says so.

use standpipe_engine::text::sentence;
use standpipe_engine::view::PhotoView;

use crate::compose::Composer;
use crate::error::ReportError;
use crate::options::{Given, PHOTOS_SHOWN};
use crate::paragraph::{Ink, Span, Style, lines, single_line};
use crate::strip::{Mark, Spot, Strip, baseline, line_marks};

/// Height of the tallest photo on paper, in points.
const HEIGHT: f64 = 62.0;
/// Clear space between two photos, in points.
const GUTTER: f64 = 13.0;
/// Line pitch of a caption.
const CAPTION_PITCH: f64 = 11.0;

/// The section; nothing if no photo was taken.
///
/// # Errors
/// As [`Composer::say`].
pub(super) fn strips(given: &Given<'_>, composer: &mut Composer<'_>) -> Result<Vec<Strip>, ReportError> {
    let photos = &given.view.photos;
    if photos.is_empty() {
        return Ok(Vec::new());
    }
    let gutters = GUTTER * (PHOTOS_SHOWN - 1) as f64;
    let width = (composer.column() - gutters) / PHOTOS_SHOWN as f64;
    // Frames keep their size on paper, however closely the words stand.
    let height = HEIGHT / composer.closeness().down;
    let mut strip = Strip { space_above: 4.0, ..Strip::default() };
    for (index, photo) in photos.iter().take(PHOTOS_SHOWN).enumerate() {
        let left = index as f64 * (width + GUTTER);
        frame(given, photo, (left, width, height), &mut strip, composer)?;
        let caption = Span::new(composer.say(&photo.caption)?, Style::SIDE_LABEL);
        let set = lines(composer.faces(), &[caption], width)?;
        for (number, line) in set.iter().enumerate() {
            let top = height + 2.0 + number as f64 * CAPTION_PITCH;
            let y = top + baseline(Style::SIDE.size, CAPTION_PITCH);
            strip.marks.extend(line_marks(line, Spot { x: left, y }));
        }
        strip.height = strip.height.max(height + 2.0 + set.len() as f64 * CAPTION_PITCH);
    }
    let mut body = vec![strip];
    let more = photos.len().saturating_sub(PHOTOS_SHOWN);
    if more > 0 {
        let more = sentence::record_photos_more(u64::try_from(more).unwrap_or(u64::MAX));
        body.extend(composer.running(&[more], |_| false)?);
    }
    composer.section(&sentence::record_photos(), body)
}

/// The photo in its box of left edge, width and height, or the empty frame.
fn frame(
    given: &Given<'_>,
    photo: &PhotoView,
    (left, width, height): (f64, f64, f64),
    strip: &mut Strip,
    composer: &mut Composer<'_>,
) -> Result<(), ReportError> {
    let closeness = composer.closeness();
    let known = given.photos.iter().enumerate().find(|(_, known)| known.digest == photo.digest);
    if let Some((number, known)) = known {
        let (wide, high) = known.within(width * closeness.across, height * closeness.down);
        strip.marks.push(Mark::Photo {
            at: Spot { x: left, y: 0.0 },
            width: wide / closeness.across,
            height: high / closeness.down,
            photo: number,
        });
        return Ok(());
    }
    strip.marks.push(Mark::outline(Spot { x: left, y: 0.0 }, width, height, 0.5, Ink::Rule));
    let why = match given.options.photos.iter().find(|kept| kept.digest == photo.digest) {
        None => sentence::record_photo_not_arrived(),
        Some(kept) if kept.jpeg.is_none() => sentence::record_photo_erased(),
        Some(_) => sentence::record_photo_unreadable(),
    };
    let words = Span::new(composer.say(&why)?, Style::SIDE_LABEL);
    let line = single_line(composer.faces(), &[words])?;
    let at = Spot { x: left + (width - line.width) / 2.0, y: height / 2.0 + 3.0 };
    strip.marks.extend(line_marks(&line, at));
    Ok(())
}
