//! What a photo on the reference sheet says of the share, or in a sentence why it says nothing.
//!
//! Never here: how a photo is read, see [`crate::photo`], or which means of a reading counts, see `looks`.

use super::colour::Photo;
use super::parts_of_100;
use crate::photo::share::{NoShare, share};
use crate::photo::sheet::{Layout, Stand};
use crate::photo::{Extract, Fault, Known, Outcome};
use crate::quantity::Estimate;
use crate::text::{Sentence, sentence};

/// Reads a photo; `at` are the litres in words.
pub(super) fn read(known: Option<&Known>, at: &str) -> Photo {
    match found(known) {
        Ok(new_share) => Photo { new_share: Some(new_share), saturated: false, wrong: Vec::new() },
        Err(why) => {
            Photo { new_share: None, saturated: false, wrong: vec![sentence::photo_not_read(at, why)] }
        }
    }
}

/// The new-fluid share with its standard uncertainty, or why there is none.
fn found(known: Option<&Known>) -> Result<(f64, f64), Sentence> {
    match known {
        None => Err(sentence::photo_why_not_arrived()),
        Some(Known::Erased) => Err(sentence::photo_why_erased()),
        Some(Known::There(Outcome::NotRead(fault))) => Err(why_not_read(*fault)),
        Some(Known::There(Outcome::Read(extract))) => of(extract),
    }
}

/// What stands below a photo that a reading names: what was read from it, or why nothing was.
pub(in crate::job) fn caption(known: Option<&Known>, at: &str) -> Sentence {
    match found(known) {
        Ok((value, standard_uncertainty)) => {
            let (value, ..) = parts_of_100(&Estimate::known(value, standard_uncertainty));
            sentence::photo_comparison_read(at, value)
        }
        Err(why) => sentence::photo_comparison_not_read(at, why),
    }
}

/// What was read, with its range, in a sentence; nothing where nothing was.
pub(super) fn said(photo: &Photo, at: &str) -> Option<Sentence> {
    let (value, standard_uncertainty) = photo.new_share?;
    let (value, least, greatest) = parts_of_100(&Estimate::known(value, standard_uncertainty));
    Some(sentence::photo_look(greatest, least, at, value))
}

fn of(extract: &Extract) -> Result<(f64, f64), Sentence> {
    match share(extract) {
        Ok(found) => Ok((found.new_share.clamp(0.0, 1.0), found.standard_uncertainty)),
        Err(NoShare::TooAlike) => Err(sentence::photo_why_alike()),
        Err(NoShare::TooDark) => Err(sentence::photo_why_fluids_too_dark()),
        Err(NoShare::Unexplained) => Err(sentence::photo_why_unexplained()),
        Err(NoShare::Exchanged) => Err(sentence::photo_why_exchanged()),
    }
}

fn why_not_read(fault: Fault) -> Sentence {
    match fault {
        Fault::NoPicture => sentence::photo_why_no_picture(),
        Fault::NoSheet => sentence::photo_why_no_sheet(),
        Fault::TooSmall => sentence::photo_why_too_small(),
        Fault::Blurred => sentence::photo_why_blurred(),
        Fault::TooDark => sentence::photo_why_too_dark(),
        Fault::WhiteClipped => sentence::photo_why_white_clipped(),
        Fault::NoWhite => sentence::photo_why_no_white(),
        Fault::UnequalLight => sentence::photo_why_unequal_light(),
        Fault::NoCurve => sentence::photo_why_no_curve(),
        Fault::Glare(layout, at) => sentence::photo_why_glare(place(layout, at)),
        Fault::NotFilled(layout, at) => sentence::photo_why_not_filled(place(layout, at)),
        Fault::Empty(layout, at) => sentence::photo_why_empty(place(layout, at)),
        Fault::PlaceTooDark(layout, at) => sentence::photo_why_place_too_dark(place(layout, at)),
    }
}

fn place(layout: Layout, at: u8) -> Sentence {
    let word = match layout.places().get(usize::from(at)).map(|place| place.stands) {
        Some(Stand::Before) => "before",
        Some(Stand::Fresh) => "fresh",
        Some(Stand::Tube(_)) => "tube",
        Some(Stand::Now) | None => "now",
    };
    sentence::photo_place(word)
}
