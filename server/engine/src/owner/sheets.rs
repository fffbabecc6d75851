//! Sheets of an owner: what is named, then the comparison; all sums; one site a month at a time.
//!
//! A sheet is a row of [`TALLIES`] and a function in a file of its own; terminal, CSV, JSON, page and PDF show any sheet.
//! Never here: a figure, or a rank – sites stand in the order of their names.

mod owner;
mod shares;
mod site;
mod sums;
mod tables;

pub use tables::month;

use super::compare::{self, Exception};
use super::sums::Counter;
use super::told::{self, Told};
use super::{Figures, JobRow, Named, single};
use crate::sheet::Sheet;
use crate::site::tally::TallyError;
use crate::text::{Sentence, sentence};

/// What an owner's sheet is made with.
#[derive(Debug, Clone, Copy)]
pub struct OwnerContext<'a> {
    /// Sums of the period.
    pub figures: &'a Figures,
    /// Closed jobs of the period, of the sites that [`super::named`] names at least; come-backs joined.
    pub rows: &'a [JobRow],
    /// Names of the sites by their identities.
    pub names: &'a [(String, String)],
    /// What is named, as [`super::named`] gives it of the same sums.
    pub named: &'a [Named],
}

impl OwnerContext<'_> {
    /// Name of a site; its identity where it has none.
    pub(super) fn site_name(&self, site: &str) -> String {
        let known = self.names.iter().find(|(known, name)| known == site && !name.is_empty());
        known.map_or_else(|| site.to_owned(), |(_, name)| name.clone())
    }

    /// Identities of the sites in the order of their names.
    pub(super) fn sites(&self) -> Vec<&str> {
        let mut sites: Vec<&str> = self.figures.sites();
        sites.sort_by_key(|site| self.site_name(site));
        sites
    }

    /// What the period is called.
    pub(super) fn title(&self, site: Option<&str>) -> Sentence {
        let months = &self.figures.months;
        let said = |month: Option<&String>| month.map(|month| tables::month(month)).unwrap_or_default();
        let (first, last) = (said(months.first()), said(months.last()));
        let (of_one, is_month) = (site.map(|site| self.site_name(site)), first == last);
        match of_one {
            Some(site) if is_month => sentence::owner_title_site_month(first, site),
            Some(site) => sentence::owner_title_site(first, site, last),
            None if is_month => sentence::owner_title_month(first),
            None => sentence::owner_title(first, last),
        }
    }

    /// Everything that is told before any table, in its order: vehicles that may be harmed, what is named, and in how many
    /// jobs the level was not looked at.
    ///
    /// * `site` – only of this site
    #[must_use]
    pub fn told(&self, site: Option<&str>) -> Vec<Told> {
        let is_meant = |named: &&Named| site.is_none_or(|site| named.site == site);
        let named: Vec<Named> = self.named.iter().filter(is_meant).cloned().collect();
        self.told_of(&compare::exceptions(&named, self.rows, |site| self.site_name(site)), site)
    }

    /// The same of what is named already known, in words alone.
    pub(super) fn told_first(&self, exceptions: &[Exception], site: Option<&str>) -> Vec<Sentence> {
        self.told_of(exceptions, site).into_iter().map(|told| told.text).collect()
    }

    fn told_of(&self, exceptions: &[Exception], site: Option<&str>) -> Vec<Told> {
        let rows = || self.rows.iter().filter(|row| site.is_none_or(|site| row.site == site));
        let sites = site.map_or_else(|| self.figures.sites(), |site| vec![site]);
        let unset = sites.iter().map(|site| self.figures.site(site).get(Counter::LevelUnset)).sum::<i64>();
        let at_risk = told::at_risk(rows(), |site| self.site_name(site));
        let mut said: Vec<Told> = at_risk.into_iter().collect();
        match exceptions {
            [] => said.extend(compare::nothing(self.figures, site).into_iter().map(Told::plain)),
            exceptions => {
                said.extend(told::told(exceptions, |site| self.site_name(site)));
                // Of all together it would be too much to say; the tables have it.
                let one = site.into_iter().flat_map(|site| compare::compared(self.figures, Some(site), true));
                said.extend(one.map(Told::plain));
            }
        }
        let of_several = site.is_none().then_some(|site: &str| self.site_name(site));
        said.extend(told::level_unset(u64::try_from(unset).unwrap_or_default(), rows(), of_several));
        said
    }
}

type Make = fn(&OwnerContext<'_>, &str) -> Result<Sheet, TallyError>;

/// THE table of an owner's tallies, by name.
const TALLIES: &[(&str, Make)] =
    &[("owner", owner::sheet), ("owner-sums", sums::sheet), ("owner-site", site::sheet)];

/// Names of an owner's tallies.
pub fn names() -> impl Iterator<Item = &'static str> {
    TALLIES.iter().map(|(name, _)| *name)
}

/// Whether a job is listed by itself on the owner's sheet, whatever its workshop is named for.
#[must_use]
pub fn is_listed(row: &JobRow) -> bool {
    row.closed_us.is_some() && !single::stands_out(row).is_empty()
}

/// Makes a tally.
///
/// * `about` – name or identity of a site, for `owner-site`; empty for the others
///
/// # Errors
/// [`TallyError`] when the question cannot be answered.
pub fn tally(context: &OwnerContext<'_>, name: &str, about: &str) -> Result<Sheet, TallyError> {
    match TALLIES.iter().find(|(known, _)| *known == name) {
        Some((_, make)) => make(context, about),
        None => {
            Err(TallyError::Unknown { name: name.to_owned(), known: names().collect::<Vec<_>>().join(", ") })
        }
    }
}
