//! From the booking to the fluid on the bench: papers, transmission, codes, drive, sample, comparison.

use super::store::EQUIPMENT;
use super::{granted, read_caution, sent, state};
use crate::DemoError;
use crate::scene::{Scene, say};
use standpipe_client::words::read_fact;
use standpipe_proto::v1::fact::Kind;
use std::io::Write;

/// VIN of the vehicle: a second-series transmission by the catalogue's rules.
const VIN: &str = "AZTWA8M47LA042317";

/// The office opens the job from the papers; both bays take it.
pub(super) async fn book_in(scene: &mut Scene, tell: &mut dyn Write) -> Result<(), DemoError> {
    let arrival = read_fact(
        "arrival",
        &[
            "--plate=PH 482 K",
            "--odometer=118240 km",
            "--reasons=harsh-change",
            "--vehicle-maker=Tarnwick",
            "--vehicle-model=Marl",
        ],
    )?;
    let Some(Kind::Arrival(stated)) = arrival.fact.kind else {
        return Err(DemoError::Wrong("the arrival is no arrival".to_owned()));
    };
    scene.office.open_job(stated, arrival.as_typed, None)?;
    scene.clock.pass(60);
    state(&mut scene.office, "vin-reading", &["--vin", VIN, "--source=papers"])?;
    let job = scene.office.current_job()?;
    scene.office.attach_remark(&job, "Changes from second to third with a jolt when cold.", "complaint")?;
    scene.office.attach_remark(&job, "Fluid service with filter.", "order")?;
    sent(&mut scene.office).await?;
    let number = scene.office.current_job()?.number;
    scene.customer(&number).await?;
    for bay in [&mut scene.bay_1, &mut scene.bay_2] {
        bay.use_job(&number).await?;
    }
    say(tell, &format!("office: job {number} opened for PH 482 K, VIN {VIN} from the papers"))
}

/// Second reading of the VIN, variant, plate of the transmission.
pub(super) async fn identify(scene: &mut Scene, tell: &mut dyn Write) -> Result<(), DemoError> {
    let Scene { clock, bay_1, .. } = scene;
    clock.pass(90);
    state(bay_1, "vin-reading", &["--last-eight=LA042317", "--source=body-plate"])?;
    clock.pass(60);
    let settled = ["--variant-code=A8-II", "--means=catalogue-rule", "--transmission-plate-agrees=yes"];
    state(bay_1, "variant-settled", &settled)?;
    sent(bay_1).await?;
    say(tell, "bay-1: VIN read a second time, transmission Alder-8 second series, its plate agrees")
}

/// Codes, drive, lift, sample.
pub(super) async fn look_and_drive(scene: &mut Scene, tell: &mut dyn Write) -> Result<(), DemoError> {
    let Scene { clock, bay_1, .. } = scene;
    clock.pass(90);
    state(bay_1, "fault-codes", &["--moment=before", "--state=none"])?;
    clock.pass(720);
    state(bay_1, "road-test", &["--moment=before", "--ticks=harsh", "--gear=3", "--warmth=cold"])?;
    clock.pass(240);
    read_caution(bay_1, "lifted")?;
    state(bay_1, "condition-confirmed", &["--conditions=lift-locked"])?;
    clock.pass(180);
    let sample = ["--colour=brown", "--clouding=hazy", "--smell=burnt", "--specks=none"];
    let drawn = ["--moment=before", "--place=cooler-line", "--temperature=41 °C"];
    state(bay_1, "fluid-sample", &[&drawn[..], &sample[..]].concat())?;
    sent(bay_1).await?;
    say(tell, "bay-1: no codes; driven cold: harsh into 3; lifted; sample brown, hazy, smells burnt")
}

/// The wrong fluid gets no go-ahead, the right one does.
pub(super) async fn compare(scene: &mut Scene, tell: &mut dyn Write) -> Result<(), DemoError> {
    let Scene { clock, bay_1, .. } = scene;
    clock.pass(90);
    state(
        bay_1,
        "hookup",
        &["--place=cooler-line", "--adapter=AD-14", "--direction-tested=yes", "--equipment=EX-1"],
    )?;
    read_caution(bay_1, "line-opening")?;
    read_caution(bay_1, "engine-running")?;
    clock.pass(60);
    state(bay_1, "part-checked", &["--part=fluid-container", "--code=BR-861", "--lot=L-1840"])?;
    sent(bay_1).await?;
    let refused = bay_1.may(&bay_1.current_job()?, "exchange").await?;
    let Some(why) = refused.missing.first().filter(|why| why.stops && !refused.yes) else {
        return Err(DemoError::Wrong("the fluid of the other series got a go-ahead".to_owned()));
    };
    say(tell, &format!("bay-1: may exchange? no: {}", why.text))?;
    clock.pass(120);
    state(bay_1, "part-checked", &["--part=fluid-container", "--code=LN-847", "--lot=L-2209"])?;
    clock.pass(120);
    state(bay_1, "part-checked", &["--part=filter", "--code=F8-20"])?;
    sent(bay_1).await?;
    let refused = bay_1.may(&bay_1.current_job()?, "exchange").await?;
    let Some(why) = refused.missing.first().filter(|why| why.stops && why.key == "equipment-contents") else {
        return Err(DemoError::Wrong("equipment that holds the other fluid got a go-ahead".to_owned()));
    };
    say(tell, &format!("bay-1: may exchange? no: {}", why.text))?;
    clock.pass(240);
    let rinsed = ["--equipment", EQUIPMENT, "--held=fluid", "--fluid-code=LN-847", "--held-volume=0.6 L"];
    state(bay_1, "equipment-contents", &[&rinsed[..], &["--rinsed=1.2 L", "--lot=L-2209"]].concat())?;
    granted(bay_1, "exchange", tell).await
}
