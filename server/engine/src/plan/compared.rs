//! The litres that a plan has to do with, and what each procedure brings with them.

use super::{Choice, Way};
use crate::formula::flow::Flow;
use crate::formula::sequence::{
    exchange_then_pan, litres_for_pushing, old_after_drains, old_after_drains_beside_slow, pan_then_tanks,
    pan_then_two_compartments,
};
use crate::formula::to_go::{ToGo, to_go};
use crate::formula::usual::Usual;
use crate::job::Context;
use crate::quantity::Estimate;
use crate::text::{Sentence, number, sentence};

/// Litres pushed where neither a kit nor a target says how many (common practice, no source).
const PUSHED_USUAL_LITRES: f64 = 12.0;
/// More is never pushed to reach a target: about three fills of the largest transmission.
const PUSHED_MOST_LITRES: f64 = 30.0;
/// What runs out of a pan may be so much more or less than the catalogue says, as a standard uncertainty by its part
/// (common practice, no source).
const DRAINED_RELATIVE: f64 = 0.05;
/// Most times that a drain and fill is compared.
const DRAINS_MOST: u32 = 4;

/// What a transmission holds.
pub(super) struct Holds {
    /// Name of the variant.
    pub label: String,
    /// Litres in the whole transmission.
    pub fill: Estimate,
    /// Litres that run out of the pan; absent when nobody stated them.
    pub drained: Option<Estimate>,
    /// Litres that the equipment was rinsed with for this job.
    pub rinsed: f64,
}

/// What of the kit never gets to be pushed, in litres.
struct Reserves {
    /// Kept for the level: what runs over until it is right.
    level: f64,
    /// Stays in hoses and equipment, or rinsed them.
    hose: f64,
}

/// Where the litres of a kit go.
pub(super) struct Litres {
    reserves: Reserves,
    /// Litres of new fluid.
    kit: f64,
    /// Litres for the pan; 0 where they are not known.
    refill: f64,
    /// How the kit is known where nobody stated it.
    assumed: Option<Assumed>,
}

/// Why litres that nobody stated are compared.
enum Assumed {
    /// The workshop keeps so many for a job.
    Workshop,
    /// They lead to the target, a share.
    ForTarget(f64),
    /// So many are usual.
    Usual,
}

/// What runs out of a pan of which the catalogue says so many litres.
pub(super) fn drained(litres: f64) -> Estimate {
    Estimate::known(litres, litres * DRAINED_RELATIVE)
}

/// The reserves of this workshop; what the equipment was rinsed with came out of the same kit.
fn reserves(context: &Context<'_>, holds: &Holds) -> Reserves {
    let settings = &context.workshop().exchange;
    let hose = settings.hoses_litres.value + holds.rinsed;
    Reserves { level: settings.level_reserve_litres.value, hose }
}

impl Litres {
    /// The litres at hand; where nobody stated them those that lead to the workshop's target, or as many as are usual.
    pub fn of(context: &Context<'_>, holds: &Holds, kit_litres: Option<f64>) -> Self {
        let usual = Self::at_hand(context, holds, kit_litres);
        if !matches!(usual.assumed, Some(Assumed::Usual)) {
            return usual;
        }
        let target = context.workshop().target_new_share.as_ref().map(|target| target.value);
        let pushed = target.and_then(|target| Some((target, pushed_to(context, holds, target)?)));
        match pushed {
            Some((target, pushed)) => {
                let kit = usual.with_reserves(pushed);
                Self { kit, assumed: Some(Assumed::ForTarget(target)), ..usual }
            }
            None => usual,
        }
    }

    /// The litres of a stated kit, or of the workshop's; without one as many as are usual.
    pub fn at_hand(context: &Context<'_>, holds: &Holds, kit_litres: Option<f64>) -> Self {
        let refill = holds.drained.map_or(0.0, |drained| drained.value);
        let reserves = reserves(context, holds);
        let litres = Self { reserves, kit: 0.0, refill, assumed: Some(Assumed::Usual) };
        match (kit_litres, &context.workshop().exchange.kit_litres) {
            (Some(kit), _) => Self { kit, assumed: None, ..litres },
            (None, Some(kit)) => Self { kit: kit.value, assumed: Some(Assumed::Workshop), ..litres },
            (None, None) => Self { kit: litres.with_reserves(PUSHED_USUAL_LITRES), ..litres },
        }
    }

    fn with_reserves(&self, pushed: f64) -> f64 {
        pushed + self.refill + self.reserves.level + self.reserves.hose
    }

    /// Litres to push where the pan is refilled too.
    fn pushed(&self) -> f64 {
        litres_for_pushing(self.kit, self.refill, self.reserves.level, self.reserves.hose)
    }

    /// Litres to push where the pan stays on.
    fn pushed_alone(&self) -> f64 {
        litres_for_pushing(self.kit, 0.0, self.reserves.level, self.reserves.hose)
    }
}

/// Litres to push until exchange, then pan comes to a share, to half a litre; absent where that is out of reach.
fn pushed_to(context: &Context<'_>, holds: &Holds, target: f64) -> Option<f64> {
    let (usual, _) = usual(context, holds)?;
    holds.drained?;
    let share =
        |litres| after(&usual, Way::ExchangeThenPan, litres).unwrap_or(Estimate::known(f64::NAN, 0.0));
    match to_go(share, 0.0, PUSHED_MOST_LITRES, target) {
        ToGo::Reached => Some(1.0),
        ToGo::Litres { likely, .. } => Some(((likely * 2.0).ceil() / 2.0).max(1.0)),
        ToGo::NotWithKit { .. } | ToGo::Unknown => None,
    }
}

fn usual(context: &Context<'_>, holds: &Holds) -> Option<(Usual, f64)> {
    let drained = holds.drained.unwrap_or(Estimate::known(0.0, 0.0));
    let display = context.workshop().display_error_limit.value / 3.0_f64.sqrt();
    Some((Usual::of(holds.fill, drained, display)?, drained.value))
}

/// Share of new fluid after a procedure with so many litres pushed.
fn after(usual: &Usual, way: Way, litres: f64) -> Option<Estimate> {
    match way {
        Way::ExchangeOnly => {
            usual.share(|flow, _| 1.0 - flow.mean(litres), |flow, _| 1.0 - flow.mean(litres))
        }
        Way::ExchangeThenPan => usual.share(
            |flow, drained| 1.0 - exchange_then_pan(flow, litres, drained),
            |flow, drained| 1.0 - exchange_then_pan(flow, litres, drained),
        ),
        Way::PanThenExchange => usual.share(
            |flow, drained| 1.0 - pan_then_tanks(flow, litres, drained),
            |flow, drained| 1.0 - pan_then_two_compartments(flow, litres, drained),
        ),
        Way::DrainAndFill(times) => usual.share(
            |flow, drained| 1.0 - old_after_drains(drained / flow.fill(), times),
            |flow, drained| 1.0 - old_after_drains_beside_slow(flow, drained, times),
        ),
    }
}

/// The procedures that the litres allow, in a fixed order.
pub(super) fn choices(context: &Context<'_>, holds: &Holds, litres: &Litres) -> Vec<Choice> {
    let Some((usual, drained)) = usual(context, holds) else { return Vec::new() };
    let minutes = &context.workshop().plan_minutes;
    let choice = |way: Way, litres: f64, pushed_litres: f64, minutes: f64| {
        let share = after(&usual, way, pushed_litres)?;
        let says = sentence::plan_says(way.key());
        Some(Choice { way, name: way.name(), litres, pushed_litres, share, minutes, says, advised: false })
    };
    let exchange = |pushed: f64| minutes.hook_up + minutes.per_litre * pushed;
    let (pushed, alone) = (litres.pushed(), litres.pushed_alone());
    let mut choices = Vec::new();
    if alone > 0.0 {
        choices.extend(choice(Way::ExchangeOnly, litres.kit, alone, exchange(alone)));
    }
    if holds.drained.is_none() {
        return choices;
    }
    if pushed > 0.0 {
        let both = [Way::ExchangeThenPan, Way::PanThenExchange];
        let time = exchange(pushed) + minutes.pan;
        choices.extend(both.into_iter().filter_map(|way| choice(way, litres.kit, pushed, time)));
    }
    let target = context.workshop().target_new_share.as_ref().map(|target| target.value);
    for times in 1..=DRAINS_MOST {
        let used = f64::from(times) * drained + litres.reserves.level;
        let time = f64::from(times) * minutes.drain_and_fill;
        let Some(row) = choice(Way::DrainAndFill(times), used, 0.0, time).filter(|_| used <= litres.kit)
        else {
            break;
        };
        let reached = target.is_some_and(|target| row.share.value >= target);
        choices.push(row);
        if reached {
            break;
        }
    }
    choices
}

/// What the comparison rests on, in words.
pub(super) fn basis(context: &Context<'_>, holds: &Holds, litres: &Litres) -> Vec<Sentence> {
    let shown = |value: f64| number::litres(value, 1);
    let kit = shown(litres.kit);
    let parts = |share: f64| number::fixed(share * 100.0, 0);
    let mut basis = Vec::new();
    basis.extend(match litres.assumed {
        Some(Assumed::ForTarget(target)) => Some(sentence::plan_kit_for_target(kit.clone(), parts(target))),
        Some(Assumed::Workshop) => Some(sentence::plan_kit_workshop(kit.clone())),
        Some(Assumed::Usual) => Some(sentence::plan_kit_usual(kit.clone(), shown(PUSHED_USUAL_LITRES))),
        None => None,
    });
    let (alone, hose) = (shown(litres.pushed_alone()), shown(litres.reserves.hose));
    let level = shown(litres.reserves.level);
    basis.push(match holds.drained {
        Some(drained) => {
            let (pushed, refill) = (shown(litres.pushed()), shown(drained.value));
            sentence::plan_basis_litres(alone, hose, kit.clone(), level, pushed, refill)
        }
        None => sentence::plan_basis_alone(alone, hose, kit.clone(), level),
    });
    if litres.pushed() <= 0.0 {
        basis.push(sentence::plan_kit_too_small(kit));
    }
    basis.push(sentence::plan_basis_shares(shown(holds.fill.value)));
    let target = context.workshop().target_new_share.as_ref();
    let said = target.filter(|_| !matches!(litres.assumed, Some(Assumed::ForTarget(_))));
    basis.extend(said.map(|target| sentence::plan_basis_target(parts(target.value))));
    let minutes = &context.workshop().plan_minutes;
    let whole = |minutes: f64| number::fixed(minutes, 0);
    basis.push(sentence::plan_basis_minutes(
        whole(minutes.drain_and_fill),
        whole(minutes.hook_up),
        number::fixed(minutes.per_litre, usize::from(minutes.per_litre.fract() != 0.0)),
        whole(minutes.pan),
        &minutes.source,
    ));
    basis
}
