//! What changes what the bay does next, the most important first, in a few lines.
//!
//! Made of what the other sections found; each line only while it matters, and none after the closing. It says nothing
//! that would not change what somebody does. Never here: a number, a rule or a gate of its own.

use super::exchange::ExchangeOf;
use super::fold::Folded;
use super::{Context, Identity, balance};
use crate::gates::{self, Facts, Gate, Need, is_met};
use crate::kind::closing::Closing;
use crate::kind::exchange_reading::ExchangeReading;
use crate::kind::level_check::LevelCheck;
use crate::plan;
use crate::text::{Sentence, sentence};
use crate::view::{BalanceView, Finding, LevelView};

/// Most lines: more are not read from two metres.
const LINES_MOST: usize = 5;
/// Questions of identity that come up when the variant was settled already.
const COMES_UP: [&str; 2] = ["fluid-colour", "catalogue-newer"];
/// What is looked at before a plan is of use, by the points of the gate.
const LOOKED_AT_BEFORE: [&str; 4] = ["variant", "codes-before", "drive-before", "sample-before"];

/// What the other sections found.
pub(super) struct Known<'a> {
    /// What somebody should know.
    pub findings: &'a [Finding],
    /// The exchange; absent when nothing was pushed in and nothing refilled.
    pub exchange: Option<&'a ExchangeOf>,
    /// Fluid in and out; absent when nothing was measured.
    pub balance: Option<&'a BalanceView>,
    /// The level.
    pub level: &'a LevelView,
}

/// The lines, ranked.
pub(super) fn of(
    context: &Context<'_>,
    folded: &Folded,
    identity: &Identity,
    known: &Known<'_>,
) -> Vec<Sentence> {
    if folded.last::<Closing>().is_some() {
        return Vec::new();
    }
    let facts = Facts { context, folded, identity };
    let ranked = engine_off(&facts, known)
        .into_iter()
        .chain(wrong_fluid(&facts))
        .chain(stops(&facts, known))
        .chain(of_reading(&facts, known))
        .chain(not_as_it_should_be(&facts, known))
        .chain(not_this_car(&facts))
        .chain(while_it_runs(&facts, known))
        .chain(unaccounted(known))
        .chain(result(&facts, known))
        .chain(before_it_begins(&facts))
        .chain(refill(&facts))
        .chain(level(&facts, known))
        .chain(before_it_comes_down(&facts))
        .chain(known.balance.and_then(balance::at_bay));
    let mut lines: Vec<Sentence> = Vec::new();
    for line in ranked {
        if !lines.contains(&line) {
            lines.push(line);
        }
    }
    lines.truncate(LINES_MOST);
    lines
}

/// Wrong fluid that is inside, with what to do now, until it is put right.
fn wrong_fluid(facts: &Facts<'_>) -> Option<Sentence> {
    let wrong = facts.identity.wrong_fluid.as_ref().filter(|wrong| !wrong.is_over())?;
    Some(if wrong.is_decided() { wrong.not_put_right() } else { wrong.inside() })
}

/// Wrong fluid, filter or contents at hand: nobody can override it. What went in has its own line.
fn stops<'a>(facts: &'a Facts<'_>, known: &'a Known<'_>) -> impl Iterator<Item = Sentence> + 'a {
    let wrong = facts.identity.wrong_fluid.as_ref();
    let has_line = move |finding: &&Finding| wrong.is_some_and(|wrong| wrong.went_in == finding.seqs);
    let stops = known.findings.iter().filter(|finding| finding.stands);
    stops.filter(move |finding| !has_line(finding)).map(|finding| finding.text.clone())
}

/// Codes or a sample that say: not this fluid, or not this car. Once the exchange is over they change nothing at the bay.
fn not_this_car(facts: &Facts<'_>) -> Vec<Sentence> {
    let over = facts.folded.each::<ExchangeReading>().any(|(_, reading)| reading.last);
    if over || gates::is_left_out(facts.folded, "exchange") {
        return Vec::new();
    }
    let questions = facts.identity.open.iter().filter(|question| COMES_UP.contains(&question.key));
    questions.map(|question| question.text.clone()).chain(gates::not_this_car(facts)).collect()
}

/// Why the engine is to be switched off: before everything, from the first sign until it is off. The end of the
/// exchange does not switch it off.
fn engine_off(facts: &Facts<'_>, known: &Known<'_>) -> Vec<Sentence> {
    let ended = is_met(facts, Need::ExchangeEnded);
    let is_off = facts.engine_off_since_exchange() || facts.is_pan_off_since_exchange();
    let lines = known.exchange.filter(|_| !ended || !is_off);
    lines.map_or_else(Vec::new, |exchange| exchange.lines.engine_off.clone())
}

/// What else is not as it should be in the running exchange, and that nobody can see whether more leaves than enters.
fn not_as_it_should_be(facts: &Facts<'_>, known: &Known<'_>) -> Vec<Sentence> {
    let Some(exchange) = running(facts, known) else { return Vec::new() };
    exchange.lines.alarms.clone()
}

/// What is wrong with the reading just made, and what its photo says; until the next one, or the level is looked at.
fn of_reading(facts: &Facts<'_>, known: &Known<'_>) -> Vec<Sentence> {
    let looked = facts.folded.last::<LevelCheck>().is_some();
    known.exchange.filter(|_| !looked).map(|exchange| exchange.lines.reading.clone()).unwrap_or_default()
}

/// How far to go.
fn while_it_runs(facts: &Facts<'_>, known: &Known<'_>) -> Vec<Sentence> {
    running(facts, known).map(|exchange| exchange.lines.on_the_way()).unwrap_or_default()
}

/// Litres that went in and did not come out again, beyond what a vehicle can arrive short by, or as long as nobody looked
/// at the level.
fn unaccounted(known: &Known<'_>) -> Option<Sentence> {
    let by_balance = known.balance.and_then(|balance| balance.unexplained.clone());
    by_balance.or_else(|| known.exchange?.unaccounted.clone())
}

fn running<'a>(facts: &Facts<'_>, known: &Known<'a>) -> Option<&'a ExchangeOf> {
    known.exchange.filter(|_| !is_met(facts, Need::ExchangeEnded))
}

/// What came of the exchange, until the pan comes off or the level is looked at.
fn result(facts: &Facts<'_>, known: &Known<'_>) -> Option<Sentence> {
    let looked = facts.folded.last::<LevelCheck>().is_some();
    known.exchange.filter(|_| !looked)?.lines.result.clone()
}

/// Pan first or last, as soon as what speaks for it was looked at.
fn before_it_begins(facts: &Facts<'_>) -> Option<Sentence> {
    let missing = gates::missing(facts.context, facts.folded, facts.identity, Gate::Exchange);
    let early = missing.iter().any(|missing| LOOKED_AT_BEFORE.contains(&missing.key));
    if early || !facts.identity.open.is_empty() {
        None
    } else {
        plan::advice(facts.context, facts.folded, facts.identity)
    }
}

/// The one figure between pan and refill.
fn refill(facts: &Facts<'_>) -> Option<Sentence> {
    let open = facts.is_pan_drained() && !crate::steps::done(facts, "refill");
    let left = super::to_refill(facts.context, facts.folded, facts.identity).filter(|_| open)?;
    Some(sentence::now_refill(left.as_read()))
}

/// When to come back; where that does not say it, that the last look does not count.
fn level(facts: &Facts<'_>, known: &Known<'_>) -> Vec<Sentence> {
    if is_met(facts, Need::LevelSet) {
        return Vec::new();
    }
    let looked = facts.folded.last::<LevelCheck>().is_some();
    let foretold = known.level.forecast.is_some();
    let again = known.level.attempts.last().filter(|attempt| looked && !foretold && !attempt.valid);
    let again = again.map(|attempt| sentence::now_level_again(attempt.in_short.clone(), &attempt.clock));
    known.level.when.iter().cloned().chain(again).collect()
}

/// The first point that is missing before the vehicle comes down, once the level is set.
fn before_it_comes_down(facts: &Facts<'_>) -> Option<Sentence> {
    if !is_met(facts, Need::LevelSet) {
        return None;
    }
    let missing = gates::missing(facts.context, facts.folded, facts.identity, Gate::RoadTest);
    missing.into_iter().next().map(|missing| sentence::now_before_down(missing.text))
}
