//! The four corner marks in a picture, and with them where the sheet is.
//!
//! Dark squares are told by a number that no turn and no slant changes: area over the root of the determinant of their
//! second moments, 12 for a full square or any parallelogram. Four of them with a hole in the right ones make a sheet
//! only if the grey steps stand where they must. Never here: what the steps say.

use super::patch::{Seen, luminance};
use super::picture::Picture;
use super::sheet::{HOLE_EDGE, Layout, MARK_EDGE, steps};
use crate::formula::homography::Homography;

/// Parts of the mean around a pixel below which it is dark; the next is tried where the first finds no sheet.
const DARK_PARTS: [f64; 3] = [0.62, 0.75, 0.5];
/// Least pixels of a mark, and the greatest part of a picture that one may take.
const PIXELS_LEAST: usize = 60;
const PART_MOST: f64 = 0.05;
/// How far a square's number may lie from where it belongs.
const FORM_WITHIN: f64 = 0.7;
/// Longest over shortest axis of a square that is seen aslant.
const SLANT_MOST: f64 = 2.2;
/// Greatest over least area among the marks of one sheet.
const AREAS_MOST: f64 = 3.5;
/// Most squares that are looked through.
const SQUARES_MOST: usize = 20;

/// Where the sheet is.
#[derive(Debug, Clone, Copy)]
pub(super) struct Found {
    /// Which sheet.
    pub layout: Layout,
    /// From millimetres of the sheet to pixels.
    pub map: Homography,
}

/// Finds the sheet.
pub(super) fn found(picture: &Picture) -> Option<Found> {
    let light = luminance(picture);
    let around = Around::of(&light, picture.width, picture.height);
    DARK_PARTS.into_iter().find_map(|part| {
        let dark = around.darker(&light, part);
        sheet_of(picture, &squares(&dark, (picture.width, picture.height)))
    })
}

/// A dark square.
#[derive(Debug, Clone, Copy)]
struct Square {
    centre: (f64, f64),
    /// Area with the hole.
    area: f64,
    hole: bool,
    off: f64,
}

/// Most sets of four corners that are looked at: a picture full of squares is no reason to look for half a minute.
const LOOKS_MOST: usize = 200;

fn sheet_of(picture: &Picture, squares: &[Square]) -> Option<Found> {
    let mut looks = 0;
    for first in squares.iter().filter(|square| square.hole) {
        for second in squares {
            for third in squares.iter().filter(|square| !square.hole) {
                if !turns_right(first, second, third) {
                    continue;
                }
                for fourth in squares.iter().filter(|square| !square.hole) {
                    let layout = if second.hole { Layout::Tubes } else { Layout::Bottles };
                    let Some(map) = map_of(layout, [first, second, third, fourth]) else { continue };
                    if steps_fall(picture, &map) {
                        return Some(Found { layout, map });
                    }
                    looks += 1;
                    if looks >= LOOKS_MOST {
                        return None;
                    }
                }
            }
        }
    }
    None
}

/// Whether the way over three points turns to the right, as seen on a picture.
fn turns_right(first: &Square, second: &Square, third: &Square) -> bool {
    let along = (second.centre.0 - first.centre.0, second.centre.1 - first.centre.1);
    let then = (third.centre.0 - second.centre.0, third.centre.1 - second.centre.1);
    let cross = along.0 * then.1 - along.1 * then.0;
    // Both sides are many marks long; less is no sheet.
    cross > 0.5 * along.0.hypot(along.1) * then.0.hypot(then.1)
        && along.0.hypot(along.1) > 5.0 * first.area.sqrt()
        && then.0.hypot(then.1) > 3.0 * first.area.sqrt()
}

fn map_of(layout: Layout, corners: [&Square; 4]) -> Option<Homography> {
    let [first, second, third, fourth] = corners;
    let round = turns_right(second, third, fourth) || turns_a_corner(second, third, fourth);
    let closes = turns_a_corner(third, fourth, first) && turns_a_corner(fourth, first, second);
    let areas = corners.map(|corner| corner.area);
    let (least, greatest) =
        (areas.iter().copied().fold(f64::MAX, f64::min), areas.iter().copied().fold(0.0, f64::max));
    if !(round && closes && greatest <= AREAS_MOST * least) {
        return None;
    }
    Homography::of(layout.marks().map(|mark| mark.centre), corners.map(|corner| corner.centre))
}

fn turns_a_corner(first: &Square, second: &Square, third: &Square) -> bool {
    let along = (second.centre.0 - first.centre.0, second.centre.1 - first.centre.1);
    let then = (third.centre.0 - second.centre.0, third.centre.1 - second.centre.1);
    along.0 * then.1 - along.1 * then.0 > 0.5 * along.0.hypot(along.1) * then.0.hypot(then.1)
}

/// Whether each grey step is darker beside its white than the lighter one before it, on both sides.
fn steps_fall(picture: &Picture, map: &Homography) -> bool {
    let mut seen = Vec::new();
    for step in steps() {
        let (Some(grey), Some(white)) =
            (Seen::of(picture, map, step.area.inside(3.0)), Seen::of(picture, map, step.white))
        else {
            return false;
        };
        seen.push((step.reflectance, grey.grey() / white.grey().max(1.0)));
    }
    seen.sort_by(|one, other| other.0.total_cmp(&one.0));
    let pairs: Vec<f64> = seen.chunks(2).map(|pair| pair.iter().map(|(_, part)| part / 2.0).sum()).collect();
    // Light steps that are clipped are as bright as white; that is told later.
    let falls = pairs.windows(2).all(|pair| matches!(pair, [one, other] if *other <= one + 0.02));
    let ends =
        pairs.first().zip(pairs.last()).is_some_and(|(first, last)| *first < 1.05 && last < &(0.75 * first));
    ends && falls
}

/// Mean brightness in a wide square around each pixel.
struct Around {
    sums: Vec<f64>,
    width: usize,
    height: usize,
    reach: usize,
}

impl Around {
    fn of(light: &[f32], width: usize, height: usize) -> Self {
        let mut sums = vec![0.0; (width + 1) * (height + 1)];
        for (y, row) in light.chunks_exact(width).enumerate() {
            let mut sum = 0.0;
            for (x, value) in row.iter().enumerate() {
                sum += f64::from(*value);
                let above = sums.get(y * (width + 1) + x + 1).copied().unwrap_or_default();
                if let Some(here) = sums.get_mut((y + 1) * (width + 1) + x + 1) {
                    *here = above + sum;
                }
            }
        }
        Self { sums, width, height, reach: (width.max(height) / 16).max(8) }
    }

    fn darker(&self, light: &[f32], part: f64) -> Vec<bool> {
        let at = |x: usize, y: usize| self.sums.get(y * (self.width + 1) + x).copied().unwrap_or_default();
        let mut dark = Vec::with_capacity(light.len());
        for (y, row) in light.chunks_exact(self.width).enumerate() {
            let (top, bottom) = (y.saturating_sub(self.reach), (y + self.reach + 1).min(self.height));
            for (x, value) in row.iter().enumerate() {
                let (left, right) = (x.saturating_sub(self.reach), (x + self.reach + 1).min(self.width));
                let sum = at(right, bottom) - at(left, bottom) - at(right, top) + at(left, top);
                #[allow(clippy::cast_precision_loss)]
                let mean = sum / ((right - left) * (bottom - top)) as f64;
                dark.push(f64::from(*value) < part * mean);
            }
        }
        dark
    }
}

/// The dark pieces that are squares, best ones first.
fn squares(dark: &[bool], (width, height): (usize, usize)) -> Vec<Square> {
    let mut seen = vec![false; dark.len()];
    let mut found = Vec::new();
    let mut waiting = Vec::new();
    for start in 0..dark.len() {
        if !dark.get(start).copied().unwrap_or(false) || seen.get(start).copied().unwrap_or(true) {
            continue;
        }
        let mut piece = Piece::default();
        waiting.push(start);
        if let Some(seen) = seen.get_mut(start) {
            *seen = true;
        }
        while let Some(place) = waiting.pop() {
            let (x, y) = (place % width, place / width);
            piece.add(x, y, x == 0 || y == 0 || x + 1 == width || y + 1 == height);
            let beside = [
                (x > 0).then(|| place - 1),
                (x + 1 < width).then_some(place + 1),
                place.checked_sub(width),
                Some(place + width),
            ];
            for next in beside.into_iter().flatten() {
                if dark.get(next) == Some(&true)
                    && let Some(seen) = seen.get_mut(next)
                    && !*seen
                {
                    *seen = true;
                    waiting.push(next);
                }
            }
        }
        found.extend(piece.square(dark, (width, height)));
    }
    found.sort_by(|one, other| one.off.total_cmp(&other.off));
    found.truncate(SQUARES_MOST);
    found
}

/// A connected dark piece by its sums.
#[derive(Default)]
struct Piece {
    count: usize,
    x: f64,
    y: f64,
    xx: f64,
    xy: f64,
    yy: f64,
    at_edge: bool,
}

impl Piece {
    fn add(&mut self, x: usize, y: usize, at_edge: bool) {
        #[allow(clippy::cast_precision_loss)]
        let (x, y) = (x as f64, y as f64);
        self.count += 1;
        self.x += x;
        self.y += y;
        self.xx += x * x;
        self.xy += x * y;
        self.yy += y * y;
        self.at_edge |= at_edge;
    }

    fn square(&self, dark: &[bool], (width, height): (usize, usize)) -> Option<Square> {
        #[allow(clippy::cast_precision_loss)]
        let (area, whole) = (self.count as f64, (width * height) as f64);
        if self.at_edge || self.count < PIXELS_LEAST || area > PART_MOST * whole {
            return None;
        }
        let (x, y) = (self.x / area, self.y / area);
        let (xx, xy, yy) = (self.xx / area - x * x, self.xy / area - x * y, self.yy / area - y * y);
        let determinant = xx * yy - xy * xy;
        let spread = ((xx - yy) / 2.0).hypot(xy);
        let axes = ((xx + yy) / 2.0 + spread) / ((xx + yy) / 2.0 - spread).max(1e-9);
        if determinant <= 0.0 || axes.sqrt() > SLANT_MOST {
            return None;
        }
        let form = area / determinant.sqrt();
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let middle = (y.round() as usize) * width + x.round() as usize;
        let hole = !dark.get(middle).copied().unwrap_or(true);
        let (full, holed) = (MARK_EDGE * MARK_EDGE, HOLE_EDGE * HOLE_EDGE);
        let of_ring = (full - holed).powi(2) * 12.0 / (full * full - holed * holed);
        let off = (form - if hole { of_ring } else { 12.0 }).abs();
        let area = if hole { area * full / (full - holed) } else { area };
        (off <= FORM_WITHIN).then_some(Square { centre: (x, y), area, hole, off })
    }
}
