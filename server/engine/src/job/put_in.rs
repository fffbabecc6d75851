//! What was put in, with which fluid, and whether it was known to be right at that moment.
//!
//! A go-ahead that would be given today says nothing of the fluid that went in before. So each
//! amount is judged by what had been stated when it was put in: what came surely later does not count, nor does what
//! was said of the site later, nor a catalogue that was adopted later.

use super::fold::{Folded, Stated, tells};
use super::{Context, Identity};
use crate::gates::{Gate, Missing, against_fluid};
use crate::kind::Fact;
use crate::kind::exchange_reading::ExchangeReading;
use crate::kind::fill::Fill;
use crate::kind::part_checked::PartChecked;
use crate::kind::words::Part;
use crate::site::equipment;
use crate::text::sentence;
use crate::view::{Finding, Weight};
use std::cmp::Ordering;
use std::collections::HashMap;

/// The code on the container that fluid came from, as read; absent when nobody read one before.
pub(super) fn container_before(folded: &Folded, worked: &Stated) -> Option<String> {
    container_check_before(folded, worked).map(|(_, check)| check.code.clone())
}

/// The last look at a fluid container that was not surely later than the work.
pub(crate) fn container_check_before<'a>(
    folded: &'a Folded,
    worked: &Stated,
) -> Option<(&'a Stated, &'a PartChecked)> {
    last_before(container_checks(folded), worked)
}

/// Every look at a fluid container.
pub(super) fn container_checks(folded: &Folded) -> impl Iterator<Item = (&Stated, &PartChecked)> {
    folded.each::<PartChecked>().filter(|(_, check)| check.part == Some(Part::FluidContainer))
}

/// The last of these looks that was not surely later than the work.
pub(super) fn last_before<'a>(
    looks: impl Iterator<Item = (&'a Stated, &'a PartChecked)>,
    worked: &Stated,
) -> Option<(&'a Stated, &'a PartChecked)> {
    let later = |last: (&'a Stated, &'a PartChecked), look: (&'a Stated, &'a PartChecked)| {
        if last.0.is_after(look.0) { last } else { look }
    };
    let looks: Vec<_> = looks.filter(|(stated, _)| not_surely_after(stated, worked)).collect();
    // Where two stations leave it open which came first, the journal says it: another container that is read while the
    // litres are still to come does not change what went in before.
    let before = looks.iter().copied().filter(|(stated, _)| worked.is_after(stated));
    // What is typed later may have been looked at earlier.
    before.reduce(later).or_else(|| looks.into_iter().reduce(later))
}

/// Work that was done although its gate said no at that moment: it is kept, and it is printed.
pub(super) fn without_go_ahead(context: &Context<'_>, folded: &Folded) -> Vec<Finding> {
    let mut known: HashMap<(Vec<u64>, bool, u64), Vec<Missing>> = HashMap::new();
    // Once pushing began a newer catalogue is told and asks for nothing.
    let begun = equipment::begun_at(folded).unwrap_or(u64::MAX);
    let mut findings: Vec<Finding> = Vec::new();
    for (worked, gate) in worked(folded) {
        let before: Vec<&Stated> = folded
            .facts
            .iter()
            .filter(|stated| is_about_identity(&stated.fact) && not_surely_after(stated, worked))
            .collect();
        let seqs: Vec<u64> = before.iter().map(|stated| stated.seq).collect();
        let newer = context.newer.filter(|newer| newer.adopted_at < worked.seq.min(begun));
        let site_up_to = context.site_up_to.min(worked.seq);
        let said = context.site.last_said(site_up_to);
        let missing = known.entry((seqs, newer.is_some(), said)).or_insert_with(|| {
            let facts = before.into_iter().cloned().collect();
            let then = Folded { facts, ..Folded::default() };
            let context = Context { newer, site_up_to, ..context.clone() };
            against_fluid(&context, &then, &Identity::of(&context, &then))
        });
        for Missing { text, stops, .. } in missing.iter() {
            let text = sentence::gate_done_without(gate.name(), text.clone());
            match findings.iter_mut().find(|finding| finding.text == text) {
                Some(finding) => finding.seqs.push(worked.seq),
                None => {
                    // What is wrong at hand, or inside, stops the work by itself.
                    let weight = if *stops { Weight::Stops } else { Weight::Tells };
                    findings.push(Finding { weight, ..tells(text, [worked.seq]) });
                }
            }
        }
    }
    findings
}

/// Every entry by which fluid went in, with the gate that should have been asked before.
fn worked(folded: &Folded) -> impl Iterator<Item = (&Stated, Gate)> {
    folded.facts.iter().filter_map(|stated| match &stated.fact {
        Fact::ExchangeReading(reading) if pushed(reading) => Some((stated, Gate::Exchange)),
        Fact::Fill(_) => Some((stated, Gate::Refill)),
        _ => None,
    })
}

/// A reading of the counter at zero pushed nothing in.
fn pushed(reading: &ExchangeReading) -> bool {
    match reading.pushed_in.read() {
        crate::amount::Read::Litres(litres) | crate::amount::Read::Kilograms(litres) => litres > 0.0,
    }
}

fn is_about_identity(fact: &Fact) -> bool {
    matches!(
        fact,
        Fact::VinReading(_)
            | Fact::VariantSettled(_)
            | Fact::PartChecked(_)
            | Fact::FluidSample(_)
            | Fact::Decision(_)
    )
}

fn not_surely_after(stated: &Stated, worked: &Stated) -> bool {
    stated.moment.certainly(&worked.moment) != Some(Ordering::Greater)
}

/// The code or name of the fluid that a fill put in, as stated there or as read on the container before.
pub(super) fn filled_with(folded: &Folded, stated: &Stated, fill: &Fill) -> Option<String> {
    if fill.fluid_code.is_empty() { container_before(folded, stated) } else { Some(fill.fluid_code.clone()) }
}
