//! A station joins a shop server, and renews its token by itself.
//!
//! The token is drawn here and written down before it is shown, so that an answer that was lost can be asked for again:
//! the server answers the same code with the same token as before. Never here: connections, which are [`standpipe_proto::dial`]'s.

use crate::clock::{Clock, Entropy, microseconds};
use crate::error::ClientError;
use crate::folder::state::{Drawn, Purpose};
use crate::remote::{Remote, Renewal, loopback};
use crate::{Joined, Station};
use prost_types::Timestamp;
use sha2::{Digest as _, Sha256};
use standpipe_proto::dial::{ServerAddress, read_pem};
use standpipe_proto::join::{JoinCode, JoinCodeError, authority_digest};
use standpipe_proto::v1;
use std::fmt::Write as _;

/// Characters of a token.
const TOKEN_LENGTH: usize = 64;
/// Reason of a server that keeps the token before.
const TOKEN_NOT_DUE: &str = "TOKEN_NOT_DUE";
/// Difference of the clocks that is told, in seconds.
const CLOCKS_APART_SECONDS: i64 = 5;

/// What a person shows to join.
#[derive(Debug, PartialEq, Eq)]
pub(crate) enum Shown {
    /// A code, at any address.
    Code(String),
    /// A token, on the shop server's own machine.
    Token(String),
}

impl Shown {
    /// Tells a code from a token, and looks at the address that it is for.
    ///
    /// # Errors
    /// When the address is none, the text is neither, or a token is meant for another machine.
    pub(crate) fn read(address: &str, typed: &str) -> Result<Self, ClientError> {
        let typed = typed.trim();
        let unsent = |error| ClientError::Usage(format!("{error}; nothing was sent"));
        let is_plain = loopback(address).is_ok();
        if !is_plain {
            ServerAddress::read(address)?;
        }
        let is_token = typed.len() == TOKEN_LENGTH && typed.bytes().all(|b| b.is_ascii_hexdigit());
        match JoinCode::read(typed) {
            Ok(_) => Ok(Self::Code(typed.to_owned())),
            Err(error @ JoinCodeError::Mistyped) => Err(unsent(error)),
            Err(error) if typed.contains(['-', ' ']) => Err(unsent(error)),
            Err(_) if is_plain => Ok(Self::Token(typed.to_owned())),
            Err(_) if is_token => Err(ClientError::NotHere { address: address.to_owned() }),
            Err(error) => Err(unsent(error)),
        }
    }
}

impl Station {
    /// Joins a shop server by a code that it printed for this station.
    ///
    /// Before anything of the code is sent, the server proves that it is the one that the code is from.
    ///
    /// # Errors
    /// When address or code cannot be read, the server is not reached or is not the one that the code is from, the code is
    /// not good, or the folder belongs to another station.
    pub async fn join_by_code(&mut self, address: &str, code: &str) -> Result<Joined, ClientError> {
        let address = ServerAddress::read(address)?;
        let code =
            JoinCode::read(code).map_err(|error| ClientError::Usage(format!("{error}; nothing was sent")))?;
        self.is_of_this_server(&code)?;
        let remote = Remote::joining(address.clone(), code.authority(), &self.options)?;
        let token = self.drawn(Purpose::Join, code.secret())?;
        let request = v1::JoinRequest {
            secret: code.secret().to_owned(),
            token: token.clone(),
            ..v1::JoinRequest::default()
        };
        let answer = match remote.join(request).await {
            Err(ClientError::NotPermitted(sentence)) => {
                self.forget_drawn(Purpose::Join);
                return Err(ClientError::NotPermitted(self.not_let_in(sentence)));
            }
            answer => answer?,
        };
        let authority = remote
            .authority()
            .ok_or_else(|| ClientError::Away("the shop server did not say who it is; say it again".into()))?;
        let joined = Joined { authority: Some(authority), ..self.named(address.to_string(), token) };
        let asked = (answer.station, answer.site_id, answer.site_name);
        let written = self.write_joined(joined, asked, answer.server_time);
        // Kept on another machine's behalf it would only lie about; after a disk's fault it is asked for again.
        if matches!(written, Ok(_) | Err(ClientError::OtherStation { .. })) {
            self.forget_drawn(Purpose::Join);
        }
        let joined = written?;
        // The first use ends the token before. If it fails, the next command is the first use.
        let used = Remote::new(&joined, &self.options, Renewal::default())?.describe().await;
        if let Err(error @ ClientError::NotPermitted(_)) = used {
            return Err(error);
        }
        Ok(joined)
    }

    /// Requires that a folder that is a station already is shown a code of its own shop server, before anything is sent.
    fn is_of_this_server(&self, code: &JoinCode) -> Result<(), ClientError> {
        let Some(joined) = &self.joined else { return Ok(()) };
        let kept = joined.authority.as_deref().and_then(read_pem);
        if kept.is_none_or(|kept| authority_digest(&kept) == code.authority()) {
            return Ok(());
        }
        Err(ClientError::Usage(format!(
            "this folder is station {} of {} already, and the code is of another shop server; nothing was sent. Use another \
             folder for it (STANDPIPE_HOME or --home); if it is the same shop server set up anew, move station.toml out \
             of the folder first: what waits unsent stays",
            joined.station_id, joined.site_id
        )))
    }

    /// The server's refusal of a code; the folder of a station may need none.
    fn not_let_in(&self, sentence: String) -> String {
        match &self.joined {
            Some(joined) => {
                format!(
                    "this folder is station {} of {} already; {sentence}",
                    joined.station_id, joined.site_id
                )
            }
            None => sentence,
        }
    }

    /// Joins a shop server on this machine with a token that it printed for this station.
    ///
    /// # Errors
    /// When the address is not of this machine, the server does not answer or know the token, or the folder belongs
    /// to another station.
    pub async fn join(&mut self, address: &str, token: &str) -> Result<Joined, ClientError> {
        let joined = self.named(loopback(address)?, token.trim().to_owned());
        let remote = Remote::new(&joined, &self.options, Renewal::default())?;
        let answer = remote.describe().await?;
        self.write_joined(joined, (answer.station, answer.site_id, answer.site_name), answer.server_time)
    }

    /// Renews the token if the server said that it is time to. What goes wrong is tried again with the next command.
    ///
    /// # Errors
    /// When the server does not answer, or the disk refuses; the token before stays good.
    pub async fn renew_token_if_due(&mut self) -> Result<(), ClientError> {
        if !self.renewal.take() {
            return Ok(());
        }
        drop(self.turn()?);
        let joined = self.joined()?.clone();
        let token = self.drawn(Purpose::Renew, &joined.token)?;
        match self.remote()?.renew_token(token.clone()).await {
            // Another command renewed it meanwhile; the server keeps nothing of this one.
            Err(ClientError::Refused { reason, .. }) if reason == TOKEN_NOT_DUE => {
                self.forget_drawn(Purpose::Renew);
                return Ok(());
            }
            answer => answer?,
        };
        let lock = self.turn()?;
        // Another command may have joined anew or renewed it meanwhile; then this one is nobody's and never used.
        if self.joined.as_ref().is_some_and(|now| now.token == joined.token) {
            let renewed = Joined { token, ..joined };
            self.folder.write_station(&lock, &renewed)?;
            self.joined = Some(renewed);
        }
        drop(lock);
        self.forget_drawn(Purpose::Renew);
        Ok(())
    }

    fn named(&self, address: String, token: String) -> Joined {
        Joined {
            address,
            token,
            station_id: String::new(),
            site_id: String::new(),
            site_name: String::new(),
            authority: None,
            clock_ahead_seconds: None,
        }
    }

    fn write_joined(
        &mut self,
        joined: Joined,
        (station, site_id, site_name): (Option<v1::Station>, String, String),
        server_time: Option<Timestamp>,
    ) -> Result<Joined, ClientError> {
        let station_id = station.unwrap_or_default().station_id;
        if station_id.is_empty() || site_id.is_empty() {
            return Err(ClientError::Away(
                "the shop server does not say who this station is; update the server".into(),
            ));
        }
        let clock_ahead_seconds = ahead_seconds(&*self.options.clock, server_time.as_ref());
        let joined = Joined { station_id, site_id, site_name, clock_ahead_seconds, ..joined };
        let lock = self.turn()?;
        if let Some(here) = &self.joined
            && (&here.station_id, &here.site_id) != (&joined.station_id, &joined.site_id)
        {
            let named = |joined: &Joined| format!("{} of {}", joined.station_id, joined.site_id);
            return Err(ClientError::OtherStation { here: named(here), there: named(&joined) });
        }
        self.folder.write_station(&lock, &joined)?;
        self.joined = Some(joined.clone());
        drop(lock);
        if let Some(sentence) = clock_ahead_seconds.and_then(clock_sentence) {
            self.tell(sentence);
        }
        Ok(joined)
    }

    /// A token of the station's own making, written down: the same one again for the same purpose.
    fn drawn(&mut self, purpose: Purpose, drawn_for: &str) -> Result<String, ClientError> {
        let drawn_for = digits(&Sha256::digest(drawn_for.as_bytes()));
        let lock = self.turn()?;
        let mut notices = Vec::new();
        let before = self.folder.drawn(&lock, purpose, &drawn_for, &mut notices)?;
        let token = match before {
            Some(token) => token,
            None => {
                let token = new_token(&*self.options.entropy)?;
                self.folder.write_drawn(&lock, purpose, &Drawn { drawn_for, token: token.clone() })?;
                token
            }
        };
        drop(lock);
        notices.into_iter().for_each(|notice| self.tell(notice));
        Ok(token)
    }

    /// A drawn token that stays behind is replaced by the next one, so it is told and no failure.
    fn forget_drawn(&mut self, purpose: Purpose) {
        let forgotten = self.turn().and_then(|lock| self.folder.forget_drawn(&lock, purpose));
        if let Err(error) = forgotten {
            self.tell(error.to_string());
        }
    }
}

/// So far the station's clock is ahead of the server's, in seconds.
fn ahead_seconds(clock: &dyn Clock, server_time: Option<&Timestamp>) -> Option<i64> {
    let server = microseconds(server_time?);
    Some(clock.now_microseconds().saturating_sub(server) / 1_000_000)
}

/// What to do about clocks that differ; nothing if they hardly do.
fn clock_sentence(ahead_seconds: i64) -> Option<String> {
    if ahead_seconds.abs() <= CLOCKS_APART_SECONDS {
        return None;
    }
    let side = if ahead_seconds > 0 { "ahead of" } else { "behind" };
    Some(format!(
        "the clock of this station is {} {side} the shop server's; nothing goes wrong by it, but times that are noted here \
         are off by as much: set the clock, best by network time",
        length(ahead_seconds.unsigned_abs())
    ))
}

/// A length of time in its greatest unit.
fn length(seconds: u64) -> String {
    match seconds {
        0..120 => format!("{seconds} s"),
        120..7_200 => format!("{} min", (seconds + 30) / 60),
        7_200..172_800 => format!("{} h", (seconds + 1_800) / 3_600),
        _ => format!("{} days", (seconds + 43_200) / 86_400),
    }
}

fn new_token(entropy: &dyn Entropy) -> Result<String, ClientError> {
    let mut bytes = [0; 32];
    entropy.fill(&mut bytes)?;
    Ok(digits(&bytes))
}

fn digits(bytes: &[u8]) -> String {
    bytes.iter().fold(String::new(), |mut text, byte| {
        // Writing to a String cannot fail.
        let _ = write!(text, "{byte:02x}");
        text
    })
}

#[cfg(test)]
#[path = "tests/joining.rs"]
mod tests;
