//! Facts of the invented scenario, ready to be sealed.

use standpipe_proto::v1::{self, fact::Kind};

/// A VIN of the second series of the invented transmission.
pub const VIN_SECOND_SERIES: &str = "AZTWA8M47LA042317";
/// A VIN of the first series.
pub const VIN_FIRST_SERIES: &str = "AZTWA8M45LA017206";

pub fn arrival(plate: &str) -> Kind {
    Kind::Arrival(v1::Arrival {
        plate: plate.to_owned(),
        odometer_kilometres: Some(118_240.0),
        reasons: vec![v1::VisitReason::HarshChange.into()],
        vehicle_maker: "Tarnwick".to_owned(),
        vehicle_model: "Marl".to_owned(),
        ..v1::Arrival::default()
    })
}

pub fn vin(text: &str) -> Kind {
    let reading = Some(v1::vin_reading::Reading::Vin(text.to_owned()));
    Kind::VinReading(v1::VinReading { reading, source: v1::VinSource::Papers.into() })
}

pub fn last_eight(text: &str) -> Kind {
    let reading = Some(v1::vin_reading::Reading::LastEight(text.to_owned()));
    Kind::VinReading(v1::VinReading { reading, source: v1::VinSource::BodyPlate.into() })
}

pub fn settled_by_rule(code: &str) -> Kind {
    Kind::VariantSettled(v1::VariantSettled {
        variant_code: code.to_owned(),
        means: v1::SettledBy::CatalogueRule.into(),
        transmission_plate_agrees: v1::Answer::Yes.into(),
        ..v1::VariantSettled::default()
    })
}

pub fn container(code: &str, lot: &str) -> Kind {
    Kind::PartChecked(v1::PartChecked {
        part: v1::Part::FluidContainer.into(),
        code: code.to_owned(),
        lot: lot.to_owned(),
        read_by: v1::ReadBy::Eye.into(),
    })
}

pub fn pushed(litres: f64, tube: Option<i32>, out: Option<f64>, last: bool) -> Kind {
    Kind::ExchangeReading(v1::ExchangeReading {
        volume_in_litres: litres,
        volume_out_litres: out,
        tube_percent: tube,
        temperature_celsius: Some(62.0),
        last,
        ..v1::ExchangeReading::default()
    })
}

pub fn drained(kilograms: f64) -> Kind {
    Kind::Drain(v1::Drain {
        place: v1::DrainedFrom::Pan.into(),
        amount: Some(v1::drain::Amount::MassKilograms(kilograms)),
        means: v1::Means::Scale.into(),
        debris: v1::Debris::FineGreyPaste.into(),
        ..v1::Drain::default()
    })
}

pub fn refilled(kilograms: f64) -> Kind {
    Kind::Fill(v1::Fill {
        purpose: v1::FillPurpose::Refill.into(),
        amount: Some(v1::fill::Amount::MassKilograms(kilograms)),
        means: v1::Means::Scale.into(),
        fluid_code: "LN-847".to_owned(),
        lot: "L-2209".to_owned(),
        ..v1::Fill::default()
    })
}

pub fn temperature(celsius: f64) -> Kind {
    Kind::TemperatureReading(v1::TemperatureReading {
        temperature_celsius: celsius,
        place: v1::TemperatureOf::TransmissionFluid.into(),
        means: v1::TemperatureMeans::ScanTool.into(),
    })
}

pub fn level(celsius: f64, overflow: v1::Overflow) -> Kind {
    Kind::LevelCheck(v1::LevelCheck {
        temperature_celsius: celsius,
        means: v1::TemperatureMeans::ScanTool.into(),
        overflow: overflow.into(),
        engine_idling: v1::Answer::Yes.into(),
        vehicle_level: v1::Answer::Yes.into(),
        selector: v1::Selector::Park.into(),
        caught_litres: None,
    })
}

pub fn sample(moment: v1::SampleTime) -> Kind {
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

pub fn closing() -> Kind {
    Kind::Closing(v1::Closing { outcome: v1::Outcome::Done.into(), odometer_kilometres: Some(118_254.0) })
}

/// A whole service, in the order of the work.
pub fn whole_service() -> Vec<Kind> {
    let mut kinds = vec![
        arrival("PH 482 K"),
        vin(VIN_SECOND_SERIES),
        last_eight(&VIN_SECOND_SERIES[9..]),
        settled_by_rule("A8-II"),
        sample(v1::SampleTime::Before),
        container("LN-847", "L-2209"),
        pushed(0.0, None, None, false),
    ];
    kinds.extend(
        [(2.4, 25), (4.8, 50), (7.2, 75)].map(|(litres, tube)| pushed(litres, Some(tube), None, false)),
    );
    kinds.extend([
        pushed(9.4, Some(90), Some(9.3), true),
        drained(3.05),
        refilled(3.07),
        level(61.0, v1::Overflow::Stream),
        level(43.0, v1::Overflow::Drops),
        sample(v1::SampleTime::After),
        closing(),
    ]);
    kinds
}
