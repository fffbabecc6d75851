//! Evidence in words: what was seen, what it speaks for, why, with the limit and where it comes from.

use super::Evidence;
use super::sights::Sight;
use crate::formula::condition::{Gap, Kind, Limit, Limits, Line, Observation, Reason, SpeaksFor};
use crate::formula::particles::UPPER_LIMITS_PER_MILLILITRE;
use crate::kind::Fact;
use crate::text::{Sentence, number, sentence};
use crate::view::{ConditionLine, ConditionValue};

/// A line as it is shown.
pub(super) fn line(line: &Line, evidence: Evidence, limits: &Limits) -> ConditionLine {
    let speaks_for = sentence::condition_speaks(match line.speaks_for {
        SpeaksFor::Leaving => "leaving",
        SpeaksFor::Changing => "changing",
        SpeaksFor::LookingInside => "inside",
        SpeaksFor::Nothing => "nothing",
    });
    let why = why(line, limits);
    let Evidence { seen, values, seqs, measured, .. } = evidence;
    let says_nothing = line.speaks_for == SpeaksFor::Nothing;
    let text = if says_nothing && measured && line.observation.kind() == Kind::Colour {
        // Coordinates of a colour that say nothing are nobody's business on paper.
        sentence::condition_line_photo(why.clone())
    } else if says_nothing {
        sentence::condition_line_nothing(seen.clone(), why.clone())
    } else {
        sentence::condition_line(seen.clone(), speaks_for.clone(), why.clone())
    };
    ConditionLine { kind: kind(line.observation.kind()), seen, speaks_for, why, text, values, seqs, measured }
}

/// A number that a line rests on.
pub(super) fn value(
    name: &'static str,
    value: f64,
    standard_uncertainty: Option<f64>,
    unit: &'static str,
) -> ConditionValue {
    ConditionValue { name, value, standard_uncertainty, unit }
}

/// What was tapped: as a line says it, and as a sign in a reason.
pub(super) fn tapped(sight: &Sight<'_>) -> Option<(Sentence, Sentence)> {
    let (what, seen) = match (&sight.stated.fact, sight.observation.kind()) {
        (Fact::FluidSample(sample), Kind::Smell) => ("smell", sentence::smell(sample.smell?.word())),
        (Fact::FluidSample(sample), Kind::Clouding) => {
            ("clouding", sentence::clouding(sample.clouding?.word()))
        }
        (Fact::FluidSample(sample), Kind::Colour) => ("colour", sentence::colour_seen(sample.colour?.word())),
        (Fact::FluidSample(sample), Kind::Debris) => ("specks", sentence::debris(sample.specks?.word())),
        (Fact::Drain(drain), Kind::Debris) => ("pan", sentence::debris(drain.debris?.word())),
        (Fact::RoadTest(test), Kind::Drive) => ("drive", test.seen()),
        _ => return None,
    };
    Some((sentence::condition_seen(seen.clone(), what), sentence::condition_sign(seen, what)))
}

/// Name of a kind for programs.
fn kind(kind: Kind) -> &'static str {
    match kind {
        Kind::Smell => "smell",
        Kind::Clouding => "clouding",
        Kind::Colour => "colour",
        Kind::Debris => "debris",
        Kind::Drive => "drive",
        Kind::Water => "water",
        Kind::Viscosity => "viscosity",
        Kind::Acid => "acid_number",
        Kind::Particles => "particles",
        Kind::Distance => "distance",
    }
}

fn why(line: &Line, limits: &Limits) -> Sentence {
    let way = match line.reason {
        Reason::BelowLimit => "below",
        Reason::BeyondLimit => "beyond",
        Reason::TooNearTheLimit => "near",
        reason => return sentence::condition_why(word(reason)),
    };
    match limit(line.observation, limits) {
        Some((limit, source)) => sentence::condition_why_limit(limit, source, way),
        None => sentence::condition_why("no-limit"),
    }
}

fn word(reason: Reason) -> &'static str {
    match reason {
        Reason::LikeFresh => "like-fresh",
        Reason::Ordinary => "ordinary",
        Reason::Expected => "expected",
        Reason::Oxidised => "oxidised",
        Reason::Water => "water",
        Reason::Wear => "wear",
        Reason::NotTheFluid => "not-the-fluid",
        Reason::UnlikeLight => "unlike-light",
        Reason::CountedOtherwise => "counted-otherwise",
        Reason::NoNumber => "no-number",
        Reason::Gap(Gap::NoFreshFluid) => "no-fresh-fluid",
        Reason::Gap(Gap::UnlikeTemperatures) => "unlike-temperatures",
        Reason::Gap(Gap::CountMissing) => "count-missing",
        Reason::Gap(Gap::Contradicting) => "contradicting",
        Reason::Gap(Gap::UnlikeWhite) => "unlike-white",
        Reason::NoLimitStated | Reason::BelowLimit | Reason::BeyondLimit | Reason::TooNearTheLimit => {
            "no-limit"
        }
    }
}

/// The limit that an observation was held against, in words, and its source.
fn limit(observation: Observation, limits: &Limits) -> Option<(Sentence, &str)> {
    let (limit, unit) = match observation {
        Observation::ColourDifference { .. } => (limits.colour_difference.as_ref()?, ""),
        Observation::Acid(_) => (limits.acid_rise.as_ref()?, "mg KOH/g"),
        Observation::Water(_) => (limits.water_rise.as_ref()?, "mg/kg"),
        Observation::Distance(_) => (limits.distance.as_ref()?, "km"),
        Observation::Viscosity(_) => {
            let limit = limits.viscosity_change.as_ref()?;
            let percent = number::with_unit(&number::plain(limit.value * 100.0), "%");
            return Some((sentence::condition_limit_change(percent), &limit.source));
        }
        Observation::Particles(_) => {
            let limit = limits.particles.as_ref()?;
            return Some((particles(limit), &limit.source));
        }
        _ => return None,
    };
    let shown = number::plain(limit.value);
    let shown = if unit.is_empty() { shown } else { number::with_unit(&shown, unit) };
    Some((sentence::condition_limit(shown), &limit.source))
}

/// Greatest scale numbers, never without the counts that they stand for.
fn particles(limit: &Limit<[Option<u8>; 3]>) -> Sentence {
    let joined = |shown: &dyn Fn(u8) -> String| {
        let numbers = limit.value.iter().map(|number| number.map_or_else(|| "-".to_owned(), shown));
        numbers.collect::<Vec<_>>().join("/")
    };
    let count = |number: u8| {
        let most = UPPER_LIMITS_PER_MILLILITRE.get(usize::from(number));
        most.map_or_else(|| "-".to_owned(), |most| number::plain(*most))
    };
    sentence::condition_limit_particles(joined(&|number| number.to_string()), joined(&count))
}
