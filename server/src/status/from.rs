//! How the errors of what is called within a call become its cause. Called by `?`.

use super::store::store_row;
use super::{Cause, Forwarding};
use crate::error::ServerError;
use standpipe_proto::check::CheckError;
use standpipe_store::StoreError;
use tonic::Code;

impl From<StoreError> for Cause {
    fn from(error: StoreError) -> Self {
        match store_row(&error) {
            (Code::Internal, _) => Self::internal("asking the store", &error),
            // A server that stops in order refuses what comes after, which is no trouble.
            _ if matches!(error, StoreError::Closed) => Self::Store(error),
            (Code::Unavailable | Code::DataLoss, _) => {
                tracing::warn!(cause = %error, "the store refused");
                Self::Store(error)
            }
            _ => Self::Store(error),
        }
    }
}

impl From<ServerError> for Cause {
    fn from(error: ServerError) -> Self {
        match error {
            ServerError::Store(error) => error.into(),
            ServerError::OutsideBounds(violations) => Self::OutsideBounds(violations),
            ServerError::JobUnknown { job, example } => Self::JobUnknown { job, example },
            ServerError::SiteNoCopy { site } => Self::Forwarding(Forwarding::SiteTaken { site }),
            ServerError::BlobErased { digest } => Self::BlobErased { digest },
            ServerError::BlobDamaged { digest, .. } | ServerError::RecordMissing { digest } => {
                tracing::error!(digest, "a file beside the journal is damaged or missing");
                Self::BlobDamaged { digest }
            }
            other => Self::internal("working on the site's folder", &other),
        }
    }
}

impl From<CheckError> for Cause {
    fn from(error: CheckError) -> Self {
        match error {
            CheckError::Unreadable(what) => Self::EntryUnreadable(what),
            CheckError::TooLarge { bytes, greatest } => Self::EntryTooLarge { bytes, greatest },
            CheckError::Outside(violations) => Self::OutsideBounds(violations),
        }
    }
}
