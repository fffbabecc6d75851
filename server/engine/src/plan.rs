//! A plan before anything is opened: which procedure brings how much new fluid for the same litres, how long each
//! takes and what it shows. What speaks against an exchange comes first, and then there is nothing to compare.
//!
//! The formulas are [`crate::formula::sequence`]'s; a person chooses. The server calls [`plan`], and the job's view
//! says the advice alone. Never here: what was really done.

mod compared;
mod signs;

use crate::gates::{Facts, Missing, against_exchange, is_left_out};
use crate::job::{Context, Folded, Identity, Recorded, fold, wrong_fluid};
use crate::kind::closing::Closing;
use crate::kind::exchange_reading::ExchangeReading;
use crate::quantity::Estimate;
use crate::site::equipment;
use crate::text::{Sentence, sentence};
use compared::{Holds, Litres};

/// What somebody who asks for a plan states.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Asked {
    /// Litres of new fluid that there are; absent when nobody said.
    pub kit_litres: Option<f64>,
}

/// Procedures compared.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Plan {
    /// What comes before any plan: not this fluid, not this car, the work has begun.
    pub first: Vec<Sentence>,
    /// Which facts are missing, so that nothing, or less, is compared.
    pub missing: Vec<Sentence>,
    /// What the comparison rests on.
    pub basis: Vec<Sentence>,
    /// The procedures; empty where nothing can be compared.
    pub choices: Vec<Choice>,
    /// The procedure that is advised, with the reason; absent where none is.
    pub advice: Option<Sentence>,
}

/// A procedure.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    /// New fluid is pushed through, the pan stays on.
    ExchangeOnly,
    /// New fluid is pushed through, then the pan is drained and refilled.
    ExchangeThenPan,
    /// The pan is drained and refilled, then new fluid is pushed through.
    PanThenExchange,
    /// What runs out is filled up, so many times.
    DrainAndFill(u32),
}

/// One procedure with what it brings.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    /// The procedure.
    pub way: Way,
    /// Its name.
    pub name: Sentence,
    /// Litres of new fluid that it uses, with what stays in hoses and is kept for the level.
    pub litres: f64,
    /// Litres of them that are pushed through.
    pub pushed_litres: f64,
    /// Share of new fluid afterwards, 0 to 1.
    pub share: Estimate,
    /// Minutes that it takes.
    pub minutes: f64,
    /// What it shows or risks.
    pub says: Sentence,
    /// True for the one that is advised.
    pub advised: bool,
}

impl Way {
    /// Its name in messages.
    #[must_use]
    pub fn key(self) -> &'static str {
        match self {
            Self::ExchangeOnly => "exchange-only",
            Self::ExchangeThenPan => "exchange-then-pan",
            Self::PanThenExchange => "pan-then-exchange",
            Self::DrainAndFill(_) => "drain-and-fill",
        }
    }

    fn name(self) -> Sentence {
        match self {
            Self::DrainAndFill(times) => sentence::plan_way_drains(u64::from(times)),
            other => sentence::plan_way(other.key()),
        }
    }
}

/// So much more new fluid, as a share, is worth seeing the debris only afterwards: house value.
const LEAD_LEAST: f64 = 0.02;

/// Points that no plan goes round: the exchange is withheld until they are settled.
const WITHHOLDS: [&str; 4] = ["contradiction", wrong_fluid::INSIDE, "repair-first", "look-inside-first"];

/// Compares the procedures for a job whose work has not begun.
#[must_use]
pub fn plan(context: &Context<'_>, entries: &[Recorded<'_>], asked: Asked) -> Plan {
    let folded = fold::fold(context, entries);
    let identity = Identity::of(context, &folded);
    let against = against_exchange(context, &folded, &identity);
    let mut plan = Plan { first: over(context, &folded, &identity), ..Plan::default() };
    let withheld = withholds(&against) || !plan.first.is_empty();
    plan.first.splice(0..0, against.into_iter().map(|missing| missing.text));
    if withheld {
        return plan;
    }
    let holds = match holds(context, &folded, &identity) {
        Ok(holds) => holds,
        Err(missing) => {
            plan.missing.push(missing);
            return plan;
        }
    };
    if holds.drained.is_none() {
        plan.missing.push(sentence::plan_missing_pan(&holds.label));
    }
    let litres = Litres::of(context, &holds, asked.kit_litres);
    plan.basis = compared::basis(context, &holds, &litres);
    plan.choices = compared::choices(context, &holds, &litres);
    plan.advice = advised(&mut plan.choices, signs::pan_first(context, &folded), holds.drained.is_some());
    plan
}

/// The advice alone, while the work has not begun and nothing withholds it.
pub(crate) fn advice(context: &Context<'_>, folded: &Folded, identity: &Identity) -> Option<Sentence> {
    let none = withholds(&against_exchange(context, folded, identity))
        || !over(context, folded, identity).is_empty()
        || is_left_out(folded, "exchange");
    let holds = holds(context, folded, identity).ok().filter(|holds| !none && holds.drained.is_some())?;
    let litres = Litres::at_hand(context, &holds, None);
    advised(&mut compared::choices(context, &holds, &litres), signs::pan_first(context, folded), true)
}

fn withholds(against: &[Missing]) -> bool {
    against.iter().any(|missing| WITHHOLDS.contains(&missing.key))
}

/// That the time for a plan is over.
fn over(context: &Context<'_>, folded: &Folded, identity: &Identity) -> Vec<Sentence> {
    let pushed = folded.each::<ExchangeReading>().any(|(_, reading)| !reading.pushed_in.is_zero());
    if folded.last::<Closing>().is_some() {
        vec![sentence::gate_job_closed()]
    } else if pushed || (Facts { context, folded, identity }).is_pan_drained() {
        vec![sentence::plan_begun()]
    } else {
        Vec::new()
    }
}

/// What the transmission and its pan hold, or which fact is missing.
fn holds(context: &Context<'_>, folded: &Folded, identity: &Identity) -> Result<Holds, Sentence> {
    let variant = identity.variant.as_ref().ok_or_else(sentence::plan_missing_variant)?;
    let fill = variant.total_fill_litres.ok_or_else(|| sentence::plan_missing_fill(&variant.label))?;
    let drained = variant.pan_refill_litres.map(compared::drained);
    let rinsed = equipment::rinsed_litres(context, folded);
    Ok(Holds { label: variant.label.clone(), fill, drained, rinsed })
}

/// Marks the procedure that is advised and says why: signs that speak for looking inside, else most new fluid; where
/// the most is not clearly more, the way that shows the debris first.
fn advised(choices: &mut [Choice], signs: Vec<Sentence>, is_pan_known: bool) -> Option<Sentence> {
    let alone = choices.len() == 1;
    let share = |choice: &Choice| choice.share.value;
    let most = choices.iter().max_by(|one, other| share(one).total_cmp(&share(other)))?;
    let (most_way, most_share) = (most.way, share(most));
    let pan_first = choices.iter().find(|choice| choice.way == Way::PanThenExchange);
    let is_close = pan_first.is_some_and(|choice| most_share - share(choice) < LEAD_LEAST);
    let is_first = pan_first.is_some() && (!signs.is_empty() || is_close);
    let way = if is_first { Way::PanThenExchange } else { most_way };
    let chosen = choices.iter_mut().find(|choice| choice.way == way)?;
    chosen.advised = true;
    let name = chosen.name.clone();
    if is_first {
        return Some(match (signs.is_empty(), way == most_way) {
            (false, _) => sentence::plan_advice_pan_first(name, signs),
            (true, false) => sentence::plan_advice_close(name),
            (true, true) => sentence::plan_advice_most(name),
        });
    }
    let advice = match (alone, is_pan_known) {
        (true, true) => sentence::plan_advice_only(name),
        (true, false) => sentence::plan_advice_alone(name),
        (false, _) => sentence::plan_advice_most(name),
    };
    let why = if is_pan_known { "litres" } else { "unknown" };
    Some(if signs.is_empty() { advice } else { sentence::plan_advice_not_first(advice, signs, why) })
}
