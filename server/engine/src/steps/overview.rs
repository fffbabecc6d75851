//! The work in about a dozen plain lines, each with what was found: what stands beside the question at the bay.
//!
//! One table: what a line is called, the steps that it covers, and what its entries came to in two or three words.
//! Never here: a question, a gate, or the estimate of the exchange, which is not read while a look is asked.

use super::Step;
use super::asked::ABOUT_PAN;
use crate::amount::Read;
use crate::gates::{Facts, is_pan_left_out};
use crate::kind::Fact;
use crate::kind::drain::Drain;
use crate::kind::exchange_reading::ExchangeReading;
use crate::kind::fault_codes::FaultCodes;
use crate::kind::fill::Fill;
use crate::kind::fluid_sample::FluidSample;
use crate::kind::leak_check::LeakCheck;
use crate::kind::part_checked::PartChecked;
use crate::kind::road_test::RoadTest;
use crate::kind::skipped::Skipped;
use crate::kind::words::{
    Clouding, CodesState, ColourWord, Debris, DrainedFrom, DriveTick, FillPurpose, LeakFound, Moment, Part,
    SampleTime, SkipReason, Smell,
};
use crate::text::{Sentence, number, sentence};
use crate::view::JobView;

/// Most fault codes that a line names.
const CODES_MOST: usize = 2;

/// One line.
#[derive(Debug, Clone, PartialEq)]
pub struct OverviewLine {
    /// Its name, which chooses its words.
    pub name: &'static str,
    /// What it is called.
    pub label: Sentence,
    /// Names of the steps that it covers.
    pub steps: &'static [&'static str],
    /// What was found, that it is done, left out, put off or was not stated; nothing while it is still to come.
    pub found: Option<Sentence>,
    /// True for the line of the step that is asked next.
    pub current: bool,
}

type Found = fn(&Facts<'_>, &JobView) -> Option<Sentence>;

struct Row {
    name: &'static str,
    steps: &'static [&'static str],
    found: Found,
    /// Whether the work of the line itself was stated; to have read its caution is not to have done it.
    own: fn(&Fact) -> bool,
}

/// THE table, in the order of the work.
const ROWS: [Row; 14] = [
    Row {
        name: "arrival",
        steps: &["odometer", "vin", "variant", "codes-before"],
        found: codes_before,
        own: |fact| matches!(fact, Fact::FaultCodes(read) if read.moment == Some(Moment::Before)),
    },
    Row {
        name: "drive-before",
        steps: &["drive-before"],
        found: |facts, _| drive(facts, Moment::Before),
        own: |fact| matches!(fact, Fact::RoadTest(drive) if drive.moment == Some(Moment::Before)),
    },
    Row {
        name: "sample",
        steps: &["caution-lifted", "lift-locked", "high-voltage", "sample-before"],
        found: sample,
        own: |fact| matches!(fact, Fact::FluidSample(seen) if seen.moment == Some(SampleTime::Before)),
    },
    Row {
        name: "fluid",
        steps: &["fluid", "filter", "equipment-contents"],
        found: fluid,
        own: |fact| matches!(fact, Fact::PartChecked(it) if it.part == Some(Part::FluidContainer)),
    },
    Row {
        name: "hookup",
        steps: &["caution-line", "hookup"],
        found: nothing,
        own: |fact| matches!(fact, Fact::Hookup(_)),
    },
    Row {
        name: "exchange",
        steps: &["caution-engine", "exchange", "engine-off"],
        found: pushed,
        own: |fact| matches!(fact, Fact::ExchangeReading(_)),
    },
    Row {
        name: "pan",
        steps: &["caution-pan", "pan", "pan-seen", "old-filter"],
        found: pan,
        own: |fact| matches!(fact, Fact::Drain(it) if it.place == Some(DrainedFrom::Pan)),
    },
    Row {
        name: "fitted",
        steps: &["fitted", "screws"],
        found: nothing,
        own: |fact| matches!(fact, Fact::PartFitted(_)),
    },
    Row {
        name: "refill",
        steps: &["refill", "clear"],
        found: refilled,
        own: |fact| matches!(fact, Fact::Fill(it) if it.purpose == Some(FillPurpose::Refill)),
    },
    Row {
        name: "gears",
        steps: &["caution-gears", "gears"],
        found: nothing,
        own: |fact| matches!(fact, Fact::GearCycle(_)),
    },
    Row {
        name: "level",
        steps: &["level-added", "temperature", "level"],
        found: level,
        own: |fact| matches!(fact, Fact::LevelCheck(_)),
    },
    Row {
        name: "plug",
        steps: &["plug", "leaks"],
        found: leaks,
        own: |fact| matches!(fact, Fact::LeakCheck(_)),
    },
    Row {
        name: "drive-after",
        steps: &["codes-after", "drive-after"],
        found: |facts, _| drive(facts, Moment::After),
        own: |fact| matches!(fact, Fact::RoadTest(drive) if drive.moment == Some(Moment::After)),
    },
    Row {
        name: "hand-over",
        steps: &["waste", "closing"],
        found: nothing,
        own: |fact| matches!(fact, Fact::Closing(_)),
    },
];

/// All lines; `remaining` are the steps that are still to be done.
pub(super) fn lines(facts: &Facts<'_>, view: &JobView, remaining: &[Step]) -> Vec<OverviewLine> {
    let next = remaining.first().map(|step| step.name);
    ROWS.iter()
        .map(|row| {
            let covers = |name: &str| row.steps.contains(&name);
            let over = !remaining.iter().any(|step| covers(step.name));
            OverviewLine {
                name: row.name,
                label: sentence::bay_line(row.name),
                steps: row.steps,
                found: (row.found)(facts, view).or_else(|| over.then(|| ended(facts, row))),
                current: next.is_some_and(covers),
            }
        })
        .collect()
}

/// What became of a line of which nothing is left to do.
fn ended(facts: &Facts<'_>, row: &Row) -> Sentence {
    if facts.folded.facts.iter().any(|stated| (row.own)(&stated.fact)) {
        return sentence::bay_done();
    }
    // With the pan left on, all that would be done at it is left out by the same reason.
    let of_pan = row.steps.iter().any(|step| ABOUT_PAN.contains(step)) && is_pan_left_out(facts.folded);
    let of_line = |step: &str| row.steps.contains(&step) || (of_pan && step == "pan");
    let skipped = facts.folded.each::<Skipped>().rfind(|(_, skipped)| of_line(&skipped.step));
    match skipped.map(|(_, skipped)| skipped.reason) {
        Some(Some(SkipReason::Later)) => sentence::bay_put_off(),
        Some(_) => sentence::bay_left_out(),
        None => sentence::bay_not_stated(),
    }
}

fn nothing(_: &Facts<'_>, _: &JobView) -> Option<Sentence> {
    None
}

fn codes_before(facts: &Facts<'_>, _: &JobView) -> Option<Sentence> {
    let (_, read) =
        facts.folded.each::<FaultCodes>().rfind(|(_, read)| read.moment == Some(Moment::Before))?;
    if read.state != Some(CodesState::Read) || read.codes.is_empty() {
        return None;
    }
    let named: Vec<&str> = read.codes.iter().take(CODES_MOST).map(String::as_str).collect();
    let more = read.codes.len().saturating_sub(named.len());
    let named = named.join(", ");
    Some(match u64::try_from(more).unwrap_or_default() {
        0 => sentence::bay_codes(named),
        more => sentence::bay_codes_more(named, more),
    })
}

fn drive(facts: &Facts<'_>, moment: Moment) -> Option<Sentence> {
    let (_, drive) = facts.folded.each::<RoadTest>().rfind(|(_, drive)| drive.moment == Some(moment))?;
    let wrong = drive.ticks.iter().find(|tick| **tick != DriveTick::Normal);
    wrong.or_else(|| drive.ticks.first()).map(|tick| sentence::bay_drive(tick.word()))
}

/// What tells most of a sample: what speaks for water or wear first, then age.
fn sample(facts: &Facts<'_>, _: &JobView) -> Option<Sentence> {
    let (_, seen) =
        facts.folded.each::<FluidSample>().rfind(|(_, it)| it.moment == Some(SampleTime::Before))?;
    let coarse =
        seen.specks.filter(|specks| *specks >= Debris::Glitter).map(|it| sentence::debris(it.word()));
    let milky = || seen.clouding.filter(|it| *it == Clouding::Milky).map(|it| sentence::clouding(it.word()));
    let burnt = || seen.smell.filter(|it| *it == Smell::Burnt).map(|it| sentence::bay_smell(it.word()));
    let sharp = || seen.smell.filter(|it| *it == Smell::SlightlySharp);
    let sharp = || sharp().map(|it| sentence::bay_smell(it.word()));
    let black =
        || seen.colour.filter(|it| *it == ColourWord::Black).map(|it| sentence::colour_seen(it.word()));
    let hazy = || seen.clouding.filter(|it| *it == Clouding::Hazy).map(|it| sentence::clouding(it.word()));
    let colour = || seen.colour.map(|it| sentence::colour_seen(it.word()));
    milky().or(coarse).or_else(burnt).or_else(black).or_else(hazy).or_else(sharp).or_else(colour)
}

fn fluid(facts: &Facts<'_>, _: &JobView) -> Option<Sentence> {
    let checked = facts.folded.each::<PartChecked>().any(|(_, it)| it.part == Some(Part::FluidContainer));
    let known = facts.identity.variant.as_ref().is_some_and(|variant| variant.fluid.is_some());
    (checked && known).then(|| match facts.identity.fluid_agrees {
        true => sentence::bay_agrees(),
        false => sentence::bay_differs(),
    })
}

/// Litres only: what they came to is not told here.
fn pushed(facts: &Facts<'_>, _: &JobView) -> Option<Sentence> {
    let readings =
        facts.folded.each::<ExchangeReading>().filter_map(|(_, reading)| match reading.pushed_in.read() {
            Read::Litres(litres) => Some(litres),
            Read::Kilograms(_) => None,
        });
    let most = readings.fold(0.0_f64, f64::max);
    (most > 0.0).then(|| sentence::bay_pushed(number::litres(most, 1)))
}

fn pan(facts: &Facts<'_>, _: &JobView) -> Option<Sentence> {
    let (_, drained) = facts.folded.each::<Drain>().rfind(|(_, it)| it.place == Some(DrainedFrom::Pan))?;
    drained.debris.filter(|debris| *debris != Debris::None).map(|debris| sentence::debris(debris.word()))
}

fn refilled(facts: &Facts<'_>, _: &JobView) -> Option<Sentence> {
    let (_, fill) = facts.folded.each::<Fill>().rfind(|(_, it)| it.purpose == Some(FillPurpose::Refill))?;
    Some(sentence::bay_refilled(fill.amount.as_read()))
}

/// The window before the level is set, and where it was set after.
fn level(facts: &Facts<'_>, view: &JobView) -> Option<Sentence> {
    let window = view.level.window_celsius;
    if let Some(celsius) = view.level.set_celsius {
        return Some(sentence::bay_level_set(crate::job::celsius_beside(celsius, window)));
    }
    // As at the go-ahead: what contradicts the variant leaves its window open.
    let known = facts.identity.variant.is_some() && !facts.identity.variant_contradicted;
    let (least, greatest) = window.filter(|_| known)?;
    Some(sentence::bay_level_window(number::celsius(greatest, 0), number::plain(least)))
}

fn leaks(facts: &Facts<'_>, _: &JobView) -> Option<Sentence> {
    let (_, look) = facts.folded.last::<LeakCheck>()?;
    look.found.map(|found| match found {
        LeakFound::Dry => sentence::bay_done(),
        _ => sentence::leak_found(found.word()),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn every_step_stands_in_exactly_one_line() {
        let covered: Vec<&str> = ROWS.iter().flat_map(|row| row.steps.iter().copied()).collect();
        let unique: BTreeSet<&str> = covered.iter().copied().collect();
        assert_eq!(unique.len(), covered.len(), "a step stands in two lines");
        assert_eq!(unique, crate::steps::names().into_iter().collect());
    }

    #[test]
    fn lines_follow_the_order_of_the_work() {
        let names = crate::steps::names();
        let place = |row: &Row| names.iter().position(|name| row.steps.first() == Some(name));
        let places: Vec<_> = ROWS.iter().map(place).collect();
        assert!(places.is_sorted(), "{places:?}");
    }
}
