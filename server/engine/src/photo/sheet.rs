//! The reference sheet as data: where its marks, grey steps and places are, in millimetres from the upper left corner.
//!
//! A4, lying; the report draws it, the reading of a photo measures by it. Only greys: what a printer makes of a colour,
//! nobody knows. The sheet is our own. Never here: words, or how it is drawn.

use serde::{Deserialize, Serialize};

/// Width and height of the paper in millimetres, ISO 216.
pub const PAPER: (f64, f64) = (297.0, 210.0);
/// Edge of a corner mark in millimetres.
pub const MARK_EDGE: f64 = 18.0;
/// Edge of the white hole of a mark that has one.
pub const HOLE_EDGE: f64 = 8.0;
/// Light that each grey step sends back, as a part of what the paper does; the white ground is the first step.
pub const STEPS: [f64; 7] = [0.78, 0.58, 0.41, 0.28, 0.18, 0.11, 0.06];

/// Which things stand before the sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Layout {
    /// Three bottles: before, now, fresh.
    Bottles,
    /// Seven tubes: now, and the comparison tubes of 0, 25, 50, 75, 90 and 100 percent new fluid.
    Tubes,
}

impl Layout {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Bottles, Self::Tubes];

    /// The marks by corner: upper left, upper right, lower right, lower left. The upper left one always has a hole, so
    /// that the turn is known; the upper right one has one on the sheet for tubes.
    #[must_use]
    pub fn marks(self) -> [Mark; 4] {
        let (width, height) = PAPER;
        let mark = |x, y, hole| Mark { centre: (x, y), hole };
        [
            mark(20.0, 20.0, true),
            mark(width - 20.0, 20.0, self == Self::Tubes),
            mark(width - 20.0, height - 20.0, false),
            mark(20.0, height - 20.0, false),
        ]
    }

    /// The places from left to right.
    #[must_use]
    pub fn places(self) -> Vec<Place> {
        let (stands, first, apart): (&[Stand], f64, f64) = match self {
            Self::Bottles => (&[Stand::Before, Stand::Now, Stand::Fresh], 88.5, 60.0),
            Self::Tubes => (
                &[
                    Stand::Now,
                    Stand::Tube(0),
                    Stand::Tube(25),
                    Stand::Tube(50),
                    Stand::Tube(75),
                    Stand::Tube(90),
                    Stand::Tube(100),
                ],
                61.5,
                29.0,
            ),
        };
        let (width, window, white) = self.widths();
        let centres = std::iter::successors(Some(first), |centre| Some(centre + apart));
        let place = |(stands, centre): (&Stand, f64)| Place {
            stands: *stands,
            centre,
            width,
            window: Area::around((centre, WINDOW_MIDDLE), (window, WINDOW_HEIGHT)),
            whites: [-0.5, 0.5]
                .map(|side| Area::around((centre + side * apart, WINDOW_MIDDLE), (white, WINDOW_HEIGHT))),
        };
        stands.iter().zip(centres).map(place).collect()
    }

    /// Greatest width of what stands at a place, width of what is read of it, width of the white that is read beside it.
    fn widths(self) -> (f64, f64, f64) {
        match self {
            Self::Bottles => (44.0, 12.0, 8.0),
            Self::Tubes => (18.0, 5.0, 4.0),
        }
    }
}

/// Middle of what is read of a place: 60 mm above the lower edge, on which everything stands.
const WINDOW_MIDDLE: f64 = 150.0;
const WINDOW_HEIGHT: f64 = 40.0;

/// A rectangle, in millimetres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Area {
    /// Left edge.
    pub left: f64,
    /// Upper edge.
    pub top: f64,
    /// Width.
    pub width: f64,
    /// Height.
    pub height: f64,
}

impl Area {
    const fn around(centre: (f64, f64), size: (f64, f64)) -> Self {
        Self { left: centre.0 - size.0 / 2.0, top: centre.1 - size.1 / 2.0, width: size.0, height: size.1 }
    }

    /// The same without a margin of so many millimetres.
    #[must_use]
    pub fn inside(self, margin: f64) -> Self {
        Self {
            left: self.left + margin,
            top: self.top + margin,
            width: self.width - 2.0 * margin,
            height: self.height - 2.0 * margin,
        }
    }

    /// Whether a point lies in it.
    #[must_use]
    pub fn holds(&self, (x, y): (f64, f64)) -> bool {
        (self.left..self.left + self.width).contains(&x) && (self.top..self.top + self.height).contains(&y)
    }
}

/// A corner mark: a black square, with a white hole or without.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mark {
    /// Its middle.
    pub centre: (f64, f64),
    /// Whether it has a hole.
    pub hole: bool,
}

impl Mark {
    /// The black square.
    #[must_use]
    pub fn square(&self) -> Area {
        Area::around(self.centre, (MARK_EDGE, MARK_EDGE))
    }

    /// The white hole, where it has one.
    #[must_use]
    pub fn hole(&self) -> Option<Area> {
        self.hole.then(|| Area::around(self.centre, (HOLE_EDGE, HOLE_EDGE)))
    }
}

/// A grey step with the white ground beside it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// Where it is printed.
    pub area: Area,
    /// Light that it sends back, as a part of what the paper does.
    pub reflectance: f64,
    /// White ground at the same height.
    pub white: Area,
}

/// All grey steps: down the left side from light to dark, down the right side from dark to light.
#[must_use]
pub fn steps() -> Vec<Step> {
    const EDGE: f64 = 16.0;
    let tops = || std::iter::successors(Some(44.0), |top| Some(top + EDGE));
    let step = |left, white_left| {
        move |(reflectance, top): (&f64, f64)| Step {
            area: Area { left, top, width: EDGE, height: EDGE },
            reflectance: *reflectance,
            white: Area { left: white_left, top, width: 8.0, height: EDGE }.inside(1.0),
        }
    };
    let (left, right) = (12.0, PAPER.0 - 12.0 - EDGE);
    let down = STEPS.iter().zip(tops()).map(step(left, left + EDGE + 4.0));
    down.chain(STEPS.iter().rev().zip(tops()).map(step(right, right - 12.0))).collect()
}

/// What stands at a place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stand {
    /// The fluid before.
    Before,
    /// The fluid as it is now.
    Now,
    /// Fresh fluid.
    Fresh,
    /// A comparison tube of so many percent new fluid.
    Tube(u8),
}

/// A place at which a bottle or tube stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// What stands there.
    pub stands: Stand,
    /// Its middle, from the left.
    pub centre: f64,
    /// Greatest width of what stands there.
    pub width: f64,
    /// What is read of it: the edges, which bend light, are left out.
    pub window: Area,
    /// White ground at its left and right.
    pub whites: [Area; 2],
}

#[cfg(test)]
mod tests {
    use super::*;

    fn apart(one: Area, other: Area) -> bool {
        one.left + one.width <= other.left
            || other.left + other.width <= one.left
            || one.top + one.height <= other.top
            || other.top + other.height <= one.top
    }

    #[test]
    fn nothing_on_the_sheet_lies_over_anything_else() {
        for layout in Layout::ALL {
            let mut areas: Vec<Area> = layout.marks().iter().map(Mark::square).collect();
            areas.extend(steps().iter().flat_map(|step| [step.area, step.white]));
            for place in layout.places() {
                areas.push(Area::around((place.centre, WINDOW_MIDDLE), (place.width, WINDOW_HEIGHT)));
                // The white between two places belongs to both.
                for white in place.whites {
                    if !areas.contains(&white) {
                        areas.push(white);
                    }
                }
            }
            for (at, one) in areas.iter().enumerate() {
                assert!(one.left > 5.0 && one.left + one.width < PAPER.0 - 5.0, "{layout:?} {one:?}");
                assert!(areas[..at].iter().all(|other| apart(*one, *other)), "{layout:?} {one:?}");
            }
        }
    }

    #[test]
    fn six_greys_at_least_fall_from_white_to_near_black() {
        assert!(STEPS.len() >= 6 && STEPS.windows(2).all(|pair| pair[0] > pair[1]) && STEPS[6] < 0.1);
        assert_eq!(steps().len(), 14);
        assert!(
            (1..4).all(|corner| !Layout::Bottles.marks()[corner].hole) && Layout::Bottles.marks()[0].hole
        );
    }
}
