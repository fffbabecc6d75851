//! The fluid's condition before and after: one line an observation, and the rule that decided.
//!
//! Words that were tapped come from [`sights`], figures of a letter or photo from [`letter`] and [`viscosity`], the
//! distance from the vehicle's earlier jobs; [`crate::formula::condition`] says what they speak for. The view shows it,
//! the gate of the exchange asks it whether to look inside first. Never here: a limit, which only the workshop states.

mod letter;
mod said;
mod sights;
mod viscosity;

use super::ageing::Ageing;
use super::fold::Folded;
use super::{Context, Stated, history};
use crate::formula::condition::{Debris, Finding, Limits, Observation, Reason, Rule, SpeaksFor, judge};
use crate::kind::Fact;
use crate::kind::exchange_reading::ExchangeReading;
use crate::text::{Sentence, number, sentence};
use crate::view::{ConditionValue, ConditionView};
use std::collections::BTreeSet;

/// Before the service or after it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Side {
    /// Before.
    Before,
    /// After.
    After,
}

/// One side with what the customer's page says of it.
pub(super) struct Judged {
    /// The side as it is shown.
    pub view: ConditionView,
    rule: Rule,
    advice: Sentence,
}

/// An observation in words, with what it rests on.
struct Evidence {
    observation: Observation,
    /// What was seen, with its numbers.
    seen: Sentence,
    /// The same without a number, as a reason for the customer.
    sign: Sentence,
    values: Vec<ConditionValue>,
    seqs: Vec<u64>,
    /// Whether a laboratory or a photo says it.
    measured: bool,
}

/// Both sides, each only where something was seen.
pub(super) fn of(context: &Context<'_>, folded: &Folded) -> Vec<Judged> {
    [Side::Before, Side::After].into_iter().filter_map(|side| of_side(context, folded, side)).collect()
}

/// One sentence for the customer: of the side whose rule asks for the most, of the later one where both ask for the
/// same.
pub(super) fn advice(sides: &[Judged]) -> Option<Sentence> {
    let asks = |judged: &&Judged| match judged.rule {
        Rule::LookInside => 3,
        Rule::Change => 2,
        Rule::NoReason => 1,
        Rule::TooLittle => 0,
    };
    let advice = sides.iter().max_by_key(asks).map(|judged| judged.advice.clone());
    // A photo is no letter.
    let mut lines = sides.iter().flat_map(|judged| &judged.view.lines);
    let letter = lines.any(|line| line.measured && line.kind != "colour");
    if letter { advice.map(sentence::condition_advice_letter) } else { advice }
}

/// Whether something seen before the exchange says to look inside first, as long as nobody decided on it. A pan that
/// was off when fluid had been pushed in already comes too late for that question.
pub(super) fn says_look_inside(folded: &Folded, decided: impl Fn(&Stated) -> bool) -> bool {
    let begun = |stated: &Stated| pushed(folded).any(|reading| stated.is_after(reading));
    let mut sights = sights::of(folded, Side::Before);
    sights.retain(|sight| {
        let of_pan = matches!(sight.stated.fact, Fact::Drain(_));
        // Only flakes can say it; the question of order, which looks at every reading, is asked for them alone.
        let flakes = sight.observation == Observation::Debris(Debris::FlakesOrChips);
        !of_pan || (flakes && !begun(sight.stated))
    });
    // Signs that were decided on are laid aside and the rest is asked again: one may hide another.
    loop {
        let observations: Vec<Observation> = sights.iter().map(|sight| sight.observation).collect();
        let Finding { rule, because, .. } = judge(&observations, &Limits::default());
        if rule != Rule::LookInside {
            return false;
        }
        let signs = because.iter().filter_map(|at| sights.get(*at));
        if !signs.clone().all(|sight| decided(sight.stated)) {
            return true;
        }
        let aside: BTreeSet<usize> = because.into_iter().collect();
        let mut at = 0..;
        sights.retain(|_| at.next().is_some_and(|at| !aside.contains(&at)));
    }
}

/// Readings of the exchange by which fluid had been pushed in; a counter at zero pushed nothing.
fn pushed(folded: &Folded) -> impl Iterator<Item = &Stated> {
    folded
        .each::<ExchangeReading>()
        .filter(|(_, reading)| !reading.pushed_in.is_zero())
        .map(|(stated, _)| stated)
}

fn of_side(context: &Context<'_>, folded: &Folded, side: Side) -> Option<Judged> {
    let settings = &context.workshop().condition;
    let mut evidence = tapped(folded, side);
    evidence.extend(letter::of(folded, side.sample_time(), settings));
    if side == Side::Before {
        evidence.extend(distance(context, folded));
    }
    evidence.sort_by_key(|evidence| evidence.observation.kind());
    let observations: Vec<Observation> = evidence.iter().map(|evidence| evidence.observation).collect();
    let finding = judge(&observations, &settings.limits);
    // A distance that earlier jobs know is nothing that was seen, unless a limit makes it speak.
    let seen = finding
        .lines
        .iter()
        .any(|line| !matches!(line.observation, Observation::Distance(_)) || line.reason.judged());
    if !seen {
        return None;
    }
    let moment = sentence::moment(side.moment().word());
    let reason = reason(&finding, &evidence);
    let conclusion = conclusion(finding.rule, side, folded);
    let lines = finding.lines.iter().zip(evidence);
    let view = ConditionView {
        moment: sentence::condition_moment(side.moment().word()),
        lines: lines.map(|(line, evidence)| said::line(line, evidence, &settings.limits)).collect(),
        conclusion: sentence::condition_by_rule(conclusion),
        rule: finding.rule.number(),
    };
    let advice = sentence::condition_advice(sentence::condition_conclusion(conclusion), moment, reason);
    Some(Judged { view, rule: finding.rule, advice })
}

/// What was tapped, the same thing seen twice in one line.
fn tapped(folded: &Folded, side: Side) -> Vec<Evidence> {
    let mut found: Vec<Evidence> = Vec::new();
    for sight in sights::of(folded, side) {
        let Some((seen, sign)) = said::tapped(&sight) else { continue };
        match found.iter_mut().find(|known| known.seen == seen) {
            Some(known) => known.seqs.push(sight.stated.seq),
            None => found.push(Evidence {
                observation: sight.observation,
                seen,
                sign,
                values: Vec::new(),
                seqs: vec![sight.stated.seq],
                measured: false,
            }),
        }
    }
    found
}

/// The distance on this fluid, since the last service of an earlier job; without one it is not known. Where the control
/// unit kept the temperatures it is the distance at the reference temperature that ages the fluid as much.
fn distance(context: &Context<'_>, folded: &Folded) -> Option<Evidence> {
    let (kilometres, job) = history::driven_since(context, folded)?;
    let shown = number::kilometres(kilometres);
    let mut values = vec![said::value("distance", kilometres, None, "km")];
    let sign = sentence::condition_figure("distance");
    let Some(ageing) = Ageing::of(context, folded) else {
        let seen = sentence::condition_seen_distance(shown, &job.number);
        let observation = Observation::Distance(kilometres);
        return Some(Evidence { observation, seen, sign, values, seqs: Vec::new(), measured: false });
    };
    let weighted = kilometres * ageing.mean_factor;
    values.push(said::value("equivalent_distance", weighted, None, "km"));
    Some(Evidence {
        observation: Observation::Distance(weighted),
        seen: sentence::condition_seen_distance_weighted(
            ageing.assumption(),
            shown,
            &job.number,
            ageing.reference(),
            number::kilometres(weighted),
        ),
        sign,
        values,
        seqs: vec![ageing.seq],
        measured: false,
    })
}

/// Why the rule decided, without a number.
fn reason(finding: &Finding, evidence: &[Evidence]) -> Sentence {
    let sign = |at: &usize| evidence.get(*at).map(|evidence| evidence.sign.clone());
    let mut signs: Vec<Sentence> = finding.because.iter().filter_map(sign).collect();
    signs.dedup();
    let judged = finding.lines.iter().filter(|line| line.reason.judged());
    let kinds = judged.map(|line| line.observation.kind()).collect::<BTreeSet<_>>().len().to_string();
    let mut changing = finding
        .lines
        .iter()
        .zip(evidence)
        .filter(|(line, _)| line.speaks_for == SpeaksFor::Changing && line.reason != Reason::NoNumber);
    match finding.rule {
        Rule::LookInside | Rule::Change => sentence::condition_because(signs),
        Rule::TooLittle => sentence::condition_because_few(),
        Rule::NoReason => match changing.next() {
            Some((_, evidence)) => sentence::condition_because_one(kinds, evidence.sign.clone()),
            None => sentence::condition_because_none(kinds),
        },
    }
}

/// The word for the conclusion. Where fluid was pushed in already, it is the next exchange that waits; after the service
/// nobody asks any more whether to change it.
fn conclusion(rule: Rule, side: Side, folded: &Folded) -> &'static str {
    match rule {
        Rule::LookInside if pushed(folded).next().is_some() => "look-inside-again",
        Rule::NoReason if side == Side::After => "nothing-against",
        Rule::LookInside => "look-inside",
        Rule::Change => "change",
        Rule::TooLittle => "too-little",
        Rule::NoReason => "no-reason",
    }
}
