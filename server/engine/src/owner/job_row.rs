//! One row a job: flat numbers that an owner's sums are made of.
//!
//! Computed from the job's entries alone, like its account, and computed again whenever the job gets an entry. It holds
//! no customer, no plate and no VIN – only digests of them by which a vehicle is found again – and no person unless that
//! is asked for. Whether the vehicle came back is filled in where the jobs of all sites are: [`super::come_backs`].

use crate::catalogue::plain_code;
use crate::gates::{decided, open_beside_level};
use crate::job::{Context, Folded, Identity, Recorded, fold, litres_tallied, view};
use crate::kind::arrival::Arrival;
use crate::kind::closing::Closing;
use crate::kind::decision::Decision;
use crate::kind::words::{Outcome, ToolKind, VisitReason};
use crate::quantity::Estimate;
use crate::site::display::{self, DisplayCheck};
use crate::site::lots::Lots;
use crate::site::tools::{Register, day_at};
use crate::site::{JobAccount, UseOf, equipment};
use crate::view::{JobView, StoryLine};
use serde::{Deserialize, Serialize};
use sha2::{Digest as _, Sha256};
use std::fmt::Write as _;

use super::minutes::{self, Minutes};

/// What a row is made with, beside the job's own context.
#[derive(Debug, Clone, Copy)]
pub struct RowSettings<'a> {
    /// Identity of the site.
    pub site: &'a str,
    /// Secret that vehicles are digested with; the same at all sites of one owner, so that one is found again.
    pub vehicle_key: &'a [u8],
    /// Whether codes of persons are in the row. Off unless the owner switched it on: in many places anything by person
    /// is regulated.
    pub persons: bool,
}

/// One job as flat numbers. Litres are at 15 °C with their standard uncertainty; what is absent was not measured.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct JobRow {
    /// Identity of the site.
    pub site: String,
    /// Identity of the job.
    pub job: String,
    /// Printed number.
    pub number: String,
    /// When it was opened, microseconds since 1970.
    pub opened_us: i64,
    /// When it was closed; absent while it is open.
    pub closed_us: Option<i64>,
    /// Day at the site on which it was closed, else opened, as YYYY-MM-DD.
    pub day: String,
    /// Month of that day, as YYYY-MM.
    pub month: String,
    /// Whether it was closed as done; a job that was stopped counts in no comparison of work.
    pub done: bool,
    /// Digest of VIN, else of plate; empty where neither was read.
    pub vehicle: String,
    /// Whether the vehicle came for anything but the service that was due, or with a complaint about an earlier job.
    pub complaint: bool,
    /// Code of the settled variant; empty while it is not settled.
    pub variant: String,
    /// Code of the fluid of the variant.
    pub fluid: String,
    /// Lots that were drawn.
    pub lots: Vec<LotDrawn>,
    /// Whether a fluid was put in that the variant does not take, or a lot that came in as another fluid.
    pub other_fluid: bool,
    /// Whether a lot was put in whose recall stands.
    pub recalled_lot: bool,
    /// Litres that went in.
    pub litres_in: Option<f64>,
    /// Its standard uncertainty.
    pub litres_in_uncertainty: Option<f64>,
    /// Litres that came out, with what parts carried.
    pub litres_out: Option<f64>,
    /// Its standard uncertainty.
    pub litres_out_uncertainty: Option<f64>,
    /// Litres carried out with parts.
    pub litres_carried: Option<f64>,
    /// Its standard uncertainty.
    pub litres_carried_uncertainty: Option<f64>,
    /// Litres of used fluid that were written down as waste, as measured.
    pub litres_wasted: Option<f64>,
    /// Litres spilled that were written down.
    pub litres_spilled: Option<f64>,
    /// In minus out; absent when what came out was not fully measured.
    pub difference: Option<f64>,
    /// Its standard uncertainty.
    pub difference_uncertainty: Option<f64>,
    /// Whether the difference is more than half a litre beyond its uncertainty and nobody explained it.
    pub unexplained: bool,
    /// Litres that the display alone showed, in minus out, as it showed them.
    pub litres_by_display: f64,
    /// Code of the exchange equipment; empty where none was used or named.
    pub equipment: String,
    /// Check of the display when it was read.
    pub display: DisplayState,
    /// New-fluid share when the job was done, 0 to 1; absent when it may not be printed.
    pub share: Option<f64>,
    /// Its standard uncertainty.
    pub share_uncertainty: Option<f64>,
    /// Looks at the level.
    pub level_attempts: u32,
    /// Whether one of them counts.
    pub level_set: bool,
    /// Points beside the level that stood open when the job was closed: pan, screws, plug, leak, line, a wrong fluid.
    pub open_at_closing: u32,
    /// Torque tools that were past their check, out of their limits or not in the register when they were used.
    pub tools_past_check: Vec<String>,
    /// Decisions that counted, of what the advice was against.
    pub decisions: u32,
    /// Entries.
    pub entries: u32,
    /// Entries that were typed later than the site's limit.
    pub late_entries: u32,
    /// Minutes of the parts of the work.
    #[serde(flatten)]
    pub minutes: Minutes,
    /// Days until the vehicle came back; absent while it did not. Filled in by [`super::come_backs`].
    pub back_after_days: Option<i64>,
    /// Codes of the persons who stated facts; empty unless asked for.
    pub persons: Vec<String>,
    /// Place in the journal of the job's last entry.
    pub last_seq: u64,
    /// Version of the engine.
    pub engine_version: String,
    /// Catalogue revision, 64 hexadecimal digits; empty if there is none.
    pub revision: String,
}

/// A lot that a job drew.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct LotDrawn {
    /// Code of the fluid, as the catalogue has it where it knows it.
    pub code: String,
    /// The lot; empty if none was read.
    pub lot: String,
    /// Litres as they were poured.
    pub litres: f64,
}

/// Check of a litre display when it was read.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum DisplayState {
    /// No display was read.
    #[default]
    NotRead,
    /// Its check counted.
    Checked,
    /// Its check was past due or cannot be right.
    PastCheck,
    /// Nobody checked it, or nobody said which it is.
    NeverChecked,
}

impl JobRow {
    /// The row of a job by its entries.
    #[must_use]
    pub fn of(context: &Context<'_>, entries: &[Recorded<'_>], settings: &RowSettings<'_>) -> Self {
        let account = JobAccount::of(context, entries);
        let view = view(context, entries);
        let folded = fold::fold(context, entries);
        let identity = Identity::of(context, &folded);
        let mut row = Self {
            site: settings.site.to_owned(),
            job: context.job_id.to_owned(),
            vehicle: vehicle_digest(settings.vehicle_key, &account.vin, &account.plate),
            opened_us: account.opened_us,
            closed_us: account.closed_us,
            minutes: minutes::of(&folded.story),
            ..Self::seen(&view, &folded)
        };
        row.dated(context);
        row.with_litres(context, &folded, &identity, &account);
        row.with_site(context, &folded, &identity, &account);
        row.open_at_closing = count(open_beside_level(context, &folded, &identity));
        let idle = decided::idle(context, &folded).len();
        row.decisions = count(folded.each::<Decision>().count().saturating_sub(idle));
        if settings.persons {
            for line in &folded.story {
                if !row.persons.contains(&line.person) {
                    row.persons.push(line.person.clone());
                }
            }
        }
        row.number = account.number;
        row
    }

    /// What the view and the facts say by themselves.
    fn seen(view: &JobView, folded: &Folded) -> Self {
        let share = view.exchange.as_ref().and_then(|exchange| exchange.progress.share_now);
        let arrival = folded.last::<Arrival>().map(|(_, arrival)| arrival);
        let complains = |arrival: &Arrival| {
            let other = |reason: &VisitReason| *reason != VisitReason::ServiceDue;
            arrival.complaint_about_job.is_some() || arrival.reasons.iter().any(other)
        };
        let outcome = folded.last::<Closing>().map(|(_, closing)| closing.outcome);
        Self {
            done: outcome.is_some_and(|outcome| outcome != Some(Outcome::NoExchangeDone)),
            complaint: arrival.is_some_and(complains),
            unexplained: view.balance.as_ref().is_some_and(|balance| balance.unexplained.is_some()),
            share: share.map(|share| share.value),
            share_uncertainty: share.map(|share| share.standard_uncertainty),
            level_attempts: count(view.level.attempts.len()),
            level_set: view.level.attempts.iter().any(|attempt| attempt.valid),
            entries: count(folded.story.len()),
            late_entries: count(folded.story.iter().filter(|line: &&StoryLine| line.late).count()),
            last_seq: view.provenance.last_seq,
            engine_version: view.provenance.engine_version.to_owned(),
            revision: view.provenance.catalogue_revision.clone(),
            ..Self::default()
        }
    }

    fn dated(&mut self, context: &Context<'_>) {
        let at = self.closed_us.unwrap_or(self.opened_us);
        let day = day_at(&context.workshop().time_zone, at);
        self.day = day.map(|day| day.to_string()).unwrap_or_default();
        self.month = day.map(|day| day.strftime("%Y-%m").to_string()).unwrap_or_default();
    }

    fn with_litres(
        &mut self,
        context: &Context<'_>,
        folded: &Folded,
        identity: &Identity,
        account: &JobAccount,
    ) {
        let litres = litres_tallied(context, folded, identity);
        let parts = |estimate: Option<Estimate>| {
            (estimate.map(|it| it.value), estimate.map(|it| it.standard_uncertainty))
        };
        (self.litres_in, self.litres_in_uncertainty) = parts(litres.went_in);
        (self.litres_out, self.litres_out_uncertainty) = parts(litres.came_out);
        (self.litres_carried, self.litres_carried_uncertainty) = parts(litres.carried);
        (self.difference, self.difference_uncertainty) = parts(litres.difference);
        self.litres_spilled = litres.spilled.map(|it| it.value);
        self.litres_by_display = litres.by_display;
        let waste = account.uses.iter().filter(|used| used.of == UseOf::Waste && used.code == "used-fluid");
        let wasted: Vec<f64> = waste
            .filter_map(|used| match (used.unit.as_str(), used.density) {
                ("L", _) => Some(used.amount),
                ("kg", Some(density)) if density > 0.0 => Some(used.amount / density),
                ("kg", _) => Some(used.amount * 1000.0 / context.workshop().fluid_density.value),
                _ => None,
            })
            .collect();
        self.litres_wasted = (!wasted.is_empty()).then(|| wasted.iter().sum());
    }

    /// What the registers of the site say of what the job used.
    fn with_site(
        &mut self,
        context: &Context<'_>,
        folded: &Folded,
        identity: &Identity,
        account: &JobAccount,
    ) {
        let variant = identity.variant.as_ref();
        self.variant = variant.map(|variant| variant.code.clone()).unwrap_or_default();
        let fluid = variant.and_then(|variant| variant.fluid.as_ref());
        self.fluid = fluid.map(|(code, _)| code.clone()).unwrap_or_default();
        let lots = Lots::new(context.revision, context.site, context.site_up_to);
        for used in account.uses.iter().filter(|used| used.of == UseOf::Fluid) {
            let known = context.revision.fluid(&used.code);
            let takes =
                variant.is_none_or(|variant| variant.fluid.is_none() || variant.takes_fluid(&used.code));
            let came_in = lots.other_fluid(&used.lot, &used.code).filter(|_| !used.lot.is_empty());
            let unlike = came_in.is_some_and(|received| lots.are_unlike(&used.code, received));
            let drawn = used.amount > 0.0;
            self.other_fluid |= drawn && (!takes || unlike);
            self.recalled_lot |= !used.lot.is_empty() && lots.recalled(&used.lot, &used.code).is_some();
            self.lots.push(LotDrawn {
                code: known.map_or_else(|| used.code.clone(), |fluid| fluid.code.clone()),
                lot: used.lot.clone(),
                litres: used.amount,
            });
        }
        self.tools_past_check = tools_past_check(context, account);
        self.equipment = equipment::of_job(context, folded).unwrap_or_default().to_owned();
        if equipment::begun_at(folded).is_some() && self.litres_by_display != 0.0 {
            self.display = match display::of_job(context, folded) {
                None => DisplayState::NeverChecked,
                Some(check) if check.clone().valid().is_some() => DisplayState::Checked,
                Some(DisplayCheck { .. }) => DisplayState::PastCheck,
            };
        } else {
            self.equipment.clear();
        }
    }
}

/// Codes of the torque tools that were no good when they were used, each once; nothing where no register is kept.
fn tools_past_check(context: &Context<'_>, account: &JobAccount) -> Vec<String> {
    let register = Register::of(context.site, context.workshop(), context.site_up_to);
    let mut past: Vec<String> = Vec::new();
    if !register.knows_torque_tools() {
        return past;
    }
    for used in account.uses.iter().filter(|used| used.of == UseOf::Tool) {
        let tool = register.tool(ToolKind::TorqueTool, &used.code);
        let day = register.day(used.done_us);
        let good = tool.zip(day).is_some_and(|(tool, day)| tool.against_use(used.seq, day).is_empty());
        if !good && !past.contains(&used.code) {
            past.push(used.code.clone());
        }
    }
    past
}

/// Digest by which a vehicle is found again at all sites of one owner: of the VIN, else of the plate; empty without
/// either. Without the key nobody can try VINs until one fits.
#[must_use]
pub fn vehicle_digest(key: &[u8], vin: &str, plate: &str) -> String {
    let (what, read) = if vin.is_empty() { ("plate", plate) } else { ("vin", vin) };
    let read = plain_code(read);
    if read.is_empty() {
        return String::new();
    }
    let mut hash = Sha256::new();
    for part in [key, what.as_bytes(), read.as_bytes()] {
        // The length before each part keeps two vehicles from being one by where a part ends.
        hash.update((part.len() as u64).to_be_bytes());
        hash.update(part);
    }
    let mut text = String::with_capacity(32);
    for byte in hash.finalize().iter().take(16) {
        let _ = write!(text, "{byte:02x}");
    }
    text
}

fn count(count: usize) -> u32 {
    u32::try_from(count).unwrap_or(u32::MAX)
}
