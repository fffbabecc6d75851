//! A plausible year of several workshops, drawn as rows of jobs with a seed, with faults planted in it.
//!
//! Drawn straight as the rows that an owner's sums are made of, so that hundreds of years can be judged in minutes; what
//! was planted is known beside it, and the last month may end at a time, so that nothing lies ahead of a clock. The demo and
//! the campaign of the comparison draw it. Every number of how workshops differ is ours. Never here: a real workshop,
//! vehicle or person.

use jiff::civil::{Date, date};
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan as _};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng as _, SeedableRng as _};
use standpipe_engine::owner::{DisplayState, JobRow, LotDrawn, Minutes, come_backs};

const DAY_US: i64 = 86_400_000_000;
/// First month of a year that ends by no clock.
const FIRST_MONTH: Date = date(2026, 1, 1);

/// Invented transmissions: code, fluid, litres pushed through, litres that vehicles arrive short, how often they come
/// back beside the others.
const VARIANTS: [(&str, &str, f64, f64, f64); 4] = [
    ("ALDER-8-1", "LN-847", 9.0, 0.10, 0.8),
    ("ALDER-8-2", "BR-839", 10.5, 0.14, 1.0),
    ("ALDER-8-1-TOW", "LN-847", 12.0, 0.08, 1.3),
    ("ALDER-8-2-TOW", "BR-839", 13.5, 0.12, 1.1),
];

/// How long and how many.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Plan {
    /// Workshops.
    pub sites: usize,
    /// Months.
    pub months: usize,
    /// Seed; the same plan gives the same year.
    pub seed: u64,
    /// Whether faults are planted.
    pub faults: bool,
}

/// A fault that was planted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fault {
    /// A litre a job is lost.
    LitreLost,
    /// A lot of another fluid gets into some jobs.
    LotMixedUp,
    /// A wrench is used past its check.
    WrenchPastCheck,
    /// A display shows 3 % more than goes through, without a check.
    DisplayOff,
}

impl Fault {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::LitreLost, Self::LotMixedUp, Self::WrenchPastCheck, Self::DisplayOff];
}

/// Where a fault was planted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Planted {
    /// Which.
    pub fault: Fault,
    /// Identity of the site.
    pub site: String,
    /// Code of the equipment of a display; empty for others.
    pub equipment: String,
    /// First month, as YYYY-MM.
    pub from_month: String,
}

/// A year of several workshops.
#[derive(Debug, Clone, PartialEq)]
pub struct Year {
    /// Identity and name of each site.
    pub sites: Vec<(String, String)>,
    /// Every job, with its come-back.
    pub rows: Vec<JobRow>,
    /// What was planted.
    pub planted: Vec<Planted>,
    /// End of the last month, microseconds since 1970.
    pub as_of_us: i64,
}

/// Draws a year from January 2026 on.
#[must_use]
pub fn year(plan: &Plan) -> Year {
    drawn(plan, FIRST_MONTH, i64::MAX)
}

/// Draws a year whose last month is that of a time, UTC, and in which nothing is later than that.
#[must_use]
pub fn year_until(plan: &Plan, now_us: i64) -> Year {
    let now = Timestamp::from_microsecond(now_us).unwrap_or(Timestamp::UNIX_EPOCH);
    let this_month = now.to_zoned_datetime(TimeZone::UTC).date().first_of_month();
    let before = i64::try_from(plan.months.saturating_sub(1)).unwrap_or(0);
    drawn(plan, this_month.checked_sub(before.months()).unwrap_or(FIRST_MONTH), now_us)
}

fn drawn(plan: &Plan, first: Date, until_us: i64) -> Year {
    let mut draw = Draw(ChaCha8Rng::seed_from_u64(plan.seed));
    let months = months(first, plan.months);
    let sites: Vec<Site> = (0..plan.sites).map(|number| Site::drawn(number, &mut draw)).collect();
    let planted = if plan.faults { plant(&sites, &months, &mut draw) } else { Vec::new() };
    let end_us = months.last().map_or(0, |month| month.first_us + month.days * DAY_US).min(until_us);
    let mut rows = Vec::new();
    let mut vehicles = 0;
    for (place, month) in months.iter().enumerate() {
        for site in &sites {
            let own: Vec<&Planted> = planted
                .iter()
                .filter(|planted| planted.site == site.id && planted.from_month <= month.name)
                .collect();
            for _ in 0..draw.count(site.jobs_a_month) {
                vehicles += 1;
                let row = site.job(place, month, &own, vehicles, &mut draw);
                let back = site.comes_back(&row, &sites, end_us, &mut draw);
                rows.push(row);
                rows.extend(back);
            }
        }
    }
    rows.retain(|row: &JobRow| row.closed_us.is_some_and(|closed| closed < end_us));
    number(&mut rows);
    come_backs::join(&mut rows);
    let sites = sites.into_iter().map(|site| (site.id, site.name)).collect();
    // A lot that got into no job was not mixed up.
    let met = |planted: &Planted| {
        let mut own = rows.iter().filter(|row| row.site == planted.site);
        planted.fault != Fault::LotMixedUp || own.any(|row| row.other_fluid)
    };
    let planted = planted.into_iter().filter(met).collect();
    Year { sites, rows, planted, as_of_us: end_us }
}

struct Month {
    name: String,
    first_us: i64,
    days: i64,
}

fn months(first: Date, count: usize) -> Vec<Month> {
    let next = |month: &Date| month.checked_add(1.month()).ok();
    let of = |month: Date| Month {
        name: month.strftime("%Y-%m").to_string(),
        first_us: midnight_us(month),
        days: i64::from(month.days_in_month()),
    };
    std::iter::successors(Some(first), next).take(count).map(of).collect()
}

fn midnight_us(day: Date) -> i64 {
    day.to_zoned_datetime(TimeZone::UTC).map_or(0, |day| day.timestamp().as_microsecond())
}

/// One fault of each sort, each at a site of its own as far as there are enough; from a month on, so that at least two
/// months have it.
fn plant(sites: &[Site], months: &[Month], draw: &mut Draw) -> Vec<Planted> {
    let mut left: Vec<&Site> = sites.iter().collect();
    let mut planted = Vec::new();
    for fault in Fault::ALL {
        if left.is_empty() {
            left = sites.iter().collect();
        }
        let place = draw.below(left.len());
        let site = left.swap_remove(place);
        let latest =
            if fault == Fault::DisplayOff { months.len() / 2 } else { months.len().saturating_sub(2) };
        let equipment = match fault {
            Fault::DisplayOff => site.equipment(draw.below(site.displays.len())),
            _ => String::new(),
        };
        let from_month = months.get(draw.below(latest + 1)).map(|month| month.name.clone());
        planted.push(Planted {
            fault,
            site: site.id.clone(),
            equipment,
            from_month: from_month.unwrap_or_default(),
        });
    }
    planted
}

/// One workshop, with what it does a little otherwise than others without anything being wrong.
struct Site {
    id: String,
    name: String,
    jobs_a_month: f64,
    scatter: f64,
    offset: f64,
    variants: [f64; 4],
    /// Each display's error, and whether it is checked.
    displays: Vec<(f64, bool)>,
    back: f64,
    unset: f64,
    late: f64,
}

impl Site {
    fn drawn(number: usize, draw: &mut Draw) -> Self {
        let jobs_a_month = (22.0 * (0.45 * draw.normal()).exp()).clamp(8.0, 70.0);
        let pieces = if jobs_a_month < 25.0 { 1 } else { 2 };
        let display = |draw: &mut Draw| {
            let checked = draw.chance(0.85);
            // A check that counts corrects the display; what is left is the check's own error.
            (if checked { 0.003 * draw.normal() } else { 0.008 * draw.between(-1.0, 1.0) }, checked)
        };
        let displays = (0..pieces).map(|_| display(draw)).collect();
        Self {
            id: format!("site-{:02}", number + 1),
            name: format!("Workshop {:02}", number + 1),
            jobs_a_month,
            scatter: draw.between(0.22, 0.38),
            offset: 0.06 * draw.normal(),
            variants: [0.0; 4].map(|_: f64| draw.between(0.2, 1.0)),
            displays,
            back: (0.25 * draw.normal()).exp(),
            unset: (0.30 * draw.normal()).exp(),
            late: (0.40 * draw.normal()).exp(),
        }
    }

    fn equipment(&self, place: usize) -> String {
        format!("EQ-{}", place + 1)
    }

    fn job(&self, place: usize, month: &Month, own: &[&Planted], vehicle: u64, draw: &mut Draw) -> JobRow {
        let has = |fault: Fault| own.iter().any(|planted| planted.fault == fault);
        let (variant, fluid, litres, short, _) = self.variant(draw);
        let pushed = (litres + 1.2 * draw.normal()).clamp(4.0, 25.0);
        let piece = draw.below(self.displays.len());
        let equipment = self.equipment(piece);
        let (mut error, mut checked) = self.displays.get(piece).copied().unwrap_or_default();
        if own.iter().any(|planted| planted.fault == Fault::DisplayOff && planted.equipment == equipment) {
            (error, checked) = (0.03, false);
        }
        let season =
            0.03 * (std::f64::consts::TAU * f64::from(u32::try_from(place).unwrap_or(0)) / 12.0).sin();
        let mistake = if draw.chance(0.01) { draw.between(-2.5, 2.5) } else { 0.0 };
        let lost = if has(Fault::LitreLost) { 1.0 } else { 0.0 };
        let difference =
            short + self.offset + season + mistake + lost + error * pushed + self.scatter * draw.normal();
        let day = i64::try_from(draw.below(usize::try_from(month.days).unwrap_or(1))).unwrap_or(0);
        let opened_us = month.first_us + day * DAY_US + DAY_US / 3;
        let mixed = has(Fault::LotMixedUp) && draw.chance(0.1);
        let level_set = !draw.chance((0.02 * self.unset).min(0.5));
        let known = !draw.chance(0.15);
        let late = draw.chance((0.12 * self.late).min(0.7));
        let share = (0.82 + 0.05 * draw.normal()).clamp(0.3, 0.98);
        let drained = 3.6 + 0.2 * draw.normal();
        let out = pushed + drained + 0.25 - difference;
        JobRow {
            site: self.id.clone(),
            job: format!("{}-{vehicle}", self.id),
            opened_us,
            closed_us: Some(opened_us + DAY_US / 8),
            day: format!("{}-{:02}", month.name, day + 1),
            month: month.name.clone(),
            done: true,
            vehicle: format!("{vehicle:032x}"),
            variant: variant.to_owned(),
            fluid: fluid.to_owned(),
            lots: vec![LotDrawn {
                code: fluid.to_owned(),
                lot: if mixed { "L-9999".to_owned() } else { format!("L-{:04}", 2_000 + place) },
                litres: pushed + drained,
            }],
            other_fluid: mixed,
            litres_in: Some(pushed + drained),
            litres_in_uncertainty: Some(0.15),
            litres_out: known.then_some(out),
            litres_out_uncertainty: known.then_some(0.2),
            litres_carried: Some(0.25),
            litres_carried_uncertainty: Some(0.06),
            litres_wasted: Some(out - 0.25),
            difference: known.then_some(difference),
            difference_uncertainty: known.then_some(0.25),
            unexplained: known && !level_set && difference.abs() > 1.0,
            litres_by_display: pushed,
            equipment,
            display: if checked { DisplayState::Checked } else { DisplayState::NeverChecked },
            share: Some(share),
            share_uncertainty: Some(0.05),
            level_attempts: 1 + u32::from(draw.chance(0.4)),
            level_set,
            tools_past_check: if has(Fault::WrenchPastCheck) { vec!["TW-7".to_owned()] } else { Vec::new() },
            decisions: u32::from(draw.chance(0.06)),
            entries: 42,
            late_entries: if late { 3 } else { 0 },
            minutes: draw.parts_of_work(),
            engine_version: env!("CARGO_PKG_VERSION").to_owned(),
            ..JobRow::default()
        }
    }

    fn variant(&self, draw: &mut Draw) -> (&'static str, &'static str, f64, f64, f64) {
        let all: f64 = self.variants.iter().sum();
        let mut at = draw.uniform() * all;
        for (variant, weight) in VARIANTS.iter().zip(self.variants) {
            at -= weight;
            if at <= 0.0 {
                return *variant;
            }
        }
        let [.., last] = VARIANTS;
        last
    }

    /// The visit by which a vehicle comes back, mostly to where the work was done.
    fn comes_back(&self, row: &JobRow, sites: &[Self], end_us: i64, draw: &mut Draw) -> Option<JobRow> {
        let times = VARIANTS.iter().find(|(code, ..)| *code == row.variant).map_or(1.0, |variant| variant.4);
        if !draw.chance((0.04 * self.back * times).min(0.5)) {
            return None;
        }
        let days = 1 + draw.exponential(25.0);
        let elsewhere = draw.chance(0.1);
        let other = sites.get(draw.below(sites.len())).filter(|_| elsewhere).unwrap_or(self);
        let opened_us = row.opened_us + days * DAY_US;
        let (name, day) = month_and_day(opened_us);
        (opened_us < end_us).then(|| JobRow {
            site: other.id.clone(),
            job: format!("{}-{}-again", other.id, row.job),
            opened_us,
            closed_us: Some(opened_us + DAY_US / 24),
            day,
            month: name,
            complaint: true,
            vehicle: row.vehicle.clone(),
            variant: row.variant.clone(),
            fluid: row.fluid.clone(),
            entries: 9,
            engine_version: row.engine_version.clone(),
            ..JobRow::default()
        })
    }
}

/// Month and day of a time.
fn month_and_day(us: i64) -> (String, String) {
    let at =
        Timestamp::from_microsecond(us).unwrap_or(Timestamp::UNIX_EPOCH).to_zoned_datetime(TimeZone::UTC);
    (at.strftime("%Y-%m").to_string(), at.strftime("%Y-%m-%d").to_string())
}

/// Printed numbers in the order in which the jobs came.
fn number(rows: &mut [JobRow]) {
    rows.sort_by(|one, other| (one.opened_us, &one.job).cmp(&(other.opened_us, &other.job)));
    let mut numbers: std::collections::BTreeMap<(String, String), u32> = std::collections::BTreeMap::new();
    for row in rows {
        let year = row.month.get(2..4).unwrap_or_default().to_owned();
        let next = numbers.entry((row.site.clone(), year.clone())).or_default();
        *next += 1;
        let short = row.site.trim_start_matches("site-");
        row.number = format!("W{short}-{year}-{next:04}");
    }
}

/// Numbers from the seed.
struct Draw(ChaCha8Rng);

impl Draw {
    #[allow(clippy::cast_precision_loss, reason = "53 bits are exact")]
    fn uniform(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn between(&mut self, least: f64, greatest: f64) -> f64 {
        least + (greatest - least) * self.uniform()
    }

    fn chance(&mut self, probability: f64) -> bool {
        self.uniform() < probability
    }

    fn below(&mut self, count: usize) -> usize {
        usize::try_from(self.0.next_u64() % u64::try_from(count.max(1)).unwrap_or(1)).unwrap_or(0)
    }

    /// Box and Muller.
    fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.uniform()).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.uniform()).cos()
    }

    /// A Poisson count: how many exponential steps fit into the mean.
    fn count(&mut self, mean: f64) -> usize {
        let mut at = 0.0;
        let mut count = 0;
        loop {
            at -= (1.0 - self.uniform()).ln();
            if at > mean {
                return count;
            }
            count += 1;
        }
    }

    /// Whole days.
    #[allow(clippy::cast_possible_truncation, reason = "at most 37 means")]
    fn exponential(&mut self, mean: f64) -> i64 {
        (-mean * (1.0 - self.uniform()).ln()) as i64
    }

    fn parts_of_work(&mut self) -> Minutes {
        Minutes {
            minutes_before: Some(self.minutes(24.0)),
            minutes_exchange: Some(self.minutes(26.0)),
            minutes_pan: Some(self.minutes(35.0)),
            minutes_level: Some(self.minutes(30.0)),
            minutes_after: Some(self.minutes(15.0)),
        }
    }

    #[allow(clippy::cast_possible_truncation, reason = "some minutes")]
    fn minutes(&mut self, mean: f64) -> i64 {
        (mean * (0.25 * self.normal()).exp()).round() as i64
    }
}
