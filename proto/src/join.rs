//! The code by which a machine becomes a station of a shop server, as it is printed and typed.
//!
//! 130 bits in groups of four characters: a secret of 50 random bits, by which the server knows whom it let in, the first
//! 80 bits of the SHA-256 of the server's authority (its certificate in DER form), by which the machine knows the server,
//! and ten bits of SHA-256 over both, by which a typing mistake is told from an attack before anything is sent.
//! Characters are the 32 of Crockford's base 32; `O` is read as `0`, `I` and `L` as `1`, small letters as capitals, and
//! hyphens and spaces are passed over. Never here: how long a code is good, which is the server's.

use data_encoding::{Encoding, Specification};
use sha2::{Digest as _, Sha256};
use std::fmt;
use std::sync::LazyLock;

/// Name in the server's certificate that a station asks for, wherever the server listens: addresses of a workshop change,
/// the authority does not. `internal` is kept for private use (ICANN, resolution 2024.07.29.06; from memory).
pub const SERVER_NAME: &str = "standpipe.internal";
/// Metadata of an answer that says that the station should renew its token now: a third of the token's life is over by
/// the server's clock. A station's own clock may be wrong by years and decides nothing.
pub const RENEWAL_DUE: &str = "standpipe-token-renewal-due";
/// Port that a shop server listens on when nothing else is said.
pub const DEFAULT_PORT: u16 = 50551;
/// Characters of the secret.
pub const SECRET_LENGTH: usize = 10;
/// Bytes of the authority's digest.
pub const AUTHORITY_BYTES: usize = 10;

const AUTHORITY_LENGTH: usize = 16;
const CHECK_LENGTH: usize = 2;
const LENGTH: usize = SECRET_LENGTH + AUTHORITY_LENGTH + CHECK_LENGTH;
const GROUP: usize = 4;
const SECRET_BITS: u32 = 50;

static LETTERS: LazyLock<Encoding> = LazyLock::new(|| {
    let mut letters = Specification::new();
    letters.symbols.push_str("0123456789ABCDEFGHJKMNPQRSTVWXYZ");
    // The specification above is constant; that it is sound is what every test of this file shows.
    letters.encoding().unwrap_or(data_encoding::BASE32)
});

/// A code to join.
#[derive(Clone, PartialEq, Eq)]
pub struct JoinCode {
    secret: String,
    authority: [u8; AUTHORITY_BYTES],
}

/// Why a text is no code.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum JoinCodeError {
    /// Another length, or a character that no code has.
    #[error(
        "the code has {LENGTH} letters and digits in groups of four; copy it as the shop server printed it"
    )]
    NotACode,
    /// It does not agree with itself.
    #[error("the code was copied with a mistake; copy it again as the shop server printed it")]
    Mistyped,
}

impl JoinCode {
    /// A code of 50 random bits, those above them are passed over, and of the authority's digest.
    #[must_use]
    pub fn new(random: u64, authority: [u8; AUTHORITY_BYTES]) -> Self {
        let bits = (random & ((1 << SECRET_BITS) - 1)) << (64 - SECRET_BITS);
        let letters = LETTERS.encode(&bits.to_be_bytes());
        Self { secret: letters.chars().take(SECRET_LENGTH).collect(), authority }
    }

    /// Reads what was typed.
    ///
    /// # Errors
    /// When it is no code, or copied with a mistake.
    pub fn read(typed: &str) -> Result<Self, JoinCodeError> {
        let plain = plain(typed).filter(|plain| plain.len() == LENGTH).ok_or(JoinCodeError::NotACode)?;
        let (secret, rest) = plain.split_at(SECRET_LENGTH);
        let (authority, _) = rest.split_at(AUTHORITY_LENGTH);
        let bytes = LETTERS.decode(authority.as_bytes()).map_err(|_| JoinCodeError::NotACode)?;
        let authority = bytes.try_into().map_err(|_| JoinCodeError::NotACode)?;
        let code = Self { secret: secret.to_owned(), authority };
        if code.plain() == plain { Ok(code) } else { Err(JoinCodeError::Mistyped) }
    }

    /// What the server is told: ten characters.
    #[must_use]
    pub fn secret(&self) -> &str {
        &self.secret
    }

    /// First 80 bits of the SHA-256 of the authority's certificate.
    #[must_use]
    pub fn authority(&self) -> [u8; AUTHORITY_BYTES] {
        self.authority
    }

    fn plain(&self) -> String {
        let mut plain = format!("{}{}", self.secret, LETTERS.encode(&self.authority));
        let check = LETTERS.encode(&Sha256::digest(plain.as_bytes()));
        plain.extend(check.chars().take(CHECK_LENGTH));
        plain
    }
}

/// First 80 bits of the SHA-256 of a certificate in DER form.
#[must_use]
pub fn authority_digest(certificate: &[u8]) -> [u8; AUTHORITY_BYTES] {
    let digest = Sha256::digest(certificate);
    std::array::from_fn(|index| digest.get(index).copied().unwrap_or_default())
}

/// The characters as a server or station keeps them: capitals without hyphens; nothing if one of them is in no code.
fn plain(typed: &str) -> Option<String> {
    let plain = |letter: char| match letter.to_ascii_uppercase() {
        'O' => '0',
        'I' | 'L' => '1',
        other => other,
    };
    let typed = typed.chars().filter(|letter| !letter.is_whitespace() && *letter != '-').map(plain);
    let typed: String = typed.collect();
    typed.chars().all(|letter| letter.is_ascii_alphanumeric() && letter != 'U').then_some(typed)
}

impl fmt::Display for JoinCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (place, letter) in self.plain().chars().enumerate() {
            if place > 0 && place % GROUP == 0 {
                f.write_str("-")?;
            }
            write!(f, "{letter}")?;
        }
        Ok(())
    }
}

impl fmt::Debug for JoinCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("JoinCode(not shown)")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn code() -> JoinCode {
        JoinCode::new(0x0003_1415_9265_3589, authority_digest(b"a certificate"))
    }

    #[test]
    fn a_code_is_read_back_however_it_is_typed() {
        let printed = code().to_string();
        assert_eq!(printed.len(), LENGTH + LENGTH / GROUP - 1, "{printed}");
        let typed = [
            printed.clone(),
            printed.to_lowercase(),
            printed.replace('-', ""),
            printed.replace('-', " "),
            printed.replace('0', "o").replace('1', "l"),
        ];
        for typed in typed {
            assert_eq!(JoinCode::read(&typed), Ok(code()), "{typed}");
        }
        assert_eq!(code().secret().len(), SECRET_LENGTH);
    }

    #[test]
    fn every_bit_of_the_secret_counts_and_none_above_them() {
        let secrets: std::collections::BTreeSet<_> =
            (0..SECRET_BITS).map(|bit| JoinCode::new(1 << bit, [0; 10]).secret).collect();
        assert_eq!(secrets.len(), SECRET_BITS as usize);
        assert_eq!(JoinCode::new(1 << SECRET_BITS, [0; 10]), JoinCode::new(0, [0; 10]));
    }

    #[test]
    fn one_wrong_character_is_told_as_a_mistake_and_nearly_always_two_exchanged_ones() {
        let printed = code().plain();
        let letters = "0123456789ABCDEFGHJKMNPQRSTVWXYZ";
        let (mut tried, mut missed) = (0, 0);
        for place in 0..printed.len() {
            for other in letters.chars().filter(|other| printed.chars().nth(place) != Some(*other)) {
                let wrong: String = printed
                    .chars()
                    .enumerate()
                    .map(|(at, own)| if at == place { other } else { own })
                    .collect();
                tried += 1;
                missed += usize::from(JoinCode::read(&wrong) != Err(JoinCodeError::Mistyped));
            }
        }
        // Ten bits of check: one in 1 024 passes, which the authority or the server then refuses.
        assert!(tried > 800 && missed <= 4, "{missed} of {tried}");
    }

    #[test]
    fn other_texts_are_no_codes() {
        for typed in ["", "ABCD", "U000-0000-0000-0000-0000-0000-0000", "ÄÖÜ", &"A".repeat(LENGTH + 1)] {
            assert_eq!(JoinCode::read(typed), Err(JoinCodeError::NotACode), "{typed}");
        }
    }

    #[test]
    fn the_digest_is_the_beginning_of_sha_256() {
        // FIPS 180-4, example of the text 'abc' (value from memory: ba7816bf 8f01cfea 4141…).
        assert_eq!(authority_digest(b"abc"), [0xba, 0x78, 0x16, 0xbf, 0x8f, 0x01, 0xcf, 0xea, 0x41, 0x41]);
    }
}
