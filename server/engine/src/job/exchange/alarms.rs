//! What is not as it should be while fluid is pushed: more leaves than enters, or more enters; nothing arrives, fresh
//! at once, stopped changing, not explained.
//!
//! Each is a sentence that says what to do, and a finding with the entries it rests on. Never here: the tests
//! themselves, which are in the formulas.

use super::looks::Looks;
use super::share::Inside;
use super::{litres, size};
use crate::amount::{Amount, Read};
use crate::formula::alarm::{AT_ONCE_LITRES, Alarm as Seen};
use crate::job::balance::{self, Measures};
use crate::job::fold::{Folded, Stated, tells};
use crate::job::{Context, Identity};
use crate::kind::closing::Closing;
use crate::kind::exchange_reading::ExchangeReading;
use crate::kind::hookup::Hookup;
use crate::kind::level_check::LevelCheck;
use crate::kind::temperature_reading::TemperatureReading;
use crate::kind::words::TemperatureOf;
use crate::quantity::Estimate;
use crate::text::{number, sentence};
use crate::view::Finding;

/// More out than in by so much in litres at 15 °C: stop the engine (common practice, no source).
const MORE_LEFT_LITRES: f64 = 0.5;
/// The same as both are read, whatever temperature the fluid is thought to have (house value).
const MORE_LEFT_READ_LITRES: f64 = 1.0;
/// Less inside than this: stop the engine (common practice, no source).
const LEAST_INSIDE_LITRES: f64 = 0.5;
/// More in than out by so much is worth a word while it runs (common practice, no source).
const MORE_ENTERED_LITRES: f64 = 1.0;
/// A counter that shows tenths has not gone back by less.
const COUNTER_STEP: f64 = 0.05;

/// What an alarm is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum About {
    /// More left than entered, or hardly anything is inside.
    RunsDry,
    /// No fresh fluid reaches the glass.
    NothingArrives,
    /// Fresh fluid returns straight away.
    FreshAtOnce,
    /// No usual way of flowing explains the looks.
    NotExplained,
    /// More entered than left.
    MoreEntered,
    /// Something to look at while it goes on.
    Other,
}

/// Something that is not as it should be.
#[derive(Debug, Clone)]
pub(super) struct Alarm {
    /// What it is about.
    pub about: About,
    /// The sentence, with the entries it rests on.
    pub finding: Finding,
}

impl Alarm {
    /// Whether the engine is to be switched off.
    pub fn asks_engine_off(&self) -> bool {
        matches!(self.about, About::RunsDry | About::NothingArrives | About::FreshAtOnce)
    }

    /// Whether a share by the looks means nothing while it stands, and so neither does how far to go.
    pub fn withholds(&self) -> bool {
        matches!(self.about, About::NothingArrives | About::FreshAtOnce | About::NotExplained)
    }
}

/// Everything that is not as it should be, the most important first.
pub(super) fn of(
    context: &Context<'_>,
    folded: &Folded,
    identity: &Identity,
    measures: &Measures,
    looks: &Looks,
    inside: Option<&Inside>,
) -> Vec<Alarm> {
    let mut found = Vec::new();
    let dry = |finding| Alarm { about: About::RunsDry, finding };
    let other = |finding| Alarm { about: About::Other, finding };
    let flowed = Flowed::of(context, folded, identity);
    if let Some(flowed) = &flowed {
        found.extend(flowed.more_left().map(dry));
        found.extend(inside.and_then(|inside| flowed.little_inside(measures, inside)).map(dry));
    }
    found.extend(inside.map_or_else(Vec::new, |inside| by_looks(folded, looks, inside)));
    found.extend(out_went_back(folded).map(other));
    // What ran out of a pan that was refilled since counts too, and the balance speaks of all of it.
    if let Some(flowed) = flowed.filter(|_| measures.pan.is_empty() || !measures.is_refilled()) {
        let more_entered = |finding| Alarm { about: About::MoreEntered, finding };
        found.extend(flowed.more_entered(folded).map(more_entered));
    }
    found
}

/// What left and what entered at the reading of the most litres that shows both.
struct Flowed {
    seq: u64,
    pushed: f64,
    /// In minus out, in litres at 15 °C.
    surplus: Option<Estimate>,
    /// Out minus in as both are read; absent where one was weighed.
    more_read: Option<f64>,
}

impl Flowed {
    fn of(context: &Context<'_>, folded: &Folded, identity: &Identity) -> Option<Self> {
        let (stated, reading) = by_counters(folded).pop()?;
        let out = reading.came_out.as_ref()?;
        let pushed = litres(&reading.pushed_in);
        Some(Self {
            seq: stated.seq,
            pushed,
            surplus: balance::surplus_at(context, folded, identity, (stated, reading)),
            more_read: match out.read() {
                Read::Litres(out) => Some(out - pushed),
                Read::Kilograms(_) => None,
            },
        })
    }

    /// Out minus in, in litres at 15 °C: hot fluid takes more room, and has not run out of the vehicle for it.
    fn more(&self) -> Option<f64> {
        self.surplus.map(|surplus| -surplus.value).filter(|more| more.is_finite()).or(self.more_read)
    }

    /// The engine runs dry. As read counts too where it is much: the temperature may be another than was thought.
    fn more_left(&self) -> Option<Finding> {
        let more = self.more().filter(|more| *more >= MORE_LEFT_LITRES);
        let read = self.more_read.filter(|read| *read >= MORE_LEFT_READ_LITRES);
        let text = match (more, read) {
            (Some(more), _) => sentence::exchange_more_left(number::litres(more, 1)),
            (None, Some(read)) => sentence::exchange_more_left_read(number::litres(read, 1)),
            (None, None) => return None,
        };
        Some(tells(text, [self.seq]))
    }

    /// Hardly anything left inside, by all that was measured.
    fn little_inside(&self, measures: &Measures, inside: &Inside) -> Option<Finding> {
        let more = self.more().filter(|_| self.pushed > 0.0)?;
        let moved = measures.sum(&measures.refilled).value - measures.sum(&measures.pan).value;
        let left = inside.fill?.value - more + moved;
        let text = || sentence::exchange_inside_left(number::litres(left.max(0.0), 1));
        (left < LEAST_INSIDE_LITRES).then(|| tells(text(), [self.seq]))
    }

    /// More entered than left, until somebody looks at the level; the record says it where it speaks of in and out.
    fn more_entered(&self, folded: &Folded) -> Option<Finding> {
        let over = folded.last::<Closing>().is_some() || folded.last::<LevelCheck>().is_some();
        let more = -self.more().filter(|_| !over)?;
        let text = || sentence::exchange_more_entered(number::litres(more, 1));
        let finding = || Finding { on_record: false, ..tells(text(), [self.seq]) };
        (more >= MORE_ENTERED_LITRES).then(finding)
    }
}

/// The readings that show what came out, by the litres pushed in and then by those that came out, so that the order of
/// the journal says nothing.
fn by_counters(folded: &Folded) -> Vec<(&Stated, &ExchangeReading)> {
    let both = folded.each::<ExchangeReading>().filter(|(_, reading)| reading.came_out.is_some());
    let mut readings: Vec<(&Stated, &ExchangeReading)> = both.collect();
    let key =
        |reading: &ExchangeReading| (litres(&reading.pushed_in), reading.came_out.as_ref().map_or(0.0, size));
    readings.sort_by(|(_, one), (_, other)| {
        let ((one_in, one_out), (other_in, other_out)) = (key(one), key(other));
        one_in.total_cmp(&other_in).then(one_out.total_cmp(&other_out))
    });
    readings
}

/// The widest step back of the counter of what came out: over more litres in it never shows less.
fn out_went_back(folded: &Folded) -> Option<Finding> {
    let readings = by_counters(folded);
    let steps = readings.windows(2).filter_map(|pair| {
        let [(earlier, before), (later, after)] = pair else { return None };
        let (from, to) = (before.came_out.as_ref()?, after.came_out.as_ref()?);
        let back = same_unit(from, to)?;
        (back >= COUNTER_STEP).then_some((back, from, to, [earlier.seq, later.seq]))
    });
    let (_, from, to, seqs) = steps.max_by(|(one, ..), (other, ..)| one.total_cmp(other))?;
    Some(tells(sentence::exchange_out_went_back(from.as_read(), to.as_read()), seqs))
}

/// From minus to, where both are litres or both are kilograms.
fn same_unit(from: &Amount, to: &Amount) -> Option<f64> {
    match (from.read(), to.read()) {
        (Read::Litres(from), Read::Litres(to)) | (Read::Kilograms(from), Read::Kilograms(to)) => {
            Some(from - to)
        }
        _ => None,
    }
}

fn by_looks(folded: &Folded, looks: &Looks, inside: &Inside) -> Vec<Alarm> {
    let at = |out: f64| number::litres(inside.as_pushed(out), 1);
    let mut found = Vec::new();
    // With new fluid in the pan from the start, a glass that is new early says nothing.
    let counts = |alarm: &Seen| inside.begins_all_old() || matches!(alarm, Seen::NothingArrives { .. });
    for alarm in inside.alarms.iter().copied().filter(counts) {
        let mut say = |about, text| found.push(Alarm { about, finding: tells(text, looks.seqs()) });
        match alarm {
            Seen::NothingArrives { litres } if !connected_since(folded, looks, f64::INFINITY) => {
                say(About::NothingArrives, sentence::exchange_nothing_arrives(at(litres)));
                if !is_temperature_known(folded) {
                    say(About::Other, sentence::exchange_ask_temperature());
                }
            }
            Seen::FreshAtOnce { .. } if !connected_since(folded, looks, inside.as_pushed(AT_ONCE_LITRES)) => {
                say(About::FreshAtOnce, sentence::exchange_fresh_at_once());
            }
            Seen::NothingArrives { .. } | Seen::FreshAtOnce { .. } => {}
            Seen::StoppedChanging { from, new_share } => {
                let share = number::fixed(new_share * 100.0, 0);
                say(About::Other, sentence::exchange_stopped_changing(at(from), share));
            }
            Seen::NotExplained { .. } => say(About::NotExplained, sentence::exchange_not_explained()),
        }
    }
    found
}

/// Whether the equipment was connected anew after every look up to some litres: what they said is put right, or shows
/// again with the next one.
fn connected_since(folded: &Folded, looks: &Looks, most: f64) -> bool {
    let first = looks.taken.iter().filter(|taken| taken.seen.look.litres.get() <= most);
    let seqs: Vec<u64> = first.map(|taken| taken.seq).collect();
    let stated = || folded.facts.iter().filter(|stated| seqs.contains(&stated.seq));
    folded.last::<Hookup>().is_some_and(|(hookup, _)| stated().all(|look| hookup.is_after(look)))
}

/// Whether anybody read the temperature of the fluid inside.
fn is_temperature_known(folded: &Folded) -> bool {
    let of_transmission = |reading: &TemperatureReading| reading.of == Some(TemperatureOf::TransmissionFluid);
    folded.each::<ExchangeReading>().any(|(_, reading)| reading.temperature_celsius.is_some())
        || folded.each::<TemperatureReading>().any(|(_, reading)| of_transmission(reading))
}
