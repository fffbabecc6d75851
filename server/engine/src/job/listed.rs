//! Lists of the record's second page: torques, waste, cautions read, photos, words, what was left out or decided. And
//! what the list of jobs says of one.
//!
//! Each fact that counts is a line. Nothing is computed and nothing is judged here.

use super::exchange::{self, on_sheet};
use super::fold::{Folded, tells};
use super::{Context, Identity};
use crate::gates::decided::Idle;
use crate::kind::caution_read::CautionRead;
use crate::kind::decision::Decision;
use crate::kind::exchange_reading::ExchangeReading;
use crate::kind::photo::Photo;
use crate::kind::plug_closed::PlugClosed;
use crate::kind::remark::Remark;
use crate::kind::skipped::{NAMED, Skipped};
use crate::kind::tightening::Tightening;
use crate::kind::waste::Waste;
use crate::kind::words::{CautionGroup, PhotoSubject};
use crate::kind::{Kind as _, key_in_words};
use crate::steps;
use crate::text::{Sentence, number, sentence};
use crate::view::{Finding, Head, PhotoView, RemarkView};

/// What the list of jobs says of an open one: that a stop stands, and what is open next.
#[must_use]
pub fn line(head: &Head) -> Option<Sentence> {
    let next = head.next_open_point.clone()?;
    Some(if head.stop_stands { sentence::line_stop(next) } else { next })
}

/// Groups of screws in the order of the entries, then the level plug as it was closed last.
pub(super) fn tightening(folded: &Folded) -> Vec<Sentence> {
    let screws = folded.each::<Tightening>().map(|(_, tightening)| tightening.sentence());
    screws.chain(folded.last::<PlugClosed>().map(|(_, plug)| plug.sentence())).collect()
}

/// What was put into containers.
pub(super) fn waste(folded: &Folded) -> Vec<Sentence> {
    folded.each::<Waste>().map(|(_, waste)| waste.sentence()).collect()
}

/// The groups of cautions that were read, in the order of the work, with everybody who read them.
pub(super) fn acknowledged(context: &Context<'_>, folded: &Folded) -> Vec<Sentence> {
    let mut read: Vec<(Option<CautionGroup>, Vec<&str>)> = Vec::new();
    for (stated, caution) in folded.each::<CautionRead>() {
        let person = stated.person.as_str();
        match read.iter_mut().find(|(group, _)| *group == caution.group) {
            Some((_, persons)) if persons.contains(&person) => {}
            Some((_, persons)) => persons.push(person),
            None => read.push((caution.group, vec![person])),
        }
    }
    read.sort_by_key(|(group, _)| (group.is_none(), *group));
    let line = |(group, persons): (Option<CautionGroup>, Vec<&str>)| {
        let group = sentence::caution_group(group.map_or("unknown", CautionGroup::word));
        let persons: Vec<Sentence> = persons.into_iter().map(|code| context.person(code)).collect();
        sentence::listed_acknowledged(group, persons)
    };
    read.into_iter().map(line).collect()
}

/// Photos with what they show; one that compares fluids with what was read from it, or why nothing was.
pub(super) fn photos(context: &Context<'_>, folded: &Folded) -> Vec<PhotoView> {
    let caption = |photo: &Photo| {
        if photo.subject != Some(PhotoSubject::Comparison) {
            return photo.caption();
        }
        let names = |reading: &ExchangeReading| reading.photo_digest.as_ref() == Some(&photo.blob_digest);
        let named = folded.each::<ExchangeReading>().rfind(|(_, reading)| names(reading));
        let Some((_, reading)) = named else { return sentence::photo_comparison_unused() };
        let at = number::litres(exchange::litres(&reading.pushed_in), 1);
        on_sheet::caption(context.extracts.get(&photo.blob_digest), &at)
    };
    let view = |photo: &Photo| PhotoView { digest: photo.blob_digest.clone(), caption: caption(photo) };
    folded.each::<Photo>().map(|(_, photo)| view(photo)).collect()
}

/// Words with what they are about.
pub(super) fn remarks(folded: &Folded) -> Vec<RemarkView> {
    let view = |remark: &Remark| RemarkView { digest: remark.blob_digest.clone(), subject: remark.about() };
    folded.each::<Remark>().map(|(_, remark)| view(remark)).collect()
}

/// Steps that were left out, each with its last reason; one that was done all the same is none of them.
pub(super) fn skipped(context: &Context<'_>, folded: &Folded, identity: &Identity) -> Vec<Sentence> {
    let facts = crate::gates::Facts { context, folded, identity };
    let mut lines: Vec<(&str, Sentence)> = Vec::new();
    let left_out = |skipped: &Skipped| is_step(&skipped.step) && !steps::done(&facts, &skipped.step);
    for (stated, skipped) in folded.each::<Skipped>().filter(|(_, skipped)| left_out(skipped)) {
        let (person, reason) = (context.person(&stated.person), skipped.reason_in_words());
        let line = sentence::listed_skipped(person, reason, skipped.step_in_words());
        match lines.iter_mut().find(|(step, _)| *step == skipped.step) {
            Some((_, known)) => *known = line,
            None => lines.push((&skipped.step, line)),
        }
    }
    lines.into_iter().map(|(_, line)| line).collect()
}

fn is_step(name: &str) -> bool {
    NAMED.contains(&name) || steps::names().contains(&name)
}

/// Decisions that decide nothing and steps left out that there are not: kept, and told at once.
pub(super) fn changed_nothing(folded: &Folded, idle: &[Idle]) -> Vec<Finding> {
    let skipped = folded.each::<Skipped>().filter(|(_, skipped)| !is_step(&skipped.step));
    let unknown = skipped.map(|(stated, skipped)| {
        tells(sentence::finding_skipped_unknown(key_in_words(&skipped.step)), [stated.seq])
    });
    idle.iter().map(|idle| tells(idle.text.clone(), [idle.seq])).chain(unknown).collect()
}

/// Open questions that were decided, by whom and when, and whether it was signed; what decides nothing is told and is
/// none of them.
pub(super) fn decisions(context: &Context<'_>, folded: &Folded, idle: &[Idle]) -> Vec<Sentence> {
    let counts = folded.each::<Decision>().filter(|(stated, _)| !idle.iter().any(|it| it.seq == stated.seq));
    let mut lines: Vec<(u64, Sentence)> = Vec::new();
    lines.extend(counts.map(|(stated, decision)| {
        let (person, time) = (context.person(&stated.person), context.day_and_clock(stated.time_us));
        let (point, reason) = (decision.point_in_words(), decision.reason.as_str());
        let line = if stated.signed {
            sentence::listed_decision_signed(person, point, reason, time)
        } else {
            sentence::listed_decision(person, point, reason, time)
        };
        (stated.seq, line)
    }));
    lines.extend(folded.to_sign.iter().filter_map(|it| Some((it.seq, it.listed(context)?))));
    lines.sort_by_key(|(seq, _)| *seq);
    lines.into_iter().map(|(_, line)| line).collect()
}
