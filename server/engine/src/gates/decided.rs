//! What a named person may decide, what a decision decided, and decisions that decide nothing.
//!
//! Which points wait for a decision is never listed: a gate is asked again as if somebody had decided, or as if nobody
//! had, and the difference says it. A decision that decides nothing is kept as it was stated and told.

use super::{Facts, Gate, Missing, lacking, missing, needs};
use crate::job::{Context, Folded, Identity, Moment, Stated};
use crate::kind::Fact;
use crate::kind::decision::Decision;
use crate::text::{Sentence, sentence};

/// A decision that decides nothing.
#[derive(Debug)]
pub(crate) struct Idle {
    /// Place of the decision in the journal.
    pub seq: u64,
    /// What to tell.
    pub text: Sentence,
}

/// Keys of what is missing that a named person may decide.
pub(super) fn decidable(context: &Context<'_>, folded: &Folded, missing: &[Missing]) -> Vec<&'static str> {
    let mut keys: Vec<&'static str> = Vec::new();
    for missing in missing.iter().filter(|missing| !missing.stops) {
        if !keys.contains(&missing.key) {
            keys.push(missing.key);
        }
    }
    if keys.is_empty() {
        return keys;
    }
    let after = open(context, &as_if_decided(context, folded, &keys));
    keys.retain(|key| {
        let mut of_key = missing.iter().filter(|missing| missing.key == *key);
        of_key.all(|missing| !after.iter().any(|left| left.text == missing.text))
    });
    keys
}

/// The decisions without which a gate would say no.
pub(crate) fn basis(context: &Context<'_>, folded: &Folded, gate: Gate) -> Vec<Sentence> {
    if folded.last::<Decision>().is_none() {
        return Vec::new();
    }
    let without = only(folded, |stated| !matches!(stated.fact, Fact::Decision(_)));
    let asked = missing(context, &without, &Identity::of(context, &without), gate);
    let decisions = folded.each::<Decision>();
    let counts = decisions.filter(|(_, decision)| asked.iter().any(|missing| missing.key == decision.point));
    let said = |(stated, decision): (&Stated, &Decision)| {
        let person = context.person(&stated.person);
        if stated.signed {
            sentence::gate_basis_decision_signed(person, decision.point_in_words(), &decision.reason)
        } else {
            sentence::gate_basis_decision(person, decision.point_in_words(), &decision.reason)
        }
    };
    counts.map(said).collect()
}

/// Decisions that decided nothing, neither when they were made nor now.
pub(crate) fn idle(context: &Context<'_>, folded: &Folded) -> Vec<Idle> {
    let mut judged: Vec<(&str, Option<Sentence>)> = Vec::new();
    let mut idle = Vec::new();
    for (stated, decision) in folded.each::<Decision>() {
        let point = decision.point.as_str();
        let known = judged.iter().find(|(known, _)| *known == point).map(|(_, text)| text.clone());
        let text = known.unwrap_or_else(|| {
            let text = against(context, folded, stated, decision);
            judged.push((point, text.clone()));
            text
        });
        idle.extend(text.map(|text| Idle { seq: stated.seq, text }));
    }
    idle
}

/// Why a decision decides nothing; absent where it does.
fn against(context: &Context<'_>, folded: &Folded, first: &Stated, decision: &Decision) -> Option<Sentence> {
    let point = decision.point.as_str();
    let of_point = |stated: &Stated| matches!(&stated.fact, Fact::Decision(it) if it.point == point);
    // As it is now without it, and as it was when it was made.
    let without = [
        only(folded, |stated| !of_point(stated)),
        only(folded, |stated| stated.seq < first.seq && !of_point(stated)),
    ];
    let mut stops = false;
    let mut waits = false;
    for then in &without {
        let lacks: Vec<Missing> =
            open(context, then).into_iter().filter(|missing| missing.key == point).collect();
        stops |= lacks.iter().any(|missing| missing.stops);
        waits |= !lacks.is_empty();
        let keys: Vec<&str> = lacks.iter().map(|missing| missing.key).collect();
        if keys.is_empty() {
            continue;
        }
        let after = open(context, &as_if_decided(context, then, &keys));
        if lacks.iter().any(|missing| !after.iter().any(|left| left.text == missing.text)) {
            return None;
        }
    }
    let words = decision.point_in_words();
    if stops {
        return Some(sentence::finding_decision_not_allowed(words));
    }
    if waits {
        return Some(sentence::finding_decision_to_do(words));
    }
    let keys = decidable(context, folded, &open(context, folded));
    let open = if keys.is_empty() { "none" } else { "some" };
    Some(sentence::finding_decision_idle(open, words, keys.join(", ")))
}

/// What any gate lacks, whatever stands in for it.
fn open(context: &Context<'_>, folded: &Folded) -> Vec<Missing> {
    let identity = Identity::of(context, folded);
    let facts = Facts { context, folded, identity: &identity };
    Gate::ALL.iter().flat_map(|gate| needs(*gate)).flat_map(|need| lacking(&facts, need)).collect()
}

fn only(folded: &Folded, counts: impl Fn(&Stated) -> bool) -> Folded {
    let facts = folded.facts.iter().filter(|stated| counts(stated)).cloned().collect();
    Folded { facts, ..Folded::default() }
}

/// The same job as if a named person decided the points last of all.
fn as_if_decided(context: &Context<'_>, folded: &Folded, points: &[&str]) -> Folded {
    let mut decided = only(folded, |_| true);
    decided.facts.extend(points.iter().map(|point| Stated {
        seq: u64::MAX,
        said_seq: u64::MAX,
        person: String::new(),
        moment: Moment::new(
            (String::new(), String::new()),
            i64::MAX,
            (context.as_of_us, i64::MAX),
            false,
            None,
        ),
        time_us: context.as_of_us,
        signed: true,
        fact: Fact::Decision(Decision { point: (*point).to_owned(), reason: String::new() }),
    }));
    decided
}
