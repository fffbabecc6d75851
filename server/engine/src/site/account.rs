//! The account of one job: what it used and what it made, for sums over many jobs.
//!
//! Computed from the job's entries alone, kept beside the journal by the server, and computed again whenever the job
//! gets an entry. [`super::SiteFacts`] holds one of each job.

mod call;
mod fluid;
mod part;
mod tools;
mod waste;

pub(crate) use fluid::{COMPARED, uses as fluid_uses};
pub(crate) use part::uses as part_uses;

use crate::job::{Context, Identity, Recorded, Stated, edition, fold, next_due};
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
    /// All 17 characters of the VIN; empty while not read.
    pub vin: String,
    /// When the job was opened, microseconds since 1970.
    pub opened_us: i64,
    /// When it was closed; absent while it is open.
    pub closed_us: Option<i64>,
    /// Whether an edition of its record was issued.
    pub issued: bool,
    /// Whether vehicle and record were handed over.
    pub handed_over: bool,
    /// Whether it is closed and an edition is still to be issued or handed over.
    pub record_open: bool,
    /// Day on which the next service is due, as YYYY-MM-DD; empty if nothing can be said.
    pub due_on: String,
    /// Distance at which it is due, in km.
    pub due_kilometres: Option<f64>,
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
    /// Person code.
    pub person: String,
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
    /// The container that waste went into, as marked; empty if there is only one.
    pub container: String,
    /// Code of the waste by the settings that its job is judged by; empty where none was set.
    pub waste_code: String,
    /// Density that kilograms of waste are computed with, in kg/L.
    pub density: Option<f64>,
}

/// Sorts of uses.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum UseOf {
    /// Fresh fluid that was drawn, in litres as it was poured at the temperature of the bay. With the purpose `compared`
    /// no litres are known: the lot was read on a container, and what came from it cannot be told apart.
    #[default]
    Fluid,
    /// A part or kit that was fitted. A part of which only the lot is known as one of a kit counts no piece.
    Part,
    /// A torque tool.
    Tool,
    /// Exchange equipment that was pushed through: the code is its own, the lot that of the fluid, the purpose the code
    /// of the fluid. Each reading of the counter is one, and its amount is what the counter showed: no sum.
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
        let identity = Identity::of(context, &folded);
        let arrival = folded.last::<Arrival>();
        let closing = folded.last::<Closing>();
        let due = next_due(context, &folded, &identity);
        let mut uses = fluid::uses(context, &folded, &identity);
        uses.extend(part::uses(&folded));
        uses.extend(waste::uses(context, &folded, &identity));
        uses.extend(call::uses(&folded));
        uses.extend(tools::uses(context, &folded));
        uses.sort_by_key(|used| used.seq);
        Self {
            number: context.number.to_owned(),
            plate: arrival.map(|(_, arrival)| arrival.plate.clone()).unwrap_or_default(),
            opened_us: folded.story.first().map_or(0, |line| line.time_us),
            closed_us: closing.map(|(stated, _)| stated.time_us),
            issued: folded.last::<RecordIssued>().is_some(),
            handed_over: folded.last::<Handover>().is_some(),
            record_open: closing.is_some() && !edition::open(&folded).is_empty(),
            due_on: due.date.map(|(date, _)| date).unwrap_or_default(),
            due_kilometres: due.kilometres.map(|(kilometres, _)| kilometres),
            vin: identity.vin.unwrap_or_default(),
            uses,
        }
    }
}

impl JobAccount {
    /// What views of other jobs look up of this one, as far as a place in the journal: tools and equipment. Sums of
    /// anything else are made afresh whenever they are asked for.
    pub fn looked_up(&self, up_to_seq: u64) -> impl Iterator<Item = &Use> {
        let seen = |used: &&Use| matches!(used.of, UseOf::Tool | UseOf::Equipment);
        self.uses.iter().filter(seen).filter(move |used| used.seq <= up_to_seq)
    }
}

impl Use {
    /// A use that an entry stated; what it is of is filled in by its sort.
    pub(super) fn stated(stated: &Stated, of: UseOf) -> Self {
        Self {
            seq: stated.seq,
            done_us: stated.time_us,
            person: stated.person.clone(),
            of,
            ..Self::default()
        }
    }
}
