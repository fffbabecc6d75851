//! From one edition of rows to the next: the earlier figures stay in sight until the own ones are whole, and rows that
//! nothing here can compute again are taken along. Never here: how a row is computed.

use super::row::Written;
use super::{EDITION_SETTING, Period, Tallies, program_of};
use crate::forwarding::SiteState;
use crate::status::Cause;
use crate::workshop::off_the_network;
use standpipe_engine::owner::Figures;
use standpipe_engine::owner::sums::Groups;
use standpipe_engine::text::{Sentence, sentence};
use standpipe_store::{PAGE_ROWS_MAX, TallyFilter, TallyRow};
use std::collections::BTreeSet;

/// All months.
const ALL_MONTHS: (&str, &str) = ("", "9999-99");

/// Figures of an edition that another program computed.
pub(super) enum Earlier {
    /// As they were.
    Read(Figures),
    /// This program cannot read them.
    Unreadable,
}

impl Tallies {
    /// Whether the edition that is shown was computed by another program, whose counters may stand in another order.
    pub(super) fn is_of_another_program(&self, edition: &str) -> bool {
        program_of(edition) != program_of(&self.edition)
    }

    /// Figures of an edition of another program, from its rows: these name what they hold.
    pub(super) async fn earlier_figures(
        &self,
        edition: &str,
        period: &Period,
        as_of_us: i64,
    ) -> Result<Earlier, Cause> {
        let months = (period.first.clone(), period.last.clone());
        let mut filter = TallyFilter { months, ..TallyFilter::default() };
        let (mut by_variant, mut by_equipment) = (Groups::default(), Groups::default());
        loop {
            let page = self.own().tally_rows(edition, &filter, PAGE_ROWS_MAX).await?;
            let Some(last) = page.last() else { break };
            filter.after = Some((last.site.clone(), last.month.clone(), last.job));
            let read = move || {
                let rows = page.iter().map(Written::read).collect::<Result<Vec<_>, _>>().ok()?;
                let rows =
                    rows.into_iter().filter(|row| !row.left_out).map(|row| row.job).collect::<Vec<_>>();
                Some(Figures::of(&rows, as_of_us))
            };
            let Some(figures) = off_the_network(read).await? else { return Ok(Earlier::Unreadable) };
            add(&mut by_variant, figures.by_variant);
            add(&mut by_equipment, figures.by_equipment);
        }
        if !self.has_rows(edition).await? {
            return Ok(Earlier::Unreadable);
        }
        Ok(Earlier::Read(Figures::new(by_variant, by_equipment)))
    }

    /// Whether an edition has a row of any month: those of an earlier one may have been dropped with their form, and that
    /// there was no job is not known then.
    pub(super) async fn has_rows(&self, edition: &str) -> Result<bool, Cause> {
        let months = (ALL_MONTHS.0.to_owned(), ALL_MONTHS.1.to_owned());
        let filter = TallyFilter { months, ..TallyFilter::default() };
        Ok(!self.own().tally_rows(edition, &filter, 1).await?.is_empty())
    }

    /// What is said while another edition than the own one is the newest whole one.
    ///
    /// * `unreadable` – the earlier one cannot be shown
    pub(super) fn computed_anew(&self, states: &[SiteState], unreadable: bool) -> Sentence {
        let looked = self.looked();
        let done =
            states.iter().filter(|state| looked.get(&state.site.id).is_some_and(|looked| looked.whole));
        let (done, all) = (done.count().to_string(), states.len().to_string());
        if unreadable { sentence::owner_anew_unread(all, done) } else { sentence::owner_anew(all, done) }
    }

    /// Shows this program's edition once it has the rows of every workshop, and drops what others left.
    pub(super) async fn switch(&self) -> Result<(), Cause> {
        let shown = self.shown();
        if shown != self.edition {
            self.carry_over(&shown).await?;
            tracing::info!(from = %shown, to = %self.edition, "the owner's figures are those of another edition now");
        }
        if self.own().setting(EDITION_SETTING).await?.as_ref() != Some(&self.edition) {
            self.own().put_setting(EDITION_SETTING, &self.edition).await?;
        }
        self.show(&self.edition);
        Ok(self.own().drop_tally_editions_but(&self.edition).await?)
    }

    /// Takes rows of workshops whose journals are not kept here into the own edition: nothing can compute them again. Come-
    /// backs are joined anew.
    async fn carry_over(&self, from: &str) -> Result<(), Cause> {
        let here: BTreeSet<String> = self.sites.all().into_iter().map(|site| site.id).collect();
        let months = (ALL_MONTHS.0.to_owned(), ALL_MONTHS.1.to_owned());
        let mut filter = TallyFilter { months, ..TallyFilter::default() };
        loop {
            let page = self.own().tally_rows(from, &filter, PAGE_ROWS_MAX).await?;
            let Some(last) = page.last() else { return Ok(()) };
            filter.after = Some((last.site.clone(), last.month.clone(), last.job));
            let elsewhere = page.iter().filter(|row| !here.contains(&row.site));
            let rows: Vec<Written> = elsewhere.map(|row| self.taken_along(row)).collect();
            if !rows.is_empty() {
                let rows = self.joined(rows).await?;
                self.own().put_tally_rows(&self.edition, rows, None).await?;
            }
        }
    }

    /// A row of an earlier edition; one that cannot be read is named as left out.
    fn taken_along(&self, row: &TallyRow) -> Written {
        let mut written = Written::read(row).unwrap_or_else(|_| {
            let job = uuid::Uuid::from_bytes(row.job).to_string();
            Written::left_out(&row.site, job.clone(), job, row.month.clone())
        });
        self.unname(&mut written);
        written
    }

    /// Takes persons out of a row, whatever edition it is of, where they are off.
    pub(super) fn unname(&self, written: &mut Written) {
        if !self.persons {
            written.job.persons.clear();
        }
    }
}

fn add(groups: &mut Groups, more: Groups) {
    for (key, sums) in more {
        groups.entry(key).or_default().add(&sums);
    }
}
