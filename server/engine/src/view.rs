//! What a job means: everything that stations, office and record show of it.
//!
//! Only data. It is made by [`crate::job::view`] and read by the report and by the server's
//! answers. It never names a message of the network, and all its words are [`Sentence`]s, so that
//! any language can be printed from it. Times are microseconds since 1970, UTC.

use crate::quantity::Estimate;
use crate::text::Sentence;

/// One job as its entries tell it.
#[derive(Debug, Clone, PartialEq)]
pub struct JobView {
    /// Workshop, job number, dates, persons.
    pub head: Head,
    /// The vehicle and its transmission.
    pub vehicle: Vehicle,
    /// At most five sentences for the customer: asked, done, found, level, new-fluid share.
    pub in_short: Vec<Sentence>,
    /// What the customer should do or know. Ends with the paragraph on the maker's instructions,
    /// local rules and licensed practice, always.
    pub please_note: Vec<Sentence>,
    /// What was looked at before and after; only rows with something seen.
    pub before_and_after: Vec<BeforeAfterRow>,
    /// What was put in and fitted, a line each.
    pub done: Vec<DoneRow>,
    /// How it is known that this is the right fluid; stands on the expert's page.
    pub identity: Vec<Sentence>,
    /// The exchange; absent when no litre was pushed.
    pub exchange: Option<ExchangeView>,
    /// Fluid in and out; absent when nothing was measured.
    pub balance: Option<BalanceView>,
    /// The level.
    pub level: LevelView,
    /// Groups of screws and the level plug: torque, order, tool; a sentence each.
    pub tightening: Vec<Sentence>,
    /// Waste of the job, a sentence each.
    pub waste: Vec<Sentence>,
    /// What earlier jobs of the vehicle say; never on the record.
    pub history: Vec<HistoryLine>,
    /// Groups of cautions that were read, and by whom; a sentence each.
    pub acknowledged: Vec<Sentence>,
    /// Photos, in the order in which they were taken.
    pub photos: Vec<PhotoView>,
    /// Words of persons that stand beside the journal, in the order of the entries.
    pub remarks: Vec<RemarkView>,
    /// Steps that were left out, with the reason; a sentence each.
    pub skipped: Vec<Sentence>,
    /// Open questions that a person decided by name, with the reason; a sentence each.
    pub decisions: Vec<Sentence>,
    /// What is signed with a PIN or has to be, in the order of the journal.
    pub to_sign: Vec<crate::job::ToSign>,
    /// What changes what the bay does next, the most important first; empty when nothing does.
    pub now: Vec<Sentence>,
    /// What was seen of the fluid and what it speaks for, before and after; only where something was seen.
    pub condition: Vec<ConditionView>,
    /// One sentence on the fluid for the customer, with the reason and without a measured number; absent when nothing
    /// was seen.
    pub condition_advice: Option<Sentence>,
    /// When the next service is due, and on what that stands; says nothing until the job is closed as done.
    pub next_due: NextDueView,
    /// What was not measured and not done, a sentence each; never empty.
    pub not_measured: Vec<Sentence>,
    /// What was put right afterwards.
    pub changes: Vec<Change>,
    /// What somebody should know.
    pub findings: Vec<Finding>,
    /// What is still to be done.
    pub open_points: Vec<OpenPoint>,
    /// Computed numbers.
    pub figures: Vec<Figure>,
    /// All entries in words, in the order of the journal.
    pub story: Vec<StoryLine>,
    /// Cautions that belong to the work, a sentence each; for the safety section of the record.
    pub cautions: Vec<Sentence>,
    /// What all this was computed from.
    pub provenance: Provenance,
}

/// Workshop, job number, dates, persons.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Head {
    /// Name of the workshop; empty if no catalogue names it.
    pub workshop: String,
    /// Address of the workshop, a line each.
    pub address: Vec<String>,
    /// Telephone of the workshop; empty if not stated.
    pub telephone: String,
    /// Identity of the job, a UUID in its text form.
    pub job_id: String,
    /// Printed number, for example HL-26-0042.
    pub number: String,
    /// Day of the first entry as it is printed, for example 18 March 2026.
    pub date: String,
    /// Persons who stated facts, as they are printed, for example 'technician A'.
    pub persons: Vec<Sentence>,
    /// True when the job is closed.
    pub closed: bool,
    /// True when the job was closed with 'no exchange done'.
    pub no_exchange_done: bool,
    /// What is open next; absent when nothing is.
    pub next_open_point: Option<Sentence>,
    /// Whether something stands that nobody goes on with: it changes what is done next, whatever is open.
    pub stop_stands: bool,
}

/// The vehicle and its transmission.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Vehicle {
    /// Maker and model as noted; empty if not noted.
    pub name: String,
    /// Registration plate.
    pub plate: String,
    /// All 17 characters of the VIN; absent while not read.
    pub vin: Option<String>,
    /// Name of the settled variant; absent while not settled.
    pub variant: Option<String>,
    /// Distance at arrival as printed, with its unit.
    pub distance_in: Option<String>,
    /// Distance at the end as printed, with its unit.
    pub distance_out: Option<String>,
}

/// One row of the comparison before and after.
#[derive(Debug, Clone, PartialEq)]
pub struct BeforeAfterRow {
    /// What was looked at.
    pub label: Sentence,
    /// What was seen before; absent when not looked at.
    pub before: Option<Sentence>,
    /// What was seen after; absent when not looked at.
    pub after: Option<Sentence>,
}

/// One line of what was put in or fitted.
#[derive(Debug, Clone, PartialEq)]
pub struct DoneRow {
    /// What, for example the fluid's name.
    pub what: Sentence,
    /// Detail, for example lot numbers.
    pub detail: Option<Sentence>,
    /// Amount or 'new'.
    pub amount: Option<Sentence>,
}

/// A photo, which stands beside the journal.
#[derive(Debug, Clone, PartialEq)]
pub struct PhotoView {
    /// SHA-256 of the photo as it is kept, 64 hexadecimal digits.
    pub digest: String,
    /// What it shows.
    pub caption: Sentence,
}

/// Somebody's words, which stand beside the journal and can be erased.
#[derive(Debug, Clone, PartialEq)]
pub struct RemarkView {
    /// SHA-256 of the salted words, 64 hexadecimal digits.
    pub digest: String,
    /// What they are about.
    pub subject: Sentence,
}

/// The exchange.
#[derive(Debug, Clone, PartialEq)]
pub struct ExchangeView {
    /// Litres pushed in when the exchange ended, as read.
    pub litres_in: f64,
    /// The looks at the fluid.
    pub looks: Vec<Look>,
    /// New fluid inside over the litres pushed, from (0, 0) on; empty when no share may be printed.
    pub curve: Vec<CurvePoint>,
    /// New-fluid share when the exchange ended, 0 to 1; absent when it may not be printed.
    pub share_after_exchange: Option<Estimate>,
    /// New-fluid share after pan, refill and level, 0 to 1; absent when it may not be printed.
    pub share_after_pan: Option<Estimate>,
    /// How it was found out, how certain it is, or why no share is printed.
    pub remarks: Vec<Sentence>,
    /// What to do about it while it runs, the most important first: what is not as it should be, then how far to go.
    pub advice: Vec<Sentence>,
    /// What the shares rest on, and how far it is to go.
    pub progress: Progress,
}

/// What the shares of an exchange rest on, and how far it is to go.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Progress {
    /// What the shares rest on; absent when none may be printed.
    pub basis: Option<ShareBasis>,
    /// Why no share is given although litres and looks are there; absent where one may be given.
    pub withheld: Option<Sentence>,
    /// True while a share has to wait until the pan that was drained is refilled.
    pub pan_open: bool,
    /// True where two ways of flowing fit the looks.
    pub two_ways_fit: bool,
    /// New litres kept up to the last look by the balance alone; absent below three spaced looks.
    pub kept_litres: Option<Estimate>,
    /// New-fluid share now: after pan and refill where they are done; absent while the pan is open.
    pub share_now: Option<Estimate>,
    /// New-fluid share after pan and refill that are still to come, 0 to 1; absent when it cannot be foretold.
    pub share_expected: Option<Estimate>,
    /// Share that the workshop aims at, 0 to 1.
    pub target_share: Option<f64>,
    /// Litres left for pushing after what pan, level and hoses need; absent when not known.
    pub left_litres: Option<f64>,
    /// Litres to go to the target.
    pub to_go: Option<LitresToGo>,
    /// Share that the next litre brings, 0 to 1.
    pub next_litre_gain: Option<f64>,
    /// What is not as it should be, the most important first.
    pub alarms: Vec<Sentence>,
}

/// What the shares of an exchange rest on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ShareBasis {
    /// Litres and what is usual; nobody looked.
    Litres,
    /// Fewer than three spaced looks, and two usual ways of flowing.
    Models,
    /// Three spaced looks or more.
    Balance,
    /// As before, where the pan was changed before the exchange.
    PanFirst,
}

impl ShareBasis {
    /// Its word.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Litres => "litres",
            Self::Models => "models",
            Self::Balance => "balance",
            Self::PanFirst => "pan-first",
        }
    }
}

/// Litres to a target, with the ends of their 95 % interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LitresToGo {
    /// As likely too many as too few.
    pub likely: f64,
    /// Lower end.
    pub least: f64,
    /// Upper end; absent where it is beyond what is left.
    pub greatest: Option<f64>,
}

/// One look at the fluid that came out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Look {
    /// Litres pushed in at this look.
    pub litres: f64,
    /// New fluid in the glass, 0 to 1. It runs ahead of what is inside.
    pub glass_new_share: f64,
    /// Its standard uncertainty.
    pub standard_uncertainty: f64,
    /// By what it was seen.
    pub means: LookMeans,
    /// True where the fluid was too dark to be read: at most this share is new.
    pub at_most: bool,
}

/// By what the fluid that came out was looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LookMeans {
    /// The nearest comparison tube.
    Tube,
    /// The colours of one photo.
    Photo,
    /// An instrument.
    Instrument,
}

impl LookMeans {
    /// Its word.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Tube => "tube",
            Self::Photo => "photo",
            Self::Instrument => "instrument",
        }
    }
}

/// New fluid inside at one amount pushed, with its 95 % interval, each 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CurvePoint {
    /// Litres pushed in.
    pub litres: f64,
    /// Lower end of the interval.
    pub least: f64,
    /// Value.
    pub share: f64,
    /// Upper end of the interval.
    pub greatest: f64,
}

/// Fluid in and out, in litres at 15 °C.
#[derive(Debug, Clone, PartialEq)]
pub struct BalanceView {
    /// What went in, a row each.
    pub went_in: Vec<BalanceRow>,
    /// What came out, a row each.
    pub came_out: Vec<BalanceRow>,
    /// Sum of what went in.
    pub total_in: Estimate,
    /// Sum of what came out.
    pub total_out: Estimate,
    /// In minus out; absent when what came out was not fully measured.
    pub difference: Option<Estimate>,
    /// What the difference means, or why there is none.
    pub remarks: Vec<Sentence>,
    /// That the vehicle clearly arrived short or overfilled; absent when that is not clear.
    pub arrived: Option<Sentence>,
    /// What is lost or left over and nobody explained; absent when there is nothing.
    pub unexplained: Option<Sentence>,
    /// Normalised difference from zero (ISO/IEC 17043, k = 2); never printed, absent without a difference.
    pub normalised_difference: Option<f64>,
}

impl BalanceView {
    /// What the difference means, in the order in which it is read.
    pub fn said(&self) -> impl Iterator<Item = &Sentence> {
        self.remarks.iter().chain(&self.arrived).chain(&self.unexplained)
    }
}

/// One row of the balance.
#[derive(Debug, Clone, PartialEq)]
pub struct BalanceRow {
    /// What it is, with the amount as it was read where that is not litres.
    pub label: Sentence,
    /// Litres at 15 °C.
    pub litres: Estimate,
}

/// The level.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LevelView {
    /// Lowest and highest fluid temperature allowed, in °C; absent when not known.
    pub window_celsius: Option<(f64, f64)>,
    /// Every look at the level, in order.
    pub attempts: Vec<LevelAttempt>,
    /// The window and the method in words, or that they are not known.
    pub remarks: Vec<Sentence>,
    /// When to read the temperature again; absent once the level is set or nothing can be said.
    pub when: Option<Sentence>,
    /// The times behind that sentence; absent where there is no forecast.
    pub forecast: Option<LevelForecast>,
    /// Temperature of the look that counts, in °C; absent while none does.
    pub set_celsius: Option<f64>,
    /// What a counted drip says of the level; for the expert's page only, absent where nobody counted.
    pub drip: Option<Sentence>,
}

/// When the fluid enters the window for the level, in microseconds since 1970.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LevelForecast {
    /// When to read the temperature again.
    pub read_again_us: i64,
    /// Earliest entry (95 % interval).
    pub earliest_us: i64,
    /// Likely entry.
    pub likely_us: i64,
    /// Latest entry (95 % interval).
    pub latest_us: i64,
    /// Likely end of the window; absent if the fluid comes to rest inside it.
    pub leaves_us: Option<i64>,
    /// What has to be known beside it.
    pub reasons: Vec<Sentence>,
}

/// When the next fluid service is due: at the distance or on the date, whichever comes first.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct NextDueView {
    /// Distance on the vehicle in km, and the word for what it stands on: workshop, load-word, temperatures or maker.
    pub kilometres: Option<(f64, &'static str)>,
    /// Date as YYYY-MM-DD, and the word for what it stands on: workshop or maker.
    pub date: Option<(String, &'static str)>,
    /// When, on what that stands, and what has to be known beside it.
    pub sentences: Vec<Sentence>,
}

/// What was seen of the fluid at one time, and what it speaks for.
#[derive(Debug, Clone, PartialEq)]
pub struct ConditionView {
    /// Before or after the service, in words.
    pub moment: Sentence,
    /// One line an observation.
    pub lines: Vec<ConditionLine>,
    /// What they come to, by the rule that decided, named by its number.
    pub conclusion: Sentence,
    /// Number of the rule that decided, 1 to 4.
    pub rule: u8,
}

/// One observation and what it speaks for.
#[derive(Debug, Clone, PartialEq)]
pub struct ConditionLine {
    /// Kind of the observation, for example smell; several of one kind count once.
    pub kind: &'static str,
    /// What was seen.
    pub seen: Sentence,
    /// What it speaks for.
    pub speaks_for: Sentence,
    /// Why.
    pub why: Sentence,
    /// All three in one sentence.
    pub text: Sentence,
    /// Numbers that it rests on; empty where words were tapped.
    pub values: Vec<ConditionValue>,
    /// The entries it rests on, by their place in the journal; empty where it comes from earlier jobs.
    pub seqs: Vec<u64>,
    /// True for a figure of a laboratory or a photo; false for what was tapped, and for the distance.
    pub measured: bool,
}

/// A number of a laboratory, a photo or the distance counter.
#[derive(Debug, Clone, PartialEq)]
pub struct ConditionValue {
    /// What it is, for example acid_number_rise.
    pub name: &'static str,
    /// The number in the unit.
    pub value: f64,
    /// Standard uncertainty in the unit; absent where none is stated.
    pub standard_uncertainty: Option<f64>,
    /// Unit; 1 for a plain number.
    pub unit: &'static str,
}

/// One look at the level.
#[derive(Debug, Clone, PartialEq)]
pub struct LevelAttempt {
    /// Clock time as printed, for example 11:58.
    pub clock: String,
    /// What was seen, and every reason why it does not count if it does not.
    pub text: Sentence,
    /// The same with the first reason alone, for the bay.
    pub in_short: Sentence,
    /// True when it counts.
    pub valid: bool,
}

/// Something put right afterwards.
#[derive(Debug, Clone, PartialEq)]
pub struct Change {
    /// What was written, to be struck through.
    pub was: Sentence,
    /// What counts now; absent when it was withdrawn.
    pub now: Option<Sentence>,
    /// Why, by whom, when.
    pub why: Sentence,
}

/// How much a finding matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Weight {
    /// Stops the work; no one can override it.
    Stops,
    /// Somebody should know it.
    Tells,
}

/// Something that the entries mean.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// The sentence.
    pub text: Sentence,
    /// How much it matters.
    pub weight: Weight,
    /// The entries it rests on, by their place in the journal.
    pub seqs: Vec<u64>,
    /// True when it belongs on the printed record.
    pub on_record: bool,
    /// True while it stops the work; what stopped it once and was put right is kept and stops nobody any more.
    pub stands: bool,
}

/// What an earlier job of the vehicle says, or all of them together.
#[derive(Debug, Clone, PartialEq)]
pub struct HistoryLine {
    /// Printed number of the job that it tells of; absent where it is none alone.
    pub job: Option<String>,
    /// The sentence.
    pub text: Sentence,
}

/// Something still to be done.
#[derive(Debug, Clone, PartialEq)]
pub struct OpenPoint {
    /// The gate that waits for it, by its name; empty when none does.
    pub gate: &'static str,
    /// The sentence.
    pub text: Sentence,
}

/// A computed number.
#[derive(Debug, Clone, PartialEq)]
pub struct Figure {
    /// Key, for example new_fluid_share_after_pan.
    pub key: &'static str,
    /// What it is, in words.
    pub label: Sentence,
    /// The number in the unit.
    pub estimate: Estimate,
    /// Unit, for example L.
    pub unit: &'static str,
    /// Value with its range and unit as it is printed.
    pub text: Sentence,
    /// What it rests on.
    pub reasons: Vec<Sentence>,
}

/// One entry in words.
#[derive(Debug, Clone, PartialEq)]
pub struct StoryLine {
    /// Place in the journal.
    pub seq: u64,
    /// Identity of the entry.
    pub entry_id: String,
    /// When it was done as far as known, else when the station made it.
    pub time_us: i64,
    /// Person code.
    pub person: String,
    /// Kind, for example drain.
    pub kind: &'static str,
    /// The fact in words.
    pub text: Sentence,
    /// Why it no longer counts as written; absent if it does.
    pub changed: Option<Sentence>,
    /// True when it was typed later than the site's limit.
    pub late: bool,
}

/// What the view was computed from.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Provenance {
    /// Number of entries.
    pub entries: u64,
    /// Place in the journal of the last of them.
    pub last_seq: u64,
    /// SHA-256 over the leaf hashes of the job's entries, in order.
    pub digest: [u8; 32],
    /// First 16 hexadecimal digits of the digest, in groups of four.
    pub check_value: String,
    /// Catalogue revision, 64 hexadecimal digits; empty if there is none.
    pub catalogue_revision: String,
    /// Version of the engine.
    pub engine_version: &'static str,
    /// Time the view is made for: that of the last entry.
    pub as_of_us: i64,
}
