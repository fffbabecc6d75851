//! What a shop server keeps of the owner's server that it brings its journal to: address, authority, station and token,
//! in the file DIR/owner-link, readable by this user only and always whole.
//!
//! A backup holds the file too: what is made from the backup goes on by itself, and the owner's server sees at the first
//! comparison that it is behind. Without it the workshop's facts would stay away from the owner without a word.
//! Called by [`super::joined`], [`super::link`] and [`super::recover`]. Never here: a connection.

use crate::clock::{Entropy, hex};
use crate::error::ServerError;
use crate::folder::{replace, sync};
use rustls_pki_types::CertificateDer;
use serde::{Deserialize, Serialize, de::DeserializeOwned};
use sha2::{Digest as _, Sha256};
use standpipe_proto::dial::{ServerAddress, read_pem};
use std::fs;
use std::io::ErrorKind;
use std::path::Path;

/// Name of the file in the folder.
pub const OWNER_LINK_FILE: &str = "owner-link";
/// Name of the file with a token that was drawn for a code and not yet answered, in the folder of a site.
pub(crate) const DRAWN_FILE: &str = "owner-link-drawn";

/// The owner's server, and who this site is there.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct OwnerLink {
    /// Where it listens, as `host:port`.
    pub(crate) address: String,
    /// Name of the station that this site is there.
    pub(crate) station: String,
    /// What that station shows.
    pub(crate) token: String,
    /// What it is to show from now on, while that is asked for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) next_token: Option<String>,
    /// The authority that it proves itself by, as PEM.
    pub(crate) authority: String,
}

/// A token of this site's own making, kept before it is shown: an answer that was lost is asked for again with it.
#[derive(Debug, Serialize, Deserialize)]
struct Drawn {
    /// SHA-256 of the code that it was drawn for.
    drawn_for: String,
    token: String,
}

impl OwnerLink {
    /// The link of a site; nothing if it has joined no owner's server.
    ///
    /// # Errors
    /// [`ServerError::OwnerLink`] when the file is not as this program wrote it.
    pub(crate) fn of(dir: &Path) -> Result<Option<Self>, ServerError> {
        let Some(link): Option<Self> = read(dir, OWNER_LINK_FILE)? else { return Ok(None) };
        // Looked at here, so that nobody finds out in the middle of the work.
        link.reached_at(dir)?;
        Ok(Some(link))
    }

    /// Where the server is and what it is known by.
    ///
    /// # Errors
    /// As [`OwnerLink::of`].
    pub(crate) fn reached_at(
        &self,
        dir: &Path,
    ) -> Result<(ServerAddress, CertificateDer<'static>), ServerError> {
        let wrong = || ServerError::OwnerLink { path: dir.join(OWNER_LINK_FILE) };
        let address = ServerAddress::read(&self.address).map_err(|_| wrong())?;
        Ok((address, read_pem(&self.authority).ok_or_else(wrong)?))
    }

    /// Keeps it, in the place of one before.
    ///
    /// # Errors
    /// When the disk refuses.
    pub(crate) fn keep(&self, dir: &Path) -> Result<(), ServerError> {
        write(dir, OWNER_LINK_FILE, self)
    }

    /// Removes it; says whether there was one.
    ///
    /// # Errors
    /// When the disk refuses.
    pub(crate) fn remove(dir: &Path) -> Result<bool, ServerError> {
        forget_drawn(dir, DRAWN_FILE)?;
        remove(dir, OWNER_LINK_FILE)
    }
}

/// A token for a code, kept under a name: the same again for the same code.
///
/// # Errors
/// When the disk refuses, or the machine gives no random numbers.
pub(crate) fn drawn_token(
    (dir, name): (&Path, &str),
    secret: &str,
    entropy: &dyn Entropy,
) -> Result<String, ServerError> {
    let drawn_for = hex(&Sha256::digest(secret.as_bytes()));
    // One that cannot be read was never shown, or is asked for again at the owner's server by a new code.
    let before: Option<Drawn> = read(dir, name).unwrap_or_default();
    if let Some(before) = before.filter(|before| before.drawn_for == drawn_for) {
        return Ok(before.token);
    }
    let token = new_token(entropy)?;
    write(dir, name, &Drawn { drawn_for, token: token.clone() })?;
    Ok(token)
}

/// A token of this site's own making.
///
/// # Errors
/// When the machine gives no random numbers.
pub(crate) fn new_token(entropy: &dyn Entropy) -> Result<String, ServerError> {
    let mut bytes = [0; 32];
    entropy.fill(&mut bytes)?;
    Ok(hex(&bytes))
}

/// Forgets a token that was drawn for a code.
///
/// # Errors
/// When the disk refuses.
pub(crate) fn forget_drawn(dir: &Path, name: &str) -> Result<(), ServerError> {
    remove(dir, name).map(drop)
}

fn read<T: DeserializeOwned>(dir: &Path, name: &str) -> Result<Option<T>, ServerError> {
    let path = dir.join(name);
    match fs::read_to_string(&path) {
        Ok(text) => toml::from_str(&text).map(Some).map_err(|_| ServerError::OwnerLink { path }),
        Err(cause) if cause.kind() == ErrorKind::NotFound => Ok(None),
        Err(cause) => Err(ServerError::file("reading", &path)(cause)),
    }
}

fn write<T: Serialize>(dir: &Path, name: &str, value: &T) -> Result<(), ServerError> {
    let path = dir.join(name);
    let text = toml::to_string(value).map_err(|_| ServerError::OwnerLink { path: path.clone() })?;
    replace(&path, text.as_bytes())
}

fn remove(dir: &Path, name: &str) -> Result<bool, ServerError> {
    let path = dir.join(name);
    match fs::remove_file(&path) {
        Ok(()) => sync(dir).map(|()| true),
        Err(cause) if cause.kind() == ErrorKind::NotFound => Ok(false),
        Err(cause) => Err(ServerError::file("removing", &path)(cause)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::clock::SystemEntropy;
    use std::os::unix::fs::PermissionsExt as _;

    fn link() -> OwnerLink {
        let authority = standpipe_proto::dial::write_pem(&CertificateDer::from(vec![7_u8; 300]));
        let (address, station) = ("owner.lan:50551".to_owned(), "harbour-lane".to_owned());
        OwnerLink { address, station, token: "a".repeat(64), next_token: None, authority }
    }

    #[test]
    fn forwarding_reads_its_link_back_and_nobody_else_does() {
        let home = tempfile::tempdir().unwrap();
        assert_eq!(OwnerLink::of(home.path()).unwrap(), None);
        for next_token in [None, Some("b".repeat(64))] {
            let link = OwnerLink { next_token, ..link() };
            link.keep(home.path()).unwrap();
            assert_eq!(OwnerLink::of(home.path()).unwrap(), Some(link));
        }
        let mode = fs::metadata(home.path().join(OWNER_LINK_FILE)).unwrap().permissions().mode();
        assert_eq!(mode & 0o777, 0o600);
        assert!(OwnerLink::remove(home.path()).unwrap());
        assert!(!OwnerLink::remove(home.path()).unwrap());
    }

    #[test]
    fn forwarding_does_not_take_a_link_that_was_cut_or_names_no_server() {
        let home = tempfile::tempdir().unwrap();
        link().keep(home.path()).unwrap();
        let path = home.path().join(OWNER_LINK_FILE);
        let whole = fs::read_to_string(&path).unwrap();
        for cut in 0..whole.trim_end().len() {
            let taken = {
                fs::write(&path, whole.get(..cut).unwrap()).unwrap();
                OwnerLink::of(home.path())
            };
            assert!(matches!(taken, Err(ServerError::OwnerLink { .. })), "cut at {cut}: {taken:?}");
        }
        fs::write(&path, whole.replace("owner.lan:50551", "http://x")).unwrap();
        assert!(OwnerLink::of(home.path()).is_err());
    }

    #[test]
    fn forwarding_draws_the_same_token_for_the_same_code_only() {
        let home = tempfile::tempdir().unwrap();
        let drawn = |secret: &str| drawn_token((home.path(), DRAWN_FILE), secret, &SystemEntropy).unwrap();
        let first = drawn("7KXW2M9QT4");
        assert_eq!(drawn("7KXW2M9QT4"), first);
        let second = drawn("ZZZZ2M9QT4");
        assert_ne!(second, first);
        forget_drawn(home.path(), DRAWN_FILE).unwrap();
        assert_ne!(drawn("ZZZZ2M9QT4"), second);
    }
}
