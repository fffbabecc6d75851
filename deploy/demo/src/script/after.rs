//! Gears, level, plug, drive, waste, closing; the record is issued and handed over.

use super::{granted, read_caution, sent, state, told_now};
use crate::outcome::{self, Outcome};
use crate::scene::{Scene, say};
use crate::{DemoError, folder};
use std::io::Write;

/// Too hot first; valid when it has cooled into the window.
pub(super) async fn level(scene: &mut Scene, tell: &mut dyn Write) -> Result<(), DemoError> {
    let Scene { clock, bay_1, .. } = scene;
    clock.pass(60);
    read_caution(bay_1, "gears-and-level")?;
    state(bay_1, "gear-cycle", &["--driver-person-code=A", "--nobody-under-vehicle=yes"])?;
    clock.pass(600);
    let stands = ["--means=scan-tool", "--engine-idling=yes", "--vehicle-level=yes", "--selector=park"];
    let hot = ["--temperature=61 °C", "--overflow=stream"];
    state(bay_1, "level-check", &[&hot[..], &stands[..]].concat())?;
    sent(bay_1).await?;
    if !level_is_open(scene).await? {
        return Err(DemoError::Wrong("a level read too hot counts".to_owned()));
    }
    say(tell, "bay-1: level looked at with 61 °C: too hot, does not count")?;
    told_now(&mut scene.bay_1, tell).await?;
    let Scene { clock, bay_1, .. } = scene;
    clock.pass(1500);
    let read = ["--temperature=43 °C", "--place=transmission-fluid", "--means=scan-tool"];
    state(bay_1, "temperature-reading", &read)?;
    clock.pass(20);
    granted(bay_1, "level", tell).await?;
    clock.pass(40);
    let drops = ["--temperature=43 °C", "--overflow=drops", "--caught=0.12 L"];
    state(bay_1, "level-check", &[&drops[..], &stands[..]].concat())?;
    sent(bay_1).await?;
    if level_is_open(scene).await? {
        return Err(DemoError::Wrong("a level read inside the window does not count".to_owned()));
    }
    say(tell, "bay-1: level looked at with 43 °C: drops, counts")
}

/// Plug, leaks, codes, drive.
pub(super) async fn drive(scene: &mut Scene, tell: &mut dyn Write) -> Result<(), DemoError> {
    let Scene { clock, bay_1, .. } = scene;
    clock.pass(60);
    state(bay_1, "plug-closed", &["--seal-new=yes", "--torque=22 Nm", "--tool=TW-1"])?;
    clock.pass(180);
    state(bay_1, "leak-check", &["--found=dry", "--line-closed=yes"])?;
    state(bay_1, "condition-confirmed", &["--conditions=lowered"])?;
    clock.pass(120);
    state(bay_1, "fault-codes", &["--moment=after", "--state=none", "--adaptation-done=yes"])?;
    granted(bay_1, "road-test", tell).await?;
    clock.pass(900);
    state(bay_1, "road-test", &["--moment=after", "--ticks=normal", "--warmth=warm"])?;
    clock.pass(240);
    state(bay_1, "leak-check", &["--found=dry", "--line-closed=yes", "--after-drive"])?;
    sent(bay_1).await?;
    say(tell, "bay-1: plug closed with a new seal, dry; no codes; driven: changes as it should; dry again")
}

/// Waste, closing, figures; the office issues the record and hands it over.
pub(super) async fn hand_over(scene: &mut Scene, tell: &mut dyn Write) -> Result<Outcome, DemoError> {
    let Scene { clock, bay_1, .. } = scene;
    clock.pass(180);
    state(bay_1, "waste", &["--kind=used-fluid", "--volume=15.2 L", "--container=drum 1"])?;
    state(bay_1, "waste", &["--kind=filter", "--piece-count=1"])?;
    granted(bay_1, "close", tell).await?;
    clock.pass(120);
    state(bay_1, "closing", &["--outcome=done", "--odometer=118254 km"])?;
    sent(bay_1).await?;
    let job = scene.office.current_job()?;
    let shown = scene.office.show(&job).await?;
    outcome::check(&shown)?;
    let figures: Vec<String> =
        shown.figures.iter().map(|figure| format!("{}: {}", figure.label, figure.text)).collect();
    for figure in &figures {
        say(tell, figure)?;
    }
    scene.clock.pass(300);
    let issued = scene.office.issue(&job).await?;
    let path = folder::record(&scene.dir);
    std::fs::write(&path, &issued.pdf).map_err(DemoError::io("writing the record"))?;
    say(
        tell,
        &format!(
            "office: edition {} of the record of job {} issued: {}, check value {}",
            issued.edition,
            job.number,
            path.display(),
            issued.check_value
        ),
    )?;
    scene.clock.pass(120);
    let edition = issued.edition.to_string();
    state(&mut scene.office, "handover", &["--edition", &edition])?;
    sent(&mut scene.office).await?;
    say(tell, "office: vehicle and record handed over")?;
    Ok(Outcome { number: job.number, record: issued.pdf, check_value: issued.check_value, figures })
}

/// Whether the go-ahead for the drive still waits for a level that counts.
async fn level_is_open(scene: &mut Scene) -> Result<bool, DemoError> {
    let job = scene.bay_1.current_job()?;
    let answer = scene.bay_1.may(&job, "road-test").await?;
    Ok(answer.missing.iter().any(|missing| missing.key == "level-set"))
}
