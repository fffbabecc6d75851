//! Sums and rows of a period, with what has to be said of the journals that they rest on. Never here: how a sheet looks.

use super::edition::Earlier;
use super::row::{Written, figures, last_days};
use super::{Period, Tallies};
use crate::forwarding::SiteState;
use crate::status::{Cause, Forwarding};
use crate::workshop::{DAY_US, off_the_network};
use jiff::Timestamp;
use jiff::tz::TimeZone;
use standpipe_engine::owner::sheets::{OwnerContext, month, tally};
use standpipe_engine::owner::{Figures, JobRow, Named, named};
use standpipe_engine::sheet::Sheet;
use standpipe_engine::text::{Sentence, sentence};
use standpipe_store::{PAGE_ROWS_MAX, TallyBy, TallyFilter};
use std::collections::{BTreeMap, BTreeSet};

/// Days after which it is said first that nothing was heard of a workshop (common practice, no source).
const SILENT_DAYS: i64 = 2;
/// The tally that is about one workshop.
const ONE: &str = "owner-site";
/// Workshops, jobs or entries that a sentence names at most.
const NAMED_AT_MOST: usize = 10;

/// What was read of the rows.
struct Read {
    /// Closed jobs.
    rows: Vec<JobRow>,
    /// What could not be computed or read.
    left: Vec<Written>,
    /// Whether there are more rows than are read.
    cut: bool,
}

/// What is said before anything else, of one workshop or of all.
pub(crate) struct First {
    site: Option<String>,
    /// In words.
    pub(crate) text: Sentence,
}

impl First {
    fn of(state: &SiteState, text: Sentence) -> Self {
        Self { site: Some(state.site.id.clone()), text }
    }
}

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
    pub(crate) first: Vec<First>,
    /// What could not be computed or read.
    pub(crate) notes: Vec<Sentence>,
    /// How it stands with each workshop's journal.
    pub(crate) states: Vec<SiteState>,
    /// Workshops of whose journals not everything is computed yet.
    pub(crate) unfinished: BTreeSet<String>,
    /// The owner's clock.
    pub(crate) as_of_us: i64,
}

impl Gathered {
    /// What the engine is given.
    pub(crate) fn context(&self) -> OwnerContext<'_> {
        OwnerContext { figures: &self.figures, rows: &self.rows, names: &self.names, named: &self.named }
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

    /// Whether a workshop is the one that is asked for, by identity or name.
    fn is_called(&self, site: &str, about: &str) -> bool {
        site == about || self.name_of(site) == about
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
        if name == ONE && !about.trim().is_empty() {
            self.has_closed_jobs(about.trim())?;
        }
        let mut sheet = tally(&self.context(), name, about).map_err(Cause::Tally)?;
        let about = about.trim();
        let is_meant = |site: &str| name != ONE || self.is_called(site, about);
        let first = self.first.iter().filter(|first| first.site.as_deref().is_none_or(is_meant));
        sheet.said.splice(0..0, first.map(|first| first.text.clone()));
        sheet.notes.splice(0..0, self.notes.iter().cloned());
        Ok(sheet)
    }
}

impl Gathered {
    /// Requires that a workshop by name or identity can be compared, and says which of both is not so.
    fn has_closed_jobs(&self, about: &str) -> Result<(), Cause> {
        let is_meant = |site: &str| self.is_called(site, about);
        if self.figures.sites().into_iter().any(is_meant) {
            return Ok(());
        }
        let known = self.names.iter().map(|(site, _)| site.as_str());
        let (mut known, months) = (known.collect::<Vec<_>>(), &self.figures.months);
        let month = |month: Option<&String>| month.cloned().unwrap_or_default();
        if let Some(site) = known.iter().find(|site| is_meant(site)) {
            if self.unfinished.contains(*site) {
                return Err(Cause::ListIncomplete);
            }
            let (site, first, last) = (self.name_of(site), month(months.first()), month(months.last()));
            return Err(Forwarding::NoClosedJob { site, first, last }.into());
        }
        let more = known.len().saturating_sub(NAMED_AT_MOST);
        known.truncate(NAMED_AT_MOST);
        let mut known = known.into_iter().map(|site| self.name_of(site)).collect::<Vec<_>>().join(", ");
        if more > 0 {
            known.push_str(&format!(" and {more} more"));
        }
        Err(Forwarding::WorkshopUnknown { site: about.to_owned(), known }.into())
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
        let (edition, figures, is_unreadable) = self.figures_shown(&period, as_of_us).await?;
        let asked = [period.first.clone(), period.last.clone()];
        let (figures, named) = off_the_network(move || {
            let mut figures = figures;
            if figures.months.is_empty() {
                // Of no job it is still said of which months there is none.
                figures.months.extend(asked);
            }
            let named = named(&figures);
            (figures, named)
        })
        .await?;
        let Read { rows, left, cut } = self.rows(&edition, &period, &named).await?;
        let (names, mut states) = (self.names().await?, self.sites.states().await?);
        states.iter_mut().for_each(|state| state.site.name = name_of(&names, &state.site.id));
        let is_anew = is_unreadable || edition != self.edition;
        let mut first: Vec<First> = is_anew
            .then(|| First { site: None, text: self.computed_anew(&states, is_unreadable) })
            .into_iter()
            .collect();
        let reached = self.reached(&edition, &states).await?;
        first.extend(self.journals(&states, &reached, as_of_us, zone));
        if !is_anew {
            first.extend(behind(&states, &reached));
        }
        // What follows counts no job that was not read.
        let most = self.rows_most.to_string();
        first.extend(cut.then(|| First { site: None, text: sentence::owner_rows_cut(most) }));
        let mut notes: Vec<Sentence> = none_before(&period, &figures).into_iter().collect();
        notes.extend(without_jobs(&states, &reached, &figures));
        notes.extend(self.missing(&names));
        notes.extend(left_out(&left, &names));
        let unfinished = states.iter().filter(|state| is_anew || seq_of(&reached, state) < state.kept);
        let unfinished = unfinished.map(|state| state.site.id.clone()).collect();
        Ok(Gathered { figures, named, rows, names, first, notes, states, unfinished, as_of_us })
    }

    /// The edition whose figures can be shown, these, and whether an earlier one was passed over since this program cannot
    /// read it.
    async fn figures_shown(&self, period: &Period, as_of_us: i64) -> Result<(String, Figures, bool), Cause> {
        let (mut edition, mut is_unreadable) = (self.shown(), false);
        if self.is_of_another_program(&edition) {
            match self.earlier_figures(&edition, period, as_of_us).await? {
                Earlier::Read(figures) => return Ok((edition, figures, false)),
                Earlier::Unreadable => (edition, is_unreadable) = (self.edition.clone(), true),
            }
        }
        let (months, days) = ((period.first.as_str(), period.last.as_str()), last_days(as_of_us));
        let by_variant = self.own().tally_sums(&edition, months, TallyBy::Variant, days).await?;
        let by_equipment = self.own().tally_sums(&edition, months, TallyBy::Equipment, days).await?;
        let figures = off_the_network(move || figures(by_variant, by_equipment)).await?;
        Ok((edition, figures, is_unreadable))
    }

    /// How far the rows of each workshop reach.
    async fn reached(&self, edition: &str, states: &[SiteState]) -> Result<BTreeMap<String, u64>, Cause> {
        let looked = self.looked();
        let mut reached = BTreeMap::new();
        for SiteState { site, .. } in states {
            let seq = match looked.get(&site.id).filter(|_| edition == self.edition) {
                Some(looked) => looked.seq,
                None => self.own().tally_reached(edition, &site.id).await?.map_or(0, |reached| reached.seq),
            };
            reached.insert(site.id.clone(), seq);
        }
        Ok(reached)
    }

    /// Closed jobs that stand out, and all of workshops that are named; and what could not be read.
    async fn rows(&self, edition: &str, period: &Period, named: &[Named]) -> Result<Read, Cause> {
        let months = (period.first.clone(), period.last.clone());
        let sites: BTreeSet<&str> = named.iter().map(|named| named.site.as_str()).collect();
        let mut filters =
            vec![TallyFilter { months: months.clone(), standing_out: true, ..TallyFilter::default() }];
        filters.extend(sites.into_iter().map(|site| TallyFilter {
            months: months.clone(),
            site: Some(site.to_owned()),
            ..TallyFilter::default()
        }));
        let (mut rows, mut left, mut room) = (BTreeMap::new(), Vec::new(), self.rows_most);
        let mut cut = false;
        for filter in filters {
            let is_first = filter.standing_out;
            let (read, is_cut) = self.read_up_to(room, edition, filter).await?;
            (room, cut) = (room.saturating_sub(read.len()), cut || is_cut);
            for written in read {
                if is_first && (written.left_out || !written.unread.is_empty()) {
                    left.push(written.clone());
                }
                if written.job.closed_us.is_some() && !written.left_out {
                    rows.insert((written.job.site.clone(), written.job.job.clone()), written.job);
                }
            }
        }
        Ok(Read { rows: rows.into_values().collect(), left, cut })
    }

    /// Every row that is wanted, up to so many; and whether there are more.
    async fn read_up_to(
        &self,
        most: usize,
        edition: &str,
        mut filter: TallyFilter,
    ) -> Result<(Vec<Written>, bool), Cause> {
        let mut read: Vec<Written> = Vec::new();
        loop {
            let page = self.own().tally_rows(edition, &filter, PAGE_ROWS_MAX).await?;
            filter.after = page.last().map(|last| (last.site.clone(), last.month.clone(), last.job));
            let ended = page.len() < PAGE_ROWS_MAX;
            let rows = off_the_network(move || page.iter().map(Written::read).collect::<Result<Vec<_>, _>>());
            read.extend(rows.await??);
            let is_cut = read.len() > most;
            read.truncate(most);
            if ended || is_cut {
                read.iter_mut().for_each(|written| self.unname(written));
                return Ok((read, is_cut));
            }
        }
    }

    /// One page of rows of a period, by workshop, month and job, after a place; with the place of the last of them where
    /// there may be more. A job that could not be computed is among them and says so, since whoever sums them must notice.
    pub(crate) async fn page_of_rows(
        &self,
        period: &Period,
        site: Option<String>,
        after: Option<(String, String, [u8; 16])>,
        limit: usize,
    ) -> Result<(Vec<Written>, Option<(String, String, [u8; 16])>), Cause> {
        let months = (period.first.clone(), period.last.clone());
        let filter = TallyFilter { months, site, standing_out: false, after };
        let limit = limit.clamp(1, PAGE_ROWS_MAX);
        let shown = self.shown();
        let is_first = filter.after.is_none();
        let page = self.own().tally_rows(&shown, &filter, limit).await?;
        // An earlier edition may have lost its rows with their form; a file without any would look whole.
        if page.is_empty() && is_first && shown != self.edition && !self.has_rows(&shown).await? {
            return Err(Cause::ListIncomplete);
        }
        let last = page.last().map(|last| (last.site.clone(), last.month.clone(), last.job));
        let next = last.filter(|_| page.len() == limit);
        let mut rows = page.iter().map(Written::read).collect::<Result<Vec<_>, _>>()?;
        rows.iter_mut().for_each(|row| self.unname(row));
        Ok((rows, next))
    }

    /// Journals that forked, then those that were not heard of for days.
    fn journals(
        &self,
        states: &[SiteState],
        reached: &BTreeMap<String, u64>,
        as_of_us: i64,
        zone: &TimeZone,
    ) -> Vec<First> {
        let looked = self.looked();
        let forked = states.iter().filter_map(|state| {
            let fork = state.fork.as_ref()?;
            let (seen, entry) = (day(fork.first_us, zone), fork.here.0.to_string());
            Some(First::of(state, sentence::owner_site_forked(seen, entry, name(state))))
        });
        let silent = states.iter().filter(|state| state.fork.is_none()).filter_map(|state| {
            let last_us = looked.get(&state.site.id).map_or(0, |looked| looked.received_us);
            let heard = state.heard.as_ref().map_or(0, |heard| heard.at_us).max(last_us);
            let days = as_of_us.saturating_sub(heard).div_euclid(DAY_US);
            let days = u64::try_from(days).ok().filter(|_| heard > 0 && days > SILENT_DAYS)?;
            let entry = seq_of(reached, state).to_string();
            Some(First::of(state, sentence::owner_site_silent(days, entry, name(state))))
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

/// Workshops whose rows do not reach to the end of what is kept of their journals.
fn behind(states: &[SiteState], reached: &BTreeMap<String, u64>) -> Vec<First> {
    let behind = states.iter().filter(|state| seq_of(reached, state) < state.kept);
    let said = |state: &SiteState| {
        let (entry, kept) = (seq_of(reached, state).to_string(), state.kept.to_string());
        First::of(state, sentence::owner_site_behind(entry, kept, name(state)))
    };
    behind.map(said).collect()
}

/// Workshops of whom everything is computed and no job was closed.
fn without_jobs(
    states: &[SiteState],
    reached: &BTreeMap<String, u64>,
    figures: &Figures,
) -> Option<Sentence> {
    let with: BTreeSet<&str> = figures.sites().into_iter().collect();
    let without = states.iter().filter(|state| !with.contains(state.site.id.as_str()));
    let without: Vec<String> =
        without.filter(|state| seq_of(reached, state) >= state.kept).map(name).collect();
    (!without.is_empty()).then(|| sentence::owner_no_jobs_at(some(without)))
}

/// From when on there are jobs, where months before were asked of.
fn none_before(period: &Period, figures: &Figures) -> Option<Sentence> {
    let has_jobs = !figures.sites().is_empty();
    let first = figures.months.first().filter(|first| has_jobs && **first > period.first)?;
    Some(sentence::owner_note_none_before(month(first)))
}

fn seq_of(reached: &BTreeMap<String, u64>, state: &SiteState) -> u64 {
    reached.get(&state.site.id).copied().unwrap_or_default()
}

/// The first of many, and how many there are beside them.
fn some(all: Vec<String>) -> Sentence {
    let more = all.len().saturating_sub(NAMED_AT_MOST);
    let shown = all.into_iter().take(NAMED_AT_MOST).collect::<Vec<_>>().join(", ");
    if more > 0 { sentence::owner_jobs_more(more as u64, shown) } else { sentence::owner_jobs(shown) }
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
    state.site.name.clone()
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
