//! The account of one job: what it used and what it made, for sums over many jobs.
//!
//! Computed from the job's entries alone, kept beside the journal by the server, and computed again whenever the job
//! gets an entry. [`super::SiteFacts`] holds one of each job.

mod tools;

use crate::job::{Context, Recorded, fold};
use crate::kind::arrival::Arrival;
use crate::kind::closing::Closing;
use crate::kind::handover::Handover;
use crate::kind::record_issued::RecordIssued;
use serde::{Deserialize, Serialize};

/// What one job used and made.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct JobAccount {
    /// Printed number.
    pub number: String,
    /// Plate.
    pub plate: String,
    /// When the job was opened, microseconds since 1970.
    pub opened_us: i64,
    /// When it was closed; absent while it is open.
    pub closed_us: Option<i64>,
    /// Whether an edition of its record was issued.
    pub issued: bool,
    /// Whether vehicle and record were handed over.
    pub handed_over: bool,
    /// What it used and made, in the order of the journal.
    pub uses: Vec<Use>,
}

/// One use.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Use {
    /// Place of the entry in the journal.
    pub seq: u64,
    /// When it was done, microseconds since 1970.
    pub done_us: i64,
    /// Of what.
    pub of: UseOf,
    /// Code of the fluid, part, tool or equipment; word of the waste.
    pub code: String,
    /// Lot; empty if none was read.
    pub lot: String,
    /// How much: L, kg, pieces or screws, by `unit`.
    pub amount: f64,
    /// Unit of the amount: `L`, `kg`, `pieces`; empty for none.
    pub unit: String,
    /// What it was for, a word of the sort; empty for none.
    pub purpose: String,
}

/// Sorts of uses.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum UseOf {
    /// Fresh fluid that was drawn.
    #[default]
    Fluid,
    /// A part or kit that was fitted.
    Part,
    /// A torque tool.
    Tool,
    /// Exchange equipment that was pushed through: the code is its own, the lot that of the fluid, the purpose the code
    /// of the fluid.
    Equipment,
    /// Waste.
    Waste,
    /// The customer was told of a recall.
    Told,
    /// What was recalled was looked at.
    LookedAt,
}

impl JobAccount {
    /// The account of a job by its entries.
    #[must_use]
    pub fn of(context: &Context<'_>, entries: &[Recorded<'_>]) -> Self {
        let folded = fold::fold(context, entries);
        let arrival = folded.last::<Arrival>();
        let mut uses = tools::uses(context, &folded);
        uses.sort_by_key(|used| used.seq);
        Self {
            number: context.number.to_owned(),
            plate: arrival.map(|(_, arrival)| arrival.plate.clone()).unwrap_or_default(),
            opened_us: folded.story.first().map_or(0, |line| line.time_us),
            closed_us: folded.last::<Closing>().map(|(stated, _)| stated.time_us),
            issued: folded.last::<RecordIssued>().is_some(),
            handed_over: folded.last::<Handover>().is_some(),
            uses,
        }
    }
}
