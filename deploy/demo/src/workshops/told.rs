//! What the demo of several workshops says: what was drawn, what was planted, what to try.

use super::Asked;
use super::owner::{Owner, PERSON};
use super::places::{Played, Shop};
use crate::DemoError;
use crate::scene::{OFFICE_PIN, say};
use crate::year::{Fault, Planted};
use std::io::Write;

/// Says what was drawn.
pub(super) fn drawn(
    sites: &[(String, String)],
    jobs: usize,
    asked: &Asked,
    tell: &mut dyn Write,
) -> Result<(), DemoError> {
    let (count, months, seed) = (sites.len(), asked.months, asked.seed);
    say(
        tell,
        &format!("Drawn: {jobs} jobs of {count} workshops in {months} months up to now, with seed {seed}."),
    )
}

/// Says that a workshop's journal is at the owner's.
pub(super) fn level(shop: &Shop, entries: u64, tell: &mut dyn Write) -> Result<(), DemoError> {
    say(tell, &format!("{}: all {entries} entries are at the owner's server.", shop.name))
}

/// Says what was planted and how to look at it.
pub(super) fn what_to_try(
    owner: &Owner,
    planted: &[Planted],
    played: &[Played],
    asked: &Asked,
    tell: &mut dyn Write,
) -> Result<(), DemoError> {
    say(tell, "")?;
    say(tell, "Planted in the drawn year:")?;
    for fault in planted {
        say(tell, &format!("  {}", in_words(fault)))?;
    }
    say(tell, "Gone wrong in a job that was played:")?;
    for job in played.iter().filter(|job| !job.wrong.is_empty()) {
        say(tell, &format!("  {} ({}), job {}: {}", job.name, job.site, job.number, job.wrong))?;
    }
    say(tell, "")?;
    let address = owner.server.addr;
    say(tell, &format!("The owner's server is {address}, its folder {}", owner.dir.display()))?;
    say(tell, &format!("Pages: http://{address}/ as person {PERSON} with PIN {OFFICE_PIN}"))?;
    say(tell, "While it serves (with --stay), try:")?;
    say(tell, &format!("  export STANDPIPE_HOME='{}'", owner.home().display()))?;
    for command in [
        format!("standpipe tally --months {}", asked.months),
        format!("standpipe owner-sheet -o owner.pdf --months {}", asked.months),
        format!("standpipe tally owner-site 'Workshop 01' --months {}", asked.months),
        format!("standpipe tally owner-jobs --months {} --output csv > jobs.csv", asked.months),
    ] {
        say(tell, &format!("  {command}"))?;
    }
    Ok(())
}

fn in_words(planted: &Planted) -> String {
    let Planted { fault, site, equipment, from_month } = planted;
    let number = site.trim_start_matches("site-");
    let what = match fault {
        Fault::LitreLost => "a litre a job is lost".to_owned(),
        Fault::LotMixedUp => "a lot of another fluid gets into some jobs".to_owned(),
        Fault::WrenchPastCheck => "torque tool TW-7 is used past its check".to_owned(),
        Fault::DisplayOff => {
            format!("the display of {equipment} shows 3 % too much and nobody checks it")
        }
    };
    format!("Workshop {number} ({site}) from {from_month} on: {what}")
}
