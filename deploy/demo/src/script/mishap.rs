//! Short jobs in which something goes wrong that only shows when workshops are looked at together: a litre that nobody
//! accounts for, a torque tool that turns out to be off.
//!
//! No go-ahead is asked: facts are never refused for being inconvenient, and these were stated.

use super::store::{EQUIPMENT, TORQUE_TOOL};
use super::{sent, state, state_of_site, store};
use crate::DemoError;
use crate::scene::{Scene, say};
use standpipe_client::words::read_fact;
use standpipe_proto::v1::fact::Kind;
use std::io::Write;

/// What goes wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Mishap {
    /// More goes in than comes out, and the level is never set.
    LitreUnaccounted,
    /// The check after the job finds the torque tool out of its limits.
    ToolOff,
}

impl Mishap {
    /// In words.
    pub(crate) fn in_words(self) -> &'static str {
        match self {
            Self::LitreUnaccounted => {
                "about a litre and a half more went in than came out, and the level was never set"
            }
            Self::ToolOff => "the check after it found the torque tool out of its limits",
        }
    }
}

/// A vehicle as its papers have it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Vehicle {
    pub(crate) plate: &'static str,
    /// With its check digit (ISO 3779).
    pub(crate) vin: &'static str,
}

/// Plays such a job; gives its number.
pub(crate) async fn play(
    scene: &mut Scene,
    vehicle: &Vehicle,
    mishap: Mishap,
    tell: &mut dyn Write,
) -> Result<String, DemoError> {
    store::keep(scene, tell).await?;
    let number = book_in(scene, vehicle).await?;
    exchange(scene, vehicle)?;
    pan(scene, mishap)?;
    level(scene, mishap)?;
    close(scene).await?;
    if mishap == Mishap::ToolOff {
        scene.clock.pass(3_600);
        let tool = ["--tool", TORQUE_TOOL, "--kind=torque-tool", "--event=checked", "--certificate=C-131"];
        let range = ["--least=4 Nm", "--greatest=25 Nm", "--limit=4 %"];
        let read = ["--torque", "5Nm 5.6Nm", "--torque", "15Nm 16.9Nm", "--torque", "25Nm 28.2Nm"];
        state_of_site(&mut scene.office, "tool-checked", &[&tool[..], &range[..], &read[..]].concat())?;
        sent(&mut scene.office).await?;
    }
    say(tell, &format!("job {number}: {}", mishap.in_words()))?;
    Ok(number)
}

async fn book_in(scene: &mut Scene, vehicle: &Vehicle) -> Result<String, DemoError> {
    let plate = format!("--plate={}", vehicle.plate);
    let of_vehicle = ["--vehicle-maker=Tarnwick", "--vehicle-model=Fell", "--odometer=92110 km"];
    let arrival =
        read_fact("arrival", &[&[plate.as_str(), "--reasons=service-due"], &of_vehicle[..]].concat())?;
    let Some(Kind::Arrival(stated)) = arrival.fact.kind else {
        return Err(DemoError::Wrong("the arrival is no arrival".to_owned()));
    };
    scene.office.open_job(stated, arrival.as_typed, None)?;
    scene.clock.pass(60);
    state(&mut scene.office, "vin-reading", &["--vin", vehicle.vin, "--source=papers"])?;
    sent(&mut scene.office).await?;
    let number = scene.office.current_job()?.number;
    scene.customer(&number).await?;
    scene.bay_1.use_job(&number).await?;
    Ok(number)
}

fn exchange(scene: &mut Scene, vehicle: &Vehicle) -> Result<(), DemoError> {
    let Scene { clock, bay_1, .. } = scene;
    clock.pass(300);
    let (_, last_eight) = vehicle.vin.split_at(vehicle.vin.len() - 8);
    state(bay_1, "vin-reading", &["--last-eight", last_eight, "--source=body-plate"])?;
    let settled = ["--variant-code=A8-II", "--means=catalogue-rule", "--transmission-plate-agrees=yes"];
    state(bay_1, "variant-settled", &settled)?;
    clock.pass(900);
    state(bay_1, "part-checked", &["--part=fluid-container", "--code=LN-847", "--lot=L-2209"])?;
    let hookup =
        ["--place=cooler-line", "--adapter=AD-14", "--direction-tested=yes", "--equipment", EQUIPMENT];
    state(bay_1, "hookup", &hookup)?;
    for look in [
        &["--volume-in=0.0 L"][..],
        &["--volume-in=4.0 L", "--tube=50 %"],
        &["--volume-in=8.0 L", "--tube=75 %"],
        &["--volume-in=12.0 L", "--tube=75 %", "--volume-out=11.9 L", "--temperature=62 °C", "--last"],
    ] {
        clock.pass(240);
        state(bay_1, "exchange-reading", look)?;
    }
    Ok(())
}

fn pan(scene: &mut Scene, mishap: Mishap) -> Result<(), DemoError> {
    let Scene { clock, bay_1, .. } = scene;
    clock.pass(300);
    state(bay_1, "condition-confirmed", &["--conditions=engine-off,line-closed"])?;
    state(bay_1, "drain", &["--place=pan", "--mass=3.05 kg", "--means=scale", "--debris=fine-grey-paste"])?;
    clock.pass(900);
    let fitted = ["--kit=K8-20", "--lot=K-77", "--fitted=filter,pan-seal,magnets,pan-screws"];
    state(bay_1, "part-fitted", &fitted)?;
    let screws = ["--group=pan", "--screw-count=13", "--new-screw-count=13", "--torque=9 Nm"];
    state(bay_1, "tightening", &[&screws[..], &["--order-kept=yes", "--tool", TORQUE_TOOL]].concat())?;
    clock.pass(420);
    let mass = if mishap == Mishap::LitreUnaccounted { "--mass=4.10 kg" } else { "--mass=3.07 kg" };
    let weighed = ["--purpose=refill", mass, "--means=scale", "--fluid-code=LN-847", "--lot=L-2209"];
    state(bay_1, "fill", &weighed).map(|_| ())
}

fn level(scene: &mut Scene, mishap: Mishap) -> Result<(), DemoError> {
    let Scene { clock, bay_1, .. } = scene;
    clock.pass(600);
    state(bay_1, "gear-cycle", &["--driver-person-code=A", "--nobody-under-vehicle=yes"])?;
    let stands = ["--means=scan-tool", "--engine-idling=yes", "--vehicle-level=yes", "--selector=park"];
    let looked: &[&str] = match mishap {
        Mishap::LitreUnaccounted => &["--temperature=61 °C", "--overflow=stream"],
        Mishap::ToolOff => &["--temperature=43 °C", "--overflow=drops", "--caught=0.12 L"],
    };
    clock.pass(600);
    state(bay_1, "level-check", &[looked, &stands[..]].concat())?;
    clock.pass(120);
    state(bay_1, "plug-closed", &["--seal-new=yes", "--torque=22 Nm", "--tool", TORQUE_TOOL])?;
    state(bay_1, "leak-check", &["--found=dry", "--line-closed=yes"]).map(|_| ())
}

async fn close(scene: &mut Scene) -> Result<(), DemoError> {
    let Scene { clock, bay_1, .. } = scene;
    clock.pass(900);
    state(bay_1, "waste", &["--kind=used-fluid", "--volume=15.2 L", "--container=drum 1"])?;
    state(bay_1, "closing", &["--outcome=done", "--odometer=92118 km"])?;
    sent(bay_1).await.map(|_| ())
}
