//! The workshops whose journals an owner's server keeps: a folder each in DIR/sites/, like a site's own folder, so that
//! whatever reads a site reads these.
//!
//! A folder is made when its site is first heard. A journal lies in it, or in the owner's database where the owner's own
//! does. Journals are opened when they are asked for; few are open at once, and one that nobody holds makes room for the
//! next. Entries come in by [`crate::forwarding::intake`] only; everybody else reads.
//! Called by the handlers of forwarding, by the tallies and by the owner's pages.

use super::copy::{Heard, LeftOut, Shelf};
use super::queue::{Queue, Turn};
use super::standing::Standing;
use crate::clock::Clock;
use crate::config::{self, Mode};
use crate::error::ServerError;
use crate::folder::{Folder, LockedFolder, Reached};
use crate::status::{Cause, Forwarding, Overload};
use crate::workshop::{Premises, Whose, Workshop};
use standpipe_proto::limits::SITES_MAX;
use standpipe_store::{Fork, Store, StoreError};
use std::collections::{BTreeMap, HashMap};
use std::path::PathBuf;
use std::sync::{Arc, PoisonError, RwLock};
use tokio::sync::{Mutex, watch};

/// Most journals that are open at once: one in a database holds up to six connections.
pub(crate) const SITES_OPEN_MAX: usize = 16;
/// Most calls at once that bring entries or get them back; the others wait.
const TURNS: usize = SITES_OPEN_MAX / 2;
/// Most revisions whose files arrive at once; the others wait.
const ARRIVING_MAX: usize = 2;

/// A workshop by identity and name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct SiteShown {
    /// Identity of the site.
    pub(crate) id: String,
    /// How it is called.
    pub(crate) name: String,
}

/// How it stands with the journal of a workshop.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct SiteState {
    /// Which one.
    pub(crate) site: SiteShown,
    /// Last entry that is kept here.
    pub(crate) kept: u64,
    /// What its server said when it was heard last; nothing if it never was.
    pub(crate) heard: Option<Heard>,
    /// The fork that stands, if one does, as it was seen first: each entry that goes on beside the copy is another claim.
    pub(crate) fork: Option<Fork>,
    /// Entries that this version cannot read: they are kept and left out of what is computed.
    pub(crate) left_out: LeftOut,
}

/// An open journal of a workshop.
pub(crate) struct Held {
    /// Reads it.
    pub(crate) workshop: Arc<Workshop>,
    /// The journal and what stands beside it; entries come in by [`standpipe_store::Replica`] only.
    pub(crate) store: Arc<dyn Store>,
    /// Keeps other programs out while it is open.
    pub(crate) folder: LockedFolder,
    /// Held while a batch is looked at and kept, so that no two of one site come between each other.
    pub(crate) keeping: Mutex<()>,
}

/// The workshops whose journals an owner's server keeps.
pub(crate) struct Sites {
    /// What each journal is opened with, but for its own folder and store.
    premises: Premises,
    /// Where journals lie.
    shelf: Shelf,
    known: RwLock<BTreeMap<String, Known>>,
    open: Mutex<Open>,
    /// Calls that hold a journal open.
    turns: Queue,
    /// Revisions that are on their way here, each in memory until it is whole.
    arriving: Queue,
    grown: watch::Sender<u64>,
}

/// What is known of a site without its journal.
#[derive(Debug, Clone, Default)]
struct Known {
    name: String,
    kept: u64,
    heard: Option<Heard>,
}

/// The open ones, with the turn at which each was asked for last.
#[derive(Default)]
struct Open {
    held: HashMap<String, (u64, Arc<Held>)>,
    turn: u64,
    closed: bool,
}

impl Sites {
    /// Those of an owner's server; nothing for any other.
    ///
    /// # Errors
    /// When the folders cannot be looked into.
    pub(crate) fn of(premises: &Premises) -> Result<Option<Arc<Self>>, ServerError> {
        if premises.whose != Whose::Own(Mode::Owner) {
            return Ok(None);
        }
        let shelf = Shelf::of(&premises.folder)?;
        let found = shelf.found()?.into_iter().map(|(id, name, kept)| {
            let heard = Heard::read(&shelf.path(&id));
            (id, Known { name, kept, heard })
        });
        let known = RwLock::new(found.collect());
        let persons = config::persons(premises.folder.path())?;
        let premises = Premises { whose: Whose::Copied { persons }, ..premises.clone() };
        let (open, grown) = (Mutex::default(), watch::Sender::new(0));
        let (turns, arriving) = (Queue::new(TURNS), Queue::new(ARRIVING_MAX));
        Ok(Some(Arc::new(Self { premises, shelf, known, open, turns, arriving, grown })))
    }

    /// Every site by name.
    pub(crate) fn all(&self) -> Vec<SiteShown> {
        let known = self.known.read().unwrap_or_else(PoisonError::into_inner);
        let shown = known.iter().map(|(id, known)| SiteShown { id: id.clone(), name: known.name.clone() });
        let mut all: Vec<_> = shown.collect();
        all.sort_by(|one, other| (&one.name, &one.id).cmp(&(&other.name, &other.id)));
        all
    }

    /// Changes whenever entries or files of revisions were kept.
    pub(crate) fn grown(&self) -> watch::Receiver<u64> {
        self.grown.subscribe()
    }

    /// The journal of a site.
    ///
    /// # Errors
    /// [`Forwarding::SiteUnknown`]; [`Overload::Busy`] while as many as may be are open and in use.
    pub(crate) async fn open(&self, site: &str) -> Result<Arc<Held>, Cause> {
        let known = self.known_of(site);
        let known = known.ok_or_else(|| Forwarding::SiteUnknown { site: site.to_owned() })?;
        let mut open = self.open.lock().await;
        self.take(&mut open, site, &known.name).await
    }

    /// The same, made if it is the first time that the site is heard, and called as its server calls it now.
    ///
    /// # Errors
    /// As [`Sites::open`]; [`Forwarding::TooManySites`].
    pub(crate) async fn open_or_make(&self, site: &str, name: &str) -> Result<Arc<Held>, Cause> {
        let mut open = self.open.lock().await;
        match self.known_of(site) {
            Some(known) if known.name == name => {}
            Some(_) => self.call(&mut open, site, name).await?,
            None => {
                if self.all().len() >= SITES_MAX {
                    return Err(Forwarding::TooManySites { most: SITES_MAX }.into());
                }
                if open.closed {
                    return Err(Cause::Stopping);
                }
                self.shelf.make(site, name, &*self.premises.entropy).await?;
                tracing::info!(site, name, "a site was heard for the first time");
                self.note(site, |known| name.clone_into(&mut known.name));
            }
        }
        self.take(&mut open, site, name).await
    }

    /// Waits for a turn of the calls that hold the journal of a site open for long.
    ///
    /// # Errors
    /// [`Overload::Busy`] where too many calls of the site wait already.
    pub(super) async fn turn(&self, site: &str) -> Result<Turn, Cause> {
        self.turns.of_all(site).await
    }

    /// Waits for the other calls of a site only.
    ///
    /// # Errors
    /// As [`Sites::turn`].
    pub(super) async fn turn_of_site(&self, site: &str) -> Result<Turn, Cause> {
        self.turns.of_site(site).await
    }

    /// Waits for room for the files of a revision of a site.
    ///
    /// # Errors
    /// As [`Sites::turn`].
    pub(super) async fn room(&self, site: &str) -> Result<Turn, Cause> {
        self.arriving.of_all(site).await
    }

    /// Notes what a site's server said it has, and how that stands to the copy. It is written down when it means something
    /// else than before, and else once in a while.
    ///
    /// # Errors
    /// When the disk refuses.
    pub(crate) fn heard(&self, held: &Held, said: u64, standing: Standing) -> Result<(), ServerError> {
        let lost = standing == Standing::Behind;
        let heard = Heard { at_us: self.premises.clock.now_us(), said, lost };
        let before = self.known_of(&held.workshop.site_id).and_then(|known| known.heard);
        if before.is_none_or(|before| heard.is_news_after(&before)) {
            heard.write(&held.folder)?;
        }
        self.note(&held.workshop.site_id, |known| known.heard = Some(heard));
        Ok(())
    }

    /// Notes how far the journal of a site reaches now, and tells whoever waits for growth.
    pub(crate) fn kept(&self, site: &str, kept: u64) {
        self.note(site, |known| known.kept = known.kept.max(kept));
        self.grown.send_modify(|changes| *changes += 1);
    }

    /// Whether the site was heard before.
    pub(super) fn knows(&self, site: &str) -> bool {
        self.known_of(site).is_some()
    }

    /// How far the journal of a site was noted to reach.
    pub(super) fn kept_of(&self, site: &str) -> u64 {
        self.known_of(site).map_or(0, |known| known.kept)
    }

    /// How it stands with each site, by name.
    ///
    /// # Errors
    /// When the forks cannot be read.
    pub(crate) async fn states(&self) -> Result<Vec<SiteState>, Cause> {
        let mut forks = self.forks().await?;
        forks.retain(|fork| fork.settled_us.is_none());
        let known = self.known.read().unwrap_or_else(PoisonError::into_inner).clone();
        let state = |site: SiteShown| {
            let of = known.get(&site.id).cloned().unwrap_or_default();
            let of_site = forks.iter().filter(|fork| fork.site == site.id);
            let fork = of_site.min_by_key(|fork| fork.first_us).cloned();
            let left_out = LeftOut::read(&self.shelf.path(&site.id));
            SiteState { kept: of.kept, heard: of.heard, fork, left_out, site }
        };
        Ok(self.all().into_iter().map(state).collect())
    }

    /// Every fork that was ever seen, the latest first.
    ///
    /// # Errors
    /// When they cannot be read.
    pub(crate) async fn forks(&self) -> Result<Vec<Fork>, Cause> {
        Ok(self.premises.store.forks().await?)
    }

    /// The owner's own folder.
    pub(crate) fn own_folder(&self) -> &Folder {
        &self.premises.folder
    }

    /// Where the copy of a site lies, whether or not it was ever heard.
    pub(crate) fn folder_of(&self, site: &str) -> PathBuf {
        self.shelf.path(site)
    }

    /// The owner's own journal and what stands beside it.
    pub(crate) fn own(&self) -> &Arc<dyn Store> {
        &self.premises.store
    }

    /// The clock that all of them go by.
    pub(crate) fn clock(&self) -> &dyn Clock {
        &*self.premises.clock
    }

    /// Lets every journal go; none is opened again.
    pub(crate) async fn close(&self) {
        let mut open = self.open.lock().await;
        open.closed = true;
        for (site, (_, held)) in open.held.drain() {
            let_go(&site, &held).await;
        }
    }

    fn known_of(&self, site: &str) -> Option<Known> {
        self.known.read().unwrap_or_else(PoisonError::into_inner).get(site).cloned()
    }

    fn note(&self, site: &str, change: impl FnOnce(&mut Known)) {
        let mut known = self.known.write().unwrap_or_else(PoisonError::into_inner);
        change(known.entry(site.to_owned()).or_default());
    }

    /// Gives a site another name. Whoever holds its journal open goes on with the name before.
    async fn call(&self, open: &mut Open, site: &str, name: &str) -> Result<(), Cause> {
        if let Some((_, held)) = open.held.get(site) {
            if !is_free(held) {
                return Ok(());
            }
            let_go(site, held).await;
            open.held.remove(site);
        }
        self.shelf.rename(site, name)?;
        self.note(site, |known| name.clone_into(&mut known.name));
        Ok(())
    }

    async fn take(&self, open: &mut Open, site: &str, name: &str) -> Result<Arc<Held>, Cause> {
        if open.closed {
            return Err(Cause::Stopping);
        }
        open.turn += 1;
        let turn = open.turn;
        if let Some((asked, held)) = open.held.get_mut(site) {
            if !has_stopped(held) {
                *asked = turn;
                return Ok(Arc::clone(held));
            }
            if !is_free(held) {
                return Err(Overload::Busy.into());
            }
            let_go(site, held).await;
            open.held.remove(site);
        }
        while open.held.len() >= SITES_OPEN_MAX {
            let free = open.held.iter().filter(|(_, (_, held))| is_free(held));
            let oldest = free.min_by_key(|(_, (asked, _))| *asked).map(|(site, _)| site.clone());
            let oldest = oldest.ok_or(Overload::Busy)?;
            if let Some((_, held)) = open.held.remove(&oldest) {
                let_go(&oldest, &held).await;
            }
        }
        let held = Arc::new(self.read(site, name).await?);
        open.held.insert(site.to_owned(), (turn, Arc::clone(&held)));
        Ok(held)
    }

    async fn read(&self, site: &str, name: &str) -> Result<Held, ServerError> {
        let (folder, store) = self.shelf.open(site, name).await?;
        let opened = self.read_from(&folder, &store).await;
        match opened {
            Ok((workshop, head)) => {
                self.note(site, |known| known.kept = head);
                Ok(Held { workshop: Arc::new(workshop), store, folder, keeping: Mutex::default() })
            }
            Err(error) => {
                store.close().await?;
                Err(error)
            }
        }
    }

    async fn read_from(
        &self,
        folder: &LockedFolder,
        store: &Arc<dyn Store>,
    ) -> Result<(Workshop, u64), ServerError> {
        let own = Folder::clone(folder);
        let premises = Premises { folder: own, store: Arc::clone(store), ..self.premises.clone() };
        let head = store.head().await?.seq;
        // It opens no sites of its own, so this ends here.
        let workshop = Box::pin(Workshop::open(premises)).await?;
        Ok((workshop, head))
    }
}

/// Whether nobody but the shelf holds a journal.
fn is_free(held: &Arc<Held>) -> bool {
    Arc::strong_count(held) == 1 && Arc::strong_count(&held.workshop) == 1
}

/// Whether the store of a journal takes nothing more until it is opened again.
fn has_stopped(held: &Held) -> bool {
    let health = held.store.health();
    matches!(
        health,
        Err(StoreError::Broken { .. }
            | StoreError::Disk { .. }
            | StoreError::TakenOver { .. }
            | StoreError::Closed)
    )
}

/// Closes a journal and remembers how far it came. What fails here fails again at the next opening and is told then.
async fn let_go(site: &str, held: &Held) {
    let closed = async {
        // Whoever brings something just now is at its end first.
        let _alone = held.keeping.lock().await;
        let head = held.store.head().await;
        held.store.close().await?;
        held.folder.remember(&Reached::from(&head?))
    };
    if let Err(error) = closed.await {
        tracing::warn!(site, %error, "the journal of a site was not closed in order");
    }
}
