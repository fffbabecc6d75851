//! `doctor`: looks at everything that a site's server needs and says of each thing how it is, and what to do.
//!
//! Works beside a running server and while none runs; changes nothing. One file for each group of things. Called by the
//! binary. Never here: the journal's every entry, which [`crate::verify`] reads.

mod at_owner;
mod certificate;
mod folder;
mod journal;
mod people;
mod running;
mod sites;

use crate::clock::Clock;
use crate::config::{self, Flags, Mode, Settings};
use crate::error::ServerError;
use crate::folder::Folder;
use std::path::Path;

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

/// What all checks look at.
struct Patient<'a> {
    /// The folder as it was named, for commands.
    dir: &'a Path,
    folder: Folder,
    settings: Option<Settings>,
    now_us: i64,
}

impl Patient<'_> {
    /// Whether this is an owner's server.
    fn is_owners(&self) -> bool {
        self.settings.as_ref().is_some_and(|settings| settings.mode == Mode::Owner)
    }

    /// A command of the server's program on this folder.
    fn command(&self, verb: &str) -> String {
        format!("standpipe-server {verb} --dir {}", self.dir.display())
    }
}

/// Looks at the site in a folder.
///
/// # Errors
/// When the folder is no site's.
pub async fn doctor(dir: &Path, clock: &dyn Clock) -> Result<Vec<Check>, ServerError> {
    let folder = Folder::find(dir)?;
    let mut checks = vec![Check::well("version", format!("this is standpipe-server {}", crate::VERSION))];
    let settings = match config::read(dir, Flags::default()) {
        Ok(settings) => {
            checks.push(Check::well("settings", "every setting is known and inside its bounds"));
            Some(settings)
        }
        Err(error) => {
            checks.push(Check::to_do("settings", error.to_string(), "put the setting right"));
            None
        }
    };
    let patient = Patient { dir, folder, settings, now_us: clock.now_us() };
    checks.extend(folder::checks(&patient)?);
    let (certificate, looked) = certificate::check(&patient);
    checks.push(certificate);
    checks.extend(running::checks(&patient, looked.as_ref()).await);
    // What is wrong with the settings was told above; the journal is looked at all the same.
    let agreed = match patient.settings {
        Some(_) => patient.folder.agreed_place(),
        None => patient.folder.place(),
    };
    let place = match agreed {
        Ok(place) => place,
        Err(error) => {
            checks.push(Check::to_do("store", error.to_string(), "put right what is named"));
            return Ok(checks);
        }
    };
    checks.push(journal::place(&place));
    match place.open_for_reading().await {
        Ok(store) => {
            checks.extend(journal::checks(&patient, &*store, clock).await);
            checks.extend(people::checks(&patient, &*store).await?);
            checks.extend(at_owner::checks(&patient, &*store).await);
            if patient.is_owners() {
                checks.extend(sites::checks(&patient, &*store).await?);
            }
            store.close().await?;
        }
        Err(error) => {
            let next = format!("standpipe-server verify {}", dir.display());
            checks.push(Check::to_do("journal", error.to_string(), next));
        }
    }
    Ok(checks)
}

/// A length of time in the unit that fits, for people.
fn span(seconds: i64) -> String {
    let (count, unit) = match seconds.max(0) {
        0..120 => (seconds.max(0), "second"),
        120..7_200 => (seconds / 60, "minute"),
        7_200..172_800 => (seconds / 3_600, "hour"),
        _ => (seconds / 86_400, "day"),
    };
    format!("{count} {unit}{}", if count == 1 { "" } else { "s" })
}

/// A number of bytes in the unit that fits (decimal prefixes of the SI).
fn size(bytes: u64) -> String {
    match bytes {
        0..1_000_000 => format!("{} kB", bytes / 1_000),
        1_000_000..1_000_000_000 => format!("{} MB", bytes / 1_000_000),
        _ => format!("{}.{} GB", bytes / 1_000_000_000, bytes / 100_000_000 % 10),
    }
}

#[cfg(test)]
mod tests;
