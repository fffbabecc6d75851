//! What is not as it should be while fluid is pushed: more leaves than enters, nothing arrives, fresh at once,
//! stopped changing, not explained.
//!
//! Each is a sentence that says what to do, and a finding with the entries it rests on. Never here: the tests
//! themselves, which are in the formulas.

use super::looks::Looks;
use super::share::Inside;
use super::{latest, litres};
use crate::amount::Read;
use crate::formula::alarm::Alarm;
use crate::job::balance::Measures;
use crate::job::fold::{Folded, tells};
use crate::kind::exchange_reading::ExchangeReading;
use crate::text::{Sentence, number, sentence};
use crate::view::Finding;

/// More out than in by so much, as read: stop the engine (common practice, no source).
const MORE_LEFT_LITRES: f64 = 0.5;
/// Less inside than this: stop the engine (common practice, no source).
const LEAST_INSIDE_LITRES: f64 = 0.5;

/// Everything that is not as it should be, the most important first.
pub(super) fn of(
    folded: &Folded,
    measures: &Measures,
    looks: &Looks,
    inside: Option<&Inside>,
) -> Vec<Finding> {
    let mut found = Vec::new();
    found.extend(more_left(folded, measures));
    if let Some(inside) = inside {
        found.extend(little_inside(folded, measures, inside));
        found.extend(by_looks(folded, looks, inside));
    }
    found
}

/// Whether an alarm asks for the engine to be switched off.
pub(super) fn wants_engine_off(alarm: &Sentence) -> bool {
    const ENGINE_OFF: [&str; 4] =
        ["exchange-more-left", "exchange-inside-left", "exchange-nothing-arrives", "exchange-fresh-at-once"];
    ENGINE_OFF.contains(&alarm.key())
}

/// The reading at the most litres, by which more had left than entered by half a litre: the engine runs dry.
fn more_left(folded: &Folded, measures: &Measures) -> Option<Finding> {
    let (stated, _) = latest(folded)?;
    let more = more_out_than_in(folded, measures)?;
    let text = || sentence::exchange_more_left(number::litres(more, 1));
    (more >= MORE_LEFT_LITRES).then(|| tells(text(), [stated.seq]))
}

/// Litres as read where both are shown; what was weighed is compared in litres at 15 °C.
fn more_out_than_in(folded: &Folded, measures: &Measures) -> Option<f64> {
    let (_, reading) = latest(folded)?;
    let out = reading.came_out.as_ref()?;
    match out.read() {
        Read::Litres(out) => Some(out - litres(&reading.pushed_in)),
        Read::Kilograms(_) => measures.surplus().map(|surplus| -surplus.value),
    }
}

/// Hardly anything left inside, by all that was measured.
fn little_inside(folded: &Folded, measures: &Measures, inside: &Inside) -> Option<Finding> {
    let (stated, _) = latest(folded).filter(|_| inside.pushed > 0.0)?;
    let more = more_out_than_in(folded, measures)?;
    let moved = measures.sum(&measures.refilled).value - measures.sum(&measures.pan).value;
    let left = inside.fill?.value - more + moved;
    let text = || sentence::exchange_inside_left(number::litres(left.max(0.0), 1));
    (left < LEAST_INSIDE_LITRES).then(|| tells(text(), [stated.seq]))
}

fn by_looks(folded: &Folded, looks: &Looks, inside: &Inside) -> Vec<Finding> {
    let at = |out: f64| number::litres(inside.as_pushed(out), 1);
    let no_temperature =
        folded.each::<ExchangeReading>().all(|(_, reading)| reading.temperature_celsius.is_none());
    let mut found = Vec::new();
    // With new fluid in the pan from the start, a glass that is new early says nothing.
    let counts = |alarm: &Alarm| inside.begins_all_old() || matches!(alarm, Alarm::NothingArrives { .. });
    for alarm in inside.alarms.iter().copied().filter(counts) {
        let mut say = |text| found.push(tells(text, looks.seqs()));
        match alarm {
            Alarm::NothingArrives { litres } => {
                say(sentence::exchange_nothing_arrives(at(litres)));
                if no_temperature {
                    say(sentence::exchange_ask_temperature());
                }
            }
            Alarm::FreshAtOnce { .. } => say(sentence::exchange_fresh_at_once()),
            Alarm::StoppedChanging { from, new_share } => {
                say(sentence::exchange_stopped_changing(at(from), number::fixed(new_share * 100.0, 0)));
            }
            Alarm::NotExplained { .. } => say(sentence::exchange_not_explained()),
        }
    }
    found
}
