//! The month or year that a tally is about, by the days of the site.

use super::{Asked, TallyError};
use crate::site::SiteContext;
use crate::text::{Sentence, sentence};
use jiff::civil::Date;
use jiff::{Span, ToSpan as _};
use std::ops::Range;

/// A month or a year.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Period {
    /// From its first day on, before the first day of the next.
    pub days: Range<Date>,
    /// Whether it is a whole year.
    pub is_year: bool,
}

impl Period {
    /// The period asked for; the current month when none is.
    pub fn of(context: &SiteContext<'_>, asked: &Asked) -> Result<Self, TallyError> {
        let text = asked.period.trim();
        if text.is_empty() {
            return Ok(Self::from(context.date(context.as_of_us).first_of_month(), false));
        }
        let wrong = || TallyError::Period { period: text.to_owned() };
        let digits = |part: &str, count: usize| {
            let fits = part.len() == count && part.bytes().all(|digit| digit.is_ascii_digit());
            fits.then(|| part.parse::<i16>().ok()).flatten().ok_or_else(wrong)
        };
        let (year, month) = match text.split_once('-') {
            Some((year, month)) => (digits(year, 4)?, Some(digits(month, 2)?)),
            None => (digits(text, 4)?, None),
        };
        let first = i8::try_from(month.unwrap_or(1)).ok().and_then(|month| Date::new(year, month, 1).ok());
        Ok(Self::from(first.ok_or_else(wrong)?, month.is_none()))
    }

    fn from(first: Date, is_year: bool) -> Self {
        let length = if is_year { 1.year() } else { 1.month() };
        Self { days: first..after(first, length), is_year }
    }

    /// The month that follows.
    pub fn coming_month(&self) -> Range<Date> {
        self.days.end..after(self.days.end, 1.month())
    }

    /// The months that it holds.
    pub fn months(&self) -> Vec<Range<Date>> {
        let mut months = Vec::new();
        let mut first = self.days.start;
        while first < self.days.end {
            let end = after(first, 1.month());
            months.push(first..end);
            first = end;
        }
        months
    }

    /// Its name, for example November 2026.
    pub fn said(&self) -> Sentence {
        if self.is_year {
            sentence::period(self.days.start.strftime("%Y").to_string())
        } else {
            month_said(&self.days)
        }
    }
}

/// Name of a month.
pub(super) fn month_said(month: &Range<Date>) -> Sentence {
    sentence::period(month.start.strftime("%B %Y").to_string())
}

/// The day after a span; the last day of all where there is none, so that a month is never endless.
fn after(first: Date, length: Span) -> Date {
    first.checked_add(length).unwrap_or(Date::MAX)
}
