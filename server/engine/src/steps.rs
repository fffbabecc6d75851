//! The questions of the work, in its order: one table, asked by terminal, bay page and office alike.
//!
//! A step is asked until it was answered or skipped with a reason. It proposes only what is known:
//! fluid, kit, torque, refill litres, tool, person. A reading is never proposed, since a proposal
//! would be confirmed without looking. Never here: how a question looks, or what a gate needs.

mod asked;
mod done;
mod equipped;
mod field;
mod looked;
mod overview;

use crate::gates::{Facts, Gate, GoAhead, is_pan_left_out, may};
use crate::job::{Context, Folded, Identity, Recorded, fold};
use crate::kind::closing::Closing;
use crate::kind::skipped::Skipped;
use crate::text::{Sentence, sentence};
use crate::view::JobView;
use asked::STEPS;
pub use overview::OverviewLine;

/// One question of the work as data.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// Name, by which it is skipped.
    pub name: &'static str,
    /// The question.
    pub question: Sentence,
    /// Kind of the entry that answers it, as in the messages.
    pub kind: &'static str,
    /// What is asked, in order.
    pub fields: Vec<Field>,
    /// Fields of the entry that the step itself knows: name and value as flags take them. One that is also
    /// among the fields is known only while the answer is fresh.
    pub preset: Vec<(&'static str, String)>,
    /// The gate that is asked before; its answer is shown above the question. Work that is done all the same is kept.
    pub gate: Option<Gate>,
    /// True where safety rests on it: it is never skipped.
    pub safety: bool,
    /// True where it is asked again after an answer until it is ended.
    pub repeats: bool,
    /// The caution that stands below the question.
    pub caution: Option<Sentence>,
    /// The step whose work comes before: who puts that one off is not asked this one by itself.
    pub after: Option<&'static str>,
}

/// One thing that is asked.
#[derive(Debug, Clone, PartialEq)]
pub struct Field {
    /// Field of the entry's message; empty for a question whose choices state other fields.
    pub name: &'static str,
    /// What is asked, in a few words.
    pub ask: Sentence,
    /// How it is answered.
    pub input: Input,
    /// What is proposed; never a reading.
    pub proposal: Option<Proposal>,
    /// False where it may be left empty.
    pub needed: bool,
    /// True where it is asked only on request.
    pub spare: bool,
}

/// One choice of a field.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    /// The word as flags take it.
    pub word: String,
    /// What is shown.
    pub text: Sentence,
    /// Later fields of the step that it states too, so that they are not asked: name and value as flags
    /// take it, an empty value for one that is left empty.
    pub also: Vec<(&'static str, String)>,
}

/// How a field is answered.
#[derive(Debug, Clone, PartialEq)]
pub enum Input {
    /// One of these.
    Choice(Vec<Choice>),
    /// Any number of these.
    Choices(Vec<Choice>),
    /// A number with its unit.
    Quantity {
        /// Units that are taken, for example `L or kg`; the first is understood when none is typed.
        units: &'static [&'static str],
    },
    /// A whole number.
    Count,
    /// A text or code.
    Text,
}

/// What is proposed for a field, and why.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposal {
    /// The value as flags take it.
    pub value: String,
    /// Where it comes from.
    pub why: Sentence,
}

/// Names of the steps that may be left out with a reason.
#[cfg(test)]
pub(crate) fn skippable() -> impl Iterator<Item = &'static str> {
    STEPS.iter().filter(|row| !row.safety).map(|row| row.name)
}

/// Whether the step of this name was done, as far as its row can tell.
pub(crate) fn done(facts: &Facts<'_>, name: &str) -> bool {
    STEPS.iter().find(|row| row.name == name).is_some_and(|row| (row.answered)(facts))
}

/// All steps that remain, in the order of the work; the first is the one to ask.
#[must_use]
pub fn remaining(context: &Context<'_>, entries: &[Recorded<'_>]) -> Vec<Step> {
    remaining_of(context, &fold::fold(context, entries))
}

/// The same with the view of the same entries.
#[must_use]
pub fn remaining_with_view(context: &Context<'_>, entries: &[Recorded<'_>]) -> (Vec<Step>, JobView) {
    let folded = fold::fold(context, entries);
    (remaining_of(context, &folded), crate::job::view_of(context, entries, folded))
}

/// All that a page beside the vehicle shows of the same entries.
#[derive(Debug, Clone, PartialEq)]
pub struct AtBay {
    /// What remains, in the order of the work.
    pub steps: Vec<Step>,
    /// The answer of each gate that a remaining step asks.
    pub gates: Vec<(Gate, GoAhead)>,
    /// The work in a few lines.
    pub overview: Vec<OverviewLine>,
    /// What the entries mean.
    pub view: JobView,
    /// Name of the only fluid that may go in; absent while no variant is settled.
    pub fluid: Option<String>,
}

/// What remains, with the gates that it asks, the work in a few lines, and the view.
#[must_use]
pub fn at_bay(context: &Context<'_>, entries: &[Recorded<'_>]) -> AtBay {
    let folded = fold::fold(context, entries);
    let identity = Identity::of(context, &folded);
    let steps = remaining_of(context, &folded);
    let view = crate::job::view(context, entries);
    let overview = overview::lines(&Facts { context, folded: &folded, identity: &identity }, &view, &steps);
    let asked = Gate::ALL.iter().filter(|gate| steps.iter().any(|step| step.gate == Some(**gate)));
    let gates = asked.map(|gate| (*gate, may(context, entries, *gate))).collect();
    let fluid = identity.variant.as_ref().and_then(|variant| variant.fluid.as_ref());
    let fluid = fluid.map(|(_, name)| name.clone());
    AtBay { steps, gates, overview, view, fluid }
}

fn remaining_of(context: &Context<'_>, folded: &Folded) -> Vec<Step> {
    let identity = Identity::of(context, folded);
    let facts = Facts { context, folded, identity: &identity };
    if folded.last::<Closing>().is_some() {
        return Vec::new();
    }
    let pan_left_out = is_pan_left_out(folded);
    let skipped = |name: &str| {
        folded.each::<Skipped>().any(|(_, skipped)| skipped.step == name)
            || (pan_left_out && asked::ABOUT_PAN.contains(&name))
    };
    let mut steps: Vec<Step> = STEPS
        .iter()
        .filter(|row| !(row.answered)(&facts) && (row.safety || !skipped(row.name)))
        .filter(|row| !asked::is_too_late(row.name, folded))
        .map(|row| Step {
            name: row.name,
            question: (row.question)(&facts),
            kind: row.kind,
            fields: (row.fields)(&facts),
            preset: preset(row, &facts),
            gate: row.gate,
            safety: row.safety,
            repeats: row.repeats,
            caution: row.caution.map(|caution| said_in_full(row, caution(), &facts)),
            after: row.after,
        })
        .collect();
    asked::pan_before_pushing(&facts, &mut steps, |step| step.name);
    steps
}

/// The caution of a step; at the level with that of the dipstick, where the variant has one; where the cautions are read
/// first, with what the vehicle's maker warns of.
fn said_in_full(row: &asked::Row, caution: Sentence, facts: &Facts<'_>) -> Sentence {
    let at_level = row.name == "caution-gears" || row.gate == Some(Gate::Level);
    let caution = if at_level && facts.identity.has_dipstick() {
        sentence::caution_and_dipstick(sentence::caution_dipstick(), caution)
    } else {
        caution
    };
    let variant = facts.identity.variant.as_ref().filter(|_| row.name == asked::FIRST_CAUTION);
    let of_maker = crate::caution::of_maker(variant.map(|variant| variant.cautions.as_slice()));
    of_maker.into_iter().fold(caution, sentence::cautions_together)
}

fn preset(row: &asked::Row, facts: &Facts<'_>) -> Vec<(&'static str, String)> {
    let fixed = row.preset.iter().map(|(field, value)| (*field, (*value).to_owned()));
    fixed.chain((row.known)(facts)).collect()
}

/// Names of all steps, in the order of the work.
#[must_use]
pub fn names() -> Vec<&'static str> {
    STEPS.iter().map(|row| row.name).collect()
}
