//! What a counted drip says: warming alone, or fluid that still stands above the overflow.
//!
//! Only where drops were counted in a minute; 'drops' and 'a stream' are words and stay words. For the expert's page,
//! never for the bay: whether the level is right is told by the look itself.

use super::readings::{Line, minutes_between, since_last_change};
use crate::formula::level_forecast::SCAN_TOOL_KELVIN;
use crate::formula::overflow::{DROP_MILLILITRES, Drip, drip, expansion_flow};
use crate::job::{Folded, Identity};
use crate::kind::level_check::LevelCheck;
use crate::quantity::{Celsius, Estimate, KilogramsPerCubicMetre, Litres};
use crate::text::{Sentence, number, sentence};

/// How far two readings are apart that tell the rate of warming, in minutes (common practice, no source).
const RATE_MINUTES: std::ops::RangeInclusive<f64> = 1.0..=10.0;

/// The last drip that was counted, in a sentence; absent where nobody counted.
pub(super) fn of(folded: &Folded, identity: &Identity) -> Option<Sentence> {
    let mut looks = folded.each::<LevelCheck>();
    let (look, check) = looks.rfind(|(_, check)| check.drops_per_minute.is_some())?;
    let drops = check.drops_per_minute?;
    let (count, read) = (u64::from(drops), number::celsius(check.celsius, 0));
    let Some((volume, density)) = inside(identity) else {
        return Some(sentence::level_drip_unknown(count, "fill", read));
    };
    let before = folded.facts.iter().take_while(|stated| stated.seq <= look.seq);
    let rate = warming(&since_last_change(before, look.time_us));
    let judged = rate.and_then(|rate| {
        let celsius = Celsius::new(check.celsius).ok()?;
        let flow = |rate| expansion_flow(volume, density, celsius, rate);
        let (by_warming, by_reading) = (flow(rate.value)?, flow(rate.standard_uncertainty)?);
        let drops = f64::from(drops);
        // Counts scatter by their root; what the rate leaves open counts as drops too.
        let uncertainty = drops.sqrt().max(1.0).hypot(by_reading / DROP_MILLILITRES.value);
        let found = drip(Estimate::known(drops, uncertainty), DROP_MILLILITRES, by_warming)?;
        Some((found, by_warming, rate.value))
    });
    let Some((found, flow, rate)) = judged else {
        return Some(sentence::level_drip_unknown(count, "reading", read));
    };
    let outcome = match found {
        Drip::Reached => "reached",
        Drip::Surplus(_) => "surplus",
        Drip::NotYet(_) => "not-yet",
    };
    let warming = if flow > 0.0 {
        let flow = number::with_unit(&number::fixed(flow, 1), "mL");
        sentence::level_drip_rising(flow, number::with_unit(&number::fixed(rate, 1), "K"))
    } else {
        sentence::level_drip_still()
    };
    Some(sentence::level_drip(count, outcome, read, warming))
}

/// Rate of warming at the last reading, in K/min; absent without a reading some minutes before.
fn warming(line: &Line) -> Option<Estimate> {
    let last = line.readings.last()?;
    let mut earlier = line.readings.iter();
    let first = earlier.find(|reading| RATE_MINUTES.contains(&minutes_between(reading, last)))?;
    let minutes = minutes_between(first, last);
    let rate = (last.celsius.get() - first.celsius.get()) / minutes;
    Some(Estimate::known(rate, SCAN_TOOL_KELVIN * 2.0_f64.sqrt() / minutes))
}

/// What the transmission holds, with its density; absent where it is not known.
fn inside(identity: &Identity) -> Option<(Litres, KilogramsPerCubicMetre)> {
    let variant = identity.variant.as_ref()?;
    let volume = Litres::new(variant.total_fill_litres?.value).ok()?;
    Some((volume, KilogramsPerCubicMetre::new(variant.density_15_celsius.value).ok()?))
}
