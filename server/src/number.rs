//! Printed job numbers, and the ways in which a job can be named.
//!
//! A number is printed as `PREFIX-YY-NNNN`: the prefix of the catalogue the job keeps, else the initials of the site;
//! the last two digits of the year; the place within the year. Called wherever a job is asked for or shown.

use standpipe_store::{JobId, JobNumber};

/// How a request names a job.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum JobName {
    /// By its identity.
    Id(JobId),
    /// By its printed number, with the prefix if it was given.
    Number {
        /// As given, in capital letters.
        prefix: Option<String>,
        /// Year and place in it.
        number: JobNumber,
    },
}

/// The number as it is printed.
pub(crate) fn printed(prefix: &str, number: JobNumber) -> String {
    format!("{prefix}-{number}")
}

/// The prefix of a site without a catalogue: the initials of the words of its identity, at most 6.
pub(crate) fn prefix_of_site(site_id: &str) -> String {
    let words = site_id.split(['-', '_', '.']);
    words.filter_map(|word| word.chars().next()).take(6).map(|letter| letter.to_ascii_uppercase()).collect()
}

/// Reads the name of a job: an identity, `HL-26-0042`, `26-0042`, or `42` of the current year.
/// Two digits of a year mean the latest such year that is not after the current one.
pub(crate) fn read(text: &str, current_year: i16) -> Option<JobName> {
    let text = text.trim();
    if text.len() == 36 {
        let id = uuid::Uuid::try_parse(text).ok()?;
        return Some(JobName::Id(JobId(id.into_bytes())));
    }
    let mut parts = text.rsplitn(3, '-');
    let ordinal = whole(parts.next()?, 9)?;
    if ordinal == 0 {
        return None;
    }
    let Some(year) = parts.next() else {
        return Some(JobName::Number { prefix: None, number: JobNumber { year: current_year, ordinal } });
    };
    if year.len() != 2 {
        return None;
    }
    let digits = i16::try_from(whole(year, 2)?).ok()?;
    let year = current_year - (current_year - digits).rem_euclid(100);
    let prefix = parts.next().map(str::to_uppercase);
    Some(JobName::Number { prefix, number: JobNumber { year, ordinal } })
}

fn whole(digits: &str, most: usize) -> Option<u32> {
    let plain = (1..=most).contains(&digits.len()) && digits.bytes().all(|digit| digit.is_ascii_digit());
    plain.then(|| digits.parse().ok()).flatten()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn number(text: &str) -> Option<(Option<String>, i16, u32)> {
        match read(text, 2026) {
            Some(JobName::Number { prefix, number }) => Some((prefix, number.year, number.ordinal)),
            _ => None,
        }
    }

    #[test]
    fn a_number_is_printed_with_prefix_year_and_place() {
        assert_eq!(printed("HL", JobNumber { year: 2026, ordinal: 42 }), "HL-26-0042");
        assert_eq!(printed("HL", JobNumber { year: 2026, ordinal: 12_345 }), "HL-26-12345");
        assert_eq!(prefix_of_site("harbour-lane"), "HL");
        assert_eq!(prefix_of_site("site"), "S");
        assert_eq!(prefix_of_site("a.b_c-d-e-f-g-h"), "ABCDEF");
    }

    #[test]
    fn a_number_is_read_in_full_without_prefix_and_short() {
        assert_eq!(number("HL-26-0042"), Some((Some("HL".into()), 2026, 42)));
        assert_eq!(number(" hl-26-42 "), Some((Some("HL".into()), 2026, 42)));
        assert_eq!(number("26-0042"), Some((None, 2026, 42)));
        assert_eq!(number("42"), Some((None, 2026, 42)));
        assert_eq!(number("99-0001"), Some((None, 1999, 1)));
        assert_eq!(number("25-0001"), Some((None, 2025, 1)));
    }

    #[test]
    fn an_identity_is_read_as_one() {
        let Some(JobName::Id(id)) = read("017f22e2-79b0-7cc3-98c4-dc0c0c07398f", 2026) else {
            panic!("not read as an identity")
        };
        assert_eq!(id.to_string(), "017f22e2-79b0-7cc3-98c4-dc0c0c07398f");
    }

    #[test]
    fn what_names_no_job_is_not_read() {
        let wrong = ["", "0", "-1", "HL", "HL-26-", "HL-2026-1", "+4", "1e3", "4294967296", "HL-xx-1", "١"];
        for text in wrong {
            assert_eq!(read(text, 2026), None, "{text}");
        }
    }
}
