//! Joining and renewing at a running server: what becomes of a shown code and of a token of a station's own making.
//!
//! Of a code the store keeps the SHA-256 of its ten characters, and the first four of them as a tag: a wrong guess counts
//! against the code whose tag it hit, so that a code stands five guesses and no stranger can spoil all codes at once.
//! Called by [`crate::rpc::station`]; codes are printed by [`crate::Desk`].

use crate::access::{Role, Who};
use crate::audit::{Deed, Event};
use crate::forwarding::keeping;
use crate::status::{Cause, Forwarding, Overload};
use crate::token::Token;
use crate::workshop::{DAY_US, Workshop};
use sha2::{Digest as _, Sha256};
use standpipe_proto::check::Violation;
use standpipe_proto::join::JoinCode;
use standpipe_proto::limits::{JOIN_CODE_SECONDS, JOIN_CODE_TRIES_MAX};
use standpipe_store::tree::Hash;
use standpipe_store::{CodeUse, KeptCode, KeptToken, ShownCode, Station};
use std::net::IpAddr;

/// Characters of a code that find it when a guess is wrong: 20 of its 50 bits.
const TAG_LENGTH: usize = 4;
/// A token is to be renewed when this part of its life is over.
const RENEWED_AFTER: i64 = 3;

/// What the store keeps of a code.
pub(crate) fn kept_code(code: &JoinCode, station_id: &str, now_us: i64) -> KeptCode {
    let (tag, digest) = tag_and_digest(code.secret());
    KeptCode {
        digest,
        tag,
        station_id: station_id.to_owned(),
        created_us: now_us,
        ends_us: now_us.saturating_add(JOIN_CODE_SECONDS as i64 * 1_000_000),
        tries: 0,
        used_for: None,
    }
}

/// Days in microseconds.
pub(crate) fn day_us(days: u32) -> i64 {
    i64::from(days) * DAY_US
}

/// Whether a token has lived so long that its station should renew it.
pub(crate) fn is_due(created_us: i64, ends_us: i64, now_us: i64) -> bool {
    now_us.saturating_sub(created_us) >= ends_us.saturating_sub(created_us) / RENEWED_AFTER
}

/// What came of a code.
pub(crate) enum Joined {
    /// Whoever showed it is this station now.
    As(KeptToken, Station),
    /// It is good for a station that is not joined in this way, and was not used; with the site whose journal that brings.
    NotSo(Station, Option<String>),
    /// It is good for the journal of another workshop of the same identity, and was not used.
    OfAnother(Forwarding),
}

/// Makes whoever shows a good code its station. The tokens before end with the first use of the one that comes with it.
///
/// * `brings` – the site whose journal the caller will bring, empty where it does not know it, and the root over its first entry
///   as far as it tells it; nothing for a station
pub(crate) async fn join(
    workshop: &Workshop,
    address: IpAddr,
    shown: (&str, &str),
    brings: Option<(&str, Option<Hash>)>,
) -> Result<(KeptToken, Station), Cause> {
    let is_forwarder = |station: &Station| Role::from_name(&station.role) == Some(Role::Forwarder);
    let fits = |station: &Station, of: Option<&str>| match brings {
        None => !is_forwarder(station),
        Some((named, _)) => is_forwarder(station) && (named.is_empty() || of.is_none_or(|of| of == named)),
    };
    let founding = brings.and_then(|(_, founding)| founding);
    match join_where(workshop, address, shown, (fits, founding)).await? {
        Joined::As(token, station) => Ok((token, station)),
        Joined::OfAnother(cause) => Err(cause.into()),
        Joined::NotSo(station, site) => Err(match brings {
            Some((named, _)) if is_forwarder(&station) => Forwarding::SiteNotOfStation {
                named: named.to_owned(),
                site: site.unwrap_or_default(),
                station: station.name,
            },
            Some(_) => Forwarding::CodeOfStation { station: station.name },
            None => Forwarding::CodeOfForwarder { station: station.name },
        }
        .into()),
    }
}

/// The same where only some stations are joined: the code of another one stays good for the way that it was made for.
pub(crate) async fn join_where(
    workshop: &Workshop,
    address: IpAddr,
    (secret, token): (&str, &str),
    (may, founding): (impl Fn(&Station, Option<&str>) -> bool, Option<Hash>),
) -> Result<Joined, Cause> {
    let now_us = workshop.clock.now_us();
    let refused = Event { address: Some(address), ..Event::refused(Deed::Join) };
    // Counted before the store is asked, so that many at the same time are no way around.
    if let Err(wait) = workshop.code_guesses.begin(address, now_us) {
        workshop.audit.note(Event { about: "too many wrong codes", ..refused }).await;
        return Err(Cause::TooManyGuesses { seconds: wait.as_secs().max(1) });
    }
    // People type small letters; the code has none.
    let (tag, digest) = tag_and_digest(&secret.to_ascii_uppercase());
    let token = Token::read(token).ok_or(Cause::JoinCodeNotGood)?.digest();
    if let Some((meant, site)) = meant_for(workshop, &digest, now_us).await? {
        if !may(&meant, site.as_deref()) {
            workshop.code_guesses.was_good(address);
            workshop.audit.note(Event { about: "a station that joins in another way", ..refused }).await;
            return Ok(Joined::NotSo(meant, site));
        }
        if let (Some(sites), Some(site)) = (&workshop.sites, &site)
            && let Some((_, another)) = keeping::kept_of_another(sites, site, founding).await?
        {
            workshop.code_guesses.was_good(address);
            let about = &format!("another workshop of the identity {site}");
            workshop.audit.note(Event { station: &meant.id, about, ..refused }).await;
            return Ok(Joined::OfAnother(another));
        }
    }
    let shown = ShownCode {
        digest,
        tag,
        token,
        now_us,
        token_ends_us: Some(now_us.saturating_add(day_us(workshop.token_days))),
        tries_max: JOIN_CODE_TRIES_MAX,
    };
    let used = workshop.beside.use_code(shown).await?;
    if used == CodeUse::NotGood {
        workshop.audit.note(refused).await;
        return Err(Cause::JoinCodeNotGood);
    }
    workshop.code_guesses.was_good(address);
    let (token, station) = workshop.beside.token(token).await?.ok_or(Cause::JoinCodeNotGood)?;
    if used == CodeUse::Now {
        let joined = Event { station: &station.id, address: Some(address), ..Event::allowed(Deed::Join) };
        workshop.audit.note(joined).await;
    }
    Ok(Joined::As(token, station))
}

/// The station that a code is for which is still good, with the site whose journal it brings; what they say is asked only of
/// whoever shows the whole code.
async fn meant_for(
    workshop: &Workshop,
    digest: &[u8; 32],
    now_us: i64,
) -> Result<Option<(Station, Option<String>)>, Cause> {
    let codes = workshop.beside.codes().await?.into_iter();
    let mut open = codes
        .filter(|code| code.used_for.is_none() && code.ends_us > now_us && code.tries < JOIN_CODE_TRIES_MAX);
    let Some(code) = open.find(|code| code.digest == *digest) else { return Ok(None) };
    let stations = workshop.beside.stations().await?;
    let meant =
        stations.into_iter().find(|station| station.id == code.station_id && station.revoked_us.is_none());
    let Some(station) = meant else { return Ok(None) };
    // Only an owner's server has stations that bring a journal.
    let site = match &workshop.sites {
        Some(sites) => sites.own().station_sites().await?.remove(&station.id),
        None => None,
    };
    Ok(Some((station, site)))
}

/// Keeps a new token for the station that asks, beside the one that it showed, and gives the new one's end. Before it is
/// due nothing is kept.
pub(crate) async fn renew(
    workshop: &Workshop,
    who: &Who,
    address: Option<IpAddr>,
    token: &str,
) -> Result<Option<i64>, Cause> {
    let digest = Token::read(token).ok_or(Cause::Unauthenticated)?.digest();
    let now_us = workshop.clock.now_us();
    if digest != who.token && workshop.beside.token(digest).await?.is_none() {
        if !workshop.should_renew(who) {
            return Err(Cause::TokenNotDue);
        }
        workshop.renewals.take(&who.station_id).map_err(|wait| Overload::TooManyRenewals { wait })?;
        let new = KeptToken {
            digest,
            station_id: who.station_id.clone(),
            created_us: now_us,
            ends_us: Some(now_us.saturating_add(day_us(workshop.token_days))),
            replaces: Some(who.token),
        };
        workshop.beside.put_token(new).await?;
        let renewed = Event { station: &who.station_id, address, ..Event::allowed(Deed::RenewToken) };
        workshop.audit.note(renewed).await;
    }
    match workshop.beside.token(digest).await? {
        Some((token, station)) if station.id == who.station_id => Ok(token.ends_us),
        Some(_) => {
            let what = "is in use by another station; draw another one".to_owned();
            Err(Cause::OutsideBounds(vec![Violation { field: "token".to_owned(), what }]))
        }
        // Revoked meanwhile.
        None => Err(Cause::Unauthenticated),
    }
}

fn tag_and_digest(secret: &str) -> (String, [u8; 32]) {
    (secret.chars().take(TAG_LENGTH).collect(), Sha256::digest(secret.as_bytes()).into())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_token_is_due_after_a_third_of_its_life() {
        assert!(!is_due(0, day_us(180), day_us(60) - 1));
        assert!(is_due(0, day_us(180), day_us(60)));
        assert!(is_due(0, day_us(1), day_us(2)));
    }

    #[test]
    fn nothing_kept_of_a_code_tells_the_code() {
        let code = JoinCode::new(0x0003_1415_9265_3589, [7; 10]);
        let kept = kept_code(&code, "bay-1", 5);
        assert!(kept.tag.len() == 4 && code.secret().starts_with(&kept.tag));
        assert_eq!(kept.ends_us, 5 + 600_000_000);
        assert!(!format!("{kept:?}").contains(code.secret()));
    }
}
