//! A share of new fluid from the colours of one photo: the glass, the fluid before, fresh fluid, the white ground.
//!
//! All four stand in one picture, so they share light and camera. What the picture cannot carry is said in a
//! sentence beside the number, or instead of it. Never here: which means of a reading counts, see `looks`.

use crate::formula::colour::linear;
use crate::formula::mixing::{Channels, Mixed, NotRead, References, mixed};
use crate::kind::exchange_reading::{Colours, Rgb};
use crate::text::{Sentence, sentence};

/// What a photo says.
pub(super) struct Photo {
    /// New share and its standard uncertainty; absent when something is wrong with the photo.
    pub new_share: Option<(f64, f64)>,
    /// The glass was too dark: at most the share is new.
    pub saturated: bool,
    /// What is wrong with it.
    pub wrong: Vec<Sentence>,
}

/// Reads a photo; `uncertainty` is that of each transmittance, `at` the litres in words.
pub(super) fn read(colours: &Colours, uncertainty: f64, at: &str) -> Photo {
    let [glass, before, fresh] =
        [colours.glass, colours.before, colours.fresh].map(|colour| transmittance(colour, colours.white));
    let references = References { before, fresh, standard_uncertainty: uncertainty };
    match mixed(&references, glass) {
        Ok(read) => seen(&references, glass, &read, at),
        Err(why) => {
            let text = match why {
                NotRead::NotANumber => sentence::exchange_photo_unreadable(at),
                NotRead::TooAlike => sentence::exchange_photo_alike(at),
            };
            Photo { new_share: None, saturated: false, wrong: vec![text] }
        }
    }
}

fn seen(references: &References, glass: Channels, read: &Mixed, at: &str) -> Photo {
    let told = [
        (!read.explained, sentence::exchange_photo_unexplained(at)),
        (read.brighter_than_empty, sentence::exchange_photo_brighter(at)),
        (read.reference_darker, sentence::exchange_photo_exchanged(at)),
    ];
    let wrong: Vec<Sentence> = told.into_iter().filter(|(is, _)| *is).map(|(_, text)| text).collect();
    let own = read.standard_uncertainty.hypot(by_references(references, glass, read.old_share));
    let new_share = (1.0 - read.old_share).clamp(0.0, 1.0);
    let new_share = wrong.is_empty().then_some((new_share, own));
    Photo { new_share, saturated: read.saturated, wrong }
}

/// Standard uncertainty of the share from the two samples that the glass is compared with: each of their channels is
/// moved by its own (JCGM 100:2008, 5.1.3 note 2).
fn by_references(references: &References, glass: Channels, old_share: f64) -> f64 {
    let u = references.standard_uncertainty;
    let moved = |references: &References| {
        // Samples that are alike once moved leave the share open by a half.
        mixed(references, glass).map_or(0.5, |read| read.old_share - old_share)
    };
    let mut variance = 0.0;
    for channel in 0..glass.len() {
        let one = |of: Channels, by: f64| {
            let mut of = of;
            if let Some(value) = of.get_mut(channel) {
                *value = (*value + by).max(0.0);
            }
            of
        };
        let before = |by| moved(&References { before: one(references.before, by), ..*references });
        let fresh = |by| moved(&References { fresh: one(references.fresh, by), ..*references });
        variance += ((before(u) - before(-u)) / 2.0).powi(2) + ((fresh(u) - fresh(-u)) / 2.0).powi(2);
    }
    variance.sqrt()
}

/// What of the white ground's light a colour sends back, channel by channel.
fn transmittance(colour: Rgb, white: Rgb) -> Channels {
    let mut channels = [0.0; 3];
    for ((channel, value), white) in channels.iter_mut().zip(colour).zip(white) {
        *channel = linear(value) / linear(white);
    }
    channels
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::{Language, render};

    const BEFORE: Rgb = [140, 80, 60];
    const FRESH: Rgb = [225, 150, 130];
    const WHITE: Rgb = [250, 250, 250];

    /// The sRGB value of a linear one, IEC 61966-2-1, by search.
    fn coded(value: f64) -> u8 {
        (0..=255)
            .min_by(|one, other| (linear(*one) - value).abs().total_cmp(&(linear(*other) - value).abs()))
            .unwrap()
    }

    /// The glass that holds so much of the fluid before, by the law of Bouguer, Beer and Lambert.
    fn glass(old: f64) -> Rgb {
        let [before, fresh] = [BEFORE, FRESH].map(|sample| transmittance(sample, WHITE));
        std::array::from_fn(|at| coded(before[at].powf(old) * fresh[at].powf(1.0 - old) * linear(WHITE[at])))
    }

    fn photo(glass: Rgb) -> Photo {
        read(&Colours { glass, before: BEFORE, fresh: FRESH, white: WHITE }, 0.02, "4.8 L")
    }

    fn told(photo: &Photo) -> String {
        photo.wrong.iter().map(|text| render(Language::English, text).unwrap()).collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn a_mixture_in_a_photo_is_read_as_what_was_mixed() {
        for old in [0.0, 0.1, 0.4, 0.75, 1.0] {
            let photo = photo(glass(old));
            let (new_share, u) = photo.new_share.unwrap();
            assert!((1.0 - new_share - old).abs() < 0.02 && !photo.saturated, "{old}: {new_share}");
            assert!(u > 0.02 && u < 0.2, "{old}: {u}");
        }
    }

    #[test]
    fn a_glass_in_another_light_is_told_and_gives_no_share() {
        let [red, green, blue] = glass(0.3).map(linear);
        let photo = photo([red * 0.6, green, blue * 1.4].map(coded));
        assert!(told(&photo).contains("no mixture") && photo.new_share.is_none());
    }

    #[test]
    fn a_glass_brighter_than_the_white_ground_is_told() {
        let photo = read(
            &Colours { glass: [250, 250, 250], before: BEFORE, fresh: FRESH, white: [230, 230, 230] },
            0.02,
            "4.8 L",
        );
        assert!(told(&photo).contains("brighter than the white ground"), "{}", told(&photo));
    }

    #[test]
    fn samples_that_were_exchanged_are_told() {
        let colours = Colours { glass: glass(0.3), before: FRESH, fresh: BEFORE, white: WHITE };
        assert!(told(&read(&colours, 0.02, "4.8 L")).contains("were exchanged"));
    }

    #[test]
    fn samples_that_look_alike_and_a_black_ground_give_no_share() {
        let alike = Colours { glass: FRESH, before: [224, 149, 129], fresh: FRESH, white: WHITE };
        let alike = read(&alike, 0.02, "4.8 L");
        assert!(alike.new_share.is_none() && told(&alike).contains("too much alike"));
        let black = Colours { glass: FRESH, before: BEFORE, fresh: FRESH, white: [0, 0, 0] };
        let black = read(&black, 0.02, "4.8 L");
        assert!(black.new_share.is_none() && told(&black).contains("white ground is black"));
    }

    #[test]
    fn a_glass_too_dark_to_be_read_only_says_at_most() {
        assert!(photo([20, 8, 6]).saturated);
    }
}
