//! What is named, in sentences with the jobs and days that it stands on.
//!
//! The order is that of [`Measure`]: what customers are called for, then tools and displays, before anything that hints at people. Only rows of sites that are
//! named are read, so a store brings those alone. Never here: which figures are beyond chance, which is
//! [`super::naming`]'s; nor a rank.

use super::come_backs::{came_back, counts_from};
use super::figures::Figures;
use super::job_row::{DisplayState, JobRow};
use super::measure::Measure;
use super::naming::{Named, tested};
use super::sums::{self, Counter, Sums};
use crate::formula::proportion::wilson;
use crate::site::tools::in_words;
use crate::text::{Sentence, number, sentence};
use std::collections::{BTreeMap, BTreeSet};

/// Jobs that a sentence names at most; how many more there are is said.
pub const JOBS_NAMED: usize = 6;

/// Something that is named, with its jobs.
#[derive(Debug, Clone, PartialEq)]
pub struct Exception {
    /// What is named.
    pub named: Named,
    /// First day of its jobs, as YYYY-MM-DD.
    pub from: String,
    /// Last day of its jobs.
    pub to: String,
    /// Jobs that are shown with it, at most [`JOBS_NAMED`].
    pub jobs: Vec<JobShown>,
    /// How many more there are.
    pub more: u64,
    /// In words.
    pub text: Sentence,
}

/// A job that is shown, so that it can be opened.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct JobShown {
    /// Identity of the site.
    pub site: String,
    /// Identity of the job.
    pub job: String,
    /// Printed number.
    pub number: String,
    /// Day, as YYYY-MM-DD.
    pub day: String,
}

/// Everything that is named in words, in the order in which it came.
///
/// * `named` – as [`super::named`] gives it
/// * `rows` – closed jobs of the period, of the sites that are named at least
/// * `site_name` – name of a site by its identity
#[must_use]
pub fn exceptions(named: &[Named], rows: &[JobRow], site_name: impl Fn(&str) -> String) -> Vec<Exception> {
    let unchecked = |site: &str| {
        let mut displays = named.iter().filter(|it| it.measure == Measure::DisplayUnchecked);
        displays.find(|it| it.site == site).map(|it| it.equipment.clone())
    };
    let mut by_site: BTreeMap<&str, Vec<&JobRow>> = BTreeMap::new();
    for row in rows {
        by_site.entry(&row.site).or_default().push(row);
    }
    let exception = |named: &Named| {
        let rows = by_site.get(named.site.as_str())?;
        exception(named, rows, &site_name(&named.site), unchecked(&named.site))
    };
    named.iter().filter_map(exception).collect()
}

/// What is said where nothing is named, of one site or of all: it says no more than was looked at.
pub(super) fn nothing(figures: &Figures, site: Option<&str>) -> Vec<Sentence> {
    let sites = site.map_or_else(|| figures.sites(), |site| vec![site]);
    let mut sums = Sums::default();
    sites.into_iter().for_each(|site| sums.add(&figures.site(site)));
    let has_jobs = sums.get(Counter::Jobs) > 0;
    let compared = compared(figures, site, false);
    let known = match (has_jobs, compared.is_empty()) {
        (false, _) => "no-jobs",
        (true, true) => "few",
        (true, false) => "compared",
    };
    let mut said = vec![sentence::owner_nothing(known)];
    said.extend(compared);
    said.extend((has_jobs && sums.get(Counter::DisplayRead) == 0).then(sentence::owner_nothing_read));
    said
}

/// What was compared, of one site or of all, and what was not; nothing where nothing was.
///
/// * `is_named` – whether anything is named before
pub(super) fn compared(figures: &Figures, site: Option<&str>, is_named: bool) -> Vec<Sentence> {
    let (compared, not): (Vec<_>, Vec<_>) = tested(figures, site).into_iter().partition(|(_, of)| *of > 0);
    if compared.is_empty() {
        return Vec::new();
    }
    let all = site.map_or_else(|| figures.sites().len(), |_| 1);
    let found = if is_named { "some" } else { "none" };
    let not_compared = (!not.is_empty()).then(|| sentence::owner_not_compared(measures(&not, 0)));
    [sentence::owner_compared(found, measures(&compared, all))].into_iter().chain(not_compared).collect()
}

/// Measures by their names, with the number of sites where these are not all.
fn measures(tested: &[(Measure, usize)], all: usize) -> Vec<Sentence> {
    let one = |(measure, sites): &(Measure, usize)| {
        let name = sentence::owner_compared_of(measure.word());
        if *sites == all {
            name
        } else {
            sentence::owner_compared_in(all.to_string(), name, sites.to_string())
        }
    };
    tested.iter().map(one).collect()
}

fn exception(named: &Named, rows: &[&JobRow], site: &str, unchecked: Option<String>) -> Option<Exception> {
    let until = counted_until(named, rows);
    let counted = |row: &JobRow| until.is_none_or(|until| counts_from(row).is_some_and(|day| day <= until));
    let mut of: Vec<&JobRow> = rows.iter().copied().filter(|row| is_of(named, row) && counted(row)).collect();
    let from = of.iter().map(|row| row.day.as_str()).min()?.to_owned();
    let to = of.iter().map(|row| row.day.as_str()).max()?.to_owned();
    if named.measure == Measure::LitresLost {
        of.sort_by(|one, other| {
            sums::lost(other).cmp(&sums::lost(one)).then_with(|| one.job.cmp(&other.job))
        });
    } else {
        of.sort_by(|one, other| (one.opened_us, &one.job).cmp(&(other.opened_us, &other.job)));
    }
    let jobs: Vec<JobShown> = of.iter().take(JOBS_NAMED).map(|row| shown(row)).collect();
    let more = (of.len() - jobs.len()) as u64;
    let said = Said { named, of: &of, site, unchecked, jobs: in_short(&jobs, more), days: [&from, &to] };
    let text = said.sentence();
    Some(Exception { named: named.clone(), from, to, jobs, more, text })
}

/// Last day of a closing that was counted; absent where all of them were.
///
/// A vehicle that came back is counted only where the job is old enough, and what was counted is so many of the oldest jobs.
/// So the jobs of a sentence are those of its number, whenever it was counted.
fn counted_until(named: &Named, rows: &[&JobRow]) -> Option<i64> {
    if named.measure != Measure::ComeBack {
        return None;
    }
    let inside = |row: &&&JobRow| is_in(named, row);
    let mut days: Vec<i64> = rows.iter().filter(inside).filter_map(|row| counts_from(row)).collect();
    days.sort_unstable();
    let last = usize::try_from(named.jobs).ok()?.checked_sub(1)?;
    days.get(last).copied()
}

/// A row as a job that can be opened.
pub(super) fn shown(row: &JobRow) -> JobShown {
    JobShown {
        site: row.site.clone(),
        job: row.job.clone(),
        number: row.number.clone(),
        day: row.day.clone(),
    }
}

/// Whether a row is a closed job of the site and the months that are named.
fn is_in(named: &Named, row: &JobRow) -> bool {
    let in_time = (named.from_month.as_str()..=named.to_month.as_str()).contains(&row.month.as_str());
    row.site == named.site && in_time && row.closed_us.is_some()
}

/// Whether a row is one of the jobs that something named stands on.
#[must_use]
pub fn is_of(named: &Named, row: &JobRow) -> bool {
    is_in(named, row)
        && match named.measure {
            Measure::DisplayUnchecked => {
                let read = !matches!(row.display, DisplayState::NotRead | DisplayState::Checked);
                read && row.equipment == named.equipment
            }
            Measure::ToolPast => !row.tools_past_check.is_empty(),
            Measure::Fluid => row.other_fluid || row.recalled_lot,
            Measure::DisplayOff => sums::balanced(row) && row.equipment == named.equipment,
            Measure::LitresLost => sums::balanced(row),
            Measure::ComeBack => row.done && came_back(row, 30),
            Measure::LevelUnset => row.done && !row.level_set,
            Measure::Late => row.done && row.late_entries > 0,
        }
}

/// Numbers of jobs, and how many more there are.
fn in_short(jobs: &[JobShown], more: u64) -> Sentence {
    listed(&jobs.iter().map(|job| job.number.clone()).collect::<Vec<_>>(), more)
}

/// Some that are named, and how many more there are.
pub(super) fn listed(named: &[String], more: u64) -> Sentence {
    let numbers = named.join(", ");
    if more == 0 { sentence::owner_jobs(numbers) } else { sentence::owner_jobs_more(more, numbers) }
}

/// What a sentence is made of.
struct Said<'a> {
    named: &'a Named,
    of: &'a [&'a JobRow],
    site: &'a str,
    unchecked: Option<String>,
    jobs: Sentence,
    days: [&'a str; 2],
}

impl Said<'_> {
    fn sentence(self) -> Sentence {
        let [from, to] = self.days;
        let days = days(from, to);
        let count = self.of.len() as u64;
        let Self { named, site, jobs, .. } = &self;
        let (jobs, site) = (jobs.clone(), *site);
        match named.measure {
            Measure::DisplayUnchecked => {
                sentence::owner_display_unchecked(count, days, equipment(&named.equipment), jobs, site)
            }
            Measure::ToolPast => sentence::owner_tool_past(count, days, jobs, site, self.tools()),
            Measure::Fluid => sentence::owner_fluid(count, days, jobs, self.lots(), site),
            Measure::DisplayOff => self.display_off(days),
            Measure::LitresLost => self.litres_lost(days),
            Measure::ComeBack | Measure::LevelUnset | Measure::Late => self.share(days),
        }
    }

    fn tools(&self) -> String {
        let tools: BTreeSet<&str> =
            self.of.iter().flat_map(|row| row.tools_past_check.iter().map(String::as_str)).collect();
        tools.into_iter().collect::<Vec<_>>().join(", ")
    }

    /// Lots of jobs that got another fluid or a recalled lot, each once.
    fn lots(&self) -> Vec<Sentence> {
        let lots: BTreeSet<(&str, &str)> = self
            .of
            .iter()
            .flat_map(|row| row.lots.iter().map(|drawn| (drawn.code.as_str(), drawn.lot.as_str())))
            .collect();
        let said = |(code, lot): (&str, &str)| {
            if lot.is_empty() {
                sentence::owner_lot_unread(code)
            } else {
                sentence::owner_lot_named(code, lot)
            }
        };
        lots.into_iter().take(JOBS_NAMED).map(said).collect()
    }

    fn display_off(self, days: Sentence) -> Sentence {
        let size = self.named.size.unwrap_or_else(|| crate::quantity::Estimate::known(0.0, 0.0));
        // In minus out is more than nothing where the display showed more than came out.
        let how = if size.value < 0.0 { "less" } else { "more" };
        let text = number::estimate(&size.scaled(if size.value < 0.0 { -100.0 } else { 100.0 }), ANY);
        let percent = |number: &str| number::with_unit(number, "%");
        sentence::owner_display_off(
            self.named.jobs.to_string(),
            days,
            equipment(&self.named.equipment),
            percent(&text.greatest),
            how,
            self.jobs,
            percent(&text.least),
            percent(&text.value),
            self.site,
        )
    }

    fn litres_lost(self, days: Sentence) -> Sentence {
        let size = self.named.size.unwrap_or_else(|| crate::quantity::Estimate::known(0.0, 0.0));
        let text = number::estimate(&size, ANY);
        let litres = |number: &str| number::with_unit(number, "L");
        let (value, least, greatest) = (litres(&text.value), litres(&text.least), litres(&text.greatest));
        let count = self.named.jobs.to_string();
        match self.unchecked {
            Some(code) => sentence::owner_litres_lost_unchecked(
                count,
                days,
                equipment(&code),
                greatest,
                self.jobs,
                least,
                value,
                self.site,
            ),
            None => sentence::owner_litres_lost(count, days, greatest, self.jobs, least, value, self.site),
        }
    }

    fn share(self, days: Sentence) -> Sentence {
        let Named { jobs: of, events, measure, .. } = *self.named;
        let interval = wilson(events, of);
        let share = |part: f64| number::fixed(100.0 * part, 1);
        #[allow(clippy::cast_precision_loss, reason = "no owner has so many jobs")]
        let all = (of as f64).max(1.0);
        #[allow(clippy::cast_precision_loss, reason = "no owner has so many jobs")]
        let own = events as f64 / all;
        sentence::owner_share(
            events.to_string(),
            days,
            share(self.named.expected.unwrap_or_default() / all),
            share(interval.map_or(1.0, |interval| interval.greatest)),
            self.jobs,
            share(interval.map_or(0.0, |interval| interval.least)),
            of.to_string(),
            share(own),
            self.site,
            sentence::owner_measure(measure.word()),
        )
    }
}

const ANY: (f64, f64) = (f64::NEG_INFINITY, f64::INFINITY);

/// Code of equipment in words.
pub(super) fn equipment(code: &str) -> Sentence {
    if code.is_empty() { sentence::owner_equipment_unknown() } else { sentence::period(code) }
}

/// Days in words: from one to another, or the only one.
fn days(from: &str, to: &str) -> Sentence {
    if from == to { sentence::owner_day(day(from)) } else { sentence::owner_days(day(from), day(to)) }
}

fn day(day: &str) -> String {
    day.parse().map_or_else(|_| day.to_owned(), in_words)
}
