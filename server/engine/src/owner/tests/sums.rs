//! Sums: whole numbers that are the same in whatever order they are added.

use super::year::{Plan, year};
use crate::owner::come_backs::{WITHIN_DAYS, came_back, counts_from, last_day};
use crate::owner::sums::{Counter, Groups, Key, Sums, by_equipment, by_variant, merge};
use crate::owner::{DisplayState, Figures, JobRow, Minutes};
use proptest::prelude::*;
use std::collections::BTreeMap;

fn rows() -> impl Strategy<Value = Vec<JobRow>> {
    let row = (
        (0_u8..4, 0_u8..3, 0_u8..3, any::<bool>()),
        (prop::option::of(-3.0_f64..3.0), 0.0_f64..20.0, prop::option::of(0.0_f64..1.0)),
        (0_u32..5, any::<bool>(), 0_u32..40, prop::option::of(0_i64..400)),
    );
    let row = row.prop_map(|((site, variant, month, done), (difference, shown, share), rest)| {
        let (level_attempts, level_set, late_entries, back_after_days) = rest;
        JobRow {
            site: format!("site-{site}"),
            variant: format!("variant-{variant}"),
            equipment: format!("EQ-{}", variant % 2),
            month: format!("2026-0{}", month + 1),
            vehicle: "v".to_owned(),
            closed_us: Some(0),
            done,
            difference,
            difference_uncertainty: difference.map(|_| 0.2),
            litres_in: Some(shown),
            litres_by_display: shown,
            display: DisplayState::Checked,
            share,
            level_attempts,
            level_set,
            entries: 40,
            late_entries,
            back_after_days,
            ..JobRow::default()
        }
    });
    prop::collection::vec(row, 0..40)
}

const NOW_US: i64 = 100 * 86_400_000_000;

proptest! {
    #[test]
    fn rows_summed_apart_and_merged_in_any_order_are_the_same(
        rows in rows(), cut in 0_usize..40, other in 0_usize..40,
    ) {
        let whole = by_variant(&rows, NOW_US);
        let (first, second) = (cut.min(other).min(rows.len()), cut.max(other).min(rows.len()));
        let parts: Vec<Groups> = [&rows[..first], &rows[first..second], &rows[second..]]
            .iter()
            .map(|rows| by_variant(rows, NOW_US))
            .collect();
        for order in [[0, 1, 2], [2, 0, 1], [1, 2, 0]] {
            let mut merged = Groups::new();
            for part in order {
                merge(&mut merged, &parts[part]);
            }
            prop_assert_eq!(&merged, &whole);
        }
        // (a + b) + c = a + (b + c)
        let mut left = parts[0].clone();
        merge(&mut left, &parts[1]);
        merge(&mut left, &parts[2]);
        let mut right = parts[1].clone();
        merge(&mut right, &parts[2]);
        let mut all = parts[0].clone();
        merge(&mut all, &right);
        prop_assert_eq!(left, all);
    }

    #[test]
    fn by_variant_and_by_equipment_hold_the_same_jobs(rows in rows()) {
        let total = |groups: &Groups| {
            let mut total = Sums::default();
            groups.values().for_each(|sums| total.add(sums));
            total
        };
        prop_assert_eq!(total(&by_variant(&rows, NOW_US)), total(&by_equipment(&rows, NOW_US)));
    }
}

#[test]
fn a_counter_has_its_own_column_and_a_job_counts_as_it_was_done() {
    let names: std::collections::BTreeSet<&str> = Counter::ALL.iter().map(|counter| counter.name()).collect();
    assert_eq!(names.len(), Counter::ALL.len());
    let row = JobRow {
        closed_us: Some(0),
        done: true,
        difference: Some(0.25),
        litres_spilled: Some(0.1),
        litres_by_display: 9.4,
        vehicle: "v".into(),
        back_after_days: Some(40),
        ..JobRow::default()
    };
    let sums = Sums::of(&row, NOW_US);
    let get = |counter| sums.get(counter);
    assert_eq!((get(Counter::Lost), get(Counter::LostSquared), get(Counter::Shown)), (350, 122_500, 9_400));
    assert_eq!((get(Counter::ShownLost), get(Counter::LevelUnset)), (3_290_000, 1));
    let back = [Counter::Old30, Counter::Back30, Counter::Old90, Counter::Back90, Counter::Old365];
    assert_eq!(back.map(get), [1, 0, 1, 1, 0]);
    assert!(sums.withheld() && !Sums::default().withheld());
    let stopped = JobRow { done: false, ..row };
    assert_eq!(Sums::of(&stopped, NOW_US).get(Counter::Lost), 0);
}

#[test]
fn what_was_not_measured_is_no_zero_and_a_stopped_job_adds_no_minutes() {
    let minutes = |pan| Minutes { minutes_pan: pan, ..Minutes::default() };
    let row = |done, pan, litres_out| JobRow {
        closed_us: Some(0),
        done,
        minutes: minutes(pan),
        litres_out,
        level_attempts: 2,
        ..JobRow::default()
    };
    let rows = [row(true, Some(40), Some(0.0)), row(true, None, None), row(false, Some(90), Some(3.0))];
    let mut sums = Sums::default();
    rows.iter().for_each(|row| sums.add(&Sums::of(row, 0)));
    let get = |counter| sums.get(counter);
    assert_eq!((get(Counter::MinutesPan), get(Counter::TimedPan), get(Counter::TimedAfter)), (40, 1, 0));
    assert_eq!((get(Counter::Out), get(Counter::OutKnown), get(Counter::InKnown)), (3_000, 2, 0));
    assert_eq!((get(Counter::LevelAttempts), get(Counter::Done)), (4, 2));
    // A store has room for 48 counters of a row.
    assert!(Counter::kept().count() <= 48);
}

#[test]
fn what_is_no_number_or_far_too_much_cannot_spoil_a_sum() {
    let row = |difference| JobRow {
        closed_us: Some(0),
        done: true,
        difference: Some(difference),
        ..JobRow::default()
    };
    assert_eq!(Sums::of(&row(f64::NAN), 0).get(Counter::Lost), 0);
    assert_eq!(Sums::of(&row(f64::INFINITY), 0).get(Counter::Lost), 0);
    assert_eq!(Sums::of(&row(1e30), 0).get(Counter::Lost), 1_000_000);
}

/// Sums as a store makes them: of whole numbers a row, a day and three marks, without a look at what they mean.
fn as_a_store_does(rows: &[JobRow], of: impl Fn(&JobRow) -> &String, as_of_us: i64) -> Groups {
    type Kept = (Vec<i64>, [i64; 3], [i64; 3]);
    let days = WITHIN_DAYS.map(|days| last_day(days, as_of_us));
    let mut sums: BTreeMap<Key, Kept> = BTreeMap::new();
    for row in rows.iter().filter(|row| row.closed_us.is_some()) {
        let key = Key { site: row.site.clone(), of: of(row).clone(), month: row.month.clone() };
        // Whatever it is kept at: what goes with time is counted when it is asked.
        let kept = Sums::of(row, 0).kept();
        let (counters, old, back) = sums.entry(key).or_insert_with(|| (vec![0; kept.len()], [0; 3], [0; 3]));
        counters.iter_mut().zip(kept).for_each(|(sum, value)| *sum += value);
        for (span, within) in WITHIN_DAYS.into_iter().enumerate() {
            if counts_from(row).is_some_and(|day| day <= days[span]) {
                old[span] += 1;
                back[span] += i64::from(came_back(row, within));
            }
        }
    }
    sums.into_iter().map(|(key, (kept, old, back))| (key, Sums::of_kept(&kept, old, back))).collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12))]

    #[test]
    fn sums_that_a_store_makes_of_a_drawn_year_are_those_of_its_rows_at_any_time(
        seed in 0_u64..1_000_000, sites in 1_usize..6, us_before_end in 0_i64..400 * 86_400_000_000,
    ) {
        let year = year(&Plan { sites, months: 7, seed, faults: true });
        let as_of_us = year.as_of_us - us_before_end;
        let of_store = Figures::new(
            as_a_store_does(&year.rows, |row| &row.variant, as_of_us),
            as_a_store_does(&year.rows, |row| &row.equipment, as_of_us),
        );
        prop_assert_eq!(of_store, Figures::of(&year.rows, as_of_us));
    }
}
