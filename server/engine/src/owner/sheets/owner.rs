//! The owner's sheet: first what went wrong and where, with job numbers, then how the workshops compare.

use super::OwnerContext;
use super::shares;
use super::tables::{
    Parted, columns, count, estimate, litres, parted, per, plain, row_withheld, table, text,
};
use crate::formula::funnel::SITES_FOR_SPREAD;
use crate::owner::compare::{self, Exception, JobShown};
use crate::owner::naming::{COMPARED_FROM_JOBS, Centres, OfAll};
use crate::owner::offsets::{DISPLAY_TOLERATED, LITRES_TOLERATED, Offsets};
use crate::owner::sums::{Counter, SHOWN_FROM_JOBS, Sums, is_withheld};
use crate::owner::{JobRow, Measure, single};
use crate::sheet::{Cell, Row, Sheet, Table};
use crate::site::tally::TallyError;
use crate::text::{Sentence, number, sentence};
use std::collections::BTreeSet;

/// Jobs that are listed at most; the export has all.
const LISTED_MOST: usize = 60;
/// Workshops that a note names at most.
const SITES_NAMED: usize = 12;

/// Makes the sheet.
pub(super) fn sheet(context: &OwnerContext<'_>, _about: &str) -> Result<Sheet, TallyError> {
    let exceptions = compare::exceptions(context.named, context.rows, |site| context.site_name(site));
    let sites: Vec<(&str, Sums)> =
        context.sites().into_iter().map(|site| (site, context.figures.site(site))).collect();
    let jobs: i64 = sites.iter().map(|(_, sums)| sums.get(Counter::Jobs)).sum();
    // That there is none is said by what follows.
    let jobs = u64::try_from(jobs).ok().filter(|jobs| *jobs > 0);
    let counted = jobs.map(|jobs| sentence::owner_counted(jobs, sites.len() as u64));
    let mut said: Vec<Sentence> = counted.into_iter().collect();
    said.extend(context.told_first(&exceptions, None));
    let (look, more) = to_look_at(context, &exceptions);
    let mut tables = vec![look, displays(context), litres_table(context, &sites)];
    let (shares, factor) = shares::tables(context);
    tables.extend(shares);
    let not_compared = not_compared(context, &sites);
    tables.push(work(context, sites));
    let mut notes: Vec<Sentence> = Vec::new();
    // Of no job there is nothing to explain.
    if jobs.is_some() {
        notes.extend((more > 0).then(|| sentence::owner_more_jobs(more)));
        notes.push(sentence::owner_note_litres());
        notes.extend(not_compared);
        notes.extend(self::notes(factor));
    }
    Ok(Sheet { tally: "owner", title: context.title(None), said, tables, notes })
}

fn notes(factor: Option<f64>) -> Vec<Sentence> {
    let percent = number::with_unit(&number::fixed(100.0 * DISPLAY_TOLERATED, 0), "%");
    let spread = match factor {
        Some(factor) if factor > 1.0 => Some(sentence::owner_note_spread(number::fixed(factor, 1))),
        Some(_) => None,
        None => Some(sentence::owner_note_few(SITES_FOR_SPREAD.to_string())),
    };
    [
        sentence::owner_note_chance(number::litres(LITRES_TOLERATED, 2), percent),
        sentence::owner_note_intervals(),
    ]
    .into_iter()
    .chain(spread)
    .chain([
        sentence::owner_note_small(COMPARED_FROM_JOBS.to_string(), SHOWN_FROM_JOBS.to_string()),
        sentence::owner_note_people(),
    ])
    .collect()
}

/// Sites that close jobs and have too few with litres in and out to be compared: who is not named for litres is not cleared.
fn not_compared(context: &OwnerContext<'_>, sites: &[(&str, Sums)]) -> Option<Sentence> {
    let few = |sums: &Sums| sums.get(Counter::Jobs) > 0 && !has_enough(sums);
    let names: Vec<String> =
        sites.iter().filter(|(_, sums)| few(sums)).map(|(site, _)| context.site_name(site)).collect();
    let first: Vec<&str> = names.iter().take(SITES_NAMED).map(String::as_str).collect();
    let more = names.len().saturating_sub(first.len()) as u64;
    (!first.is_empty()).then(|| sentence::owner_note_not_compared(more, first.join(", ")))
}

/// Whether a site has enough jobs with litres in and out to be compared.
fn has_enough(sums: &Sums) -> bool {
    u64::try_from(sums.get(Counter::Balanced)).unwrap_or_default() >= COMPARED_FROM_JOBS
}

/// Vehicles at risk, the jobs behind what is named – of a display that nobody checked only the first, since it is the display
/// that is to be looked at –, then single jobs that stand out; with how many more there are.
fn to_look_at(context: &OwnerContext<'_>, exceptions: &[Exception]) -> (Table, u64) {
    let mut listed: BTreeSet<&str> = BTreeSet::new();
    let mut rows: Vec<Row> = Vec::new();
    let row = |job: &JobShown, what: Sentence| Row {
        cells: vec![text(context.site_name(&job.site)), text(&job.number), text(&job.day), Cell::Words(what)],
        job: Some(job.job.clone()),
    };
    let single = single::jobs(context.rows);
    let at_risk = single.iter().take_while(|it| single::is_at_risk(it).is_some());
    let by_itself = |it: &JobRow| {
        let mut said = single::stands_out(it);
        let what = if said.len() > 1 { sentence::remarks(said) } else { said.remove(0) };
        row(&compare::shown(it), what)
    };
    for it in at_risk {
        listed.insert(&it.job);
        rows.push(by_itself(it));
    }
    for exception in exceptions {
        let most = if exception.named.measure == Measure::DisplayUnchecked { 1 } else { usize::MAX };
        for job in exception.jobs.iter().take(most) {
            if listed.insert(&job.job) {
                rows.push(row(job, sentence::owner_measure(exception.named.measure.word())));
            }
        }
    }
    for it in single.iter().filter(|it| !listed.contains(it.job.as_str())) {
        rows.push(by_itself(it));
    }
    let more = rows.len().saturating_sub(LISTED_MOST) as u64;
    rows.truncate(LISTED_MOST);
    let heading = sentence::owner_heading_look();
    let columns = columns(&["site", "number", "date", "what"]);
    (Table { heading, columns, rows, empty: sentence::owner_no_look() }, more)
}

/// Columns of the displays.
const DISPLAYS: [&str; 7] = ["site", "equipment", "jobs", "checked", "off", "least", "greatest"];

/// Each display with its checks and what it shows beside what came out.
fn displays(context: &OwnerContext<'_>) -> Table {
    let of_all = OfAll::of(context.figures);
    let lost = context.named.iter().filter(|named| named.measure == Measure::LitresLost);
    let loses: BTreeSet<&str> = lost.map(|named| named.site.as_str()).collect();
    let mut rows: Vec<Vec<Cell>> = Vec::new();
    for site in context.sites() {
        let centres = Centres::of(context.figures, site, &of_all);
        let ways = of_all.ways.of_site(context.figures, site, &centres);
        for equipment in context.figures.equipment_of(site) {
            let mut sums = Sums::default();
            context.figures.monthly_of(site, equipment).iter().for_each(|month| sums.add(month));
            let read = sums.get(Counter::DisplayRead);
            if read == 0 {
                continue;
            }
            let name = if equipment.is_empty() {
                Cell::Words(sentence::owner_equipment_unknown())
            } else {
                text(equipment)
            };
            let named = vec![text(context.site_name(site)), name];
            if is_withheld(read) {
                rows.push(row_withheld(named, DISPLAYS.len()));
                continue;
            }
            // Litres that do not go with what is shown look like a display, part of them; the sentence has them.
            let tells = has_enough(&sums) && !loses.contains(site);
            let off = Offsets::of(&sums, ways.value).display_estimate(&ways).filter(|_| tells);
            let mut cells = named;
            cells.extend([count(read), count(sums.get(Counter::DisplayChecked))]);
            cells.extend(estimate(off.map(|off| off.scaled(100.0)), "%"));
            rows.push(cells);
        }
    }
    table(sentence::owner_heading_equipment(), &DISPLAYS, rows, sentence::owner_no_equipment())
}

/// Columns of the litres.
const LITRES: [&str; 12] = [
    "site", "jobs", "in", "out", "carried", "wasted", "spilled", "balanced", "lost", "beyond", "least",
    "greatest",
];

fn litres_table(context: &OwnerContext<'_>, sites: &[(&str, Sums)]) -> Table {
    let of_all = OfAll::of(context.figures);
    let Parted { shown, small } = parted(sites.to_vec(), has_enough);
    let sums_cells = |sums: &Sums| {
        let sum = |litres_of, known| match sums.get(known) {
            0 => Cell::Words(sentence::owner_not_measured()),
            _ => litres(sums.get(litres_of)),
        };
        vec![
            count(sums.get(Counter::Jobs)),
            sum(Counter::In, Counter::InKnown),
            sum(Counter::Out, Counter::OutKnown),
            sum(Counter::Carried, Counter::CarriedKnown),
            sum(Counter::Wasted, Counter::WastedKnown),
            sum(Counter::Spilled, Counter::SpilledKnown),
            count(sums.get(Counter::Balanced)),
        ]
    };
    let mut rows: Vec<Vec<Cell>> = Vec::new();
    for (site, sums) in shown {
        let centres = Centres::of(context.figures, site, &of_all);
        let beyond = centres.monthly().iter().fold(Offsets::default(), |sum, month| sum + *month);
        let mut cells = vec![text(context.site_name(site))];
        cells.extend(sums_cells(&sums));
        let [lost, ..] = estimate(Offsets::of(&sums, 0.0).mean_estimate(), "L");
        cells.push(lost);
        cells.extend(estimate(beyond.mean_estimate().filter(|_| centres.is_known), "L"));
        rows.push(cells);
    }
    rows.extend(small.map(|(number, sums)| {
        let mut cells =
            vec![Cell::Words(sentence::owner_small_sites(number, COMPARED_FROM_JOBS.to_string()))];
        if sums.withheld() {
            return row_withheld(cells, LITRES.len());
        }
        cells.extend(sums_cells(&sums));
        cells.resize(LITRES.len(), Cell::Empty);
        cells
    }));
    table(sentence::owner_heading_litres(), &LITRES, rows, sentence::owner_no_litres())
}

/// Columns of the work.
const WORK: [&str; 12] = [
    "site",
    "jobs",
    "new",
    "attempts",
    "decisions",
    "before",
    "exchange",
    "pan",
    "level",
    "after",
    "back-90",
    "back-365",
];

/// Shares reached, looks at the level, decisions, minutes: as they are, without a test.
fn work(context: &OwnerContext<'_>, sites: Vec<(&str, Sums)>) -> Table {
    let enough =
        |sums: &Sums| u64::try_from(sums.get(Counter::Done)).unwrap_or_default() >= COMPARED_FROM_JOBS;
    let Parted { shown, small } = parted(sites, enough);
    let cells = |name: Cell, sums: &Sums| {
        let done = sums.get(Counter::Done);
        let minutes = |minutes, timed| per(sums.get(minutes), sums.get(timed), 1.0, 0, "min");
        let back = |back, old| per(sums.get(back), sums.get(old), 100.0, 1, "");
        vec![
            name,
            count(done),
            per(sums.get(Counter::Share), sums.get(Counter::Shared), 0.01, 0, ""),
            per(sums.get(Counter::LevelAttempts), done, 1.0, 1, ""),
            count(sums.get(Counter::Decisions)),
            minutes(Counter::MinutesBefore, Counter::TimedBefore),
            minutes(Counter::MinutesExchange, Counter::TimedExchange),
            minutes(Counter::MinutesPan, Counter::TimedPan),
            minutes(Counter::MinutesLevel, Counter::TimedLevel),
            minutes(Counter::MinutesAfter, Counter::TimedAfter),
            back(Counter::Back90, Counter::Old90),
            back(Counter::Back365, Counter::Old365),
        ]
    };
    let mut rows: Vec<Vec<Cell>> =
        shown.iter().map(|(site, sums)| cells(text(context.site_name(site)), sums)).collect();
    rows.extend(small.map(|(number, sums)| {
        let name = Cell::Words(sentence::owner_small_sites(number, COMPARED_FROM_JOBS.to_string()));
        if sums.withheld() || is_withheld(sums.get(Counter::Done)) {
            return row_withheld(vec![name], WORK.len());
        }
        cells(name, &sums)
    }));
    table(sentence::owner_heading_work(), &WORK, rows, sentence::owner_no_work())
}

/// A number of a site beside the limits of chance.
pub(super) fn of_100(value: Option<f64>) -> Cell {
    value.map_or(Cell::Empty, |value| plain(100.0 * value, 1, ""))
}

/// Measures that are shares, in the order in which they are told.
pub(super) fn shares() -> impl Iterator<Item = Measure> {
    Measure::ALL.iter().copied().filter(|measure| measure.share().is_some())
}
