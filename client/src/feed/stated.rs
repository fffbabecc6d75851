//! Facts out of bins: a reading of the exchange, a reading of a temperature, or both. Nothing else of a feed becomes an
//! entry.

use super::binner::{Bin, Mean};
use super::map::{ColumnMap, Place};
use standpipe_proto::v1::{ExchangeReading, Fact, TemperatureReading, fact::Kind};

/// The facts that a bin states, the reading of the exchange first.
#[must_use]
pub fn facts(map: &ColumnMap, bin: &Bin) -> Vec<Fact> {
    let mut kinds = Vec::new();
    let place = map.temperature.as_ref().map(|temperature| temperature.place);
    if let Some(litres_in) = bin.litres_in {
        let celsius = bin.celsius.filter(|_| place == Some(Place::ComingOut));
        kinds.push(Kind::ExchangeReading(exchange_reading(map, bin, litres_in, celsius)));
    }
    if let (Some(celsius), Some(Place::Own(of, means))) = (bin.celsius, place) {
        kinds.push(Kind::TemperatureReading(TemperatureReading {
            temperature_celsius: celsius.value,
            place: of.into(),
            means: means.into(),
            sample_count: celsius.spread.map(|_| count(&celsius)),
            spread_celsius: celsius.spread,
        }));
    }
    kinds.into_iter().map(|kind| Fact { kind: Some(kind) }).collect()
}

fn exchange_reading(
    map: &ColumnMap,
    bin: &Bin,
    volume_in_litres: f64,
    celsius: Option<Mean>,
) -> ExchangeReading {
    let share = map.new_share.as_ref().zip(bin.new_percent);
    let spread = share.and_then(|(_, mean)| mean.spread);
    // The count is the share's where there is one: its uncertainty is worked out from it.
    let counted = share.map(|(_, mean)| mean).into_iter().chain(celsius).find(|mean| mean.spread.is_some());
    ExchangeReading {
        volume_in_litres,
        volume_out_litres: bin.litres_out,
        temperature_celsius: celsius.map(|mean| mean.value),
        last: bin.is_last,
        instrument_new_percent: share.map(|(_, mean)| mean.value),
        instrument_uncertainty_percent: share.map(|(column, _)| column.uncertainty_percent),
        sample_count: counted.map(|mean| count(&mean)),
        instrument_spread_percent: spread,
        temperature_spread_celsius: celsius.and_then(|mean| mean.spread),
        ..ExchangeReading::default()
    }
}

fn count(mean: &Mean) -> i32 {
    i32::try_from(mean.count).unwrap_or(i32::MAX)
}
