//! Tallies: computed sums over jobs and facts of the site, each as a [`Sheet`].
//!
//! A tally is a row of [`TALLIES`] and a function in a file of its own. Never here: how a sheet is shown.

mod cells;
mod equipment;
mod lot;
mod month;
mod period;
mod recall;
mod store;
mod tool;
mod tools;
mod waste;

use super::SiteContext;
use crate::sheet::Sheet;

/// What is asked of a tally.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Asked {
    /// Code of the lot or tool that it is about; empty for the others.
    pub about: String,
    /// Year or month, for example `2026` or `2026-11`; empty: the current month.
    pub period: String,
}

/// Why there is no sheet.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TallyError {
    /// There is no such tally.
    #[error("there is no tally '{name}'; there are: {known}")]
    Unknown {
        /// The name asked for.
        name: String,
        /// The names of all.
        known: String,
    },
    /// The tally is about something, and nothing was named.
    #[error("tally {name} is about one {what}; give its code")]
    AboutNothing {
        /// The tally.
        name: &'static str,
        /// What it is about.
        what: &'static str,
    },
    /// The tally is about now, and a period was given.
    #[error("tally {name} is as of now and has no period; leave the period out, or ask tally month or waste")]
    NoPeriod {
        /// The tally.
        name: &'static str,
    },
    /// The months that an owner asks for cannot be read.
    #[error(
        "period '{period}' is none of: a year like 2026, a month like 2026-11, from one to another like 2025-12/2026-11, \
         or the last months like 12 months, at most {most}"
    )]
    OwnerPeriod {
        /// As given.
        period: String,
        /// Most months.
        most: u16,
    },
    /// The period cannot be read.
    #[error("period '{period}' is neither a year like 2026 nor a month like 2026-11")]
    Period {
        /// As given.
        period: String,
    },
}

/// Whether a tally is about a month or a year, or about now.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Of {
    Now,
    Period,
}

type Make = fn(&SiteContext<'_>, &Asked) -> Result<Sheet, TallyError>;

/// THE table of tallies, by name.
const TALLIES: &[(&str, Of, Make)] = &[
    ("store", Of::Now, store::sheet),
    ("lot", Of::Now, lot::sheet),
    ("recall", Of::Now, recall::sheet),
    ("waste", Of::Period, waste::sheet),
    ("tools", Of::Now, tools::make),
    ("tool", Of::Now, tool::make),
    ("equipment", Of::Now, equipment::make),
    ("month", Of::Period, month::sheet),
];

/// Makes a tally.
///
/// # Errors
/// [`TallyError`] when the question cannot be answered.
pub fn tally(context: &SiteContext<'_>, name: &str, asked: &Asked) -> Result<Sheet, TallyError> {
    match TALLIES.iter().find(|(known, ..)| *known == name) {
        Some((name, Of::Now, _)) if !asked.period.trim().is_empty() => Err(TallyError::NoPeriod { name }),
        Some((.., make)) => make(context, asked),
        None => Err(TallyError::Unknown {
            name: name.to_owned(),
            known: TALLIES.iter().map(|(name, ..)| *name).collect::<Vec<_>>().join(", "),
        }),
    }
}
