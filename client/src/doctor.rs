//! `doctor`: looks at everything that a station needs and says of each thing how it is, and what to do.
//!
//! Works without the shop server and says then what could not be asked. Called by the command line. Never here: a change
//! of anything at the server; of the folder nothing is changed beyond what every command does when it opens it.

use crate::clock::microseconds;
use crate::config::Environment;
use crate::error::ClientError;
use crate::folder::state::Joined;
use crate::station::Station;
use crate::{config, remote::Remote};
use standpipe_proto::limits::UNSENT_BYTES_MAX;
use standpipe_proto::v1;
use std::path::Path;
use std::time::Duration;
use tokio::net::{TcpStream, lookup_host};
use tokio::time::timeout;

/// More than this between the clocks is told (common practice: a time service keeps machines far closer).
const CLOCKS_APART_MICROSECONDS: i64 = 5_000_000;
/// A token with less than this left is told; one that is in use renews itself long before.
const TOKEN_LEFT_MICROSECONDS: i64 = 14 * DAY_MICROSECONDS;
const DAY_MICROSECONDS: i64 = 86_400_000_000;
/// With less than this free on its disk the station may soon keep nothing more.
const FREE_BYTES_LEAST: u64 = 500_000_000;

/// One thing that was looked at.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Check {
    /// What, in a word.
    pub about: &'static str,
    /// How it is, in a sentence.
    pub sentence: String,
    /// What to do, as a command or in words; nothing where nothing is to be done.
    pub next: Option<String>,
}

impl Check {
    fn well(about: &'static str, sentence: impl Into<String>) -> Self {
        Self { about, sentence: sentence.into(), next: None }
    }

    fn to_do(about: &'static str, sentence: impl Into<String>, next: impl Into<String>) -> Self {
        Self { about, sentence: sentence.into(), next: Some(next.into()) }
    }
}

/// What `doctor` found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Examined {
    /// One for each thing.
    pub checks: Vec<Check>,
    /// Whether the shop server answered.
    pub reached: bool,
}

/// Looks at the settings: where each value comes from.
///
/// # Errors
/// As [`config::Settings::read`].
pub fn settings(home: &Path, environment: &Environment) -> Result<Check, ClientError> {
    let said = config::Settings::origins(home, environment)?;
    let all: Vec<_> = said.iter().map(|(key, value, origin)| format!("{key} {value} ({origin})")).collect();
    Ok(Check::well("settings", all.join(", ")))
}

impl Station {
    /// Looks at the station and, if it can be reached, at its shop server.
    ///
    /// # Errors
    /// When the folder cannot be read.
    pub async fn doctor(&mut self) -> Result<Examined, ClientError> {
        let mut checks = vec![self.folder_check(), self.unsent_check()?];
        checks.extend(self.lost_check()?);
        let joined = match self.joined() {
            Ok(joined) => joined.clone(),
            Err(error) => {
                checks.push(Check::to_do("joined", error.to_string(), "standpipe join HOST CODE"));
                return Ok(Examined { checks, reached: false });
            }
        };
        let whose = format!("station {} of {}", joined.station_id, joined.site_name);
        checks.push(Check::well("joined", whose));
        let reached = reachable(&joined.address, self.options.deadlines.connect).await;
        let is_away = reached.next.is_some();
        checks.push(reached);
        if is_away {
            return Ok(Examined { checks, reached: false });
        }
        let asked_at = self.options.clock.now_microseconds();
        let remote = self.remote()?;
        match remote.describe().await {
            Ok(answer) => {
                let answered_at = self.options.clock.now_microseconds();
                let now = asked_at + (answered_at - asked_at) / 2;
                checks.push(connection_check(&joined));
                checks.push(token_check(&joined, &answer, now));
                checks.extend(clock_check(&answer, now));
                checks.push(version_check(&answer.server_version));
                checks.push(match needs_nobody(&answer) {
                    Some(why) if self.person().is_none() => Check::well("person", why),
                    _ => self.person_check(&remote).await,
                });
                Ok(Examined { checks, reached: true })
            }
            Err(ClientError::NotPermitted(sentence)) => {
                let next = format!(
                    "at the shop server: standpipe-server station code {}; then here: standpipe join HOST CODE",
                    joined.station_id
                );
                checks.push(Check::to_do("token", sentence, next));
                Ok(Examined { checks, reached: true })
            }
            Err(_) if remote.met_stranger() => {
                let sentence = format!(
                    "what answers at {} is not the shop server that this station joined",
                    joined.address
                );
                let next = format!(
                    "if the address is right and the shop server has a new authority, join again with a new code: \
                     standpipe-server station code {} there, move station.toml out of {}, then standpipe join HOST CODE \
                     here; what waits unsent stays",
                    joined.station_id,
                    self.folder.root().display()
                );
                checks.push(Check::to_do("server", sentence, next));
                Ok(Examined { checks, reached: false })
            }
            Err(error) => {
                checks.push(Check::to_do(
                    "server",
                    format!("{error}; token, clock, version and person could not be asked"),
                    "at the shop server: standpipe-server doctor",
                ));
                Ok(Examined { checks, reached: false })
            }
        }
    }

    /// That a turn at the folder could be taken shows that it can be written.
    fn folder_check(&self) -> Check {
        let home = self.folder.root();
        match free_bytes(home) {
            Some(free) if free < FREE_BYTES_LEAST => {
                let sentence =
                    format!("only {} MB are free on the disk of {}", free / 1_000_000, home.display());
                Check::to_do("folder", sentence, "free some room before the station can keep nothing more")
            }
            free => {
                let free =
                    free.map_or_else(String::new, |free| format!(", {} MB are free", free / 1_000_000));
                Check::well("folder", format!("{} can be written{free}", home.display()))
            }
        }
    }

    fn unsent_check(&mut self) -> Result<Check, ClientError> {
        let report = self.unsent()?;
        let bytes = self.list.bytes();
        if report.waiting.is_empty() && report.blobs_waiting == 0 {
            return Ok(Check::well("unsent", "everything that was stated here is at the shop server"));
        }
        let sentence = format!(
            "{} entries and {} files are only here, the oldest for {} min; {} of {} kB are used",
            report.waiting.len(),
            report.blobs_waiting,
            report.oldest_microseconds / 60_000_000,
            bytes / 1_000,
            UNSENT_BYTES_MAX / 1_000
        );
        Ok(Check::to_do("unsent", sentence, "standpipe send"))
    }

    /// What the server will never take, and what was not whole.
    fn lost_check(&mut self) -> Result<Vec<Check>, ClientError> {
        let report = self.unsent()?;
        let mut checks = Vec::new();
        if !report.refused.is_empty() {
            let sentence = format!("{} entries were refused and are nowhere else", report.refused.len());
            checks.push(Check::to_do("refused", sentence, "see why with: standpipe unsent"));
        }
        if !report.damaged.is_empty() {
            let sentence = format!("{} files were not whole and were not sent", report.damaged.len());
            checks.push(Check::to_do(
                "damaged",
                sentence,
                "state their facts again; standpipe unsent names them",
            ));
        }
        Ok(checks)
    }

    async fn person_check(&self, remote: &Remote) -> Check {
        let Some(code) = self.person() else {
            return Check::to_do("person", "nobody is set, so nothing can be stated", "standpipe as CODE");
        };
        match remote.persons().await {
            Ok(persons) => match persons.iter().find(|person| person.person_code == code) {
                Some(person) if person.has_pin => {
                    Check::well("person", format!("{code}, listed, with a PIN"))
                }
                Some(_) => Check::well(
                    "person",
                    format!("{code}, listed, without a PIN: decisions cannot be signed"),
                ),
                None => {
                    let next = format!(
                        "standpipe as CODE, or at the shop server: standpipe-server person add {code}"
                    );
                    Check::to_do("person", format!("{code} is not listed at the site"), next)
                }
            },
            Err(error) => Check::to_do("person", error.to_string(), "ask again: standpipe doctor"),
        }
    }
}

/// What is said of a folder that is no station yet; nothing is made in it.
pub(crate) fn not_joined(home: &Path) -> Vec<Check> {
    let next =
        "standpipe join HOST CODE, as it is printed at the shop server by: standpipe-server station add NAME";
    let left = "nothing was asked: not joined";
    let mut checks = vec![
        Check::well("folder", format!("{} is no station's folder yet", home.display())),
        Check::to_do("joined", "not joined: this folder belongs to no station", next),
    ];
    checks.extend(["address", "token", "clock", "version", "person"].map(|about| Check::well(about, left)));
    checks
}

/// Why a station needs nobody who states its facts; nothing where it needs somebody.
fn needs_nobody(answer: &v1::DescribeResponse) -> Option<&'static str> {
    let station = answer.station.as_ref()?;
    match station.role() {
        v1::Role::Owner | v1::Role::Forwarder => Some("nobody is needed: this station states nothing"),
        _ if !station.kinds.is_empty() => Some("nobody is set, as is usual for an instrument"),
        _ => None,
    }
}

/// Whether the name is found and the port is open.
async fn reachable(address: &str, within: Duration) -> Check {
    let bare = address.split_once("://").map_or(address, |(_, bare)| bare).trim_end_matches('/');
    let next = "see that this machine is on the workshop's network and that the shop server runs; there: \
                standpipe-server doctor";
    let unasked = "token, clock, version and person could not be asked";
    let found = match timeout(within, lookup_host(bare)).await {
        Ok(Ok(found)) => found.collect::<Vec<_>>(),
        Ok(Err(error)) => {
            tracing::debug!(%error, "the address was not found");
            return Check::to_do("address", format!("no machine is called {bare} here; {unasked}"), next);
        }
        Err(_) => {
            return Check::to_do(
                "address",
                format!("no machine called {bare} is found within {} s; {unasked}", within.as_secs()),
                next,
            );
        }
    };
    match timeout(within, TcpStream::connect(found.as_slice())).await {
        Ok(Ok(_)) => Check::well("address", format!("{bare} is open")),
        Ok(Err(error)) => {
            tracing::debug!(%error, "no connection was made");
            Check::to_do("address", format!("nothing answers at {bare}; {unasked}"), next)
        }
        Err(_) => {
            let sentence = format!("nothing answers at {bare} within {} s; {unasked}", within.as_secs());
            Check::to_do("address", sentence, next)
        }
    }
}

/// How the server was reached: another one would not have been asked anything.
fn connection_check(joined: &Joined) -> Check {
    let sentence = match joined.authority {
        Some(_) => "TLS; the server's certificate is of the authority that this station keeps",
        None => "plain, within this machine",
    };
    Check::well("connection", sentence)
}

fn token_check(joined: &Joined, answer: &v1::DescribeResponse, now: i64) -> Check {
    let known = answer.station.as_ref().map_or("", |station| station.station_id.as_str());
    if (known, answer.site_id.as_str()) != (joined.station_id.as_str(), joined.site_id.as_str()) {
        let sentence = format!("the server takes this station for {known} of {}", answer.site_id);
        return Check::to_do("token", sentence, "use another folder for it (STANDPIPE_HOME or --home)");
    }
    let Some(ends) = answer.token_expire_time.as_ref().map(microseconds) else {
        return Check::well("token", "good, and does not end");
    };
    // Both times are the server's where it says its own: the bay's clock decides nothing.
    let left = ends - answer.server_time.as_ref().map_or(now, microseconds);
    let until = jiff::Timestamp::from_microsecond(ends).unwrap_or_default().strftime("%Y-%m-%d %H:%M");
    let sentence = format!("good for {} more days, until {until} UTC", left / DAY_MICROSECONDS);
    if left < TOKEN_LEFT_MICROSECONDS {
        let next = format!(
            "standpipe send, which renews it; if it stays so, at the shop server: standpipe-server station code {}",
            joined.station_id
        );
        return Check::to_do("token", sentence, next);
    }
    Check::well("token", sentence)
}

fn clock_check(answer: &v1::DescribeResponse, now: i64) -> Option<Check> {
    let apart = now - answer.server_time.as_ref().map(microseconds)?;
    let sentence = |words: &str| {
        format!("{}.{} s {words} the shop server's", apart.abs() / 1_000_000, apart.abs() / 100_000 % 10)
    };
    if apart.abs() <= CLOCKS_APART_MICROSECONDS {
        return Some(Check::well("clock", sentence("from")));
    }
    let words = if apart > 0 { "ahead of" } else { "behind" };
    Some(Check::to_do(
        "clock",
        sentence(words),
        "set the clock of this station, for example: timedatectl set-ntp true",
    ))
}

fn version_check(server: &str) -> Check {
    let own = env!("CARGO_PKG_VERSION");
    if server == own {
        return Check::well("version", format!("{own}, as the shop server"));
    }
    let sentence = format!("{own} here, {server} at the shop server");
    Check::to_do("version", sentence, "install the same version on both when no job is open")
}

#[cfg(unix)]
fn free_bytes(folder: &Path) -> Option<u64> {
    let told = rustix::fs::statvfs(folder).ok()?;
    Some(told.f_bavail.saturating_mul(told.f_frsize))
}

#[cfg(not(unix))]
fn free_bytes(_folder: &Path) -> Option<u64> {
    None
}

#[cfg(test)]
#[path = "tests/doctor.rs"]
mod tests;
