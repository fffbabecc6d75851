//! What rows of jobs and their sums promise: whatever is put in the place of what, the sums are those of the rows.

use super::{Maker, fresh, reopened};
use crate::{
    JobId, PAGE_ROWS_MAX, StoreError, TALLY_COUNTER_MAX, TALLY_COUNTERS_MAX, Tallies, TallyBy, TallyFilter,
    TallyReached, TallyRow, TallySum,
};
use std::collections::BTreeMap;

const EDITION: &str = "5";
const ALL: (&str, &str) = ("0000-00", "9999-99");

pub(super) async fn run<M: Maker>(maker: &M) {
    rows_come_back_as_they_were(maker).await;
    sums_are_those_of_the_rows(maker).await;
    ages_are_counted_by_the_day(maker).await;
    pages_of_rows_join_in_their_order(maker).await;
    rows_of_vehicles_are_found_at_all_sites(maker).await;
    editions_stand_beside_each_other(maker).await;
    counters_beyond_what_a_sum_holds_are_refused(maker).await;
}

/// Numbers that look like chance and are always the same (xorshift, Marsaglia 2003).
struct Drawn(u64);

impl Drawn {
    fn below(&mut self, most: u64) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0 % most
    }

    fn row(&mut self) -> TallyRow {
        let one_of = |drawn: u64, words: &[&str]| words[usize::try_from(drawn).expect("small")].to_owned();
        let site = one_of(self.below(3), &["harbour-lane", "mill-street", "Quarry \"Road\", ä"]);
        let counters =
            (0..self.below(TALLY_COUNTERS_MAX as u64 + 1)).map(|_| self.below(2_000).cast_signed() - 700);
        let counters = counters.collect();
        let month = format!("2026-{:02}", self.below(4) + 1);
        let day = 20_454 + self.below(130).cast_signed();
        TallyRow {
            site,
            job: u128::from(self.below(40)).to_be_bytes(),
            seq: self.below(1 << 40),
            month,
            variant: one_of(self.below(3), &["", "alder-8", "birch-6"]),
            equipment: one_of(self.below(3), &["", "EX-1", "EX-2"]),
            vehicle: one_of(self.below(4), &["", "v1", "v2", "v'3"]),
            opened_us: self.below(1 << 50).cast_signed(),
            counts: self.below(5) > 0,
            stands_out: self.below(3) == 0,
            counters,
            day: (self.below(4) > 0).then_some(day),
            back: [0, 1, 2].map(|_| self.below(3) == 0),
            row: format!("{{\"n\":{}}}", self.below(9)),
        }
    }
}

type Rows = BTreeMap<(String, [u8; 16]), TallyRow>;

/// The sums by their definition.
fn summed(rows: &Rows, (from, to): (&str, &str), by: TallyBy, days: [i64; 3]) -> Vec<TallySum> {
    let mut sums: BTreeMap<[String; 3], TallySum> = BTreeMap::new();
    for row in rows.values() {
        if !row.counts || row.month.as_str() < from || row.month.as_str() > to {
            continue;
        }
        let of = if by == TallyBy::Variant { &row.variant } else { &row.equipment };
        let key = [&row.site, of, &row.month].map(Clone::clone);
        let [site, of, month] = key.clone();
        let sum = sums.entry(key).or_insert(TallySum {
            site,
            of,
            month,
            counters: vec![0; TALLY_COUNTERS_MAX],
            old: [0; 3],
            back: [0; 3],
        });
        for (at, counter) in row.counters.iter().enumerate() {
            sum.counters[at] += counter;
        }
        for (span, last) in days.into_iter().enumerate() {
            let old = row.day.is_some_and(|day| day <= last);
            sum.old[span] += i64::from(old);
            sum.back[span] += i64::from(old && row.back[span]);
        }
    }
    sums.into_values().collect()
}

async fn put(store: &impl Tallies, known: &mut Rows, rows: Vec<TallyRow>) {
    for row in &rows {
        known.insert((row.site.clone(), row.job), row.clone());
    }
    store.put_tally_rows(EDITION, rows, None).await.expect("put");
}

async fn rows_come_back_as_they_were<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    let mut drawn = Drawn(1);
    let row = TallyRow { site: "mill-street".into(), job: [7; 16], ..drawn.row() };
    assert_eq!(store.tally_row(EDITION, "mill-street", JobId([7; 16])).await, Ok(None));
    assert_eq!(store.tally_reached(EDITION, "mill-street").await, Ok(None));
    let reached = |seq| TallyReached { epoch: [3; 16], seq };
    store
        .put_tally_rows(EDITION, vec![row.clone()], Some((row.site.clone(), reached(9))))
        .await
        .expect("put");
    let later = TallyRow { seq: 12, counters: vec![], day: None, ..row.clone() };
    let rows = vec![TallyRow { seq: 11, ..row.clone() }, later.clone()];
    store.put_tally_rows(EDITION, rows, Some((row.site.clone(), reached(12)))).await.expect("put");
    store.put_tally_rows(EDITION, vec![], Some(("quarry-road".into(), reached(1)))).await.expect("put");
    let store = reopened(maker, store).await;
    assert_eq!(store.tally_row(EDITION, "mill-street", JobId([7; 16])).await, Ok(Some(later)), "the last");
    assert_eq!(store.tally_row(EDITION, "quarry-road", JobId([7; 16])).await, Ok(None));
    assert_eq!(store.tally_reached(EDITION, "mill-street").await, Ok(Some(reached(12))));
    assert_eq!(store.tally_reached(EDITION, "quarry-road").await, Ok(Some(reached(1))));
}

async fn sums_are_those_of_the_rows<M: Maker>(maker: &M) {
    let mut store = fresh(maker).await;
    let (mut drawn, mut known) = (Drawn(2), Rows::new());
    for round in 0..24 {
        let rows = (0..=drawn.below(60)).map(|_| drawn.row()).collect();
        put(&*store, &mut known, rows).await;
        if round == 12 {
            store = reopened(maker, store).await;
        }
        let days = [0, 1, 2].map(|_| 20_440 + drawn.below(160).cast_signed());
        for by in [TallyBy::Variant, TallyBy::Equipment] {
            for months in [ALL, ("2026-02", "2026-03"), ("2026-03", "2026-02")] {
                let sums = store.tally_sums(EDITION, months, by, days).await.expect("sums");
                assert_eq!(sums, summed(&known, months, by, days), "round {round}, {by:?}, {months:?}");
            }
        }
    }
    // The same once more changes nothing.
    put(&*store, &mut known.clone(), known.values().cloned().collect()).await;
    let days = [20_500; 3];
    let sums = store.tally_sums(EDITION, ALL, TallyBy::Variant, days).await;
    assert_eq!(sums.expect("sums"), summed(&known, ALL, TallyBy::Variant, days));
    // Nothing counts any more.
    let none: Vec<_> = known.values().map(|row| TallyRow { counts: false, ..row.clone() }).collect();
    put(&*store, &mut known, none).await;
    assert_eq!(store.tally_sums(EDITION, ALL, TallyBy::Variant, days).await, Ok(vec![]));
}

async fn ages_are_counted_by_the_day<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    let row = |job: u8, day| TallyRow {
        site: "mill-street".into(),
        job: [job; 16],
        month: "2026-03".into(),
        counts: true,
        day,
        back: [job == 1, job < 3, true],
        ..TallyRow::default()
    };
    let rows = vec![row(1, Some(10)), row(2, Some(11)), row(3, Some(12)), row(4, None)];
    store.put_tally_rows(EDITION, rows, None).await.expect("put");
    let asked = async |days| {
        let sums = store.tally_sums(EDITION, ALL, TallyBy::Variant, days).await.expect("sums");
        assert_eq!(sums.len(), 1);
        (sums[0].old, sums[0].back)
    };
    assert_eq!(asked([9, 9, 9]).await, ([0; 3], [0; 3]));
    assert_eq!(asked([10, 11, 12]).await, ([1, 2, 3], [1, 2, 3]), "the day itself is old enough");
    assert_eq!(asked([11, 10, i64::MAX]).await, ([2, 1, 3], [1, 1, 3]));
    assert_eq!(asked([i64::MAX, i64::MIN, 11]).await, ([3, 0, 2], [1, 0, 2]));
    store.put_tally_rows(EDITION, vec![row(1, Some(40))], None).await.expect("put");
    assert_eq!(asked([10, 12, 40]).await, ([0, 2, 3], [0, 1, 3]), "a day that moved is gone where it was");
}

async fn pages_of_rows_join_in_their_order<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    let (mut drawn, mut known) = (Drawn(3), Rows::new());
    put(&*store, &mut known, (0..200).map(|_| drawn.row()).collect()).await;
    let months = |from: &str, to: &str| (from.to_owned(), to.to_owned());
    let site = Some("mill-street".to_owned());
    let every = TallyFilter { months: months("2026-01", "2026-12"), ..TallyFilter::default() };
    for filter in [
        every.clone(),
        TallyFilter { site: site.clone(), ..every.clone() },
        TallyFilter { standing_out: true, ..every.clone() },
        TallyFilter { months: months("2026-02", "2026-03"), standing_out: true, site, after: None },
        TallyFilter { months: months("2026-02", "2026-02"), ..every.clone() },
        TallyFilter::default(),
    ] {
        let mut expected: Vec<&TallyRow> = known.values().collect();
        expected.retain(|row| {
            (row.stands_out || !filter.standing_out)
                && filter.site.as_ref().is_none_or(|site| row.site == *site)
                && (filter.months.0.as_str()..=filter.months.1.as_str()).contains(&row.month.as_str())
        });
        expected.sort_by_key(|row| (row.site.clone(), row.month.clone(), row.job));
        for limit in [1, 7, PAGE_ROWS_MAX] {
            let (mut filter, mut all) = (filter.clone(), Vec::new());
            loop {
                let page = store.tally_rows(EDITION, &filter, limit).await.expect("page");
                assert!(page.len() <= limit);
                let Some(last) = page.last() else { break };
                filter.after = Some((last.site.clone(), last.month.clone(), last.job));
                all.extend(page);
            }
            assert_eq!(all.iter().collect::<Vec<_>>(), expected, "{filter:?}, {limit}");
        }
    }
    assert_eq!(store.tally_rows(EDITION, &every, 0).await, Ok(vec![]));
}

async fn rows_of_vehicles_are_found_at_all_sites<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    let (mut drawn, mut known) = (Drawn(4), Rows::new());
    put(&*store, &mut known, (0..200).map(|_| drawn.row()).collect()).await;
    let vehicles = ["v'3", "", "v1", "nobody"].map(str::to_owned);
    let found = store.tally_rows_of_vehicles(EDITION, &vehicles).await.expect("rows");
    let mut expected: Vec<TallyRow> =
        known.into_values().filter(|row| ["v'3", "v1"].contains(&row.vehicle.as_str())).collect();
    expected.sort_by_key(|row| (row.site.clone(), row.month.clone(), row.job));
    assert_eq!(found, expected, "an empty digest is no vehicle");
    assert_eq!(store.tally_rows_of_vehicles(EDITION, &[]).await, Ok(vec![]));
}

async fn editions_stand_beside_each_other<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    let mut drawn = Drawn(5);
    let mut sums = BTreeMap::new();
    for edition in ["4", "5", "51"] {
        let mut known = Rows::new();
        for row in (0..50).map(|_| drawn.row()) {
            known.insert((row.site.clone(), row.job), row);
        }
        let reached = Some(("mill-street".to_owned(), TallyReached { epoch: [1; 16], seq: 4 }));
        let rows = known.values().cloned().collect();
        store.put_tally_rows(edition, rows, reached).await.expect("put");
        sums.insert(edition, summed(&known, ALL, TallyBy::Equipment, [20_500; 3]));
    }
    for (edition, sums) in &sums {
        let found = store.tally_sums(edition, ALL, TallyBy::Equipment, [20_500; 3]).await;
        assert_eq!(found.as_ref(), Ok(sums), "{edition}");
    }
    store.drop_tally_editions_but("5").await.expect("drop");
    let store = reopened(maker, store).await;
    let filter = TallyFilter { months: (ALL.0.into(), ALL.1.into()), ..TallyFilter::default() };
    for (edition, sums) in &sums {
        let found = store.tally_sums(edition, ALL, TallyBy::Equipment, [20_500; 3]).await.expect("sums");
        let rows = store.tally_rows(edition, &filter, 10).await.expect("rows");
        let reached = store.tally_reached(edition, "mill-street").await.expect("reached");
        let there = (found == *sums, rows.len(), reached.is_some());
        assert_eq!(there, if *edition == "5" { (true, 10, true) } else { (false, 0, false) }, "{edition}");
    }
}

async fn counters_beyond_what_a_sum_holds_are_refused<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    let row = |counters| TallyRow { site: "mill-street".into(), counters, ..TallyRow::default() };
    let most = TALLY_COUNTER_MAX.cast_signed();
    let filled = row(vec![-most; TALLY_COUNTERS_MAX]);
    store.put_tally_rows(EDITION, vec![filled.clone()], None).await.expect("put");
    for counters in [vec![0; TALLY_COUNTERS_MAX + 1], vec![most + 1], vec![i64::MIN]] {
        let rows = vec![row(vec![1]), row(counters)];
        let refused = store.put_tally_rows(EDITION, rows, None).await.expect_err("too much");
        assert!(matches!(refused, StoreError::OutOfRange { .. }), "{refused}");
    }
    assert_eq!(store.tally_row(EDITION, "mill-street", JobId([0; 16])).await, Ok(Some(filled)));
}
