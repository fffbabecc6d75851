//! Brings the journal of a running server to its owner's server: does what [`super::sender`] says, over the one connection
//! that a shop server makes to elsewhere.
//!
//! Each time it gets through it brings the catalogue revisions that are missing there, and fetches those that the owner
//! offers; adopting one is the site's own act. It ends at once when the server stops: what was under way is asked again
//! later, and nothing is kept twice. Started by [`crate::server`]. Never here: what entries mean.

use super::batch::batch;
use super::bond::{AtOwner, Bond, Course};
use super::joined::claim;
use super::outward::{Outward, Unanswered};
use super::owner_link::{OwnerLink, new_token};
use super::sender::{Action, Event, Sender};
use super::standing::{Point, Standing};
use crate::catalogue::{self, adoptions};
use crate::clock::Entropy;
use crate::convert::signed;
use crate::error::ServerError;
use crate::workshop::{Workshop, off_the_network};
use standpipe_engine::catalogue::RevisionId;
use standpipe_proto::dial::Pin;
use standpipe_proto::limits::FORWARD_ENTRIES_MAX;
use standpipe_proto::v1;
use standpipe_store::tree::Frontier;
use standpipe_store::{Head, StoreError};
use std::collections::BTreeSet;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::watch;
use tokio::time::sleep;

/// Time after which the owner's server is asked again where nothing else happens.
const LOOK_AGAIN_EVERY: Duration = Duration::from_secs(300);
/// Setting with the revisions that the owner offers, as a JSON list.
pub(crate) const OFFERED_SETTING: &str = "owner_offers";
/// A pause is longer by up to one part in so many, so that sites that lost one server together do not all come back at once.
const JITTER_PART: u32 = 4;

/// A batch that did not get through is cut to one part in so many; one that did is followed by one twice as long. So a link
/// that is slow, or up for moments, is used with what it carries, and a good one is soon used in full.
const BATCH_CUT_TO_PART: usize = 4;

/// Time after which a way that ended because of this side's journal or folder is begun again: a database comes back, a disk
/// gets space.
const BEGIN_AGAIN_AFTER: Duration = Duration::from_secs(30);

/// Why a site's way to its owner ended: its journal or its folder cannot be used.
#[derive(Debug, thiserror::Error)]
enum Ended {
    #[error(transparent)]
    Store(#[from] StoreError),
    #[error(transparent)]
    Server(#[from] ServerError),
}

/// Follows the site's link as long as the server runs, also when it joins an owner's server or leaves it meanwhile.
pub(crate) async fn keep(
    workshop: Arc<Workshop>,
    entropy: Arc<dyn Entropy>,
    mut stopping: watch::Receiver<bool>,
) {
    let mut changes = workshop.bond.changes();
    loop {
        changes.mark_unchanged();
        let following = async {
            let mut told = String::new();
            while let Err(error) = follow(&workshop, &*entropy).await {
                let trouble = error.to_string();
                if told != trouble {
                    tracing::warn!(%error, "nothing is brought to the owner's server; it is begun again");
                }
                workshop.bond.interrupt(&trouble);
                told = trouble;
                sleep(BEGIN_AGAIN_AFTER).await;
            }
            // Nothing is left to do until the link is another one.
            std::future::pending::<()>().await;
        };
        tokio::select! {
            // An error means that nobody is left who could ask; then it is time to end as well.
            _ = stopping.wait_for(|stopping| *stopping) => return,
            changed = changes.changed() => if changed.is_err() { return },
            () = following => {}
        }
    }
}

/// Follows one link; ends when there is none.
async fn follow(workshop: &Arc<Workshop>, entropy: &dyn Entropy) -> Result<(), Ended> {
    let link = match OwnerLink::of(workshop.folder.path()) {
        Ok(Some(link)) => link,
        Ok(None) => {
            workshop.bond.show(None);
            return Ok(());
        }
        Err(error) => {
            if workshop.bond.at_owner().is_none() {
                // Nobody knows which server it was; that something is in the way is to be seen all the same.
                workshop.bond.show(Some(begun("(not known)", "(not known)")));
            }
            return Err(error.into());
        }
    };
    let head = workshop.journal.head().await?;
    let offered = offered(workshop).await;
    let at_owner = AtOwner { entries: head.seq, offered, ..begun(&link.address, &link.station) };
    let owner = reach(workshop, &link)?;
    let (sender, mut action) = Sender::begin(head.seq);
    let wishes = workshop.bond.wishes();
    let (told, revisions) = (String::new(), BTreeSet::new());
    let (most, tree) = (FORWARD_ENTRIES_MAX, None);
    let mut follower =
        Follower { workshop, entropy, link, owner, sender, at_owner, told, revisions, wishes, most, tree };
    loop {
        follower.show(action);
        let event = follower.carry_out(action).await?;
        let next = follower.sender.on(event);
        if next != Action::Nothing {
            action = next;
        }
    }
}

/// What is shown before anything was asked.
fn begun(address: &str, station: &str) -> AtOwner {
    AtOwner {
        address: address.to_owned(),
        station: station.to_owned(),
        entries: 0,
        kept: 0,
        course: Course::Going,
        level_us: None,
        heard_us: None,
        tries: 0,
        trouble: String::new(),
        shut_out: false,
        offered: Vec::new(),
    }
}

/// Prepares calls to the owner's server.
fn reach(workshop: &Workshop, link: &OwnerLink) -> Result<Outward, ServerError> {
    let (address, authority) = link.reached_at(workshop.folder.path())?;
    Outward::to(address, Pin::Authority(authority), Some(&link.token), Arc::clone(&workshop.clock))
}

/// The revisions that the owner offered when it was heard last.
async fn offered(workshop: &Workshop) -> Vec<String> {
    let kept = workshop.beside.setting(OFFERED_SETTING).await.ok().flatten();
    // A list that cannot be read is fetched again.
    kept.and_then(|text| serde_json::from_str(&text).ok()).unwrap_or_default()
}

/// One site on its way.
struct Follower<'a> {
    workshop: &'a Arc<Workshop>,
    entropy: &'a dyn Entropy,
    link: OwnerLink,
    owner: Outward,
    sender: Sender,
    at_owner: AtOwner,
    /// What was last written to the log as being in the way.
    told: String,
    /// Revisions that are known to be there.
    revisions: BTreeSet<String>,
    wishes: watch::Receiver<u64>,
    /// Entries that the next batch may have.
    most: usize,
    /// The tree up to what was sent last; nothing where it is to be made from the journal.
    tree: Option<Frontier>,
}

impl Follower<'_> {
    /// Does what is to be done and says what came of it.
    async fn carry_out(&mut self, action: Action) -> Result<Event, Ended> {
        let event = match action {
            Action::Compare { proof_from } => self.compare(proof_from).await?,
            Action::Send { first_seq } => self.send(first_seq).await?,
            Action::Pause(pause) => self.pause(pause).await?,
            Action::WaitForGrowth | Action::Stop(_) | Action::Nothing => self.wait().await?,
        };
        if matches!(action, Action::Compare { .. } | Action::Send { .. }) {
            self.renew_if_due().await?;
        }
        Ok(event)
    }

    /// Takes note how far the journal reaches now.
    async fn head(&mut self) -> Result<Head, Ended> {
        let head = self.workshop.journal.head().await?;
        // While something is under way this only counts.
        self.sender.on(Event::Grown(head.seq));
        self.at_owner.entries = head.seq;
        Ok(head)
    }

    async fn compare(&mut self, proof_from: u64) -> Result<Event, Ended> {
        self.tree = None;
        let head = self.head().await?;
        let proof = match proof_from {
            0 => Vec::new(),
            from => self.workshop.journal.consistency_proof(from, head.seq).await?.unwrap_or_default(),
        };
        let proved = v1::CompareJournalRequest {
            proof_from: signed(proof_from),
            proof: proof.iter().map(|hash| hash.to_vec()).collect(),
            ..claim(&*self.workshop.journal, head, &self.workshop.site_name).await?
        };
        let answer = match self.owner.compare(proved).await {
            Ok(answer) => answer,
            Err(unanswered) => return Ok(self.failed(unanswered)),
        };
        self.heard();
        let (there, standing, sentence) = answer;
        if matches!(standing, Standing::Behind | Standing::Fork | Standing::Another) {
            self.stopped(&there, standing, &sentence);
        } else if standing != Standing::ProofWanted
            && let Some(unanswered) = self.exchange_revisions().await?
        {
            return Ok(self.failed(unanswered));
        }
        Ok(Event::Compared { there, standing })
    }

    async fn send(&mut self, first_seq: u64) -> Result<Event, Ended> {
        let tree = self.tree.take();
        let Some(batch) = batch(&*self.workshop.journal, first_seq, self.most, tree).await? else {
            return Ok(self.failed(Unanswered::nonsense("it has entries that are not here")));
        };
        // The files come before the entries that adopt them.
        for revision in &batch.revisions {
            if let Some(unanswered) = self.bring_revision(revision).await? {
                return Ok(self.failed(unanswered));
            }
        }
        self.head().await?;
        match self.owner.forward(batch.request).await {
            Ok(there) => {
                self.heard();
                self.got_through();
                self.most = self.most.saturating_mul(2).min(FORWARD_ENTRIES_MAX);
                self.tree = Some(batch.after).filter(|_| there.size == batch.last_seq);
                Ok(Event::Kept(there.size))
            }
            Err(unanswered) if unanswered.is_fork() => {
                self.heard();
                if self.in_the_way(unanswered.sentence) {
                    tracing::error!(trouble = self.told, "the owner's server takes nothing of this site");
                }
                Ok(Event::Forked)
            }
            Err(unanswered) if unanswered.is_of_another() => {
                self.heard();
                if self.in_the_way(unanswered.sentence) {
                    tracing::error!(trouble = self.told, "the owner's server takes nothing of this site");
                }
                Ok(Event::Another)
            }
            Err(unanswered) => {
                // Cut from what was sent, which may have been less than it might.
                let sent = usize::try_from(batch.last_seq.saturating_sub(first_seq)).unwrap_or(usize::MAX);
                self.most = (sent.saturating_add(1).min(self.most) / BATCH_CUT_TO_PART).max(1);
                Ok(self.failed(unanswered))
            }
        }
    }

    /// Brings every adopted revision that is missing there, and fetches every one that is offered and not here.
    async fn exchange_revisions(&mut self) -> Result<Option<Unanswered>, Ended> {
        let there = match self.owner.revisions().await {
            Ok(there) => there,
            Err(unanswered) => return Ok(Some(unanswered)),
        };
        self.revisions = there.iter().map(|(revision, _)| revision.clone()).collect();
        let adopted: BTreeSet<String> =
            adoptions(&*self.workshop.journal).await?.into_iter().map(|it| it.revision_id).collect();
        for revision in adopted {
            if let Some(unanswered) = self.bring_revision(&revision).await? {
                return Ok(Some(unanswered));
            }
        }
        let offered: Vec<String> =
            there.into_iter().filter(|(_, offered)| *offered).map(|(revision, _)| revision).collect();
        for revision in &offered {
            if let Some(unanswered) = self.fetch_revision(revision).await? {
                return Ok(Some(unanswered));
            }
        }
        if self.at_owner.offered != offered {
            let kept = serde_json::Value::from(offered.clone()).to_string();
            self.workshop.beside.put_setting(OFFERED_SETTING, &kept).await?;
            self.at_owner.offered = offered;
        }
        Ok(None)
    }

    /// Brings the files of a revision unless they are known to be there.
    async fn bring_revision(&mut self, revision: &str) -> Result<Option<Unanswered>, Ended> {
        if self.revisions.contains(revision) {
            return Ok(None);
        }
        let (folder, id) = (self.workshop.folder.clone(), revision.to_owned());
        let files = off_the_network(move || catalogue::kept_files(&folder, &id)).await;
        let files = files.map_err(|cause| ServerError::Network { cause: cause.to_string() })??;
        match self.owner.put_revision(&self.workshop.site_id, revision, files).await {
            Ok(()) => {
                self.revisions.insert(revision.to_owned());
                Ok(None)
            }
            Err(unanswered) => Ok(Some(unanswered)),
        }
    }

    /// Keeps the files of a revision that the owner offers, unless they are here.
    async fn fetch_revision(&mut self, revision: &str) -> Result<Option<Unanswered>, Ended> {
        if self.workshop.folder.revision(revision).is_dir() {
            return Ok(None);
        }
        let files = match self.owner.revision(revision).await {
            Ok(files) => files,
            Err(unanswered) => return Ok(Some(unanswered)),
        };
        if RevisionId::of(&files).to_string() != revision {
            return Ok(Some(Unanswered::nonsense("the files of a revision give another one")));
        }
        let (folder, id) = (self.workshop.folder.clone(), revision.to_owned());
        let kept = off_the_network(move || catalogue::keep(&folder, &id, &files)).await;
        kept.map_err(|cause| ServerError::Network { cause: cause.to_string() })??;
        tracing::info!(revision, "the owner offers a catalogue revision");
        Ok(None)
    }

    /// Gets another token where the one before has lived long. It is written down before it is asked for.
    async fn renew_if_due(&mut self) -> Result<(), Ended> {
        if !self.owner.take_renewal_due() {
            return Ok(());
        }
        let dir = self.workshop.folder.path().to_owned();
        let next = match self.link.next_token.clone() {
            Some(next) => next,
            None => new_token(self.entropy)?,
        };
        self.link.next_token = Some(next.clone());
        self.link.keep(&dir)?;
        match self.owner.renew(&next).await {
            Ok(()) => {
                self.link = OwnerLink { token: next, next_token: None, ..self.link.clone() };
                self.link.keep(&dir)?;
                self.owner = reach(self.workshop, &self.link)?;
            }
            Err(unanswered) if unanswered.is_not_due() => {
                self.link.next_token = None;
                self.link.keep(&dir)?;
            }
            // The one before is good as long as this one was never shown; asked again with the next call.
            Err(unanswered) => tracing::warn!(trouble = unanswered.sentence, "the token was not renewed"),
        }
        Ok(())
    }

    async fn pause(&mut self, pause: Duration) -> Result<Event, Ended> {
        let mut random = [0; 4];
        self.entropy.fill(&mut random)?;
        let part = pause / JITTER_PART;
        let longer = part.mul_f64(f64::from(u32::from_be_bytes(random)) / f64::from(u32::MAX));
        tokio::select! {
            () = sleep(pause.saturating_add(longer)) => Ok(Event::PauseOver),
            _ = self.wishes.changed() => Ok(Event::LookAgain),
        }
    }

    /// Waits until the journal grows, somebody wishes to look again, or some minutes are over.
    async fn wait(&mut self) -> Result<Event, Ended> {
        tokio::select! {
            grown = self.workshop.journal.grown_beyond(self.at_owner.entries) => {
                self.at_owner.entries = grown?;
                Ok(Event::Grown(self.at_owner.entries))
            }
            _ = self.wishes.changed() => Ok(Event::LookAgain),
            () = sleep(LOOK_AGAIN_EVERY) => Ok(Event::LookAgain),
        }
    }

    fn heard(&mut self) {
        self.at_owner.heard_us = Some(self.workshop.clock.now_us());
    }

    /// Something got through: what comes to be in the way from now on is told anew.
    fn got_through(&mut self) {
        self.at_owner.tries = 0;
        self.at_owner.trouble.clear();
        self.at_owner.shut_out = false;
        self.told.clear();
    }

    /// Shows what is in the way; a link may be down for days, and each trouble is told once.
    fn in_the_way(&mut self, trouble: String) -> bool {
        let new = self.told != trouble;
        self.told.clone_from(&trouble);
        self.at_owner.trouble = trouble;
        new
    }

    fn failed(&mut self, unanswered: Unanswered) -> Event {
        let wait = unanswered.wait;
        self.at_owner.tries += 1;
        self.at_owner.shut_out = unanswered.is_not_let_in();
        let trouble = match self.at_owner.shut_out {
            true => format!(
                "the owner's server does not let this site in any more; there: standpipe-server station code {}; then \
                 here: standpipe-server station join-owner HOST CODE",
                self.link.station
            ),
            false => unanswered.sentence,
        };
        if self.in_the_way(trouble) {
            tracing::warn!(
                trouble = self.told,
                "nothing was brought to the owner's server; it is tried again"
            );
        }
        Event::Failed { wait }
    }

    fn stopped(&mut self, there: &Point, standing: Standing, sentence: &str) {
        let here = self.at_owner.entries;
        let trouble = match standing {
            Standing::Behind => format!(
                "the owner's server has {} entries of this site, and this copy ends at {here}: it is older. Stop the \
                 server, put back the newer copy, or make one from the owner's: standpipe-server recover --from-owner",
                there.size
            ),
            _ => sentence.to_owned(),
        };
        if self.in_the_way(trouble) {
            tracing::error!(
                trouble = self.told,
                "nothing is brought to the owner's server until this is settled"
            );
        }
    }

    /// Shows how it stands before something is done.
    fn show(&mut self, action: Action) {
        self.at_owner.kept = self.sender.kept();
        self.at_owner.course = match action {
            // What was in the way is shown until something got through.
            Action::Compare { .. } if !self.at_owner.trouble.is_empty() => self.at_owner.course,
            Action::Compare { .. } | Action::Send { .. } => Course::Going,
            Action::WaitForGrowth => Course::Level,
            Action::Pause(_) => Course::Waiting,
            Action::Stop(standing) => Course::stopped(standing),
            Action::Nothing => self.at_owner.course,
        };
        if self.at_owner.course == Course::Level {
            self.got_through();
            self.at_owner.level_us = Some(self.workshop.clock.now_us());
        }
        self.workshop.bond.show(Some(self.at_owner.clone()));
    }
}

/// Waits until the owner's server has everything that the journal holds now.
///
/// # Errors
/// A sentence: the site has joined none, what stopped it, or that the server stopped.
pub(crate) async fn level(workshop: &Workshop) -> Result<u64, String> {
    let entries = workshop.journal.head().await.map_err(|error| error.to_string())?.seq;
    let bond: &Bond = &workshop.bond;
    let mut shown = bond.watch();
    let reached = |at: &Option<AtOwner>| {
        at.as_ref()
            .is_some_and(|at| at.course.is_stopped() || (at.course == Course::Level && at.kept >= entries))
    };
    let mut stopping = workshop.stopping.clone();
    let mut changes = bond.changes();
    let at_owner = loop {
        // Looked at again whenever the site joins or leaves one meanwhile.
        let link = OwnerLink::of(workshop.folder.path()).map_err(|error| error.to_string())?;
        if link.is_none() {
            let sentence = "this site brings its journal to no owner's server; join one first: standpipe-server station \
                            join-owner HOST CODE";
            return Err(sentence.to_owned());
        }
        tokio::select! {
            shown = shown.wait_for(reached) => break shown.ok().and_then(|shown| shown.clone()),
            _ = stopping.wait_for(|stopping| *stopping) => break None,
            changed = changes.changed() => if changed.is_err() { break None },
        }
    };
    match at_owner {
        Some(at) if !at.course.is_stopped() => Ok(at.kept),
        Some(at) => Err(at.trouble),
        None => Err("the server stopped before the owner's server had everything".to_owned()),
    }
}
