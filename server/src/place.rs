//! Which folder is meant when a command names none. Used by every verb but those that make a folder.

use crate::authority::TLS;
use crate::config;
use crate::error::ServerError;
use crate::folder::Folder;
use std::path::{Path, PathBuf};

/// The site's folder: the one that was named, else `STANDPIPE_SERVER_DIR`, else the current folder if it is a site's,
/// else the only site's folder directly inside it.
///
/// # Errors
/// [`ServerError::FolderNotNamed`] when that leaves none, or several.
pub fn site_folder(named: Option<PathBuf>) -> Result<PathBuf, ServerError> {
    match named.or_else(config::folder) {
        Some(dir) => Ok(dir),
        None => site_in(Path::new(".")),
    }
}

fn site_in(here: &Path) -> Result<PathBuf, ServerError> {
    // A station's folder has an epoch file as well, so one whose journal is lost is known by its keys.
    let is_site = |path: &Path| match Folder::find(path) {
        Ok(_) => true,
        Err(ServerError::JournalLost { .. }) => path.join(TLS).is_dir(),
        Err(_) => false,
    };
    if is_site(here) {
        return Ok(here.to_owned());
    }
    let inside = std::fs::read_dir(here).map_err(ServerError::file("reading", here))?;
    let folders = inside.filter_map(Result::ok).map(|entry| entry.path()).filter(|path| path.is_dir());
    let mut sites: Vec<PathBuf> = folders.filter(|path| is_site(path)).collect();
    sites.sort();
    match sites.as_slice() {
        [one] => Ok(one.strip_prefix(".").unwrap_or(one).to_owned()),
        [] => Err(ServerError::FolderNotNamed { what: "no site's folder is here".to_owned() }),
        many => {
            let names: Vec<_> = many
                .iter()
                .filter_map(|path| path.file_name())
                .map(|name| name.to_string_lossy().into_owned())
                .collect();
            Err(ServerError::FolderNotNamed { what: format!("several sites are here: {}", names.join(", ")) })
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::folder::{EPOCH_FILE, JOURNAL_FILE};

    #[test]
    fn the_only_site_here_is_meant_and_of_several_none() {
        let home = tempfile::tempdir().unwrap();
        let site = |name: &str| {
            let dir = home.path().join(name);
            std::fs::create_dir(&dir).unwrap();
            std::fs::write(dir.join(JOURNAL_FILE), b"").unwrap();
            dir
        };
        let sentence = |here: &Path| site_in(here).unwrap_err().to_string();
        assert!(sentence(home.path()).contains("no site's folder is here"));
        let shop = site("shop");
        assert_eq!(site_in(home.path()).unwrap(), shop);
        assert_eq!(site_in(&shop).unwrap(), shop);
        // A bay's folder beside it is no site.
        std::fs::create_dir(home.path().join("bay-1")).unwrap();
        std::fs::write(home.path().join("bay-1").join(EPOCH_FILE), "x").unwrap();
        assert_eq!(site_in(home.path()).unwrap(), shop);
        site("shop-2");
        assert!(sentence(home.path()).contains("shop, shop-2"));
    }
}
