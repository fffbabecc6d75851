//! Stations at the desk: enrolling them, the codes that they join with, their tokens, taking their right back.

use super::{Desk, Enrolled};
use crate::access::Role;
use crate::config::{self, Mode};
use crate::error::ServerError;
use crate::forwarding::copy::check_site;
use crate::joining::{day_us, kept_code};
use crate::office::OFFICE_STATION;
use crate::own_station::OWN_STATION;
use crate::token::Token;
use standpipe_proto::check::Violation;
use standpipe_proto::join::JoinCode;
use standpipe_proto::kind::is_kind;
use standpipe_proto::limits::{JOIN_CODE_TRIES_MAX, TOKEN_DAYS_MAX};
use standpipe_proto::v1::{self, StationEnrolled, fact::Kind};
use standpipe_store::{KeptCode, KeptToken, Station, StoreError};

/// A station that a machine can become by a code.
#[derive(Debug, Clone)]
pub struct Invited {
    /// Its identity, which is the name it was given.
    pub station_id: String,
    /// The code; this is the only time that it can be read.
    pub code: JoinCode,
    /// When the code ends, in microseconds since 1970, UTC.
    pub ends_us: i64,
    /// The site whose journal it brings; empty for a station of this site.
    pub site: String,
    /// Other stations that may bring the same journal: rarely what was meant.
    pub beside: Vec<String>,
}

/// A station with what lets it in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StationKept {
    /// The station.
    pub station: Station,
    /// When its latest token ends, in microseconds since 1970, UTC; nothing inside if it does not end.
    pub token_ends_us: Option<Option<i64>>,
    /// Until when its code is good, if one is.
    pub code_until_us: Option<i64>,
    /// Kinds of facts that it may state; empty: all that its role may.
    pub kinds: Vec<String>,
    /// The site whose journal it brings; empty if none.
    pub site: String,
}

impl Desk {
    /// Enrols a station and gives a code that a machine joins with, once.
    ///
    /// # Errors
    /// When the name is outside its bounds, reserved, or taken, also by a revoked station.
    pub async fn invite_station(&mut self, name: &str, role: Role) -> Result<Invited, ServerError> {
        self.invite_instrument(name, role, &[]).await
    }

    /// The same for a station that may state facts of some kinds only; no kinds: all that its role may.
    ///
    /// # Errors
    /// As [`Desk::invite_station`], and when there is no such kind.
    pub async fn invite_instrument(
        &mut self,
        name: &str,
        role: Role,
        kinds: &[String],
    ) -> Result<Invited, ServerError> {
        if role == Role::Forwarder {
            let what = "is missing: a forwarder brings the journal of one site; add --site SITE, as that site was founded";
            let field = "site".to_owned();
            return Err(ServerError::OutsideBounds(vec![Violation { field, what: what.to_owned() }]));
        }
        check_kinds(role, kinds)?;
        self.enrol(name, role).await?;
        // Before anything lets it in, so that it can never state more.
        self.store.set_station_kinds(name, kinds).await?;
        self.open_code(name).await
    }

    /// Enrols the station that brings the journal of one site to this owner's server, and gives a code that the site's server
    /// joins with, once.
    ///
    /// # Errors
    /// As [`Desk::invite_station`]; when this is no owner's server, or the site is this server's own.
    pub async fn invite_forwarder(&mut self, name: &str, site: &str) -> Result<Invited, ServerError> {
        let refuse = |what: String| {
            Err(ServerError::OutsideBounds(vec![Violation { field: "site".to_owned(), what }]))
        };
        if config::mode(self.folder.path())? != Mode::Owner {
            return refuse(
                "names a site, but this server keeps no journals of other workshops; set mode = \"owner\" in \
                 standpipe-server.toml if it is an owner's"
                    .to_owned(),
            );
        }
        check_site(site)?;
        if site == self.store.head().await?.site {
            return refuse(format!("is '{site}', the site of this server itself; name that of a workshop"));
        }
        self.enrol(name, Role::Forwarder).await?;
        // Before anything lets it in, so that it can never bring another one.
        self.store.put_station_site(name, site).await?;
        self.open_code(name).await
    }

    /// Gives a code that a machine joins with, once. The token before stays good until the one that came with the code is
    /// used. A station whose right was taken back is let in again by it: what it kept unsent is not lost.
    ///
    /// # Errors
    /// When there is no such station.
    pub async fn open_code(&mut self, name: &str) -> Result<Invited, ServerError> {
        match self.standing(name).await {
            Err(ServerError::AlreadyRevoked { .. }) => self.readmit(name).await?,
            standing => drop(standing?),
        }
        let mut random = [0; 8];
        self.entropy.fill(&mut random)?;
        let code = JoinCode::new(u64::from_be_bytes(random), self.authority_digest()?);
        let kept = kept_code(&code, name, self.clock.now_us());
        let ends_us = kept.ends_us;
        self.store.put_code(kept).await?;
        let mut sites = self.store.station_sites().await?;
        let site = sites.remove(name).unwrap_or_default();
        let stations = self.store.stations().await?;
        let stands = |id: &String| stations.iter().any(|it| it.id == *id && it.revoked_us.is_none());
        let same = sites.into_iter().filter(|(id, of)| *of == site && stands(id));
        let beside = same.map(|(id, _)| id).collect();
        Ok(Invited { station_id: name.to_owned(), code, ends_us, site, beside })
    }

    /// Gives a station its right back, with the role it had.
    async fn readmit(&mut self, name: &str) -> Result<(), ServerError> {
        let unknown = || StoreError::StationUnknown { id: name.to_owned() };
        let station = self.store.station(name).await?.ok_or_else(unknown)?;
        let role = Role::from_name(&station.role).ok_or_else(unknown)?;
        self.state_right(name, role, false).await?;
        Ok(self.store.readmit_station(name).await?)
    }

    /// Enrols a station and gives its token, once.
    ///
    /// # Errors
    /// When the name is outside its bounds, reserved, or taken, also by a revoked station.
    pub async fn add_station(&mut self, name: &str, role: Role) -> Result<Enrolled, ServerError> {
        let token = Token::draw(&*self.entropy)?;
        self.enrol(name, role).await?;
        self.put_token(name, token, self.token_days).await
    }

    /// Enrols a station that may state facts of some kinds only and gives its token, once.
    ///
    /// # Errors
    /// As [`Desk::add_station`], and when there is no such kind.
    pub async fn add_instrument(&mut self, name: &str, kinds: &[String]) -> Result<Enrolled, ServerError> {
        check_kinds(Role::Bay, kinds)?;
        let token = Token::draw(&*self.entropy)?;
        self.enrol(name, Role::Bay).await?;
        self.store.set_station_kinds(name, kinds).await?;
        self.put_token(name, token, self.token_days).await
    }

    /// Gives a station a new token, once; the one before is no longer good. For a token that was lost, and for programs
    /// that are no station of ours.
    ///
    /// # Errors
    /// When there is no such station, or its right was taken back.
    pub async fn renew_token(&mut self, name: &str) -> Result<Enrolled, ServerError> {
        self.renew_token_for(name, None).await
    }

    /// The same with an end of its own, in days; nothing: as the settings say.
    ///
    /// # Errors
    /// As [`Desk::renew_token`], and when there are too few or too many days.
    pub async fn renew_token_for(&mut self, name: &str, days: Option<u32>) -> Result<Enrolled, ServerError> {
        let days = days.unwrap_or(self.token_days);
        if !(1..=TOKEN_DAYS_MAX).contains(&days) {
            let what = format!("is {days}; 1 to {TOKEN_DAYS_MAX} days are allowed");
            return Err(ServerError::OutsideBounds(vec![Violation { field: "days".to_owned(), what }]));
        }
        let role = self.standing(name).await?;
        let token = Token::draw(&*self.entropy)?;
        // A station that had none is enrolled by the fact that stands already.
        if latest(&self.store.tokens().await?, name).is_some() {
            self.state_right(name, role, false).await?;
            self.store.revoke_tokens(name).await?;
        }
        self.put_token(name, token, days).await
    }

    /// Takes a station's right back; neither its token nor its code is any longer good.
    ///
    /// # Errors
    /// When there is no such station, or its right was taken back already.
    pub async fn revoke_station(&mut self, name: &str) -> Result<(), ServerError> {
        let role = self.standing(name).await?;
        self.state_right(name, role, true).await?;
        self.store.revoke_station(name, self.clock.now_us()).await?;
        self.store.remove_codes(name).await?;
        self.store.revoke_tokens(name).await?;
        Ok(())
    }

    /// All stations by name, revoked ones too.
    ///
    /// # Errors
    /// When they cannot be read.
    pub async fn stations(&self) -> Result<Vec<Station>, ServerError> {
        Ok(self.store.stations().await?)
    }

    /// The same with what lets each of them in.
    ///
    /// # Errors
    /// When they cannot be read.
    pub async fn stations_kept(&self) -> Result<Vec<StationKept>, ServerError> {
        let (tokens, codes) = (self.store.tokens().await?, self.store.codes().await?);
        let now_us = self.clock.now_us();
        let mut kinds = self.store.station_kinds().await?;
        let mut sites = self.store.station_sites().await?;
        let stations = self.store.stations().await?.into_iter().map(|station| StationKept {
            token_ends_us: latest(&tokens, &station.id).map(|token| token.ends_us),
            code_until_us: codes
                .iter()
                .find(|code| {
                    code.station_id == station.id && station.revoked_us.is_none() && is_open(code, now_us)
                })
                .map(|code| code.ends_us),
            kinds: kinds.remove(&station.id).unwrap_or_default(),
            site: sites.remove(&station.id).unwrap_or_default(),
            station,
        });
        Ok(stations.collect())
    }

    /// Enrols a station that nothing lets in yet.
    async fn enrol(&mut self, name: &str, role: Role) -> Result<(), ServerError> {
        if [OWN_STATION, OFFICE_STATION].contains(&name) {
            return Err(ServerError::NameReserved { name: name.to_owned() });
        }
        if self.store.station(name).await?.is_some() {
            return Err(StoreError::StationExists { id: name.to_owned() }.into());
        }
        self.state_right(name, role, false).await?;
        let station = Station {
            id: name.to_owned(),
            name: name.to_owned(),
            role: role.name().to_owned(),
            created_us: self.clock.now_us(),
            revoked_us: None,
        };
        Ok(self.store.add_station(station).await?)
    }

    async fn put_token(&self, name: &str, token: Token, days: u32) -> Result<Enrolled, ServerError> {
        let created_us = self.clock.now_us();
        let ends_us = created_us.saturating_add(day_us(days));
        let kept = KeptToken {
            digest: token.digest(),
            station_id: name.to_owned(),
            created_us,
            ends_us: Some(ends_us),
            replaces: None,
        };
        self.store.put_token(kept).await?;
        Ok(Enrolled { station_id: name.to_owned(), token, ends_us })
    }

    /// States that a station has its right, or has it no more.
    async fn state_right(&mut self, name: &str, role: Role, revoked: bool) -> Result<(), ServerError> {
        let enrolled_station_id = name.to_owned();
        let role = v1::Role::from(role).into();
        self.state(Kind::StationEnrolled(StationEnrolled { enrolled_station_id, role, revoked })).await
    }

    /// The role of a station whose right was not taken back.
    async fn standing(&self, name: &str) -> Result<Role, ServerError> {
        let unknown = || StoreError::StationUnknown { id: name.to_owned() };
        let station = self.store.station(name).await?.ok_or_else(unknown)?;
        if station.revoked_us.is_some() {
            return Err(ServerError::AlreadyRevoked { name: name.to_owned() });
        }
        Ok(Role::from_name(&station.role).ok_or_else(unknown)?)
    }
}

/// The token of a station that was made last.
pub(crate) fn latest<'a>(tokens: &'a [KeptToken], station_id: &str) -> Option<&'a KeptToken> {
    tokens.iter().filter(|token| token.station_id == station_id).max_by_key(|token| token.created_us)
}

/// Whether a machine can join with a code.
pub(crate) fn is_open(code: &KeptCode, now_us: i64) -> bool {
    code.used_for.is_none() && code.ends_us > now_us && code.tries < JOIN_CODE_TRIES_MAX
}

/// Requires that a station can be limited to these kinds: they exist, and its role states facts at all.
fn check_kinds(role: Role, kinds: &[String]) -> Result<(), ServerError> {
    let refuse =
        |what: String| Err(ServerError::OutsideBounds(vec![Violation { field: "only".to_owned(), what }]));
    if let Some(unknown) = kinds.iter().find(|kind| !is_kind(kind)) {
        let example = "write it as in the messages, such as exchange_reading or temperature_reading";
        return refuse(format!("names '{unknown}', which is no kind of facts; {example}"));
    }
    if !kinds.is_empty() && role != Role::Bay {
        return refuse(format!(
            "limits the kinds of a bay, but the role is {}; leave out only, or use --role bay",
            role.name()
        ));
    }
    Ok(())
}
