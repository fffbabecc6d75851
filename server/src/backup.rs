//! Whole copies of a site: a backup, made beside a running server, and a site made from one. The backup of a site whose
//! journal lies in a database holds it as a file, as it stood at one moment; the site made from it has it in its folder.
//!
//! A backup is a folder like a site's own. The journal is copied first and the files after it: every file that an entry
//! of the copy names was kept before its entry. A copy appears under its name only after it was read through. A site
//! made from a backup gets a new epoch, so that stations notice that it may not know all they sent. Tokens and persons are
//! as they were at the backup; codes to join that were open then are gone.

use crate::authority;
use crate::blob::{Blobs, digest_of};
use crate::clock::{Entropy, hex, sixteen};
use crate::error::ServerError;
use crate::folder::{Building, Folder, LockedFolder, Reached, SETTINGS_FILE, replace, sync};
use crate::forwarding::OWNER_LINK_FILE;
use crate::order::Copied;
use crate::own_station::OwnStation;
use crate::tallies::VEHICLE_KEY_FILE;
use crate::verify::{LOST_RECORDS_FILE, verify};
use standpipe_store::{Journal, SqliteStore, Store, Tokens as _};
use std::fs::{self, DirBuilder};
use std::io::ErrorKind;
use std::os::unix::fs::DirBuilderExt;
use std::path::Path;

/// Makes a backup of a site in a new folder, while it may be written to.
///
/// # Errors
/// [`ServerError::FolderTaken`], or when the disk refuses, or when what was written is not sound; nothing is left then.
pub(crate) async fn back_up(folder: &Folder, store: &dyn Store, to: &Path) -> Result<Copied, ServerError> {
    let (building, copy) = Building::begin(to)?;
    let head = store.copy_to(&copy.journal()).await?;
    copy.remember(&Reached::from(&head))?;
    let files = files_copied(folder, &copy).await?;
    finished(building, copy, to, files).await
}

/// Makes a site from a backup in a new folder, under a new epoch.
///
/// # Errors
/// [`ServerError::BackupDamaged`]; [`ServerError::FolderTaken`]; or when the disk refuses. Nothing is left then.
pub async fn restore(from: &Path, dir: &Path, entropy: &dyn Entropy) -> Result<Copied, ServerError> {
    sound(from).await?;
    let (building, folder) = Building::begin(dir)?;
    let backup = Folder::find(from)?;
    let source = SqliteStore::open_for_reading(&backup.journal()).await?;
    let copied = source.copy_to(&folder.journal()).await;
    source.close().await?;
    copied?;
    SqliteStore::renew_epoch(&folder.journal(), sixteen(entropy)?).await?;
    let store = SqliteStore::open(&folder.journal()).await?;
    // The numbers of the server's own station may go on differently from here than in the site that was lost.
    let renewed = OwnStation::create(&store, entropy).await;
    // A code that nobody used yet may have been printed for somebody who is no longer to come in.
    let closed = store.remove_open_codes().await;
    let head = store.head().await;
    store.close().await?;
    renewed?;
    closed?;
    folder.remember(&Reached::from(&head?))?;
    let files = files_copied(&backup, &folder).await?;
    finished(building, folder, dir, files).await
}

/// Reads a copy through and gives it its name.
async fn finished(
    building: Building,
    copy: LockedFolder,
    path: &Path,
    files: u64,
) -> Result<Copied, ServerError> {
    let report = sound(copy.path()).await?;
    let copied = Copied {
        path: path.to_owned(),
        site: report.site,
        entries: report.entries,
        files,
        epoch: hex(&report.epoch),
        root: hex(&report.root),
    };
    building.finish()?;
    Ok(copied)
}

/// Refuses a folder in which anything is damaged.
async fn sound(path: &Path) -> Result<standpipe_store::VerifyReport, ServerError> {
    let verified = verify(path).await?;
    if verified.is_sound() {
        return Ok(verified.report);
    }
    let damage = verified.report.damage.iter().map(ToString::to_string).chain(verified.beside);
    let what = damage.collect::<Vec<_>>().join("; ");
    Err(ServerError::BackupDamaged { path: path.to_owned(), what })
}

/// Copies what stands beside the journal as files, and says how many there were.
pub(crate) async fn files_copied(from: &Folder, to: &Folder) -> Result<u64, ServerError> {
    let (from, to) = (from.clone(), to.clone());
    let copying = tokio::task::spawn_blocking(move || {
        let files = blobs(&from, &to)? + catalogue(&from, &to)?;
        // Stations trust the authority they met, so it goes on in whatever is made from a backup.
        authority::copy(from.path(), to.path())?;
        // Whatever is made from a backup goes on bringing its journal to the owner's server, which sees that it is behind.
        for name in [SETTINGS_FILE, OWNER_LINK_FILE, LOST_RECORDS_FILE, VEHICLE_KEY_FILE] {
            let path = from.path().join(name);
            match fs::read(&path) {
                Ok(content) => replace(&to.path().join(name), &content)?,
                Err(error) if error.kind() == ErrorKind::NotFound => {}
                Err(error) => return Err(ServerError::file("reading", &path)(error)),
            }
        }
        Ok(files)
    });
    copying.await.unwrap_or_else(|error| Err(ServerError::Network { cause: error.to_string() }))
}

fn blobs(from: &Folder, to: &Folder) -> Result<u64, ServerError> {
    let mut count = 0;
    for name in Blobs::of(from).names()? {
        let (source, target) = (from.blobs().join(&name), to.blobs().join(&name));
        let content = match fs::read(&source) {
            Ok(content) => content,
            // It was erased after the list was made.
            Err(error) if error.kind() == ErrorKind::NotFound => continue,
            Err(error) => return Err(ServerError::file("reading", &source)(error)),
        };
        let digest = name.file_name().and_then(|name| name.to_str()).unwrap_or_default();
        if name.extension().is_none() && digest_of(&content) != digest {
            return Err(ServerError::BlobDamaged { digest: digest.to_owned(), path: source });
        }
        if let Some(drawer) = target.parent() {
            make(drawer)?;
        }
        replace(&target, &content)?;
        count += 1;
    }
    sync(&to.blobs())?;
    Ok(count)
}

fn catalogue(from: &Folder, to: &Folder) -> Result<u64, ServerError> {
    let mut count = 0;
    for revision in inside(&from.catalogue())? {
        let Some(name) = revision.file_name().filter(|_| revision.is_dir()) else { continue };
        let target = to.catalogue().join(name);
        make(&target)?;
        for file in inside(&revision)? {
            let Some(name) = file.file_name().filter(|_| file.is_file()) else { continue };
            let content = fs::read(&file).map_err(ServerError::file("reading", &file))?;
            replace(&target.join(name), &content)?;
            count += 1;
        }
    }
    sync(&to.catalogue())?;
    Ok(count)
}

fn inside(folder: &Path) -> Result<Vec<std::path::PathBuf>, ServerError> {
    let failed = || ServerError::file("reading", folder);
    let items = fs::read_dir(folder).map_err(failed())?;
    items.map(|item| item.map(|item| item.path()).map_err(failed())).collect()
}

fn make(folder: &Path) -> Result<(), ServerError> {
    let made = DirBuilder::new().mode(0o700).recursive(true).create(folder);
    made.map_err(ServerError::file("creating", folder))
}
