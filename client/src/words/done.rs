//! When work was done, as a person types it later: a time of today, or a day and a time, in the station's time zone.

use crate::error::ClientError;
use jiff::civil::{DateTime, Time};
use jiff::tz::TimeZone;
use jiff::{Timestamp, tz::AmbiguousOffset};

/// Reads the text of `--done`: `10:40`, `2026-02-03 10:40`, or a time with its offset from UTC.
///
/// # Errors
/// When the text is no time, lies ahead, or is a time that the change of clocks makes twice or leaves out.
pub fn read(text: &str, now: Timestamp, zone: &TimeZone) -> Result<prost_types::Timestamp, ClientError> {
    let text = text.trim();
    if let Ok(exact) = text.parse::<Timestamp>() {
        return Ok(told(exact));
    }
    let not_read = || {
        ClientError::Usage(format!(
            "--done: '{text}' is no time; write 10:40 for today, or the day too: 2026-02-03 10:40"
        ))
    };
    let has_clock = text.contains(':');
    // A day and a time first: a time alone would be read out of both.
    let (civil, of_today) = match (text.parse::<DateTime>(), text.parse::<Time>()) {
        (Ok(civil), _) if has_clock => (civil, false),
        (_, Ok(time)) if has_clock => (now.to_zoned_datetime(zone.clone()).date().to_datetime(time), true),
        _ => return Err(not_read()),
    };
    let ambiguous = zone.to_ambiguous_timestamp(civil);
    let shown = civil.strftime("%Y-%m-%dT%H:%M");
    let exact = match ambiguous.offset() {
        AmbiguousOffset::Unambiguous { .. } => ambiguous.unambiguous().map_err(|_| not_read())?,
        AmbiguousOffset::Gap { .. } => {
            return Err(ClientError::Usage(format!(
                "--done: the clocks were put forward over {text} on that day; give the offset from UTC: {shown}+02:00"
            )));
        }
        AmbiguousOffset::Fold { .. } => {
            return Err(ClientError::Usage(format!(
                "--done: {text} came twice on that day, the clocks were put back; give the offset from UTC: {shown}+02:00"
            )));
        }
    };
    if of_today && exact > now {
        return Err(ClientError::Usage(format!(
            "--done: {text} is still to come today; give the day too, for example {} {text}",
            now.to_zoned_datetime(zone.clone()).date().yesterday().unwrap_or_default()
        )));
    }
    if exact > now {
        return Err(ClientError::Usage(format!("--done: {text} lies ahead; give when the work was done")));
    }
    Ok(told(exact))
}

fn told(time: Timestamp) -> prost_types::Timestamp {
    crate::clock::timestamp(time.as_microsecond())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read_at(text: &str, now: &str) -> Result<String, String> {
        let zone = TimeZone::get("Europe/Berlin").unwrap();
        let time = read(text, now.parse().unwrap(), &zone).map_err(|error| error.to_string())?;
        Ok(Timestamp::new(time.seconds, time.nanos).unwrap().to_string())
    }

    #[test]
    fn a_time_alone_is_of_today_in_the_zone_of_the_station() {
        assert_eq!(read_at("10:40", "2026-02-03T11:00:00Z").unwrap(), "2026-02-03T09:40:00Z");
        assert_eq!(read_at(" 10:40:30 ", "2026-07-03T11:00:00Z").unwrap(), "2026-07-03T08:40:30Z");
    }

    #[test]
    fn a_day_or_an_offset_may_be_given() {
        let now = "2026-02-03T11:00:00Z";
        assert_eq!(read_at("2026-02-02 17:05", now).unwrap(), "2026-02-02T16:05:00Z");
        assert_eq!(read_at("2026-02-02T17:05", now).unwrap(), "2026-02-02T16:05:00Z");
        assert_eq!(read_at("2026-02-02T17:05+00:00", now).unwrap(), "2026-02-02T17:05:00Z");
    }

    #[test]
    fn a_time_that_is_still_to_come_today_is_refused() {
        let sentence = read_at("23:30", "2026-02-03T11:00:00Z").unwrap_err();
        assert!(
            sentence.contains("still to come today") && sentence.contains("2026-02-02 23:30"),
            "{sentence}"
        );
    }

    #[test]
    fn times_that_the_change_of_clocks_makes_twice_or_leaves_out_need_an_offset() {
        // Central European time, 2026: forward on 29 March 02:00, back on 25 October 03:00 (IANA time zone database).
        let now = "2026-12-01T00:00:00Z";
        assert!(read_at("2026-03-29 02:30", now).unwrap_err().contains("put forward"));
        assert!(read_at("2026-10-25 02:30", now).unwrap_err().contains("came twice"));
        assert_eq!(read_at("2026-10-25T02:30+01:00", now).unwrap(), "2026-10-25T01:30:00Z");
    }

    #[test]
    fn what_is_no_time_is_refused_with_an_example() {
        for text in ["", "yesterday", "25:00", "10", "1040", "2026-02-30 10:00", "2026-02-03"] {
            assert!(
                read_at(text, "2026-02-03T11:00:00Z").unwrap_err().contains("2026-02-03 10:40"),
                "{text}"
            );
        }
    }
}
