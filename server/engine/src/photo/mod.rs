//! From the bytes of a photo of the reference sheet to what light the fluids let through.
//!
//! [`extract`] decodes, finds the sheet, learns the camera's curve from the grey steps and reads each place beside its
//! own white ground, or says why not. [`share`] makes of that the share of new fluid. The same bytes give the same
//! extract. Never here: where the bytes come from, or what the exchange makes of a share.

mod extract;
mod mark;
mod patch;
mod picture;
pub mod share;
pub mod sheet;

#[cfg(test)]
pub(crate) mod tests;

pub use extract::extract;

use serde::{Deserialize, Serialize};
use sheet::Layout;
use std::collections::BTreeMap;

/// Edition of the reading: another one may read the same photo otherwise. Its end goes up with every change that does.
pub const EDITION: &str = concat!(env!("CARGO_PKG_VERSION"), "-1");

/// What is known of the photos that readings name, by their SHA-256. One that is not in it has not arrived.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Extracts(BTreeMap<String, Known>);

/// What is known of one photo.
#[derive(Debug, Clone, PartialEq)]
pub enum Known {
    /// It is there, and this came of it.
    There(Outcome),
    /// It was erased.
    Erased,
}

/// Of no photo anything is known.
static NONE: Extracts = Extracts(BTreeMap::new());

impl Extracts {
    /// None.
    #[must_use]
    pub fn none() -> &'static Self {
        &NONE
    }

    /// What is known of a photo; nothing while it has not arrived.
    #[must_use]
    pub fn get(&self, digest: &str) -> Option<&Known> {
        self.0.get(digest)
    }
}

impl FromIterator<(String, Known)> for Extracts {
    fn from_iter<T: IntoIterator<Item = (String, Known)>>(known: T) -> Self {
        Self(known.into_iter().collect())
    }
}

/// What one photo gives, or why it gives nothing.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum Outcome {
    /// It was read.
    Read(Extract),
    /// It was not.
    NotRead(Fault),
}

/// Absorbances as read, with what makes them uncertain. All numbers carry nine digits after the point, so that they
/// stay the same however they are kept.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Extract {
    /// The layout of the sheet.
    pub layout: Layout,
    /// What was read at each place, in the order of the layout.
    pub places: Vec<PlaceRead>,
    /// What may have moved the absorbances, each independent of the others.
    pub effects: Vec<Effect>,
}

/// One place: red, green and blue.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct PlaceRead {
    /// `-log10` of the light that came through, as a part of the white ground beside the place.
    pub absorbance: [f64; 3],
    /// Whether the channel was inside what the grey steps tell.
    pub usable: [bool; 3],
    /// Standard deviation over parts of the place.
    pub spread: [f64; 3],
    /// Pixels that were read.
    pub pixels: u32,
}

/// One independent cause of uncertainty: the shift of every absorbance by one standard uncertainty of it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Effect {
    /// By place and channel.
    pub shifts: Vec<[f64; 3]>,
}

impl Extract {
    /// Share of the white ground's light that came through at a place, with its standard uncertainty, channel by channel.
    #[must_use]
    pub fn transmittances(&self, place: usize) -> Option<[(f64, f64); 3]> {
        let read = self.places.get(place)?;
        let mut found = [(0.0, 0.0); 3];
        for (channel, (found, absorbance)) in found.iter_mut().zip(read.absorbance).enumerate() {
            let shifts = self.effects.iter().filter_map(|effect| effect.shifts.get(place)?.get(channel));
            let u = shifts.map(|shift| shift * shift).sum::<f64>().sqrt();
            let through = 10_f64.powf(-absorbance);
            *found = (through, through * std::f64::consts::LN_10 * u);
        }
        Some(found)
    }
}

/// Why a photo gives no reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Fault {
    /// The bytes are no picture that can be decoded within the limits.
    NoPicture,
    /// The four corner marks and the grey steps were not found.
    NoSheet,
    /// The sheet takes too little of the picture.
    TooSmall,
    /// Edges of the corner marks are not sharp.
    Blurred,
    /// The white ground is too dark.
    TooDark,
    /// The white ground is as bright as the camera can say.
    WhiteClipped,
    /// Something covers the white ground beside a place.
    NoWhite,
    /// The sheet is lit too differently from side to side.
    UnequalLight,
    /// The grey steps make no curve of a camera.
    NoCurve,
    /// Light is mirrored in a place, counted from 0.
    Glare(Layout, u8),
    /// A place is covered in part only, or not evenly.
    NotFilled(Layout, u8),
    /// A place is empty.
    Empty(Layout, u8),
    /// Every channel of a place is darker than the darkest grey step.
    PlaceTooDark(Layout, u8),
}
