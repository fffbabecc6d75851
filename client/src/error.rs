//! Everything that can go wrong at a station, as one enum. The sentences say what to do next.
//! Never here: exit codes, which are the command line's.

use standpipe_proto::check::CheckError;
use standpipe_proto::typed::TypedError;
use standpipe_proto::words::{WordsError, vin::VinError};
use std::path::{Path, PathBuf};

/// Why a station could not do what it was asked.
#[derive(Debug, thiserror::Error)]
pub enum ClientError {
    /// The folder belongs to no station yet.
    #[error("{} belongs to no station yet; join first with: standpipe join HOST CODE", .home.display())]
    NotJoined {
        /// The folder.
        home: PathBuf,
    },
    /// The folder belongs to another station than the token.
    #[error(
        "this folder is station {here} already, and what was shown is for station {there}, which keeps the token it has; \
         use another folder for it (STANDPIPE_HOME or --home), and a new code if it was a code"
    )]
    OtherStation {
        /// Station and site of the folder.
        here: String,
        /// Station and site of the token.
        there: String,
    },
    /// Nobody said who states the facts.
    #[error("no person is set; say who works with: standpipe as CODE")]
    NoPerson,
    /// No job was opened or taken.
    #[error("no job is set; open one with: standpipe open PLATE, or take one with: standpipe use NUMBER")]
    NoJob,
    /// The job is not known at this station.
    #[error(
        "job '{job}' is not known at this station and {why}; say standpipe use {job} once while connected"
    )]
    JobUnknown {
        /// As named.
        job: String,
        /// Why the server could not help.
        why: String,
    },
    /// The entry to correct is not there.
    #[error("entry '{entry}' is not known: {why}")]
    EntryUnknown {
        /// As named.
        entry: String,
        /// What was looked at, and what to do.
        why: String,
    },
    /// The correction does not fit the original entry.
    #[error("{0}")]
    CorrectionUnfit(String),
    /// Something is outside its bounds; nothing was kept.
    #[error("{0}")]
    Outside(#[from] CheckError),
    /// A typed quantity could not be read; nothing was kept.
    #[error("{flag}: {why}")]
    Typed {
        /// The flag or field.
        flag: String,
        /// Why not.
        why: TypedError,
    },
    /// A typed vehicle identification number could not be taken; nothing was kept.
    #[error("{flag}: {why}")]
    Vin {
        /// The flag or field.
        flag: String,
        /// Why not.
        why: VinError,
    },
    /// A command was written in a way that is not understood; nothing was kept.
    #[error("{0}")]
    Usage(String),
    /// The unsent list is full.
    #[error(
        "the unsent list is full with {entries} entries; connect to the shop server and say: standpipe send"
    )]
    Full {
        /// Entries in it.
        entries: usize,
    },
    /// Another command works on the folder and does not let go.
    #[error("another command works on this station ({holder}); wait for it to end and say it again")]
    Locked {
        /// Who holds the lock, as it wrote into the lock file.
        holder: String,
    },
    /// The disk refused.
    #[error("{doing} {} failed: {cause}; nothing was promised, look at the disk and say it again", .path.display())]
    Disk {
        /// What was being done.
        doing: &'static str,
        /// With what.
        path: PathBuf,
        /// What the system says.
        cause: std::io::Error,
    },
    /// What an instrument's lines come from cannot be read, or not any more.
    #[error("{doing} {} failed: {cause}; what came before is kept, look at the cable and the name and feed it again", .path.display())]
    Instrument {
        /// What was being done.
        doing: &'static str,
        /// With what.
        path: PathBuf,
        /// What the system says.
        cause: std::io::Error,
    },
    /// The folder is not one that this version can use.
    #[error("{}: {what}", .path.display())]
    Folder {
        /// The folder or file.
        path: PathBuf,
        /// What is wrong and what to do.
        what: String,
    },
    /// The address is none that may be used, or the machine cannot encrypt.
    #[error(transparent)]
    Dial(#[from] standpipe_proto::dial::DialError),
    /// A token is sent in plain, which is done on this machine only.
    #[error(
        "a token is taken at an address of this machine only, for example 127.0.0.1:7000, not at '{address}': on the way \
         others could read it; ask at the shop server for a code instead: standpipe-server station code NAME"
    )]
    NotHere {
        /// As typed.
        address: String,
    },
    /// The server is not the one that the code is from.
    #[error("{0}")]
    Untrusted(String),
    /// The shop server does not answer, or asks to try later.
    #[error("{0}")]
    Away(String),
    /// There is no answer that rests on all entries.
    #[error("no go-ahead is known: {0}")]
    NoGoAhead(String),
    /// This station may not do that.
    #[error("{0}")]
    NotPermitted(String),
    /// The shop server refused.
    #[error("{sentence}")]
    Refused {
        /// Reason in UPPER_SNAKE_CASE; empty if the server gave none.
        reason: String,
        /// The server's sentence.
        sentence: String,
    },
    /// The machine gives no random numbers.
    #[error("the machine gives no random numbers: {0}")]
    NoRandomness(String),
    /// The messages of this program contradict each other: a mistake of ours.
    #[error("this program's own list of messages is damaged ({0}); install it again")]
    Descriptor(String),
}

impl From<WordsError> for ClientError {
    fn from(error: WordsError) -> Self {
        match error {
            WordsError::Typed { flag, why } => Self::Typed { flag, why },
            WordsError::Vin { flag, why } => Self::Vin { flag, why },
            WordsError::Outside(error) => Self::Outside(error),
            WordsError::Usage(sentence) => Self::Usage(sentence),
            unknown @ WordsError::Unknown { .. } => Self::Usage(unknown.to_string()),
            WordsError::Descriptor(error) => Self::Descriptor(error),
        }
    }
}

impl ClientError {
    /// True when the same request can never succeed; false when it may, later.
    #[must_use]
    pub fn is_permanent(&self) -> bool {
        !matches!(
            self,
            Self::Away(_)
                | Self::NoGoAhead(_)
                | Self::Locked { .. }
                | Self::Disk { .. }
                | Self::Instrument { .. }
                | Self::Full { .. }
                | Self::NoRandomness(_)
        )
    }

    pub(crate) fn instrument(doing: &'static str, path: &Path, cause: std::io::Error) -> Self {
        Self::Instrument { doing, path: path.to_owned(), cause }
    }

    pub(crate) fn disk(doing: &'static str, path: &Path, cause: std::io::Error) -> Self {
        Self::Disk { doing, path: path.to_owned(), cause }
    }
}

/// True when an entry refused with this canonical status code (google.rpc.Code) can never be taken as it is.
#[must_use]
pub fn is_permanent(code: i32) -> bool {
    use tonic::Code;
    !matches!(
        Code::from_i32(code),
        Code::Cancelled
            | Code::Unknown
            | Code::DeadlineExceeded
            | Code::ResourceExhausted
            | Code::Aborted
            | Code::Internal
            | Code::Unavailable
            | Code::DataLoss
            | Code::Unauthenticated
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use tonic::Code;

    #[test]
    fn only_what_can_never_be_taken_is_permanent() {
        for code in [Code::InvalidArgument, Code::NotFound, Code::AlreadyExists, Code::PermissionDenied] {
            assert!(is_permanent(code.into()), "{code:?}");
        }
        for code in [Code::Unavailable, Code::ResourceExhausted, Code::Internal, Code::Unauthenticated] {
            assert!(!is_permanent(code.into()), "{code:?}");
        }
        // A code of a later version says nothing for sure.
        assert!(!is_permanent(99));
        assert!(!ClientError::Away("x".into()).is_permanent() && ClientError::NoPerson.is_permanent());
    }
}
