//! Months that an owner's figures are asked of. Never here: a figure.

use jiff::civil::Date;
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan as _};
use standpipe_engine::site::tally::TallyError;
use standpipe_proto::limits::OWNER_MONTHS_MAX as MONTHS_MAX;

/// Months of a question that names none.
const MONTHS_USUAL: u16 = 12;

/// From a first month to a last one, both YYYY-MM.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Period {
    pub(crate) first: String,
    pub(crate) last: String,
}

impl Period {
    /// Reads a period: empty for the last twelve months, `6 months` for the last six, a year, a month, or from one month
    /// to another like `2025-12/2026-11` (ISO 8601-1 intervals).
    ///
    /// # Errors
    /// [`TallyError::OwnerPeriod`].
    pub(crate) fn read(text: &str, now_us: i64, zone: &TimeZone) -> Result<Self, TallyError> {
        let text = text.trim();
        let wrong = || TallyError::OwnerPeriod { period: text.to_owned(), most: MONTHS_MAX };
        if text.is_empty() {
            return Self::last_months(MONTHS_USUAL, now_us, zone).ok_or_else(wrong);
        }
        if let Some((count, "month" | "months")) = text.split_once(' ') {
            let count = count.parse().ok().filter(|count| (1..=MONTHS_MAX).contains(count));
            return count.and_then(|count| Self::last_months(count, now_us, zone)).ok_or_else(wrong);
        }
        let (first, last) = text.split_once('/').unwrap_or((text, text));
        let first = month(first, "01").ok_or_else(wrong)?;
        let last = month(last, "12").filter(|last| *last >= first).ok_or_else(wrong)?;
        let count = months_up_to(&last).zip(months_up_to(&first)).map(|(last, first)| last - first + 1);
        if count.is_none_or(|count| count > u32::from(MONTHS_MAX)) {
            return Err(wrong());
        }
        Ok(Self { first, last })
    }

    /// The month of a time and those before it, so many together.
    fn last_months(count: u16, now_us: i64, zone: &TimeZone) -> Option<Self> {
        let now = Timestamp::from_microsecond(now_us).ok()?.to_zoned_datetime(zone.clone()).date();
        let first = now.first_of_month().checked_sub((i32::from(count) - 1).months()).ok()?;
        let text = |day: Date| day.strftime("%Y-%m").to_string();
        Some(Self { first: text(first), last: text(now) })
    }
}

/// A month, or of a year the one that is named.
fn month(text: &str, of_year: &str) -> Option<String> {
    let text = text.trim();
    let text = if text.len() == 4 { format!("{text}-{of_year}") } else { text.to_owned() };
    let is_month = text.len() == 7 && format!("{text}-01").parse::<Date>().is_ok();
    is_month.then_some(text)
}

/// Months since the year 0.
fn months_up_to(month: &str) -> Option<u32> {
    let (year, month) = month.split_once('-')?;
    Some(year.parse::<u32>().ok()? * 12 + month.parse::<u32>().ok()?)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 26 November 2026, 23:30 UTC.
    const NOW_US: i64 = 1_795_735_800_000_000;

    fn read(text: &str) -> Option<(String, String)> {
        Period::read(text, NOW_US, &TimeZone::UTC).ok().map(|period| (period.first, period.last))
    }

    #[test]
    fn a_period_is_the_last_months_a_year_a_month_or_from_one_to_another() {
        let is = |text: &str, first: &str, last: &str| {
            assert_eq!(read(text), Some((first.to_owned(), last.to_owned())), "{text}");
        };
        is("", "2025-12", "2026-11");
        is("1 month", "2026-11", "2026-11");
        is("12 months", "2025-12", "2026-11");
        is("2026", "2026-01", "2026-12");
        is("2026-03", "2026-03", "2026-03");
        is(" 2025-12/2026-02 ", "2025-12", "2026-02");
        is("2025/2026", "2025-01", "2026-12");
        is("2017/2026", "2017-01", "2026-12");
        is("120 months", "2016-12", "2026-11");
        for wrong in [
            "0 months",
            "121 months",
            "2016/2026",
            "x months",
            "2026-13",
            "2026-02/2026-01",
            "26",
            "/",
            "2026-1",
        ] {
            assert_eq!(read(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn the_month_is_that_of_the_owner_s_clock() {
        let zone = TimeZone::fixed(jiff::tz::offset(2));
        let end_us = NOW_US + 4 * 86_400_000_000;
        let read = |zone: &TimeZone| Period::read("1 month", end_us, zone).unwrap().last;
        assert_eq!((read(&TimeZone::UTC).as_str(), read(&zone).as_str()), ("2026-11", "2026-12"));
    }
}
