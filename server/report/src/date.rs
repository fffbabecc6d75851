//! Day and clock time of a moment in UTC, by the calendar alone.
//!
//! Never a time zone and never a clock: whoever wants the site's time passes it in as words. Called by the
//! file's description and by the annex where no words came.

/// A moment in UTC.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Civil {
    /// Year of the Gregorian calendar.
    pub(crate) year: i64,
    /// 1 to 12.
    pub(crate) month: i64,
    /// 1 to 31.
    pub(crate) day: i64,
    /// 0 to 23.
    pub(crate) hour: i64,
    /// 0 to 59.
    pub(crate) minute: i64,
    /// 0 to 59.
    pub(crate) second: i64,
}

impl Civil {
    /// The moment so many seconds after 1970-01-01T00:00:00Z.
    pub(crate) fn of(unix_seconds: i64) -> Civil {
        let days = unix_seconds.div_euclid(86_400);
        let second = unix_seconds.rem_euclid(86_400);
        // Days are counted from 1 March of year 0, so that a leap day ends its year; 400 years repeat.
        let shifted = days + 719_468;
        let era = shifted.div_euclid(146_097);
        let day_of_era = shifted.rem_euclid(146_097);
        let year_of_era =
            (day_of_era - day_of_era / 1_460 + day_of_era / 36_524 - day_of_era / 146_096) / 365;
        let day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
        let month_from_march = (5 * day_of_year + 2) / 153;
        let day = day_of_year - (153 * month_from_march + 2) / 5 + 1;
        let month = if month_from_march < 10 { month_from_march + 3 } else { month_from_march - 9 };
        let year = year_of_era + era * 400 + i64::from(month <= 2);
        Civil { year, month, day, hour: second / 3_600, minute: second / 60 % 60, second: second % 60 }
    }
}
