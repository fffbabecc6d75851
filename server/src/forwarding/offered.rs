//! Catalogue revisions between an owner's server and its workshops: files that a workshop judges by come here with its
//! journal, and revisions that the owner offers go there.
//!
//! The files of a workshop's revision lie in the folder of its copy; a workshop sees those of its own and what is offered,
//! never another workshop's. What is offered lies in the owner's own catalogue folder and is named by a setting; whether a
//! workshop adopts it is decided there. Called by the handlers of forwarding and by [`crate::Desk`].

use super::keeping::{caught_up, site_of, to_the_end};
use super::sites::Sites;
use crate::access::Who;
use crate::catalogue::{self, Files};
use crate::convert::timestamp;
use crate::error::ServerError;
use crate::folder::Folder;
use crate::page;
use crate::status::{Cause, Forwarding, Overload};
use crate::workshop::off_the_network;
use serde::{Deserialize, Serialize};
use standpipe_engine::catalogue::RevisionId;
use standpipe_proto::check::{Violation, violations};
use standpipe_proto::limits::{
    CATALOGUE_BYTES_MAX, CATALOGUE_FILES_MAX, MESSAGE_BYTES_MAX, REVISIONS_OF_SITE_BYTES_MAX,
    REVISIONS_OF_SITE_MAX,
};
use standpipe_proto::v1::{
    GetSharedRevisionRequest, GetSharedRevisionResponse, ListSharedRevisionsRequest,
    ListSharedRevisionsResponse, PutSharedRevisionRequest, RevisionFile, SharedRevision,
};
use standpipe_store::Beside;
use std::collections::BTreeMap;
use std::fs;
use std::io::ErrorKind;
use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, UNIX_EPOCH};
use tokio::time::timeout;
use tonic::Streaming;

/// Setting with the revisions that are offered.
const OFFERED_SETTING: &str = "offered_revisions";
/// Characters of an identity.
const DIGITS: usize = 64;
/// Bytes of the files of one answer: what a message may have, less the names and frames around them.
const PAGE_BYTES_MAX: usize = MESSAGE_BYTES_MAX - 128 * 1024;

/// A revision that the owner offers.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Offered {
    /// Its identity.
    pub(crate) revision_id: String,
    /// Since when, microseconds since 1970, UTC.
    pub(crate) since_us: i64,
}

/// What the owner offers, by identity.
///
/// # Errors
/// When the setting cannot be read or is not as it was written.
pub(crate) async fn offered(beside: &dyn Beside) -> Result<Vec<Offered>, ServerError> {
    let text = beside.setting(OFFERED_SETTING).await?.unwrap_or_else(|| "[]".to_owned());
    serde_json::from_str(&text).map_err(|error| ServerError::Setting {
        origin: OFFERED_SETTING.to_owned(),
        what: format!("is not as the server wrote it ({error}); put the journal back from a backup"),
    })
}

/// Offers a revision from now on, or no longer; says whether that was so already.
///
/// # Errors
/// As [`offered`].
pub(crate) async fn offer(
    beside: &dyn Beside,
    revision_id: &str,
    offer: bool,
    since_us: i64,
) -> Result<bool, ServerError> {
    let mut all = offered(beside).await?;
    let stood = all.iter().any(|one| one.revision_id == revision_id);
    if stood != offer {
        all.retain(|one| one.revision_id != revision_id);
        if offer {
            all.push(Offered { revision_id: revision_id.to_owned(), since_us });
        }
        all.sort_by(|one, other| one.revision_id.cmp(&other.revision_id));
        beside.put_setting(OFFERED_SETTING, &serde_json::json!(all).to_string()).await?;
    }
    Ok(stood == offer)
}

/// Revisions that the caller's site may have, by identity.
///
/// # Errors
/// When they cannot be read, or the page token is none of this list.
pub(crate) async fn list(
    sites: &Sites,
    who: &Who,
    request: ListSharedRevisionsRequest,
) -> Result<ListSharedRevisionsResponse, Cause> {
    let site = site_of(sites, who, None).await?;
    let folder = sites.folder_of(&site);
    let mut found: BTreeMap<String, (bool, i64)> =
        off_the_network(move || kept_here(&folder)).await??.into_iter().collect();
    if sites.knows(&site) {
        // Those of which something is missing or wrong are brought once more.
        let held = sites.open(&site).await?;
        for incomplete in held.workshop.missing_revisions().iter() {
            found.remove(incomplete);
        }
    }
    for Offered { revision_id, since_us } in offered(&**sites.own()).await? {
        found.insert(revision_id, (true, since_us));
    }
    let each = found.into_iter().map(|(revision_id, (offered, kept_us))| SharedRevision {
        revision_id,
        offered,
        kept_time: Some(timestamp(kept_us)),
    });
    let question = ["ListSharedRevisions", site.as_str()];
    let asked = (request.page_size, request.page_token.as_str());
    let (revisions, next_page_token) = page::cut(each.collect(), &question, asked, |one| &one.revision_id)?;
    Ok(ListSharedRevisionsResponse { revisions, next_page_token })
}

/// Some files of a revision that the caller's site may have.
///
/// # Errors
/// [`Forwarding::RevisionUnknown`], also for a revision of another site.
pub(crate) async fn get(
    sites: &Sites,
    who: &Who,
    request: GetSharedRevisionRequest,
) -> Result<GetSharedRevisionResponse, Cause> {
    let site = site_of(sites, who, None).await?;
    let _turn = sites.turn_of_site(&site).await?;
    let GetSharedRevisionRequest { revision_id, page_size, page_token } = request;
    let is_offered = offered(&**sites.own()).await?.iter().any(|one| one.revision_id == revision_id);
    let mut places = vec![sites.folder_of(&site)];
    if is_offered {
        places.push(sites.own_folder().path().to_owned());
    }
    let wanted = revision_id.clone();
    let read = move || places.iter().find_map(|place| files_in(place, &wanted).transpose()).transpose();
    let files = off_the_network(read).await??;
    let files = files.ok_or_else(|| Forwarding::RevisionUnknown { revision: revision_id.clone() })?;
    let question = ["GetSharedRevision", revision_id.as_str()];
    let asked = (page_size, page_token.as_str());
    let (files, next_page_token) = catalogue::files_of_page(files, &question, asked, PAGE_BYTES_MAX)?;
    let files = files.into_iter().map(|(name, content)| RevisionFile { name, content });
    Ok(GetSharedRevisionResponse { files: files.collect(), next_page_token })
}

/// Keeps the files of a revision of the caller's site, whole or not at all.
///
/// # Errors
/// When they are not the files of the revision that is named, or too many or too large.
pub(crate) async fn put(
    sites: &Arc<Sites>,
    who: &Who,
    parts: Streaming<PutSharedRevisionRequest>,
    within: Duration,
) -> Result<(), Cause> {
    let own = site_of(sites, who, None).await?;
    let room = sites.room(&own).await?;
    let (site_id, revision_id, files) = whole(parts, within).await?;
    let site = if site_id == own { own } else { site_of(sites, who, Some(&site_id)).await? };
    let turn = sites.turn(&site).await?;
    let sites = Arc::clone(sites);
    to_the_end(async move {
        let (_room, _turn) = (room, turn);
        keep(&sites, &site, revision_id, files).await
    })
    .await
}

async fn keep(sites: &Sites, site: &str, revision_id: String, files: Files) -> Result<(), Cause> {
    let held = sites.open(site).await?;
    let folder = Folder::clone(&held.folder);
    let (named, files) = off_the_network(move || {
        let found = RevisionId::of(&files).to_string();
        if found == revision_id {
            Ok((revision_id, files))
        } else {
            Err(Forwarding::RevisionDiffers { named: revision_id, found })
        }
    })
    .await??;
    let _alone = held.keeping.lock().await;
    let head = caught_up(sites, &held).await?;
    let (place, kept) = (folder.path().to_owned(), named.clone());
    off_the_network(move || {
        let there = kept_here(&place)?;
        if !there.iter().any(|(id, _)| *id == kept) {
            if there.len() >= REVISIONS_OF_SITE_MAX {
                return Err(Forwarding::TooManyRevisions { most: REVISIONS_OF_SITE_MAX }.into());
            }
            let brought: u64 = files.iter().map(|(_, content)| content.len() as u64).sum();
            if bytes_of(&place, &there)?.saturating_add(brought) > REVISIONS_OF_SITE_BYTES_MAX {
                let greatest = REVISIONS_OF_SITE_BYTES_MAX;
                return Err(Forwarding::RevisionsTooLarge { greatest }.into());
            }
        }
        catalogue::keep(&folder, &kept, &files).map_err(Cause::from)
    })
    .await??;
    if held.workshop.missing_revisions().contains(&named) {
        held.workshop.look_at_copied(true).await?;
        sites.kept(site, head.seq);
    }
    Ok(())
}

/// All files of a call put together, sorted by name.
async fn whole(
    mut parts: Streaming<PutSharedRevisionRequest>,
    within: Duration,
) -> Result<(String, String, Files), Cause> {
    let mut about: Option<(String, String)> = None;
    let (mut files, mut bytes) = (BTreeMap::new(), 0_u64);
    loop {
        let next = timeout(within, parts.message()).await.map_err(|_| Overload::TooLate { within })?;
        let Some(part) = next.map_err(Cause::of_stream)? else { break };
        let found = violations(&part);
        if !found.is_empty() {
            return Err(Cause::OutsideBounds(found));
        }
        if part.files.is_empty() {
            return Err(outside("files", "is empty; send at least one file in each message"));
        }
        let of = (part.site_id, part.revision_id);
        if about.as_ref().is_some_and(|about| *about != of) {
            return Err(outside(
                "revision_id",
                "is not that of the message before; send one revision in a call",
            ));
        }
        about = Some(of);
        for RevisionFile { name, content } in part.files {
            bytes = bytes.saturating_add(content.len() as u64);
            if bytes > CATALOGUE_BYTES_MAX {
                return Err(Forwarding::RevisionTooLarge { greatest: CATALOGUE_BYTES_MAX }.into());
            }
            add(&mut files, name, content)?;
        }
    }
    let (site_id, revision_id) =
        about.ok_or_else(|| outside("revision_id", "is missing; send at least one message"))?;
    Ok((site_id, revision_id, files.into_iter().collect()))
}

/// Adds a file whose name is one of a catalogue, and so can be no way out of the folder.
fn add(files: &mut BTreeMap<String, Vec<u8>>, name: String, content: Vec<u8>) -> Result<(), Cause> {
    let stem = name.strip_suffix(".toml").unwrap_or_default();
    let fits = |letter: char| matches!(letter, 'a'..='z' | '0'..='9' | '-');
    if stem.is_empty() || !stem.chars().all(fits) {
        return Err(outside(
            "files.name",
            "is no name of a catalogue file: small letters, digits and hyphens, then .toml",
        ));
    }
    if files.len() >= CATALOGUE_FILES_MAX {
        let what = format!("has more than {CATALOGUE_FILES_MAX} files, which is the most of a revision");
        return Err(outside("files", &what));
    }
    match files.insert(name, content) {
        None => Ok(()),
        Some(_) => Err(outside("files.name", "comes twice; send each file once")),
    }
}

/// A revision with whether it is offered and when it came, microseconds since 1970, UTC.
type Kept = (String, (bool, i64));

/// The revisions whose files lie in a folder, each with the time at which they came.
fn kept_here(folder: &Path) -> Result<Vec<Kept>, ServerError> {
    let place = folder.join(catalogue::FOLDER);
    let items = match fs::read_dir(&place) {
        Ok(items) => items,
        Err(cause) if cause.kind() == ErrorKind::NotFound => return Ok(Vec::new()),
        Err(cause) => return Err(ServerError::file("reading", &place)(cause)),
    };
    let mut found = Vec::new();
    for item in items {
        let item = item.map_err(ServerError::file("reading", &place))?;
        let Ok(id) = item.file_name().into_string() else { continue };
        if !is_identity(&id) {
            continue;
        }
        let about = item.metadata().and_then(|about| about.modified());
        let came = about.map_err(ServerError::file("looking", &item.path()))?;
        let since = came.duration_since(UNIX_EPOCH).unwrap_or_default();
        found.push((id, (false, i64::try_from(since.as_micros()).unwrap_or_default())));
    }
    Ok(found)
}

/// Bytes of all files of these revisions.
fn bytes_of(folder: &Path, revisions: &[Kept]) -> Result<u64, ServerError> {
    let mut bytes = 0_u64;
    for (id, _) in revisions {
        let place = folder.join(catalogue::FOLDER).join(id);
        let failed = || ServerError::file("reading", &place);
        for item in fs::read_dir(&place).map_err(failed())? {
            let about = item.and_then(|item| item.metadata()).map_err(failed())?;
            bytes = bytes.saturating_add(about.len());
        }
    }
    Ok(bytes)
}

/// The files of a revision in a folder, if it is there; refused unless they still give its identity.
fn files_in(folder: &Path, revision_id: &str) -> Result<Option<Files>, ServerError> {
    if !is_identity(revision_id) || !folder.join(catalogue::FOLDER).join(revision_id).is_dir() {
        return Ok(None);
    }
    catalogue::kept_files(&Folder::find(folder)?, revision_id).map(Some)
}

fn is_identity(text: &str) -> bool {
    text.len() == DIGITS && text.bytes().all(|digit| matches!(digit, b'0'..=b'9' | b'a'..=b'f'))
}

fn outside(field: &str, what: &str) -> Cause {
    Cause::OutsideBounds(vec![Violation { field: field.to_owned(), what: what.to_owned() }])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_name_of_a_catalogue_file_is_taken_and_only_once() {
        let mut files = BTreeMap::new();
        for name in ["../x.toml", "..toml", ".toml", "a/b.toml", "x.TOML", "x.txt", "", "ä.toml", "a.b.toml"]
        {
            let told = add(&mut files, name.to_owned(), Vec::new()).unwrap_err().to_string();
            assert!(told.contains("files.name") && told.contains(".toml"), "{name}: {told}");
        }
        add(&mut files, "alder-8.toml".to_owned(), vec![1]).unwrap();
        let told = add(&mut files, "alder-8.toml".to_owned(), vec![2]).unwrap_err().to_string();
        assert!(told.contains("twice"), "{told}");
    }

    #[test]
    fn what_the_revisions_of_a_site_weigh_is_told_from_their_files() {
        let home = tempfile::tempdir().unwrap();
        for (digit, bytes) in [("a", 300), ("b", 50)] {
            let place = home.path().join(catalogue::FOLDER).join(digit.repeat(DIGITS));
            fs::create_dir_all(&place).unwrap();
            fs::write(place.join("workshop.toml"), vec![0; bytes]).unwrap();
        }
        let there = kept_here(home.path()).unwrap();
        assert_eq!(bytes_of(home.path(), &there).unwrap(), 350);
    }

    #[tokio::test]
    async fn what_is_offered_is_named_until_it_is_taken_back() {
        let home = tempfile::tempdir().unwrap();
        let path = home.path().join("standpipe.db");
        let store = standpipe_store::SqliteStore::create(&path, "owner", [1; 16]).await.unwrap();
        let (one, other) = ("b".repeat(DIGITS), "a".repeat(DIGITS));
        assert!(!offer(&store, &one, true, 5).await.unwrap());
        assert!(!offer(&store, &other, true, 7).await.unwrap());
        assert!(offer(&store, &one, true, 9).await.unwrap(), "it was offered already");
        let named = |all: Vec<Offered>| all.into_iter().map(|one| (one.revision_id, one.since_us));
        let all: Vec<_> = named(offered(&store).await.unwrap()).collect();
        assert_eq!(all, [(other.clone(), 7), (one.clone(), 5)]);
        assert!(!offer(&store, &one, false, 11).await.unwrap());
        assert_eq!(offered(&store).await.unwrap().len(), 1);
        standpipe_store::Journal::close(&store).await.unwrap();
    }
}
