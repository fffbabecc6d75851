//! Why the server did not start or a verb on a stopped folder was refused, each in one sentence, with its exit code.
//!
//! What goes wrong within a call over the network is not here; that is [`crate::status::Cause`].

use crate::folder;
use serde::{Deserialize, Serialize};
use standpipe_engine::catalogue::CatalogueError;
use standpipe_proto::check::Violation;
use standpipe_store::StoreError;
use std::net::SocketAddr;
use std::path::{Path, PathBuf};

/// Why a program ended, as a number for scripts (the values of `sysexits.h`).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[repr(u8)]
pub enum Exit {
    /// The command was written wrongly.
    Usage = 64,
    /// Data is damaged, or what was asked is refused.
    Refused = 65,
    /// The disk failed or cannot be written.
    Disk = 74,
    /// Another machine does not answer; the same can be said again later.
    Away = 75,
    /// The folder belongs to another user.
    NotPermitted = 77,
    /// Folder, settings or installation are not as they must be.
    Configuration = 78,
}

/// Why the server or a verb did not do what was asked.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ServerError {
    /// There is no such folder.
    #[error("{} does not exist; name the folder of a site, or create one with: standpipe-server init --dir {}", .path.display(), .path.display())]
    FolderMissing {
        /// The folder.
        path: PathBuf,
    },
    /// No folder was named, and none is meant.
    #[error("{what}; name one with --dir DIR or in STANDPIPE_SERVER_DIR")]
    FolderNotNamed {
        /// Why none is meant.
        what: String,
    },
    /// The folder holds no site.
    #[error("{} holds no site ({} is missing); name the folder of a site, or create a new one elsewhere with: standpipe-server init --dir DIR", .path.display(), folder::JOURNAL_FILE)]
    NotASite {
        /// The folder.
        path: PathBuf,
    },
    /// Something stands where a new site should be created.
    #[error("{} exists already and is not an empty folder; a site is never created over anything: choose another folder", .path.display())]
    FolderTaken {
        /// The folder.
        path: PathBuf,
    },
    /// A creation was cut off and left something behind.
    #[error("{} is left from a creation that was cut off and holds nothing; remove it, then try again", .path.display())]
    Unfinished {
        /// What was left.
        path: PathBuf,
    },
    /// The journal is gone, but the epoch file is there.
    #[error("{} is missing although {} is a site's folder; a lost journal is never replaced by an empty one: put the file back from a backup", folder::JOURNAL_FILE, .path.display())]
    JournalLost {
        /// The folder.
        path: PathBuf,
    },
    /// The epoch file is missing or cannot be read.
    #[error("{} {what}; it guards against an older copy of the journal: put it back from the same backup as {}", .path.display(), folder::JOURNAL_FILE)]
    EpochFile {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        what: String,
    },
    /// Journal and epoch file belong to different lives of the site.
    #[error(
        "the journal has epoch {found}, but the epoch file says {expected}; another copy was put in its place: put back the journal that belongs to this folder"
    )]
    EpochDiffers {
        /// Epoch in the journal.
        found: String,
        /// Epoch in the file.
        expected: String,
    },
    /// The journal is shorter than it has been before.
    #[error(
        "the journal holds {found} entries, but had {seen} before; an older copy was put in its place and would give places in the journal away twice: put back the newer one"
    )]
    Rewound {
        /// Entries in the journal.
        found: u64,
        /// Entries it had before.
        seen: u64,
    },
    /// The journal tells another story than before.
    #[error(
        "the journal has another root over its first {seen} entries than before; its past was changed: run verify and put back a copy that was not"
    )]
    PastChanged {
        /// Entries that the remembered root covers.
        seen: u64,
    },
    /// The folder holds a copy of another server's journal.
    #[error("{} holds the copy that the owner's server keeps of a workshop's journal; nothing is stated in it: name the folder of the owner's server, or that of the workshop", .path.display())]
    CopiedJournal {
        /// The folder.
        path: PathBuf,
    },
    /// The database holds a journal that is no copy made here.
    #[error(
        "the database holds a journal of site {site} that is no copy of this owner's server; nothing was changed: give the site's copies another database"
    )]
    SiteNoCopy {
        /// The site.
        site: String,
    },
    /// The file that says where the journal lies is not as it must be.
    #[error("{} is not as the server wrote it; it says in which database the journal lies: put it back from a backup", .path.display())]
    StoreFile {
        /// The file.
        path: PathBuf,
    },
    /// The setting names a database, but the journal lies in the folder.
    #[error("store_url says {address}, but the journal lies in {}; bring it there with: standpipe-server move --dir {}, or take the setting out", .path.display(), .path.display())]
    StoreElsewhere {
        /// The folder.
        path: PathBuf,
        /// The setting, without password.
        address: String,
    },
    /// A move has nowhere to go to, or cannot.
    #[error("{what}; nothing was moved")]
    NothingToMove {
        /// Why.
        what: String,
    },
    /// Another program works on the folder.
    #[error("a server runs on {}; stop the server first, then try again", .path.display())]
    ServerRuns {
        /// The folder.
        path: PathBuf,
    },
    /// The file that says which owner's server the site joined is not as it must be.
    #[error("{} is not as the server wrote it; it says to which owner's server the journal is brought: join that again with standpipe-server station join-owner HOST CODE, or leave it with standpipe-server station leave-owner", .path.display())]
    OwnerLink {
        /// The file.
        path: PathBuf,
    },
    /// The owner's server is not reached.
    #[error("{sentence}")]
    OwnerAway {
        /// Why.
        sentence: String,
    },
    /// The owner's server refused, or cannot be meant.
    #[error("{sentence}")]
    OwnerRefused {
        /// Why, and what to do.
        sentence: String,
    },
    /// The folder belongs to another user.
    #[error("{} belongs to {owner}, but this command runs as {user}, whose files the server could not read; nothing was changed: {next}", .path.display())]
    OtherOwner {
        /// The folder.
        path: PathBuf,
        /// Whose it is.
        owner: String,
        /// Who asks.
        user: String,
        /// What to say instead.
        next: String,
    },
    /// Something in the folder belongs to another user than the folder.
    #[error("{} belongs to {owner}, though the folder belongs to {user}, who cannot use it; nothing was changed: {next}", .path.display())]
    OtherOwnerInside {
        /// The file.
        path: PathBuf,
        /// Whose it is.
        owner: String,
        /// Who asks, and whose the folder is.
        user: String,
        /// The command that helps.
        next: String,
    },
    /// The operating system refused something on a file.
    #[error("{doing} failed on {} ({cause}); check the disk and the rights of this user", .path.display())]
    File {
        /// What was done.
        doing: &'static str,
        /// On which file.
        path: PathBuf,
        /// What the operating system said.
        cause: std::io::Error,
    },
    /// The store refused.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The files are no catalogue.
    #[error(transparent)]
    Catalogue(#[from] CatalogueError),
    /// There is nothing to import.
    #[error("{} {what}; name a folder with workshop.toml and one TOML file for each transmission", .path.display())]
    CatalogueFolder {
        /// The folder.
        path: PathBuf,
        /// What is wrong with it.
        what: String,
    },
    /// No revision, or several, are named by some digits.
    #[error(
        "catalogue revision {digits} {what}; standpipe-server catalogue list --dir DIR names those of a site"
    )]
    RevisionNotFound {
        /// The digits; empty where the current one was asked for.
        digits: String,
        /// Why none was found.
        what: String,
    },
    /// Something stands where files should be written.
    #[error("{} is not empty; nothing is written over anything: choose a new or empty folder", .path.display())]
    FolderNotEmpty {
        /// The folder.
        path: PathBuf,
    },
    /// An adopted revision is not as it was imported.
    #[error("catalogue revision {revision} in {} is damaged ({what}); put the folder back from a backup, or import the same files again", .path.display())]
    RevisionDamaged {
        /// The revision.
        revision: String,
        /// Where it lies.
        path: PathBuf,
        /// What is wrong.
        what: String,
    },
    /// A value given to a verb is outside its bounds.
    #[error("{}", .0.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "))]
    OutsideBounds(Vec<Violation>),
    /// A name that the server keeps for itself.
    #[error("'{name}' is the server's own station; choose another name")]
    NameReserved {
        /// The name.
        name: String,
    },
    /// The station's right was taken back already.
    #[error(
        "station {name} was revoked already; nothing was changed. To let it in again: standpipe-server station code {name}"
    )]
    AlreadyRevoked {
        /// The station.
        name: String,
    },
    /// There is no such job.
    #[error("job '{job}' is not known here; write its number as printed, such as {example}, or its identity")]
    JobUnknown {
        /// As asked.
        job: String,
        /// A number as this site prints them.
        example: String,
    },
    /// A file beside the journal is not what its name says.
    #[error("the file {digest} in {} is damaged; put it back from a backup, or let the station send it again", .path.display())]
    BlobDamaged {
        /// Its digest.
        digest: String,
        /// Where it lies.
        path: PathBuf,
    },
    /// A file that was erased came again.
    #[error("the file {digest} was erased here and is not taken again; nothing was kept")]
    BlobErased {
        /// Its digest.
        digest: String,
    },
    /// An issued record is not erased.
    #[error(
        "the file {digest} is an issued record, which is kept as it was handed out; name the digest of a remark or a photo"
    )]
    BlobIsRecord {
        /// Its digest.
        digest: String,
    },
    /// An issued record is gone.
    #[error("the issued record {digest} is missing; put the file back into blobs from a backup")]
    RecordMissing {
        /// Its digest.
        digest: String,
    },
    /// A backup is not as it was written.
    #[error("{} is no sound backup ({what}); nothing was made: use another backup", .path.display())]
    BackupDamaged {
        /// The backup.
        path: PathBuf,
        /// What is wrong, in sentences.
        what: String,
    },
    /// The running server refused an order, in its own words.
    #[error("{sentence}")]
    Told {
        /// What it said.
        sentence: String,
        /// Its exit code.
        exit: Exit,
    },
    /// The running server did not answer an order.
    #[error("the running server did not answer on {} ({cause}); look at its log, then try again", .path.display())]
    Unanswered {
        /// The socket.
        path: PathBuf,
        /// What went wrong.
        cause: String,
    },
    /// A setting is wrong.
    #[error("{origin}: {what}")]
    Setting {
        /// Where it was set: the file, the variable or the flag.
        origin: String,
        /// What is wrong and what is allowed.
        what: String,
    },
    /// Keys or certificates are not as the server made them.
    #[error("{}: {what}; stations trust the authority they met: put the folder tls back from a backup", .path.display())]
    Keys {
        /// The file or folder.
        path: PathBuf,
        /// What is wrong.
        what: String,
    },
    /// The address cannot be listened on.
    #[error(
        "the server cannot listen on {address} ({cause}); {}", after_listening(.address, .cause)
    )]
    Listen {
        /// The address.
        address: SocketAddr,
        /// What the operating system said.
        cause: std::io::Error,
    },
    /// The network part ended by itself.
    #[error("the network part of the server ended ({cause}); start it again")]
    Network {
        /// What it said.
        cause: String,
    },
    /// The journal stopped while the server ran.
    #[error("the journal stopped and the server with it: {cause}")]
    JournalStopped {
        /// The first error, in the store's words.
        cause: String,
    },
    /// The machine gives no random numbers.
    #[error(
        "the operating system gives no random numbers ({cause}); tokens cannot be made: repair the system"
    )]
    NoRandomness {
        /// What it said.
        cause: String,
    },
}

/// What to do about an address that cannot be listened on.
fn after_listening(address: &SocketAddr, cause: &std::io::Error) -> String {
    match cause.kind() {
        std::io::ErrorKind::AddrNotAvailable => format!(
            "this machine has no address {}; write one that it has, or 0.0.0.0:{} for all of them, with --listen or as \
             listen in {}",
            address.ip(),
            address.port(),
            folder::SETTINGS_FILE
        ),
        std::io::ErrorKind::PermissionDenied => {
            "this user may not use that port; choose one above 1023 with --listen".to_owned()
        }
        _ => "end the program that uses it, or choose another with --listen".to_owned(),
    }
}

impl ServerError {
    /// A failure on a file.
    pub(crate) fn file(doing: &'static str, path: &Path) -> impl FnOnce(std::io::Error) -> Self {
        let path = path.to_owned();
        move |cause| Self::File { doing, path, cause }
    }

    /// The exit code of a program that ends because of this.
    #[must_use]
    pub fn exit(&self) -> Exit {
        match self {
            Self::FolderMissing { .. }
            | Self::NotASite { .. }
            | Self::FolderNotNamed { .. }
            | Self::FolderTaken { .. }
            | Self::Unfinished { .. }
            | Self::ServerRuns { .. }
            | Self::Setting { .. }
            | Self::StoreElsewhere { .. }
            | Self::NothingToMove { .. }
            | Self::Keys { .. }
            | Self::Listen { .. }
            | Self::NoRandomness { .. } => Exit::Configuration,
            Self::JournalLost { .. }
            | Self::EpochFile { .. }
            | Self::StoreFile { .. }
            | Self::CopiedJournal { .. }
            | Self::SiteNoCopy { .. }
            | Self::EpochDiffers { .. }
            | Self::Rewound { .. }
            | Self::PastChanged { .. }
            | Self::Catalogue(_)
            | Self::CatalogueFolder { .. }
            | Self::RevisionDamaged { .. }
            | Self::RevisionNotFound { .. }
            | Self::FolderNotEmpty { .. }
            | Self::OutsideBounds(_)
            | Self::NameReserved { .. }
            | Self::AlreadyRevoked { .. }
            | Self::JobUnknown { .. }
            | Self::BlobDamaged { .. }
            | Self::BlobErased { .. }
            | Self::BlobIsRecord { .. }
            | Self::RecordMissing { .. }
            | Self::BackupDamaged { .. }
            | Self::OwnerLink { .. }
            | Self::OwnerRefused { .. } => Exit::Refused,
            Self::OwnerAway { .. } => Exit::Away,
            Self::OtherOwner { .. } | Self::OtherOwnerInside { .. } => Exit::NotPermitted,
            Self::Told { exit, .. } => *exit,
            Self::File { .. }
            | Self::Network { .. }
            | Self::JournalStopped { .. }
            | Self::Unanswered { .. } => Exit::Disk,
            Self::Store(error) => exit_of_store(error),
        }
    }
}

fn exit_of_store(error: &StoreError) -> Exit {
    match error {
        StoreError::DiskFull
        | StoreError::Disk { .. }
        | StoreError::Broken { .. }
        | StoreError::Closed
        | StoreError::Away { .. }
        | StoreError::InDoubt { .. }
        | StoreError::TakenOver { .. }
        | StoreError::ReadOnly { .. } => Exit::Disk,
        StoreError::Busy
        | StoreError::SiteHeld { .. }
        | StoreError::SiteMissing { .. }
        | StoreError::SiteThere { .. }
        | StoreError::Moving { .. }
        | StoreError::Unusable { .. }
        | StoreError::Address { .. }
        | StoreError::Missing { .. }
        | StoreError::AlreadyExists { .. }
        | StoreError::NewerSchema { .. } => Exit::Configuration,
        _ => Exit::Refused,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_address_that_the_machine_lacks_is_not_said_to_be_in_use() {
        let told = |kind: std::io::ErrorKind| {
            let address = "192.0.2.7:50551".parse().unwrap();
            ServerError::Listen { address, cause: kind.into() }.to_string()
        };
        let lacks = told(std::io::ErrorKind::AddrNotAvailable);
        assert!(lacks.contains("has no address 192.0.2.7") && lacks.contains("0.0.0.0:50551"), "{lacks}");
        assert!(!lacks.contains("end the program"), "{lacks}");
        assert!(told(std::io::ErrorKind::AddrInUse).contains("end the program"));
    }

    #[test]
    fn exit_codes_are_those_of_the_commands_table() {
        let path = PathBuf::from("site");
        assert_eq!(Exit::Usage as u8, 64);
        assert_eq!(ServerError::FolderMissing { path: path.clone() }.exit() as u8, 78);
        assert_eq!(ServerError::JournalLost { path: path.clone() }.exit() as u8, 65);
        assert_eq!(ServerError::Store(StoreError::ReadOnly { path: path.clone() }).exit() as u8, 74);
        let newer = StoreError::NewerSchema { path: path.clone(), found: 99, known: 8 };
        assert_eq!(ServerError::Store(newer).exit() as u8, 78);
        assert_eq!(ServerError::Store(StoreError::NotADatabase { path }).exit() as u8, 65);
    }
}
