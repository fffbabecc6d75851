//! A catalogue of 5,000 variants with 50,000 VIN rules: a VIN settled by its index, beside the plain loop over the same
//! rules in the same run; and how long reading and looking it through take.

use crate::Effort;
use crate::computed::timed;
use standpipe_engine::catalogue::vin_rule::{VinRule, fitting};
use standpipe_engine::catalogue::{Revision, remarks};
use standpipe_engine::formula::vin::Vin;
use std::fmt::Write as _;
use std::hint::black_box;
use std::time::Instant;

const FILES: usize = 125;
const VARIANTS: usize = 40;
const RULES: usize = 10;
const LETTERS: &[u8] = b"ABCDEFGHJKLMNPRSTUVWXYZ0123456789";

/// The letter of a number, in turn.
fn letter(number: usize) -> char {
    LETTERS[number % LETTERS.len()].into()
}

/// Four places that tell a variant from all others.
fn places(file: usize, variant: usize) -> String {
    let turns = LETTERS.len();
    [file, file / turns, variant, variant / turns].map(letter).iter().collect()
}

/// The pattern of a transmission's variant: alike in the first places, as makers' are.
fn pattern(file: usize, variant: usize, rule: usize) -> String {
    format!("AZ[ST]*{}*[JKL{}]*******", places(file, variant), letter(20 + rule % 5))
}

fn files() -> Vec<(String, Vec<u8>)> {
    let mut all = vec![("workshop.toml".to_owned(), b"name = \"Harbour Lane\"\n".to_vec())];
    for file in 0..FILES {
        let mut text =
            format!("name = \"Elm {file}\"\nmaker = \"Tarnwick\"\nsource = \"invented\"\nedition = \"1\"\n");
        for variant in 0..VARIANTS {
            write!(
                text,
                "\n[[variant]]\ncode = \"E{file:03}-{variant:02}\"\nlabel = \"{variant}\"\nfluid_code = \"LN-847\"\n\
                 fluid_name = \"Linden\"\ndensity_at_15_celsius_kilograms_per_cubic_metre = 847.0\n\
                 total_fill_litres = 9.0\nlevel_from_celsius = 40.0\nlevel_to_celsius = 50.0\n\
                 level_method = \"standpipe_overflow\"\n"
            )
            .unwrap();
            for rule in 0..RULES {
                let from = 100_000 * rule;
                write!(
                    text,
                    "\n[[variant.vin_rule]]\ncode = \"{file:03}-{variant:02}-{rule}\"\npattern = \"{}\"\n\
                     serial_from = {from}\nserial_to = {}\nentered_by = \"office B\"\n",
                    pattern(file, variant, rule),
                    from + 99_999
                )
                .unwrap();
            }
        }
        all.push((format!("elm-{file}.toml"), text.into_bytes()));
    }
    all
}

pub fn settled(effort: Effort) {
    let files = files();
    let bytes: usize = files.iter().map(|(_, content)| content.len()).sum();
    let start = Instant::now();
    let revision = Revision::parse(files).unwrap();
    let read = start.elapsed();
    let start = Instant::now();
    let found = remarks(&revision);
    let looked = start.elapsed();
    let rules: Vec<&VinRule> = revision.variants().iter().flat_map(|variant| &variant.vin_rules).collect();
    let vins: Vec<Vin> = (0..64)
        .map(|number| {
            let (file, variant) = (number * 7 % FILES, number % VARIANTS);
            let text = format!("AZTW{}4JA{:06}", places(file, variant), number * 15_431 % 1_000_000);
            Vin::from_exact(&text).unwrap()
        })
        .collect();
    let mut turn = (0..).map(|number: usize| &vins[number % vins.len()]);
    let by_index = timed(effort.renders * 20, || {
        black_box(revision.match_vin(turn.next().unwrap()));
    });
    let by_loop = timed(effort.renders, || {
        black_box(fitting(rules.iter().copied(), turn.next().unwrap()));
    });
    println!("catalogue ({} variants, {} VIN rules, {bytes} bytes)", revision.variants().len(), rules.len());
    println!("{:>16} {:>11} {:>11} {:>13}", "VIN settled", "p50 µs", "p99 µs", "p50/plain loop");
    println!(
        "{:>16} {:>11.1} {:>11.1} {:>13.3}",
        "",
        by_index.median.as_secs_f64() * 1e6,
        by_index.p99.as_secs_f64() * 1e6,
        by_index.median.as_secs_f64() / by_loop.median.as_secs_f64(),
    );
    println!(
        "read in {:.2} s, looked through in {:.2} s ({} overlaps listed)",
        read.as_secs_f64(),
        looked.as_secs_f64(),
        found.overlaps.len()
    );
    println!("aimed at: a VIN settled ≤ 1 ms, read and looked through within a few seconds");
}
