//! What was read, seen or felt before the work and speaks for looking into the pan before fluid is spent.
//!
//! None of it withholds the exchange; what does is asked of the gates. The signs are words, never points.

use crate::formula::fault_code::{FaultClass, classify};
use crate::job::{Context, Folded, driven_kilometres};
use crate::kind::arrival::Arrival;
use crate::kind::fault_codes::FaultCodes;
use crate::kind::fluid_sample::FluidSample;
use crate::kind::road_test::RoadTest;
use crate::kind::words::{Debris, DriveTick, Moment, SampleTime, Smell, VisitReason};
use crate::text::{Sentence, number, sentence};

/// Reasons for the visit that wear inside can have (common practice, no source).
const REASONS: [VisitReason; 3] = [VisitReason::Shudder, VisitReason::Noise, VisitReason::Slip];
/// What is felt on a drive where wear inside may be the reason (common practice, no source).
const TICKS: [DriveTick; 5] =
    [DriveTick::Flare, DriveTick::Shudder, DriveTick::Noise, DriveTick::Slip, DriveTick::Bang];
/// So many intervals of the workshop on the same fluid are a high distance (common practice, no source).
const INTERVALS_HIGH: f64 = 2.0;

/// Everything that speaks for the pan first, a few words each; empty when nothing does.
pub(super) fn pan_first(context: &Context<'_>, folded: &Folded) -> Vec<Sentence> {
    let mut signs: Vec<Sentence> = Vec::new();
    let found = codes(folded)
        .into_iter()
        .chain(complaint(folded))
        .chain(drive(folded))
        .chain(sample(folded))
        .chain(distance(context, folded));
    for sign in found {
        if !signs.contains(&sign) {
            signs.push(sign);
        }
    }
    signs
}

fn codes(folded: &Folded) -> Vec<Sentence> {
    let read = folded.each::<FaultCodes>().filter(|(_, read)| read.moment == Some(Moment::Before));
    let codes = read.flat_map(|(_, read)| read.codes.iter());
    codes.filter(|code| classify(code) != FaultClass::NoteOnly).map(sentence::plan_sign_codes).collect()
}

fn complaint(folded: &Folded) -> Vec<Sentence> {
    let Some((_, arrival)) = folded.last::<Arrival>() else { return Vec::new() };
    let reasons = arrival.reasons.iter().filter(|reason| REASONS.contains(reason));
    let reasons = reasons.map(|reason| sentence::visit_reason(reason.word()));
    reasons.chain(arrival.complaint_about_job.as_ref().map(sentence::arrival_complaint)).collect()
}

fn drive(folded: &Folded) -> Vec<Sentence> {
    let drives = folded.each::<RoadTest>().filter(|(_, drive)| drive.moment == Some(Moment::Before));
    let ticks = drives.flat_map(|(_, drive)| drive.ticks.iter()).filter(|tick| TICKS.contains(tick));
    ticks.map(|tick| sentence::drive_tick(tick.word())).collect()
}

fn sample(folded: &Folded) -> Vec<Sentence> {
    let samples = folded.each::<FluidSample>().filter(|(_, it)| it.moment == Some(SampleTime::Before));
    let mut signs = Vec::new();
    for (_, sample) in samples {
        signs.extend((sample.smell == Some(Smell::Burnt)).then(sentence::plan_sign_burnt));
        signs.extend((sample.specks == Some(Debris::Glitter)).then(sentence::plan_sign_glitter));
    }
    signs
}

fn distance(context: &Context<'_>, folded: &Folded) -> Option<Sentence> {
    let interval = context.workshop().service_interval_kilometres.as_ref()?;
    let driven = driven_kilometres(context, folded)?;
    let high = driven > INTERVALS_HIGH * interval.value;
    high.then(|| sentence::plan_sign_distance(number::kilometres(driven)))
}
