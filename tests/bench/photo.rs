//! From the bytes of a photo of twelve million pixels to the share of new fluid, against decoding it alone.

use crate::{Effort, Figure};
use standpipe_engine::photo::sheet::Layout;
use standpipe_engine::photo::{Outcome, extract, share};
use standpipe_tests::scene::Scene;
use std::hint::black_box;
use std::time::Instant;

pub fn run(effort: Effort) {
    for (what, layout) in [("photo, bottles", Layout::Bottles), ("photo, tubes", Layout::Tubes)] {
        let scene = Scene { size: (4_000, 3_000), quality: 90, ..Scene::drawn(layout, 12) };
        let bytes = scene.jpeg();
        let decode = timed(effort, || image::load_from_memory(&bytes).unwrap().width());
        let read = timed(effort, || match extract(&bytes) {
            Outcome::Read(extract) => share::share(&extract).map(|share| share.new_share).unwrap_or_default(),
            Outcome::NotRead(fault) => panic!("{fault:?}"),
        });
        let milliseconds = |figure: &Figure| figure.median.as_secs_f64() * 1e3;
        println!(
            "{what:>28}: 12 Mpx, {:.1} MB: read {:.0} ms, decoded alone {:.0} ms, ratio {:.2} (target 150 ms on a quiet machine)",
            bytes.len() as f64 / 1e6,
            milliseconds(&read),
            milliseconds(&decode),
            milliseconds(&read) / milliseconds(&decode)
        );
    }
}

fn timed<T>(effort: Effort, mut work: impl FnMut() -> T) -> Figure {
    let (begun, mut times) = (Instant::now(), Vec::new());
    while times.len() < 3 || begun.elapsed() < effort.measure {
        let start = Instant::now();
        black_box(work());
        times.push(start.elapsed());
    }
    Figure::of(times, begun.elapsed())
}
