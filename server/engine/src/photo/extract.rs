//! The way from bytes to an extract: each look that can say no, then the absorbances and what makes them uncertain.
//!
//! Never here: how a share is made of absorbances.

use super::mark::{self, Found};
use super::patch::Seen;
use super::picture::Picture;
use super::sheet::{Area, MARK_EDGE, Place, steps};
use super::{Effect, Extract, Fault, Outcome, PlaceRead};
use crate::formula::camera_curve::{CameraCurve, SeenStep, curve};
use std::f64::consts::LN_10;

/// Least pixels from the left marks to the right ones.
const ACROSS_LEAST: f64 = 330.0;
/// Widest edge of a mark in millimetres, from a quarter to three quarters of its height.
const EDGE_MOST: f64 = 2.2;
/// Darkest white ground, 0 to 1.
const WHITE_LEAST: f64 = 0.35;
/// Greatest part of the white ground that may be clipped.
const CLIPPED_MOST: f64 = 0.02;
/// Most that the light of the white ground may differ over the sheet, and from one side of a place to the other.
const LIGHT_MOST: f64 = 2.2;
const BESIDE_MOST: f64 = 1.35;
/// Least light of a white ground as a part of what its neighbours say.
const WHITE_PART_LEAST: f64 = 0.8;
/// Greatest part of a place that may shine, and how much brighter than the rest shining is.
const SHINING_MOST: f64 = 0.015;
const SHINING_BY: f64 = 0.12;
/// Absorbance in every channel below which nothing stands at a place.
const EMPTY_MOST: f64 = 0.03;
/// How far apart the parts of a place may lie in absorbance: so much, and so much of it.
const UNEVEN_MOST: (f64, f64) = (0.10, 0.20);
/// Least value of a channel that is told from black, and least light as a part of the darkest step's.
const VALUE_LEAST: f64 = 10.0 / 255.0;
const LIGHT_LEAST: f64 = 0.6 * 0.06;
/// Standard uncertainty of an absorbance from the width of a bottle, as a part of it: 1.5 % (common practice, no source).
const WIDTH_U: f64 = 0.015;
/// Standard uncertainty of the light at a place: in any case, and as a part of the difference of its sides.
const LIGHT_U: (f64, f64) = (0.006, 0.1);
/// Least standard uncertainty of a channel's reading.
const READ_U: f64 = 0.003;

/// Reads a photo of the reference sheet.
#[must_use]
pub fn extract(bytes: &[u8]) -> Outcome {
    match read(bytes) {
        Ok(extract) => Outcome::Read(extract),
        Err(fault) => Outcome::NotRead(fault),
    }
}

fn read(bytes: &[u8]) -> Result<Extract, Fault> {
    let picture = Picture::decoded(bytes).ok_or(Fault::NoPicture)?;
    let found = mark::found(&picture).ok_or(Fault::NoSheet)?;
    sharp(&picture, &found)?;
    let places = found.layout.places();
    let grounds = Grounds::of(&picture, &found, &places)?;
    let curves = curves(&picture, &found)?;
    grounds.even(&curves)?;
    let mut seen = Vec::with_capacity(places.len());
    for (at, place) in places.iter().enumerate() {
        seen.push(InPlace::of(&picture, &found, &curves, &grounds, (at, place))?);
    }
    Ok(Extract {
        layout: found.layout,
        places: seen.iter().map(InPlace::read).collect(),
        effects: effects(&seen, &curves),
    })
}

/// Refuses a sheet that is too small or not sharp.
fn sharp(picture: &Picture, found: &Found) -> Result<(), Fault> {
    let [first, second, third, fourth] = found.layout.marks().map(|mark| found.map.at(mark.centre));
    let far = |one: (f64, f64), other: (f64, f64)| (one.0 - other.0).hypot(one.1 - other.1);
    if far(first, second).min(far(fourth, third)) < ACROSS_LEAST {
        return Err(Fault::TooSmall);
    }
    let mut widths: Vec<f64> = found
        .layout
        .marks()
        .iter()
        .flat_map(|mark| {
            let ways = [(1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0)];
            ways.map(|way| edge_width(picture, found, mark.centre, way))
        })
        .flatten()
        .collect();
    widths.sort_unstable_by(f64::total_cmp);
    let middle = widths.get(widths.len() / 2).copied();
    if middle.is_none_or(|width| width > EDGE_MOST) { Err(Fault::Blurred) } else { Ok(()) }
}

/// Millimetres over which an edge of a mark rises from a quarter to three quarters.
fn edge_width(picture: &Picture, found: &Found, centre: (f64, f64), way: (f64, f64)) -> Option<f64> {
    const REACH: i32 = 24;
    const STEP: f64 = 0.2;
    let light = |part: i32| {
        let along = MARK_EDGE / 2.0 + f64::from(part) * STEP;
        // Three lines beside each other, so that noise is no edge.
        let lines = [-2.0, 0.0, 2.0].map(|aside| {
            let point = (centre.0 + way.0 * along + way.1 * aside, centre.1 + way.1 * along + way.0 * aside);
            let (x, y) = found.map.at(point);
            bilinear(picture, x, y)
        });
        lines.into_iter().sum::<Option<f64>>()
    };
    let profile: Vec<f64> = (-REACH / 2 - 6..=REACH).map(light).collect::<Option<_>>()?;
    let dark = profile.iter().copied().fold(f64::MAX, f64::min);
    let bright = profile.iter().copied().fold(0.0, f64::max);
    let first = |part: f64| profile.iter().position(|value| *value > dark + part * (bright - dark));
    #[allow(clippy::cast_precision_loss)]
    let width = first(0.75)?.saturating_sub(first(0.25)?) as f64 * STEP;
    Some(width)
}

fn bilinear(picture: &Picture, x: f64, y: f64) -> Option<f64> {
    if !(x >= 0.0 && y >= 0.0) {
        return None;
    }
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let (left, top) = (x as usize, y as usize);
    let (right, down) = (x.fract(), y.fract());
    let at = |x, y| picture.at(x, y).map(|pixel| f64::from(pixel.iter().sum::<f32>()) / 3.0);
    let above = at(left, top)? * (1.0 - right) + at(left + 1, top)? * right;
    let below = at(left, top + 1)? * (1.0 - right) + at(left + 1, top + 1)? * right;
    Some(above * (1.0 - down) + below * down)
}

/// The white ground beside places, from left to right, and beside steps.
struct Grounds {
    beside: Vec<Seen>,
    steps: Vec<Seen>,
}

impl Grounds {
    fn of(picture: &Picture, found: &Found, places: &[Place]) -> Result<Self, Fault> {
        let see = |area: Area| Seen::of(picture, &found.map, area).ok_or(Fault::NoSheet);
        let mut areas: Vec<Area> = places.iter().filter_map(|place| place.whites.first().copied()).collect();
        areas.extend(places.last().and_then(|place| place.whites.last().copied()));
        let beside = areas.into_iter().map(see).collect::<Result<Vec<_>, _>>()?;
        let steps = steps().iter().map(|step| see(step.white)).collect::<Result<Vec<_>, _>>()?;
        let all = || beside.iter().chain(&steps);
        #[allow(clippy::cast_precision_loss)]
        let mean = |of: fn(&Seen) -> f64| all().map(of).sum::<f64>() / all().count() as f64;
        if mean(|seen| seen.clipped) > CLIPPED_MOST || beside.iter().any(|seen| seen.clipped > 0.2) {
            return Err(Fault::WhiteClipped);
        }
        if mean(|seen| seen.grey() / 255.0) < WHITE_LEAST {
            return Err(Fault::TooDark);
        }
        Ok(Self { beside, steps })
    }

    /// Refuses light that differs too much, and white that is covered or lies in a shadow.
    fn even(&self, curves: &[CameraCurve; 3]) -> Result<(), Fault> {
        let light = |seen: &Seen| light(curves, seen.values);
        let beside: Vec<f64> = self.beside.iter().map(light).collect();
        let steps: Vec<f64> = self.steps.iter().map(light).collect();
        for three in beside.windows(3) {
            let [left, middle, right] = three else { continue };
            let step = middle - f64::midpoint(*left, *right);
            if step < WHITE_PART_LEAST.ln() {
                return Err(Fault::NoWhite);
            }
        }
        let all = || beside.iter().chain(&steps).copied();
        let (least, greatest) = (all().fold(f64::MAX, f64::min), all().fold(f64::MIN, f64::max));
        let apart = |pair: &[f64]| matches!(pair, [one, other] if (one - other).abs() > BESIDE_MOST.ln());
        // A shadow's edge inside one ground shows in its parts.
        let broken = |seen: &Seen| {
            let parts = || seen.parts.iter().map(|part| self::light(curves, *part));
            parts().fold(f64::MIN, f64::max) - parts().fold(f64::MAX, f64::min) > BESIDE_MOST.ln()
        };
        if greatest - least > LIGHT_MOST.ln()
            || beside.windows(2).any(apart)
            || self.beside.iter().any(broken)
        {
            return Err(Fault::UnequalLight);
        }
        Ok(())
    }
}

/// Logarithm of the light, mean of the channels.
fn light(curves: &[CameraCurve; 3], values: [f64; 3]) -> f64 {
    curves.iter().zip(values).map(|(curve, value)| curve.log_light(value) / 3.0).sum()
}

fn curves(picture: &Picture, found: &Found) -> Result<[CameraCurve; 3], Fault> {
    let mut channels: [Vec<SeenStep>; 3] = Default::default();
    for step in steps() {
        let grey = Seen::of(picture, &found.map, step.area.inside(3.0)).ok_or(Fault::NoSheet)?;
        let white = Seen::of(picture, &found.map, step.white).ok_or(Fault::NoSheet)?;
        for (channel, (grey, white)) in channels.iter_mut().zip(grey.values.into_iter().zip(white.values)) {
            channel.push(SeenStep { reflectance: step.reflectance, step: grey, white });
        }
    }
    let [red, green, blue] = channels.map(|steps| curve(&steps));
    match (red, green, blue) {
        (Some(red), Some(green), Some(blue)) => Ok([red, green, blue]),
        _ => Err(Fault::NoCurve),
    }
}

/// A place with what was seen of it.
struct InPlace {
    values: [f64; 3],
    whites: [[f64; 3]; 2],
    absorbance: [f64; 3],
    usable: [bool; 3],
    spread: [f64; 3],
    /// Of the light, natural logarithm.
    light_u: f64,
    pixels: u32,
}

impl InPlace {
    fn of(
        picture: &Picture,
        found: &Found,
        curves: &[CameraCurve; 3],
        grounds: &Grounds,
        (at, place): (usize, &Place),
    ) -> Result<Self, Fault> {
        let number = u8::try_from(at).unwrap_or(u8::MAX);
        let seen = Seen::of(picture, &found.map, place.window).ok_or(Fault::NoSheet)?;
        let (Some(left), Some(right)) = (grounds.beside.get(at), grounds.beside.get(at + 1)) else {
            return Err(Fault::NoSheet);
        };
        if seen.clipped > SHINING_MOST || seen.brighter(SHINING_BY) > SHINING_MOST {
            return Err(Fault::Glare(found.layout, number));
        }
        let whites = [left.values, right.values];
        let absorbances = |values: [f64; 3]| {
            let mut found = values;
            for ((found, curve), white) in found.iter_mut().zip(curves).zip(pairs(whites)) {
                let white = white.map(|white| curve.log_light(white) / 2.0).iter().sum::<f64>();
                *found = (white - curve.log_light(*found)) / LN_10;
            }
            found
        };
        let absorbance = absorbances(seen.values);
        let mut usable = [false; 3];
        for ((usable, value), absorbance) in usable.iter_mut().zip(seen.values).zip(absorbance) {
            *usable = value > VALUE_LEAST && absorbance < -LIGHT_LEAST.log10();
        }
        if usable == [false; 3] {
            return Err(Fault::PlaceTooDark(found.layout, number));
        }
        if absorbance.iter().all(|absorbance| *absorbance < EMPTY_MOST) {
            return Err(Fault::Empty(found.layout, number));
        }
        let parts: Vec<[f64; 3]> = seen.parts.iter().map(|part| absorbances(*part)).collect();
        let mut spread = [0.0; 3];
        for (channel, ((spread, usable), whole)) in spread.iter_mut().zip(usable).zip(absorbance).enumerate()
        {
            let of: Vec<f64> = parts.iter().filter_map(|part| part.get(channel).copied()).collect();
            let (least, greatest) =
                (of.iter().copied().fold(f64::MAX, f64::min), of.iter().copied().fold(f64::MIN, f64::max));
            if usable && greatest - least > UNEVEN_MOST.0 + UNEVEN_MOST.1 * whole.abs() {
                return Err(Fault::NotFilled(found.layout, number));
            }
            #[allow(clippy::cast_precision_loss)]
            let count = of.len().max(2) as f64;
            let mean = of.iter().sum::<f64>() / count;
            *spread = (of.iter().map(|one| (one - mean).powi(2)).sum::<f64>() / (count - 1.0)).sqrt();
        }
        let apart = light(curves, left.values) - light(curves, right.values);
        let light_u = LIGHT_U.0.hypot(LIGHT_U.1 * apart);
        Ok(Self { values: seen.values, whites, absorbance, usable, spread, light_u, pixels: seen.pixels })
    }

    fn read(&self) -> PlaceRead {
        PlaceRead {
            absorbance: self.absorbance.map(rounded),
            usable: self.usable,
            spread: self.spread.map(rounded),
            pixels: self.pixels,
        }
    }
}

/// The two grounds, channel by channel.
fn pairs([left, right]: [[f64; 3]; 2]) -> impl Iterator<Item = [f64; 2]> {
    left.into_iter().zip(right).map(<[f64; 2]>::from)
}

/// What may have moved the absorbances: noise by place and channel, light and width by place, and the ways in which the
/// curve may be wrong, which all places share.
fn effects(seen: &[InPlace], curves: &[CameraCurve; 3]) -> Vec<Effect> {
    let nothing = || vec![[0.0; 3]; seen.len()];
    let mut effects = Vec::new();
    for (at, place) in seen.iter().enumerate() {
        let mut only = |shift: [f64; 3]| {
            let mut shifts = nothing();
            if let Some(here) = shifts.get_mut(at) {
                *here = shift.map(rounded);
            }
            effects.push(Effect { shifts });
        };
        for (channel, spread) in place.spread.into_iter().enumerate() {
            let mut shift = [0.0; 3];
            if let Some(here) = shift.get_mut(channel) {
                // The parts of a place are not independent: as if there were three.
                *here = READ_U.hypot(spread / 3.0_f64.sqrt());
            }
            only(shift);
        }
        only([place.light_u / LN_10; 3]);
        only(place.absorbance.map(|absorbance| WIDTH_U * absorbance));
    }
    let mut of_curve: Vec<Vec<[f64; 3]>> = Vec::new();
    for (at, place) in seen.iter().enumerate() {
        for (channel, ((curve, value), white)) in
            curves.iter().zip(place.values).zip(pairs(place.whites)).enumerate()
        {
            let [left, right] = white;
            let one = curve.shifts(left, value);
            let other = curve.shifts(right, value);
            for (direction, (one, other)) in one.into_iter().zip(other).enumerate() {
                if of_curve.len() <= direction {
                    of_curve.push(nothing());
                }
                let here =
                    of_curve.get_mut(direction).and_then(|shifts| shifts.get_mut(at)?.get_mut(channel));
                if let Some(here) = here {
                    *here = rounded(f64::midpoint(one, other) / LN_10);
                }
            }
        }
    }
    effects.extend(of_curve.into_iter().map(|shifts| Effect { shifts }));
    effects
}

fn rounded(value: f64) -> f64 {
    (value * 1e9).round() / 1e9
}
