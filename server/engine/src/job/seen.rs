//! What was looked at before and after, side by side.
//!
//! Only rows with something seen. Words stay words: nothing here is a number, a grade or a verdict.

use super::Context;
use super::fold::{Folded, tells};
use crate::kind::arrival::Arrival;
use crate::kind::closing::Closing;
use crate::kind::drain::Drain;
use crate::kind::exchange_reading::ExchangeReading;
use crate::kind::fluid_sample::FluidSample;
use crate::kind::words::{Clouding, ColourWord, Debris, Outcome, SampleTime, Smell};
use crate::text::{Sentence, sentence};
use crate::view::{BeforeAfterRow, Finding};

/// The rows of the comparison.
pub(super) fn before_and_after(folded: &Folded) -> Vec<BeforeAfterRow> {
    let before = sample(folded, SampleTime::Before);
    let after = sample(folded, SampleTime::After);
    let pan = folded.each::<Drain>().filter_map(|(_, drain)| drain.debris).next_back();
    let row = |label: Sentence, seen: fn(&FluidSample) -> Option<Sentence>| BeforeAfterRow {
        label,
        before: before.and_then(seen),
        after: after.and_then(seen),
    };
    let rows = vec![
        row(sentence::row_colour(), |sample| {
            sample.colour.map(|colour: ColourWord| sentence::colour_seen(colour.word()))
        }),
        row(sentence::row_clouding(), |sample| {
            sample.clouding.map(|clouding: Clouding| sentence::clouding(clouding.word()))
        }),
        row(sentence::row_smell(), |sample| sample.smell.map(|smell: Smell| sentence::smell(smell.word()))),
        row(sentence::row_specks(), |sample| {
            sample.specks.map(|specks: Debris| sentence::debris(specks.word()))
        }),
        BeforeAfterRow {
            label: sentence::row_pan(),
            before: pan.map(|debris| sentence::debris(debris.word())),
            after: None,
        },
    ];
    rows.into_iter().filter(|row| row.before.is_some() || row.after.is_some()).collect()
}

/// The last sample of a moment that counts.
pub(super) fn sample(folded: &Folded, moment: SampleTime) -> Option<&FluidSample> {
    folded.each::<FluidSample>().map(|(_, sample)| sample).rfind(|sample| sample.moment == Some(moment))
}

/// What was found before the work, in words for the customer; absent when nothing was looked at.
pub(super) fn found(folded: &Folded) -> Option<Sentence> {
    let seen = sample(folded, SampleTime::Before).map(FluidSample::seen).filter(|seen| !seen.is_empty());
    let pan = folded.each::<Drain>().filter_map(|(_, drain)| drain.debris).next_back();
    let pan = pan.map(|debris| sentence::debris(debris.word()));
    match (seen, pan) {
        (Some(seen), Some(pan)) => Some(sentence::short_found_both(pan, seen)),
        (Some(seen), None) => Some(sentence::short_found_sample(seen)),
        (None, Some(pan)) => Some(sentence::short_found_pan(pan)),
        (None, None) => None,
    }
}

/// Signs that speak for looking inside before any fluid is spent.
pub(super) fn findings(folded: &Folded) -> Vec<Finding> {
    let mut found = Vec::new();
    for (stated, sample) in folded.each::<FluidSample>() {
        if sample.clouding == Some(Clouding::Milky) {
            found.push(tells(sentence::finding_milky(), [stated.seq]));
        }
        if sample.specks == Some(Debris::FlakesOrChips) {
            found.push(tells(sentence::finding_flakes_sample(), [stated.seq]));
        }
    }
    for (stated, drain) in folded.each::<Drain>() {
        if drain.debris == Some(Debris::FlakesOrChips) {
            found.push(tells(sentence::finding_flakes_pan(), [stated.seq]));
        }
    }
    if let (Some((stated, closing)), true) =
        (folded.last::<Closing>(), folded.each::<ExchangeReading>().next().is_some())
        && closing.outcome == Some(Outcome::NoExchangeDone)
    {
        found.push(tells(sentence::finding_closed_without(), [stated.seq]));
    }
    let arrived = folded.last::<Arrival>().and_then(|(_, arrival)| arrival.odometer_kilometres);
    let left =
        folded.last::<Closing>().and_then(|(stated, closing)| Some((stated, closing.odometer_kilometres?)));
    if let (Some(arrived), Some((stated, left))) = (arrived, left)
        && left < arrived
    {
        found.push(tells(sentence::finding_odometer(), [stated.seq]));
    }
    found
}

/// What was typed later than the site's limit, or on another day, and what was stated after the job was closed.
pub(super) fn told_late(context: &Context<'_>, folded: &Folded) -> Vec<Finding> {
    let closed = folded.last::<Closing>().map(|(stated, _)| stated.seq);
    let late = folded.story.iter().filter(|line| line.late).map(|line| {
        tells(sentence::typed_late(line.text.clone(), context.day_and_clock(line.time_us)), [line.seq])
    });
    let after = folded.story.iter().filter(|line| closed.is_some_and(|closed| line.seq > closed));
    let after = after.map(|line| tells(sentence::stated_after_closing(line.text.clone()), [line.seq]));
    late.chain(after).collect()
}
