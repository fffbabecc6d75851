//! The old share from colour: light through a mixture of the fluid before and fresh fluid.
//!
//! Absorbance adds up with concentration, so the three channels of a picture or of an instrument give the share by
//! weighted least squares, and say whether mixing explains them at all. All three readings must come from one
//! glass in one light. A colour *word* is never turned into a number. The exchange turns a reading into a look.

use super::alarm::chi_square_limit;

/// Transmittance of three channels, linear, 1 for the empty glass.
pub type Channels = [f64; 3];

/// What three transmittances are compared with.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct References {
    /// The fluid before anything was done.
    pub before: Channels,
    /// Fresh fluid.
    pub fresh: Channels,
    /// Standard uncertainty of each transmittance, more than 0.
    pub standard_uncertainty: f64,
}

/// The share that was read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mixed {
    /// Old share as computed; noise may carry it a little out of 0 to 1.
    pub old_share: f64,
    /// Its standard uncertainty.
    pub standard_uncertainty: f64,
    /// The channels that decide were too dark to be read: the old share is at least this.
    pub saturated: bool,
    /// Squared residuals of the channels by their uncertainty, against the 0.99 limit for two degrees of freedom.
    pub explained: bool,
    /// A channel was brighter than the empty glass by more than three standard uncertainties.
    pub brighter_than_empty: bool,
    /// Fresh fluid is darker than the fluid before, in the channels that decide: look whether they were exchanged.
    pub reference_darker: bool,
}

/// Why there is no share.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NotRead {
    /// A transmittance or its uncertainty is not a number above 0.
    NotANumber,
    /// The fluid before and fresh fluid look too much alike: the share would be uncertain by more than a half.
    TooAlike,
}

/// The old share that explains three transmittances best.
///
/// `A = -log10 T`, `d = A_before - A_fresh`, `o = Σ w d (A - A_fresh) / Σ w d²`, `u(o) = 1 / √(Σ w d²)`, `w = 1 / u(A)²`,
/// `u(A) = u(T) / (T ln 10)`
///
/// * `references` – the fluid before and fresh fluid
/// * `seen` – T of the mixture
///
/// # Source
/// Law of Bouguer, Beer and Lambert (ISO 80000-7; IUPAC Gold Book, B00626): absorbance adds up in concentration at
/// equal path. Least squares: JCGM 100:2008, H.3.
///
/// # Deviation
/// What was seen below u(T) is taken as u(T), a reference below u(T) / 10 as that. Where the channels that decide were seen below 3 u(T), the share is marked as "at
/// least". The uncertainty of the references is left to the exchange, where all looks share it.
///
/// # Errors
/// [`NotRead`] if there is no share to give.
///
/// # Example
/// ```
/// use standpipe_engine::formula::{colour::linear, mixing::{References, mixed}};
/// // Before (60, 30, 15), fresh (200, 40, 45): at 0.1 old the uncertainty is 0.0035.
/// let [before, fresh] = [[60, 30, 15], [200, 40, 45]].map(|sample| sample.map(linear));
/// let references = References { before, fresh, standard_uncertainty: 0.004 };
/// let tenth = std::array::from_fn(|at| before[at].powf(0.1) * fresh[at].powf(0.9));
/// let read = mixed(&references, tenth).unwrap();
/// assert!((read.old_share - 0.1).abs() < 1e-9 && (read.standard_uncertainty - 0.0035).abs() < 5e-5);
/// ```
pub fn mixed(references: &References, seen: Channels) -> Result<Mixed, NotRead> {
    let u = references.standard_uncertainty;
    let numbers = references.before.iter().chain(&references.fresh).chain(&seen);
    let all_sound = numbers.into_iter().all(|value| value.is_finite() && *value >= 0.0);
    if !(all_sound && u > 0.0 && u.is_finite()) {
        return Err(NotRead::NotANumber);
    }
    let least = 3.0 * u;
    // The logarithm of nothing has no end: a reference is taken at a tenth of its uncertainty at least, what was seen
    // at all of it.
    let absorbance = |transmittance: f64| -transmittance.max(u / 10.0).log10();
    let channels = references.before.iter().zip(&references.fresh).zip(&seen);
    let channels: Vec<Channel> = channels
        .map(|((before, fresh), seen)| Channel {
            contrast: absorbance(*before) - absorbance(*fresh),
            over_fresh: absorbance(seen.max(u)) - absorbance(*fresh),
            weight: (seen.max(u) * std::f64::consts::LN_10 / u).powi(2),
            dark: *seen < least,
        })
        .collect();
    let sum = |part: fn(&Channel) -> f64| channels.iter().map(part).sum::<f64>();
    let information = sum(|channel| channel.weight * channel.contrast.powi(2));
    // An uncertainty of more than a half says nothing of a share.
    if information <= 4.0 {
        return Err(NotRead::TooAlike);
    }
    let old_share = sum(|channel| channel.weight * channel.contrast * channel.over_fresh) / information;
    let residual = |channel: &Channel| channel.over_fresh - old_share * channel.contrast;
    let misfit: f64 = channels.iter().map(|channel| channel.weight * residual(channel).powi(2)).sum();
    let dark: f64 = channels
        .iter()
        .filter(|channel| channel.dark)
        .map(|channel| channel.weight * channel.contrast.powi(2))
        .sum();
    Ok(Mixed {
        old_share,
        standard_uncertainty: information.sqrt().recip(),
        saturated: dark > information / 2.0,
        explained: chi_square_limit(2).is_some_and(|limit| misfit <= limit),
        brighter_than_empty: seen.iter().any(|value| *value > 1.0 + least),
        reference_darker: sum(|channel| {
            channel.weight * channel.contrast.powi(2) * channel.contrast.signum()
        }) < 0.0,
    })
}

struct Channel {
    contrast: f64,
    over_fresh: f64,
    weight: f64,
    dark: bool,
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const REFERENCES: References =
        References { before: [0.25, 0.05, 0.03], fresh: [0.6, 0.3, 0.2], standard_uncertainty: 0.004 };

    fn mixture(old: f64) -> Channels {
        std::array::from_fn(|at| REFERENCES.before[at].powf(old) * REFERENCES.fresh[at].powf(1.0 - old))
    }

    #[test]
    fn exchanged_references_are_told() {
        let turned = References { before: REFERENCES.fresh, fresh: REFERENCES.before, ..REFERENCES };
        assert!(!mixed(&REFERENCES, mixture(0.3)).unwrap().reference_darker);
        let read = mixed(&turned, mixture(0.3)).unwrap();
        assert!(read.reference_darker && (read.old_share - 0.7).abs() < 1e-9);
    }

    #[test]
    fn light_brighter_than_the_empty_glass_is_told() {
        let read = mixed(&REFERENCES, [1.2, 1.1, 1.05]).unwrap();
        assert!(read.brighter_than_empty && read.old_share < 0.0 && !read.explained);
        assert!(!mixed(&REFERENCES, mixture(0.5)).unwrap().brighter_than_empty);
    }

    #[test]
    fn a_black_sample_only_says_at_least() {
        let read = mixed(&REFERENCES, [0.0; 3]).unwrap();
        assert!(read.saturated && read.old_share.is_finite() && read.standard_uncertainty.is_finite());
        assert!(!mixed(&REFERENCES, mixture(0.5)).unwrap().saturated);
    }

    #[test]
    fn foam_that_dims_all_channels_alike_is_not_explained_by_mixing() {
        assert!(mixed(&REFERENCES, mixture(0.2)).unwrap().explained);
        assert!(!mixed(&REFERENCES, mixture(0.2).map(|value| value * 0.6)).unwrap().explained);
    }

    #[test]
    fn fluids_that_look_alike_and_numbers_that_are_none_give_no_share() {
        let alike =
            References { before: [0.5, 0.4, 0.3], fresh: [0.502, 0.401, 0.3], standard_uncertainty: 0.004 };
        assert_eq!(mixed(&alike, [0.5, 0.4, 0.3]), Err(NotRead::TooAlike));
        assert_eq!(mixed(&REFERENCES, [f64::NAN, 0.1, 0.1]), Err(NotRead::NotANumber));
        assert_eq!(mixed(&REFERENCES, [-0.1, 0.1, 0.1]), Err(NotRead::NotANumber));
        let unsure = References { standard_uncertainty: 0.0, ..REFERENCES };
        assert_eq!(mixed(&unsure, mixture(0.5)), Err(NotRead::NotANumber));
    }

    proptest! {
        #[test]
        fn a_mixture_is_read_as_what_was_mixed(old in 0.0_f64..1.0) {
            let read = mixed(&REFERENCES, mixture(old)).unwrap();
            prop_assert!((read.old_share - old).abs() < 1e-9 && read.explained);
        }

        #[test]
        fn any_reading_gives_numbers_or_none(seen in proptest::array::uniform3(0.0_f64..2.0)) {
            if let Ok(read) = mixed(&REFERENCES, seen) {
                prop_assert!(read.old_share.is_finite() && read.standard_uncertainty.is_finite());
            }
        }
    }
}
