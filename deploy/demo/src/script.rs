//! What happens in the demo, step by step, as a technician and an office would do it.
//!
//! Facts are stated with the flags that `standpipe add` takes, so that the demo goes the way of a bay. [`store`] is
//! what the workshop has at hand, [`before`] the work up to the first go-ahead, [`service`] the exchange and the pan, [`after`] the level and all that follows; [`mishap`]
//! is a short job of another workshop in which something goes wrong.

mod after;
mod before;
pub(crate) mod mishap;
mod service;
mod store;

use crate::DemoError;
use crate::outcome::Outcome;
use crate::scene::{Scene, say};
use standpipe_client::words::read_fact;
use standpipe_client::{Kept, SendEnd, Station};
use std::io::Write;

/// Plays the whole job and checks what comes out.
pub(crate) async fn play(scene: &mut Scene, tell: &mut dyn Write) -> Result<Outcome, DemoError> {
    store::keep(scene, tell).await?;
    before::book_in(scene, tell).await?;
    before::identify(scene, tell).await?;
    before::look_and_drive(scene, tell).await?;
    before::compare(scene, tell).await?;
    service::plan(scene, tell).await?;
    service::exchange(scene, tell).await?;
    service::pan(scene, tell).await?;
    service::refill(scene, tell).await?;
    after::level(scene, tell).await?;
    after::drive(scene, tell).await?;
    after::hand_over(scene, tell).await
}

/// States a fact at a station.
fn state(station: &mut Station, kind: &str, flags: &[&str]) -> Result<Kept, DemoError> {
    let read = read_fact(kind, flags)?;
    Ok(station.add(read.fact, read.as_typed, None)?)
}

/// States a fact of the site at a station.
fn state_of_site(station: &mut Station, kind: &str, flags: &[&str]) -> Result<Kept, DemoError> {
    let read = read_fact(kind, flags)?;
    Ok(station.add_of_site(read.fact, read.as_typed, None)?)
}

/// Acknowledges the cautions of a group.
fn read_caution(station: &mut Station, group: &str) -> Result<(), DemoError> {
    state(station, "caution-read", &["--group", group]).map(|_| ())
}

/// Sends all that waits; anything left is wrong.
async fn sent(station: &mut Station) -> Result<usize, DemoError> {
    let report = station.send().await?;
    if report.end == SendEnd::Done && report.waiting == 0 && report.refused.is_empty() {
        Ok(report.sent.len())
    } else {
        Err(DemoError::Wrong(format!("{} entries still wait: {:?}", report.waiting, report.end)))
    }
}

/// Tells what the server says comes first at the bay now; nothing is wrong.
async fn told_now(station: &mut Station, tell: &mut dyn Write) -> Result<(), DemoError> {
    let job = station.current_job()?;
    let now = station.show(&job).await?.now;
    match now.first() {
        Some(first) => say(tell, &format!("bay-1 is told: {first}")),
        None => Err(DemoError::Wrong("the server says nothing of what to do now".to_owned())),
    }
}

/// Sends, asks a gate and takes no other answer than yes.
async fn granted(station: &mut Station, gate: &str, tell: &mut dyn Write) -> Result<(), DemoError> {
    sent(station).await?;
    let answer = station.may(&station.current_job()?, gate).await?;
    if !answer.yes {
        let why: Vec<&str> = answer.missing.iter().map(|missing| missing.text.as_str()).collect();
        return Err(DemoError::Wrong(format!("no go-ahead for {gate}: {}", why.join(" "))));
    }
    say(tell, &format!("bay-1: may {gate}? yes: {}", answer.basis.join(" ")))
}
