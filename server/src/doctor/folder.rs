//! The folder itself: who may read it, and how much room its disk has.

use super::{Check, Patient, size};
use crate::error::ServerError;
use crate::owner;
use crate::space::{self, Space};
use std::fs;
use std::os::unix::fs::{MetadataExt as _, PermissionsExt as _};
use std::path::{Path, PathBuf};

/// With less than one part in so many free, something is to be done.
const FREE_PART: u64 = 10;
/// With less than this free, too, however small the disk is.
const FREE_BYTES_LEAST: u64 = 500_000_000;

pub(super) fn checks(patient: &Patient<'_>) -> Result<Vec<Check>, ServerError> {
    Ok(vec![rights(patient)?, disk(patient, space::of(patient.folder.path()))])
}

/// Whether others can read or write the folder or a key in it.
fn rights(patient: &Patient<'_>) -> Result<Check, ServerError> {
    let dir = patient.folder.path();
    let mut open: Vec<PathBuf> = Vec::new();
    if mode(dir)? & 0o077 != 0 {
        open.push(dir.to_owned());
    }
    for entry in fs::read_dir(dir.join("tls")).into_iter().flatten().filter_map(Result::ok) {
        let path = entry.path();
        let is_key = path.file_name().is_some_and(|name| name.to_string_lossy().ends_with("-key.pem"));
        if is_key && mode(&path)? & 0o077 != 0 {
            open.push(path);
        }
    }
    if let Some(foreign) = foreign(patient)? {
        return Ok(foreign);
    }
    if open.is_empty() {
        return Ok(Check::well("folder", format!("{} is closed to other users", dir.display())));
    }
    let names: Vec<_> = open.iter().map(|path| path.display().to_string()).collect();
    let sentence = format!("other users of this machine can reach {}", names.join(" and "));
    Ok(Check::to_do("folder", sentence, format!("chmod go-rwx {}", names.join(" "))))
}

/// What somebody else than the folder's owner left in it, so that the server cannot read it.
fn foreign(patient: &Patient<'_>) -> Result<Option<Check>, ServerError> {
    let dir = patient.folder.path();
    let about = fs::metadata(dir).map_err(ServerError::file("looking", dir))?;
    let found = owner::strangers(&about, &patient.folder.written());
    Ok(found.first().map(|(path, uid)| {
        let (whose, folders) = (owner::name_of(*uid), owner::name_of(about.uid()));
        let sentence = format!(
            "{} belongs to {whose}, but the folder to {folders}, as whom the server could not use it",
            path.display()
        );
        Check::to_do("folder", sentence, owner::give_back(about.uid(), dir))
    }))
}

fn mode(path: &Path) -> Result<u32, ServerError> {
    Ok(fs::metadata(path).map_err(ServerError::file("looking", path))?.permissions().mode())
}

fn disk(patient: &Patient<'_>, told: std::io::Result<Space>) -> Check {
    let space = match told {
        Ok(space) => space,
        Err(error) => {
            let sentence = format!("the disk does not say how much of it is free ({error})");
            return Check::to_do("disk", sentence, "look at the disk with: df");
        }
    };
    let sentence = format!("{} of {} are free", size(space.free_bytes), size(space.size_bytes));
    if space.free_bytes < FREE_BYTES_LEAST || space.free_bytes < space.size_bytes / FREE_PART {
        let next = format!(
            "free some room, or move {} to a larger disk while the server is stopped",
            patient.dir.display()
        );
        return Check::to_do(
            "disk",
            format!("only {sentence}; when it is full, nothing more is taken"),
            next,
        );
    }
    Check::well("disk", sentence)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::folder::{Folder, JOURNAL_FILE};

    #[test]
    fn a_disk_that_fills_up_is_told_before_it_is_full() {
        let home = tempfile::tempdir().unwrap();
        fs::write(home.path().join(JOURNAL_FILE), b"").unwrap();
        let folder = Folder::find(home.path()).unwrap();
        let patient = Patient { dir: home.path(), folder, settings: None, now_us: 0 };
        let of = |free_bytes, size_bytes| disk(&patient, Ok(Space { free_bytes, size_bytes }));
        assert_eq!(of(40_000_000_000, 100_000_000_000).next, None);
        assert!(of(9_000_000_000, 100_000_000_000).next.is_some());
        let small = of(400_000_000, 1_000_000_000);
        assert!(small.sentence.starts_with("only 400 MB of 1.0 GB"), "{}", small.sentence);
        assert!(disk(&patient, Err(std::io::Error::other("gone"))).next.is_some());
    }
}
