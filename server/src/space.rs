//! How much room there is on the disk with a folder. Asked by the figures and by `doctor`.

use std::io;
use std::path::Path;

/// Room on a disk.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Space {
    /// What an ordinary user can still write.
    pub(crate) free_bytes: u64,
    /// The whole.
    pub(crate) size_bytes: u64,
}

/// The room on the disk with a folder.
///
/// # Errors
/// What the operating system says.
pub(crate) fn of(folder: &Path) -> io::Result<Space> {
    let told = rustix::fs::statvfs(folder)?;
    let bytes = |blocks: u64| blocks.saturating_mul(told.f_frsize);
    Ok(Space { free_bytes: bytes(told.f_bavail), size_bytes: bytes(told.f_blocks) })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn less_is_free_than_there_is() {
        let home = tempfile::tempdir().unwrap();
        let space = of(home.path()).unwrap();
        assert!(space.free_bytes <= space.size_bytes && space.size_bytes > 0);
        assert!(of(&home.path().join("nowhere")).is_err());
    }
}
