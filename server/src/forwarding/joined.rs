//! How a site joins its owner's server, and leaves it: `station join-owner` and `station leave-owner`.
//!
//! Before anything of the code is sent, the server proves that it is the one that the code is from. The token is drawn here
//! and written down before it is shown, so that an answer that was lost can be asked for again with the same code. Called
//! by [`crate::order`] and [`crate::admin`]. Never here: what is brought, which is [`super::link`]'s.

use super::intake::point_told;
use super::outward::{Outward, Unanswered};
use super::owner_link::{DRAWN_FILE, OwnerLink, drawn_token, forget_drawn};
use super::standing::{Point, Standing};
use crate::clock::{Clock, Entropy};
use crate::config::{self, Flags, Mode};
use crate::desk::SITE_NAME_SETTING;
use crate::error::ServerError;
use crate::folder::Folder;
use standpipe_proto::check::Violation;
use standpipe_proto::dial::{Pin, ServerAddress};
use standpipe_proto::join::JoinCode;
use standpipe_proto::v1;
use standpipe_store::tree::Hash;
use standpipe_store::{Head, Journal, Store, StoreError};
use std::path::Path;
use std::sync::Arc;

/// What joining needs of a site.
pub(crate) struct Joiner {
    pub(crate) folder: Folder,
    pub(crate) store: Arc<dyn Store>,
    pub(crate) clock: Arc<dyn Clock>,
    pub(crate) entropy: Arc<dyn Entropy>,
}

/// The owner's server, as it was met.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Joined {
    /// Where it listens.
    pub(crate) address: String,
    /// The station that this site is there.
    pub(crate) station: String,
    /// How it calls itself.
    pub(crate) owner_name: String,
    /// Entries of this site that it knows.
    pub(crate) kept: u64,
    /// What stands against going on, in a sentence; empty if nothing does.
    pub(crate) trouble: String,
}

/// Who this site is at an owner's server from now on.
pub(super) struct Met {
    pub(super) link: OwnerLink,
    pub(super) owner: Outward,
    pub(super) owner_name: String,
}

impl Joiner {
    /// Joins an owner's server, in the place of one before.
    ///
    /// # Errors
    /// When address or code cannot be read, the server is not reached or is another one, the code is not good, or is for a
    /// station that brings no journal or that of another site. The link before stays what it was.
    pub(crate) async fn join(&self, host: &str, code: &str) -> Result<Joined, ServerError> {
        let dir = self.folder.path();
        if config::read(dir, Flags::default())?.mode == Mode::Owner {
            let sentence = "this is an owner's server itself, and keeps the journals of workshops; name the folder of a \
                            workshop with --dir"
                .to_owned();
            return Err(ServerError::OwnerRefused { sentence });
        }
        let head = self.store.head().await?;
        let brings = (head.site.as_str(), founding(&*self.store, &head).await?);
        let met = meet((dir, DRAWN_FILE), (host, code), brings, (&self.clock, &*self.entropy)).await?;
        let refused = |sentence| {
            let sentence = format!("{sentence}. Nothing was joined; the code is used up");
            Err(ServerError::OwnerRefused { sentence })
        };
        let (there, standing, sentence) = match self.compare(&met.owner).await {
            Ok((_, Standing::Another, sentence)) => return refused(sentence),
            Ok(compared) => compared,
            Err(ServerError::OwnerRefused { sentence }) => return refused(sentence),
            Err(other) => return Err(other),
        };
        met.link.keep(dir)?;
        forget_drawn(dir, DRAWN_FILE)?;
        let trouble = match standing {
            Standing::Behind | Standing::Fork | Standing::Another => sentence,
            Standing::Same | Standing::Ahead | Standing::ProofWanted => String::new(),
        };
        let OwnerLink { address, station, .. } = met.link;
        Ok(Joined { address, station, owner_name: met.owner_name, kept: there.size, trouble })
    }

    /// The first use of the token: shows that the station brings this site's journal.
    async fn compare(&self, owner: &Outward) -> Result<(Point, Standing, String), ServerError> {
        let head = self.store.head().await?;
        let site_name = self.store.setting(SITE_NAME_SETTING).await?.unwrap_or_default();
        Ok(owner.compare(claim(&*self.store, head, &site_name).await?).await?)
    }

    /// Leaves the owner's server; gives its address.
    ///
    /// # Errors
    /// When the site has joined none.
    pub(crate) fn leave(&self) -> Result<String, ServerError> {
        let dir = self.folder.path();
        // A damaged one is removed as well; then nobody knows whose it was.
        let link = OwnerLink::of(dir);
        if !OwnerLink::remove(dir)? {
            let sentence =
                "this site brings its journal to no owner's server; nothing was changed".to_owned();
            return Err(ServerError::OwnerRefused { sentence });
        }
        Ok(link.ok().flatten().map_or_else(String::new, |link| link.address))
    }
}

/// What a site says that it has, without a proof.
///
/// # Errors
/// When the journal cannot be read.
pub(super) async fn claim<J: Journal + ?Sized>(
    journal: &J,
    head: Head,
    site_name: &str,
) -> Result<v1::CompareJournalRequest, StoreError> {
    let founding = founding(journal, &head).await?;
    Ok(v1::CompareJournalRequest {
        site_id: head.site,
        site_name: site_name.to_owned(),
        here: Some(point_told(&Point { epoch: head.epoch, size: head.seq, root: head.root })),
        proof_from: 0,
        proof: Vec::new(),
        founding: founding.map_or_else(Vec::new, |root| root.to_vec()),
    })
}

/// The root over the first entry of a journal alone; nothing where it has none.
///
/// # Errors
/// When the journal cannot be read.
pub(super) async fn founding<J: Journal + ?Sized>(
    journal: &J,
    head: &Head,
) -> Result<Option<Hash>, StoreError> {
    if head.seq == 0 { Ok(None) } else { journal.root_at(1).await }
}

/// Meets the owner's server that a code is from, and becomes the station that the code is for. The token is drawn into a file
/// of the folder that is named. A code that is not for the journal of this site stays good; the site may be empty, where
/// nobody here knows which one it is.
pub(super) async fn meet(
    (dir, drawn): (&Path, &str),
    (host, code): (&str, &str),
    brings: (&str, Option<Hash>),
    (clock, entropy): (&Arc<dyn Clock>, &dyn Entropy),
) -> Result<Met, ServerError> {
    let (address, code) = read(host, code)?;
    let token = drawn_token((dir, drawn), code.secret(), entropy)?;
    let pin = Pin::Digest(code.authority());
    let first = Outward::to(address.clone(), pin, None, Arc::clone(clock))?;
    let answer = first.join((code.secret(), &token), brings).await.map_err(not_joined)?;
    let station = answer.station.unwrap_or_default();
    let authority = first.authority().ok_or_else(|| ServerError::OwnerAway {
        sentence: "the owner's server did not say who it is; say the same again".to_owned(),
    })?;
    let (address, station) = (address.to_string(), station.station_id);
    let link = OwnerLink { address, station, token, next_token: None, authority };
    let (address, authority) = link.reached_at(dir)?;
    let owner = Outward::to(address, Pin::Authority(authority), Some(&link.token), Arc::clone(clock))?;
    Ok(Met { link, owner, owner_name: answer.site_name })
}

/// Says of a code for another site that nothing came of it.
fn not_joined(why: Unanswered) -> ServerError {
    let (is_of_other, is_of_another) = (why.other_site().is_some(), why.is_of_another());
    match ServerError::from(why) {
        ServerError::OwnerRefused { sentence } if is_of_other || is_of_another => {
            let of_site = if is_of_other { " for that site" } else { "" };
            let sentence = format!("{sentence}. Nothing was joined; the code is still good{of_site}");
            ServerError::OwnerRefused { sentence }
        }
        error => error,
    }
}

fn read(host: &str, code: &str) -> Result<(ServerAddress, JoinCode), ServerError> {
    let unsent = |field: &str, error: &dyn std::fmt::Display| {
        let what = format!("cannot be read: {error}; nothing was sent");
        ServerError::OutsideBounds(vec![Violation { field: field.to_owned(), what }])
    };
    let address = ServerAddress::read(host).map_err(|error| unsent("HOST", &error))?;
    let code = JoinCode::read(code).map_err(|error| unsent("CODE", &error))?;
    Ok((address, code))
}
