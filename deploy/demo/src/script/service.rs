//! The exchange through the cooler line, the pan, the refill.

use super::{granted, read_caution, sent, state, told_now};
use crate::DemoError;
use crate::scene::{Scene, say};
use standpipe_client::words::read_fact;
use standpipe_client::{Change, SendEnd};
use std::io::Write;

/// What each procedure would bring, before anything is opened. What was smelt speaks for the pan first; the technician
/// may still take the exchange first.
pub(super) async fn plan(scene: &mut Scene, tell: &mut dyn Write) -> Result<(), DemoError> {
    let job = scene.bay_1.current_job()?;
    let plan = scene.bay_1.plan(&job, None).await?;
    if plan.choices.len() < 3 || plan.advice.is_empty() {
        return Err(DemoError::Wrong(format!("the plan compares {} procedures", plan.choices.len())));
    }
    for choice in &plan.choices {
        let [share, least, greatest] =
            [choice.new_share, choice.new_share_least, choice.new_share_greatest].map(|share| share * 100.0);
        let used = choice.volume_litres;
        let line = format!(
            "plan: {} with {used:.1} L: {share:.0} of 100 parts new (from {least:.0} to {greatest:.0})",
            choice.name
        );
        say(tell, &line)?;
    }
    say(tell, &format!("plan: {}", plan.advice))
}

/// Four looks through comparison tubes; the network goes away in the middle.
pub(super) async fn exchange(scene: &mut Scene, tell: &mut dyn Write) -> Result<(), DemoError> {
    look(scene, &["--volume-in=0.0 L"])?;
    look(scene, &["--volume-in=3.0 L", "--tube=25 %"])?;
    sent(&mut scene.bay_1).await?;
    told_now(&mut scene.bay_1, tell).await?;
    scene.cable.pull();
    look(scene, &["--volume-in=6.0 L", "--tube=50 %"])?;
    look(scene, &["--volume-in=9.0 L", "--tube=75 %"])?;
    let report = scene.bay_1.send().await?;
    if report.waiting != 2 || !matches!(report.end, SendEnd::Later { .. }) {
        return Err(DemoError::Wrong(format!("without a network {} entries wait, not 2", report.waiting)));
    }
    say(tell, &format!("bay-1: cable pulled, {} entries kept unsent on this bay", report.waiting))?;
    scene.cable.put_back();
    let sent_later = sent(&mut scene.bay_1).await?;
    say(tell, &format!("bay-1: cable back, {sent_later} entries sent and acknowledged"))?;
    told_now(&mut scene.bay_1, tell).await?;
    let end = ["--volume-in=12.0 L", "--tube=75 %", "--volume-out=11.9 L", "--temperature=62 °C", "--last"];
    look(scene, &end)?;
    sent(&mut scene.bay_1).await?;
    scene.clock.pass(60);
    // Drawn before the level is set: later it would change it.
    let sample = ["--colour=as-fresh", "--clouding=clear", "--smell=as-fresh", "--specks=none"];
    let drawn = ["--moment=after", "--place=cooler-line", "--temperature=62 °C"];
    state(&mut scene.bay_1, "fluid-sample", &[&drawn[..], &sample[..]].concat())?;
    scene.clock.pass(180);
    state(&mut scene.bay_1, "condition-confirmed", &["--conditions=engine-off,line-closed"])?;
    read_caution(&mut scene.bay_1, "pan-and-hot")?;
    granted(&mut scene.bay_1, "pan", tell).await
}

/// The pan is weighed at bay-2, once with the tray on the scale.
pub(super) async fn pan(scene: &mut Scene, tell: &mut dyn Write) -> Result<(), DemoError> {
    let weighed = |mass: &'static str| ["--place=pan", mass, "--means=scale", "--debris=fine-grey-paste"];
    scene.clock.pass(360);
    let wrong = state(&mut scene.bay_2, "drain", &weighed("--mass=3.30 kg"))?;
    sent(&mut scene.bay_2).await?;
    scene.clock.pass(120);
    let original = scene.bay_2.find_entry(&wrong.entry_id, None).await?;
    let right = read_fact("drain", &weighed("--mass=3.05 kg"))?;
    let change = Change::Replace(Box::new(right.fact));
    scene.bay_2.correct(&original, change, "scale had the tray on it", right.as_typed)?;
    sent(&mut scene.bay_2).await?;
    say(tell, "bay-2: 3.30 kg drained, corrected to 3.05 kg: scale had the tray on it")?;
    let Scene { clock, bay_1, .. } = scene;
    clock.pass(60);
    state(bay_1, "part-checked", &["--part=standpipe", "--code=SP-68"])?;
    clock.pass(60);
    state(bay_1, "part-checked", &["--part=old-filter", "--code=F8-20"])?;
    clock.pass(600);
    state(
        bay_1,
        "part-fitted",
        &["--kit=K8-20", "--lot=K-77", "--fitted=filter,pan-seal,magnets,pan-screws"],
    )?;
    clock.pass(300);
    let screws = ["--group=pan", "--screw-count=13", "--new-screw-count=13", "--torque=9 Nm"];
    state(bay_1, "tightening", &[&screws[..], &["--order-kept=yes", "--tool=TW-1"]].concat())?;
    sent(bay_1).await?;
    say(tell, "bay-1: standpipe long as it should be; filter, seal, magnets and 13 screws are new")
}

/// Refilled is what ran out.
pub(super) async fn refill(scene: &mut Scene, tell: &mut dyn Write) -> Result<(), DemoError> {
    granted(&mut scene.bay_1, "refill", tell).await?;
    scene.clock.pass(420);
    let weighed = ["--purpose=refill", "--mass=3.07 kg", "--means=scale"];
    state(&mut scene.bay_2, "fill", &[&weighed[..], &["--fluid-code=LN-847", "--lot=L-2209"]].concat())?;
    sent(&mut scene.bay_2).await?;
    let Scene { clock, bay_1, .. } = scene;
    clock.pass(90);
    state(bay_1, "condition-confirmed", &["--conditions=pan-closed,tools-and-people-clear"])?;
    granted(bay_1, "start-engine", tell).await
}

fn look(scene: &mut Scene, flags: &[&str]) -> Result<(), DemoError> {
    scene.clock.pass(180);
    state(&mut scene.bay_1, "exchange-reading", flags).map(|_| ())
}
