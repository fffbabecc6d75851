//! What a mean over readings needs: its count, its spread, and the value that was averaged.

use crate::v1;

type Say<'a> = &'a mut dyn FnMut(&str, &str);

const NO_COUNT: &str =
    "is stated without sample_count; give the count of readings with their spread, 2 to 100000";

/// A count belongs to a mean with its spread; a spread belongs to a value.
pub(super) fn exchange_reading(reading: &v1::ExchangeReading, at: &str, say: Say<'_>) {
    let spreads = [
        (
            "instrument_spread_percent",
            reading.instrument_spread_percent.is_some(),
            reading.instrument_new_percent.is_some(),
            "instrument_new_percent",
        ),
        (
            "temperature_spread_celsius",
            reading.temperature_spread_celsius.is_some(),
            reading.temperature_celsius.is_some(),
            "temperature_celsius",
        ),
    ];
    for (field, _, _, value) in spreads.iter().filter(|(_, stated, has_value, _)| *stated && !has_value) {
        say(&format!("{at}{field}"), &format!("is stated without {value}; a spread is that of a mean"));
    }
    let any = spreads.iter().find(|(_, stated, ..)| *stated);
    counted(reading.sample_count, any.map(|(field, ..)| *field), "instrument_spread_percent", at, say);
}

/// A count and a spread are stated together.
pub(super) fn temperature_reading(reading: &v1::TemperatureReading, at: &str, say: Say<'_>) {
    let spread = reading.spread_celsius.map(|_| "spread_celsius");
    counted(reading.sample_count, spread, "spread_celsius", at, say);
}

fn counted(count: Option<i32>, spread: Option<&str>, missing: &str, at: &str, say: Say<'_>) {
    match (count, spread) {
        (None, Some(field)) => say(&format!("{at}{field}"), NO_COUNT),
        (Some(_), None) => say(
            &format!("{at}{missing}"),
            "is missing; a count of readings is stated with the standard deviation of what was averaged",
        ),
        _ => {}
    }
}
