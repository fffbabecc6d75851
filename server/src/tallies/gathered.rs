//! Sums and rows of a period, with what has to be said of the journals that they rest on. Never here: how a sheet looks.

use super::row::{Written, figures, last_days};
use super::{Period, Tallies};
use crate::forwarding::SiteState;
use crate::status::Cause;
use crate::workshop::{DAY_US, off_the_network};
use jiff::Timestamp;
use jiff::tz::TimeZone;
use standpipe_engine::owner::sheets::{OwnerContext, tally};
use standpipe_engine::owner::{Figures, JobRow, Named, named};
use standpipe_engine::sheet::Sheet;
use standpipe_engine::text::{Sentence, sentence};
use standpipe_store::{PAGE_ROWS_MAX, TallyBy, TallyFilter};
use std::collections::{BTreeMap, BTreeSet};

/// Days after which it is said first that nothing was heard of a workshop (common practice, no source).
const SILENT_DAYS: i64 = 2;
/// Jobs or entries that a note names at most.
const NAMED_AT_MOST: usize = 10;

/// All that an owner's sheets are made of.
pub(crate) struct Gathered {
    /// Sums of the period.
    pub(crate) figures: Figures,
    /// What is named.
    pub(crate) named: Vec<Named>,
    /// Closed jobs of workshops that are named, and those that are listed by themselves.
    pub(crate) rows: Vec<JobRow>,
    /// Names of workshops by identity.
    pub(crate) names: Vec<(String, String)>,
    /// What is said before anything else: journals that forked or were not heard of.
    pub(crate) first: Vec<Sentence>,
    /// What could not be computed or read.
    pub(crate) notes: Vec<Sentence>,
    /// How it stands with each workshop's journal.
    pub(crate) states: Vec<SiteState>,
    /// The owner's clock.
    pub(crate) as_of_us: i64,
}

impl Gathered {
    /// What the engine is given.
    pub(crate) fn context(&self) -> OwnerContext<'_> {
        OwnerContext { figures: &self.figures, rows: &self.rows, names: &self.names }
    }

    /// Printed number of a job that is shown; absent for any other.
    pub(crate) fn number_of(&self, job: &str) -> Option<String> {
        self.rows.iter().find(|row| row.job == job).map(|row| row.number.clone())
    }

    /// Identity of the workshop of a job that is shown and can be read here.
    pub(crate) fn site_of(&self, job: &str) -> Option<&str> {
        let row = self.rows.iter().find(|row| row.job == job)?;
        Some(row.site.as_str()).filter(|site| self.has_journal(site))
    }

    /// Whether the journal of a workshop is kept here; of others there are rows alone.
    pub(crate) fn has_journal(&self, site: &str) -> bool {
        self.states.iter().any(|state| state.site.id == site)
    }

    /// Identity of a workshop by its name.
    pub(crate) fn site_called(&self, name: &str) -> Option<&str> {
        let called = self.figures.sites().into_iter().find(|site| self.name_of(site) == name);
        called.or_else(|| self.names.iter().find(|(_, known)| known == name).map(|(site, _)| site.as_str()))
    }

    /// Name of a workshop; its identity where it has none.
    pub(crate) fn name_of(&self, site: &str) -> String {
        name_of(&self.names, site)
    }

    /// Makes a sheet.
    ///
    /// # Errors
    /// When there is no such tally, or no such workshop.
    pub(crate) fn sheet(&self, name: &str, about: &str) -> Result<Sheet, Cause> {
        let mut sheet = tally(&self.context(), name, about).map_err(Cause::Tally)?;
        sheet.said.splice(0..0, self.first.iter().cloned());
        sheet.notes.splice(0..0, self.notes.iter().cloned());
        Ok(sheet)
    }
}

impl Tallies {
    /// Reads sums and rows of a period.
    ///
    /// * `zone` – of the days that are named
    ///
    /// # Errors
    /// When the store cannot be read.
    pub(crate) async fn gathered(
        &self,
        period: Period,
        as_of_us: i64,
        zone: &TimeZone,
    ) -> Result<Gathered, Cause> {
        let edition = self.shown();
        let (months, days) = ((period.first.as_str(), period.last.as_str()), last_days(as_of_us));
        let own = self.own();
        let by_variant = own.tally_sums(&edition, months, TallyBy::Variant, days).await?;
        let by_equipment = own.tally_sums(&edition, months, TallyBy::Equipment, days).await?;
        let asked = [period.first.clone(), period.last.clone()];
        let (figures, named) = off_the_network(move || {
            let mut figures = figures(by_variant, by_equipment);
            if figures.months.is_empty() {
                // Of no job it is still said of which months there is none.
                figures.months.extend(asked);
            }
            let named = named(&figures);
            (figures, named)
        })
        .await?;
        let (rows, left) = self.rows(&edition, &period, &named).await?;
        let (names, states) = (self.names().await?, self.sites.states().await?);
        let first = self.journals(&states, as_of_us, zone);
        let mut notes = self.missing(&names);
        notes.extend(left_out(&left, &names));
        Ok(Gathered { figures, named, rows, names, first, notes, states, as_of_us })
    }

    /// Closed jobs that stand out, and all of workshops that are named; and what could not be read.
    async fn rows(
        &self,
        edition: &str,
        period: &Period,
        named: &[Named],
    ) -> Result<(Vec<JobRow>, Vec<Written>), Cause> {
        let months = (period.first.clone(), period.last.clone());
        let sites: BTreeSet<&str> = named.iter().map(|named| named.site.as_str()).collect();
        let mut filters =
            vec![TallyFilter { months: months.clone(), standing_out: true, ..TallyFilter::default() }];
        filters.extend(sites.into_iter().map(|site| TallyFilter {
            months: months.clone(),
            site: Some(site.to_owned()),
            ..TallyFilter::default()
        }));
        let (mut rows, mut left) = (BTreeMap::new(), Vec::new());
        for filter in filters {
            let is_first = filter.standing_out;
            for written in self.read_all(edition, filter).await? {
                if is_first && (written.left_out || !written.unread.is_empty()) {
                    left.push(written.clone());
                }
                if written.job.closed_us.is_some() && !written.left_out {
                    rows.insert((written.job.site.clone(), written.job.job.clone()), written.job);
                }
            }
        }
        Ok((rows.into_values().collect(), left))
    }

    /// Every row that is wanted.
    async fn read_all(&self, edition: &str, mut filter: TallyFilter) -> Result<Vec<Written>, Cause> {
        let mut read = Vec::new();
        loop {
            let page = self.own().tally_rows(edition, &filter, PAGE_ROWS_MAX).await?;
            filter.after = page.last().map(|last| (last.site.clone(), last.month.clone(), last.job));
            let ended = page.len() < PAGE_ROWS_MAX;
            let rows = off_the_network(move || page.iter().map(Written::read).collect::<Result<Vec<_>, _>>());
            read.extend(rows.await??);
            if ended {
                return Ok(read);
            }
        }
    }

    /// One page of rows of a period, by workshop, month and job, after a place; with the place of the last of them where
    /// there may be more.
    pub(crate) async fn page_of_rows(
        &self,
        period: &Period,
        site: Option<String>,
        after: Option<(String, String, [u8; 16])>,
        limit: usize,
    ) -> Result<(Vec<JobRow>, Option<(String, String, [u8; 16])>), Cause> {
        let months = (period.first.clone(), period.last.clone());
        let filter = TallyFilter { months, site, standing_out: false, after };
        let limit = limit.clamp(1, PAGE_ROWS_MAX);
        let page = self.own().tally_rows(&self.shown(), &filter, limit).await?;
        let last = page.last().map(|last| (last.site.clone(), last.month.clone(), last.job));
        let next = last.filter(|_| page.len() == limit);
        let rows = page.iter().map(Written::read).collect::<Result<Vec<_>, _>>()?;
        Ok((rows.into_iter().filter(|row| !row.left_out).map(|row| row.job).collect(), next))
    }

    /// Journals that forked, then those that were not heard of for days.
    fn journals(&self, states: &[SiteState], as_of_us: i64, zone: &TimeZone) -> Vec<Sentence> {
        let looked = self.looked();
        let forked = states.iter().filter_map(|state| {
            let fork = state.fork.as_ref()?;
            Some(sentence::owner_site_forked(day(fork.first_us, zone), fork.here.0.to_string(), name(state)))
        });
        let silent = states.iter().filter(|state| state.fork.is_none()).filter_map(|state| {
            let (seq, last_us) =
                looked.get(&state.site.id).map_or((0, 0), |looked| (looked.seq, looked.received_us));
            let heard = state.heard.as_ref().map_or(0, |heard| heard.at_us).max(last_us);
            let days = as_of_us.saturating_sub(heard).div_euclid(DAY_US);
            let days = u64::try_from(days).ok().filter(|_| heard > 0 && days > SILENT_DAYS)?;
            Some(sentence::owner_site_silent(days, state.kept.max(seq).to_string(), name(state)))
        });
        forked.chain(silent).collect()
    }

    /// Workshops of whose catalogue files are missing here.
    fn missing(&self, names: &[(String, String)]) -> Vec<Sentence> {
        let looked = self.looked();
        let missing = looked.iter().filter(|(_, looked)| !looked.missing.is_empty());
        let said = |(site, looked): (&String, &super::Looked)| {
            sentence::owner_note_missing(looked.missing.len() as u64, name_of(names, site))
        };
        missing.map(said).collect()
    }
}

/// Jobs that could not be computed and entries that could not be read, a sentence a workshop.
fn left_out(left: &[Written], names: &[(String, String)]) -> Vec<Sentence> {
    let mut jobs: BTreeMap<&str, Vec<String>> = BTreeMap::new();
    let mut entries: BTreeMap<&str, Vec<String>> = BTreeMap::new();
    for written in left {
        if written.left_out {
            jobs.entry(&written.job.site).or_default().push(written.job.number.clone());
        } else {
            let places = written.unread.iter().map(|seq| format!("{} ({})", seq, written.job.number));
            entries.entry(&written.job.site).or_default().extend(places);
        }
    }
    let some = |all: Vec<String>| {
        let more = all.len().saturating_sub(NAMED_AT_MOST);
        let shown = all.into_iter().take(NAMED_AT_MOST).collect::<Vec<_>>().join(", ");
        if more > 0 { sentence::owner_jobs_more(more as u64, shown) } else { sentence::owner_jobs(shown) }
    };
    let jobs = jobs.into_iter().map(|(site, all)| {
        let count = all.len() as u64;
        sentence::owner_note_left_out(count, some(all), name_of(names, site))
    });
    let entries = entries.into_iter().map(|(site, all)| {
        let count = all.len() as u64;
        sentence::owner_note_unread(count, some(all), name_of(names, site))
    });
    jobs.chain(entries).collect()
}

fn name(state: &SiteState) -> String {
    if state.site.name.is_empty() { state.site.id.clone() } else { state.site.name.clone() }
}

/// Name of a workshop; its identity where it has none.
pub(crate) fn name_of(names: &[(String, String)], site: &str) -> String {
    let known = names.iter().find(|(known, name)| known == site && !name.is_empty());
    known.map_or_else(|| site.to_owned(), |(_, name)| name.clone())
}

fn day(us: i64, zone: &TimeZone) -> String {
    let day = Timestamp::from_microsecond(us).ok().map(|time| time.to_zoned_datetime(zone.clone()));
    day.map(|day| day.strftime("%-d %B %Y").to_string()).unwrap_or_default()
}
