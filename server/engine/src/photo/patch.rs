//! What a small area of the sheet looks like in a picture: robust means, spreads, and what is odd about it.
//!
//! Never here: what an area means.

use super::picture::Picture;
use super::sheet::Area;
use crate::formula::homography::Homography;

/// Value from which a channel counts as clipped.
pub(super) const CLIPPED: f32 = 251.0;
/// Parts into which an area is cut to see how even it is: across and down.
const PARTS: (usize, usize) = (3, 4);
/// Most samples across and down.
const SAMPLES_MOST: (f64, f64) = (60.0, 120.0);

/// An area as it was seen; values from 0 to 1.
#[derive(Debug, Clone)]
pub(super) struct Seen {
    /// Median of each channel.
    pub values: [f64; 3],
    /// Medians of its parts.
    pub parts: Vec<[f64; 3]>,
    /// Part of the pixels that are clipped in any channel.
    pub clipped: f64,
    /// Pixels that were looked at.
    pub pixels: u32,
    samples: Vec<[f32; 3]>,
}

impl Seen {
    /// Looks at an area; nothing where it lies outside the picture.
    pub fn of(picture: &Picture, map: &Homography, area: Area) -> Option<Self> {
        let at =
            |part: (f64, f64)| map.at((area.left + part.0 * area.width, area.top + part.1 * area.height));
        let far = |one: (f64, f64), other: (f64, f64)| (one.0 - other.0).hypot(one.1 - other.1);
        let across = far(at((0.0, 0.5)), at((1.0, 0.5))).ceil().clamp(3.0, SAMPLES_MOST.0);
        let down = far(at((0.5, 0.0)), at((0.5, 1.0))).ceil().clamp(4.0, SAMPLES_MOST.1);
        let mut samples = Vec::new();
        let mut parts = vec![Vec::new(); PARTS.0 * PARTS.1];
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let (columns, rows) = (across as usize, down as usize);
        for row in 0..rows {
            for column in 0..columns {
                #[allow(clippy::cast_precision_loss)]
                let part = ((column as f64 + 0.5) / across, (row as f64 + 0.5) / down);
                let (x, y) = at(part);
                if !(x >= 0.0 && y >= 0.0) {
                    return None;
                }
                #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
                let pixel = picture.at((x + 0.5) as usize, (y + 0.5) as usize)?;
                samples.push(*pixel);
                let cell = (row * PARTS.1 / rows) * PARTS.0 + column * PARTS.0 / columns;
                parts.get_mut(cell)?.push(*pixel);
            }
        }
        #[allow(clippy::cast_precision_loss)]
        let clipped = samples.iter().filter(|pixel| pixel.iter().any(|value| *value >= CLIPPED)).count()
            as f64
            / samples.len() as f64;
        Some(Self {
            values: medians(&samples),
            parts: parts.iter().filter(|part| !part.is_empty()).map(|part| medians(part)).collect(),
            clipped,
            pixels: u32::try_from(samples.len()).ok()?,
            samples,
        })
    }

    /// One figure for how bright it is, 0 to 255.
    pub fn grey(&self) -> f64 {
        self.values.iter().sum::<f64>() * 85.0
    }

    /// Part of the pixels that are brighter than the median by more than so much in every channel.
    pub fn brighter(&self, by: f64) -> f64 {
        let over = |pixel: &&[f32; 3]| {
            pixel.iter().zip(self.values).all(|(value, median)| f64::from(*value) / 255.0 > median + by)
        };
        #[allow(clippy::cast_precision_loss)]
        let part = self.samples.iter().filter(over).count() as f64 / self.samples.len() as f64;
        part
    }
}

/// Brightness of every pixel.
pub(super) fn luminance(picture: &Picture) -> Vec<f32> {
    let rows = 0..picture.height;
    let pixels = rows.flat_map(|y| (0..picture.width).filter_map(move |x| picture.at(x, y)));
    pixels.map(|[red, green, blue]| (red + green + blue) / 3.0).collect()
}

fn medians(samples: &[[f32; 3]]) -> [f64; 3] {
    let mut found = [0.0; 3];
    for (channel, found) in found.iter_mut().enumerate() {
        let mut values: Vec<f32> = samples.iter().filter_map(|pixel| pixel.get(channel).copied()).collect();
        values.sort_unstable_by(f32::total_cmp);
        // The mean of the middle half: as robust as it must be, and finer than one step of a channel.
        let middle = values.get(values.len() / 4..(values.len() * 3).div_ceil(4)).unwrap_or_default();
        #[allow(clippy::cast_precision_loss)]
        let mean = middle.iter().map(|value| f64::from(*value)).sum::<f64>() / middle.len().max(1) as f64;
        *found = mean / 255.0;
    }
    found
}
