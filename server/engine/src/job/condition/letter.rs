//! What a laboratory's letter and the photos say, each against the same figure of the fresh fluid.
//!
//! The last figure that was stated for a side counts. A figure of used fluid without one of fresh fluid is told and
//! says nothing. Never here: a limit, or a colour word made of a number.

use super::said::value;
use super::sights::bubbles;
use super::{Evidence, viscosity};
use crate::catalogue::{ConditionSettings, FigureUncertainty};
use crate::formula::colour::{LabColour, difference, lab};
use crate::formula::condition::{Gap, Kind, Observation};
use crate::formula::laboratory::{Difference, acid_rise, water_rise};
use crate::formula::particles::{Code, Counted, NoCode};
use crate::job::Folded;
use crate::kind::fluid_sample::{FluidSample, Letter, PhotoColours};
use crate::kind::words::{Answer, Crackle, SampleTime};
use crate::quantity::Estimate;
use crate::text::{Sentence, number, sentence};
use crate::view::ConditionValue;

/// White sheets that differ by more than this (CIEDE2000) were not lit alike: house value.
const WHITE_DIFFERENCE_MOST: f64 = 3.0;

/// Everything that laboratory and photo say of one side.
pub(super) fn of(folded: &Folded, time: SampleTime, settings: &ConditionSettings) -> Vec<Evidence> {
    let mut found: Vec<Evidence> =
        [photo(folded, time), crackle(folded, time), water(folded, time, settings)]
            .into_iter()
            .flatten()
            .collect();
    found.extend(viscosity::of(folded, time, &settings.viscosity));
    found.extend(acid_number(folded, time, settings));
    found.extend(particles(folded, time));
    found.into_iter().map(|evidence| with_reports(folded, time, evidence)).collect()
}

/// The evidence with the reports that state it, and where an earlier one of the same moment states something else.
fn with_reports(folded: &Folded, time: SampleTime, evidence: Evidence) -> Evidence {
    let mut reports: Vec<&str> = Vec::new();
    for (stated, sample) in folded.each::<FluidSample>() {
        let report = sample.letter.report.as_str();
        if evidence.seqs.contains(&stated.seq) && !report.is_empty() && !reports.contains(&report) {
            reports.push(report);
        }
    }
    let differ =
        [time, SampleTime::Fresh].into_iter().any(|time| differ(folded, time, &evidence.observation));
    let named = (!reports.is_empty()).then(|| sentence::condition_report(reports.join(", ")));
    let remarks = named.into_iter().chain(differ.then(sentence::condition_reports_differ));
    let seen = remarks.fold(evidence.seen, also);
    Evidence { seen, ..evidence }
}

/// Whether two letters of one moment state the same figure with different values.
fn differ(folded: &Folded, time: SampleTime, observation: &Observation) -> bool {
    let samples = folded.each::<FluidSample>().filter(|(_, sample)| sample.moment == Some(time));
    let stated: Vec<(f64, f64)> =
        samples.flat_map(|(_, sample)| figures(&sample.letter, observation)).collect();
    stated.iter().any(|(of, one)| stated.iter().any(|(other_of, other)| of == other_of && one != other))
}

/// The figures of a letter that an observation rests on: of what, and its value.
fn figures(letter: &Letter, observation: &Observation) -> Vec<(f64, f64)> {
    if let Observation::Crackle(_) = observation {
        let order = |word| match word {
            Crackle::None => 0.0,
            Crackle::Fine => 1.0,
            Crackle::Growing => 2.0,
            Crackle::Violent => 3.0,
        };
        return letter.crackle.map(|word| (0.0, order(word))).into_iter().collect();
    }
    match observation.kind() {
        Kind::Viscosity => letter.viscosities.clone(),
        Kind::Acid => letter.acid_number.map(|acid| (0.0, acid)).into_iter().collect(),
        Kind::Water => letter.water.map(|water| (0.0, water)).into_iter().collect(),
        Kind::Particles => [4.0, 6.0, 14.0]
            .into_iter()
            .zip(letter.particles)
            .filter_map(|(of, count)| Some((of, count?)))
            .collect(),
        _ => Vec::new(),
    }
}

/// The last figure stated of a moment, with the entry that states it.
pub(super) fn last<T>(
    folded: &Folded,
    time: SampleTime,
    figure: impl Fn(&FluidSample) -> Option<T>,
) -> Option<(u64, T)> {
    folded.each::<FluidSample>().rev().find_map(|(stated, sample)| {
        let counts = sample.moment == Some(time);
        counts.then(|| figure(sample)).flatten().map(|figure| (stated.seq, figure))
    })
}

/// A figure that says nothing, with what is known of it.
pub(super) fn gap(
    kind: Kind,
    gap: Gap,
    figures: Vec<Sentence>,
    values: Vec<ConditionValue>,
    seqs: Vec<u64>,
) -> Evidence {
    let what = match kind {
        Kind::Viscosity => "viscosity",
        Kind::Acid => "acid",
        Kind::Particles => "particles",
        Kind::Colour => "photo",
        _ => "water",
    };
    let seen = sentence::condition_seen_laboratory(figures);
    let sign = sentence::condition_figure(what);
    Evidence { observation: Observation::Gap { kind, gap }, seen, sign, values, seqs, measured: true }
}

fn crackle(folded: &Folded, time: SampleTime) -> Option<Evidence> {
    let (seq, word) = last(folded, time, |sample| sample.letter.crackle)?;
    let figures = vec![sentence::letter_crackle(word.word())];
    Some(Evidence {
        observation: Observation::Crackle(bubbles(word)),
        seen: sentence::condition_seen_crackle(sentence::condition_seen_laboratory(figures)),
        sign: sentence::condition_figure("crackle"),
        values: Vec::new(),
        seqs: vec![seq],
        measured: true,
    })
}

/// A figure whose rise over fresh fluid counts.
struct Rising<'a> {
    kind: Kind,
    read: fn(&Letter) -> Option<f64>,
    rise: fn(Estimate, Estimate) -> Option<Difference>,
    observed: fn(Difference) -> Observation,
    uncertainty: &'a FigureUncertainty,
    unit: &'static str,
    names: [&'static str; 3],
    /// In a list of figures; fresh, greatest, least, change, used in a line.
    listed: fn(String) -> Sentence,
}

fn acid_number(folded: &Folded, time: SampleTime, settings: &ConditionSettings) -> Option<Evidence> {
    let of = Rising {
        kind: Kind::Acid,
        read: |letter| letter.acid_number,
        rise: acid_rise,
        observed: Observation::Acid,
        uncertainty: &settings.acid_number,
        unit: "mg KOH/g",
        names: ["acid_number", "acid_number_fresh", "acid_number_rise"],
        listed: |shown| sentence::letter_acid(shown),
    };
    rising(folded, time, &of)
}

fn water(folded: &Folded, time: SampleTime, settings: &ConditionSettings) -> Option<Evidence> {
    let of = Rising {
        kind: Kind::Water,
        read: |letter| letter.water,
        rise: water_rise,
        observed: Observation::Water,
        uncertainty: &settings.water,
        unit: "mg/kg",
        names: ["water", "water_fresh", "water_rise"],
        listed: |shown| sentence::letter_water(shown),
    };
    rising(folded, time, &of)
}

fn rising(folded: &Folded, time: SampleTime, of: &Rising<'_>) -> Option<Evidence> {
    let stated = |time| last(folded, time, |sample| (of.read)(&sample.letter));
    let (seq, used) = stated(time)?;
    let with_unit = |figure: f64| number::with_unit(&number::plain(figure), of.unit);
    let [name, fresh_name, rise_name] = of.names;
    let figure = |name, figure| {
        let known = of.uncertainty.estimate(figure);
        value(name, figure, Some(known.standard_uncertainty), of.unit)
    };
    let mut values = vec![figure(name, used)];
    let mut seqs = vec![seq];
    let Some((fresh_seq, fresh)) = stated(SampleTime::Fresh) else {
        return Some(gap(of.kind, Gap::NoFreshFluid, vec![(of.listed)(with_unit(used))], values, seqs));
    };
    values.push(figure(fresh_name, fresh));
    seqs.push(fresh_seq);
    let estimates = [used, fresh].map(|figure| of.uncertainty.estimate(figure));
    let [used_known, fresh_known] = estimates;
    let Some(rise) = (of.rise)(used_known, fresh_known) else {
        return Some(gap(of.kind, Gap::Contradicting, vec![(of.listed)(with_unit(used))], values, seqs));
    };
    let uncertainty = rise.estimate.standard_uncertainty;
    values.push(value(rise_name, rise.estimate.value, Some(uncertainty), of.unit));
    // A rise may be any number; it is only rounded here, not cut.
    let change = number::estimate(&rise.estimate, (f64::MIN, f64::MAX));
    let said =
        if of.kind == Kind::Acid { sentence::condition_seen_acid } else { sentence::condition_seen_water };
    let seen = said(change.value, with_unit(fresh), change.greatest, change.least, with_unit(used));
    Some(Evidence {
        observation: (of.observed)(rise),
        seen: if rise.clear { seen } else { also(seen, sentence::condition_not_clear()) },
        sign: sentence::condition_figure(if of.kind == Kind::Acid { "acid" } else { "water" }),
        values,
        seqs,
        measured: true,
    })
}

/// A remark behind what was seen.
pub(super) fn also(seen: Sentence, remark: Sentence) -> Sentence {
    sentence::condition_seen_also(remark, seen)
}

fn particles(folded: &Folded, time: SampleTime) -> Option<Evidence> {
    let counted = |sample: &FluidSample| {
        let counts = sample.letter.particles;
        counts.iter().any(Option::is_some).then_some(counts)
    };
    let (seq, counts) = last(folded, time, counted)?;
    let sizes = [("4", "particles_4"), ("6", "particles_6"), ("14", "particles_14")];
    let known = counts.iter().zip(sizes).filter_map(|(count, size)| Some(((*count)?, size)));
    let values = known.clone().map(|(count, (_, name))| value(name, count, None, "/mL")).collect();
    let code = match Code::new(Counted::Automatically, counts) {
        Ok(code) => code,
        Err(why) => {
            let figures = known
                .map(|(count, (size, _))| sentence::letter_particles(number::plain(count), size))
                .collect();
            let why = if why == NoCode::CountMissing { Gap::CountMissing } else { Gap::Contradicting };
            return Some(gap(Kind::Particles, why, figures, values, vec![seq]));
        }
    };
    let [four, six, fourteen] = counts.map(|count| count.map(number::plain).unwrap_or_default());
    Some(Evidence {
        observation: Observation::Particles(code),
        seen: sentence::condition_seen_particles(code.to_string(), four, fourteen, six),
        sign: sentence::condition_figure("particles"),
        values,
        seqs: vec![seq],
        measured: true,
    })
}

fn photo(folded: &Folded, time: SampleTime) -> Option<Evidence> {
    let (seq, used) = last(folded, time, |sample| sample.photo)?;
    let colour = lab(used.fluid);
    let mut values = lab_values(["lightness", "redness", "yellowness"], colour);
    let Some((fresh_seq, fresh)) = last(folded, SampleTime::Fresh, |sample| sample.photo) else {
        let seen = sentence::condition_seen_photo(lab_in_words(colour));
        let evidence = gap(Kind::Colour, Gap::NoFreshFluid, Vec::new(), values, vec![seq]);
        return Some(Evidence { seen, ..evidence });
    };
    let fresh_colour = lab(fresh.fluid);
    values.extend(lab_values(["fresh_lightness", "fresh_redness", "fresh_yellowness"], fresh_colour));
    let apart = difference(colour, fresh_colour)?;
    values.push(value("colour_difference", apart, None, "1"));
    let shown = number::fixed(apart, 1);
    let seen = sentence::condition_seen_photos(shown, lab_in_words(colour), lab_in_words(fresh_colour));
    let observation = if whites_differ(used, fresh) {
        Observation::Gap { kind: Kind::Colour, gap: Gap::UnlikeWhite }
    } else {
        Observation::ColourDifference { difference: apart, same_light: same_light(used, fresh) }
    };
    let sign = sentence::condition_figure("photo");
    Some(Evidence { observation, seen, sign, values, seqs: vec![seq, fresh_seq], measured: true })
}

/// Said of one of the photos and denied of none.
fn same_light(one: PhotoColours, other: PhotoColours) -> bool {
    let said = [one.same_light, other.same_light];
    said.contains(&Some(Answer::Yes)) && !said.contains(&Some(Answer::No))
}

fn whites_differ(one: PhotoColours, other: PhotoColours) -> bool {
    let apart = one.white.zip(other.white).and_then(|(one, other)| difference(lab(one), lab(other)));
    apart.is_some_and(|apart| apart > WHITE_DIFFERENCE_MOST)
}

fn lab_values([lightness, redness, yellowness]: [&'static str; 3], colour: LabColour) -> Vec<ConditionValue> {
    let of = |name, number| value(name, number, None, "1");
    vec![of(lightness, colour.lightness), of(redness, colour.a), of(yellowness, colour.b)]
}

fn lab_in_words(colour: LabColour) -> Sentence {
    let [lightness, redness, yellowness] =
        [colour.lightness, colour.a, colour.b].map(|part| number::fixed(part, 1));
    sentence::condition_lab_colour(lightness, redness, yellowness)
}
