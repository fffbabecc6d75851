//! Tokens of stations: 256 random bits, shown once as 64 hexadecimal digits and kept only as their SHA-256.
//! Made by [`crate::Desk`], compared by the access layer.

use crate::clock::{Entropy, hex, unhex};
use crate::error::ServerError;
use sha2::{Digest, Sha256};
use standpipe_store::TokenDigest;
use std::fmt;

/// A station's token. Its text is what the station keeps; nobody can read it from the server again.
#[derive(Clone, PartialEq, Eq)]
pub struct Token([u8; 32]);

impl Token {
    /// A new one.
    pub(crate) fn draw(entropy: &dyn Entropy) -> Result<Self, ServerError> {
        let mut bytes = [0; 32];
        entropy.fill(&mut bytes)?;
        Ok(Self(bytes))
    }

    /// The one that follows on another, of which only the digest is known, for whoever knows the secret.
    pub(crate) fn after(digest: TokenDigest, secret: &[u8; 32]) -> Self {
        Self(Sha256::new().chain_update(secret).chain_update(digest).finalize().into())
    }

    /// Reads the text form; nothing if it is not exactly 64 lower- or upper-case hexadecimal digits.
    #[must_use]
    pub fn read(text: &str) -> Option<Self> {
        unhex(text).map(Self)
    }

    /// What the server keeps of it.
    #[must_use]
    pub fn digest(&self) -> TokenDigest {
        Sha256::digest(self.0).into()
    }
}

impl fmt::Display for Token {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&hex(&self.0))
    }
}

impl fmt::Debug for Token {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Token(not shown)")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::clock::SystemEntropy;

    #[test]
    fn a_token_is_read_back_from_its_text_and_never_shown_by_accident() {
        let token = Token::draw(&SystemEntropy).unwrap();
        assert_eq!(Token::read(&token.to_string()), Some(token.clone()));
        assert!(!format!("{token:?}").contains(&token.to_string()));
        assert_ne!(token.digest(), Token::draw(&SystemEntropy).unwrap().digest());
        assert_eq!(Token::read("short"), None);
    }

    #[test]
    fn the_digest_is_sha_256() {
        // FIPS 180-4; value for 32 zero bytes computed with coreutils: head -c 32 /dev/zero | sha256sum.
        let digest = Token([0; 32]).digest();
        assert_eq!(hex(&digest), "66687aadf862bd776c8fc18b8e9f8e20089714856ee233b3902a591d0d5f2925");
    }
}
