//! One more look with twelve before it: both ways of flowing fitted, weighted, and the share now and later; and the
//! same two fits in scipy, which is set up beside the build where no `python3` on the path has it.

use crate::{Effort, computed::timed};
use standpipe_engine::formula::exchange::Look;
use standpipe_engine::formula::flow::{Flow, Tanks};
use standpipe_engine::formula::forecast::{Known, assess};
use standpipe_engine::formula::seen::Seen;
use standpipe_engine::quantity::{Estimate, Litres, Share};
use std::hint::black_box;
use std::path::Path;
use std::process::Command;

/// Two fits with the same priors and readings, timed; prints the median in seconds.
const IN_SCIPY: &str = include_str!("fit.py");

/// What scipy says, from a `python3` that has it; else from one that is set up for it beside the build.
fn in_scipy(old: &str) -> Option<f64> {
    let ask = |python: &Path| {
        let answer = Command::new(python).args(["-c", IN_SCIPY, old]).output().ok()?;
        String::from_utf8(answer.stdout).ok()?.trim().parse::<f64>().ok()
    };
    if let Some(median) = ask(Path::new("python3")) {
        return Some(median);
    }
    let beside = Path::new(env!("CARGO_TARGET_TMPDIR")).join("scipy");
    let python = beside.join("bin/python3");
    if !python.exists() {
        println!("setting up a python with scipy beside the build, once");
        Command::new("python3").args(["-m", "venv"]).arg(&beside).status().ok()?;
    }
    let median = ask(&python);
    if median.is_some() {
        return median;
    }
    Command::new(&python).args(["-m", "pip", "install", "--quiet", "scipy==1.17.1"]).status().ok()?;
    ask(&python)
}

pub fn one_more_look(effort: Effort) {
    let flow = Tanks::new(9.0, 1.7).unwrap();
    // A fixed pattern of reading errors, so that the fits have some way to go.
    let error = |look: i32| 0.02 * f64::from(look * 7 % 5 - 2) / 2.0;
    let taken: Vec<Seen> = (1..=13)
        .map(|look| {
            let litres = f64::from(look);
            let new_share = Share::new((1.0 - flow.outlet(litres) + error(look)).clamp(0.0, 1.0)).unwrap();
            let look = Look { litres: Litres::new(litres).unwrap(), new_share, standard_uncertainty: 0.02 };
            Seen { look, saturated: false }
        })
        .collect();
    let known = Known {
        taken: &taken,
        pushed: Litres::new(13.0).unwrap(),
        hose: Litres::new(0.0).unwrap(),
        fill: Some(Estimate::known(9.0, 0.45)),
        display_relative_uncertainty: 0.0,
        reference_relative_uncertainty: 0.0,
        common_part: 0.0,
    };
    let figure = timed(effort.renders * 5, || {
        let forecast = assess(black_box(&known)).forecast.unwrap();
        black_box((forecast.share_now(), forecast.share_at(14.0)));
    });
    let ours = figure.median.as_secs_f64();
    println!(
        "one more look with 12 before it: median {:.3} ms, p99 {:.3} ms (aimed at: ≤ 0.3 ms)",
        ours * 1e3,
        figure.p99.as_secs_f64() * 1e3
    );
    let old: Vec<String> = taken.iter().map(|seen| (1.0 - seen.look.new_share.get()).to_string()).collect();
    match in_scipy(&old.join(",")) {
        Some(theirs) => println!(
            "the same two fits in scipy: median {:.3} ms, {:.0} times as long",
            theirs * 1e3,
            theirs / ours
        ),
        None => {
            println!("the same two fits in scipy: not measured, no python3 that has scipy or can install it")
        }
    }
}
