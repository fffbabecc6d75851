//! Tokens and codes to join, in plain maps.

use super::MemoryStore;
use super::beside::Kept;
use crate::beside::{Station, TokenDigest};
use crate::error::StoreError;
use crate::tokens::{CodeUse, KeptCode, KeptToken, ShownCode, Tokens};
use async_trait::async_trait;
use std::collections::HashSet;

impl Kept {
    fn needs_station(&self, id: &str) -> Result<(), StoreError> {
        match self.stations.contains_key(id) {
            true => Ok(()),
            false => Err(StoreError::StationUnknown { id: id.into() }),
        }
    }

    /// Keeps a token; of those that would replace the same one only this stays.
    fn put(&mut self, token: KeptToken) {
        // A renewal takes the place of a renewal only, and a token that came with a code that of another such.
        let by_code = self.came_with_a_code();
        let rival = |other: &KeptToken| {
            token.replaces.is_some()
                && other.replaces == token.replaces
                && by_code.contains(&other.digest) == by_code.contains(&token.digest)
        };
        self.tokens.retain(|digest, other| *digest == token.digest || !rival(other));
        self.tokens.entry(token.digest).or_insert(token);
    }

    fn came_with_a_code(&self) -> HashSet<TokenDigest> {
        self.codes.iter().filter_map(|code| code.used_for).collect()
    }

    fn may_use(&self, code: &KeptCode, shown: &ShownCode) -> bool {
        code.tag == shown.tag
            && code.used_for.is_none()
            && code.ends_us > shown.now_us
            && code.tries < shown.tries_max
            && self.stations.get(&code.station_id).is_some_and(|station| station.revoked_us.is_none())
            && !self.tokens.contains_key(&shown.token)
    }
}

#[async_trait]
impl Tokens for MemoryStore {
    async fn put_token(&self, token: KeptToken) -> Result<(), StoreError> {
        let kept = &mut self.state().kept;
        kept.needs_station(&token.station_id)?;
        let is_there = |of: TokenDigest| {
            kept.tokens.get(&of).is_some_and(|replaced| replaced.station_id == token.station_id)
        };
        if token.replaces.is_none_or(is_there) {
            kept.put(token);
        }
        Ok(())
    }

    async fn token(&self, digest: TokenDigest) -> Result<Option<(KeptToken, Station)>, StoreError> {
        let kept = &self.state().kept;
        let Some(token) = kept.tokens.get(&digest) else { return Ok(None) };
        let station = kept.stations.get(&token.station_id).filter(|station| station.revoked_us.is_none());
        Ok(station.map(|station| (token.clone(), station.clone())))
    }

    async fn tokens(&self) -> Result<Vec<KeptToken>, StoreError> {
        let mut tokens: Vec<_> = self.state().kept.tokens.values().cloned().collect();
        tokens.sort_by(|a, b| {
            (&a.station_id, a.created_us, a.digest).cmp(&(&b.station_id, b.created_us, b.digest))
        });
        Ok(tokens)
    }

    async fn take_up_token(&self, digest: TokenDigest) -> Result<(), StoreError> {
        let kept = &mut self.state().kept;
        let by_code = kept.came_with_a_code().contains(&digest);
        let Some(token) = kept.tokens.get_mut(&digest) else { return Ok(()) };
        let (station_id, Some(replaced)) = (token.station_id.clone(), token.replaces.take()) else {
            return Ok(());
        };
        kept.tokens.remove(&replaced);
        if by_code {
            kept.tokens.retain(|other, token| *other == digest || token.station_id != station_id);
        }
        for token in kept.tokens.values_mut().filter(|token| token.replaces == Some(replaced)) {
            token.replaces = Some(digest);
        }
        Ok(())
    }

    async fn revoke_tokens(&self, station_id: &str) -> Result<u64, StoreError> {
        let tokens = &mut self.state().kept.tokens;
        let before = tokens.len();
        tokens.retain(|_, token| token.station_id != station_id);
        Ok((before - tokens.len()) as u64)
    }

    async fn put_code(&self, code: KeptCode) -> Result<(), StoreError> {
        let kept = &mut self.state().kept;
        kept.needs_station(&code.station_id)?;
        let tokens = &kept.tokens;
        let waits = |of: &KeptCode| {
            of.used_for.and_then(|token| tokens.get(&token)).is_some_and(|token| token.replaces.is_some())
        };
        kept.codes.retain(|old| {
            old.station_id != code.station_id && (old.ends_us >= code.created_us || waits(old))
        });
        kept.codes.push(code);
        Ok(())
    }

    async fn codes(&self) -> Result<Vec<KeptCode>, StoreError> {
        let mut codes = self.state().kept.codes.clone();
        codes.sort_by(|a, b| a.station_id.cmp(&b.station_id));
        Ok(codes)
    }

    async fn remove_codes(&self, station_id: &str) -> Result<(), StoreError> {
        self.state().kept.codes.retain(|code| code.station_id != station_id);
        Ok(())
    }

    async fn remove_open_codes(&self) -> Result<(), StoreError> {
        self.state().kept.codes.retain(|code| code.used_for.is_some());
        Ok(())
    }

    async fn use_code(&self, shown: ShownCode) -> Result<CodeUse, StoreError> {
        let kept = &mut self.state().kept;
        let own = kept.codes.iter().position(|code| code.digest == shown.digest);
        let usable = own.and_then(|at| kept.codes.get(at)).is_some_and(|code| kept.may_use(code, &shown));
        match own.and_then(|at| kept.codes.get_mut(at)) {
            Some(code) if usable => {
                code.used_for = Some(shown.token);
                let station_id = code.station_id.clone();
                let standing =
                    |token: &&KeptToken| token.station_id == station_id && token.replaces.is_none();
                let replaces = kept.tokens.values().find(standing).map(|token| token.digest);
                let token = KeptToken {
                    digest: shown.token,
                    station_id,
                    created_us: shown.now_us,
                    ends_us: shown.token_ends_us,
                    replaces,
                };
                kept.put(token);
                return Ok(CodeUse::Now);
            }
            Some(code)
                if code.used_for == Some(shown.token)
                    && code.ends_us > shown.now_us
                    && kept.tokens.contains_key(&shown.token) =>
            {
                return Ok(CodeUse::Before);
            }
            _ => {}
        }
        for code in kept.codes.iter_mut().filter(|code| code.tag == shown.tag && code.used_for.is_none()) {
            code.tries += 1;
        }
        Ok(CodeUse::NotGood)
    }
}
