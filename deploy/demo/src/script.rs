//! What happens in the demo, step by step, as a technician and an office would do it.

use crate::outcome::{self, Outcome};
use crate::scene::{Scene, say};
use crate::{DemoError, folder};
use standpipe_client::{Change, SendEnd, Station};
use standpipe_proto::v1::{self, AsTyped, Fact, fact::Kind};
use std::io::Write;

/// VIN of the vehicle: a second-series transmission by the catalogue's rules.
const VIN: &str = "AZTWA8M47LA042317";

/// Plays the whole job and checks what comes out.
pub(crate) async fn play(scene: &mut Scene, tell: &mut dyn Write) -> Result<Outcome, DemoError> {
    book_in(scene, tell).await?;
    identify(scene, tell).await?;
    exchange(scene, tell).await?;
    pan(scene, tell).await?;
    level(scene, tell).await?;
    hand_over(scene, tell).await
}

/// The office opens the job from the papers; both bays take it.
async fn book_in(scene: &mut Scene, tell: &mut dyn Write) -> Result<(), DemoError> {
    let arrival = v1::Arrival {
        plate: "PH 482 K".to_owned(),
        odometer_kilometres: Some(118_240.0),
        reasons: vec![v1::VisitReason::HarshChange.into()],
        vehicle_maker: "Tarnwick".to_owned(),
        vehicle_model: "Marl".to_owned(),
    };
    scene.office.open_job(arrival, typed(&[("odometer_kilometres", "118240 km")]), None)?;
    let reading = Some(v1::vin_reading::Reading::Vin(VIN.to_owned()));
    let papers = v1::VinReading { reading, source: v1::VinSource::Papers.into() };
    scene.clock.pass(60);
    scene.office.add(fact(Kind::VinReading(papers)), Vec::new(), None)?;
    sent(&mut scene.office).await?;
    let number = scene.office.current_job()?.number;
    for bay in [&mut scene.bay_1, &mut scene.bay_2] {
        bay.use_job(&number).await?;
    }
    say(tell, &format!("office: job {number} opened for PH 482 K, VIN {VIN} from the papers"))
}

/// Second reading of the VIN, variant, sample; the wrong fluid gets no go-ahead, the right one does.
async fn identify(scene: &mut Scene, tell: &mut dyn Write) -> Result<(), DemoError> {
    let last = v1::vin_reading::Reading::LastEight("LA042317".to_owned());
    let body = v1::VinReading { reading: Some(last), source: v1::VinSource::BodyPlate.into() };
    let settled = v1::VariantSettled {
        variant_code: "A8-II".to_owned(),
        means: v1::SettledBy::CatalogueRule.into(),
        transmission_plate_agrees: v1::Answer::Yes.into(),
        ..v1::VariantSettled::default()
    };
    for kind in [
        Kind::VinReading(body),
        Kind::VariantSettled(settled),
        sample(v1::SampleTime::Before),
        part(v1::Part::FluidContainer, "BR-861", "L-1840"),
    ] {
        scene.clock.pass(90);
        scene.bay_1.add(fact(kind), Vec::new(), None)?;
    }
    sent(&mut scene.bay_1).await?;
    let refused = scene.bay_1.may(&scene.bay_1.current_job()?, "exchange").await?;
    let Some(why) = refused.missing.first().filter(|why| why.stops && !refused.yes) else {
        return Err(DemoError::Wrong("the fluid of the other series got a go-ahead".to_owned()));
    };
    say(tell, &format!("bay-1: may exchange? no: {}", why.text))?;
    for (kind, code, lot) in [(v1::Part::FluidContainer, "LN-847", "L-2209"), (v1::Part::Filter, "F8-20", "")]
    {
        scene.clock.pass(120);
        scene.bay_1.add(fact(part(kind, code, lot)), Vec::new(), None)?;
    }
    sent(&mut scene.bay_1).await?;
    granted(&mut scene.bay_1, "exchange", tell).await
}

/// Four looks through comparison tubes; the network goes away in the middle.
async fn exchange(scene: &mut Scene, tell: &mut dyn Write) -> Result<(), DemoError> {
    look(scene, "0.0 L", None, None)?;
    look(scene, "3.0 L", Some(25), None)?;
    sent(&mut scene.bay_1).await?;
    scene.cable.pull();
    look(scene, "6.0 L", Some(50), None)?;
    look(scene, "9.0 L", Some(75), None)?;
    let report = scene.bay_1.send().await?;
    if report.waiting != 2 || !matches!(report.end, SendEnd::Later { .. }) {
        return Err(DemoError::Wrong(format!("without a network {} entries wait, not 2", report.waiting)));
    }
    say(tell, &format!("bay-1: cable pulled, {} entries kept unsent on this bay", report.waiting))?;
    scene.cable.put_back();
    look(scene, "12.0 L", Some(75), Some("11.9 L"))?;
    let sent = sent(&mut scene.bay_1).await?;
    say(tell, &format!("bay-1: cable back, {sent} entries sent and acknowledged"))
}

/// The pan is weighed at bay-2, once with the tray on the scale; refilled is what ran out.
async fn pan(scene: &mut Scene, tell: &mut dyn Write) -> Result<(), DemoError> {
    let drained = |kilograms: f64| {
        fact(Kind::Drain(v1::Drain {
            place: v1::DrainedFrom::Pan.into(),
            amount: Some(v1::drain::Amount::MassKilograms(kilograms)),
            means: v1::Means::Scale.into(),
            debris: v1::Debris::FineGreyPaste.into(),
            ..v1::Drain::default()
        }))
    };
    scene.clock.pass(600);
    let wrong = scene.bay_2.add(drained(3.30), typed(&[("mass_kilograms", "3.30 kg")]), None)?;
    sent(&mut scene.bay_2).await?;
    scene.clock.pass(120);
    let original = scene.bay_2.find_entry(&wrong.entry_id, None).await?;
    let change = Change::Replace(Box::new(drained(3.05)));
    scene.bay_2.correct(
        &original,
        change,
        "scale had the tray on it",
        typed(&[("mass_kilograms", "3.05 kg")]),
    )?;
    sent(&mut scene.bay_2).await?;
    say(tell, "bay-2: 3.30 kg drained, corrected to 3.05 kg: scale had the tray on it")?;
    for (kind, code) in [(v1::Part::Standpipe, "SP-68"), (v1::Part::OldFilter, "F8-20")] {
        scene.clock.pass(60);
        scene.bay_1.add(fact(part(kind, code, "")), Vec::new(), None)?;
    }
    sent(&mut scene.bay_1).await?;
    granted(&mut scene.bay_1, "refill", tell).await?;
    let refill = v1::Fill {
        purpose: v1::FillPurpose::Refill.into(),
        amount: Some(v1::fill::Amount::MassKilograms(3.07)),
        means: v1::Means::Scale.into(),
        fluid_code: "LN-847".to_owned(),
        lot: "L-2209".to_owned(),
        ..v1::Fill::default()
    };
    scene.clock.pass(900);
    scene.bay_2.add(fact(Kind::Fill(refill)), typed(&[("mass_kilograms", "3.07 kg")]), None)?;
    sent(&mut scene.bay_2).await.map(|_| ())
}

/// Too hot first; valid when it has cooled into the window.
async fn level(scene: &mut Scene, tell: &mut dyn Write) -> Result<(), DemoError> {
    let check = |celsius: f64, overflow: v1::Overflow, caught: Option<f64>| {
        fact(Kind::LevelCheck(v1::LevelCheck {
            temperature_celsius: celsius,
            means: v1::TemperatureMeans::ScanTool.into(),
            overflow: overflow.into(),
            engine_idling: v1::Answer::Yes.into(),
            vehicle_level: v1::Answer::Yes.into(),
            selector: v1::Selector::Park.into(),
            caught_litres: caught,
        }))
    };
    scene.clock.pass(900);
    scene.bay_1.add(
        check(61.0, v1::Overflow::Stream, None),
        typed(&[("temperature_celsius", "61 °C")]),
        None,
    )?;
    sent(&mut scene.bay_1).await?;
    let job = scene.bay_1.current_job()?;
    let open = scene.bay_1.show(&job).await?.open_points;
    if !open.iter().any(|point| point.gate == "level") {
        return Err(DemoError::Wrong("a level read too hot counts".to_owned()));
    }
    say(tell, "bay-1: level looked at with 61 °C: too hot, does not count")?;
    scene.clock.pass(1560);
    let numbers = typed(&[("temperature_celsius", "43 °C"), ("caught_litres", "0.12 L")]);
    scene.bay_1.add(check(43.0, v1::Overflow::Drops, Some(0.12)), numbers, None)?;
    sent(&mut scene.bay_1).await?;
    let open = scene.bay_1.show(&job).await?.open_points;
    if open.iter().any(|point| point.gate == "level") {
        return Err(DemoError::Wrong("a level read inside the window does not count".to_owned()));
    }
    say(tell, "bay-1: level looked at with 43 °C: drops, counts")
}

/// Sample after, closing, figures, record.
async fn hand_over(scene: &mut Scene, tell: &mut dyn Write) -> Result<Outcome, DemoError> {
    scene.clock.pass(600);
    scene.bay_1.add(fact(sample(v1::SampleTime::After)), Vec::new(), None)?;
    let closing = v1::Closing { outcome: v1::Outcome::Done.into(), odometer_kilometres: Some(118_254.0) };
    scene.clock.pass(1200);
    scene.bay_1.add(fact(Kind::Closing(closing)), typed(&[("odometer_kilometres", "118254 km")]), None)?;
    sent(&mut scene.bay_1).await?;
    let job = scene.office.current_job()?;
    let shown = scene.office.show(&job).await?;
    outcome::check(&shown)?;
    let figures: Vec<String> =
        shown.figures.iter().map(|figure| format!("{}: {}", figure.label, figure.text)).collect();
    for figure in &figures {
        say(tell, figure)?;
    }
    let record = scene.office.record(&job).await?;
    if let Some(warning) = record.warnings.first() {
        return Err(DemoError::Wrong(warning.clone()));
    }
    let path = folder::record(&scene.dir);
    std::fs::write(&path, &record.pdf).map_err(DemoError::io("writing the record"))?;
    say(
        tell,
        &format!("record of job {}: {}, check value {}", job.number, path.display(), record.check_value),
    )?;
    Ok(Outcome { number: job.number, record: record.pdf, check_value: record.check_value, figures })
}

fn look(scene: &mut Scene, litres: &str, tube: Option<i32>, out: Option<&str>) -> Result<(), DemoError> {
    let read = |text: &str| {
        standpipe_proto::typed::read(text, standpipe_proto::typed::Quantity::Volume)
            .map(|typed| typed.value)
            .map_err(|error| DemoError::Wrong(error.to_string()))
    };
    let mut numbers = vec![("volume_in_litres", litres)];
    numbers.extend(out.map(|out| ("volume_out_litres", out)));
    let reading = v1::ExchangeReading {
        volume_in_litres: read(litres)?,
        volume_out_litres: out.map(read).transpose()?,
        tube_percent: tube,
        temperature_celsius: out.map(|_| 62.0),
        last: out.is_some(),
        ..v1::ExchangeReading::default()
    };
    scene.clock.pass(180);
    scene.bay_1.add(fact(Kind::ExchangeReading(reading)), typed(&numbers), None)?;
    Ok(())
}

fn sample(moment: v1::SampleTime) -> Kind {
    let before = moment == v1::SampleTime::Before;
    Kind::FluidSample(v1::FluidSample {
        moment: moment.into(),
        place: v1::SamplePlace::CoolerLine.into(),
        temperature_celsius: Some(41.0),
        colour: if before { v1::ColourWord::Brown } else { v1::ColourWord::AsFresh }.into(),
        clouding: if before { v1::Clouding::Hazy } else { v1::Clouding::Clear }.into(),
        smell: if before { v1::Smell::Burnt } else { v1::Smell::AsFresh }.into(),
        specks: v1::Debris::None.into(),
    })
}

fn part(part: v1::Part, code: &str, lot: &str) -> Kind {
    let read_by = v1::ReadBy::Eye.into();
    Kind::PartChecked(v1::PartChecked {
        part: part.into(),
        code: code.to_owned(),
        lot: lot.to_owned(),
        read_by,
    })
}

fn fact(kind: Kind) -> Fact {
    Fact { kind: Some(kind) }
}

fn typed(numbers: &[(&str, &str)]) -> Vec<AsTyped> {
    numbers
        .iter()
        .map(|(field, text)| AsTyped { field: (*field).to_owned(), text: (*text).to_owned() })
        .collect()
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

async fn granted(station: &mut Station, gate: &str, tell: &mut dyn Write) -> Result<(), DemoError> {
    let answer = station.may(&station.current_job()?, gate).await?;
    if !answer.yes {
        let why: Vec<&str> = answer.missing.iter().map(|missing| missing.text.as_str()).collect();
        return Err(DemoError::Wrong(format!("no go-ahead for {gate}: {}", why.join(" "))));
    }
    say(tell, &format!("bay-1: may {gate}? yes: {}", answer.basis.join(" ")))
}
