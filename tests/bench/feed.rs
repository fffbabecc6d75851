//! Lines of an instrument read and put into bins, against finding the ends of the same lines alone.

use crate::Effort;
use standpipe_client::feed::binner::{Binner, BinnerOptions, Event};
use standpipe_client::feed::facts;
use standpipe_client::feed::lines::Lines;
use standpipe_client::feed::map::ColumnMap;
use standpipe_client::feed::reading::{Means, Reader};
use std::hint::black_box;
use std::path::Path;
use std::time::{Duration, Instant};

/// Bytes of a piece, as they come through a pipe.
const PIECE_BYTES: usize = 4_096;

/// Times how many lines a second a run over all of them makes.
fn per_second(lines: usize, measure: Duration, mut run: impl FnMut()) -> f64 {
    let (started, mut runs) = (Instant::now(), 0);
    while runs < 3 || started.elapsed() < measure {
        run();
        runs += 1;
    }
    (runs * lines) as f64 / started.elapsed().as_secs_f64()
}

pub fn run(effort: Effort) {
    let deploy = Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().join("deploy");
    let map = ColumnMap::read(&deploy.join("feed-sample.toml")).unwrap();
    let text = std::fs::read(deploy.join("feed-sample.csv")).unwrap();
    let lines = text.iter().filter(|byte| **byte == b'\n').count();
    let all = per_second(lines, effort.measure, || {
        let (mut cut, mut reader) = (Lines::default(), Reader::new(map.clone()));
        let options = BinnerOptions { size: map.bin, has_own_times: true, may_reset: false };
        let mut binner = Binner::new(options);
        let mut stated = 0;
        let mut note = |actions: Vec<_>| {
            for action in actions {
                if let standpipe_client::feed::binner::Action::State(bin) = action {
                    stated += black_box(facts(&map, &bin)).len();
                }
            }
        };
        for piece in text.chunks(PIECE_BYTES) {
            for line in cut.take(piece) {
                let Some(text) = line.text else { continue };
                if let Means::Reading(reading, _) = reader.read(&text).unwrap() {
                    note(binner.step(Event::Read { line: line.number, reading }, 0));
                }
            }
        }
        note(binner.step(Event::Ended { is_last: false }, 0));
        black_box(stated);
    });
    let ends = per_second(lines, effort.measure, || {
        let mut cut = Lines::default();
        for piece in text.chunks(PIECE_BYTES) {
            black_box(cut.take(piece));
        }
    });
    println!(
        "feed: {all:.0} lines/s read and binned, {:.2} of finding their ends alone (target ≥ 50 000 lines/s: a serial line at \
         921 600 bits a second gives 3 000)",
        all / ends
    );
}
