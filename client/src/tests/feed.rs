//! Bytes to facts: the sample, whole and in pieces.

use super::binner::{Action, Binner, BinnerOptions, Event};
use super::lines::{Line, Lines};
use super::map::ColumnMap;
use super::reading::{Means, Reader};
use proptest::prelude::*;
use standpipe_proto::v1::{Fact, fact::Kind};
use std::path::Path;

const MAP: &str = include_str!("../../../deploy/feed-sample.toml");
const LINES: &str = include_str!("../../../deploy/feed-sample.csv");

/// The facts of the sample, fed in the pieces that these cuts make.
fn fed(cuts: &[usize]) -> Vec<Fact> {
    let map = ColumnMap::of(Path::new("feed.toml"), MAP).unwrap();
    let options = BinnerOptions { size: map.bin, has_own_times: true, may_reset: false };
    let (mut lines, mut reader, mut binner) =
        (Lines::default(), Reader::new(map.clone()), Binner::new(options));
    let mut stated = Vec::new();
    let mut take = |lines: Vec<Line>| {
        for line in lines {
            let Means::Reading(reading, _) = reader.read(&line.text.unwrap()).unwrap() else { continue };
            for action in binner.step(Event::Read { line: line.number, reading }, 0) {
                if let Action::State(bin) = action {
                    stated.extend(super::facts(&map, &bin));
                }
            }
        }
    };
    let mut from = 0;
    for cut in cuts.iter().copied().chain([LINES.len()]) {
        take(lines.take(&LINES.as_bytes()[from..cut]));
        from = cut;
    }
    take(lines.ended().into_iter().collect());
    assert_eq!(binner.step(Event::Ended { is_last: false }, 0), []);
    stated
}

#[test]
fn every_reading_of_the_sample_is_one_that_an_entry_may_state() {
    let facts = fed(&[]);
    assert_eq!(facts.len(), 120);
    for fact in &facts {
        let Some(Kind::ExchangeReading(reading)) = &fact.kind else { panic!("{fact:?}") };
        assert_eq!(standpipe_proto::check::violations(reading), []);
        assert_eq!(reading.sample_count.is_some(), reading.instrument_spread_percent.is_some());
    }
    let Some(Kind::ExchangeReading(last)) = &facts.last().unwrap().kind else { panic!("it is a reading") };
    assert!(last.last && last.volume_in_litres == 12.0);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]
    #[test]
    fn the_pieces_in_which_an_instrument_s_bytes_come_change_no_fact(
        cuts in proptest::collection::vec(0..LINES.len(), 0..400),
    ) {
        let mut cuts = cuts;
        cuts.sort_unstable();
        prop_assert_eq!(fed(&cuts), fed(&[]));
    }
}
