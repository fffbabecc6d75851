//! What a person typed as a VIN, and what is to be said about it.
//!
//! Nothing is corrected silently: the text as typed stays, and a better reading is only offered. Used through
//! the parent module.

use super::{Area, LENGTH, Vin, check_digit, is_legal};
use crate::text::{Sentence, sentence};

/// Longer input is refused by its length alone, without a word about each character.
const INSPECTED_MAX: usize = 40;

/// What became of a typed VIN.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// Nothing speaks against it.
    Accepted,
    /// Usable; the warnings go with the job.
    AcceptedWithWarning,
    /// The check digit is required and wrong: see [`read_alike_twice`].
    RefusedUntilReadTwice,
    /// It is not a VIN.
    Refused,
}

/// Why a text is refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Problem {
    /// Not 17 characters.
    Length {
        /// Characters found.
        found: usize,
    },
    /// I, O or Q.
    LetterNeverUsed {
        /// The letter.
        letter: char,
        /// Its position, counted from 1.
        position: usize,
    },
    /// Outside A-Z and 0-9, perhaps of another script.
    ForeignCharacter {
        /// The letter of the alphabet that it looks like.
        looks_like: Option<char>,
    },
    /// Wrong where the check digit is required.
    CheckDigit {
        /// By the sum.
        expected: char,
        /// In position 9.
        found: char,
    },
}

/// What to know about an accepted VIN.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Warning {
    /// Small letters were typed.
    Capitalised,
    /// Spaces were typed.
    SpacesRemoved,
    /// Hyphens were typed.
    HyphensRemoved,
    /// The digit differs, but the area does not require one.
    CheckDigitNotMandatory {
        /// By the sum.
        expected: char,
        /// In position 9.
        found: char,
    },
    /// Position 9 cannot be a check digit.
    NoCheckDigit,
    /// All 17 characters are equal; such a text can pass the sum.
    Placeholder {
        /// The character.
        character: char,
    },
}

impl Problem {
    /// The problem in words.
    #[must_use]
    pub fn sentence(self) -> Sentence {
        match self {
            Self::Length { found } => sentence::vin_length(found.to_string(), LENGTH.to_string()),
            Self::LetterNeverUsed { letter, position } => {
                sentence::vin_letter_never_used(letter, position.to_string())
            }
            Self::ForeignCharacter { looks_like: None } => sentence::vin_character_foreign(),
            Self::ForeignCharacter { looks_like: Some(letter) } => sentence::vin_character_lookalike(letter),
            Self::CheckDigit { expected, found } => sentence::vin_check_digit_wrong(expected, found),
        }
    }
}

impl Warning {
    /// The warning in words.
    #[must_use]
    pub fn sentence(self) -> Sentence {
        match self {
            Self::Capitalised => sentence::vin_capitalised(),
            Self::SpacesRemoved => sentence::vin_spaces_removed(),
            Self::HyphensRemoved => sentence::vin_hyphens_removed(),
            Self::CheckDigitNotMandatory { expected, found } => {
                sentence::vin_check_digit_not_mandatory(expected, found)
            }
            Self::NoCheckDigit => sentence::vin_check_digit_unused(),
            Self::Placeholder { character } => sentence::vin_placeholder(character),
        }
    }

    /// Whether the warning is about the VIN itself rather than about how it was typed.
    fn concerns_the_vin(self) -> bool {
        matches!(self, Self::CheckDigitNotMandatory { .. } | Self::NoCheckDigit | Self::Placeholder { .. })
    }
}

/// A typed VIN with everything that is to be said about it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reading {
    /// The text as typed.
    pub as_typed: String,
    /// The VIN, if there are 17 legal characters; also when the check digit is wrong.
    pub vin: Option<Vin>,
    /// What became of it.
    pub verdict: Verdict,
    /// Why it is refused; empty if it is not.
    pub problems: Vec<Problem>,
    /// What goes with it.
    pub warnings: Vec<Warning>,
    /// Offered in place of a text with O, Q (for 0) or I (for 1); never taken unasked.
    pub suggestion: Option<Vin>,
}

/// Reads a VIN as a person typed it: spaces and hyphens are removed and letters capitalised, both with a note.
///
/// A wrong check digit refuses the text only where the digit is required, that is for first characters 1 to 5;
/// elsewhere it is a warning, since position 9 is free there.
///
/// # Source
/// Structure ISO 3779, areas ISO 3780, requirement of the digit 49 CFR 565; what follows from a wrong digit is
/// our own rule.
#[must_use]
pub fn read(as_typed: &str) -> Reading {
    let mut warnings = Vec::new();
    let text = normalise(as_typed, &mut warnings);
    let problems = structure_problems(&text);
    let vin = Vin::from_exact(&text);
    let mut reading = Reading {
        as_typed: as_typed.to_owned(),
        vin,
        verdict: Verdict::Refused,
        problems,
        warnings,
        suggestion: None,
    };
    match &reading.vin {
        None => reading.suggestion = suggestion(&text),
        Some(vin) => {
            let expected = check_digit(vin);
            let found = vin.check_position();
            let required = vin.area() == Some(Area::NorthAmerica);
            if found != expected && required {
                reading.problems.push(Problem::CheckDigit { expected, found });
                reading.verdict = Verdict::RefusedUntilReadTwice;
                return reading;
            }
            if !(found.is_ascii_digit() || found == 'X') {
                reading.warnings.push(Warning::NoCheckDigit);
            } else if found != expected {
                reading.warnings.push(Warning::CheckDigitNotMandatory { expected, found });
            }
            if vin.as_str().chars().all(|character| character == found) {
                reading.warnings.push(Warning::Placeholder { character: found });
            }
            reading.verdict = if reading.warnings.iter().any(|warning| warning.concerns_the_vin()) {
                Verdict::AcceptedWithWarning
            } else {
                Verdict::Accepted
            };
        }
    }
    reading
}

/// One reading of all 17 characters and how it was made.
#[derive(Clone, Copy, Debug)]
pub struct FullReading<'a> {
    /// The VIN that was read.
    pub vin: &'a Vin,
    /// Read by a scanner rather than typed by a person.
    pub scanned: bool,
}

/// Whether a VIN with a wrong check digit may be used after all: read alike twice, by hand twice or by hand and
/// by scan. Two scans do not count, as the same label is misread in the same way; nor does a reading of the
/// last 8, which does not hold position 9.
#[must_use]
pub fn read_alike_twice(vin: &Vin, readings: &[FullReading<'_>]) -> bool {
    let alike = readings.iter().filter(|reading| reading.vin == vin);
    alike.clone().count() >= 2 && alike.clone().any(|reading| !reading.scanned)
}

/// How the last 8 characters from the vehicle compare with the VIN from the papers.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum LastEight {
    /// The same 8 characters.
    Agrees {
        /// The characters.
        last: String,
    },
    /// Other characters.
    Differs {
        /// From the VIN that is known.
        known: String,
        /// From the vehicle.
        read: String,
    },
    /// Not 8 characters of the VIN alphabet.
    Unusable {
        /// The text as typed.
        as_typed: String,
    },
}

impl LastEight {
    /// The comparison in words.
    #[must_use]
    pub fn sentence(&self) -> Sentence {
        match self {
            Self::Agrees { last } => sentence::vin_last_8_agrees(last),
            Self::Differs { known, read } => sentence::vin_last_8_differs(known, read),
            Self::Unusable { as_typed } => sentence::vin_last_8_unusable(as_typed),
        }
    }
}

/// Compares the last 8 characters read on the vehicle with a known VIN, by the same rule of input as [`read`].
#[must_use]
pub fn compare_last_8(known: &Vin, as_typed: &str) -> LastEight {
    let read = normalise(as_typed, &mut Vec::new());
    if read.chars().count() != 8 || !read.chars().all(is_legal) {
        return LastEight::Unusable { as_typed: as_typed.to_owned() };
    }
    if read == known.last_8() {
        LastEight::Agrees { last: read }
    } else {
        LastEight::Differs { known: known.last_8().to_owned(), read }
    }
}

fn is_hyphen(character: char) -> bool {
    matches!(character, '-' | '\u{2010}'..='\u{2015}' | '\u{2212}')
}

fn normalise(as_typed: &str, warnings: &mut Vec<Warning>) -> String {
    let trimmed = as_typed.trim();
    let kept = trimmed.chars().filter(|character| !character.is_whitespace() && !is_hyphen(*character));
    let text: String = kept.map(|character| character.to_ascii_uppercase()).collect();
    if trimmed.bytes().any(|letter| letter.is_ascii_lowercase()) {
        warnings.push(Warning::Capitalised);
    }
    if trimmed.contains(char::is_whitespace) {
        warnings.push(Warning::SpacesRemoved);
    }
    if trimmed.contains(is_hyphen) {
        warnings.push(Warning::HyphensRemoved);
    }
    text
}

fn structure_problems(text: &str) -> Vec<Problem> {
    let mut problems = Vec::new();
    let found = text.chars().count();
    if found != LENGTH {
        problems.push(Problem::Length { found });
    }
    if found > INSPECTED_MAX {
        return problems;
    }
    for (index, letter) in text.chars().enumerate() {
        if matches!(letter, 'I' | 'O' | 'Q') {
            problems.push(Problem::LetterNeverUsed { letter, position: index + 1 });
        } else if !is_legal(letter) {
            problems.push(Problem::ForeignCharacter { looks_like: look_alike(letter) });
        }
    }
    problems
}

fn suggestion(text: &str) -> Option<Vin> {
    let better: String = text
        .chars()
        .map(|letter| match letter {
            'O' | 'Q' => '0',
            'I' => '1',
            other => other,
        })
        .collect();
    Vin::from_exact(&better)
}

/// The letter of the VIN alphabet that a letter of the Cyrillic, Greek or full-width block looks like.
fn look_alike(letter: char) -> Option<char> {
    let capital = letter.to_uppercase().next().unwrap_or(letter);
    let twin = match capital {
        'А' | 'Α' => 'A',
        'В' | 'Β' => 'B',
        'С' | 'Ϲ' => 'C',
        'Е' | 'Ε' => 'E',
        'Н' | 'Η' => 'H',
        'Ј' => 'J',
        'К' | 'Κ' => 'K',
        'М' | 'Μ' => 'M',
        'Ν' => 'N',
        'Р' | 'Ρ' => 'P',
        'Ѕ' => 'S',
        'Т' | 'Τ' => 'T',
        'У' | 'Υ' => 'Y',
        'Х' | 'Χ' => 'X',
        'Ζ' => 'Z',
        '\u{FF10}'..='\u{FF19}' | '\u{FF21}'..='\u{FF3A}' => char::from_u32(u32::from(capital) - 0xFEE0)?,
        _ => return None,
    };
    is_legal(twin).then_some(twin)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn vin(text: &str) -> Vin {
        Vin::from_exact(text).expect(text)
    }

    #[test]
    fn all_zeros_pass_the_sum_and_are_called_a_placeholder() {
        let reading = read("00000000000000000");
        assert_eq!(reading.verdict, Verdict::AcceptedWithWarning);
        assert_eq!(reading.warnings, [Warning::Placeholder { character: '0' }]);
    }

    #[test]
    fn a_wrong_required_digit_needs_two_equal_readings_one_of_them_by_hand() {
        let odd = vin("1M8GDM9A1KP042788");
        let other = vin("1M8GDM9A2KP042788");
        let by_hand = FullReading { vin: &odd, scanned: false };
        let by_scan = FullReading { vin: &odd, scanned: true };
        let unlike = FullReading { vin: &other, scanned: false };
        assert!(!read_alike_twice(&odd, &[by_hand]));
        assert!(!read_alike_twice(&odd, &[by_hand, unlike]));
        assert!(!read_alike_twice(&odd, &[by_scan, by_scan]));
        assert!(read_alike_twice(&odd, &[by_scan, by_hand]));
        assert!(read_alike_twice(&odd, &[by_hand, unlike, by_hand]));
    }

    #[test]
    fn the_last_8_are_compared_by_the_same_rule_of_input() {
        let known = vin("AZTWA8M47LA042317");
        assert_eq!(known.last_8(), "LA042317");
        assert!(matches!(compare_last_8(&known, " la-042 317 "), LastEight::Agrees { .. }));
        assert!(matches!(compare_last_8(&known, "LA042318"), LastEight::Differs { .. }));
        assert!(matches!(compare_last_8(&known, "A042317"), LastEight::Unusable { .. }));
        assert!(matches!(compare_last_8(&known, "LAO42317"), LastEight::Unusable { .. }));
    }

    #[test]
    fn a_giant_text_is_refused_by_its_length_alone() {
        let reading = read(&"й".repeat(100_000));
        assert_eq!(reading.problems, [Problem::Length { found: 100_000 }]);
    }

    proptest! {
        #[test]
        fn reading_never_panics_and_refuses_or_keeps_17_legal_characters(text in "\\PC{0,40}") {
            let reading = read(&text);
            prop_assert_eq!(reading.verdict == Verdict::Refused, reading.vin.is_none());
            prop_assert_eq!(reading.problems.is_empty(), matches!(
                reading.verdict, Verdict::Accepted | Verdict::AcceptedWithWarning
            ));
        }

        #[test]
        fn the_computed_digit_is_always_accepted(text in "[A-HJ-NPR-Z0-9]{17}") {
            let open = vin(&text);
            let mut right = text;
            right.replace_range(8..9, &check_digit(&open).to_string());
            let reading = read(&right);
            let refused = matches!(reading.verdict, Verdict::Refused | Verdict::RefusedUntilReadTwice);
            prop_assert!(!refused);
        }
    }
}
