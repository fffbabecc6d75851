//! The journal as it lies on the disk: whether it agrees with the epoch file, its age against the clock, the catalogue.

use super::{Check, Patient, span};
use crate::catalogue;
use crate::clock::Clock;
use crate::time_in_words;
use crate::whereabouts::Place;
use standpipe_store::{Store, StoreError};
use std::path::Path;

/// Written by the system's time service once the clock follows the network (systemd-timesyncd.service(8)).
const SYNCHRONISED: &str = "/run/systemd/timesync/synchronized";

pub(super) async fn checks(patient: &Patient<'_>, store: &dyn Store, clock: &dyn Clock) -> Vec<Check> {
    let verify = format!("standpipe-server verify {}", patient.dir.display());
    let last_us = match last_received(store).await {
        Ok(last_us) => last_us,
        Err(error) => return vec![Check::to_do("journal", error.to_string(), verify)],
    };
    // Beside a busy server entries come while doctor looks: only a time read after the last of them can be compared.
    let now_us = clock.now_us();
    let journal = match agrees(patient, store).await {
        Ok(entries) => {
            let age = last_us.map(|last_us| (now_us - last_us) / 1_000_000);
            let last = age.map_or_else(String::new, |age| format!(", the last one {} old", span(age)));
            Check::well("journal", format!("{entries} entries, as far as the epoch file remembers{last}"))
        }
        Err(sentence) => Check::to_do("journal", sentence, verify),
    };
    vec![
        journal,
        clock_check(now_us, last_us, Path::new(SYNCHRONISED).exists()),
        catalogue(patient, store).await,
    ]
}

/// Where the journal lies.
pub(super) fn place(place: &Place) -> Check {
    Check::well(
        "store",
        match place {
            Place::File(path) => format!("the journal lies in {}", path.display()),
            Place::Database { address, site } => {
                format!("the journal lies in {address} as site {site}")
            }
        },
    )
}

async fn agrees(patient: &Patient<'_>, store: &dyn Store) -> Result<u64, String> {
    // The epoch file comes first: beside a running server the journal may only be further on than it.
    let reached = patient.folder.reached().map_err(|error| error.to_string())?;
    patient.folder.compare(&reached, store).await.map_err(|error| error.to_string())?;
    Ok(store.head().await.map_err(|error| error.to_string())?.seq)
}

/// The server's time of the last entry.
async fn last_received(store: &dyn Store) -> Result<Option<i64>, StoreError> {
    let last = store.head().await?.seq;
    Ok(store.read(last.max(1), 1).await?.last().map(|entry| entry.received_us))
}

/// The machine's clock decides nothing, but its times are printed: it must never have gone back.
fn clock_check(now_us: i64, last_us: Option<i64>, synchronised: bool) -> Check {
    if let Some(last_us) = last_us.filter(|last_us| *last_us > now_us) {
        let sentence = format!(
            "this machine's clock says {}, but the last entry came at {}: it went back by {}",
            time_in_words(now_us),
            time_in_words(last_us),
            span((last_us - now_us) / 1_000_000)
        );
        return Check::to_do("clock", sentence, "timedatectl set-ntp true");
    }
    let by = if synchronised { ", by the network's time" } else { "" };
    Check::well("clock", format!("{}{by}, after the last entry", time_in_words(now_us)))
}

async fn catalogue(patient: &Patient<'_>, store: &dyn Store) -> Check {
    let current = match catalogue::adoptions(store).await {
        Ok(adoptions) => adoptions.into_iter().last(),
        Err(error) => {
            return Check::to_do("catalogue", error.to_string(), patient.command("catalogue list"));
        }
    };
    if current.is_none() && patient.is_owners() {
        return Check::well("catalogue", "none was imported; each workshop's jobs are judged by its own");
    }
    let Some(current) = current else {
        let sentence = "none was imported, so no transmission and no fluid is known";
        return Check::to_do("catalogue", sentence, patient.command("catalogue import FOLDER"));
    };
    let digits: String = current.revision_id.chars().take(16).collect();
    if let Err(error) = catalogue::kept(&patient.folder, &current.revision_id) {
        return Check::to_do("catalogue", error.to_string(), "put the folder back from a backup");
    }
    let since = time_in_words(current.adopted_us);
    Check::well("catalogue", format!("revision {digits} is current since {since}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clock_that_went_back_is_told_with_the_difference() {
        let now_us = 1_773_831_600_000_000;
        assert_eq!(clock_check(now_us, None, false).next, None);
        assert_eq!(clock_check(now_us, Some(now_us), false).next, None);
        assert!(clock_check(now_us, Some(now_us), true).sentence.contains("network"));
        let back = clock_check(now_us, Some(now_us + 3 * 86_400_000_000), true);
        assert!(back.sentence.ends_with("went back by 3 days") && back.next.is_some(), "{back:?}");
    }
}
