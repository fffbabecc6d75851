//! The cautions of the work, so that screens and record say them in the same words.
//!
//! One text for each of the five groups, and the line on burns. The vehicle maker's instructions, local
//! rules and licensed practice come first; the record and every screen say so beside these texts. Never
//! here: whether a group was read. The steps and the sections of a job call this.

use crate::kind::words::CautionGroup;
use crate::text::{Sentence, sentence};

/// From here on fluid burns, in °C: hot liquid of 49 °C burns in minutes, of 60 °C in seconds (published
/// tables for hot water; oil clings and cools more slowly).
pub const HOT_CELSIUS: f64 = 50.0;
/// A temperature older than this says nothing of the fluid, in minutes (common practice, no source).
pub const TEMPERATURE_AGE_MINUTES_MAX: f64 = 10.0;

/// Whether the fluid has to be taken as hot enough to burn.
///
/// * `celsius` – temperature of the fluid in °C and its age in minutes; absent when it is not known
///
/// True from 50 °C on, and whenever the temperature is not known, older than 10 minutes, or of a time to come.
#[must_use]
pub fn hot(celsius: Option<(f64, f64)>) -> bool {
    // Asked in the positive form, so that what is no number counts as hot.
    !celsius.is_some_and(|(celsius, age_minutes)| {
        celsius < HOT_CELSIUS && (0.0..=TEMPERATURE_AGE_MINUTES_MAX).contains(&age_minutes)
    })
}

/// The text of a group.
#[must_use]
pub fn text(group: CautionGroup) -> Sentence {
    match group {
        CautionGroup::Lifted => sentence::caution_lift(),
        CautionGroup::LineOpening => sentence::caution_line(),
        CautionGroup::EngineRunning => sentence::caution_engine(),
        CautionGroup::PanAndHot => sentence::caution_hot_fluid(),
        CautionGroup::GearsAndLevel => sentence::caution_gears(),
    }
}

/// What belongs to every step at which fluid can run: gloves and shield always, the line on burns while
/// the fluid has to be taken as hot, and skin and eyes.
#[must_use]
pub fn at_fluid(celsius: Option<(f64, f64)>) -> Vec<Sentence> {
    let burns = hot(celsius).then(sentence::caution_burns);
    [Some(sentence::caution_hot_fluid()), burns, Some(sentence::caution_skin())]
        .into_iter()
        .flatten()
        .collect()
}

/// What the vehicle's maker warns of for the settled variant, a sentence each.
#[must_use]
pub fn of_maker(cautions: Option<&[String]>) -> Vec<Sentence> {
    cautions.unwrap_or_default().iter().map(sentence::caution_of_maker).collect()
}

/// Whether a sentence is one of [`of_maker`].
#[must_use]
pub fn is_of_maker(said: &Sentence) -> bool {
    said.key() == "caution-of-maker"
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::{Language, render};

    #[test]
    fn fluid_is_hot_from_50_degrees_and_whenever_its_temperature_is_not_known_or_old() {
        assert!(!hot(Some((49.9, 0.0))) && !hot(Some((20.0, 10.0))));
        for celsius in [None, Some((50.0, 0.0)), Some((20.0, 10.1)), Some((20.0, -1.0))] {
            assert!(hot(celsius), "{celsius:?}");
        }
        assert!(hot(Some((f64::NAN, 0.0))) && hot(Some((20.0, f64::NAN))));
    }

    #[test]
    fn gloves_and_shield_are_said_at_cool_fluid_too_and_burns_only_at_hot() {
        let said = |celsius| {
            let texts: Vec<String> =
                at_fluid(celsius).iter().map(|text| render(Language::English, text).unwrap()).collect();
            texts.join(" ")
        };
        assert!(said(Some((20.0, 1.0))).contains("face shield"));
        assert!(
            !said(Some((20.0, 1.0))).contains("burn in seconds") && said(None).contains("burn in seconds")
        );
    }

    #[test]
    fn gears_are_engaged_with_nobody_under_the_vehicle() {
        let gears = render(Language::English, &text(CautionGroup::GearsAndLevel)).unwrap();
        for part in ["driver in the seat", "foot on the brake", "nobody under the vehicle", "hot exhaust"] {
            assert!(gears.contains(part), "{part}: {gears}");
        }
    }
}
