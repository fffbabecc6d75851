//! Which VINs mean which transmission variant.
//!
//! A rule is a pattern of 17 places with an optional window of serial numbers and an optional plant. All rules
//! are asked and the answer is the set of variants that fit, never the first hit; what to do with two or with
//! none is the gates' business. The transmission files bring the rules, and the revision asks them.

use crate::formula::vin::{ALPHABET, LENGTH, Vin, check_digit};

/// Positions 12 to 17 hold the serial number.
const SERIAL_START: usize = 11;
/// Position 11 holds the plant.
const PLANT_INDEX: usize = 10;
/// Position 9 holds the check digit.
const CHECK_INDEX: usize = 8;
/// Greatest serial number of six digits.
pub const SERIAL_GREATEST: u32 = 999_999;

/// One line that says which VINs a variant is built into.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct VinRule {
    /// Code of the rule, as printed on the record.
    pub code: String,
    /// Code of the variant that the rule speaks for.
    pub variant: String,
    /// The 17 places.
    pub pattern: Pattern,
    /// Positions 12 to 17 as a number, both ends included.
    pub serial: Option<(u32, u32)>,
    /// Where the rule was read.
    pub source: String,
    /// Edition of the source.
    pub edition: String,
    /// Who entered the rule.
    pub entered_by: String,
}

impl VinRule {
    /// Whether the VIN fits: every place of the pattern, and the serial number where a window is given. A serial
    /// with a letter fits no window.
    #[must_use]
    pub fn fits(&self, vin: &Vin) -> bool {
        let in_window =
            |(from, to): (u32, u32)| vin.serial().is_some_and(|serial| (from..=to).contains(&serial));
        self.pattern.fits(vin) && self.serial.is_none_or(in_window)
    }

    /// The serial numbers that the window allows; all of them without one.
    pub(super) fn window(&self) -> (u32, u32) {
        self.serial.unwrap_or((0, SERIAL_GREATEST))
    }

    /// Whether every VIN that the other rule fits fits this one too.
    #[must_use]
    pub(super) fn covers(&self, other: &Self) -> bool {
        let ((from, to), (other_from, other_to)) = (self.window(), other.window());
        // A serial with letters fits a rule without a window only.
        (self.serial.is_none() || (other.serial.is_some() && from <= other_from && other_to <= to))
            && self.pattern.covers(&other.pattern)
    }
}

/// The rules that a VIN fits and the codes of their variants.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fitting<'a> {
    /// The rules, in the order in which they were given.
    pub rules: Vec<&'a VinRule>,
    /// Codes of the variants, sorted, each once.
    pub variants: Vec<&'a str>,
}

/// Asks all rules, one after the other; what [`super::rule_index`] is held against.
#[must_use]
pub fn fitting<'a>(rules: impl IntoIterator<Item = &'a VinRule>, vin: &Vin) -> Fitting<'a> {
    Fitting::of(rules.into_iter().filter(|rule| rule.fits(vin)).collect())
}

impl<'a> Fitting<'a> {
    /// Puts together which variants some rules that fit speak for.
    pub(super) fn of(rules: Vec<&'a VinRule>) -> Self {
        let mut variants: Vec<&str> = rules.iter().map(|rule| rule.variant.as_str()).collect();
        variants.sort_unstable();
        variants.dedup();
        Self { rules, variants }
    }
}

/// Whether some VIN fits the places and windows of both rules; the windows may still allow no serial that the places
/// allow, which only [`overlap`] finds out.
#[must_use]
pub(super) fn may_meet(first: &VinRule, second: &VinRule) -> bool {
    let ((from, to), (other_from, other_to)) = (first.window(), second.window());
    from.max(other_from) <= to.min(other_to)
        && first.pattern.places.iter().zip(second.pattern.places).all(|(one, other)| one & other != 0)
}

/// A VIN that fits both rules, if there is one; with the right check digit where the rules leave it open.
#[must_use]
pub fn overlap(first: &VinRule, second: &VinRule) -> Option<Vin> {
    let mut places = [0_u64; LENGTH];
    for ((place, one), other) in places.iter_mut().zip(first.pattern.places).zip(second.pattern.places) {
        *place = one & other;
    }
    let (window, other) = (first.window(), second.window());
    let both = (window.0.max(other.0), window.1.min(other.1));
    example_of(&places, (first.serial.is_some() || second.serial.is_some()).then_some(both))
}

/// The VIN with the least serial of a window that the places allow, if there is one; with the right check digit where
/// they leave it open.
#[must_use]
pub(super) fn example_of(places: &[u64; LENGTH], window: Option<(u32, u32)>) -> Option<Vin> {
    if places.contains(&0) {
        return None;
    }
    let mut text: String = places.iter().enumerate().filter_map(|(at, place)| example(*place, at)).collect();
    if let Some((from, to)) = window {
        let serial = least_serial(places.get(SERIAL_START..)?, from, to, 0)?;
        text.replace_range(SERIAL_START.., &format!("{serial:06}"));
    }
    let vin = Vin::from_exact(&text)?;
    let digit = check_digit(&vin);
    if places.get(CHECK_INDEX).is_some_and(|place| place & bit(digit) != 0) {
        text.replace_range(CHECK_INDEX..=CHECK_INDEX, &digit.to_string());
    }
    Vin::from_exact(&text)
}

/// The 17 places of a rule.
///
/// `*` is any character, a letter or digit is itself, and brackets hold a set with ranges in the order A to Z,
/// then 0 to 9, for example `[A-HJ]` or `[Y-2]`. I, O and Q never stand in a VIN: alone they are refused, in
/// brackets they add nothing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Pattern {
    text: String,
    places: [u64; LENGTH],
}

impl Pattern {
    /// Reads the pattern.
    ///
    /// # Errors
    /// A sentence that names the place and what is wrong with it.
    pub fn parse(text: &str) -> Result<Self, String> {
        let mut places = [0_u64; LENGTH];
        let mut count = 0;
        let mut rest = text.chars();
        while let Some(character) = rest.next() {
            count += 1;
            let set = match character {
                '*' => ANY,
                '[' => set(&mut rest, count)?,
                literal => match bit(literal) {
                    0 => {
                        return Err(format!(
                            "place {count}: '{literal}' never stands in a VIN; use A-Z without I, O, Q, 0-9, * or [..]"
                        ));
                    }
                    one => one,
                },
            };
            if let Some(place) = places.get_mut(count - 1) {
                *place = set;
            }
        }
        if count == LENGTH {
            Ok(Self { text: text.to_owned(), places })
        } else {
            Err(format!("must have {LENGTH} places, found {count}"))
        }
    }

    /// The pattern as written.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.text
    }

    /// The pattern with position 11 narrowed to one plant; nothing if no VIN is left.
    #[must_use]
    pub fn with_plant(mut self, plant: char) -> Option<Self> {
        let place = self.places.get_mut(PLANT_INDEX)?;
        *place &= bit(plant);
        (*place != 0).then_some(self)
    }

    /// The 17 places as sets, a bit for each character of [`ALPHABET`].
    pub(super) fn places(&self) -> &[u64; LENGTH] {
        &self.places
    }

    /// Whether every VIN that fits the other pattern fits this one too.
    pub(super) fn covers(&self, other: &Self) -> bool {
        self.places.iter().zip(other.places).all(|(own, other)| own & other == other)
    }

    fn fits(&self, vin: &Vin) -> bool {
        vin.as_str().chars().zip(self.places).all(|(character, place)| place & bit(character) != 0)
    }
}

/// All 33 characters.
pub(super) const ANY: u64 = (1 << 33) - 1;

/// The bit of a character in the order A to Z, 0 to 9 without I, O and Q; 0 for any other.
fn bit(character: char) -> u64 {
    ALPHABET.find(character).map_or(0, |at| 1 << at)
}

/// Place of a letter or digit in the order A to Z, 0 to 9 (I, O and Q counted), so that ranges may end on any.
fn order(character: char) -> Option<u32> {
    match character {
        'A'..='Z' => Some(u32::from(character) - u32::from('A')),
        '0'..='9' => Some(u32::from(character) - u32::from('0') + 26),
        _ => None,
    }
}

fn set(rest: &mut std::str::Chars<'_>, place: usize) -> Result<u64, String> {
    let Some((inside, after)) = rest.as_str().split_once(']') else {
        return Err(format!("place {place}: the bracket is not closed"));
    };
    *rest = after.chars();
    let wrong = |what: &str| format!("place {place}: [{inside}] {what}");
    let letters: Vec<char> = inside.chars().collect();
    let mut found = 0;
    let mut at = 0;
    while let Some(&from) = letters.get(at) {
        let (to, step) = match (letters.get(at + 1), letters.get(at + 2)) {
            (Some('-'), Some(&to)) => (to, 3),
            _ => (from, 1),
        };
        let (Some(first), Some(last)) = (order(from), order(to)) else {
            return Err(wrong("may hold A-Z, 0-9 and ranges only"));
        };
        if first > last {
            return Err(wrong("has a range that runs backwards; the order is A to Z, then 0 to 9"));
        }
        let members =
            ALPHABET.chars().filter(|letter| order(*letter).is_some_and(|n| (first..=last).contains(&n)));
        found |= members.map(bit).sum::<u64>();
        at += step;
    }
    if found == 0 { Err(wrong("holds no character of a VIN")) } else { Ok(found) }
}

/// A character of the set: a digit in the serial number if there is one, else the first.
fn example(place: u64, at: usize) -> Option<char> {
    let mut members = ALPHABET.chars().filter(|character| place & bit(*character) != 0);
    let digit = members.clone().find(char::is_ascii_digit);
    if at >= SERIAL_START { digit.or_else(|| members.next()) } else { members.next() }
}

/// The least number from `from` to `to` whose digits the places allow, after the digits already in `prefix`.
fn least_serial(places: &[u64], from: u32, to: u32, prefix: u32) -> Option<u32> {
    let Some((place, rest)) = places.split_first() else {
        return (from..=to).contains(&prefix).then_some(prefix);
    };
    let width = 10_u32.checked_pow(u32::try_from(rest.len()).ok()?)?;
    (0..10).find_map(|digit| {
        let head = prefix * 10 + digit;
        let (low, high) = (head * width, head * width + width - 1);
        let allowed = place & char::from_digit(digit, 10).map_or(0, bit) != 0;
        if allowed && low <= to && high >= from { least_serial(rest, from, to, head) } else { None }
    })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn rule(variant: &str, pattern: &str, serial: Option<(u32, u32)>) -> VinRule {
        VinRule {
            code: format!("{variant}-1"),
            variant: variant.to_owned(),
            pattern: Pattern::parse(pattern).expect(pattern),
            serial,
            source: "test".to_owned(),
            edition: "1".to_owned(),
            entered_by: "test".to_owned(),
        }
    }

    #[test]
    fn a_pattern_has_17_places_of_legal_characters() {
        assert!(Pattern::parse("AZT**************").is_ok());
        assert!(Pattern::parse("AZT*************").unwrap_err().contains("17 places, found 16"));
        assert!(Pattern::parse("AOT**************").unwrap_err().contains("place 2"));
        assert!(Pattern::parse("A[]T*************").is_err());
        assert!(Pattern::parse("A[9-A]T**********").unwrap_err().contains("backwards"));
        assert!(Pattern::parse("A[B-T************").is_err());
        assert!(Pattern::parse("A[IOQ]***************").is_err());
        assert!(Pattern::parse("****************[AB").unwrap_err().contains("not closed"));
    }

    #[test]
    fn a_set_may_run_from_letters_into_digits() {
        let pattern = Pattern::parse("[Y-2]****************").unwrap();
        for (first, fits) in [('X', false), ('Y', true), ('Z', true), ('0', true), ('2', true), ('3', false)]
        {
            let vin = Vin::from_exact(&format!("{first}ZTWA8M47LA042317")).unwrap();
            assert_eq!(pattern.fits(&vin), fits, "{first}");
        }
    }

    #[test]
    fn an_overlap_is_shown_by_a_vin_that_fits_both() {
        let first = rule("A", "AZT**4*7**P******", Some((100_000, 348_211)));
        let second = rule("B", "AZT**4*7**P34[5-9]***", Some((348_000, 999_999)));
        let example = overlap(&first, &second).expect("the windows share 348000 to 348211");
        assert!(first.fits(&example) && second.fits(&example));
        assert_eq!(example.serial(), Some(348_000));
        assert_eq!(example.as_str().chars().nth(8), Some(check_digit(&example)));
        let apart = rule("B", "AZT**4*7**P******", Some((348_212, 999_999)));
        assert_eq!(overlap(&first, &apart), None);
    }

    #[test]
    fn a_plant_that_the_pattern_excludes_leaves_nothing() {
        let pattern = Pattern::parse("AZT*******P******").unwrap();
        assert!(pattern.clone().with_plant('A').is_none());
        assert!(pattern.with_plant('P').is_some());
    }

    proptest! {
        #[test]
        fn a_pattern_never_panics(text in "[A-Z0-9*\\[\\]-]{0,24}") {
            if let Ok(pattern) = Pattern::parse(&text) {
                prop_assert_eq!(pattern.as_str(), text);
            }
        }

        #[test]
        fn the_least_serial_is_inside_the_window_and_allowed(from in 0_u32..1_000_000, span in 0_u32..5_000) {
            let places = Pattern::parse("***********[1-3]*[05]***").unwrap().places;
            let to = (from + span).min(SERIAL_GREATEST);
            let expected = (from..=to).find(|serial| {
                let text = format!("{serial:06}");
                "123".contains(&text[0..1]) && "05".contains(&text[2..3])
            });
            prop_assert_eq!(least_serial(&places[SERIAL_START..], from, to, 0), expected);
        }
    }
}
