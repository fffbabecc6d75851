//! Number and plate of a job, which every answer about it begins with.

use super::{Label, Workshop};
use crate::number;
use crate::status::Cause;
use standpipe_store::{JobId, JobNumber, StoreError};
use std::sync::{Arc, PoisonError};

impl Workshop {
    /// Number and plate of a job, for an acknowledgement.
    pub(crate) async fn label(&self, job: JobId) -> Result<Arc<Label>, Cause> {
        let ticket = match self.labels.get(&job) {
            Ok(label) => return Ok(label),
            Err(ticket) => ticket,
        };
        let row = self.journal.job(job).await?;
        let row = row.ok_or_else(|| Cause::from(StoreError::JobUnknown { job }))?;
        // By its own entries: an acknowledgement does not wait until something is known of other jobs.
        let plate = self.computed_alone(&row).await?.0.view.vehicle.plate;
        let label = Arc::new(Label { number: self.printed(&row), plate });
        self.labels.keep(ticket, job, Arc::clone(&label));
        Ok(label)
    }

    /// Remembers number and plate of a job that an arrival opened just now. Gives nothing if the arrival may be a
    /// second one; then the entries must be asked.
    pub(crate) fn label_of_new(&self, job: JobId, number: JobNumber, plate: &str) -> Option<Arc<Label>> {
        let mut newest = self.newest.lock().unwrap_or_else(PoisonError::into_inner);
        // Numbers are given in ascending order: one above all others belongs to a job opened by this very entry.
        if newest.is_some_and(|newest| newest >= number) {
            return None;
        }
        *newest = Some(number);
        drop(newest);
        let number = number::printed(&self.catalogue().now().prefix, number);
        let label = Arc::new(Label { number, plate: plate.trim().to_owned() });
        self.labels.keep(self.labels.ticket(), job, Arc::clone(&label));
        Some(label)
    }

    /// Forgets the label of a job whose plate may have changed.
    pub(crate) fn forget_label(&self, job: JobId) {
        self.labels.forget(&job);
    }
}
