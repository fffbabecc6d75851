//! The workshops whose journals an owner's server keeps: how far each came, forks, what cannot be read.

use super::{Check, Patient, span};
use crate::catalogue;
use crate::clock::hex;
use crate::error::ServerError;
use crate::folder::Folder;
use crate::forwarding::copy::{Heard, LeftOut, Shelf};
use crate::forwarding::keeping::FORK_STANDS_US;
use crate::time_in_words;
use standpipe_store::{Fork, Store};
use std::collections::BTreeMap;

/// A workshop that was not heard for so long is told; links may be down for days.
const SILENT_US: i64 = 3 * 86_400_000_000;

pub(super) async fn checks(patient: &Patient<'_>, store: &dyn Store) -> Result<Vec<Check>, ServerError> {
    let shelf = Shelf::of(&patient.folder)?;
    let mut forks: BTreeMap<String, Fork> = BTreeMap::new();
    for fork in store.forks().await?.into_iter().filter(|fork| fork.settled_us.is_none()) {
        // The latest comes first.
        forks.entry(fork.site.clone()).or_insert(fork);
    }
    let found = shelf.found()?;
    let mut checks = Vec::new();
    let stations = store.stations().await?;
    let stands = |id: &str| stations.iter().any(|station| station.id == id && station.revoked_us.is_none());
    let bringers = store.station_sites().await?;
    let nobody = |id: &str| !bringers.iter().any(|(station, site)| site == id && stands(station));
    for (station, site) in bringers.iter().filter(|(id, _)| stands(id)) {
        if !found.iter().any(|(id, ..)| id == site) {
            let sentence =
                format!("station {station} was enrolled for the site {site}, which was never heard");
            let next = format!(
                "at that workshop: standpipe-server station join-owner HOST CODE; if there is none of this identity: {}",
                patient.command(&format!("station revoke {station}"))
            );
            checks.push(Check::to_do("sites", sentence, next));
        }
    }
    checks.extend(brought_twice(&bringers, stands, patient));
    if found.is_empty() && checks.is_empty() {
        let next = patient.command("station add NAME --role forwarder --site SITE");
        checks.push(Check::to_do("sites", "no workshop brings its journal here yet", next));
    }
    for (id, name, kept) in found {
        let place = Place { name: format!("{name} ({id})"), nobody: nobody(&id), patient };
        checks.push(match forks.get(&id) {
            Some(fork) => place.forked(fork, reaches(&shelf, &id).await.unwrap_or(kept)),
            None => place.check(&shelf, &id).await,
        });
    }
    Ok(checks)
}

/// Sites whose journal more than one station may bring: two workshops may have been founded under one identity.
fn brought_twice(
    bringers: &BTreeMap<String, String>,
    stands: impl Fn(&str) -> bool,
    patient: &Patient<'_>,
) -> Vec<Check> {
    let mut of_site: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    for (station, site) in bringers.iter().filter(|(station, _)| stands(station)) {
        of_site.entry(site).or_default().push(station);
    }
    let twice = of_site.into_iter().filter(|(_, stations)| stations.len() > 1);
    let told = |(site, stations): (&str, Vec<&str>)| {
        let sentence = format!("the journal of {site} may be brought by {}", stations.join(", "));
        let next = format!(
            "if they are of two workshops, one needs an identity of its own, which it is founded with: standpipe-server init \
             --site SITE; take back what is not used: {}",
            patient.command("station revoke NAME")
        );
        Check::to_do("sites", sentence, next)
    };
    twice.map(told).collect()
}

/// What is told of entries whose time cannot be; nothing where there are none.
fn untimely(entries: &LeftOut) -> String {
    if entries.count == 0 {
        return String::new();
    }
    let places: Vec<_> = entries.first.iter().map(ToString::to_string).collect();
    let (count, places) = (entries.count, places.join(", "));
    format!("; the clock of its server was wrong when it took {count} of them: {places}")
}

/// Entries of a copy; nothing where it cannot be read.
async fn reaches(shelf: &Shelf, id: &str) -> Option<u64> {
    let store = shelf.open_for_reading(id).await.ok()?;
    let head = store.head().await;
    store.close().await.ok()?;
    Some(head.ok()?.seq)
}

/// A workshop as it is named.
struct Place<'a> {
    name: String,
    /// Whether no station stands that may bring its journal.
    nobody: bool,
    patient: &'a Patient<'a>,
}

impl Place<'_> {
    fn forked(&self, fork: &Fork, kept: u64) -> Check {
        let digits = |root: &[u8]| hex(root).chars().take(16).collect::<String>();
        let sentence = format!(
            "the journal of {} went on differently: its server showed {} entries with root {}, here {} are kept with root \
             {}; first at {}, last at {}, by station {}. {}. This is told until the right journal comes, {} minutes or more after the \
             other one was seen last",
            self.name,
            fork.claimed.1,
            digits(&fork.claimed.2),
            fork.here.0,
            digits(&fork.here.1),
            time_in_words(fork.first_us),
            time_in_words(fork.last_us),
            fork.station,
            if kept > fork.here.0 {
                "Entries were kept since: either this copy or another one of the same disk went its own way; find out which one is \
                 right"
            } else {
                "Nothing more of it is taken"
            },
            FORK_STANDS_US / 60_000_000
        );
        Check::to_do("sites", sentence, RECOVER)
    }

    async fn check(&self, shelf: &Shelf, id: &str) -> Check {
        match self.look(shelf, id).await {
            Ok(check) => check,
            Err(error) => {
                let sentence = format!("the copy of {} cannot be read: {error}", self.name);
                let next = format!("standpipe-server verify {}", shelf.path(id).display());
                Check::to_do("sites", sentence, next)
            }
        }
    }

    async fn look(&self, shelf: &Shelf, id: &str) -> Result<Check, ServerError> {
        let store = shelf.open_for_reading(id).await?;
        let looked =
            async { Ok::<_, ServerError>((store.head().await?.seq, catalogue::adoptions(&*store).await?)) };
        let looked = looked.await;
        store.close().await?;
        let (kept, adoptions) = looked?;
        let (path, name) = (shelf.path(id), &self.name);
        let heard = Heard::read(&path);
        if let Some(heard) = heard.as_ref().filter(|heard| heard.lost) {
            let sentence = format!(
                "the server of {name} has {} entries, but {kept} of them are kept here: it lost some",
                heard.said
            );
            return Ok(Check::to_do("sites", sentence, RECOVER));
        }
        let left_out = LeftOut::read(&path);
        if left_out.count > 0 {
            let places: Vec<_> = left_out.first.iter().map(ToString::to_string).collect();
            let sentence = format!(
                "{} entries of {name} cannot be read by this version; they are kept and left out of what is computed: {}",
                left_out.count,
                places.join(", ")
            );
            return Ok(Check::to_do(
                "sites",
                sentence,
                "install the version that the workshop has, or a newer one",
            ));
        }
        let folder = Folder::find(&path)?;
        let missing = adoptions.iter().find(|it| catalogue::kept_files(&folder, &it.revision_id).is_err());
        if let Some(missing) = missing {
            let digits: String = missing.revision_id.chars().take(16).collect();
            let sentence = format!(
                "the files of catalogue revision {digits}, by which {name} judges, did not come; its jobs are judged by none"
            );
            return Ok(Check::to_do("sites", sentence, "look at the doctor of that workshop"));
        }
        let silent = heard.map(|heard| self.patient.now_us.saturating_sub(heard.at_us));
        let ago = silent.map_or("never heard".to_owned(), |us| format!("heard {} ago", span(us / 1_000_000)));
        let sentence = format!("{name}: {kept} entries, {ago}{}", untimely(&LeftOut::read_untimely(&path)));
        if self.nobody {
            let sentence =
                format!("{sentence}; nobody may bring it any more: every station that did is revoked");
            return Ok(Check::well("sites", sentence));
        }
        Ok(match silent {
            Some(us) if us >= SILENT_US => {
                Check::to_do("sites", sentence, "look at the link of that workshop")
            }
            _ => Check::well("sites", sentence),
        })
    }
}

/// What brings a workshop and its copy together again.
const RECOVER: &str =
    "at that workshop: bring back the newer copy, or standpipe-server recover --dir DIR --from-owner";
