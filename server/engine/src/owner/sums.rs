//! Sums over rows of jobs by site, variant and month: plain counters that are added and nothing else.
//!
//! Every counter is a whole number – litres in millilitres – so that sums are the same in whatever order and place they
//! are made, here or as columns of a store. What they mean is said by [`super::naming`] and [`super::compare`].

use super::JobRow;
use super::come_backs::{WITHIN_DAYS, came_back, can_be_said};
use super::job_row::DisplayState;
use std::collections::BTreeMap;

/// Fewer jobs than these are summed and not shown by themselves, so that no single job – and nobody who did it – is
/// read from a sum (the usual rule for tables of counts; common practice, no source).
pub const SHOWN_FROM_JOBS: i64 = 5;

/// Most millilitres of one job that are summed, so that sums of squares of some million jobs stay whole numbers.
const MILLILITRES_MOST: f64 = 1_000_000.0;

/// One job as a counter reads it.
struct Read<'a> {
    row: &'a JobRow,
    as_of_us: i64,
}

macro_rules! counters {
    ($($(#[$doc:meta])* $counter:ident $name:literal = $of:expr;)*) => {
        /// What is counted. Names are those of columns.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
        pub enum Counter { $($(#[$doc])* $counter,)* }

        impl Counter {
            /// All of them, in their order.
            pub const ALL: &'static [Self] = &[$(Self::$counter,)*];

            /// Name of the counter and of its column.
            #[must_use]
            pub const fn name(self) -> &'static str {
                match self { $(Self::$counter => $name,)* }
            }

            fn of(self, read: &Read<'_>) -> i64 {
                let of: fn(&Read<'_>) -> i64 = match self { $(Self::$counter => $of,)* };
                of(read)
            }
        }
    };
}

counters! {
    /// Closed jobs.
    Jobs "jobs" = |it| one(it.row.closed_us.is_some());
    /// Jobs that were closed as done.
    Done "done" = |it| one(it.row.done);
    /// Litres in, mL.
    In "in_ml" = |it| millilitres(it.row.litres_in);
    /// Litres out, mL.
    Out "out_ml" = |it| millilitres(it.row.litres_out);
    /// Litres carried out with parts, mL.
    Carried "carried_ml" = |it| millilitres(it.row.litres_carried);
    /// Litres of used fluid written down as waste, mL.
    Wasted "wasted_ml" = |it| millilitres(it.row.litres_wasted);
    /// Litres spilled, mL.
    Spilled "spilled_ml" = |it| millilitres(it.row.litres_spilled);
    /// Jobs of which in minus out is known.
    Balanced "balanced" = |it| one(balanced(it.row));
    /// In minus out of these, with what was spilled, mL.
    Lost "lost_ml" = |it| lost(it.row);
    /// Squares of that, mL².
    LostSquared "lost_ml2" = |it| squared(lost(it.row));
    /// Squares of its standard uncertainties, mL².
    LostUncertainty "lost_u_ml2" = |it| squared(if balanced(it.row) { millilitres(it.row.difference_uncertainty) } else { 0 });
    /// Litres of these that the display alone showed, mL.
    Shown "shown_ml" = |it| shown(it.row);
    /// Squares of that, mL².
    ShownSquared "shown_ml2" = |it| squared(shown(it.row));
    /// Products of lost and shown, mL².
    ShownLost "shown_lost_ml2" = |it| shown(it.row) * lost(it.row);
    /// Jobs whose difference nobody explained.
    Unexplained "unexplained" = |it| one(it.row.unexplained);
    /// Jobs in which a display was read.
    DisplayRead "display_read" = |it| one(it.row.display != DisplayState::NotRead);
    /// Of these with a check that counted.
    DisplayChecked "display_checked" = |it| one(it.row.display == DisplayState::Checked);
    /// Jobs of which the share is known.
    Shared "shared" = |it| one(it.row.share.is_some());
    /// Sum of the shares, in ten thousandths.
    Share "share_e4" = |it| share(it.row);
    /// Sum of their squares.
    ShareSquared "share_e8" = |it| squared(share(it.row));
    /// Looks at the level, of jobs closed as done.
    LevelAttempts "level_attempts" = |it| if it.row.done { i64::from(it.row.level_attempts) } else { 0 };
    /// Jobs closed as done of which no look at the level counts.
    LevelUnset "level_unset" = |it| one(it.row.done && !it.row.level_set);
    /// Jobs with a torque tool past its check.
    ToolPast "tool_past" = |it| one(!it.row.tools_past_check.is_empty());
    /// Jobs that got another fluid than the variant's.
    OtherFluid "other_fluid" = |it| one(it.row.other_fluid);
    /// Jobs that got a lot whose recall stands.
    RecalledLot "recalled_lot" = |it| one(it.row.recalled_lot);
    /// Decisions against the advice.
    Decisions "decisions" = |it| i64::from(it.row.decisions);
    /// Entries.
    Entries "entries" = |it| i64::from(it.row.entries);
    /// Entries typed late.
    LateEntries "late_entries" = |it| i64::from(it.row.late_entries);
    /// Jobs closed as done with an entry typed late.
    Late "late" = |it| one(it.row.done && it.row.late_entries > 0);
    /// Minutes up to the first litre, of jobs closed as done.
    MinutesBefore "minutes_before" = |it| timed(it, it.row.minutes.minutes_before).unwrap_or_default();
    /// Minutes of the exchange, of jobs closed as done.
    MinutesExchange "minutes_exchange" = |it| timed(it, it.row.minutes.minutes_exchange).unwrap_or_default();
    /// Minutes of pan and refill, of jobs closed as done.
    MinutesPan "minutes_pan" = |it| timed(it, it.row.minutes.minutes_pan).unwrap_or_default();
    /// Minutes of gears and level, of jobs closed as done.
    MinutesLevel "minutes_level" = |it| timed(it, it.row.minutes.minutes_level).unwrap_or_default();
    /// Minutes after that, of jobs closed as done.
    MinutesAfter "minutes_after" = |it| timed(it, it.row.minutes.minutes_after).unwrap_or_default();
    /// Jobs closed as done of which the minutes up to the first litre are known.
    TimedBefore "timed_before" = |it| one(timed(it, it.row.minutes.minutes_before).is_some());
    /// Jobs closed as done of which the minutes of the exchange are known.
    TimedExchange "timed_exchange" = |it| one(timed(it, it.row.minutes.minutes_exchange).is_some());
    /// Jobs closed as done of which the minutes of pan and refill are known.
    TimedPan "timed_pan" = |it| one(timed(it, it.row.minutes.minutes_pan).is_some());
    /// Jobs closed as done of which the minutes of gears and level are known.
    TimedLevel "timed_level" = |it| one(timed(it, it.row.minutes.minutes_level).is_some());
    /// Jobs closed as done of which the minutes after that are known.
    TimedAfter "timed_after" = |it| one(timed(it, it.row.minutes.minutes_after).is_some());
    /// Jobs of which the litres in are known.
    InKnown "in_known" = |it| one(it.row.litres_in.is_some());
    /// Jobs of which the litres out are known.
    OutKnown "out_known" = |it| one(it.row.litres_out.is_some());
    /// Jobs of which the litres carried out with parts are known.
    CarriedKnown "carried_known" = |it| one(it.row.litres_carried.is_some());
    /// Jobs of which the litres of waste are known.
    WastedKnown "wasted_known" = |it| one(it.row.litres_wasted.is_some());
    /// Jobs of which the litres spilled are known.
    SpilledKnown "spilled_known" = |it| one(it.row.litres_spilled.is_some());
    /// Jobs that are 30 days old.
    Old30 "old_30" = |it| old(it, 0);
    /// Of these whose vehicle came back within 30 days.
    Back30 "back_30" = |it| back(it, 0);
    /// Jobs that are 90 days old.
    Old90 "old_90" = |it| old(it, 1);
    /// Of these whose vehicle came back within 90 days.
    Back90 "back_90" = |it| back(it, 1);
    /// Jobs that are 365 days old.
    Old365 "old_365" = |it| old(it, 2);
    /// Of these whose vehicle came back within 365 days.
    Back365 "back_365" = |it| back(it, 2);
}

impl Counter {
    /// Whether it changes with time alone, as a job grows old enough: a store counts it when it is asked, and keeps it not.
    #[must_use]
    pub const fn changes_with_time(self) -> bool {
        matches!(self, Self::Old30 | Self::Back30 | Self::Old90 | Self::Back90 | Self::Old365 | Self::Back365)
    }

    /// Those that a store keeps of each job, in their order: all that do not change with time alone.
    pub fn kept() -> impl Iterator<Item = Self> {
        Self::ALL.iter().copied().filter(|counter| !counter.changes_with_time())
    }
}

const COUNTERS: usize = Counter::ALL.len();

/// One counter each.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sums([i64; COUNTERS]);

impl Default for Sums {
    fn default() -> Self {
        Self([0; COUNTERS])
    }
}

impl Sums {
    /// What one job counts.
    ///
    /// * `as_of_us` – when it is counted: younger jobs say nothing of come-backs yet
    #[must_use]
    pub fn of(row: &JobRow, as_of_us: i64) -> Self {
        let read = Read { row, as_of_us };
        let mut sums = Self::default();
        for (sum, counter) in sums.0.iter_mut().zip(Counter::ALL) {
            *sum = counter.of(&read);
        }
        sums
    }

    /// What a store keeps of it, in the order of [`Counter::kept`].
    #[must_use]
    pub fn kept(&self) -> Vec<i64> {
        Counter::kept().map(|counter| self.get(counter)).collect()
    }

    /// Sums that a store made of what it keeps.
    ///
    /// * `kept` – in the order of [`Counter::kept`]; what is missing is nothing
    /// * `old` – for each of [`WITHIN_DAYS`], jobs of [`super::come_backs::counts_from`] up to
    ///   [`super::come_backs::last_day`]
    /// * `back` – of these, those whose vehicle came back within it
    #[must_use]
    pub fn of_kept(kept: &[i64], old: [i64; 3], back: [i64; 3]) -> Self {
        let by_time = [
            (Counter::Old30, Counter::Back30),
            (Counter::Old90, Counter::Back90),
            (Counter::Old365, Counter::Back365),
        ];
        let mut sums = Self::default();
        let mut put = |counter: Counter, value: i64| {
            if let Some(sum) = sums.0.get_mut(counter as usize) {
                *sum = value;
            }
        };
        Counter::kept().zip(kept).for_each(|(counter, value)| put(counter, *value));
        for ((old_of, back_of), (old, back)) in by_time.into_iter().zip(old.into_iter().zip(back)) {
            put(old_of, old);
            put(back_of, back);
        }
        sums
    }

    /// One counter.
    #[must_use]
    pub fn get(&self, counter: Counter) -> i64 {
        self.0.get(counter as usize).copied().unwrap_or_default()
    }

    /// Adds others. Wrapping, so that the order of adding never matters; some million jobs are far below the end.
    pub fn add(&mut self, other: &Self) {
        for (sum, other) in self.0.iter_mut().zip(other.0) {
            *sum = sum.wrapping_add(other);
        }
    }

    /// Whether so few jobs are in them that they are not shown by themselves.
    #[must_use]
    pub fn withheld(&self) -> bool {
        is_withheld(self.get(Counter::Jobs))
    }
}

/// Whether so few jobs are not shown by themselves.
pub(super) fn is_withheld(jobs: i64) -> bool {
    (1..SHOWN_FROM_JOBS).contains(&jobs)
}

/// What sums are by: site, then variant or equipment, then month.
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Key {
    /// Identity of the site.
    pub site: String,
    /// Code of the variant or of the equipment; empty where it is not known.
    pub of: String,
    /// Month, as YYYY-MM.
    pub month: String,
}

/// Sums by their keys.
pub type Groups = BTreeMap<Key, Sums>;

/// Sums of closed jobs by site, variant and month.
#[must_use]
pub fn by_variant(rows: &[JobRow], as_of_us: i64) -> Groups {
    by(rows, as_of_us, |row| &row.variant)
}

/// Sums of closed jobs by site, equipment and month.
#[must_use]
pub fn by_equipment(rows: &[JobRow], as_of_us: i64) -> Groups {
    by(rows, as_of_us, |row| &row.equipment)
}

fn by(rows: &[JobRow], as_of_us: i64, of: impl Fn(&JobRow) -> &String) -> Groups {
    let mut groups = Groups::new();
    for row in rows.iter().filter(|row| row.closed_us.is_some()) {
        let key = Key { site: row.site.clone(), of: of(row).clone(), month: row.month.clone() };
        groups.entry(key).or_default().add(&Sums::of(row, as_of_us));
    }
    groups
}

/// Adds groups to others.
pub fn merge(groups: &mut Groups, others: &Groups) {
    for (key, sums) in others {
        groups.entry(key.clone()).or_default().add(sums);
    }
}

fn one(is: bool) -> i64 {
    i64::from(is)
}

#[allow(clippy::cast_possible_truncation, reason = "bounded just before")]
fn millilitres(litres: Option<f64>) -> i64 {
    let litres = litres.filter(|litres| litres.is_finite()).unwrap_or_default();
    (litres * 1000.0).round().clamp(-MILLILITRES_MOST, MILLILITRES_MOST) as i64
}

fn squared(value: i64) -> i64 {
    value * value
}

/// Whether in minus out of a job is known and counts.
pub(super) fn balanced(row: &JobRow) -> bool {
    row.done && row.difference.is_some()
}

/// In minus out, and what was spilled on the way: neither came into a vehicle that needed it.
pub(super) fn lost(row: &JobRow) -> i64 {
    if !balanced(row) {
        return 0;
    }
    (millilitres(row.difference) + millilitres(row.litres_spilled)).clamp(-1_000_000, 1_000_000)
}

/// Minutes of a part of the work: a job that was stopped has no whole one.
fn timed(it: &Read<'_>, minutes: Option<i64>) -> Option<i64> {
    minutes.filter(|_| it.row.done)
}

fn shown(row: &JobRow) -> i64 {
    if balanced(row) { millilitres(Some(row.litres_by_display)) } else { 0 }
}

#[allow(clippy::cast_possible_truncation, reason = "bounded just before")]
fn share(row: &JobRow) -> i64 {
    (row.share.filter(|share| share.is_finite()).unwrap_or_default() * 1e4).round().clamp(0.0, 1e4) as i64
}

fn old(it: &Read<'_>, within: usize) -> i64 {
    one(WITHIN_DAYS.get(within).is_some_and(|days| can_be_said(it.row, *days, it.as_of_us)))
}

fn back(it: &Read<'_>, within: usize) -> i64 {
    let days = WITHIN_DAYS.get(within).copied().unwrap_or_default();
    one(can_be_said(it.row, days, it.as_of_us) && came_back(it.row, days))
}
