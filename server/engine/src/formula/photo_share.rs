//! The share of new fluid from absorbances of several places of one picture.
//!
//! Two ways: between the fluid before and fresh fluid, and along comparison tubes of known shares. Both take the
//! absorbances as they are; what is uncertain of them is told by whoever moves them and asks again. The reading of
//! photos calls it.

/// Absorbances of red, green and blue.
pub type Absorbances = [f64; 3];

/// A share with what is left of each channel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Along {
    /// Share of new fluid; noise may carry it out of 0 to 1.
    pub new_share: f64,
    /// What mixing leaves unexplained of each absorbance.
    pub left: Absorbances,
    /// Squared contrast between the ends, each channel by its weight.
    pub contrast: f64,
}

/// The share along the line from the fluid before to fresh fluid.
///
/// `n = Σ w d (A - A_before) / Σ w d²`, `d = A_fresh - A_before`
///
/// * `ends` – the fluid before and fresh fluid
/// * `now` – the mixture
/// * `weights` – 1/u² of each channel; 0 leaves it out
///
/// # Source
/// Law of Bouguer, Beer and Lambert (ISO 80000-7; IUPAC Gold Book, B00626). Least squares: JCGM 100:2008, H.3.
///
/// # Example
/// ```
/// use standpipe_engine::formula::photo_share::between;
/// // Half of each.
/// let found = between([[0.8, 1.2, 0.9], [0.2, 0.8, 0.7]], [0.5, 1.0, 0.8], [1.0; 3]).unwrap();
/// assert!((found.new_share - 0.5).abs() < 1e-12 && found.left.iter().all(|left| left.abs() < 1e-12));
/// ```
#[must_use]
pub fn between(ends: [Absorbances; 2], now: Absorbances, weights: [f64; 3]) -> Option<Along> {
    let [before, fresh] = ends;
    let sum = |part: fn(f64, f64, f64) -> f64| {
        let channels = before.iter().zip(fresh).zip(now).zip(weights);
        channels.map(|(((before, fresh), now), weight)| weight * part(*before, fresh, now)).sum::<f64>()
    };
    let contrast = sum(|before, fresh, _| (fresh - before).powi(2));
    let new_share = sum(|before, fresh, now| (fresh - before) * (now - before)) / contrast;
    let mut left = now;
    for (left, (before, fresh)) in left.iter_mut().zip(before.iter().zip(fresh)) {
        *left -= before + new_share * (fresh - before);
    }
    new_share.is_finite().then_some(Along { new_share, left, contrast })
}

/// The share along comparison tubes: on the piece between two neighbours that comes nearest to the fluid.
///
/// * `tubes` – share of new fluid and absorbances of each, the shares rising
/// * `now`, `weights` – as for [`between`]
///
/// # Source
/// As [`between`], piece by piece: tubes that were mixed a little wrongly then do no harm elsewhere.
///
/// # Deviation
/// Before the first and after the last tube their piece goes on.
///
/// # Example
/// ```
/// use standpipe_engine::formula::photo_share::along_tubes;
/// // 0, 50 and 100 percent new; a fluid half way between the last two.
/// let tubes = [(0.0, [0.8; 3]), (0.5, [0.5; 3]), (1.0, [0.1; 3])];
/// let found = along_tubes(&tubes, [0.3; 3], [1.0; 3]).unwrap();
/// assert!((found.new_share - 0.75).abs() < 1e-12);
/// ```
#[must_use]
pub fn along_tubes(tubes: &[(f64, Absorbances)], now: Absorbances, weights: [f64; 3]) -> Option<Along> {
    let last = tubes.len().checked_sub(2)?;
    let mut nearest: Option<(f64, Along)> = None;
    let mut whole = 0.0;
    for (place, pair) in tubes.windows(2).enumerate() {
        let [(low, start), (high, end)] = pair else { continue };
        let Some(on) = between([*start, *end], now, weights) else { continue };
        whole += on.contrast.sqrt();
        let from = if place == 0 { f64::NEG_INFINITY } else { 0.0 };
        let to = if place == last { f64::INFINITY } else { 1.0 };
        let part = on.new_share.clamp(from, to);
        let mut left = now;
        for (left, (start, end)) in left.iter_mut().zip(start.iter().zip(end)) {
            *left -= start + part * (end - start);
        }
        let miss: f64 = left.iter().zip(weights).map(|(left, weight)| weight * left * left).sum();
        if nearest.as_ref().is_none_or(|(least, _)| miss < *least) {
            nearest = Some((miss, Along { new_share: low + part * (high - low), left, contrast: 0.0 }));
        }
    }
    nearest.map(|(_, along)| Along { contrast: whole * whole, ..along })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn fluids_that_are_the_same_give_no_share() {
        assert!(between([[0.5; 3], [0.5; 3]], [0.5; 3], [1.0; 3]).is_none());
        assert!(along_tubes(&[(0.0, [0.5; 3])], [0.5; 3], [1.0; 3]).is_none());
    }

    proptest! {
        #[test]
        fn tubes_that_were_mixed_exactly_say_the_same_as_their_ends(share in -0.1_f64..1.1) {
            let (before, fresh) = ([0.9, 1.4, 1.1], [0.1, 0.9, 0.8]);
            let mixed = |share: f64| std::array::from_fn(|at| before[at] + share * (fresh[at] - before[at]));
            let tubes = [0.0, 0.25, 0.5, 0.75, 0.9, 1.0].map(|share| (share, mixed(share)));
            let one = between([before, fresh], mixed(share), [1.0, 2.0, 0.0]).unwrap();
            let other = along_tubes(&tubes, mixed(share), [1.0, 2.0, 0.0]).unwrap();
            prop_assert!((one.new_share - share).abs() < 1e-9 && (other.new_share - share).abs() < 1e-9);
            prop_assert!((one.contrast - other.contrast).abs() < 1e-9);
        }
    }
}
