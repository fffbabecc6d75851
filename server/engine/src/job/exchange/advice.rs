//! How far to go: litres left for pushing, litres to the workshop's target, what the next litre brings, enough.
//!
//! Litres to go never exceed what the kit leaves after pan, level and hoses. Where the pan is still to come, the
//! target is that of the share after it. While an alarm says that the looks mean nothing, nobody is told how far to
//! go. Never here: what an alarm says.

use super::alarms::{About, Alarm};
use super::pan::Order;
use super::share::Inside;
use super::{has_ended, latest, parts_of_100};
use crate::formula::refill::Refill;
use crate::formula::sequence::litres_for_pushing;
use crate::formula::to_go::{NextLitre, ToGo, next_litre, to_go};
use crate::gates::is_pan_left_out;
use crate::job::balance::Measures;
use crate::job::fold::Folded;
use crate::job::{Context, Identity};
use crate::kind::closing::Closing;
use crate::kind::exchange_reading::ExchangeReading;
use crate::quantity::Estimate;
use crate::site::display::{self, DisplayCheck};
use crate::site::equipment;
use crate::text::{Sentence, number, sentence};
use crate::view::{ExchangeView, Finding, LitresToGo, Progress};

/// Where nobody states how much fluid is at hand, litres to go end here (house value).
const TO_GO_MOST_LITRES: f64 = 20.0;
/// Less than this is not shown as litres.
const SHOWN_LITRES: f64 = 0.05;

/// What somebody at the bay reads of the exchange.
#[derive(Debug, Clone, Default)]
pub(in crate::job) struct Lines {
    /// Why the engine is to be switched off.
    pub engine_off: Vec<Sentence>,
    /// What else is not as it should be.
    pub alarms: Vec<Sentence>,
    /// That nothing shows whether more leaves than enters.
    pub watch: Option<Sentence>,
    /// What a photo of the reading just made says, and what is wrong with it.
    pub reading: Vec<Sentence>,
    /// How far to go.
    pub how_far: Vec<Sentence>,
    /// What came of it, once it has ended.
    pub result: Option<Sentence>,
}

impl Lines {
    /// How far to go. That nothing can be watched stands second: it is the same at every look of a bay that sees one
    /// figure, and must not be cut off.
    pub fn on_the_way(&self) -> Vec<Sentence> {
        let mut lines = self.how_far.clone();
        let place = lines.len().min(1);
        lines.splice(place..place, self.watch.iter().cloned());
        lines
    }
}

/// What the lines are made of.
pub(super) struct Asked<'a> {
    pub context: &'a Context<'a>,
    pub folded: &'a Folded,
    pub identity: &'a Identity,
    pub measures: &'a Measures,
    pub order: Order,
    /// Litres pushed in, as read.
    pub pushed: f64,
    pub inside: Option<&'a Inside>,
    pub expected: Option<&'a Refill>,
}

impl Asked<'_> {
    /// The lines, and the numbers of them for the view; none once the pan came off after it, or the job is closed.
    /// `wrong` is what is to be said of single readings.
    pub fn lines(&self, alarms: &[Alarm], wrong: &[Finding], view: &mut ExchangeView) -> Lines {
        let told = |alarm: &&Alarm| alarm.finding.text.clone();
        view.progress.alarms = alarms.iter().map(|alarm| alarm.finding.text.clone()).collect();
        let over = self.folded.last::<Closing>().is_some() || latest(self.folded).is_none();
        if over || !(self.measures.pan.is_empty() || self.order == Order::First) {
            return Lines::default();
        }
        let withheld = alarms.iter().any(Alarm::withholds)
            || self.inside.is_some_and(|inside| inside.withheld().is_some());
        let mut how_far = self.how_far(withheld, &mut view.progress);
        // Whoever has to switch the engine off is not told at the same time how far to go on.
        if alarms.iter().any(|alarm| alarm.about == About::RunsDry) {
            how_far.clear();
        }
        let mut lines = Lines {
            engine_off: alarms
                .iter()
                .filter(|alarm| alarm.asks_engine_off())
                .map(|alarm| told(&alarm))
                .collect(),
            alarms: alarms
                .iter()
                .filter(|alarm| !alarm.asks_engine_off())
                .map(|alarm| told(&alarm))
                .collect(),
            ..Lines::default()
        };
        view.advice = lines.engine_off.iter().chain(&lines.alarms).cloned().collect();
        lines.reading = self.of_last_reading(wrong);
        if has_ended(self.folded) {
            lines.result = self.result(view).filter(|_| !withheld);
            return lines;
        }
        lines.watch = self.cannot_watch();
        lines.how_far = how_far;
        view.advice.extend(lines.on_the_way());
        lines
    }

    /// That nothing shows whether more leaves than enters.
    fn cannot_watch(&self) -> Option<Sentence> {
        let (_, reading) = latest(self.folded).filter(|(_, reading)| !reading.pushed_in.is_zero())?;
        reading.came_out.is_none().then(sentence::exchange_cannot_watch)
    }

    /// What is to be said of the reading that was posted last.
    fn of_last_reading(&self, wrong: &[Finding]) -> Vec<Sentence> {
        let readings = self.folded.each::<ExchangeReading>();
        let Some(last) = readings.map(|(stated, _)| stated.seq).max() else { return Vec::new() };
        let its = wrong.iter().filter(|finding| finding.seqs.contains(&last));
        its.map(|finding| finding.text.clone()).collect()
    }

    /// What came of the exchange.
    fn result(&self, view: &ExchangeView) -> Option<Sentence> {
        let (value, least, greatest) = parts_of_100(&view.share_after_exchange?);
        let pushed = number::litres(self.pushed, 1);
        Some(match view.progress.share_expected {
            Some(after) => {
                let (after, ..) = parts_of_100(&after);
                sentence::exchange_result_expected(after, greatest, least, pushed, value)
            }
            None => sentence::exchange_result(greatest, least, pushed, value),
        })
    }

    /// Says how far to go, and notes the numbers of it.
    fn how_far(&self, withheld: bool, progress: &mut Progress) -> Vec<Sentence> {
        let left = Left::of(self);
        let workshop = self.context.workshop();
        let target = workshop.target_new_share.as_ref().map(|target| target.value);
        progress.target_share = target;
        progress.left_litres = match left.kit {
            Kit::Litres(litres) => Some(litres.max(0.0)),
            Kit::Exceeded(_) => Some(0.0),
            Kit::None | Kit::NoRefill(_) => None,
        };
        if matches!(left.kit, Kit::Exceeded(_)) {
            return vec![left.sentence(self.pushed)];
        }
        if withheld {
            return vec![
                sentence::exchange_pushed_so_far(number::litres(self.pushed, 1)),
                left.sentence(self.pushed),
            ];
        }
        let Some(inside) = self.inside.filter(|inside| inside.pushed > 0.0) else {
            return vec![left.sentence(self.pushed)];
        };
        if inside.fill.is_none() {
            return vec![sentence::exchange_no_share(), left.sentence(self.pushed)];
        }
        let (expected, least_gain) = (self.expected, workshop.exchange.least_gain_per_litre.value);
        if inside.forecast().is_some() {
            return Ahead { inside, expected, left, target, least_gain }.say(progress);
        }
        let share = inside.share_now().filter(|_| inside.basis().is_some());
        let share = share.map(|share| share_so_far(inside.pushed, &share));
        share.into_iter().chain([left.sentence(self.pushed)]).collect()
    }
}

/// What is left for pushing, and the word for what becomes of the pan.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Left {
    kit: Kit,
    pan: &'static str,
}

/// What is left of the fluid at hand.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Kit {
    /// So many litres; below zero what is kept for pan and level was pushed too.
    Litres(f64),
    /// More was pushed than the kit holds, in litres.
    Exceeded(f64),
    /// The workshop's settings state no kit.
    None,
    /// Nobody states what the pan takes; so many litres would be left without it.
    NoRefill(f64),
}

impl Left {
    /// From the settings and what was measured.
    fn of(asked: &Asked<'_>) -> Self {
        let (workshop, measures) = (asked.context.workshop(), asked.measures);
        let variant = asked.identity.variant.as_ref();
        let is_measured = !measures.pan.is_empty() || !measures.refilled.is_empty();
        let left_out = is_pan_left_out(asked.folded);
        let refill = if is_measured {
            Some(measures.sum(&measures.pan).value.max(measures.sum(&measures.refilled).value))
        } else if left_out {
            Some(0.0)
        } else {
            variant.and_then(|variant| variant.pan_refill_litres)
        };
        let (reserve, hoses) =
            (workshop.exchange.level_reserve_litres.value, workshop.exchange.hoses_litres.value);
        // What the equipment was rinsed with for this job came out of the same kit.
        let hoses = hoses + equipment::rinsed_litres(asked.context, asked.folded);
        // What a display that was checked shows is not what left the kit.
        let check = display::of_job(asked.context, asked.folded).and_then(DisplayCheck::valid);
        let pushed = asked.pushed * check.map_or(1.0, |check| check.ratio.value);
        let kit = match (&workshop.exchange.kit_litres, refill) {
            (None, _) => Kit::None,
            (Some(kit), _) if pushed > kit.value + SHOWN_LITRES => Kit::Exceeded(kit.value),
            (Some(kit), None) => {
                let most = litres_for_pushing(kit.value, 0.0, reserve, hoses);
                Kit::NoRefill((most - pushed).max(0.0))
            }
            (Some(kit), Some(refill)) => {
                Kit::Litres(litres_for_pushing(kit.value, refill, reserve, hoses) - pushed)
            }
        };
        let pan = match (is_measured, left_out) {
            (true, _) => "done",
            (false, true) => "stays-on",
            (false, false) => "to-come",
        };
        Self { kit, pan }
    }

    /// Litres that may be pushed at most.
    fn most(self) -> f64 {
        match self.kit {
            Kit::Litres(litres) | Kit::NoRefill(litres) => litres.max(0.0),
            Kit::Exceeded(_) => 0.0,
            Kit::None => TO_GO_MOST_LITRES,
        }
    }

    fn sentence(self, pushed: f64) -> Sentence {
        let pan = self.pan;
        match self.kit {
            Kit::Litres(litres) if litres <= -SHOWN_LITRES => {
                sentence::exchange_reserve_pushed(number::litres(-litres, 1), pan)
            }
            Kit::Litres(litres) if litres < SHOWN_LITRES => sentence::exchange_nothing_left(pan),
            Kit::Litres(litres) => sentence::exchange_left(number::litres(litres, 1), pan),
            Kit::Exceeded(kit) => {
                sentence::exchange_kit_exceeded(number::litres(kit, 1), number::litres(pushed, 1))
            }
            Kit::None => sentence::exchange_left_no_kit(),
            Kit::NoRefill(litres) => sentence::exchange_left_no_refill(number::litres(litres, 1)),
        }
    }
}

fn share_so_far(pushed: f64, share: &Estimate) -> Sentence {
    let (value, least, greatest) = parts_of_100(share);
    sentence::exchange_share_so_far(greatest, least, number::litres(pushed, 1), value)
}

/// The share that the target is about, over the litres.
struct Ahead<'a> {
    inside: &'a Inside,
    expected: Option<&'a Refill>,
    left: Left,
    target: Option<f64>,
    least_gain: f64,
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

    fn say(&self, progress: &mut Progress) -> Vec<Sentence> {
        let (pushed, left) = (self.inside.pushed, self.left.most());
        let share_at = |litres: f64| self.share_at(litres);
        // Without a target nothing is ever reached.
        let next = next_litre(share_at, pushed, left, self.target.unwrap_or(f64::MAX), self.least_gain);
        let gain = share_at(pushed + 1.0).value - share_at(pushed).value;
        progress.next_litre_gain = Some(gain).filter(|gain| gain.is_finite());
        let mut said = Vec::new();
        let mut left_told = false;
        match (next, self.target) {
            // Who was told that it is enough is not told how far it would be.
            (NextLitre::Enough { gain }, _) => said.push(sentence::exchange_enough(parts(gain))),
            (_, Some(target)) => {
                let far = to_go(share_at, pushed, left, target);
                left_told =
                    matches!(far, ToGo::NotWithKit { .. }) && matches!(self.left.kit, Kit::Litres(0.0..));
                said.extend(self.target_in_words(target, far, progress));
            }
            _ => {}
        }
        said.extend(self.inside.share_now().map(|share| share_so_far(pushed, &share)));
        if let NextLitre::OneMore { gain } = next {
            said.push(sentence::exchange_next_litre(parts(gain)));
        }
        if !left_told {
            said.push(self.left.sentence(pushed));
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
                // What is to go is never shown as nothing.
                let likely = number::litres(likely.max(0.1), 1);
                let open = if self.left.kit == Kit::None { "no-kit" } else { "kit" };
                Some(match greatest {
                    Some(greatest) => {
                        let (least, greatest) =
                            (number::fixed(least, 1), number::litres(greatest.max(0.1), 1));
                        sentence::exchange_to_go(greatest, least, likely, aim, when)
                    }
                    None => sentence::exchange_to_go_open(likely, open, aim, when),
                })
            }
            ToGo::NotWithKit { litres, share } => {
                let (_, least, greatest) = parts_of_100(&share);
                // Not there is never shown as there.
                let value = number::fixed((share.value * 100.0).floor(), 0);
                Some(match self.left.kit {
                    Kit::None => sentence::exchange_target_far(number::litres(litres, 0), aim, when),
                    Kit::NoRefill(_) => sentence::exchange_kit_short_no_refill(aim, value, when),
                    _ if litres < SHOWN_LITRES => {
                        sentence::exchange_kit_used(greatest, least, aim, value, when)
                    }
                    _ => {
                        let litres = number::litres(litres, 1);
                        sentence::exchange_kit_short(greatest, least, litres, aim, value, when)
                    }
                })
            }
            ToGo::Unknown => None,
        }
    }
}

fn parts(gain: f64) -> String {
    number::fixed(gain * 100.0, 1)
}
