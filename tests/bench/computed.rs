//! One view of a long job, one record of a normal job, both warm.

use crate::{Effort, Figure};
use standpipe_engine::catalogue::Revision;
use standpipe_engine::job::{self, Context, Recorded};
use standpipe_engine::site::SiteFacts;
use standpipe_engine::view::JobView;
use standpipe_proto::v1::fact::Kind;
use standpipe_tests::sealed::{START_US, Sealed, Sealer};
use standpipe_tests::{facts, site};
use std::hint::black_box;
use std::time::{Duration, Instant};

/// Entries of a long job, and of one that no workshop will ever see.
const LONG: [(usize, &str); 2] = [(300, "≤ 1 ms"), (10_000, "≤ 25 ms")];

fn revision() -> Revision {
    let files = ["workshop.toml", "alder-8.toml"]
        .map(|name| (name.to_owned(), std::fs::read(site::catalogue().join(name)).unwrap()));
    Revision::parse(files.to_vec()).unwrap()
}

fn sealed_job(kinds: Vec<Kind>) -> Vec<Sealed> {
    let mut sealer = Sealer::new("bay-1", 1);
    let job = sealer.job(1);
    kinds.into_iter().map(|kind| sealer.seal(&job, kind)).collect()
}

fn compute(revision: &Revision, entries: &[Sealed]) -> JobView {
    let recorded: Vec<Recorded<'_>> = entries
        .iter()
        .zip(1..)
        .map(|(entry, seq)| Recorded { seq, received_us: START_US, leaf_hash: [7; 32], bytes: &entry.bytes })
        .collect();
    let context = Context {
        revision,
        adopted_at: 0,
        revision_id: "",
        job_id: "",
        number: "HL-26-0042",
        site_name: "Harbour Lane",
        names: &[],
        persons: true,
        earlier: &[],
        extracts: standpipe_engine::photo::Extracts::none(),
        site: &SiteFacts::default(),
        site_up_to: 0,
        newer: None,
        as_of_us: START_US,
    };
    job::view(&context, &recorded)
}

pub fn timed(times: usize, mut run: impl FnMut()) -> Figure {
    run();
    let start = Instant::now();
    let each: Vec<Duration> = (0..times)
        .map(|_| {
            let one = Instant::now();
            run();
            one.elapsed()
        })
        .collect();
    Figure::of(each, start.elapsed())
}

pub fn view(effort: Effort) {
    let revision = revision();
    for (long, aim) in LONG {
        let mut kinds = facts::whole_service();
        let closing = kinds.pop().unwrap();
        while kinds.len() < long - 1 {
            kinds.push(facts::temperature(43.0));
        }
        kinds.push(closing);
        let entries = sealed_job(kinds);
        assert_eq!(entries.len(), long);
        let figure = timed(effort.renders * 300 / long.max(300), || {
            black_box(compute(&revision, &entries));
        });
        print(&format!("view of a job of {long} entries"), figure, aim);
    }
}

pub fn record(effort: Effort) {
    let revision = revision();
    let view = compute(&revision, &sealed_job(facts::whole_service()));
    let options = standpipe_report::Options::default();
    let figure = timed(effort.renders, || {
        black_box(standpipe_report::render(&view, &options).unwrap());
    });
    print("record of two pages", figure, "≤ 8 ms");
}

fn print(what: &str, figure: Figure, aim: &str) {
    let milliseconds = |time: Duration| time.as_secs_f64() * 1e3;
    println!(
        "{what}, warm: median {:.2} ms, p99 {:.2} ms (aimed at: {aim})",
        milliseconds(figure.median),
        milliseconds(figure.p99)
    );
}
