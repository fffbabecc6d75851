//! What a database error means for us. The one place that knows PostgreSQL's error codes
//! (<https://www.postgresql.org/docs/15/errcodes-appendix.html>).

use crate::error::StoreError;

/// Errors told apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// The database or the way to it is gone, or it has no place for us: the connection is worth nothing any more.
    Gone,
    /// The disk is full. The transaction was taken back.
    Full,
    /// A lock was not to be had in time. The transaction was taken back.
    Busy,
    /// Stored data is damaged.
    Corrupt,
    /// Anything else that the database says.
    Other,
}

/// The kind of an error.
pub(super) fn kind(error: &sqlx::Error) -> Kind {
    let inner = match error {
        sqlx::Error::Database(inner) => inner,
        sqlx::Error::Io(_)
        | sqlx::Error::Tls(_)
        | sqlx::Error::Protocol(_)
        | sqlx::Error::PoolTimedOut
        | sqlx::Error::WorkerCrashed => return Kind::Gone,
        _ => return Kind::Other,
    };
    let code = inner.code().unwrap_or_default();
    match &*code {
        "53100" => Kind::Full,
        // Not available, deadlock, serialisation, statement timeout: only this transaction is lost.
        "55P03" | "40P01" | "40001" | "57014" | "53200" => Kind::Busy,
        // Shut down, crashed, starting up, dropped, idle for too long, too many connections, a standby that only reads.
        "57P01" | "57P02" | "57P03" | "57P04" | "57P05" | "53300" | "25006" => Kind::Gone,
        "XX001" | "XX002" => Kind::Corrupt,
        code if code.starts_with("08") => Kind::Gone,
        _ => Kind::Other,
    }
}

/// The error that stands for an answer that did not come in time.
pub(super) fn too_slow() -> sqlx::Error {
    sqlx::Error::Io(std::io::Error::new(std::io::ErrorKind::TimedOut, "it did not answer in time"))
}

/// What was met, in words for the log.
pub(super) fn words(error: &sqlx::Error) -> String {
    match error {
        sqlx::Error::PoolTimedOut => "it gave no connection in time".to_owned(),
        sqlx::Error::Database(inner) => inner.message().to_owned(),
        other => other.to_string(),
    }
}

/// Whether a row was refused because its entry id is there already. Each part of the table has an index of its own,
/// named after its columns.
pub(super) fn is_known_entry_id(error: &sqlx::Error) -> bool {
    let sqlx::Error::Database(inner) = error else { return false };
    inner.is_unique_violation() && inner.constraint().is_some_and(|name| name.contains("entry_id"))
}

/// An error met while reading, or while writing in a transaction that was taken back.
pub(super) fn failed(doing: &'static str, error: &sqlx::Error) -> StoreError {
    match kind(error) {
        Kind::Gone => StoreError::Away { cause: words(error) },
        Kind::Full => StoreError::DiskFull,
        Kind::Busy => StoreError::Busy,
        Kind::Corrupt => StoreError::damaged(error.to_string()),
        Kind::Other if matches!(error, sqlx::Error::PoolClosed) => StoreError::Closed,
        Kind::Other => StoreError::Disk { doing, cause: words(error) },
    }
}

/// An error met while writing, of which nobody knows whether it came before or after the commit.
pub(super) fn in_doubt(doing: &'static str, error: &sqlx::Error) -> StoreError {
    match kind(error) {
        Kind::Gone => StoreError::InDoubt { doing, cause: words(error) },
        _ => failed(doing, error),
    }
}

/// An error met while opening. What may pass by itself stays [`StoreError::Away`].
pub(super) fn failed_to_open(at: &str, error: &sqlx::Error) -> StoreError {
    let unusable = |what: String| StoreError::Unusable { at: at.to_owned(), what };
    match (kind(error), error) {
        (Kind::Other, sqlx::Error::Database(inner)) => {
            let next = match inner.code().as_deref() {
                Some("28P01" | "28000") => "give the right user and password in the address or in ~/.pgpass",
                Some("3D000") => "create it with: createdb",
                Some("42501") => "give this user the right to create in the database",
                _ => "look at the database's log",
            };
            unusable(format!("it says '{}'; {next}", inner.message()))
        }
        (Kind::Other, sqlx::Error::Configuration(cause)) => unusable(cause.to_string()),
        _ => failed("opening the journal", error),
    }
}
