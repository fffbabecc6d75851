//! From an extract to the share of new fluid, with its uncertainty: every effect moves the absorbances once.
//!
//! Never here: which look counts, or a sentence.

use super::sheet::{Layout, Stand};
use super::{Extract, PlaceRead};
use crate::formula::photo_share::{Absorbances, Along, along_tubes, between};

/// Standard uncertainty above which a photo says nothing of a share.
const UNCERTAINTY_MOST: f64 = 0.25;
/// Uncertainties by which a channel may miss what mixing explains.
const MISS_MOST: f64 = 3.5;
/// Standard uncertainty of the share between two comparison tubes, each mixed to two parts of a hundred (common practice,
/// no source).
const TUBE_U: f64 = 0.015;
/// What mixing leaves open in wide channels, as a part of the contrast of the two fluids (common practice, no source).
const WIDE_CHANNELS: f64 = 0.02;

/// What a photo says of the share.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PhotoShare {
    /// Share of new fluid; noise may carry it out of 0 to 1.
    pub new_share: f64,
    /// Its standard uncertainty.
    pub standard_uncertainty: f64,
}

/// Why absorbances give no share.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoShare {
    /// The fluid before and fresh fluid look too much alike.
    TooAlike,
    /// No channel is light enough at every place.
    TooDark,
    /// The colours are no mixture of the two fluids.
    Unexplained,
    /// What is marked as fresh is darker than what is marked as before.
    Exchanged,
}

/// The share of new fluid at the place 'now'.
///
/// # Errors
/// [`NoShare`] if there is none to give.
pub fn share(extract: &Extract) -> Result<PhotoShare, NoShare> {
    let stands: Vec<Stand> = extract.layout.places().iter().map(|place| place.stands).collect();
    let usable = |channel: usize| {
        extract.places.iter().all(|place| place.usable.get(channel).copied().unwrap_or(false))
    };
    if !(0..3).any(usable) {
        return Err(NoShare::TooDark);
    }
    let absorbances: Vec<Absorbances> = extract.places.iter().map(|place| place.absorbance).collect();
    let weights = weights(extract, usable);
    let along = |absorbances: &[Absorbances]| of(extract.layout, &stands, absorbances, weights);
    let found = along(&absorbances).ok_or(NoShare::TooAlike)?;
    let mut variance = if extract.layout == Layout::Tubes { TUBE_U * TUBE_U } else { 0.0 };
    let mut left = [0.0; 3];
    for effect in &extract.effects {
        let moved = |by: f64| {
            let shifted = absorbances.iter().zip(&effect.shifts).map(|(absorbance, shift)| {
                let mut absorbance = *absorbance;
                for (value, shift) in absorbance.iter_mut().zip(shift) {
                    *value += by * shift;
                }
                absorbance
            });
            along(&shifted.collect::<Vec<_>>())
        };
        let (Some(up), Some(down)) = (moved(1.0), moved(-1.0)) else { return Err(NoShare::TooAlike) };
        variance += ((up.new_share - down.new_share) / 2.0).powi(2);
        for (left, (up, down)) in left.iter_mut().zip(up.left.into_iter().zip(down.left)) {
            *left += ((up - down) / 2.0_f64).powi(2);
        }
    }
    let uncertainty = variance.sqrt();
    if uncertainty.is_nan() || uncertainty > UNCERTAINTY_MOST {
        return Err(NoShare::TooAlike);
    }
    if is_exchanged(&stands, &absorbances, weights) {
        return Err(NoShare::Exchanged);
    }
    let wide = WIDE_CHANNELS.powi(2) * contrast(&stands, &absorbances, weights);
    let misses = found.left.iter().zip(left).zip(weights);
    let unexplained = misses
        .into_iter()
        .any(|((miss, variance), weight)| weight > 0.0 && miss.abs() > MISS_MOST * (variance + wide).sqrt());
    let outside = (found.new_share - 0.5).abs() - 0.5;
    if unexplained || outside > MISS_MOST * uncertainty {
        return Err(NoShare::Unexplained);
    }
    Ok(PhotoShare { new_share: found.new_share, standard_uncertainty: uncertainty })
}

/// 1/u² of each channel by its noise, 0 where it cannot be used.
fn weights(extract: &Extract, usable: impl Fn(usize) -> bool) -> [f64; 3] {
    let mut weights = [0.0; 3];
    for (channel, weight) in weights.iter_mut().enumerate() {
        let spread = |place: &PlaceRead| place.spread.get(channel).copied().unwrap_or_default();
        let noise: f64 = extract.places.iter().map(|place| spread(place).powi(2)).sum();
        if usable(channel) {
            // A floor, so that one quiet channel does not silence the others.
            *weight = 1.0 / (0.02_f64.powi(2) + noise);
        }
    }
    weights
}

fn of(layout: Layout, stands: &[Stand], absorbances: &[Absorbances], weights: [f64; 3]) -> Option<Along> {
    let now = at(stands, absorbances, Stand::Now)?;
    match layout {
        Layout::Bottles => between(ends(stands, absorbances)?, now, weights),
        Layout::Tubes => {
            let tubes = stands.iter().zip(absorbances).filter_map(|(stands, absorbance)| match stands {
                Stand::Tube(percent) => Some((f64::from(*percent) / 100.0, *absorbance)),
                _ => None,
            });
            along_tubes(&tubes.collect::<Vec<_>>(), now, weights)
        }
    }
}

fn at(stands: &[Stand], absorbances: &[Absorbances], wanted: Stand) -> Option<Absorbances> {
    stands.iter().zip(absorbances).find(|(stands, _)| **stands == wanted).map(|(_, absorbance)| *absorbance)
}

/// The fluid before and fresh fluid.
fn ends(stands: &[Stand], absorbances: &[Absorbances]) -> Option<[Absorbances; 2]> {
    let before =
        at(stands, absorbances, Stand::Before).or_else(|| at(stands, absorbances, Stand::Tube(0)))?;
    let fresh =
        at(stands, absorbances, Stand::Fresh).or_else(|| at(stands, absorbances, Stand::Tube(100)))?;
    Some([before, fresh])
}

/// Mean squared contrast of the two fluids over the channels in use.
fn contrast(stands: &[Stand], absorbances: &[Absorbances], weights: [f64; 3]) -> f64 {
    let Some([before, fresh]) = ends(stands, absorbances) else { return 0.0 };
    let parts = before.iter().zip(fresh).zip(weights);
    let squared: f64 = parts.map(|((before, fresh), weight)| weight * (before - fresh).powi(2)).sum();
    squared / weights.iter().sum::<f64>()
}

fn is_exchanged(stands: &[Stand], absorbances: &[Absorbances], weights: [f64; 3]) -> bool {
    let Some([before, fresh]) = ends(stands, absorbances) else { return false };
    let parts = before.iter().zip(fresh).zip(weights);
    parts.map(|((before, fresh), weight)| weight * (before - fresh) * (before - fresh).abs()).sum::<f64>()
        < 0.0
}
