//! How far to go: litres left for pushing, litres to the workshop's target, what the next litre brings, enough.
//!
//! Litres to go never exceed what the kit leaves after pan, level and hoses. Where the pan is still to come, the
//! target is that of the share after it. Never here: alarms, which come before all of this.

use super::parts_of_100;
use super::share::Inside;
use crate::formula::refill::Refill;
use crate::formula::sequence::litres_for_pushing;
use crate::formula::to_go::{NextLitre, ToGo, next_litre, to_go};
use crate::gates::is_pan_left_out;
use crate::job::balance::Measures;
use crate::job::fold::Folded;
use crate::job::{Context, Identity};
use crate::quantity::Estimate;
use crate::text::{Sentence, number, sentence};
use crate::view::{LitresToGo, Progress};

/// Where nobody states how much fluid is at hand, no counter goes beyond this.
const COUNTER_LITRES: f64 = 60.0;
/// Less than this is not shown as litres.
const SHOWN_LITRES: f64 = 0.05;

/// What is left for pushing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Left {
    /// So many litres.
    Litres(f64),
    /// The workshop's settings state no kit.
    NoKit,
    /// Nobody states what the pan takes.
    NoRefill,
}

impl Left {
    /// From the settings and what was measured.
    pub fn of(
        context: &Context<'_>,
        folded: &Folded,
        identity: &Identity,
        measures: &Measures,
        pushed: f64,
    ) -> Self {
        let workshop = context.workshop();
        let Some(kit) = &workshop.exchange.kit_litres else { return Self::NoKit };
        let stated = identity.variant.as_ref().and_then(|variant| variant.pan_refill_litres);
        let refill = if !measures.pan.is_empty() || !measures.refilled.is_empty() {
            Some(measures.sum(&measures.pan).value.max(measures.sum(&measures.refilled).value))
        } else if is_pan_left_out(folded) {
            Some(0.0)
        } else {
            stated
        };
        let Some(refill) = refill else { return Self::NoRefill };
        let reserve = workshop.exchange.level_reserve_litres.value;
        let at_first = litres_for_pushing(kit.value, refill, reserve, workshop.exchange.hoses_litres.value);
        Self::Litres((at_first - pushed).max(0.0))
    }

    fn sentence(self) -> Sentence {
        match self {
            Self::Litres(litres) if litres < SHOWN_LITRES => sentence::exchange_nothing_left(),
            Self::Litres(litres) => sentence::exchange_left(number::litres(litres, 1)),
            Self::NoKit => sentence::exchange_left_no_kit(),
            Self::NoRefill => sentence::exchange_left_no_refill(),
        }
    }
}

/// The share that the target is about, over the litres.
struct Ahead<'a> {
    inside: &'a Inside,
    expected: Option<&'a Refill>,
    left: Left,
    target: Option<f64>,
    least_gain: f64,
}

/// Says how far to go, and notes the numbers of it.
pub(super) fn how_far(
    context: &Context<'_>,
    inside: Option<&Inside>,
    expected: Option<&Refill>,
    left: Left,
    progress: &mut Progress,
) -> Vec<Sentence> {
    let workshop = context.workshop();
    let target = workshop.target_new_share.as_ref().map(|target| target.value);
    progress.target_share = target;
    progress.left_litres = if let Left::Litres(litres) = left { Some(litres) } else { None };
    let least_gain = workshop.exchange.least_gain_per_litre.value;
    let begun = inside.filter(|inside| inside.pushed > 0.0 && inside.forecast().is_some());
    let ahead = begun.map(|inside| Ahead { inside, expected, left, target, least_gain });
    let mut said = ahead.map_or_else(Vec::new, |ahead| ahead.say(progress));
    let keys = ["exchange-kit-used", "exchange-nothing-left"];
    if !said.iter().any(|sentence| keys.contains(&sentence.key())) {
        said.push(left.sentence());
    }
    said
}

impl Ahead<'_> {
    fn share_at(&self, litres: f64) -> Estimate {
        let share = match self.expected {
            Some(refill) => self.inside.share_after(refill, litres),
            None => self.inside.share_at(litres),
        };
        // The two functions that ask turn away from what is no number.
        share.unwrap_or(Estimate::known(f64::NAN, f64::NAN))
    }

    fn when(&self) -> Sentence {
        sentence::exchange_when(if self.expected.is_some() { "handover" } else { "exchange" })
    }

    fn left(&self) -> f64 {
        match self.left {
            Left::Litres(litres) => litres,
            Left::NoKit | Left::NoRefill => (COUNTER_LITRES - self.inside.pushed).max(0.0),
        }
    }

    fn say(&self, progress: &mut Progress) -> Vec<Sentence> {
        let (pushed, left) = (self.inside.pushed, self.left());
        let share_at = |litres: f64| self.share_at(litres);
        let far = self.target.map(|target| (target, to_go(share_at, pushed, left, target)));
        // Without a target nothing is ever reached.
        let next = next_litre(share_at, pushed, left, self.target.unwrap_or(f64::MAX), self.least_gain);
        let gain = share_at(pushed + 1.0).value - share_at(pushed).value;
        progress.next_litre_gain = Some(gain).filter(|gain| gain.is_finite());
        let mut said = Vec::new();
        if let NextLitre::Enough { gain } = next {
            said.push(sentence::exchange_enough(parts(gain)));
        }
        if let Some((target, far)) = far {
            said.extend(self.target_in_words(target, far, progress));
        }
        if let Some(share) = self.inside.share_now() {
            let (value, least, greatest) = parts_of_100(&share);
            said.push(sentence::exchange_share_so_far(greatest, least, number::litres(pushed, 1), value));
        }
        match next {
            NextLitre::OneMore { gain } => said.push(sentence::exchange_next_litre(parts(gain))),
            NextLitre::NothingLeft if left < SHOWN_LITRES && self.target.is_none() => {
                said.push(sentence::exchange_nothing_left());
            }
            _ => {}
        }
        said
    }

    fn target_in_words(&self, target: f64, far: ToGo, progress: &mut Progress) -> Option<Sentence> {
        let aim = number::fixed(target * 100.0, 0);
        let when = self.when();
        match far {
            ToGo::Reached => {
                let (value, least, greatest) = parts_of_100(&self.share_at(self.inside.pushed));
                Some(sentence::exchange_target_reached(greatest, least, aim, value, when))
            }
            ToGo::Litres { likely, least, greatest } => {
                progress.to_go = Some(LitresToGo { likely, least, greatest });
                let likely = number::litres(likely, 1);
                Some(match greatest {
                    Some(greatest) => {
                        let (least, greatest) = (number::fixed(least, 1), number::litres(greatest, 1));
                        sentence::exchange_to_go(greatest, least, likely, aim, when)
                    }
                    None => sentence::exchange_to_go_open(number::litres(least, 1), likely, aim, when),
                })
            }
            ToGo::NotWithKit { .. } if !matches!(self.left, Left::Litres(_)) => {
                Some(sentence::exchange_target_far(aim))
            }
            ToGo::NotWithKit { litres, share } => {
                let (value, least, greatest) = parts_of_100(&share);
                Some(if litres < SHOWN_LITRES {
                    sentence::exchange_kit_used(greatest, least, aim, value, when)
                } else {
                    let litres = number::litres(litres, 1);
                    sentence::exchange_kit_short(greatest, least, litres, aim, value, when)
                })
            }
            ToGo::Unknown => None,
        }
    }
}

fn parts(gain: f64) -> String {
    number::fixed(gain * 100.0, 1)
}
