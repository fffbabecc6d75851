//! Where the copies of journals lie that an owner's server keeps: made, found, opened, named.
//!
//! Called by [`super::sites`], and by the verbs that put a copy back. Never here: what comes into a copy.

use super::intake::is_timely;
use crate::clock::{Entropy, sixteen};
use crate::config;
use crate::desk::SITE_NAME_SETTING;
use crate::error::ServerError;
use crate::folder::{Building, Folder, LockedFolder, Reached, replace};
use crate::whereabouts::Place;
use serde::{Deserialize, Serialize};
use standpipe_proto::check::{Violation, sealed_entry, violations};
use standpipe_proto::v1::CompareJournalRequest;
use standpipe_store::{
    Beside as _, Head, Journal as _, PAGE_ROWS_MAX, PostgresAddress, PostgresStore, SqliteStore, Store,
    StoreError,
};
use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Setting beside a journal that says that it is a copy, so that no other is ever taken for one.
const COPY_SETTING: &str = "copied_journal";

/// Files in the folder of a copy: what its site said last, and entries that cannot be read.
const HEARD_FILE: &str = "heard";
const LEFT_OUT_FILE: &str = "left-out";
/// The same of entries whose time cannot be.
const UNTIMELY_FILE: &str = "untimely";
/// Time after which it is written down again that a site was heard, though nothing else is new.
const HEARD_EVERY_US: i64 = 60_000_000;
/// Most entries that are named; the others are counted.
const NAMED_MAX: usize = 20;

/// Where the copies of an owner's server lie.
#[derive(Debug, Clone)]
pub(crate) struct Shelf {
    /// DIR/sites.
    root: PathBuf,
    /// Where new journals are put: a database, or each in its own folder.
    database: Option<PostgresAddress>,
    /// How the database is reached, if the owner's settings say so.
    reached_by: Option<PostgresAddress>,
}

impl Shelf {
    /// That of the owner's server in a folder.
    ///
    /// # Errors
    /// When the folder or its settings cannot be read.
    pub(crate) fn of(folder: &Folder) -> Result<Self, ServerError> {
        let database = match folder.place()? {
            Place::File(_) => None,
            Place::Database { address, .. } => Some(address),
        };
        Ok(Self { root: folder.sites(), database, reached_by: config::store_address(folder.path())? })
    }

    /// Where the copy of a site lies.
    pub(crate) fn path(&self, site: &str) -> PathBuf {
        self.root.join(site)
    }

    /// Every copy: identity and name of the site, and how far its journal had come at least.
    ///
    /// # Errors
    /// When the folders cannot be read.
    pub(crate) fn found(&self) -> Result<Vec<(String, String, u64)>, ServerError> {
        let folders = match fs::read_dir(&self.root) {
            Ok(folders) => folders,
            Err(cause) if cause.kind() == ErrorKind::NotFound => return Ok(Vec::new()),
            Err(cause) => return Err(ServerError::file("reading", &self.root)(cause)),
        };
        let mut found = Vec::new();
        for folder in folders {
            let folder = folder.map_err(ServerError::file("reading", &self.root))?;
            let id = folder.file_name().to_string_lossy().into_owned();
            if check_site(&id).is_err() || !folder.path().is_dir() {
                continue;
            }
            // One that is damaged must not hide the others; it is told when it is opened.
            let (name, kept) = match Folder::find(&folder.path()) {
                Ok(folder) => (folder.copied_name()?, folder.reached().map_or(0, |reached| reached.size)),
                Err(error) => {
                    tracing::warn!(site = id, %error, "the copy of a site cannot be used");
                    (None, 0)
                }
            };
            let name = name.filter(|name| !name.is_empty()).unwrap_or_else(|| id.clone());
            found.push((id, name, kept));
        }
        found.sort();
        Ok(found)
    }

    /// Makes the empty copy of a site that was never heard before.
    ///
    /// # Errors
    /// When the identity cannot be the name of a folder, or the disk or database refuses.
    pub(crate) async fn make(
        &self,
        site: &str,
        name: &str,
        entropy: &dyn Entropy,
    ) -> Result<(), ServerError> {
        check_site(site)?;
        let unfinished = self.root.join(format!(".{site}-unfinished"));
        if unfinished.exists() {
            // Left by a server that was cut off here; nobody else writes in this folder, and nothing was kept in it yet.
            fs::remove_dir_all(&unfinished).map_err(ServerError::file("clearing", &unfinished))?;
        }
        let (building, folder) = Building::begin(&self.path(site))?;
        let epoch = sixteen(entropy)?;
        let store: Arc<dyn Store> = match &self.database {
            None => Arc::new(SqliteStore::create(&folder.journal(), site, epoch).await?),
            Some(address) => {
                let store = database_copy(address, site, epoch).await?;
                folder.point_to(address, site)?;
                store
            }
        };
        let made = named(&*store, name).await;
        store.close().await?;
        let head = made?;
        folder.call_copy(name)?;
        folder.remember(&Reached::from(&head))?;
        building.finish()
    }

    /// Opens the copy of a site for taking entries, called as it is now.
    ///
    /// # Errors
    /// Whatever is wrong with it.
    pub(crate) async fn open(
        &self,
        site: &str,
        name: &str,
    ) -> Result<(LockedFolder, Arc<dyn Store>), ServerError> {
        let folder = Folder::find(&self.path(site))?.lock()?;
        let store = self.place(&folder)?.open().await?;
        match self.look(&folder, &*store, name).await {
            Ok(()) => Ok((folder, store)),
            Err(error) => {
                store.close().await?;
                Err(error)
            }
        }
    }

    /// Opens the copy of a site for reading only, also beside a running server.
    ///
    /// # Errors
    /// Whatever is wrong with it.
    pub(crate) async fn open_for_reading(&self, site: &str) -> Result<Arc<dyn Store>, ServerError> {
        self.place(&Folder::find(&self.path(site))?)?.open_for_reading().await
    }

    /// Writes down how a site is called now.
    ///
    /// # Errors
    /// When the disk refuses.
    pub(crate) fn rename(&self, site: &str, name: &str) -> Result<(), ServerError> {
        Folder::find(&self.path(site))?.lock()?.call_copy(name)
    }

    /// Where a copy lies; a database is reached as the owner's settings say.
    fn place(&self, folder: &Folder) -> Result<Place, ServerError> {
        let place = folder.place()?;
        let Place::Database { address, site } = place else { return Ok(place) };
        let same = self.reached_by.iter().find(|by| by.shown() == address.shown()).cloned();
        Ok(Place::Database { address: same.unwrap_or(address), site })
    }

    /// Holds a copy against what is remembered of it. Its epoch changes with that of the journal it is a copy of, and the
    /// file may not have been written since; what came since is looked through for entries that cannot be read.
    async fn look(&self, folder: &LockedFolder, store: &dyn Store, name: &str) -> Result<(), ServerError> {
        let head = store.head().await?;
        let reached = Reached { epoch: head.epoch, ..folder.reached()? };
        if reached.size > head.seq {
            // Its site sends again what an older copy lacks.
            tracing::warn!(
                site = head.site,
                had = reached.size,
                has = head.seq,
                "the copy of a journal is an older one"
            );
        } else {
            folder.compare(&reached, store).await?;
        }
        Odd::after(store, reached.size).await?.add(folder)?;
        folder.remember(&Reached::from(&head))?;
        if folder.copied_name()?.is_none() {
            folder.call_copy(name)?;
        }
        named(store, name).await.map(drop)
    }
}

/// What the server of a site said when it was heard last.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Heard {
    /// When that was, microseconds since 1970, UTC.
    pub(crate) at_us: i64,
    /// Entries that its journal has.
    pub(crate) said: u64,
    /// Whether it lost entries that are kept here.
    pub(crate) lost: bool,
}

impl Heard {
    /// What is written down in the folder of a copy; nothing where that cannot be read, since it is said anew soon.
    pub(crate) fn read(folder: &Path) -> Option<Self> {
        serde_json::from_slice(&fs::read(folder.join(HEARD_FILE)).ok()?).ok()
    }

    pub(super) fn write(&self, folder: &Folder) -> Result<(), ServerError> {
        write(&folder.path().join(HEARD_FILE), self)
    }

    /// Whether it is worth writing down after what is written already.
    pub(super) fn is_news_after(&self, before: &Self) -> bool {
        self.lost != before.lost || self.at_us.saturating_sub(before.at_us) >= HEARD_EVERY_US
    }
}

/// Entries of a copy that this version cannot read.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct LeftOut {
    /// How many there are.
    pub(crate) count: u64,
    /// Places of the first of them.
    pub(crate) first: Vec<u64>,
    /// Place of the last of them.
    last: u64,
}

impl LeftOut {
    /// What is written down in the folder of a copy.
    pub(crate) fn read(folder: &Path) -> Self {
        Self::of(&folder.join(LEFT_OUT_FILE))
    }

    /// The same of entries whose time cannot be: they are left out of nothing.
    pub(crate) fn read_untimely(folder: &Path) -> Self {
        Self::of(&folder.join(UNTIMELY_FILE))
    }

    fn of(path: &Path) -> Self {
        serde_json::from_slice(&fs::read(path).unwrap_or_default()).unwrap_or_default()
    }

    /// Writes further ones down; those that stand there already are not counted twice.
    fn add(path: &Path, places: &[u64]) -> Result<(), ServerError> {
        let mut left_out = Self::of(path);
        let last = left_out.last;
        let new: Vec<u64> = places.iter().copied().filter(|seq| *seq > last).collect();
        let Some(last) = new.last() else { return Ok(()) };
        left_out.count += new.len() as u64;
        left_out.last = *last;
        let room = NAMED_MAX.saturating_sub(left_out.first.len());
        left_out.first.extend(new.iter().take(room));
        write(path, &left_out)
    }
}

fn write(path: &Path, what: &impl Serialize) -> Result<(), ServerError> {
    let text = serde_json::to_vec(what).map_err(|error| ServerError::file("writing", path)(error.into()))?;
    replace(path, &text)
}

/// Places of entries that are kept, and named because something is odd about them.
#[derive(Debug, Default)]
pub(super) struct Odd {
    /// This version cannot read them.
    pub(super) unreadable: Vec<u64>,
    /// Their time cannot be.
    pub(super) untimely: Vec<u64>,
}

impl Odd {
    /// Those after a place.
    pub(super) async fn after(store: &dyn Store, seq: u64) -> Result<Self, ServerError> {
        let (mut odd, mut from) = (Self::default(), seq.saturating_add(1));
        loop {
            let page = store.read(from, PAGE_ROWS_MAX).await?;
            let Some(last) = page.last() else { return Ok(odd) };
            from = last.seq.saturating_add(1);
            for entry in &page {
                if sealed_entry(&entry.bytes).is_err() {
                    odd.unreadable.push(entry.seq);
                }
                if !is_timely(entry.received_us) {
                    odd.untimely.push(entry.seq);
                }
            }
        }
    }

    /// Writes them down in the folder of a copy.
    pub(super) fn add(&self, folder: &Folder) -> Result<(), ServerError> {
        LeftOut::add(&folder.path().join(LEFT_OUT_FILE), &self.unreadable)?;
        LeftOut::add(&folder.path().join(UNTIMELY_FILE), &self.untimely)
    }
}

/// Requires that a site's identity can be the name of a folder, and no hidden one.
///
/// # Errors
/// [`ServerError::OutsideBounds`].
pub(crate) fn check_site(site: &str) -> Result<(), ServerError> {
    let asked = CompareJournalRequest { site_id: site.to_owned(), ..CompareJournalRequest::default() };
    let mut found = violations(&asked);
    found.retain(|violation| violation.field == "site_id");
    if found.is_empty() && site.starts_with('.') {
        let what =
            "begins with a dot; a copy of its journal needs a plain name: found the site anew under another";
        found.push(Violation { field: "site_id".to_owned(), what: what.to_owned() });
    }
    if found.is_empty() { Ok(()) } else { Err(ServerError::OutsideBounds(found)) }
}

/// Marks a journal as a copy and says beside it how the site is called; says how far it reaches.
async fn named(store: &dyn Store, name: &str) -> Result<Head, ServerError> {
    if store.setting(COPY_SETTING).await?.is_none() {
        store.put_setting(COPY_SETTING, "yes").await?;
    }
    if store.setting(SITE_NAME_SETTING).await?.as_deref() != Some(name) {
        store.put_setting(SITE_NAME_SETTING, name).await?;
    }
    Ok(store.head().await?)
}

/// The copy of a site in a database: a new one, or one that stayed there when its folder was lost.
async fn database_copy(
    address: &PostgresAddress,
    site: &str,
    epoch: [u8; 16],
) -> Result<Arc<dyn Store>, ServerError> {
    match PostgresStore::create(address, site, epoch).await {
        Ok(store) => Ok(Arc::new(store)),
        Err(StoreError::SiteThere { .. }) => {
            // Only looked at first: its own server may be writing it.
            let there = PostgresStore::open_for_reading(address, site).await?;
            let ours = is_ours(&there).await;
            there.close().await?;
            if ours? {
                Ok(Arc::new(PostgresStore::open(address, site).await?))
            } else {
                Err(ServerError::SiteNoCopy { site: site.to_owned() })
            }
        }
        Err(error) => Err(error.into()),
    }
}

/// Whether a journal is a copy: it says so, or its making was cut off before it said anything. The
/// journal that a site writes itself says from its founding on how the site is called.
async fn is_ours(there: &PostgresStore) -> Result<bool, StoreError> {
    Ok(there.setting(COPY_SETTING).await?.is_some()
        || (there.head().await?.seq == 0 && there.setting(SITE_NAME_SETTING).await?.is_none()))
}
