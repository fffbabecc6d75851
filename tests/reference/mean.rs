//! The mean of several readings of an instrument, from its lines to its uncertainty: the Guide's own example.

use super::{Table, near, number, numbers};
use standpipe_client::feed::binner::{Action, Binner, BinnerOptions, Event};
use standpipe_client::feed::map::ColumnMap;
use standpipe_client::feed::reading::{Means, Reader};
use standpipe_engine::formula::mean::standard_uncertainty;
use std::path::Path;

#[test]
fn lines_of_a_meter_give_the_guide_s_mean_and_its_uncertainty() {
    let table = Table::read("gum_mean");
    for row in table.cases() {
        let map = "[temperature]\ncolumn = 1\nplace = \"fresh-fluid\"\n";
        let map = ColumnMap::of(Path::new("feed.toml"), map).expect("a map");
        let options = BinnerOptions { size: map.bin, has_own_times: false, may_reset: false };
        let (mut reader, mut binner) = (Reader::new(map), Binner::new(options));
        for (line, observed) in (1..).zip(numbers(row, "observations")) {
            let Means::Reading(reading, _) = reader.read(&format!("{observed} °C")).expect("a line") else {
                panic!("{observed} cannot be read")
            };
            assert_eq!(binner.step(Event::Read { line, reading }, 0), []);
        }
        let actions = binner.step(Event::Ended { is_last: false }, 0);
        let [Action::State(bin)] = &actions[..] else { panic!("{actions:?}") };
        let mean = bin.celsius.expect("a mean");
        let spread = mean.spread.expect("a standard deviation");
        near(row, "the mean", mean.value, number(row, "mean"), 0.0005);
        near(row, "the standard deviation", spread, number(row, "standard_deviation"), 0.0005);
        let u = standard_uncertainty(0.0, spread, mean.count);
        near(row, "its uncertainty", u, number(row, "standard_uncertainty_of_the_mean"), 0.0005);
    }
}
