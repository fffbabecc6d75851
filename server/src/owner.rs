//! Whose a site's folder is, and who asks. A verb that one user says on another's folder would leave files there that
//! the server cannot read, so it is refused before anything is written.
//!
//! Called by [`crate::folder`] and the doctor. Never here: a change of rights.

use crate::error::ServerError;
use std::fs::{self, Metadata};
use std::os::unix::fs::MetadataExt as _;
use std::path::{Path, PathBuf};

/// The user who may read everything.
const ROOT: u32 = 0;

/// Name of a user, or the number where the system knows none.
pub(crate) fn name_of(uid: u32) -> String {
    match uzers::get_user_by_uid(uid) {
        Some(user) => user.name().to_string_lossy().into_owned(),
        None => format!("user {uid}"),
    }
}

/// The user as `chown` takes it.
fn for_chown(uid: u32) -> String {
    uzers::get_user_by_uid(uid)
        .map_or_else(|| uid.to_string(), |user| user.name().to_string_lossy().into_owned())
}

/// The command that gives a folder with all that is in it to its owner again.
pub(crate) fn give_back(owner: u32, dir: &Path) -> String {
    format!("sudo chown -R {} {}", for_chown(owner), dir.display())
}

/// Requires that who runs this command owns a site's folder, and can read what the server wrote into it.
///
/// # Errors
/// [`ServerError::OtherOwner`] or [`ServerError::OtherOwnerInside`].
pub(crate) fn require(dir: &Path, names: &[PathBuf]) -> Result<(), ServerError> {
    let about = fs::metadata(dir).map_err(ServerError::file("looking", dir))?;
    let asks = uzers::get_effective_uid();
    judged(dir, about.uid(), asks)?;
    match strangers(&about, names).into_iter().next() {
        Some((path, owner)) => judged_inside(dir, path, owner, asks),
        None => Ok(()),
    }
}

/// What else the system says when a folder cannot be looked into: whose it is, or whose the folder above it.
pub(crate) fn closed(path: &Path, cause: std::io::Error) -> ServerError {
    let known = path.ancestors().find_map(|above| Some((above, fs::metadata(above).ok()?)));
    let refused =
        known.map_or(Ok(()), |(above, about)| judged(above, about.uid(), uzers::get_effective_uid()));
    refused.err().unwrap_or_else(|| ServerError::file("looking", path)(cause))
}

/// What is there and belongs to somebody else than the folder.
pub(crate) fn strangers(folder: &Metadata, names: &[PathBuf]) -> Vec<(PathBuf, u32)> {
    let owner = |path: &PathBuf| Some((path.clone(), fs::symlink_metadata(path).ok()?.uid()));
    names.iter().filter_map(owner).filter(|(_, uid)| *uid != folder.uid()).collect()
}

fn judged(path: &Path, owner: u32, asks: u32) -> Result<(), ServerError> {
    if owner == asks {
        return Ok(());
    }
    let name = name_of(owner);
    let as_owner = match uzers::get_user_by_uid(owner) {
        Some(_) => format!("say it as the owner: sudo -u {name} standpipe-server …"),
        // A service manager may draw a user for as long as the service runs.
        None => format!("say it as {name}"),
    };
    let next = match asks {
        ROOT => format!("{as_owner}, or while the server runs, which then does it itself"),
        _ => as_owner,
    };
    Err(ServerError::OtherOwner { path: path.to_owned(), owner: name, user: name_of(asks), next })
}

fn judged_inside(dir: &Path, path: PathBuf, owner: u32, asks: u32) -> Result<(), ServerError> {
    if asks == ROOT {
        return Ok(());
    }
    let (owner, user, next) = (name_of(owner), name_of(asks), give_back(asks, dir));
    Err(ServerError::OtherOwnerInside { path, owner, user, next })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::error::Exit;

    const NOBODY_KNOWS: u32 = 4_000_000_001;

    #[test]
    fn who_does_not_own_the_folder_is_told_whose_it_is_and_what_to_say_instead() {
        let dir = Path::new("shop");
        assert!(judged(dir, NOBODY_KNOWS, NOBODY_KNOWS).is_ok() && judged(dir, ROOT, ROOT).is_ok());
        let refused = judged(dir, NOBODY_KNOWS, ROOT).unwrap_err();
        assert_eq!(refused.exit(), Exit::NotPermitted);
        let told = refused.to_string();
        assert!(told.starts_with("shop belongs to user 4000000001, "), "{told}");
        assert!(told.contains("while the server runs"), "{told}");
        let told = judged(dir, ROOT, NOBODY_KNOWS).unwrap_err().to_string();
        assert!(told.contains("sudo -u root standpipe-server") && !told.contains("while"), "{told}");
    }

    #[test]
    fn a_file_that_somebody_else_left_in_the_folder_is_named_with_its_remedy() {
        let (dir, file) = (Path::new("shop"), PathBuf::from("shop/epoch"));
        assert!(judged_inside(dir, file.clone(), NOBODY_KNOWS, ROOT).is_ok());
        let told = judged_inside(dir, file, ROOT, NOBODY_KNOWS).unwrap_err();
        assert_eq!(told.exit(), Exit::NotPermitted);
        assert!(told.to_string().starts_with("shop/epoch belongs to root"), "{told}");
        assert!(told.to_string().ends_with("sudo chown -R 4000000001 shop"), "{told}");
    }

    #[test]
    fn only_what_belongs_to_another_than_the_folder_is_a_stranger() {
        let home = tempfile::tempdir().unwrap();
        let file = home.path().join("epoch");
        fs::write(&file, "x").unwrap();
        let names = [file.clone(), home.path().join("missing")];
        let folder = fs::metadata(home.path()).unwrap();
        assert_eq!(strangers(&folder, &names), []);
        // Giving a file away needs rights that not everybody has who runs the tests.
        if std::os::unix::fs::chown(&file, Some(NOBODY_KNOWS), None).is_ok() {
            assert_eq!(strangers(&folder, &names), [(file, NOBODY_KNOWS)]);
        }
    }
}
