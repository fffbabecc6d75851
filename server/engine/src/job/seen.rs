//! What was looked at before and after, side by side.
//!
//! Only rows with something seen. Words stay words: nothing here is a number, a grade or a verdict.

use super::fold::{Folded, tells};
use super::{Context, Identity};
use crate::amount::Read;
use crate::formula::fault_code::{FaultClass, classify};
use crate::kind::Kind as _;
use crate::kind::arrival::Arrival;
use crate::kind::closing::Closing;
use crate::kind::drain::Drain;
use crate::kind::exchange_reading::ExchangeReading;
use crate::kind::fault_codes::FaultCodes;
use crate::kind::fluid_sample::FluidSample;
use crate::kind::handover::Handover;
use crate::kind::leak_check::LeakCheck;
use crate::kind::record_issued::RecordIssued;
use crate::kind::road_test::RoadTest;
use crate::kind::skipped::Skipped;
use crate::kind::words::{Clouding, ColourWord, Debris, LeakFound, Moment, SampleTime, Smell};
use crate::text::{Sentence, number, sentence};
use crate::view::{BeforeAfterRow, Finding};

/// More fills of the transmission than anybody pushes through (common practice, no source).
const FILLS_DOUBTED: f64 = 4.0;

/// The rows of the comparison: codes, the fluid, pan and magnets, the drive.
pub(super) fn before_and_after(folded: &Folded) -> Vec<BeforeAfterRow> {
    let pan = folded.each::<Drain>().filter_map(|(_, drain)| drain.debris).next_back();
    let row = |label: Sentence, seen: fn(&FluidSample) -> Option<Sentence>| BeforeAfterRow {
        label,
        before: last_seen(folded, SampleTime::Before, seen),
        after: last_seen(folded, SampleTime::After, seen),
    };
    let rows = vec![
        BeforeAfterRow {
            label: sentence::row_codes(),
            before: codes_before(folded).map(|codes| codes.seen()),
            after: codes(folded, Moment::After).map(FaultCodes::seen),
        },
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
        BeforeAfterRow { label: sentence::row_leaks(), before: None, after: leaks(folded) },
        BeforeAfterRow {
            label: sentence::row_drive(),
            before: drive(folded, Moment::Before).map(RoadTest::seen),
            after: drive(folded, Moment::After).map(RoadTest::seen),
        },
    ];
    rows.into_iter().filter(|row| row.before.is_some() || row.after.is_some()).collect()
}

/// What was seen when looking for leaks: the last look, and the worst before it where that was another.
fn leaks(folded: &Folded) -> Option<Sentence> {
    let looks: Vec<LeakFound> = folded.each::<LeakCheck>().filter_map(|(_, check)| check.found).collect();
    let (last, before) = looks.split_last()?;
    let said = |found: &LeakFound| sentence::leak_found(found.word());
    let mut worse = [LeakFound::Dripping, LeakFound::Damp].into_iter().take_while(|found| found != last);
    Some(match worse.find(|found| before.contains(found)) {
        Some(worst) => sentence::leaks_then(said(&worst), said(last)),
        None => said(last),
    })
}

/// Flakes in the pan, which a customer should know, and a drive after that was left out.
pub(super) fn to_note(folded: &Folded) -> Vec<Sentence> {
    let mut notes = Vec::new();
    if folded.each::<Drain>().any(|(_, drain)| drain.debris == Some(Debris::FlakesOrChips)) {
        notes.push(sentence::finding_flakes_pan());
    }
    let left_out = folded.each::<Skipped>().rfind(|(_, skipped)| skipped.step == "drive-after");
    if let Some((_, skipped)) = left_out.filter(|_| drive(folded, Moment::After).is_none()) {
        notes.push(sentence::note_not_driven(skipped.reason_in_words()));
    }
    notes
}

/// Litres that can hardly be right: an end of the exchange below an earlier reading, or many times the whole fill.
fn litres_in_doubt(folded: &Folded, identity: &Identity) -> Vec<Finding> {
    let mut found = Vec::new();
    let pushed =
        folded.each::<ExchangeReading>().filter_map(|(stated, reading)| match reading.pushed_in.read() {
            Read::Litres(value) => Some((stated.seq, value, reading.last)),
            Read::Kilograms(_) => None,
        });
    let readings: Vec<(u64, f64, bool)> = pushed.collect();
    let Some((seq, most, _)) = readings.iter().copied().max_by(|one, other| one.1.total_cmp(&other.1)) else {
        return found;
    };
    if let Some((ended, end, _)) = readings.iter().rfind(|(_, end, last)| *last && *end < most) {
        found.push(tells(sentence::finding_litres_back(litres(*end), litres(most)), [seq, *ended]));
    }
    let fill = identity.variant.as_ref().and_then(|variant| variant.total_fill_litres);
    if let Some(fill) = fill.filter(|fill| most > FILLS_DOUBTED * fill.value) {
        found.push(tells(sentence::finding_litres_many(litres(fill.value), litres(most)), [seq]));
    }
    found
}

fn litres(value: f64) -> String {
    number::litres(value, 1)
}

/// The last sample of a moment that counts.
pub(super) fn sample(folded: &Folded, moment: SampleTime) -> Option<&FluidSample> {
    folded.each::<FluidSample>().map(|(_, sample)| sample).rfind(|sample| sample.moment == Some(moment))
}

/// What the last sample of a moment says of something; a sample that says nothing of it leaves what was seen before.
fn last_seen<T>(folded: &Folded, moment: SampleTime, seen: impl Fn(&FluidSample) -> Option<T>) -> Option<T> {
    let mut samples = folded.each::<FluidSample>().rev();
    samples.find_map(|(_, sample)| if sample.moment == Some(moment) { seen(sample) } else { None })
}

/// The last look into the fault memory of a moment that counts.
pub(super) fn codes(folded: &Folded, moment: Moment) -> Option<&FaultCodes> {
    folded.each::<FaultCodes>().map(|(_, codes)| codes).rfind(|codes| codes.moment == Some(moment))
}

/// The last look into the fault memory before the work, with every code that any look before it showed: clearing the
/// memory repairs nothing.
fn codes_before(folded: &Folded) -> Option<FaultCodes> {
    let mut all = codes(folded, Moment::Before)?.clone();
    let looks = folded.each::<FaultCodes>().filter(|(_, look)| look.moment == Some(Moment::Before));
    let mut read: Vec<String> = Vec::new();
    for code in looks.flat_map(|(_, look)| &look.codes) {
        if !read.contains(code) {
            read.push(code.clone());
        }
    }
    all.codes = read;
    Some(all)
}

/// The last drive of a moment that counts.
pub(super) fn drive(folded: &Folded, moment: Moment) -> Option<&RoadTest> {
    folded.each::<RoadTest>().map(|(_, drive)| drive).rfind(|drive| drive.moment == Some(moment))
}

/// What was found before the work, in words for the customer; absent when nothing was looked at.
pub(super) fn found(folded: &Folded) -> Option<Sentence> {
    let seen =
        last_seen(folded, SampleTime::Before, |sample| Some(sample.seen()).filter(|seen| !seen.is_empty()));
    let pan = folded.each::<Drain>().filter_map(|(_, drain)| drain.debris).next_back();
    let stored = codes_before(folded).filter(|codes| !codes.codes.is_empty());
    let parts = [
        seen.map(sentence::found_fluid),
        pan.map(|debris| sentence::found_pan(sentence::debris(debris.word()))),
        stored.map(|codes| sentence::found_codes(codes.codes.join(", "))),
    ];
    parts.into_iter().flatten().reduce(sentence::found_also).map(sentence::short_found)
}

/// Signs that speak for looking inside before any fluid is spent.
pub(super) fn findings(folded: &Folded, identity: &Identity) -> Vec<Finding> {
    let mut found: Vec<Finding> = stored_codes(folded)
        .into_iter()
        .filter_map(|(code, seqs)| Some(tells(code_in_words(code)?, seqs)))
        .collect();
    for (stated, sample) in folded.each::<FluidSample>() {
        if sample.moment == Some(SampleTime::Fresh) {
            let spoiled = sample.clouding.is_some_and(|clouding| clouding != Clouding::Clear)
                || sample.specks.is_some_and(|specks| specks != Debris::None);
            found.extend(spoiled.then(|| tells(sentence::finding_fresh_spoiled(), [stated.seq])));
            continue;
        }
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
    if let Some((stated, litres)) = super::closed_against_readings(folded) {
        let text = sentence::finding_closed_without(number::litres(litres, 1));
        found.push(tells(text, [stated.seq]));
    }
    let arrived = folded.last::<Arrival>().and_then(|(_, arrival)| arrival.odometer_kilometres);
    let left =
        folded.last::<Closing>().and_then(|(stated, closing)| Some((stated, closing.odometer_kilometres?)));
    if let (Some(arrived), Some((stated, left))) = (arrived, left)
        && left < arrived
    {
        found.push(tells(sentence::finding_odometer(), [stated.seq]));
    }
    found.extend(litres_in_doubt(folded, identity));
    found
}

/// The codes that a fluid exchange does not repair, each in a sentence.
pub(super) fn repair_first(folded: &Folded) -> Vec<Sentence> {
    let codes = stored_codes(folded).into_iter().map(|(code, _)| code);
    codes
        .filter(|code| classify(code) == FaultClass::RepairFirst)
        .map(sentence::finding_repair_first)
        .collect()
}

/// Every code that was read, before or after, each once with the entries that name it. A code that a later
/// look no longer shows stays: clearing the memory repairs nothing.
fn stored_codes(folded: &Folded) -> Vec<(&str, Vec<u64>)> {
    let mut stored: Vec<(&str, Vec<u64>)> = Vec::new();
    for (stated, codes) in folded.each::<FaultCodes>() {
        for code in &codes.codes {
            match stored.iter_mut().find(|(known, _)| known == code) {
                Some((_, seqs)) if seqs.contains(&stated.seq) => {}
                Some((_, seqs)) => seqs.push(stated.seq),
                None => stored.push((code, vec![stated.seq])),
            }
        }
    }
    stored
}

/// What a code means for the service; absent where it only has to be known.
fn code_in_words(code: &str) -> Option<Sentence> {
    match classify(code) {
        FaultClass::RepairFirst => Some(sentence::finding_repair_first(code)),
        FaultClass::SignedDecision if code.starts_with("P0218") => Some(sentence::finding_overheated(code)),
        FaultClass::SignedDecision => Some(sentence::finding_temperature_signal(code)),
        FaultClass::LookFurther => Some(sentence::finding_look_further(code)),
        FaultClass::MakerSpecific => Some(sentence::finding_maker_code(code)),
        FaultClass::NoteOnly => None,
    }
}

/// What is stated when the work is done, and only then.
pub(super) const ABOUT_RECORD: [&str; 2] = [RecordIssued::NAME, Handover::NAME];

/// What was typed later than the site's limit, or on another day, and what was stated after the job was closed.
pub(super) fn told_late(context: &Context<'_>, folded: &Folded) -> Vec<Finding> {
    let closed = folded.last::<Closing>().map(|(stated, _)| stated.seq);
    let late = folded.story.iter().filter(|line| line.late).map(|line| {
        tells(sentence::typed_late(line.text.clone(), context.day_and_clock(line.time_us)), [line.seq])
    });
    let after = folded.story.iter().filter(|line| closed.is_some_and(|closed| line.seq > closed));
    let after = after.filter(|line| !ABOUT_RECORD.contains(&line.kind));
    let after = after.map(|line| tells(sentence::stated_after_closing(line.text.clone()), [line.seq]));
    late.chain(after).collect()
}
