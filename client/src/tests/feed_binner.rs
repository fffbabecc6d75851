//! Bins of readings: what closes them, what is in them, what counters do, and what no order of input changes.

use super::*;
use proptest::prelude::*;

const SECOND: i64 = 1_000_000;

fn options(has_own_times: bool, may_reset: bool) -> BinnerOptions {
    BinnerOptions { size: BinSize { litres: 0.1, seconds: 10.0 }, has_own_times, may_reset }
}

fn litres(litres_in: f64) -> Reading {
    Reading { litres_in: Some(litres_in), ..Reading::default() }
}

/// A binner by the lines' own times, and what it said, line by line.
struct Run {
    binner: Binner,
    line: u64,
    bins: Vec<Bin>,
    told: Vec<Told>,
}

impl Run {
    fn new(may_reset: bool) -> Self {
        Self { binner: Binner::new(options(true, may_reset)), line: 0, bins: Vec::new(), told: Vec::new() }
    }

    fn note(&mut self, actions: Vec<Action>) {
        for action in actions {
            match action {
                Action::State(bin) => self.bins.push(bin),
                Action::Tell(told) => self.told.push(told),
            }
        }
    }

    fn read(&mut self, at_us: i64, reading: Reading) {
        self.line += 1;
        let reading = Reading { time_us: Some(at_us), ..reading };
        let actions = self.binner.step(Event::Read { line: self.line, reading }, 0);
        self.note(actions);
    }

    fn end(&mut self, is_last: bool) {
        let actions = self.binner.step(Event::Ended { is_last }, 0);
        self.note(actions);
    }
}

#[test]
fn the_mean_of_published_observations_is_their_mean_and_their_spread() {
    // JCGM 100:2008, table 1: 20 observations of a temperature (from memory); 4.4.3: mean 100.145 °C, s = 1.489 °C.
    let observed = [
        96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07, 100.33, 100.42, 100.68,
        100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72,
    ];
    let mut run = Run::new(false);
    for celsius in observed {
        run.read(0, Reading { celsius: Some(celsius), ..Reading::default() });
    }
    run.end(false);
    let mean = run.bins[0].celsius.unwrap();
    assert_eq!((mean.count, run.bins.len()), (20, 1));
    assert!((mean.value - 100.145).abs() < 5e-7, "{mean:?}");
    assert!((mean.spread.unwrap() - 1.489).abs() < 5e-4, "{mean:?}");
}

#[test]
fn a_tenth_of_a_litre_or_ten_seconds_close_a_bin_whichever_comes_first() {
    let mut run = Run::new(false);
    // A tenth by the decimals of a display, which no sum of them is exactly.
    for (second, shown) in
        [(0, 4.0), (1, 4.05), (2, 4.1), (3, 4.15), (4, 4.2), (13, 4.2), (14, 4.2), (15, 4.25)]
    {
        run.read(second * SECOND, litres(shown));
    }
    run.end(false);
    let said: Vec<_> =
        run.bins.iter().map(|bin| (bin.at_us / SECOND, bin.litres_in.unwrap(), bin.lines)).collect();
    assert_eq!(said, [(1, 4.05, 2), (3, 4.15, 2), (13, 4.2, 2), (15, 4.25, 2)]);
    assert!(run.told.is_empty() && run.bins.iter().all(|bin| !bin.is_last));
}

#[test]
fn without_times_of_their_own_the_clock_of_the_station_closes_the_bin() {
    let mut binner = Binner::new(options(false, false));
    assert_eq!(binner.closes_at(), None);
    assert_eq!(binner.step(Event::Read { line: 1, reading: litres(4.0) }, 5 * SECOND), []);
    assert_eq!(binner.closes_at(), Some(15 * SECOND));
    assert_eq!(binner.step(Event::Passed, 14 * SECOND), []);
    let actions = binner.step(Event::Passed, 15 * SECOND);
    assert!(
        matches!(&actions[..], [Action::State(bin)] if bin.litres_in == Some(4.0) && bin.at_us == 5 * SECOND)
    );
    assert_eq!((binner.closes_at(), binner.step(Event::Passed, 99 * SECOND)), (None, Vec::new()));
    // By times of their own, no time but theirs counts.
    let mut run = Run::new(false);
    run.read(0, litres(4.0));
    assert_eq!((run.binner.closes_at(), run.binner.step(Event::Passed, 99 * SECOND)), (None, Vec::new()));
}

#[test]
fn litres_that_go_back_are_told_and_left_out_and_begin_again_only_where_a_person_said_so() {
    let shown = [4.0, 4.3, 0.1, 0.2, 4.4];
    let mut run = Run::new(false);
    for (second, shown) in shown.into_iter().enumerate() {
        run.read(i64::try_from(second).unwrap() * SECOND, litres(shown));
    }
    run.end(false);
    assert_eq!(
        run.told.iter().map(|told| (told.line, told.about)).collect::<Vec<_>>(),
        [(3, About::WentBack), (4, About::WentBack)]
    );
    assert!(run.told[0].sentence.contains("from 4.3 to 0.1 L") && run.told[0].sentence.contains("--reset"));
    assert_eq!(run.bins.last().unwrap().litres_in, Some(4.4));

    let mut run = Run::new(true);
    for (second, shown) in shown.into_iter().take(4).enumerate() {
        run.read(i64::try_from(second).unwrap() * SECOND, litres(shown));
    }
    run.end(false);
    assert_eq!(run.told.iter().map(|told| (told.line, told.about)).collect::<Vec<_>>(), [(3, About::NewRun)]);
    assert_eq!(run.bins.last().unwrap().litres_in, Some(4.5));
    // A step back that is no display at zero is none, whatever was said.
    let mut run = Run::new(true);
    for shown in [4.0, 4.3, 4.2, 3.0] {
        run.read(0, litres(shown));
    }
    assert!(
        run.told.iter().all(|told| told.about == About::WentBack) && run.told.len() == 2,
        "{:?}",
        run.told
    );
}

#[test]
fn one_wrong_digit_holds_up_nothing_that_follows() {
    let mut run = Run::new(false);
    for (second, shown) in [(0, 4.1), (1, 41.0), (2, 4.2), (3, 4.3)] {
        run.read(second * SECOND, litres(shown));
    }
    run.end(false);
    assert_eq!(run.told.iter().map(|told| (told.line, told.about)).collect::<Vec<_>>(), [(2, About::Leapt)]);
    assert_eq!(run.bins.last().unwrap().litres_in, Some(4.3));
    // After a break of the line a counter may have gone on: 5 L, and 20 L a minute.
    let mut run = Run::new(false);
    run.read(0, litres(4.0));
    run.read(60 * SECOND, litres(28.9));
    assert!(run.told.is_empty());
}

#[test]
fn what_came_out_goes_wrong_alone() {
    let both = |litres_in, litres_out| Reading { litres_out: Some(litres_out), ..litres(litres_in) };
    let mut run = Run::new(false);
    for (litres_in, litres_out) in [(1.0, 0.9), (1.05, 0.2), (1.06, 1.0)] {
        run.read(0, both(litres_in, litres_out));
    }
    run.end(false);
    assert_eq!(run.told.iter().map(|told| (told.line, told.about)).collect::<Vec<_>>(), [(2, About::Out)]);
    assert_eq!(
        (run.bins[0].litres_in, run.bins[0].litres_out, run.bins[0].lines),
        (Some(1.06), Some(1.0), 3)
    );
}

#[test]
fn sums_beyond_the_bound_are_told_and_left_out() {
    let mut run = Run::new(true);
    for shown in [59.0, 0.0, 0.9, 1.1] {
        run.read(0, litres(shown));
    }
    run.end(false);
    assert_eq!(run.told.iter().map(|told| told.about).collect::<Vec<_>>(), [About::NewRun, About::TooMuch]);
    assert_eq!(run.bins.last().unwrap().litres_in, Some(59.9));
}

#[test]
fn the_last_reading_is_last_only_where_the_lines_or_a_person_say_so() {
    let mut run = Run::new(false);
    run.read(0, litres(11.9));
    run.read(0, Reading { is_last: true, ..litres(11.95) });
    run.read(SECOND, litres(12.0));
    run.end(true);
    assert_eq!(
        run.bins.iter().map(|bin| (bin.litres_in.unwrap(), bin.is_last)).collect::<Vec<_>>(),
        [(11.95, true)]
    );
    assert_eq!(
        run.told.iter().map(|told| (told.line, told.about)).collect::<Vec<_>>(),
        [(3, About::AfterLast)]
    );

    let mut run = Run::new(false);
    run.read(0, litres(11.9));
    run.end(true);
    assert!(run.bins[0].is_last && run.bins.len() == 1);
    // Where the bin had closed before the end came, the end is stated with the litres alone.
    let mut binner = Binner::new(options(false, false));
    binner.step(Event::Read { line: 1, reading: Reading { new_percent: Some(80.0), ..litres(12.0) } }, 0);
    assert_eq!(binner.step(Event::Passed, 10 * SECOND).len(), 1);
    let actions = binner.step(Event::Ended { is_last: true }, 12 * SECOND);
    let [Action::State(bin)] = &actions[..] else { panic!("{actions:?}") };
    assert_eq!((bin.is_last, bin.litres_in, bin.lines, bin.new_percent), (true, Some(12.0), 0, None));
    assert_eq!(binner.step(Event::Ended { is_last: true }, 13 * SECOND), []);
    assert_eq!(Binner::new(options(false, false)).step(Event::Ended { is_last: true }, 0), []);
}

#[test]
fn temperatures_alone_become_an_entry_every_ten_seconds() {
    let mut run = Run::new(false);
    for second in 0..25 {
        run.read(second * SECOND, Reading { celsius: Some(60.0), ..Reading::default() });
    }
    run.end(false);
    let said: Vec<_> = run.bins.iter().map(|bin| (bin.litres_in, bin.celsius.unwrap().count)).collect();
    assert_eq!(said, [(None, 10), (None, 10), (None, 5)]);
}

/// Readings as a display gives them: litres in hundredths and milliseconds that only go up.
fn going_on() -> impl Strategy<Value = Vec<(u32, u32, f64)>> {
    let step = (0_u32..30, 0_u32..4_000, -20.0_f64..120.0);
    proptest::collection::vec(step, 1..200)
}

proptest! {
    #[test]
    fn no_two_entries_share_a_bin_no_litre_is_lost_and_counts_add_up(steps in going_on()) {
        let mut run = Run::new(false);
        let (mut hundredths, mut milliseconds, mut firsts) = (0_u32, 0_i64, Vec::new());
        for (litres_on, time_on, share) in &steps {
            hundredths += litres_on;
            milliseconds += i64::from(*time_on);
            let shown = f64::from(hundredths) / 100.0;
            let before = run.bins.len();
            run.read(milliseconds * 1000, Reading { new_percent: Some(*share), ..litres(shown) });
            if firsts.is_empty() || run.bins.len() > before {
                firsts.push((hundredths, milliseconds));
            }
        }
        run.end(false);
        prop_assert!(run.told.is_empty());
        prop_assert_eq!(run.bins.len(), firsts.len());
        for pair in firsts.windows(2) {
            let (litres, time) = (pair[1].0 - pair[0].0, pair[1].1 - pair[0].1);
            prop_assert!(litres >= 10 || time >= 10_000, "{litres} hundredths, {time} ms");
        }
        let last = run.bins.last().unwrap();
        prop_assert_eq!(last.litres_in, Some(f64::from(hundredths) / 100.0));
        let lines: usize = run.bins.iter().map(|bin| bin.lines as usize).sum();
        prop_assert_eq!(lines, steps.len());
        // The means weighted by their counts are the mean of all.
        let sum: f64 = run.bins.iter().filter_map(|bin| bin.new_percent).map(|mean| mean.value * f64::from(mean.count)).sum();
        let all: f64 = steps.iter().map(|(_, _, share)| share).sum();
        prop_assert!((sum - all).abs() < 1e-5 * f64::from(u32::try_from(steps.len()).unwrap()));
        for bin in run.bins.iter().filter_map(|bin| bin.new_percent) {
            prop_assert_eq!(bin.spread.is_some(), bin.count > 1);
            prop_assert!(bin.spread.is_none_or(|spread| (0.0..=100.0).contains(&spread)));
        }
    }

    #[test]
    fn litres_of_entries_never_go_back_whatever_a_display_shows(
        shown in proptest::collection::vec((0_u32..6_000, 0_u32..20_000), 1..100), may_reset: bool,
    ) {
        let mut run = Run::new(may_reset);
        let mut milliseconds = 0;
        for (hundredths, time_on) in &shown {
            milliseconds += i64::from(*time_on);
            run.read(milliseconds * 1000, litres(f64::from(*hundredths) / 100.0));
        }
        run.end(true);
        let stated: Vec<f64> = run.bins.iter().filter_map(|bin| bin.litres_in).collect();
        prop_assert!(stated.windows(2).all(|pair| pair[0] <= pair[1]), "{stated:?}");
        prop_assert!(stated.iter().all(|litres| (0.0..=60.0).contains(litres)));
        let unused = run.told.iter().filter(|told| !matches!(told.about, About::NewRun)).count();
        let used: usize = run.bins.iter().map(|bin| bin.lines as usize).sum();
        prop_assert_eq!(used + unused, shown.len());
        prop_assert_eq!(run.bins.iter().filter(|bin| bin.is_last).count(), 1);
    }
}
