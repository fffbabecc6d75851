//! What the customer should do or know, and the cautions that belong to the work.
//!
//! What was declined or agreed, what was used again, where it was damp; the maker's instructions, local
//! rules and licensed practice always come last. Never here: a judgement of the work.

use super::exchange::ExchangeOf;
use super::fold::Folded;
use super::{Context, Identity, seen};
use crate::caution;
use crate::kind::caution_read::CautionRead;
use crate::kind::customer_answer::CustomerAnswer;
use crate::kind::decision::Decision;
use crate::kind::drain::Drain;
use crate::kind::exchange_reading::ExchangeReading;
use crate::kind::fill::Fill;
use crate::kind::gear_cycle::GearCycle;
use crate::kind::hookup::Hookup;
use crate::kind::inspection::Inspection;
use crate::kind::leak_check::LeakCheck;
use crate::kind::level_check::LevelCheck;
use crate::kind::part_fitted::{PartFitted, in_words};
use crate::kind::plug_closed::PlugClosed;
use crate::kind::road_test::RoadTest;
use crate::kind::tightening::Tightening;
use crate::kind::words::{
    Answer, CautionGroup, CustomerSaid, CustomerTopic, DrainedFrom, InspectedPart, InspectionFound, LeakFound,
};
use crate::text::{Sentence, sentence};
use crate::view::{BalanceView, Finding, Weight};

/// What the customer should do or know; the maker's instructions, rules and licensed practice last.
pub(super) fn please_note(
    context: &Context<'_>,
    folded: &Folded,
    findings: &[Finding],
    balance: Option<&BalanceView>,
    exchange: Option<&ExchangeOf>,
) -> Vec<Sentence> {
    let stops = findings.iter().filter(|finding| finding.on_record && finding.weight == Weight::Stops);
    let mut notes: Vec<Sentence> = Vec::new();
    let known = stops
        .map(|finding| finding.text.clone())
        .chain(exchange.and_then(|exchange| exchange.note.clone()))
        .chain(seen::repair_first(folded))
        .chain(seen::to_note(folded))
        .chain(super::balance::arrived_short(balance));
    for note in known.chain(answers(context, folded)).chain(used_again(context, folded)).chain(damp(folded)) {
        if !notes.contains(&note) {
            notes.push(note);
        }
    }
    if folded.each::<ExchangeReading>().next().is_some() || folded.each::<Fill>().next().is_some() {
        notes.push(sentence::note_drops());
    }
    notes.push(sentence::note_repairs_nothing());
    notes.push(sentence::note_stop_driving());
    notes.push(sentence::note_instructions_first());
    notes
}

/// What the customer was told, agreed to or declined, with the day; the last answer to each subject.
fn answers(context: &Context<'_>, folded: &Folded) -> Vec<Sentence> {
    let all: Vec<_> = folded.each::<CustomerAnswer>().collect();
    let last = all.iter().enumerate().filter(|(place, (_, answer))| {
        !all.iter().skip(place + 1).any(|(_, later)| later.topic == answer.topic)
    });
    last.filter_map(|(_, (stated, answer))| {
        let day = context.day(stated.time_us);
        Some(match answer.said? {
            CustomerSaid::Informed => sentence::note_informed(day, answer.about()),
            CustomerSaid::Agrees => sentence::note_agreed(day, answer.about()),
            CustomerSaid::Declines if answer.topic == Some(CustomerTopic::NoExchange) => {
                sentence::note_declined_stop(day)
            }
            CustomerSaid::Declines => sentence::note_declined(day, answer.about()),
        })
    })
    .collect()
}

/// Screws, seals and parts that are not new, with the person who answers for it.
fn used_again(context: &Context<'_>, folded: &Folded) -> Vec<Sentence> {
    let mut notes = Vec::new();
    for (stated, fitted) in folded.each::<PartFitted>().filter(|(_, fitted)| !fitted.excepted.is_empty()) {
        notes.push(sentence::note_parts_kept(in_words(&fitted.excepted), context.person(&stated.person)));
    }
    for (stated, tightening) in folded.each::<Tightening>() {
        let reused = tightening.reused_count();
        if reused > 0 {
            let (all, group) = (tightening.screw_count.to_string(), tightening.group_in_words());
            let reused = reused.to_string();
            let mut decisions = folded.each::<Decision>().rev();
            let decided = decisions.find(|(made, decision)| {
                decision.point == crate::gates::SCREWS_USED_AGAIN && made.is_after(stated)
            });
            notes.push(match decided {
                Some((made, _)) => {
                    sentence::note_screws_reused(all, group, context.person(&made.person), reused)
                }
                None => sentence::note_screws_reused_undecided(all, group, reused),
            });
        }
    }
    let plug = folded.last::<PlugClosed>().filter(|(_, plug)| plug.seal_new == Some(Answer::No));
    notes.extend(plug.map(|(stated, _)| sentence::note_plug_seal_reused(context.person(&stated.person))));
    notes
}

/// Where it was damp, dripping or damaged when somebody looked last.
fn damp(folded: &Folded) -> Vec<Sentence> {
    let mut notes = Vec::new();
    let leak = folded.last::<LeakCheck>().and_then(|(_, check)| check.found);
    notes
        .extend(leak.filter(|found| *found != LeakFound::Dry).map(|found| sentence::note_leak(found.word())));
    let mut looks: Vec<(InspectedPart, InspectionFound)> = Vec::new();
    for (_, inspection) in folded.each::<Inspection>() {
        if let (Some(part), Some(found)) = (inspection.part, inspection.found) {
            looks.retain(|(known, _)| *known != part);
            looks.push((part, found));
        }
    }
    let open = looks.into_iter().filter(|(_, found)| *found != InspectionFound::InOrder);
    notes.extend(open.map(|(part, found)| {
        let found = sentence::inspection_found(found.word());
        sentence::note_part_seen(found, sentence::inspected_part(part.word()))
    }));
    notes
}

/// Cautions that belong to the work of this job: the groups that its work called for or that were read.
pub(super) fn cautions(context: &Context<'_>, folded: &Folded, identity: &Identity) -> Vec<Sentence> {
    let read = |group| folded.each::<CautionRead>().any(|(_, caution)| caution.group == Some(group));
    let pushed = folded.each::<ExchangeReading>().next().is_some();
    let hooked_up = pushed || folded.each::<Hookup>().next().is_some();
    let gears = folded.each::<GearCycle>().next().is_some();
    let level = folded.each::<LevelCheck>().next().is_some();
    let drained = folded.each::<Drain>().any(|(_, drain)| drain.place == Some(DrainedFrom::Pan));
    let mut cautions = vec![caution::text(CautionGroup::Lifted)];
    // What the temperature was at each step is not known any more, so it is taken as hot.
    cautions.extend(caution::at_fluid(None));
    let called_for = [
        (CautionGroup::LineOpening, hooked_up),
        (CautionGroup::EngineRunning, pushed || gears || level),
        (CautionGroup::GearsAndLevel, gears || level),
    ];
    let groups = called_for.into_iter().filter(|(group, needed)| *needed || read(*group));
    cautions.extend(groups.map(|(group, _)| caution::text(group)));
    if folded.each::<LevelCheck>().any(|(_, check)| check.dipstick.is_some()) {
        cautions.push(sentence::caution_dipstick());
    }
    if drained {
        cautions.push(sentence::caution_drained());
    }
    if super::high_voltage(context, folded) {
        cautions.push(sentence::caution_high_voltage());
    }
    if folded.each::<RoadTest>().next().is_some() {
        cautions.push(sentence::caution_drive());
    }
    cautions.extend(caution::of_maker(identity.variant.as_ref().map(|variant| variant.cautions.as_slice())));
    cautions
}
