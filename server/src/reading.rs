//! A job read once for one answer: its entries, what they say, and what they mean now.
//!
//! What is said of a job goes with the site's clock, and the journal grows while an answer is made. So whatever stands
//! in one answer comes from here: `Get`, `Next`, `May`, `Plan`, `Watch` and the page of the job. Never here: what is
//! kept between answers, which is [`crate::workshop`]'s.

use crate::sight::{Sight, recorded};
use crate::status::Cause;
use crate::workshop::{Computed, Workshop, off_the_network};
use standpipe_engine::job::{Context, Recorded, view};
use standpipe_engine::view::JobView;
use standpipe_store::{JobRow, StoredEntry};
use std::sync::Arc;

/// A job read once.
pub(crate) struct Reading {
    /// What the entries say, as of the last of them; its row says how far they reach.
    pub(crate) job: Arc<Computed>,
    /// The entries, in the order of the journal.
    pub(crate) entries: Vec<StoredEntry>,
    /// What they are looked at with, as of now.
    pub(crate) sight: Sight,
    /// The site's clock at the reading.
    pub(crate) now_us: i64,
}

/// What a job says now.
pub(crate) struct Now {
    /// What the entries say, as of the last of them.
    pub(crate) job: Arc<Computed>,
    /// What the same entries mean by the site's clock: forecasts and what changes what the bay does next go with it.
    pub(crate) view: JobView,
    /// The site's clock at the reading.
    pub(crate) now_us: i64,
}

impl Reading {
    /// Asks the engine about the entries as they stand now.
    pub(crate) async fn ask<T: Send + 'static>(
        self,
        question: impl FnOnce(&Context<'_>, &[Recorded<'_>]) -> T + Send + 'static,
    ) -> Result<T, Cause> {
        let Self { entries, sight, .. } = self;
        off_the_network(move || question(&sight.context(), &recorded(&entries))).await
    }
}

impl Workshop {
    /// What a job means now.
    pub(crate) async fn as_of_now(&self, row: &JobRow) -> Result<Now, Cause> {
        let reading = self.read(row).await?;
        let (job, now_us) = (Arc::clone(&reading.job), reading.now_us);
        Ok(Now { job, view: reading.ask(view).await?, now_us })
    }
}
