//! What the registers of the site say of this job: a tool that is in none, a display past its check, another fluid in
//! the equipment.
//!
//! Never here: what a gate makes of it.

use super::fold::{Folded, stops, tells};
use super::{Context, Identity};
use crate::catalogue::same_code;
use crate::gates::{Gate, against_screws, is_left_out, missing};
use crate::kind::closing::Closing;
use crate::kind::plug_closed::PlugClosed;
use crate::kind::tightening::Tightening;
use crate::kind::words::ToolKind;
use crate::site::equipment::{self, Foreign};
use crate::site::{display, tools};
use crate::text::{Sentence, number, sentence};
use crate::view::Finding;

/// What somebody should know.
pub(super) fn findings(context: &Context<'_>, folded: &Folded, identity: &Identity) -> Vec<Finding> {
    let mut findings = unknown_tools(context, folded);
    findings.extend(screws(context, folded, identity));
    findings.extend(display_check(context, folded));
    findings.extend(in_equipment(context, folded, identity));
    findings
}

/// What is not as it should be with the screws, as soon as they are tightened. Of a variant that is not listed nobody
/// says which screws are for one use.
fn screws(context: &Context<'_>, folded: &Folded, identity: &Identity) -> Vec<Finding> {
    let seqs = || folded.each::<Tightening>().map(|(stated, _)| stated.seq);
    let mut findings: Vec<Finding> = Vec::new();
    if folded.last::<Closing>().is_none() {
        let against = against_screws(context, folded, identity).into_iter();
        findings.extend(against.map(|text| tells(text, seqs())));
    }
    if identity.variant.as_ref().is_none_or(|variant| variant.source.is_none()) {
        let again = folded.each::<Tightening>().filter(|(_, it)| it.reused_count() > 0);
        findings.extend(again.map(|(stated, it)| {
            let (all, reused) = (it.screw_count.to_string(), it.reused_count().to_string());
            tells(sentence::finding_screws_again(all, it.group_in_words(), reused), [stated.seq])
        }));
    }
    findings
}

/// A check of the display that does not count: it cannot be right, is past due, or says less than no check.
fn display_check(context: &Context<'_>, folded: &Folded) -> Option<Finding> {
    let check = display::of_job(context, folded)?;
    let (seq, _) = equipment::last_push(folded)?;
    let limit = number::fixed(context.workshop().display_error_limit.value * 100.0, 0);
    let limit = number::with_unit(&limit, "%");
    let text = if check.doubtful {
        sentence::finding_display_doubtful(&check.equipment, &check.reference, &check.shown)
    } else if check.overdue {
        sentence::finding_display_overdue(tools::in_words(check.due_on), &check.equipment, limit)
    } else if check.coarse {
        sentence::finding_display_coarse(&check.equipment, limit, &check.reference, &check.shown)
    } else {
        return None;
    };
    Some(tells(text, [seq]))
}

/// Tools that were used and that the register, where one is kept, does not know.
fn unknown_tools(context: &Context<'_>, folded: &Folded) -> Vec<Finding> {
    let register = tools::Register::of(context.site, context.workshop(), context.site_up_to);
    if !register.knows_torque_tools() {
        return Vec::new();
    }
    let screws = folded.each::<Tightening>().map(|(stated, it)| (stated.seq, it.tool.as_str()));
    let plug = folded.last::<PlugClosed>().map(|(stated, plug)| (stated.seq, plug.tool.as_str()));
    let mut unknown: Vec<(&str, Vec<u64>)> = Vec::new();
    for (seq, tool) in screws.chain(plug).filter(|(_, tool)| !tool.is_empty()) {
        if register.tool(ToolKind::TorqueTool, tool).is_some() {
            continue;
        }
        match unknown.iter_mut().find(|(known, _)| same_code(known, tool)) {
            Some((_, seqs)) => seqs.push(seq),
            None => unknown.push((tool, vec![seq])),
        }
    }
    unknown.into_iter().map(|(tool, seqs)| tells(sentence::finding_tool_unknown(tool), seqs)).collect()
}

/// Another fluid in the equipment: before it is pushed in the point that stops it, afterwards what went in.
fn in_equipment(context: &Context<'_>, folded: &Folded, identity: &Identity) -> Vec<Finding> {
    if let Some((foreign, seq)) = pushed_in(context, folded, identity).zip(equipment::begun_at(folded)) {
        return vec![stops(went_in(context, &foreign), [seq])];
    }
    let over = folded.last::<Closing>().is_some() || is_left_out(folded, "exchange");
    if over || equipment::begun_at(folded).is_some() {
        return Vec::new();
    }
    let stopping = missing(context, folded, identity, Gate::Exchange).into_iter();
    let stopping = stopping.filter(|missing| missing.stops && missing.key == "equipment-contents");
    stopping.map(|missing| Finding { on_record: false, ..stops(missing.text, []) }).collect()
}

fn went_in(context: &Context<'_>, foreign: &Foreign) -> Sentence {
    let name = context.revision.fluid(&foreign.code).map_or(&foreign.code, |fluid| &fluid.name);
    sentence::finding_equipment_other(&foreign.equipment, number::litres(foreign.litres.value, 1), name)
}

/// Fluid of another kind that went in first; absent while no fluid is known to be the right one.
pub(super) fn pushed_in(context: &Context<'_>, folded: &Folded, identity: &Identity) -> Option<Foreign> {
    let variant = identity.variant.as_ref().filter(|variant| variant.fluid.is_some())?;
    equipment::foreign(context, folded, |code| variant.takes_fluid(code))
}

/// What the record says of the display: its last check, or that it is taken as right within its limit.
pub(super) fn display_said(context: &Context<'_>, folded: &Folded) -> Sentence {
    match display::of_job(context, folded).and_then(display::DisplayCheck::valid) {
        Some(check) => {
            sentence::exchange_display_checked(tools::in_words(check.day), check.reference, check.shown)
        }
        None => {
            let limit = number::fixed(context.workshop().display_error_limit.value * 100.0, 0);
            sentence::exchange_display_unchecked(number::with_unit(&limit, "%"))
        }
    }
}
