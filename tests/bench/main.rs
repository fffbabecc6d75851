//! Ratios taken in one run: intake against this disk's sync rate and against the same rows written
//! straight through sqlx; the questions against a health check; one view, one record; a search among a hundred
//! thousand jobs; one more look, against the same fits in scipy; what TLS and connections that wait cost; what an owner's
//! server does with the journals of its workshops.
//!
//!     cargo bench -p standpipe-tests -- --quick [FILTER]
//!
//! Nothing is asserted: a slow machine is not a wrong program. The targets stand beside the figures.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]
#![allow(missing_docs)]

mod bay;
mod catalogue;
mod computed;
mod disk;
mod engine;
mod feed;
mod idle;
mod intake;
mod join;
mod may;
mod next;
mod owner;
mod photo;
mod search;
mod stores;
mod straight;
mod tls;

use std::time::Duration;

/// How long each figure is measured.
#[derive(Debug, Clone, Copy)]
pub struct Effort {
    pub measure: Duration,
    pub renders: usize,
}

/// Rate and two quantiles of one measurement.
#[derive(Debug, Clone, Copy)]
pub struct Figure {
    pub per_second: f64,
    pub median: Duration,
    pub p99: Duration,
}

impl Figure {
    pub fn of(mut times: Vec<Duration>, took: Duration) -> Self {
        times.sort_unstable();
        let at = |part: f64| times[((times.len() - 1) as f64 * part).round() as usize];
        Self { per_second: times.len() as f64 / took.as_secs_f64(), median: at(0.5), p99: at(0.99) }
    }
}

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    if arguments.iter().any(|argument| argument == "--help") {
        println!(
            "cargo bench -p standpipe-tests -- [--quick] [FILTER]   FILTER: intake, tls, idle, join, next, bay, may, view, record, search, engine, photo, catalogue, feed, stores, owner"
        );
        return;
    }
    standpipe_tests::programs::bring_up_to_date();
    let quick = arguments.iter().any(|argument| argument == "--quick");
    let filter = arguments.iter().find(|argument| !argument.starts_with("--"));
    let wanted = |name: &str| filter.is_none_or(|filter| name.contains(filter.as_str()));
    let effort = Effort {
        measure: Duration::from_millis(if quick { 1_500 } else { 6_000 }),
        renders: if quick { 200 } else { 1_000 },
    };
    let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build().unwrap();
    if wanted("intake") {
        runtime.block_on(intake::run(effort));
    }
    if wanted("stores") {
        runtime.block_on(stores::run(effort));
    }
    if wanted("owner") {
        runtime.block_on(owner::run(effort, quick));
    }
    if wanted("tls") {
        runtime.block_on(tls::run(effort));
    }
    if wanted("idle") {
        runtime.block_on(idle::run());
    }
    if wanted("join") {
        runtime.block_on(join::run(effort));
    }
    if wanted("photo") {
        photo::run(effort);
    }
    if wanted("search") {
        runtime.block_on(search::run(effort));
    }
    if wanted("next") {
        runtime.block_on(next::run(effort));
    }
    if wanted("bay") {
        runtime.block_on(bay::run(effort));
    }
    if wanted("may") {
        runtime.block_on(may::run(effort));
    }
    if wanted("engine: view") {
        computed::view(effort);
    }
    if wanted("engine: look") {
        engine::one_more_look(effort);
    }
    if wanted("catalogue") {
        catalogue::settled(effort);
    }
    if wanted("feed") {
        feed::run(effort);
    }
    if wanted("record") {
        computed::record(effort);
    }
}
