//! The one error type of the crate. Every store returns it; the server maps it to what leaves the machine.

use crate::entry::{EntryId, JobId, JobNumber};
use std::path::PathBuf;

/// Why a store did not do what was asked. Clonable, because one failed commit answers many waiting entries.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum StoreError {
    /// Permanent: the id is taken by other bytes.
    #[error("entry {entry_id} is already stored as number {seq} with other bytes; send it under a new id")]
    EntryIdReused {
        /// The id in question.
        entry_id: EntryId,
        /// Where the first entry with this id stands.
        seq: u64,
    },
    /// Permanent until somebody opens the job.
    #[error("job {job} is not known here; send the entry that opens it first")]
    JobUnknown {
        /// The job named by the entry.
        job: JobId,
    },
    /// Permanent: the job has as many entries as a job may have.
    #[error("job {job} has {limit} entries, which is the most a job may have; open a new job")]
    JobFull {
        /// The job named by the entry.
        job: JobId,
        /// Most entries a job may have.
        limit: u64,
    },
    /// Permanent: an entry that opens a job must say which.
    #[error("entry {entry_id} opens a job but names none; name the job it opens")]
    NoJobToOpen {
        /// The entry in question.
        entry_id: EntryId,
    },
    /// Permanent: a number that the journal cannot hold.
    #[error("{field} is {value}, but must be from {least} to {greatest}; correct it and send again")]
    OutOfRange {
        /// Field name with unit.
        field: &'static str,
        /// Value given.
        value: u64,
        /// Least value allowed.
        least: u64,
        /// Greatest value allowed.
        greatest: u64,
    },
    /// Permanent: what was brought is of another past than this journal.
    #[error(
        "entry {seq} is not what this journal has there ({what}); nothing was taken: compare the two journals"
    )]
    AnotherPast {
        /// Place at which they differ, as far as it can be told.
        seq: u64,
        /// What differs.
        what: &'static str,
    },
    /// Temporary: entries between are missing.
    #[error("the entries begin at {first_seq}, but this journal has {here}; send those between first")]
    Gap {
        /// Place of the first that was brought.
        first_seq: u64,
        /// Entries here.
        here: u64,
    },
    /// Temporary: nothing was stored; works again as soon as there is space.
    #[error("the disk is full, nothing was stored; free some space, then send again")]
    DiskFull,
    /// Temporary: another program holds the database.
    #[error("another program keeps the journal locked, nothing was stored; end it, then send again")]
    Busy,
    /// The disk failed while doing something; whether it was stored is settled by sending again.
    #[error("the disk failed while {doing} ({cause}); check the disk, restart, then send again")]
    Disk {
        /// What the store was doing.
        doing: &'static str,
        /// What the database said; for the log.
        cause: String,
    },
    /// The journal takes nothing more after an earlier disk error, until it is opened again.
    #[error("the journal stopped after a disk error ({cause}); check the disk and restart")]
    Broken {
        /// The first error; for the log.
        cause: String,
    },
    /// The journal was closed.
    #[error("the journal is closed; send again when the server is back")]
    Closed,
    /// The journal was opened for reading only.
    #[error("the journal was opened for reading only; open it for writing to append")]
    OpenedForReading,
    /// Stored data is not what was written.
    #[error("stored data is damaged ({what}{}); run verify and restore from a backup", named(*seq, *job_number))]
    Damaged {
        /// The entry, if it can be told.
        seq: Option<u64>,
        /// Its job, if it can be told.
        job_number: Option<JobNumber>,
        /// What is wrong.
        what: String,
    },
    /// There is no such file.
    #[error("{} does not exist; a lost journal is never replaced by an empty one: restore it, or create a new site", .path.display())]
    Missing {
        /// Path given.
        path: PathBuf,
    },
    /// There is such a file already.
    #[error("{} exists already; a journal is never overwritten: choose another folder", .path.display())]
    AlreadyExists {
        /// Path given.
        path: PathBuf,
    },
    /// The file is shorter than a journal of its kind.
    #[error("{} has {bytes} bytes where at least {expected} belong; it was cut off: restore it from a backup", .path.display())]
    Truncated {
        /// Path given.
        path: PathBuf,
        /// Length found, bytes.
        bytes: u64,
        /// Least length expected, bytes.
        expected: u64,
    },
    /// The file is no SQLite database.
    #[error("{} is not a database; name the right file, or restore it from a backup", .path.display())]
    NotADatabase {
        /// Path given.
        path: PathBuf,
    },
    /// The file is a database of another program.
    #[error("{} belongs to another program (application id {application_id:#010x}); name the right file", .path.display())]
    Foreign {
        /// Path given.
        path: PathBuf,
        /// Application id found in the header.
        application_id: u32,
    },
    /// The file was written by a newer program.
    #[error("{} has schema {found}, this program knows up to {known}; install the newer program", .path.display())]
    NewerSchema {
        /// Path given.
        path: PathBuf,
        /// Schema number found.
        found: i64,
        /// Highest schema number known.
        known: i64,
    },
    /// The file or its folder may not be written.
    #[error("{} cannot be written; give this user the right to write it and its folder", .path.display())]
    ReadOnly {
        /// Path given.
        path: PathBuf,
    },
    /// Temporary: the database does not answer; it is tried again without being asked.
    #[error("the database cannot be used just now ({cause}), nothing was stored; send again when it answers")]
    Away {
        /// What was met; for the log.
        cause: String,
    },
    /// The database went away in the middle; whether it was stored is settled by sending again.
    #[error(
        "the database went away while {doing} ({cause}); whether it was stored is settled by sending again"
    )]
    InDoubt {
        /// What the store was doing.
        doing: &'static str,
        /// What was met; for the log.
        cause: String,
    },
    /// Another server writes this site's journal.
    #[error("another server writes the journal of site {site} in this database; stop it, then try again")]
    SiteHeld {
        /// Name of the site.
        site: String,
    },
    /// Another server opened this site's journal while the database did not answer here.
    #[error(
        "another server took over the journal of site {site}, nothing more is taken here; stop one of the two"
    )]
    TakenOver {
        /// Name of the site.
        site: String,
    },
    /// The database refuses, or is not as it must be.
    #[error("the database at {at} cannot be used: {what}")]
    Unusable {
        /// Its address, without password.
        at: String,
        /// What is wrong and what to do.
        what: String,
    },
    /// What was given is no address of a database.
    #[error("the address of the database {what}; write it as postgresql://USER@HOST:PORT/DATABASE")]
    Address {
        /// What is wrong.
        what: String,
    },
    /// There is no such site in the database.
    #[error(
        "the database at {at} holds no site {site}; a lost journal is never replaced by an empty one: name the right database"
    )]
    SiteMissing {
        /// Its address, without password.
        at: String,
        /// Name of the site.
        site: String,
    },
    /// There is such a site already.
    #[error("the database at {at} holds {what}; nothing is written over it: name another database")]
    SiteThere {
        /// Its address, without password.
        at: String,
        /// What is there.
        what: String,
    },
    /// The site is between two places.
    #[error("the journal of site {site} in this database {what}; finish the move with the same command")]
    Moving {
        /// Name of the site.
        site: String,
        /// How far the move is.
        what: &'static str,
    },
    /// A station id is taken.
    #[error("station {id} exists already; choose another id")]
    StationExists {
        /// Station id.
        id: String,
    },
    /// No such station.
    #[error("station {id} is not known; add it first")]
    StationUnknown {
        /// Station id.
        id: String,
    },
    /// No such person.
    #[error("person {code} is not listed; list the person first")]
    PersonUnknown {
        /// Person code.
        code: String,
    },
}

impl StoreError {
    /// Whether sending the same entry again can never succeed.
    pub fn is_permanent(&self) -> bool {
        matches!(
            self,
            Self::EntryIdReused { .. }
                | Self::JobUnknown { .. }
                | Self::JobFull { .. }
                | Self::NoJobToOpen { .. }
                | Self::OutOfRange { .. }
        )
    }

    /// Damage that cannot be pinned to an entry.
    pub(crate) fn damaged(what: impl Into<String>) -> Self {
        Self::Damaged { seq: None, job_number: None, what: what.into() }
    }
}

/// Names the entry and the job in a sentence about damage.
fn named(seq: Option<u64>, job_number: Option<JobNumber>) -> String {
    let mut text = String::new();
    if let Some(seq) = seq {
        text.push_str(&format!(", entry {seq}"));
    }
    if let Some(number) = job_number {
        text.push_str(&format!(", job {number}"));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sentence_about_damage_names_entry_and_job() {
        let error = StoreError::Damaged {
            seq: Some(17),
            job_number: Some(JobNumber { year: 2026, ordinal: 3 }),
            what: "leaf hash differs".into(),
        };
        let text = error.to_string();
        assert!(text.contains("entry 17") && text.contains("job 26-0003"), "{text}");
        assert!(!error.is_permanent());
    }
}
