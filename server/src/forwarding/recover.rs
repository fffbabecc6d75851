//! `recover`: makes a site's folder from the owner's copy, where the site lost its disk, or its own copy is older or went on
//! differently.
//!
//! A new folder, never over anything: the owner's entries at their places, each leaf and root made anew, then entries of the
//! site's own folder that the owner lacks, appended in their order, and a new epoch. What stands beside the journal is taken
//! over from the site's own folder, if there is one; the owner never had it. The other way round nothing is needed: an owner's
//! copy that is lost or older is filled again by the site, since what it has is the cursor. Called by the binary.

use super::intake;
use super::joined::{Met, founding, meet};
use super::outward::{Outward, Returned, Unanswered};
use super::owner_link::{OwnerLink, forget_drawn};
use super::standing::{Point, is_another};
use crate::backup::files_copied;
use crate::catalogue::{self, adoptions};
use crate::clock::{Clock, Entropy, hex, sixteen};
use crate::convert::signed;
use crate::desk::{SITE_NAME_SETTING, check_site};
use crate::door::Identity;
use crate::error::ServerError;
use crate::folder::{Building, Folder, LockedFolder, Reached};
use crate::own_station::OwnStation;
use crate::status::Forwarding;
use crate::verify::{issued_records, note_lost_records, verify};
use crate::whereabouts::Place;
use standpipe_engine::catalogue::RevisionId;
use standpipe_proto::check::Violation;
use standpipe_proto::dial::Pin;
use standpipe_proto::v1;
use standpipe_store::tree::entry_leaf_hash;
use standpipe_store::tree::{Frontier, Hash};
use standpipe_store::{
    Beside as _, JobId, JobNumber, JobRow, Journal, NewEntry, PAGE_ROWS_MAX, Replica as _, SqliteStore,
    StoredEntry, Tokens as _, Told, carry_beside,
};
use std::collections::{BTreeSet, HashMap};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;
use tokio::time::sleep;

/// A name that stands for a site while nobody knows which one it is; the owner's server says it.
const NOT_YET_KNOWN: &str = "not-yet-known";
/// What the name of a folder ends with that is made beside another one.
const BESIDE: &str = "-recovered";
/// Tries in a row, where the owner's server is away in the middle of it; a link may flap.
const TRIES_MAX: u32 = 20;
/// Longest pause between them; they begin with a second and double.
const PAUSE_LONGEST: Duration = Duration::from_secs(30);

/// A site made from the owner's copy.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Recovered {
    /// Where it lies.
    pub path: PathBuf,
    /// Its identity.
    pub site: String,
    /// Entries that the owner had.
    pub from_owner: u64,
    /// Entries of the site's own folder that came after them.
    pub own: u64,
    /// Jobs that have another number than in the site's own folder: the one before and the one now.
    pub renumbered: Vec<(String, String)>,
    /// Issued records whose files are not there.
    pub records_lost: u64,
    /// Whether the site's own folder was there, with what stands beside the journal.
    pub beside: bool,
    /// Epoch of the new journal, 32 hexadecimal digits.
    pub epoch: String,
    /// Root over all entries, 64 hexadecimal digits.
    pub root: String,
}

/// What recovering works with.
pub struct RecoverOptions {
    /// Address and code that the owner's server printed; without them the site's own link is used.
    pub code: Option<(String, String)>,
    /// Whether the site's own folder is that of the same workshop, founded a second time: its entries come after the owner's
    /// although not even the first of them is the same.
    pub founded_anew: bool,
    /// What says what time it is.
    pub clock: Arc<dyn Clock>,
    /// What gives random bits.
    pub entropy: Arc<dyn Entropy>,
}

/// The site's own folder, as far as it is there.
struct Old {
    folder: LockedFolder,
    store: SqliteStore,
}

/// Makes a site's folder from the owner's copy: in `dir` if nothing is there, else beside it.
///
/// # Errors
/// [`ServerError::ServerRuns`]; [`ServerError::FolderTaken`]; [`ServerError::OwnerAway`] and [`ServerError::OwnerRefused`];
/// otherwise what the disk says. Nothing was changed then, and nothing is left but the token that was drawn for the code,
/// beside the folder that was to be made: the next try with the same code goes on with it.
pub async fn recover(dir: &Path, options: RecoverOptions, told: Told<'_>) -> Result<Recovered, ServerError> {
    let is_empty = std::fs::read_dir(dir).map_or(true, |mut inside| inside.next().is_none());
    if is_empty && options.founded_anew {
        let what = format!(
            "says that the folder is the same workshop's, founded a second time, but nothing is in {}; leave it out",
            dir.display()
        );
        return Err(ServerError::OutsideBounds(vec![Violation { field: "--founded-anew".to_owned(), what }]));
    }
    if is_empty {
        return recovered(None, dir, options, told).await;
    }
    let folder = Folder::find(dir)?.lock()?;
    let Place::File(journal) = folder.place()? else {
        let sentence = format!(
            "the journal of {} lies in a database; bring it into the folder first: standpipe-server move --to sqlite --dir {}",
            dir.display(),
            dir.display()
        );
        return Err(ServerError::OwnerRefused { sentence });
    };
    let mut name = dir.file_name().unwrap_or(std::ffi::OsStr::new("site")).to_owned();
    name.push(BESIDE);
    let target = dir.with_file_name(name);
    let store = SqliteStore::open_for_reading(&journal).await?;
    let old = Old { folder, store };
    let made = recovered(Some(&old), &target, options, told).await;
    old.store.close().await?;
    made
}

async fn recovered(
    old: Option<&Old>,
    target: &Path,
    options: RecoverOptions,
    told: Told<'_>,
) -> Result<Recovered, ServerError> {
    let (building, folder) = Building::begin(target)?;
    let (link, owner) = owner_of(old, target, &options).await?;
    let site = match old {
        Some(old) => old.store.head().await?.site,
        None => site_at(&owner).await?,
    };
    let expected = (site.as_str(), founding_told(old, &options).await?);
    let copied = Copied::of(&owner, expected, &folder, told).await?;
    let store = &copied.store;
    let filled = filled(old, &folder, &copied, &owner, &options).await;
    let closed = store.close().await;
    let (own, records) = filled?;
    closed?;
    SqliteStore::renew_epoch(&folder.journal(), sixteen(&*options.entropy)?).await?;
    link.keep(folder.path())?;
    let store = SqliteStore::open(&folder.journal()).await?;
    let head = store.head().await;
    store.close().await?;
    let head = head?;
    folder.remember(&Reached::from(&head))?;
    let report = verify(folder.path()).await?;
    if !report.is_sound() {
        let damage = report.report.damage.iter().map(ToString::to_string).chain(report.beside);
        let what = damage.collect::<Vec<_>>().join("; ");
        return Err(ServerError::BackupDamaged { path: target.to_owned(), what });
    }
    building.finish()?;
    let (beside, drawn) = drawn_beside(target);
    forget_drawn(beside, &drawn)?;
    Ok(Recovered {
        path: target.to_owned(),
        site,
        from_owner: copied.entries,
        own: own.entries,
        renumbered: own.renumbered,
        records_lost: records,
        beside: old.is_some(),
        epoch: hex(&head.epoch),
        root: hex(&head.root),
    })
}

/// Where the token for a code lies while it is recovered: beside the folder in the making, which is gone after a failure.
fn drawn_beside(target: &Path) -> (&Path, String) {
    let name = target.file_name().unwrap_or(std::ffi::OsStr::new("site")).to_string_lossy();
    (target.parent().unwrap_or(Path::new("")), format!(".{name}-drawn"))
}

/// The owner's server, met by a code or known by the site's own link.
async fn owner_of(
    old: Option<&Old>,
    target: &Path,
    options: &RecoverOptions,
) -> Result<(OwnerLink, Outward), ServerError> {
    if let Some((host, code)) = &options.code {
        let (beside, drawn) = drawn_beside(target);
        // Whoever lost the disk need not know which site it was.
        let site = match old {
            Some(old) => old.store.head().await?.site,
            None => String::new(),
        };
        let brings = (site.as_str(), founding_told(old, options).await?);
        let by = (&options.clock, &*options.entropy);
        let Met { link, owner, .. } = meet((beside, &drawn), (host, code), brings, by).await?;
        return Ok((link, owner));
    }
    let dir = old.map(|old| old.folder.path());
    let link = dir.map(OwnerLink::of).transpose()?.flatten();
    let (Some(dir), Some(link)) = (dir, link) else {
        let sentence = "nothing here says where the owner's server is; print address and code there for the station of this \
                        site, with standpipe-server station code NAME, and give both: --from-owner HOST CODE"
            .to_owned();
        return Err(ServerError::OwnerRefused { sentence });
    };
    let (address, authority) = link.reached_at(dir)?;
    let owner =
        Outward::to(address, Pin::Authority(authority), Some(&link.token), Arc::clone(&options.clock))?;
    Ok((link, owner))
}

/// The root over the first entry of the site's own folder, which the owner's copy has to begin with; nothing where there is no
/// such folder, or it was founded a second time.
async fn founding_told(old: Option<&Old>, options: &RecoverOptions) -> Result<Option<Hash>, ServerError> {
    match old.filter(|_| !options.founded_anew) {
        Some(old) => Ok(founding(&old.store, &old.store.head().await?).await?),
        None => Ok(None),
    }
}

/// The site whose journal the station brings; whoever lost the disk need not know it.
async fn site_at(owner: &Outward) -> Result<String, ServerError> {
    match owner.returned(NOT_YET_KNOWN, 1).await {
        Ok(_) => Ok(NOT_YET_KNOWN.to_owned()),
        Err(unanswered) => match unanswered.other_site() {
            Some(site) => Ok(site.to_owned()),
            None => Err(unanswered.into()),
        },
    }
}

/// The owner's entries in a new file.
struct Copied {
    store: SqliteStore,
    entries: u64,
    /// How the site is called there.
    name: String,
}

impl Copied {
    /// * `founding` – root over the first entry that is expected
    async fn of(
        owner: &Outward,
        (site, founding): (&str, Option<Hash>),
        folder: &Folder,
        told: Told<'_>,
    ) -> Result<Self, ServerError> {
        let first = owner.returned(site, 1).await.map_err(|why| nothing_returned(site, why))?;
        let Returned { there, entries: first, site_name: name } = first;
        let of_first = first.first().map(|entry| entry_leaf_hash(1, received_us(entry), &entry.entry));
        if is_another(of_first, founding) {
            let sentence =
                Forwarding::OfAnother { site: site.to_owned(), name, kept: there.size }.to_string();
            return Err(ServerError::OwnerRefused { sentence });
        }
        let store = SqliteStore::create(&folder.journal(), site, there.epoch).await?;
        let copied = Self::fetch(&store, (site, there), first, owner, told).await;
        match copied {
            Ok(entries) => Ok(Self { store, entries, name }),
            Err(error) => {
                store.close().await?;
                Err(error)
            }
        }
    }

    async fn fetch(
        store: &SqliteStore,
        (site, mut there): (&str, Point),
        first: Vec<v1::ForwardedEntry>,
        owner: &Outward,
        told: Told<'_>,
    ) -> Result<u64, ServerError> {
        let (mut frontier, mut page) = (Frontier::default(), first);
        while frontier.size() < there.size {
            if page.is_empty() {
                let sentence = format!(
                    "the owner's server says that it has {} entries of this site and gives back {}; look at it with \
                     standpipe-server verify there",
                    there.size,
                    frontier.size()
                );
                return Err(ServerError::OwnerRefused { sentence });
            }
            replicated(store, site, &there, &mut frontier, page).await?;
            told(&format!("{} of {} entries are here", frontier.size(), there.size));
            page = Vec::new();
            if frontier.size() < there.size {
                let next = returned(owner, site, frontier.size().saturating_add(1), told).await?;
                (there, page) = (next.there, next.entries);
            }
        }
        if frontier.root() != there.root {
            let sentence = "the entries that the owner's server gave back make another root than it says; nothing was made: \
                            look at it with standpipe-server verify there"
                .to_owned();
            return Err(ServerError::OwnerRefused { sentence });
        }
        Ok(frontier.size())
    }
}

/// Asks entries back, and again where the owner's server is away for a while: what came before is not thrown away for it.
async fn returned(
    owner: &Outward,
    site: &str,
    first_seq: u64,
    told: Told<'_>,
) -> Result<Returned, ServerError> {
    let (mut tries, mut pause) = (1, Duration::from_secs(1));
    loop {
        match owner.returned(site, first_seq).await {
            Ok(answer) => return Ok(answer),
            Err(why) if why.away && tries < TRIES_MAX => {
                told(&format!("{}; it is asked again in {} s", why.sentence, pause.as_secs()));
            }
            Err(why) => return Err(why.into()),
        }
        sleep(pause).await;
        tries += 1;
        pause = pause.saturating_mul(2).min(PAUSE_LONGEST);
    }
}

/// Why the owner's server gave nothing back.
fn nothing_returned(site: &str, why: Unanswered) -> ServerError {
    let sentence = if why.is_unheard() {
        format!(
            "the owner's server has no entry of site '{site}'; nothing can be brought back from there: use a backup, \
             standpipe-server restore"
        )
    } else if why.is_not_let_in() {
        "the owner's server does not let this site in by the link that its folder has; there: standpipe-server station code \
         NAME; then give both here: --from-owner HOST CODE"
            .to_owned()
    } else {
        return why.into();
    };
    ServerError::OwnerRefused { sentence }
}

/// When the site's server took an entry that was given back.
fn received_us(entry: &v1::ForwardedEntry) -> i64 {
    let time = entry.received_time.unwrap_or_default();
    time.seconds.saturating_mul(1_000_000).saturating_add(i64::from(time.nanos) / 1_000)
}

/// Puts entries that were given back at their places.
async fn replicated(
    store: &SqliteStore,
    site: &str,
    there: &Point,
    frontier: &mut Frontier,
    page: Vec<v1::ForwardedEntry>,
) -> Result<(), ServerError> {
    let (root_before, first_seq) = (frontier.root(), frontier.size().saturating_add(1));
    for (seq, entry) in (first_seq..).zip(&page) {
        frontier.append(entry_leaf_hash(seq, received_us(entry), &entry.entry));
    }
    let request = v1::ForwardEntriesRequest {
        site_id: site.to_owned(),
        epoch: there.epoch.to_vec(),
        first_seq: signed(first_seq),
        root_before: root_before.to_vec(),
        entries: page,
        root_after: frontier.root().to_vec(),
    };
    let brought = intake::read(request).map_err(|cause| ServerError::OwnerRefused {
        sentence: format!("what the owner's server gave back cannot be taken ({cause}); look at its version"),
    })?;
    store.replicate(brought.batch).await?;
    Ok(())
}

/// What of the site's own folder came after the owner's entries.
#[derive(Default)]
struct Own {
    entries: u64,
    renumbered: Vec<(String, String)>,
}

/// Brings everything into the new folder that does not come from the owner's journal; says what of the site's own entries
/// was appended, and how many issued records are lost.
async fn filled(
    old: Option<&Old>,
    folder: &LockedFolder,
    copied: &Copied,
    owner: &Outward,
    options: &RecoverOptions,
) -> Result<(Own, u64), ServerError> {
    let store = &copied.store;
    let own = match old {
        Some(old) => {
            let own = appended(&old.store, store).await?;
            carry_beside(&old.store, store).await?;
            files_copied(&old.folder, folder).await?;
            // A code that nobody used yet may have been printed for somebody who is no longer to come in.
            store.remove_open_codes().await?;
            own
        }
        None => Own::default(),
    };
    revisions_fetched(folder, store, owner).await?;
    if old.is_none() {
        let head = store.head().await?;
        // As it was called before: the catalogue's name stands on records, and is often that of all workshops of an owner.
        let name = match check_site(&head.site, &copied.name) {
            Ok(()) => copied.name.as_str(),
            Err(_) => head.site.as_str(),
        };
        store.put_setting(SITE_NAME_SETTING, name).await?;
        // The server shows this certificate at its first start, unless it is told further names.
        Identity::open(folder, Vec::new(), options.clock.now_us())?;
    }
    // The numbers of the server's own station may go on differently from here than in the site that was lost.
    OwnStation::create(store, &*options.entropy).await?;
    let lost = note_lost_records(folder, issued_records(store).await?)?;
    Ok((own, lost))
}

/// Appends the entries of the site's own folder that the owner lacks, in their order.
async fn appended(from: &SqliteStore, to: &SqliteStore) -> Result<Own, ServerError> {
    let (mut own, mut next) = (Own::default(), 1);
    let mut jobs: HashMap<JobId, Option<JobRow>> = HashMap::new();
    let mut told: BTreeSet<JobNumber> = BTreeSet::new();
    loop {
        let page = from.read(next, PAGE_ROWS_MAX).await?;
        let Some(last) = page.last() else { return Ok(own) };
        next = last.seq.saturating_add(1);
        for stored in page {
            if let Some(there) = to.entry(stored.entry_id).await? {
                if there.bytes != stored.bytes {
                    return Err(other_bytes(&stored, &there));
                }
                continue;
            }
            let job = match stored.job {
                None => None,
                Some(id) => match jobs.get(&id) {
                    Some(job) => job.clone(),
                    None => {
                        let job = from.job(id).await?;
                        jobs.insert(id, job.clone());
                        job
                    }
                },
            };
            let number = job.as_ref().map(|job| job.number);
            let now = to.append(NewEntry::again(stored, job.as_ref())).await?.job_number;
            own.entries += 1;
            if let (Some(before), Some(now)) = (number, now)
                && before != now
                && told.insert(before)
            {
                own.renumbered.push((before.to_string(), now.to_string()));
            }
        }
    }
}

/// An entry that is not the same in both: one of the two was changed, and neither is passed over in silence.
fn other_bytes(own: &StoredEntry, there: &StoredEntry) -> ServerError {
    let sentence = format!(
        "entry {} stands at place {} of the site's own folder and at place {} of the owner's copy, with other bytes; nothing \
         was made: look at both with standpipe-server verify, and use a backup of the one that was changed",
        own.entry_id, own.seq, there.seq
    );
    ServerError::OwnerRefused { sentence }
}

/// Keeps the files of every adopted revision that is not here.
async fn revisions_fetched(folder: &Folder, store: &SqliteStore, owner: &Outward) -> Result<(), ServerError> {
    let adopted: BTreeSet<String> = adoptions(store).await?.into_iter().map(|it| it.revision_id).collect();
    for revision in adopted {
        if folder.revision(&revision).is_dir() {
            continue;
        }
        let files = owner.revision(&revision).await?;
        if RevisionId::of(&files).to_string() != revision {
            let sentence = format!(
                "the files of catalogue revision {revision} that the owner's server has are not those of it; put them back \
                 there from a backup, then say this again"
            );
            return Err(ServerError::OwnerRefused { sentence });
        }
        catalogue::keep(folder, &revision, &files)?;
    }
    Ok(())
}
