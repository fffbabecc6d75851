//! What may be changed beside the journal, one value a change. A store's writer makes it, one after another, so that a
//! caller who stops waiting leaves nothing half done. Never here: SQL.

use crate::audit_book::AuditLine;
use crate::beside::{Customer, JobSummary, Station, TokenDigest};
use crate::entry::JobId;
use crate::finder::Noted;
use crate::replica::Fork;
use crate::tallies::{TallyReached, TallyRow};
use crate::tokens::{KeptCode, KeptToken, ShownCode};

/// A change beside the journal.
#[derive(Debug)]
pub(crate) enum Change {
    AddStation(Station),
    RevokeStation { id: String, at_us: i64 },
    ReadmitStation { id: String },
    Token(TokenChange),
    PutPerson { code: String, name: String, at_us: i64 },
    ErasePerson { code: String, at_us: i64 },
    PutPersonPin { code: String, phc: String, at_us: i64 },
    PutCustomer { job: JobId, customer: Customer, at_us: i64 },
    EraseCustomer { job: JobId, at_us: i64 },
    PutSummary(JobSummary),
    PutSetting { key: String, value: String },
    PutPhotoExtract { digest: String, edition: String, extract: String },
    PutAudit(AuditLine),
    SetStationKinds { station_id: String, kinds: Vec<String> },
    NoteFork(Fork),
    SettleForks { site: String, seen_before_us: i64, at_us: i64 },
    PutStationSite { station_id: String, site: String },
    Tally(TallyChange),
}

/// A change that takes several statements, each of them in one transaction.
#[derive(Debug)]
pub(crate) enum Several {
    Token(TokenChange),
    NoteFork(Fork),
    Tally(TallyChange),
}

/// A change of rows of jobs and their sums.
#[derive(Debug)]
pub(crate) enum TallyChange {
    Put {
        edition: String,
        rows: Vec<TallyRow>,
        reached: Option<(String, TallyReached)>,
    },
    /// Removes a part of what other editions left; answers how much.
    DropBut {
        edition: String,
    },
}

impl Change {
    /// Whether it need not be synced: it can be computed again, or the journal holds what counts of it.
    pub(crate) fn is_derived(&self) -> bool {
        let derived = matches!(self, Self::PutSummary(_) | Self::PutAudit(_) | Self::PutPhotoExtract { .. });
        derived || matches!(self, Self::Tally(_))
    }

    /// Whether something personal is gone after it, which must be nowhere in the file any more.
    pub(crate) fn erases(&self) -> bool {
        matches!(self, Self::ErasePerson { .. } | Self::EraseCustomer { .. })
    }

    /// What it means for whoever looks for jobs.
    pub(crate) fn noted(&self) -> Option<Noted> {
        match self {
            Self::PutSummary(summary) => Some(Noted::line(summary)),
            Self::PutCustomer { job, customer, .. } => Some(Noted::customer(*job, customer)),
            Self::EraseCustomer { job, .. } => Some(Noted::NoCustomer(*job)),
            _ => None,
        }
    }
}

/// A change of tokens or codes.
#[derive(Debug)]
pub(crate) enum TokenChange {
    Put(KeptToken),
    TakeUp(TokenDigest),
    Revoke { station_id: String },
    PutCode(KeptCode),
    RemoveCodes { station_id: String },
    RemoveOpenCodes,
    UseCode(ShownCode),
}

/// How [`CodeUse`] travels as a number of rows.
pub(crate) const USED_NOW: u64 = 1;
pub(crate) const USED_ALREADY: u64 = 2;
