//! Looking at catalogues beside a site: check a folder, compare two, take a revision out again.
//!
//! None of it changes a site, and all of it works whether or not a server runs. Never here: words for people, or what a
//! difference is, which is the engine's. Called by the verbs of the binary.

use super::{Files, adoptions, kept, kept_files, read_folder};
use crate::error::ServerError;
use crate::folder::{Folder, replace};
use standpipe_engine::catalogue::{Difference, Remarks, Revision, difference, remarks};
use std::fs::{self, DirBuilder};
use std::os::unix::fs::DirBuilderExt as _;
use std::path::Path;

/// Least digits by which a revision is named.
const DIGITS_LEAST: usize = 8;
const DIGITS: usize = 64;

/// A folder that is a catalogue.
#[derive(Debug)]
pub struct CheckedCatalogue {
    /// What it says.
    pub revision: Revision,
    /// How many files it is.
    pub files: usize,
    /// What is worth a look.
    pub remarks: Remarks,
}

/// Two catalogues side by side.
#[derive(Debug)]
pub struct ComparedCatalogues {
    /// Identity of the old one, 64 hexadecimal digits.
    pub old: String,
    /// Identity of the new one, 64 hexadecimal digits.
    pub new: String,
    /// What is different.
    pub difference: Difference,
}

/// Reads a folder as a catalogue and looks it through.
///
/// # Errors
/// [`ServerError::Catalogue`] with every mistake of every file.
pub fn check_catalogue(from: &Path) -> Result<CheckedCatalogue, ServerError> {
    let (files, revision) = read_folder(from)?;
    let remarks = remarks(&revision);
    Ok(CheckedCatalogue { files: files.len(), revision, remarks })
}

/// Compares two catalogues, each a folder or, where a site's folder is given, a revision of that site by its digits.
///
/// # Errors
/// As [`check_catalogue`]; [`ServerError::RevisionNotFound`] where the digits name none or several.
pub fn compare_catalogues(
    old: &Path,
    new: &Path,
    site: Option<&Path>,
) -> Result<ComparedCatalogues, ServerError> {
    let (old_files, old) = opened(old, site)?;
    let (new_files, new) = opened(new, site)?;
    let difference = difference((&old_files, &old), (&new_files, &new));
    Ok(ComparedCatalogues { old: old.id().to_string(), new: new.id().to_string(), difference })
}

/// Writes the files of a revision into a new or empty folder, byte for byte as they were imported, and gives its
/// identity and the number of files. Without digits it is the current revision.
///
/// # Errors
/// [`ServerError::FolderNotEmpty`] where something stands in the folder; nothing is written then.
pub async fn export_catalogue(
    to: &Path,
    site: &Path,
    revision: Option<&str>,
) -> Result<(String, usize), ServerError> {
    let folder = Folder::find(site)?;
    let revision_id = match revision {
        Some(digits) => found(&folder, digits)?,
        None => current(&folder).await?,
    };
    let files = kept_files(&folder, &revision_id)?;
    make_empty(to)?;
    for (name, content) in &files {
        replace(&to.join(name), content)?;
    }
    Ok((revision_id, files.len()))
}

/// Makes the folder, or finds that nothing stands in it.
fn make_empty(to: &Path) -> Result<(), ServerError> {
    if !to.exists() {
        let made = DirBuilder::new().mode(0o700).create(to);
        return made.map_err(ServerError::file("creating", to));
    }
    let mut inside = fs::read_dir(to).map_err(ServerError::file("reading", to))?;
    match inside.next() {
        None => Ok(()),
        Some(_) => Err(ServerError::FolderNotEmpty { path: to.to_owned() }),
    }
}

fn opened(what: &Path, site: Option<&Path>) -> Result<(Files, Revision), ServerError> {
    let digits = what.to_str().filter(|text| is_digits(text));
    match (digits, site) {
        (Some(digits), Some(site)) if !what.is_dir() => {
            let folder = Folder::find(site)?;
            kept(&folder, &found(&folder, digits)?)
        }
        _ => read_folder(what),
    }
}

fn is_digits(text: &str) -> bool {
    (DIGITS_LEAST..=DIGITS).contains(&text.len()) && text.bytes().all(|digit| digit.is_ascii_hexdigit())
}

/// The one kept revision whose identity begins with the digits.
pub(crate) fn found(folder: &Folder, digits: &str) -> Result<String, ServerError> {
    let wrong =
        |what: &str| ServerError::RevisionNotFound { digits: digits.to_owned(), what: what.to_owned() };
    if !is_digits(digits) {
        return Err(wrong("is written with 8 to 64 hexadecimal digits"));
    }
    let place = folder.catalogue();
    let wanted = digits.to_ascii_lowercase();
    let mut fitting = Vec::new();
    for item in fs::read_dir(&place).map_err(ServerError::file("reading", &place))? {
        let name = item.map_err(ServerError::file("reading", &place))?.file_name();
        let name = name.to_str().filter(|name| name.len() == DIGITS && name.starts_with(&wanted));
        fitting.extend(name.map(str::to_owned));
    }
    match (fitting.pop(), fitting.is_empty()) {
        (Some(only), true) => Ok(only),
        (Some(_), false) => Err(wrong("begins several identities; write more of its digits")),
        (None, _) => Err(wrong("is kept here by no such identity")),
    }
}

async fn current(folder: &Folder) -> Result<String, ServerError> {
    let store = folder.place()?.open_for_reading().await?;
    let last = adoptions(&*store).await?.pop();
    last.map(|adoption| adoption.revision_id).ok_or_else(|| ServerError::RevisionNotFound {
        digits: String::new(),
        what: "was never imported here".to_owned(),
    })
}
