//! Photos and words that wait for the shop server: each a file named by the SHA-256 of what it holds, so that it
//! tells by itself whether it is whole. Called by [`crate::Station`] when it keeps and sends them.

use super::{Folder, Lock, REFUSED, UNSENT};
use crate::error::ClientError;
use sha2::{Digest, Sha256};
use standpipe_proto::limits::PHOTO_BYTES_MAX;
use std::path::PathBuf;

const BLOBS: &str = "blobs";
/// Files that may wait; a job has at most 20 photos.
pub(crate) const BLOBS_WAITING_MAX: usize = 500;

/// Name of a file: SHA-256 of its bytes (FIPS 180-4) as 64 hexadecimal digits.
pub(crate) fn digest_of(bytes: &[u8]) -> String {
    use std::fmt::Write as _;
    Sha256::digest(bytes).iter().fold(String::with_capacity(64), |mut digits, byte| {
        // Writing to a String cannot fail.
        let _ = write!(digits, "{byte:02x}");
        digits
    })
}

impl Folder {
    /// Keeps a file: when this returns, it is on the disk. The same file again is the same.
    pub(crate) fn keep_blob(&self, lock: &Lock, bytes: &[u8]) -> Result<String, ClientError> {
        let waiting = self.blobs()?;
        let digest = digest_of(bytes);
        if waiting.contains(&digest) {
            return Ok(digest);
        }
        if waiting.len() >= BLOBS_WAITING_MAX {
            return Err(ClientError::Full { entries: waiting.len() });
        }
        let folder = self.blob_folder();
        if waiting.is_empty() {
            self.make_folder(&folder)?;
            self.sync(&self.root().join(UNSENT))?;
        }
        self.replace(lock, &folder.join(&digest), bytes)?;
        Ok(digest)
    }

    /// Names of the files that wait.
    pub(crate) fn blobs(&self) -> Result<Vec<String>, ClientError> {
        let is_digest =
            |name: &String| name.len() == 64 && name.bytes().all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f'));
        Ok(self.list(&self.blob_folder())?.into_iter().filter(is_digest).collect())
    }

    /// The bytes of a file that waits; nothing if it is not whole and was moved aside, or is gone.
    pub(crate) fn blob(&self, lock: &Lock, digest: &str) -> Result<Option<Vec<u8>>, ClientError> {
        let path = self.blob_folder().join(digest);
        let bytes = match self.disk.read(&path, PHOTO_BYTES_MAX) {
            Err(cause) if cause.kind() == std::io::ErrorKind::NotFound => return Ok(None),
            other => other.map_err(|cause| ClientError::disk("reading", &path, cause))?,
        };
        if digest_of(&bytes) == digest {
            return Ok(Some(bytes));
        }
        self.move_aside(lock, &path, &format!("{digest}.blob"))?;
        self.sync(&self.blob_folder())?;
        Ok(None)
    }

    /// Removes a file that the server has. After a power cut it may be there again, and is then sent again.
    pub(crate) fn blob_sent(&self, _lock: &Lock, digest: &str) -> Result<(), ClientError> {
        self.remove(&self.blob_folder().join(digest))
    }

    /// Puts a file aside that the server will never take.
    pub(crate) fn blob_refused(&self, _lock: &Lock, digest: &str) -> Result<(), ClientError> {
        let folder = self.root().join(REFUSED);
        self.rename(&self.blob_folder().join(digest), &folder.join(format!("{digest}.blob")))?;
        self.sync(&folder)?;
        self.sync(&self.blob_folder())
    }

    fn blob_folder(&self) -> PathBuf {
        self.root().join(UNSENT).join(BLOBS)
    }
}
