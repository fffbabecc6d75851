//! What an owner sees of all workshops on one page: what is named, then a short comparison, then what was not measured.
//!
//! With many workshops the comparison shows those that are named by themselves and all others together; the owner's
//! sheet and the export have each. Never here: a width or a letter, which are the report's, or a rank.

use super::compare;
use super::measure::Measure;
use super::naming::{COMPARED_FROM_JOBS, Centres, Named, OfAll};
use super::offsets::{LITRES_TOLERATED, Offsets};
use super::sheets::OwnerContext;
use super::sums::{Counter, SHOWN_FROM_JOBS, Sums};
use crate::formula::funnel::SITES_FOR_SPREAD;
use crate::formula::proportion::wilson;
use crate::text::{Sentence, number, sentence};
use std::collections::BTreeSet;

/// Most workshops that have a line of their own.
const LINES_MOST: usize = 8;

/// The page in words and numbers.
#[derive(Debug, Clone, PartialEq)]
pub struct OnePage {
    /// Title.
    pub title: Sentence,
    /// Its months as they are asked for, such as 2025-12/2026-11.
    pub period: String,
    /// How many jobs of how many workshops, and their litres.
    pub counted: Vec<Sentence>,
    /// Vehicles that may be harmed, then what is named, in its order; that nothing is, where nothing is.
    pub named: Vec<Sentence>,
    /// Headings of the columns of [`Line`], in their order, without that of the drawing.
    pub columns: [Sentence; 6],
    /// Words of the drawing.
    pub axis: Sentence,
    /// Lines of the comparison.
    pub lines: Vec<Line>,
    /// Litres a job that are not worth a word, either way.
    pub tolerated: f64,
    /// What was not measured.
    pub unmeasured: Vec<Sentence>,
    /// How to read it.
    pub notes: Vec<Sentence>,
}

/// A workshop, or several together, in one line.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// Name.
    pub name: Sentence,
    /// Jobs, litres in, jobs with a checked display, come-backs, in minus out with what was spilled; absent where there are too few.
    pub cells: [Option<Sentence>; 5],
    /// In minus out with what was spilled, in litres a job beyond other workshops: value, least, greatest.
    pub interval: Option<[f64; 3]>,
}

/// Makes the page.
#[must_use]
pub fn one_page(context: &OwnerContext<'_>) -> OnePage {
    let exceptions = compare::exceptions(context.named, context.rows, |site| context.site_name(site));
    let sites: Vec<(&str, Sums)> =
        context.sites().into_iter().map(|site| (site, context.figures.site(site))).collect();
    let mut all = Sums::default();
    sites.iter().for_each(|(_, sums)| all.add(sums));
    let column = |key: &str| sentence::owner_column(key);
    OnePage {
        title: context.title(None),
        period: period(&context.figures.months),
        counted: counted(&all, sites.len()),
        named: context.told_first(&exceptions, None),
        columns: [
            column("site"),
            column("jobs"),
            column("in"),
            sentence::owner_page_displays(),
            sentence::owner_page_back(),
            sentence::owner_page_beyond(),
        ],
        axis: sentence::owner_page_axis(number::litres(LITRES_TOLERATED, 2)),
        lines: lines(context, &sites, &all),
        tolerated: LITRES_TOLERATED,
        unmeasured: unmeasured(&all),
        notes: notes(&sites),
    }
}

/// Months from the first to the last, as a command takes them.
fn period(months: &[String]) -> String {
    match months {
        [] => String::new(),
        [only] => only.clone(),
        [first, .., last] => format!("{first}/{last}"),
    }
}

fn counted(all: &Sums, sites: usize) -> Vec<Sentence> {
    let litres = |counter| number::litres(millilitres(all, counter), 1);
    let of_litres = match whole(all, Counter::InKnown) {
        0 => sentence::owner_page_litres_unknown(),
        _ => sentence::owner_page_litres(
            whole(all, Counter::Balanced),
            litres(Counter::In),
            litres(Counter::Lost),
            litres(Counter::Wasted),
        ),
    };
    // That there is no job is said by what is told first.
    match whole(all, Counter::Jobs) {
        0 => Vec::new(),
        jobs => vec![sentence::owner_counted(jobs, sites as u64), of_litres],
    }
}

/// Sites with a line of their own where not all can have one: those that are named for a figure that is compared come first.
fn compared_first(named: &[Named], has_line: impl Fn(&str) -> bool) -> BTreeSet<&str> {
    let is_compared = |named: &Named| match named.measure {
        Measure::LitresLost | Measure::DisplayOff => 0,
        Measure::ComeBack | Measure::LevelUnset | Measure::Late => 1,
        Measure::Fluid | Measure::ToolPast | Measure::DisplayUnchecked => 2,
    };
    let mut first: Vec<&Named> = named.iter().filter(|named| has_line(&named.site)).collect();
    first.sort_by_key(|named| is_compared(named));
    let mut sites = BTreeSet::new();
    for named in first {
        if sites.len() < LINES_MOST {
            sites.insert(named.site.as_str());
        }
    }
    sites
}

fn lines(context: &OwnerContext<'_>, sites: &[(&str, Sums)], all: &Sums) -> Vec<Line> {
    let enough = |sums: &Sums| whole(sums, Counter::Done) >= COMPARED_FROM_JOBS;
    let (shown, small): (Vec<_>, Vec<_>) = sites.iter().partition(|(_, sums)| enough(sums));
    let (alone, others): (Vec<_>, Vec<_>) = if shown.len() <= LINES_MOST {
        (shown, Vec::new())
    } else {
        let alone = compared_first(context.named, |site| shown.iter().any(|(of, _)| *of == site));
        shown.into_iter().partition(|(site, _)| alone.contains(site))
    };
    let of_all = OfAll::of(context.figures);
    let mut lines: Vec<Line> = Vec::new();
    for (site, sums) in alone {
        let centres = Centres::of(context.figures, site, &of_all);
        let beyond = centres.monthly().iter().fold(Offsets::default(), |sum, month| sum + *month);
        lines.push(Line::of(
            sentence::period(context.site_name(site)),
            sums,
            centres.is_known.then_some(beyond),
        ));
    }
    let together = |sites: &[&(&str, Sums)]| {
        let mut sums = Sums::default();
        sites.iter().for_each(|(_, of)| sums.add(of));
        sums
    };
    if !others.is_empty() {
        let name = sentence::owner_page_others(others.len() as u64);
        lines.push(Line::of(name, &together(&others), None));
    }
    if !small.is_empty() {
        let name = sentence::owner_small_sites(small.len() as u64, COMPARED_FROM_JOBS.to_string());
        lines.push(Line::of(name, &together(&small), None));
    }
    if sites.len() > 1 {
        lines.push(Line::of(sentence::owner_page_all(), all, None));
    }
    lines
}

impl Line {
    fn of(name: Sentence, sums: &Sums, beyond: Option<Offsets>) -> Self {
        let count = |counter| sentence::period(number::plain(float(whole(sums, counter))));
        let (read, checked) = (whole(sums, Counter::DisplayRead), whole(sums, Counter::DisplayChecked));
        let (old, back) = (whole(sums, Counter::Old30), whole(sums, Counter::Back30));
        let back = wilson(back, old).filter(|_| old >= COMPARED_FROM_JOBS).map(|interval| {
            let of_100 = |part: f64| number::fixed(100.0 * part, 1);
            sentence::owner_from_to(
                of_100(interval.greatest),
                of_100(interval.least),
                of_100(float(back) / float(old)),
            )
        });
        let enough = whole(sums, Counter::Balanced) >= COMPARED_FROM_JOBS;
        let beyond = beyond.and_then(|beyond| beyond.mean_estimate()).filter(|_| enough);
        let in_words = beyond.map(|beyond| {
            let (least, greatest) = beyond.interval95();
            let litres = |value: f64| number::fixed(value, 2);
            sentence::owner_from_to(litres(greatest), litres(least), litres(beyond.value))
        });
        let interval = beyond.map(|beyond| {
            let (least, greatest) = beyond.interval95();
            [beyond.value, least, greatest]
        });
        let shown = !sums.withheld();
        let cells = [
            Some(if shown {
                count(Counter::Jobs)
            } else {
                sentence::owner_withheld(SHOWN_FROM_JOBS.to_string())
            }),
            shown.then(|| litres_in(sums)),
            (shown && read > 0).then(|| sentence::owner_page_of(checked.to_string(), read.to_string())),
            back,
            in_words,
        ];
        Self { name, cells, interval }
    }
}

fn litres_in(sums: &Sums) -> Sentence {
    match whole(sums, Counter::InKnown) {
        0 => sentence::owner_not_measured(),
        _ => sentence::period(number::fixed(millilitres(sums, Counter::In), 1)),
    }
}

/// What is in none of the figures, and why.
fn unmeasured(all: &Sums) -> Vec<Sentence> {
    let count = |counter| whole(all, counter);
    let done = count(Counter::Done);
    let mut said = Vec::new();
    let mut say = |missing: u64, of: u64, sentence: fn(u64, String) -> Sentence| {
        if missing > 0 {
            said.push(sentence(missing, of.to_string()));
        }
    };
    say(done.saturating_sub(count(Counter::Balanced)), done, sentence::owner_page_no_balance);
    let read = count(Counter::DisplayRead);
    say(read.saturating_sub(count(Counter::DisplayChecked)), read, sentence::owner_page_no_check);
    say(done.saturating_sub(count(Counter::Shared)), done, sentence::owner_page_no_share);
    say(done.saturating_sub(count(Counter::Old30)), done, sentence::owner_page_no_visit);
    said
}

fn notes(sites: &[(&str, Sums)]) -> Vec<Sentence> {
    let compared = sites.iter().filter(|(_, sums)| whole(sums, Counter::Old30) >= COMPARED_FROM_JOBS).count();
    let few = (compared < SITES_FOR_SPREAD).then(|| sentence::owner_note_few(SITES_FOR_SPREAD.to_string()));
    [sentence::owner_page_intervals()]
        .into_iter()
        .chain(few)
        .chain([
            sentence::owner_note_small(COMPARED_FROM_JOBS.to_string(), SHOWN_FROM_JOBS.to_string()),
            sentence::owner_note_people(),
        ])
        .collect()
}

fn whole(sums: &Sums, counter: Counter) -> u64 {
    u64::try_from(sums.get(counter)).unwrap_or_default()
}

#[allow(clippy::cast_precision_loss, reason = "no owner has so many jobs")]
fn float(count: u64) -> f64 {
    count as f64
}

#[allow(clippy::cast_precision_loss, reason = "litres of some million jobs")]
fn millilitres(sums: &Sums, counter: Counter) -> f64 {
    sums.get(counter) as f64 / 1e3
}
