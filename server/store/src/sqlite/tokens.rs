//! Tokens and codes to join, in the journal's file. Changes go through the writer; one that takes several statements is
//! one transaction.

use super::SqliteStore;
use super::read::{Bound, fixed};
use crate::beside::{Station, TokenDigest};
use crate::change::{Change, TokenChange, USED_ALREADY, USED_NOW};
use crate::error::StoreError;
use crate::row::{kept_code, kept_token, station};
use crate::tokens::{CodeUse, KeptCode, KeptToken, ShownCode, Tokens};
use async_trait::async_trait;
use sqlx::{Row, SqliteConnection};

const TOKEN: &str = "select s.id, s.name, s.role, s.created_us, s.revoked_us, \
    t.token_sha256, t.station_id, t.created_us, t.ends_us, t.replaces_sha256 \
    from token t join station s on s.id = t.station_id where t.token_sha256 = ? and s.revoked_us is null";
const TOKENS: &str = "select token_sha256, station_id, created_us, ends_us, replaces_sha256 from token \
    order by station_id, created_us, token_sha256";
/// A renewal takes the place of another renewal only, and a token that came with a code that of another such: a
/// machine that is about to be replaced must not keep the new one out.
const DROP_RIVALS: &str = "delete from token where replaces_sha256 = ?1 and token_sha256 <> ?2 and \
    exists (select 1 from join_code where used_token_sha256 = token_sha256) = \
    exists (select 1 from join_code where used_token_sha256 = ?2)";
/// The token that it replaces must still be there: one that was taken back renews nothing.
const ADD_TOKEN: &str = "insert into token (token_sha256, station_id, created_us, ends_us, replaces_sha256) \
    select ?1, id, ?2, ?3, ?4 from station where id = ?5 \
    and (?4 is null or exists (select 1 from token t where t.token_sha256 = ?4 and t.station_id = ?5)) \
    on conflict (token_sha256) do nothing";
const DROP_REPLACED: &str =
    "delete from token where token_sha256 = (select replaces_sha256 from token where token_sha256 = ?)";
/// The token in use; beside it stands at most one that replaces it once it is used.
const STANDING: &str =
    "select token_sha256 from token where station_id = ? and replaces_sha256 is null limit 1";
/// Those of a station beside one that came with a code and is used first.
const DROP_OTHERS: &str = "delete from token where token_sha256 <> ?1 and station_id = (select n.station_id from token n \
    join join_code c on c.used_token_sha256 = n.token_sha256 where n.token_sha256 = ?1 and n.replaces_sha256 is not null)";
/// What would have replaced the same one replaces the one that is in its place.
const FOLLOW: &str = "update token set replaces_sha256 = ?1 where token_sha256 <> ?1 \
    and replaces_sha256 = (select replaces_sha256 from token where token_sha256 = ?1)";
const TAKE_UP: &str = "update token set replaces_sha256 = null where token_sha256 = ?";
const REVOKE_TOKENS: &str = "delete from token where station_id = ?";
const CODES: &str = "select code_sha256, tag, station_id, created_us, ends_us, tries, used_token_sha256 \
    from join_code order by station_id";
const DROP_CODES: &str = "delete from join_code where station_id = ?";
const DROP_OPEN_CODES: &str = "delete from join_code where used_token_sha256 is null";
/// A used one stays until its token is in use, which tells that token from a renewal.
const DROP_OLD_CODES: &str = "delete from join_code where station_id = ? or (ends_us < ? and not exists \
    (select 1 from token where token_sha256 = used_token_sha256 and replaces_sha256 is not null))";
const ADD_CODE: &str = "insert into join_code (code_sha256, tag, station_id, created_us, ends_us, tries) \
    select ?, ?, id, ?, ?, ? from station where id = ?";
/// The token must be a new one, and the station must have its right.
const USE_CODE: &str = "update join_code set used_token_sha256 = ?1 \
    where code_sha256 = ?2 and tag = ?3 and used_token_sha256 is null and ends_us > ?4 and tries < ?5 \
    and exists (select 1 from station s where s.id = join_code.station_id and s.revoked_us is null) \
    and not exists (select 1 from token t where t.token_sha256 = ?1)";
const OF_CODE: &str = "select station_id from join_code where code_sha256 = ?";
const USED_BEFORE: &str = "select 1 from join_code c join token t on t.token_sha256 = c.used_token_sha256 \
    where c.code_sha256 = ? and c.used_token_sha256 = ? and c.ends_us > ?";
const COUNT_TRY: &str = "update join_code set tries = tries + 1 where tag = ? and used_token_sha256 is null";

impl TokenChange {
    /// Makes the change within a transaction; returns how many rows it changed, or what became of a code.
    pub(in crate::sqlite) async fn steps(
        self,
        connection: &mut SqliteConnection,
    ) -> Result<u64, sqlx::Error> {
        match self {
            Self::Put(token) => put(connection, token).await,
            Self::TakeUp(digest) => {
                done(connection, sqlx::query(DROP_OTHERS).bind(digest.to_vec())).await?;
                done(connection, sqlx::query(FOLLOW).bind(digest.to_vec())).await?;
                done(connection, sqlx::query(DROP_REPLACED).bind(digest.to_vec())).await?;
                done(connection, sqlx::query(TAKE_UP).bind(digest.to_vec())).await
            }
            Self::Revoke { station_id } => {
                done(connection, sqlx::query(REVOKE_TOKENS).bind(station_id)).await
            }
            Self::PutCode(code) => {
                let old = sqlx::query(DROP_OLD_CODES).bind(code.station_id.clone()).bind(code.created_us);
                done(connection, old).await?;
                let add = sqlx::query(ADD_CODE).bind(code.digest.to_vec()).bind(code.tag);
                let add = add.bind(code.created_us).bind(code.ends_us).bind(code.tries);
                done(connection, add.bind(code.station_id)).await
            }
            Self::RemoveCodes { station_id } => {
                done(connection, sqlx::query(DROP_CODES).bind(station_id)).await
            }
            Self::RemoveOpenCodes => done(connection, sqlx::query(DROP_OPEN_CODES)).await,
            Self::UseCode(shown) => use_code(connection, shown).await,
        }
    }
}

async fn use_code(connection: &mut SqliteConnection, shown: ShownCode) -> Result<u64, sqlx::Error> {
    let (token, digest) = (shown.token.to_vec(), shown.digest.to_vec());
    let using = sqlx::query(USE_CODE).bind(token.clone()).bind(digest.clone()).bind(shown.tag.clone());
    if done(connection, using.bind(shown.now_us).bind(shown.tries_max)).await? > 0 {
        let row = sqlx::query(OF_CODE).bind(digest).fetch_one(&mut *connection).await?;
        let station_id: String = row.try_get(0)?;
        let standing =
            sqlx::query(STANDING).bind(station_id.clone()).fetch_optional(&mut *connection).await?;
        let token = KeptToken {
            digest: shown.token,
            station_id,
            created_us: shown.now_us,
            ends_us: shown.token_ends_us,
            replaces: standing.map(|row| fixed(&row, 0)).transpose()?,
        };
        put(connection, token).await?;
        return Ok(USED_NOW);
    }
    let before = sqlx::query(USED_BEFORE).bind(digest).bind(token).bind(shown.now_us);
    if before.fetch_optional(&mut *connection).await?.is_some() {
        return Ok(USED_ALREADY);
    }
    done(connection, sqlx::query(COUNT_TRY).bind(shown.tag)).await?;
    Ok(0)
}

/// Keeps a token; of those that would replace the same one only this stays.
async fn put(connection: &mut SqliteConnection, token: KeptToken) -> Result<u64, sqlx::Error> {
    if let Some(replaced) = token.replaces {
        let rivals = sqlx::query(DROP_RIVALS).bind(replaced.to_vec());
        done(connection, rivals.bind(token.digest.to_vec())).await?;
    }
    let add = sqlx::query(ADD_TOKEN)
        .bind(token.digest.to_vec())
        .bind(token.created_us)
        .bind(token.ends_us)
        .bind(token.replaces.map(|replaces| replaces.to_vec()))
        .bind(token.station_id);
    done(connection, add).await
}

async fn done(connection: &mut SqliteConnection, query: Bound<'_>) -> Result<u64, sqlx::Error> {
    Ok(query.execute(connection).await?.rows_affected())
}

#[async_trait]
impl Tokens for SqliteStore {
    async fn put_token(&self, token: KeptToken) -> Result<(), StoreError> {
        let station_id = token.station_id.clone();
        if self.change(Change::Token(TokenChange::Put(token))).await? == 0 {
            self.needs_station(&station_id).await?;
        }
        Ok(())
    }

    async fn token(&self, digest: TokenDigest) -> Result<Option<(KeptToken, Station)>, StoreError> {
        let query = sqlx::query(TOKEN).bind(digest.to_vec());
        Ok(self.rows(query, |row| Ok((kept_token(row, 5)?, station(row)?))).await?.pop())
    }

    async fn tokens(&self) -> Result<Vec<KeptToken>, StoreError> {
        self.rows(sqlx::query(TOKENS), |row| kept_token(row, 0)).await
    }

    async fn take_up_token(&self, digest: TokenDigest) -> Result<(), StoreError> {
        self.change(Change::Token(TokenChange::TakeUp(digest))).await.map(drop)
    }

    async fn revoke_tokens(&self, station_id: &str) -> Result<u64, StoreError> {
        self.change(Change::Token(TokenChange::Revoke { station_id: station_id.into() })).await
    }

    async fn put_code(&self, code: KeptCode) -> Result<(), StoreError> {
        let station_id = code.station_id.clone();
        if self.change(Change::Token(TokenChange::PutCode(code))).await? == 0 {
            self.needs_station(&station_id).await?;
        }
        Ok(())
    }

    async fn codes(&self) -> Result<Vec<KeptCode>, StoreError> {
        self.rows(sqlx::query(CODES), kept_code).await
    }

    async fn remove_codes(&self, station_id: &str) -> Result<(), StoreError> {
        let change = TokenChange::RemoveCodes { station_id: station_id.into() };
        self.change(Change::Token(change)).await.map(drop)
    }

    async fn remove_open_codes(&self) -> Result<(), StoreError> {
        self.change(Change::Token(TokenChange::RemoveOpenCodes)).await.map(drop)
    }

    async fn use_code(&self, shown: ShownCode) -> Result<CodeUse, StoreError> {
        Ok(match self.change(Change::Token(TokenChange::UseCode(shown))).await? {
            USED_NOW => CodeUse::Now,
            USED_ALREADY => CodeUse::Before,
            _ => CodeUse::NotGood,
        })
    }
}
