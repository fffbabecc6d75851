//! What a database error means for us. The one place that knows SQLite's result codes
//! (<https://sqlite.org/rescode.html>).

use crate::error::StoreError;
use std::path::Path;

/// Primary result codes told apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Code {
    Busy,
    ReadOnly,
    Corrupt,
    Full,
    CannotOpen,
    NotADatabase,
    Constraint,
    Other,
}

/// The primary result code of an error.
pub(super) fn code(error: &sqlx::Error) -> Code {
    let sqlx::Error::Database(inner) = error else { return Code::Other };
    let extended: Option<i32> = inner.code().and_then(|text| text.parse().ok());
    match extended.map(|extended| extended & 0xff) {
        Some(5) => Code::Busy,
        Some(8) => Code::ReadOnly,
        Some(11) => Code::Corrupt,
        Some(13) => Code::Full,
        Some(14) => Code::CannotOpen,
        Some(19) => Code::Constraint,
        Some(26) => Code::NotADatabase,
        _ => Code::Other,
    }
}

/// Whether a row was refused because its entry id is there already.
pub(super) fn is_known_entry_id(error: &sqlx::Error) -> bool {
    let sqlx::Error::Database(inner) = error else { return false };
    code(error) == Code::Constraint && inner.message().contains("entry.entry_id")
}

/// An error met while reading or writing.
pub(super) fn failed(doing: &'static str, error: &sqlx::Error) -> StoreError {
    match code(error) {
        Code::Full => StoreError::DiskFull,
        Code::Busy => StoreError::Busy,
        Code::Corrupt | Code::NotADatabase => StoreError::damaged(error.to_string()),
        _ if matches!(error, sqlx::Error::PoolClosed) => StoreError::Closed,
        _ => StoreError::Disk { doing, cause: error.to_string() },
    }
}

/// An error met while opening a file.
pub(super) fn failed_to_open(path: &Path, error: &sqlx::Error) -> StoreError {
    match code(error) {
        Code::NotADatabase => StoreError::NotADatabase { path: path.into() },
        Code::ReadOnly | Code::CannotOpen => StoreError::ReadOnly { path: path.into() },
        _ => failed("opening the journal", error),
    }
}

/// An error of the file system met while opening or creating a file.
pub(super) fn failed_on_file(doing: &'static str, path: &Path, error: &std::io::Error) -> StoreError {
    use std::io::ErrorKind;
    match error.kind() {
        ErrorKind::NotFound => StoreError::Missing { path: path.into() },
        ErrorKind::AlreadyExists => StoreError::AlreadyExists { path: path.into() },
        ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem => {
            StoreError::ReadOnly { path: path.into() }
        }
        ErrorKind::StorageFull => StoreError::DiskFull,
        _ => StoreError::Disk { doing, cause: error.to_string() },
    }
}
