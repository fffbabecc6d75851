//! The folder of a demo: an earlier demo is replaced, anything else is left alone.

use crate::DemoError;
use std::path::{Path, PathBuf};

/// Says that a folder was made by the demo and may be replaced by it.
const MARK: &str = "this-is-a-demo";

/// Makes room for a new demo.
pub(crate) fn clear(dir: &Path) -> Result<(), DemoError> {
    if !dir.exists() {
        return Ok(());
    }
    let empty = std::fs::read_dir(dir).is_ok_and(|mut inside| inside.next().is_none());
    if !empty && !dir.join(MARK).is_file() {
        return Err(DemoError::FolderTaken(dir.to_owned()));
    }
    std::fs::remove_dir_all(dir).map_err(DemoError::io("removing the earlier demo"))
}

/// Marks a folder as a demo's.
pub(crate) fn mark(dir: &Path) -> Result<(), DemoError> {
    let text = "Made by the demo, which replaces this folder when it runs again. Keep nothing here.\n";
    std::fs::write(dir.join(MARK), text).map_err(DemoError::io("marking the folder"))
}

/// Refuses a folder that is no demo's.
pub(crate) fn expect(dir: &Path) -> Result<(), DemoError> {
    if dir.join(MARK).is_file() { Ok(()) } else { Err(DemoError::NoDemo(dir.to_owned())) }
}

/// The printed record of a demo.
pub(crate) fn record(dir: &Path) -> PathBuf {
    dir.join("record.pdf")
}
