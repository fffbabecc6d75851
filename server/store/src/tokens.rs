//! Tokens of stations and codes to join, as they are kept beside the journal: by their SHA-256 only.
//! The server calls it through `dyn Beside`; what is drawn, printed and typed is the server's.

use crate::beside::{Station, TokenDigest};
use crate::error::StoreError;
use async_trait::async_trait;

/// A station's token.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeptToken {
    /// Its SHA-256.
    pub digest: TokenDigest,
    /// Its station.
    pub station_id: String,
    /// Unix microseconds.
    pub created_us: i64,
    /// Unix microseconds from which it is no longer good; `None` if it does not end. Not looked at here.
    pub ends_us: Option<i64>,
    /// The token that goes when this one is used first.
    pub replaces: Option<TokenDigest>,
}

/// A code to join.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeptCode {
    /// Its SHA-256.
    pub digest: [u8; 32],
    /// Its beginning, by which a wrong guess is counted.
    pub tag: String,
    /// The station that whoever shows it becomes.
    pub station_id: String,
    /// Unix microseconds.
    pub created_us: i64,
    /// Unix microseconds from which it is no longer good.
    pub ends_us: i64,
    /// Wrong guesses that had its tag.
    pub tries: u32,
    /// The token that it was used for.
    pub used_for: Option<TokenDigest>,
}

/// A code that somebody shows, with the token that shall be good from now on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ShownCode {
    /// SHA-256 of the code.
    pub digest: [u8; 32],
    /// Its beginning.
    pub tag: String,
    /// SHA-256 of the new token.
    pub token: TokenDigest,
    /// Unix microseconds.
    pub now_us: i64,
    /// End of the new token; see [`KeptToken::ends_us`].
    pub token_ends_us: Option<i64>,
    /// Wrong guesses that a code stands; after so many it is not good.
    pub tries_max: u32,
}

/// What became of a code that was shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CodeUse {
    /// It was used just now: the new token is kept.
    Now,
    /// It was used for the same token before, which is still kept.
    Before,
    /// It is unknown, used for another token, past its end, or tried too often. The guess was counted.
    NotGood,
}

/// Tokens and codes. Answers mean: durable.
#[async_trait]
pub trait Tokens: Send + Sync {
    /// Keeps a token of a station; the same token again changes nothing. Of those that replace the same one only the
    /// latest stays, and the one that came with a code beside it; one that would replace a token that is gone, or another station's, is not kept.
    ///
    /// # Errors
    /// [`StoreError::StationUnknown`].
    async fn put_token(&self, token: KeptToken) -> Result<(), StoreError>;

    /// A token and its station; `None` if the token is not known or the station is revoked.
    async fn token(&self, digest: TokenDigest) -> Result<Option<(KeptToken, Station)>, StoreError>;

    /// The tokens of all stations, by station and age.
    async fn tokens(&self) -> Result<Vec<KeptToken>, StoreError>;

    /// Notes that a token is in use: the one that it replaces is removed. One that came with a code removes all others
    /// of its station; any other lets the one that came with a code replace it in turn.
    async fn take_up_token(&self, digest: TokenDigest) -> Result<(), StoreError>;

    /// Removes all tokens of a station and says how many there were.
    async fn revoke_tokens(&self, station_id: &str) -> Result<u64, StoreError>;

    /// Keeps a code; earlier ones of its station are removed, and all that ended before it was made, but those whose token
    /// nobody used yet.
    ///
    /// # Errors
    /// [`StoreError::StationUnknown`].
    async fn put_code(&self, code: KeptCode) -> Result<(), StoreError>;

    /// The codes of all stations, by station.
    async fn codes(&self) -> Result<Vec<KeptCode>, StoreError>;

    /// Removes the codes of a station.
    async fn remove_codes(&self, station_id: &str) -> Result<(), StoreError>;

    /// Removes the codes of all stations that were not used.
    async fn remove_open_codes(&self) -> Result<(), StoreError>;

    /// Uses a code, or counts the guess against every unused code with its tag; nothing comes between. The new
    /// token replaces the one in use, which stays until the new one is taken up: a code that was typed at the wrong machine
    /// locks nobody out.
    async fn use_code(&self, shown: ShownCode) -> Result<CodeUse, StoreError>;
}
