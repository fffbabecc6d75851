//! The input rule for vehicle identification numbers (ISO 3779): spaces and hyphens are taken out, letters made
//! capital. The letters I, O and Q are never turned into digits by themselves; the digit is only proposed.
//! Whether the number is right, by check digit or catalogue, is the engine's.

/// Why a typed vehicle identification number, or the end of one, was not taken.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum VinError {
    /// A letter that no vehicle identification number has.
    #[error(
        "'{shown}' has the letter {letter} at place {place}; a VIN has no I, O or Q (ISO 3779). Read it again; \
         if it is a {digit} there, write {proposal}"
    )]
    LetterNeverUsed {
        /// The text, without spaces and hyphens.
        shown: String,
        /// The letter.
        letter: char,
        /// Its place, from 1.
        place: usize,
        /// The digit that it is most often mistaken for.
        digit: char,
        /// The text with all such letters replaced.
        proposal: String,
    },
    /// A character that is none of the 33.
    #[error(
        "'{shown}' has {named} at place {place}; a VIN has capital letters without I, O, Q, and digits (ISO 3779)"
    )]
    CharacterNeverUsed {
        /// The text, without spaces and hyphens.
        shown: String,
        /// The character in words.
        named: String,
        /// Its place, from 1.
        place: usize,
    },
    /// Too many or too few characters.
    #[error("'{shown}' has {found} characters; {wanted} are needed (ISO 3779)")]
    Length {
        /// The text, without spaces and hyphens.
        shown: String,
        /// Its characters.
        found: usize,
        /// The characters needed.
        wanted: usize,
    },
}

/// Reads a typed vehicle identification number of `wanted` characters: 17, or 8 for its end.
///
/// # Errors
/// When it has another length, or a character that no such number has.
pub fn read(as_typed: &str, wanted: usize) -> Result<String, VinError> {
    let kept = as_typed.trim().chars().filter(|c| !c.is_whitespace() && !is_hyphen(*c));
    let text: String = kept.map(|c| c.to_ascii_uppercase()).collect();
    let shown = || text.chars().take(40).filter(|c| !c.is_control()).collect::<String>();
    let proposed = |c| match c {
        'I' => '1',
        'O' | 'Q' => '0',
        other => other,
    };
    for (index, letter) in text.chars().enumerate() {
        let place = index + 1;
        if matches!(letter, 'I' | 'O' | 'Q') {
            let proposal = text.chars().take(40).map(proposed).collect();
            return Err(VinError::LetterNeverUsed {
                shown: shown(),
                letter,
                place,
                digit: proposed(letter),
                proposal,
            });
        }
        if !matches!(letter, 'A'..='Z' | '0'..='9') {
            let named = if letter.is_ascii_graphic() {
                format!("the character '{letter}'")
            } else {
                format!("the character U+{:04X}", u32::from(letter))
            };
            return Err(VinError::CharacterNeverUsed { shown: shown(), named, place });
        }
    }
    let found = text.chars().count();
    if found != wanted {
        return Err(VinError::Length { shown: shown(), found, wanted });
    }
    Ok(text)
}

fn is_hyphen(character: char) -> bool {
    matches!(character, '-' | '\u{2010}'..='\u{2015}' | '\u{2212}')
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    // The published worked example of 49 CFR 565.15(c).
    const VIN: &str = "1M8GDM9AXKP042788";

    #[test]
    fn spaces_hyphens_and_small_letters_make_no_difference() {
        for typed in [VIN, " 1m8 gdm9a xkp04 2788 ", "1M8-GDM9AX-KP042788", "1M8\u{2010}GDM9AX\u{a0}KP042788"]
        {
            assert_eq!(read(typed, 17).unwrap(), VIN, "{typed}");
        }
        assert_eq!(read("kp04 2788", 8).unwrap(), "KP042788");
    }

    #[test]
    fn a_letter_o_is_refused_and_the_zero_only_proposed() {
        let sentence = read("1M8GDM9AXKPO42788", 17).unwrap_err().to_string();
        assert_eq!(
            sentence,
            "'1M8GDM9AXKPO42788' has the letter O at place 12; a VIN has no I, O or Q (ISO 3779). Read it again; \
             if it is a 0 there, write 1M8GDM9AXKP042788"
        );
        assert!(read("iM8GDM9AXKP042788", 17).unwrap_err().to_string().contains("if it is a 1 there"));
    }

    #[test]
    fn letters_of_other_scripts_and_wrong_lengths_are_named() {
        // The Cyrillic capital letter that looks like M.
        let sentence = read("1\u{41c}8GDM9AXKP042788", 17).unwrap_err().to_string();
        assert!(sentence.contains("U+041C at place 2"), "{sentence}");
        assert!(
            read("1M8GDM9AXKP04278", 17)
                .unwrap_err()
                .to_string()
                .contains("has 16 characters; 17 are needed")
        );
        assert!(read(VIN, 8).unwrap_err().to_string().contains("8 are needed"));
        assert!(read("", 17).is_err());
    }

    proptest! {
        #[test]
        fn what_is_taken_is_inside_the_bound(text in "\\PC{0,40}") {
            if let Ok(vin) = read(&text, 17) {
                prop_assert!(vin.bytes().all(|b| b.is_ascii_uppercase() || b.is_ascii_digit()));
                prop_assert!(!vin.contains(['I', 'O', 'Q']) && vin.len() == 17);
            }
        }
    }
}
