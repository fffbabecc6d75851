//! Whose token a call shows, and what ends with a token: calls that stay open, and what is remembered of it.

use super::Workshop;
use crate::access::{Role, Who};
use crate::joining::is_due;
use crate::status::Cause;
use crate::token::Token;
use standpipe_store::TokenDigest;
use std::collections::BTreeMap;
use std::sync::Arc;
use std::time::Duration;

/// Time between two looks whether the token of an open call has come to its end.
const LOOK_AT_TOKEN_EVERY: Duration = Duration::from_millis(500);

/// Tokens that are no longer good since the server started: replaced, or their station revoked.
#[derive(Default)]
pub(super) struct TakenBack {
    /// So many, at all stations.
    count: u64,
    /// The count at the last one of each station, and the token that stayed good then.
    at_station: BTreeMap<String, (u64, Option<TokenDigest>)>,
}

impl Workshop {
    /// The station that a token belongs to; the answer to a wrong token never says what is wrong with it.
    pub(crate) async fn station_of(&self, token: Option<&Token>) -> Result<Arc<Who>, Cause> {
        let digest = token.ok_or(Cause::Unauthenticated)?.digest();
        let ticket = match self.stations.get(&digest) {
            Ok(who) => return self.still_good(&who).map(|()| who),
            Err(ticket) => ticket,
        };
        // Counted before the store is asked: a token that is taken back meanwhile ends what it began.
        let taken_back_before = self.taken_back.borrow().count;
        let (token, station) = self.beside.token(digest).await?.ok_or(Cause::Unauthenticated)?;
        let role = Role::from_name(&station.role).ok_or(Cause::Unauthenticated)?;
        let kinds = self.book.station_kinds().await?.remove(&station.id).unwrap_or_default();
        let who = Arc::new(Who {
            station_id: station.id,
            name: station.name,
            role,
            kinds,
            created_us: station.created_us,
            token: digest,
            token_created_us: token.created_us,
            token_ends_us: token.ends_us,
            taken_back_before,
        });
        self.still_good(&who)?;
        if token.replaces.is_some() {
            // The first use of a renewed token: from now on the one before is nobody's.
            self.beside.take_up_token(digest).await?;
            self.end_tokens(&who.station_id, Some(digest));
            return Ok(who);
        }
        self.stations.keep(ticket, digest, Arc::clone(&who));
        Ok(who)
    }

    /// Requires that a token has not come to its end.
    fn still_good(&self, who: &Who) -> Result<(), Cause> {
        match who.token_ends_us {
            Some(ends_us) if ends_us <= self.clock.now_us() => Err(Cause::Unauthenticated),
            _ => Ok(()),
        }
    }

    /// Whether the station should renew its token.
    pub(crate) fn should_renew(&self, who: &Who) -> bool {
        who.token_ends_us.is_some_and(|ends_us| is_due(who.token_created_us, ends_us, self.clock.now_us()))
    }

    /// Ends what was begun with any token of a station but this one, and knows none of them any more.
    pub(crate) fn end_tokens(&self, station_id: &str, but: Option<TokenDigest>) {
        self.stations.forget_all();
        self.taken_back.send_modify(|taken_back| {
            taken_back.count += 1;
            taken_back.at_station.insert(station_id.to_owned(), (taken_back.count, but));
        });
    }

    /// Waits until the token that a station called with is replaced, revoked or at its end, for calls that stay open.
    pub(crate) async fn until_token_ends(&self, who: &Who) {
        let mut taken_back = self.taken_back.subscribe();
        let ended = |taken_back: &TakenBack| {
            let last = taken_back.at_station.get(&who.station_id);
            last.is_some_and(|(count, but)| *count > who.taken_back_before && *but != Some(who.token))
        };
        tokio::select! {
            // The sender lives as long as the workshop, so waiting ends only by such an order.
            _ = taken_back.wait_for(ended) => {}
            () = self.past_end(who) => {}
        }
    }

    /// Waits until a token is at its end by the server's clock, which may be set: it is looked at again and again.
    async fn past_end(&self, who: &Who) {
        while self.still_good(who).is_ok() {
            match who.token_ends_us {
                Some(_) => tokio::time::sleep(LOOK_AT_TOKEN_EVERY).await,
                None => std::future::pending().await,
            }
        }
    }
}
