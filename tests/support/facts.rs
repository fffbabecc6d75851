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
        ..Default::default()
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
        ..v1::LevelCheck::default()
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
        ..Default::default()
    })
}

pub fn closing() -> Kind {
    Kind::Closing(v1::Closing { outcome: v1::Outcome::Done.into(), odometer_kilometres: Some(118_254.0) })
}

pub fn part(part: v1::Part, code: &str) -> Kind {
    let read_by = v1::ReadBy::Eye.into();
    Kind::PartChecked(v1::PartChecked { part: part.into(), code: code.into(), lot: String::new(), read_by })
}

pub fn caution(group: v1::CautionGroup) -> Kind {
    Kind::CautionRead(v1::CautionRead { group: group.into() })
}

pub fn confirmed(conditions: &[v1::Condition]) -> Kind {
    let conditions = conditions.iter().map(|condition| (*condition).into()).collect();
    Kind::ConditionConfirmed(v1::ConditionConfirmed { conditions })
}

pub fn no_codes(moment: v1::Moment) -> Kind {
    Kind::FaultCodes(v1::FaultCodes {
        moment: moment.into(),
        state: v1::CodesState::None.into(),
        ..v1::FaultCodes::default()
    })
}

pub fn drive(moment: v1::Moment) -> Kind {
    let before = moment == v1::Moment::Before;
    let tick = if before { v1::DriveTick::Harsh } else { v1::DriveTick::Normal };
    Kind::RoadTest(v1::RoadTest {
        moment: moment.into(),
        ticks: vec![tick.into()],
        gear: before.then_some(2),
        warmth: v1::Warmth::Warm.into(),
    })
}

pub fn hooked_up() -> Kind {
    Kind::Hookup(v1::Hookup {
        place: v1::HookupPlace::CoolerLine.into(),
        adapter: "AD-2".to_owned(),
        direction_tested: v1::Answer::Yes.into(),
        equipment: "EX-1".to_owned(),
    })
}

pub fn parts_fitted() -> Kind {
    use v1::ServicePart::{Filter, Magnets, PanScrews, PanSeal};
    Kind::PartFitted(v1::PartFitted {
        kit: "K8-II".to_owned(),
        fitted: [Filter, PanSeal, Magnets, PanScrews].map(i32::from).into(),
        excepted: Vec::new(),
        lot: "K-0417".to_owned(),
    })
}

pub fn pan_screws() -> Kind {
    Kind::Tightening(v1::Tightening {
        group: v1::ScrewGroup::Pan.into(),
        screw_count: 13,
        new_screw_count: 13,
        torque_newton_metres: 9.0,
        order_kept: v1::Answer::Yes.into(),
        tool: "TW-2".to_owned(),
        screws: Vec::new(),
    })
}

pub fn gears_moved() -> Kind {
    Kind::GearCycle(v1::GearCycle {
        driver_person_code: "A".to_owned(),
        nobody_under_vehicle: v1::Answer::Yes.into(),
    })
}

pub fn plug_closed() -> Kind {
    Kind::PlugClosed(v1::PlugClosed {
        seal_new: v1::Answer::Yes.into(),
        plug_new: v1::Answer::Yes.into(),
        torque_newton_metres: Some(22.0),
        tool: "TW-2".to_owned(),
    })
}

pub fn dry() -> Kind {
    Kind::LeakCheck(v1::LeakCheck {
        found: v1::LeakFound::Dry.into(),
        line_closed: v1::Answer::Yes.into(),
        after_drive: false,
    })
}

pub fn used_fluid(litres: f64) -> Kind {
    Kind::Waste(v1::Waste {
        kind: v1::WasteKind::UsedFluid.into(),
        amount: Some(v1::waste::Amount::VolumeLitres(litres)),
        container: "W-2".to_owned(),
    })
}

/// What settles the variant: two readings of the VIN that agree, and the catalogue's rule.
pub fn settled() -> Vec<Kind> {
    vec![vin(VIN_SECOND_SERIES), last_eight(&VIN_SECOND_SERIES[9..]), settled_by_rule("A8-II")]
}

/// What is done between settling the variant and hooking up, in the order of the work, but for the fluid.
pub fn looked_at_before() -> Vec<Kind> {
    vec![
        no_codes(v1::Moment::Before),
        drive(v1::Moment::Before),
        caution(v1::CautionGroup::Lifted),
        confirmed(&[v1::Condition::LiftLocked]),
        sample(v1::SampleTime::Before),
    ]
}

/// The last steps before anything is pushed.
pub fn hooked_up_safely() -> Vec<Kind> {
    vec![caution(v1::CautionGroup::LineOpening), hooked_up(), caution(v1::CautionGroup::EngineRunning)]
}

/// From the end of the exchange to the closed pan.
pub fn pan_off_and_on(drained_kilograms: f64) -> Vec<Kind> {
    vec![
        confirmed(&[v1::Condition::EngineOff, v1::Condition::LineClosed]),
        caution(v1::CautionGroup::PanAndHot),
        drained(drained_kilograms),
        part(v1::Part::Standpipe, "SP-68"),
        part(v1::Part::OldFilter, "F8-20"),
        parts_fitted(),
        pan_screws(),
    ]
}

/// A whole service, in the order of the work; every gate gives its go-ahead.
pub fn whole_service() -> Vec<Kind> {
    let mut kinds = vec![arrival("PH 482 K")];
    kinds.extend(settled());
    kinds.extend(looked_at_before());
    kinds.extend([container("LN-847", "L-2209"), part(v1::Part::Filter, "F8-20")]);
    kinds.extend(hooked_up_safely());
    kinds.push(pushed(0.0, None, None, false));
    kinds.extend(
        [(2.4, 25), (4.8, 50), (7.2, 75)].map(|(litres, tube)| pushed(litres, Some(tube), None, false)),
    );
    kinds.push(pushed(9.4, Some(90), Some(9.3), true));
    kinds.extend(pan_off_and_on(3.05));
    kinds.extend([
        refilled(3.07),
        confirmed(&[v1::Condition::ToolsAndPeopleClear]),
        caution(v1::CautionGroup::GearsAndLevel),
        gears_moved(),
        level(61.0, v1::Overflow::Stream),
        temperature(43.0),
        level(43.0, v1::Overflow::Drops),
        plug_closed(),
        dry(),
        no_codes(v1::Moment::After),
        drive(v1::Moment::After),
        sample(v1::SampleTime::After),
        used_fluid(13.2),
        closing(),
    ]);
    kinds
}
