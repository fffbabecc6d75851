//! How much of the wrong fluid is computed still to be inside, from litres alone, or why that is not known.
//!
//! Taken as mixed evenly by the running engine; an exchange moves it as is usual. Never here: a formula.

use super::super::balance::{Measured, Measures};
use super::super::fold::{Folded, Stated};
use super::super::{Context, Identity};
use super::Step;
use crate::formula::other_fluid::{after_drain, after_exchange};
use crate::formula::usual::Usual;
use crate::gates::opens_pan;
use crate::kind::Fact;
use crate::kind::words::Answer;
use crate::quantity::Estimate;
use crate::text::{Sentence, number, sentence};
use std::cmp::Ordering;

/// How much is left.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Left {
    /// So many litres.
    Litres(Estimate),
    /// Not known.
    NotKnown(Why),
}

/// Why it is not known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Why {
    /// Nobody stated how much the transmission holds.
    Fill,
    /// What was done first is not certain.
    Order,
    /// It was drained before the engine had mixed it.
    NotMixed,
    /// The litre counter went back.
    Counter,
    /// An amount is missing or cannot be right.
    Amount,
}

impl Why {
    fn word(self) -> &'static str {
        match self {
            Self::Fill => "fill",
            Self::Order => "order",
            Self::NotMixed => "not-mixed",
            Self::Counter => "counter",
            Self::Amount => "amount",
        }
    }
}

impl Default for Left {
    fn default() -> Self {
        Self::NotKnown(Why::Amount)
    }
}

impl Left {
    pub(super) fn sentence(&self) -> Sentence {
        match self {
            Self::Litres(litres) => {
                let text = number::estimate(litres, (0.0, f64::INFINITY));
                let unit = |number: &str| number::with_unit(number, "L");
                sentence::wrong_fluid_left(unit(&text.greatest), text.least, unit(&text.value))
            }
            Self::NotKnown(why) => sentence::wrong_fluid_left_not_known(why.word()),
        }
    }
}

/// What moves or mixes fluid.
enum Event {
    Pushed { from: f64, to: f64, wrong: bool },
    Filled { litres: Estimate, wrong: bool },
    Drained { litres: Estimate },
    Runs,
}

/// Computes it; `wrong` are the facts with which it went in, `steps` the steps of the litre counter.
pub(super) fn of(
    context: &Context<'_>,
    folded: &Folded,
    identity: &Identity,
    (wrong, steps): (&[u64], &[Step<'_>]),
) -> Left {
    computed(context, folded, identity, (wrong, steps)).map_or_else(Left::NotKnown, Left::Litres)
}

fn computed(
    context: &Context<'_>,
    folded: &Folded,
    identity: &Identity,
    (wrong, steps): (&[u64], &[Step<'_>]),
) -> Result<Estimate, Why> {
    let fill = identity.variant.as_ref().and_then(|variant| variant.total_fill_litres).ok_or(Why::Fill)?;
    let display = context.workshop().display_error_limit.value / 3.0_f64.sqrt();
    let usual = Usual::of(fill, Estimate::known(0.0, 0.0), display).ok_or(Why::Fill)?;
    let measures = Measures::of(context, folded, identity);
    let mut inside = Inside::new(fill, usual);
    let mut before: Option<&Stated> = None;
    for stated in &folded.facts {
        let event = event(stated, &measures, (wrong.binary_search(&stated.seq).is_ok(), steps))?;
        let Some(event) = event else { continue };
        let both_pushed = inside.pushing.is_some() && matches!(event, Event::Pushed { .. });
        let follows = before.is_none_or(|before| {
            stated.moment.certainly(&before.moment) == Some(Ordering::Greater) || both_pushed
        });
        if !follows {
            return Err(Why::Order);
        }
        before = Some(stated);
        inside.take(event)?;
    }
    inside.end_of_pushing()?;
    Ok(inside.litres)
}

/// What a fact does to the fluid inside; nothing for most.
fn event(
    stated: &Stated,
    measures: &Measures,
    (wrong, steps): (bool, &[Step<'_>]),
) -> Result<Option<Event>, Why> {
    let measured = |amounts: &[Measured]| {
        amounts.iter().find(|amount| amount.seq == stated.seq).map(|amount| amount.litres).ok_or(Why::Amount)
    };
    Ok(match &stated.fact {
        Fact::ExchangeReading(reading) if !reading.pushed_in.is_zero() => {
            let step = steps.iter().find(|step| step.stated.seq == stated.seq).ok_or(Why::Counter)?;
            Some(Event::Pushed { from: step.from, to: step.to, wrong })
        }
        Fact::Fill(_) => {
            let litres = measured(&measures.refilled).or_else(|_| measured(&measures.added))?;
            Some(Event::Filled { litres, wrong })
        }
        Fact::GearCycle(_) => Some(Event::Runs),
        Fact::LevelCheck(check) if check.engine_idling == Some(Answer::Yes) => Some(Event::Runs),
        fact if opens_pan(fact) => Some(Event::Drained { litres: measured(&measures.pan)? }),
        _ => None,
    })
}

/// The fluid inside, event by event.
struct Inside {
    fill: Estimate,
    usual: Usual,
    /// Litres inside.
    volume: f64,
    /// Litres of the wrong fluid.
    litres: Estimate,
    /// Its share of what leaves, where that is not its share of the whole.
    leaving: Option<Estimate>,
    is_mixed: bool,
    /// An exchange that goes on: its steps, each with whether it was the wrong fluid.
    pushing: Option<Vec<(f64, f64, bool)>>,
    counter: f64,
}

impl Inside {
    fn new(fill: Estimate, usual: Usual) -> Self {
        Self {
            fill,
            usual,
            volume: fill.value,
            litres: Estimate::known(0.0, 0.0),
            leaving: None,
            is_mixed: true,
            pushing: None,
            counter: 0.0,
        }
    }

    fn share(&self) -> Result<Estimate, Why> {
        if self.volume > 0.0 { Ok(self.litres.scaled(1.0 / self.volume)) } else { Err(Why::Amount) }
    }

    fn take(&mut self, event: Event) -> Result<(), Why> {
        if let Event::Pushed { from, to, wrong } = event {
            self.pushing.get_or_insert_default().push((from, to, wrong));
            return Ok(());
        }
        self.end_of_pushing()?;
        match event {
            Event::Filled { litres, wrong } => {
                self.volume += litres.value;
                self.leaving = None;
                if wrong {
                    let u = self.litres.standard_uncertainty.hypot(litres.standard_uncertainty);
                    self.litres = Estimate::known(self.litres.value + litres.value, u);
                    self.is_mixed = false;
                }
            }
            Event::Drained { litres } => {
                let share = self.share()?;
                if !self.is_mixed && self.litres.value > 0.0 {
                    return Err(Why::NotMixed);
                }
                let leaving = self.leaving.unwrap_or(share);
                self.litres = after_drain(self.litres, (share, leaving), litres);
                self.volume -= litres.value;
                self.leaving = None;
            }
            Event::Runs => {
                self.is_mixed = true;
                self.leaving = None;
            }
            Event::Pushed { .. } => {}
        }
        Ok(())
    }

    /// Counts an exchange that went on until here.
    fn end_of_pushing(&mut self) -> Result<(), Why> {
        let Some(steps) = self.pushing.take() else { return Ok(()) };
        let from = steps.iter().map(|(from, ..)| *from).fold(f64::INFINITY, f64::min);
        let to = steps.iter().map(|(_, to, _)| *to).fold(0.0, f64::max);
        if from < self.counter {
            return Err(Why::Counter);
        }
        self.counter = to;
        let wrong = steps.iter().filter(|(.., wrong)| *wrong);
        let wrong: Vec<(f64, f64)> = wrong.map(|(at, until, _)| (at - from, until - from)).collect();
        let after = after_exchange(&self.usual, self.share()?, &wrong, to - from).ok_or(Why::Amount)?;
        let whole = self.volume.max(self.fill.value);
        let by_fill = after.inside.value * self.fill.standard_uncertainty;
        let u = (after.inside.standard_uncertainty * whole).hypot(by_fill);
        self.litres = Estimate::known(after.inside.value * whole, u);
        self.leaving = Some(after.leaving);
        self.is_mixed = true;
        Ok(())
    }
}
