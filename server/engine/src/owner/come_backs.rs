//! Vehicles that came back, across all sites of one owner.
//!
//! A come-back is the same vehicle, closed as done before, for anything but a service that is due. It counts at the
//! site that did the work, wherever the vehicle came back to. Never here: whose fault it is.

use super::JobRow;
use std::collections::BTreeMap;

const DAY_US: i64 = 24 * 3_600 * 1_000_000;

/// Days within which vehicles came back, as they are counted.
pub const WITHIN_DAYS: [i64; 3] = [30, 90, 365];

/// Fills in after how many days each vehicle came back; what was filled in before is computed anew.
pub fn join(rows: &mut [JobRow]) {
    let mut visits: BTreeMap<String, Vec<(i64, bool)>> = BTreeMap::new();
    for row in rows.iter().filter(|row| !row.vehicle.is_empty()) {
        visits.entry(row.vehicle.clone()).or_default().push((row.opened_us, row.complaint));
    }
    for visits in visits.values_mut() {
        visits.sort_unstable();
    }
    for row in rows {
        let visits = visits.get(&row.vehicle);
        let closed = row.closed_us.filter(|_| row.done && !row.vehicle.is_empty());
        row.back_after_days = closed.zip(visits).and_then(|(closed, visits)| after_days(closed, visits));
    }
}

/// Days from the end of the work to the vehicle's next visit; absent where it did not come, or came for its service.
fn after_days(closed_us: i64, visits: &[(i64, bool)]) -> Option<i64> {
    let later = visits.get(visits.partition_point(|(opened, _)| *opened < closed_us)..)?;
    let (opened, complaint) = later.first()?;
    complaint.then(|| (opened - closed_us).div_euclid(DAY_US))
}

/// Day of a time, in days since 1970 (UTC).
#[must_use]
pub fn day_of(us: i64) -> i64 {
    us.div_euclid(DAY_US)
}

/// Day on which the time begins within which a vehicle comes back or not, in days since 1970 (UTC): that of the closing.
/// Absent where the job says nothing of come-backs.
#[must_use]
pub fn counts_from(row: &JobRow) -> Option<i64> {
    row.closed_us.filter(|_| row.done && !row.vehicle.is_empty()).map(day_of)
}

/// Last day of a closing that is old enough to say whether a vehicle came back within so many days. Days are whole ones,
/// so that a store can count jobs by the day of their closing.
#[must_use]
pub fn last_day(days: i64, as_of_us: i64) -> i64 {
    day_of(as_of_us).saturating_sub(days)
}

/// Whether a job is old enough to say whether its vehicle came back within so many days.
#[must_use]
pub fn can_be_said(row: &JobRow, days: i64, as_of_us: i64) -> bool {
    counts_from(row).is_some_and(|day| day <= last_day(days, as_of_us))
}

/// Whether its vehicle came back within so many days.
#[must_use]
pub fn came_back(row: &JobRow, days: i64) -> bool {
    row.back_after_days.is_some_and(|after| after <= days)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(site: &str, vehicle: &str, opened_day: i64, complaint: bool) -> JobRow {
        JobRow {
            site: site.into(),
            vehicle: vehicle.into(),
            opened_us: opened_day * DAY_US,
            closed_us: Some(opened_day * DAY_US + DAY_US / 8),
            done: true,
            complaint,
            ..JobRow::default()
        }
    }

    #[test]
    fn a_vehicle_that_comes_back_to_another_site_counts_where_the_work_was_done() {
        let mut rows = [row("one", "v", 0, false), row("two", "v", 20, true), row("one", "w", 1, false)];
        join(&mut rows);
        assert_eq!(rows.clone().map(|row| row.back_after_days), [Some(19), None, None]);
        assert!(came_back(&rows[0], 30) && !came_back(&rows[0], 18));
        assert!(can_be_said(&rows[0], 30, 30 * DAY_US) && !can_be_said(&rows[0], 30, 30 * DAY_US - 1));
    }

    #[test]
    fn a_service_that_is_due_and_a_vehicle_that_nobody_read_are_no_come_back() {
        let mut rows = [row("one", "v", 0, true), row("one", "v", 300, false), row("one", "", 5, true)];
        join(&mut rows);
        assert_eq!(rows.map(|row| row.back_after_days), [None, None, None]);
    }

    #[test]
    fn a_job_that_was_stopped_brings_nobody_back() {
        let mut rows = [row("one", "v", 0, false), row("one", "v", 3, true)];
        rows[0].done = false;
        join(&mut rows);
        assert_eq!(rows[0].back_after_days, None);
    }
}
