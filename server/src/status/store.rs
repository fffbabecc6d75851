//! What leaves the machine of the store's errors: code and reason, the variables of the sentence, and its words. What the
//! disk said stays in the log. Called by the map of errors only.

use super::{A_MOMENT, A_REPAIR, A_RESTART, Row};
use standpipe_proto::v1::Reason;
use standpipe_store::StoreError;
use std::time::Duration;
use tonic::Code;

/// Status code and reason.
pub(super) fn store_row(error: &StoreError) -> Row {
    match error {
        StoreError::EntryIdReused { .. } => (Code::AlreadyExists, Reason::EntryIdReused),
        StoreError::JobUnknown { .. } => (Code::NotFound, Reason::JobUnknown),
        StoreError::JobFull { .. } => (Code::FailedPrecondition, Reason::JobFull),
        StoreError::NoJobToOpen { .. } => (Code::InvalidArgument, Reason::NoJobToOpen),
        StoreError::OutOfRange { .. } => (Code::InvalidArgument, Reason::OutsideBounds),
        StoreError::DiskFull => (Code::ResourceExhausted, Reason::DiskFull),
        StoreError::Busy => (Code::Unavailable, Reason::JournalBusy),
        StoreError::Disk { .. } => (Code::Unavailable, Reason::DiskFailed),
        StoreError::Broken { .. } | StoreError::TakenOver { .. } => {
            (Code::Unavailable, Reason::JournalStopped)
        }
        StoreError::Away { .. } | StoreError::InDoubt { .. } => (Code::Unavailable, Reason::JournalBusy),
        StoreError::Closed => (Code::Unavailable, Reason::ServerStopping),
        StoreError::Damaged { .. } => (Code::DataLoss, Reason::DataDamaged),
        _ => (Code::Internal, Reason::Internal),
    }
}

/// How long to wait before the same is asked again, where that can help.
pub(super) fn store_wait(error: &StoreError) -> Option<Duration> {
    match error {
        StoreError::Busy | StoreError::Away { .. } | StoreError::InDoubt { .. } => Some(A_MOMENT),
        StoreError::Closed => Some(A_RESTART),
        StoreError::DiskFull
        | StoreError::Disk { .. }
        | StoreError::Broken { .. }
        | StoreError::TakenOver { .. } => Some(A_REPAIR),
        _ => None,
    }
}

pub(super) fn store_metadata(error: &StoreError) -> Vec<(&'static str, String)> {
    match error {
        StoreError::EntryIdReused { entry_id, seq } => {
            vec![("entry_id", entry_id.to_string()), ("seq", seq.to_string())]
        }
        StoreError::JobUnknown { job } => vec![("job", job.to_string())],
        StoreError::JobFull { job, limit } => vec![("job", job.to_string()), ("limit", limit.to_string())],
        StoreError::NoJobToOpen { entry_id } => vec![("entry_id", entry_id.to_string())],
        StoreError::OutOfRange { field, value, least, greatest } => vec![
            ("field", (*field).to_owned()),
            ("value", value.to_string()),
            ("least", least.to_string()),
            ("greatest", greatest.to_string()),
        ],
        StoreError::Damaged { seq, job_number, what } => {
            let seq = seq.map(|seq| ("seq", seq.to_string()));
            let job_number = job_number.map(|number| ("job_number", number.to_string()));
            [Some(("what", what.clone())), seq, job_number].into_iter().flatten().collect()
        }
        _ => Vec::new(),
    }
}

/// What the other side is told of a store's error; what the disk said stays in the log.
pub(super) fn public_words(error: &StoreError) -> String {
    match error {
        StoreError::Disk { doing, .. } => {
            format!("the server's disk failed while {doing}; look at the server, then send again")
        }
        StoreError::Broken { .. } => {
            "the journal stopped after a disk error; look at the server, then send again".to_owned()
        }
        StoreError::Away { .. } => {
            "the server's database cannot be used just now, nothing was stored; send again when it answers"
                .to_owned()
        }
        StoreError::InDoubt { doing, .. } => {
            format!(
                "the server's database went away while {doing}; whether it was stored is settled by sending again"
            )
        }
        StoreError::TakenOver { .. } => {
            "another server took over this journal; look at the server, then send again".to_owned()
        }
        other => other.to_string(),
    }
}
