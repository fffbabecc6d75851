//! Files beside the journal, named by what they hold: `blobs/<first 2 digits>/<SHA-256>`.
//!
//! A file may come before or after the entry that names it. An erased one leaves an empty mark, so that a station that
//! sends it again is told. A remark's file is 16 random bytes and then the words, so that short words cannot be
//! guessed from the digest that stays in the journal. Never here: who may send or read one.

pub(crate) mod photo;
pub(crate) mod print;

use crate::clock::hex;
use crate::error::ServerError;
use crate::folder::{Folder, replace, sync, unfinished};
use sha2::{Digest, Sha256};
use standpipe_proto::limits::{PHOTO_BYTES_MAX, REMARK_CHARACTERS_MAX};
use std::fs::{self, DirBuilder};
use std::io::ErrorKind;
use std::os::unix::fs::DirBuilderExt;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

/// Random bytes before the words of a remark.
pub(crate) const SALT_BYTES: usize = 16;
/// What the file of a record begins with.
const RECORD_MAGIC: &[u8] = b"%PDF-";
const ERASED: &str = "erased";

/// The files of a site.
#[derive(Debug)]
pub(crate) struct Blobs {
    root: PathBuf,
    /// Held while a file is written or erased, so that two of the same name do not meet.
    writing: Mutex<()>,
}

/// What became of a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Found {
    /// It is here.
    Bytes(Vec<u8>),
    /// It was here and was erased.
    Erased,
    /// It has not arrived, or there is no such file.
    Absent,
}

impl Blobs {
    /// Those of a site's folder.
    pub(crate) fn of(folder: &Folder) -> Self {
        Self { root: folder.blobs(), writing: Mutex::new(()) }
    }

    /// Keeps a file and says whether it was here already. A damaged one is put right.
    ///
    /// # Errors
    /// [`ServerError::BlobErased`], or when the disk refuses.
    pub(crate) fn put(&self, digest: &str, bytes: &[u8]) -> Result<bool, ServerError> {
        let _writing = self.writing.lock().unwrap_or_else(PoisonError::into_inner);
        match self.get(digest) {
            Ok(Found::Bytes(_)) => return Ok(true),
            Ok(Found::Erased) => return Err(ServerError::BlobErased { digest: digest.to_owned() }),
            Ok(Found::Absent) | Err(ServerError::BlobDamaged { .. }) => {}
            Err(error) => return Err(error),
        }
        let path = self.path(digest);
        self.make_folder(&path)?;
        replace(&path, bytes).map(|()| false)
    }

    /// Whether a file is here, without reading it: the bytes of one that is are left out.
    ///
    /// # Errors
    /// When the disk refuses.
    pub(crate) fn look_for(&self, digest: &str) -> Result<Found, ServerError> {
        let path = self.path(digest);
        let is_there = |path: &Path| path.try_exists().map_err(ServerError::file("reading", path));
        if is_there(&mark(&path))? {
            return Ok(Found::Erased);
        }
        Ok(if is_there(&path)? { Found::Bytes(Vec::new()) } else { Found::Absent })
    }

    /// Reads a file and compares it with its name.
    ///
    /// # Errors
    /// [`ServerError::BlobDamaged`], or when the disk refuses.
    pub(crate) fn get(&self, digest: &str) -> Result<Found, ServerError> {
        let path = self.path(digest);
        // The mark counts for more than the file: an erasure may have been cut off between the two.
        if mark(&path).try_exists().map_err(ServerError::file("reading", &path))? {
            return Ok(Found::Erased);
        }
        match fs::read(&path) {
            Ok(bytes) if digest_of(&bytes) == digest => Ok(Found::Bytes(bytes)),
            Ok(_) => Err(ServerError::BlobDamaged { digest: digest.to_owned(), path }),
            Err(error) if error.kind() == ErrorKind::NotFound => Ok(Found::Absent),
            Err(error) => Err(ServerError::file("reading", &path)(error)),
        }
    }

    /// Erases a photo or a remark for good, also one that is still to arrive. Erasing again changes nothing.
    ///
    /// # Errors
    /// [`ServerError::BlobIsRecord`] for an issued record, or when the disk refuses.
    pub(crate) fn erase(&self, digest: &str) -> Result<(), ServerError> {
        let _writing = self.writing.lock().unwrap_or_else(PoisonError::into_inner);
        let path = self.path(digest);
        match fs::read(&path) {
            Ok(bytes) if is_record(&bytes) => {
                return Err(ServerError::BlobIsRecord { digest: digest.to_owned() });
            }
            Ok(_) => {}
            Err(error) if error.kind() == ErrorKind::NotFound => {}
            Err(error) => return Err(ServerError::file("reading", &path)(error)),
        }
        self.make_folder(&path)?;
        // The mark comes first: whatever is cut off after it, the file does not come back.
        replace(&mark(&path), b"")?;
        // A writing that was cut off left the same content under its unfinished name.
        for file in [&path, &unfinished(&path)] {
            match fs::remove_file(file) {
                Err(error) if error.kind() != ErrorKind::NotFound => {
                    return Err(ServerError::file("erasing", file)(error));
                }
                _ => {}
            }
        }
        path.parent().map_or(Ok(()), sync)
    }

    /// Digests of all files that are here, and names of all marks of erased ones, relative to the folder.
    ///
    /// # Errors
    /// When the folder cannot be read.
    pub(crate) fn names(&self) -> Result<Vec<PathBuf>, ServerError> {
        let mut names = Vec::new();
        for drawer in listed(&self.root)? {
            for file in listed(&drawer)? {
                let name = file.file_stem().and_then(|name| name.to_str()).unwrap_or_default();
                let extension = file.extension().and_then(|extension| extension.to_str());
                if is_digest(name) && matches!(extension, None | Some(ERASED)) {
                    names.extend(file.strip_prefix(&self.root).map(Path::to_owned));
                }
            }
        }
        names.sort();
        // A file whose erasure was cut off before its end is not here any more.
        let marked = |name: &PathBuf| names.binary_search(&mark(name)).is_ok();
        let here = names.iter().filter(|name| name.extension().is_some() || !marked(name));
        Ok(here.cloned().collect())
    }

    /// Reads every file and says of each damaged one what is wrong, a sentence each.
    ///
    /// # Errors
    /// When the folder cannot be read.
    pub(crate) fn damaged(&self) -> Result<Vec<ServerError>, ServerError> {
        let names = self.names()?;
        let digests = names.iter().filter(|name| name.extension().is_none());
        let digests = digests.filter_map(|name| name.file_name()?.to_str());
        Ok(digests.filter_map(|digest| self.get(digest).err()).collect())
    }

    fn path(&self, digest: &str) -> PathBuf {
        self.root.join(digest.get(..2).unwrap_or_default()).join(digest)
    }

    fn make_folder(&self, file: &Path) -> Result<(), ServerError> {
        let Some(drawer) = file.parent().filter(|drawer| !drawer.is_dir()) else { return Ok(()) };
        DirBuilder::new()
            .mode(0o700)
            .recursive(true)
            .create(drawer)
            .map_err(ServerError::file("creating", drawer))?;
        sync(&self.root)
    }
}

/// SHA-256 of a file, 64 hexadecimal digits.
pub(crate) fn digest_of(bytes: &[u8]) -> String {
    let digest: [u8; 32] = Sha256::digest(bytes).into();
    hex(&digest)
}

/// Whether a text is 64 lower-case hexadecimal digits.
pub(crate) fn is_digest(text: &str) -> bool {
    text.len() == 64 && text.bytes().all(|digit| matches!(digit, b'0'..=b'9' | b'a'..=b'f'))
}

/// Whether a file is an issued record.
pub(crate) fn is_record(bytes: &[u8]) -> bool {
    bytes.starts_with(RECORD_MAGIC)
}

/// Refuses what is neither a photo nor a remark within the limits, in words.
pub(crate) fn check_sent(bytes: &[u8]) -> Result<(), String> {
    if is_record(bytes) {
        return Err("it is a PDF file; records are made by the server only".to_owned());
    }
    if words_of(bytes).is_some() {
        return Ok(());
    }
    if bytes.len() > PHOTO_BYTES_MAX {
        return Err(format!("it has {} bytes; the greatest size is {PHOTO_BYTES_MAX} bytes", bytes.len()));
    }
    photo::check(bytes).map_err(|what| {
        format!("{what}; a remark is {SALT_BYTES} random bytes and at most {REMARK_CHARACTERS_MAX} characters of UTF-8")
    })
}

/// The words of a remark's file; nothing if it is none.
pub(crate) fn words_of(bytes: &[u8]) -> Option<String> {
    let words = std::str::from_utf8(bytes.get(SALT_BYTES..)?).ok()?;
    let plain = |letter: char| !letter.is_control() || letter == '\n';
    let count = words.chars().take(REMARK_CHARACTERS_MAX + 1).count();
    ((1..=REMARK_CHARACTERS_MAX).contains(&count) && words.chars().all(plain)).then(|| words.to_owned())
}

fn mark(path: &Path) -> PathBuf {
    path.with_extension(ERASED)
}

/// What lies in a folder; nothing where there is none.
fn listed(folder: &Path) -> Result<Vec<PathBuf>, ServerError> {
    let failed = || ServerError::file("reading", folder);
    match fs::read_dir(folder) {
        Ok(inside) => inside.map(|item| item.map(|item| item.path()).map_err(failed())).collect(),
        Err(error) if matches!(error.kind(), ErrorKind::NotFound | ErrorKind::NotADirectory) => {
            Ok(Vec::new())
        }
        Err(error) => Err(failed()(error)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn blobs() -> (tempfile::TempDir, Blobs) {
        let home = tempfile::tempdir().unwrap();
        let folder = Folder::create(&home.path().join("site")).unwrap();
        let blobs = Blobs::of(&folder);
        (home, blobs)
    }

    #[test]
    fn a_file_is_kept_under_its_digest_once() {
        let (_home, blobs) = blobs();
        // FIPS 180-4, the example of one block: SHA-256 of "abc".
        let digest = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert_eq!(digest_of(b"abc"), digest);
        assert_eq!(blobs.get(digest).unwrap(), Found::Absent);
        assert!(!blobs.put(digest, b"abc").unwrap());
        assert!(blobs.put(digest, b"abc").unwrap());
        assert_eq!(blobs.get(digest).unwrap(), Found::Bytes(b"abc".to_vec()));
        assert_eq!(blobs.names().unwrap(), [Path::new("ba").join(digest)]);
    }

    #[test]
    fn a_damaged_file_is_named_and_put_right_when_it_comes_again() {
        let (_home, blobs) = blobs();
        let digest = digest_of(b"abc");
        blobs.put(&digest, b"abc").unwrap();
        fs::write(blobs.path(&digest), b"abd").unwrap();
        assert!(matches!(blobs.get(&digest), Err(ServerError::BlobDamaged { .. })));
        assert_eq!(blobs.damaged().unwrap().len(), 1);
        assert!(!blobs.put(&digest, b"abc").unwrap());
        assert!(blobs.damaged().unwrap().is_empty());
    }

    #[test]
    fn an_erased_file_is_gone_and_does_not_come_back() {
        let (_home, blobs) = blobs();
        let digest = digest_of(b"abc");
        blobs.put(&digest, b"abc").unwrap();
        blobs.erase(&digest).unwrap();
        blobs.erase(&digest).unwrap();
        assert_eq!(blobs.get(&digest).unwrap(), Found::Erased);
        assert!(matches!(blobs.put(&digest, b"abc"), Err(ServerError::BlobErased { .. })));
        assert!(!blobs.path(&digest).exists());
    }

    #[test]
    fn an_erasure_that_was_cut_off_after_its_mark_holds_and_is_completed_by_the_next() {
        let (_home, blobs) = blobs();
        let digest = digest_of(b"abc");
        blobs.put(&digest, b"abc").unwrap();
        let path = blobs.path(&digest);
        fs::write(mark(&path), b"").unwrap();
        fs::write(unfinished(&path), b"ab").unwrap();
        assert_eq!(blobs.get(&digest).unwrap(), Found::Erased);
        assert!(blobs.damaged().unwrap().is_empty());
        assert_eq!(blobs.names().unwrap(), [mark(&Path::new("ba").join(&digest))]);
        blobs.erase(&digest).unwrap();
        assert_eq!(fs::read_dir(path.parent().unwrap()).unwrap().count(), 1);
    }

    #[test]
    fn an_issued_record_is_not_erased() {
        let (_home, blobs) = blobs();
        let digest = digest_of(b"%PDF-1.7");
        blobs.put(&digest, b"%PDF-1.7").unwrap();
        assert!(matches!(blobs.erase(&digest), Err(ServerError::BlobIsRecord { .. })));
        assert_eq!(blobs.get(&digest).unwrap(), Found::Bytes(b"%PDF-1.7".to_vec()));
    }

    #[test]
    fn a_remark_is_salt_and_at_most_4000_characters_of_plain_text() {
        let remark = |words: &str| [&[0xAA; SALT_BYTES][..], words.as_bytes()].concat();
        assert_eq!(words_of(&remark("it shudders\nat 60")).as_deref(), Some("it shudders\nat 60"));
        assert!(check_sent(&remark(&"ä".repeat(4_000))).is_ok());
        for wrong in [
            remark(&"ä".repeat(4_001)),
            remark(""),
            remark("a\0b"),
            vec![0xFF; 40],
            vec![],
            remark("x")[1..].to_vec(),
        ] {
            assert!(check_sent(&wrong).is_err(), "{wrong:?}");
        }
    }
}
