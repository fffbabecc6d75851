//! What is otherwise in a workshop that is read from a copy of another server's journal: entries come without being
//! appended here, and the files of a revision may come after its adoption.
//!
//! Called by [`crate::forwarding`].

use super::Workshop;
use crate::catalogue::Catalogue;
use crate::config::Mode;
use crate::error::ServerError;
use crate::folder::Folder;
use standpipe_store::Journal;
use std::sync::{Arc, PoisonError};

/// Whose journal a workshop reads.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Whose {
    /// This server's own, which it writes.
    Own(Mode),
    /// A copy of another server's: nothing is ever stated in it.
    Copied {
        /// Whether the owner switched persons on. It is settled here, where a copy is opened, so that no view of it has to
        /// remember it.
        persons: bool,
    },
}

impl Whose {
    /// Whether what is said of jobs names persons.
    pub(super) fn persons(self) -> bool {
        match self {
            Self::Own(_) => true,
            Self::Copied { persons } => persons,
        }
    }
}

/// The adopted revisions, and those of them whose files are not here.
pub(super) async fn catalogue(
    whose: Whose,
    folder: &Folder,
    journal: &dyn Journal,
    site_name: &str,
) -> Result<(Catalogue, Vec<String>), ServerError> {
    match whose {
        Whose::Own(_) => Ok((Catalogue::load(folder, journal, site_name).await?, Vec::new())),
        Whose::Copied { .. } => Catalogue::load_copied(folder, journal, site_name).await,
    }
}

impl Workshop {
    /// Adopted revisions whose files did not come yet: what was judged by them is judged by none.
    pub(crate) fn missing_revisions(&self) -> Arc<Vec<String>> {
        Arc::clone(&self.missing_revisions.read().unwrap_or_else(PoisonError::into_inner))
    }

    /// Sees what came into the copy: another revision may hold, and any plate may have been put right. What was computed of
    /// a job is kept by the place of its last entry and needs nothing else.
    ///
    /// # Errors
    /// When the catalogue cannot be read.
    pub(crate) async fn look_at_copied(&self, revisions: bool) -> Result<(), ServerError> {
        self.labels.forget_all();
        if !revisions {
            return Ok(());
        }
        let (loaded, missing) = Catalogue::load_copied(&self.folder, &*self.journal, &self.site_name).await?;
        *self.catalogue.write().unwrap_or_else(PoisonError::into_inner) = Arc::new(loaded);
        *self.missing_revisions.write().unwrap_or_else(PoisonError::into_inner) = Arc::new(missing);
        self.views.forget_all();
        self.earlier.forget_all();
        Ok(())
    }
}
