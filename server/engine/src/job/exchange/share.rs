//! How much new fluid is inside: now, over the litres, and after pan and refill, done or still to come.
//!
//! Old fluid leaves with the litres that come out, so the looks are counted over those, and what came in beyond them
//! is added: new inside = in − out + ∫ old d(out). Never here: a formula, or a sentence about how far to go.

use super::equipment::{Equipment, less};
use super::looks::Looks;
use super::pan::{self, Order};
use super::withheld::Why;
use crate::formula::alarm::{Alarm, alarms};
use crate::formula::balance::{Term, sum};
use crate::formula::exchange::{self as formula, Exchange, Retained, new_share};
use crate::formula::forecast::{Assessment, Basis, Forecast, Known, assess};
use crate::formula::pan_first::PanFirst;
use crate::formula::refill::{Fill, Refill, new_share_after};
use crate::formula::seen::{Seen, sorted};
use crate::job::balance::{ARRIVED_OFF_LITRES, Measures};
use crate::quantity::{Estimate, Litres};
use crate::view::{CurvePoint, ShareBasis};

/// Steps of the curve on the record.
const CURVE_STEPS: u32 = 32;
/// Limit of litres in minus litres out where nobody measured what came out (common practice, no
/// source: a transmission that takes half a litre more or less is seen at the level).
const SURPLUS_UNMEASURED_LITRES: f64 = 0.5;

/// An exchange as the formulas take it, and what they say of it.
pub(super) struct Inside {
    /// Litres pushed in, as read.
    pub pushed: f64,
    /// Litres inside on arrival: as many as when the level is right, unless it was set since and tells.
    pub fill: Option<Estimate>,
    /// Litres that came in beyond those that came out.
    pub surplus: Estimate,
    /// What the formulas say; its litres are litres that came out.
    pub assessment: Assessment,
    /// What the looks say is not as it should be; its litres are litres that came out.
    pub alarms: Vec<Alarm>,
    /// What the fill on arrival follows from.
    known_fill: Option<Fill>,
    withheld: Option<Why>,
    out_for_in: f64,
    taken: Vec<Seen>,
    display: f64,
    foreign: Option<Estimate>,
    common_part: f64,
    order: Order,
    pan_first: Option<PanFirst>,
}

impl Inside {
    /// Reads everything that the formulas need; absent if the litres are no number that a counter shows.
    pub fn of(
        equipment: &Equipment,
        (fill, level_set): (Option<Estimate>, bool),
        measures: &Measures,
        looks: &Looks,
        (pushed, order): (f64, Order),
    ) -> Option<Self> {
        let unmeasured = || Estimate::within(0.0, SURPLUS_UNMEASURED_LITRES);
        let none = Estimate::known(0.0, 0.0);
        let surplus = if pushed > 0.0 { measures.surplus().unwrap_or_else(unmeasured) } else { none };
        let known_fill = fill.map(|fill| if level_set { Fill::AtLevel(fill) } else { Fill::OnArrival(fill) });
        let arrived = known_fill.map(|known| known.on_arrival(&pan::measured(measures, surplus)));
        let off = [Some(surplus.value), arrived.zip(fill).map(|(arrived, fill)| fill.value - arrived.value)];
        let off = off.into_iter().flatten().map(f64::abs).fold(0.0, f64::max);
        let amount_wrong = (off > ARRIVED_OFF_LITRES).then_some(Why::AmountWrong { litres: off });
        // Litres of which some are wrong say nothing of where the looks belong.
        let out_for_in = measures.out_for_in().filter(|_| amount_wrong.is_none()).unwrap_or(1.0);
        // Of litres as the display shows them; what came out in their place may have been measured by something else.
        let out_for_in = out_for_in * equipment.ratio;
        let out_by_other = !measures.came_out.is_empty() && !measures.is_out_by_display();
        let display = if out_by_other { equipment.display_out } else { equipment.display };
        let over_out = |seen: &Seen| {
            let litres = Litres::new(seen.look.litres.get() * out_for_in).ok()?;
            Some(Seen { look: formula::Look { litres, ..seen.look }, ..*seen })
        };
        let nothing = Assessment { warnings: Vec::new(), balance: None, forecast: None };
        let mut inside = Self {
            pushed,
            fill: if amount_wrong.is_some() { fill } else { arrived },
            surplus,
            assessment: nothing,
            alarms: Vec::new(),
            known_fill,
            withheld: equipment.has_wrong_fluid.then_some(Why::WrongFluid).or(amount_wrong),
            out_for_in,
            taken: looks.taken.iter().filter_map(|taken| over_out(&taken.seen)).collect(),
            display,
            foreign: equipment.foreign.filter(|_| pushed > 0.0),
            common_part: if looks.are_independent() { 0.0 } else { formula::TUBES_COMMON_PART },
            order,
            pan_first: None,
        };
        inside.assessment = assess(&inside.known()?);
        inside.alarms = alarms(&inside.known()?, &inside.assessment);
        if order == Order::First {
            inside.changed_first(measures);
        }
        if pushed > 0.0 {
            let by_looks = || Why::by_alarms(&inside.alarms, inside.begins_all_old(), inside.basis());
            inside.withheld = inside.withheld.or_else(|| inside.contradiction()).or_else(by_looks);
        }
        Some(inside)
    }

    /// Takes the pan as changed before the exchange: all that ran out of it was old, so that what arrived and what was
    /// drained count as one, and the refill was inside when the exchange began.
    fn changed_first(&mut self, measures: &Measures) {
        let measured = pan::measured(measures, self.surplus);
        let arrived = self.fill.map(|fill| {
            let left = [measured.drained, measured.carried_out].map(Term::minus);
            sum(&[&[Term::plus(fill)][..], &left[..]].concat())
        });
        self.fill = arrived.map(|arrived| sum(&[arrived, measured.refilled].map(Term::plus)));
        self.known_fill = self.known_fill.zip(arrived).map(|(known, arrived)| match known {
            Fill::OnArrival(_) => Fill::OnArrival(arrived),
            level @ Fill::AtLevel(_) => level,
        });
        let Some(pushed) = self.known().map(|known| known.pushed) else { return };
        self.pan_first = self.exchange(pushed).and_then(|(exchange, looks)| {
            PanFirst::of(&Exchange { looks: &looks, ..exchange }, measured.refilled)
        });
    }

    /// More new litres than litres inside, by more than their combined standard uncertainty; or clearly more new fluid
    /// inside than the last look shows, where no way of flowing explains the looks either.
    fn contradiction(&self) -> Option<Why> {
        let fill = self.fill?;
        let new = match &self.pan_first {
            Some(pan) => pan.litres(),
            None => self.balance()?,
        };
        let beyond = new.value - fill.value;
        let too_much = beyond > new.standard_uncertainty.hypot(fill.standard_uncertainty);
        let unexplained = self.alarms.iter().any(|alarm| matches!(alarm, Alarm::NotExplained { .. }));
        let share = new_share(new, fill);
        let last =
            self.taken.iter().max_by(|one, other| one.look.litres.get().total_cmp(&other.look.litres.get()));
        let ahead_of_glass = last.is_some_and(|last| {
            let both = share.standard_uncertainty.hypot(last.look.standard_uncertainty);
            share.value - last.look.new_share.get() > 2.0 * both
        });
        (too_much || (unexplained && ahead_of_glass)).then_some(Why::Contradict)
    }

    /// Why no share is given although litres and looks are there; absent where one may be given.
    pub fn withheld(&self) -> Option<Why> {
        self.withheld
    }

    /// What the formulas take, over the litres that came out.
    pub fn known(&self) -> Option<Known<'_>> {
        let zero = Litres::new(0.0).ok()?;
        Some(Known {
            taken: &self.taken,
            pushed: Litres::new(self.pushed * self.out_for_in).ok()?,
            hose: zero,
            fill: self.fill,
            display_relative_uncertainty: self.display,
            reference_relative_uncertainty: 0.0,
            common_part: self.common_part,
        })
    }

    /// Litres pushed in for litres that came out.
    pub fn as_pushed(&self, out: f64) -> f64 {
        if self.out_for_in > 0.0 { out / self.out_for_in } else { out }
    }

    /// What the shares rest on; absent when none may be printed.
    pub fn basis(&self) -> Option<ShareBasis> {
        match self.order {
            _ if self.withheld.is_some() => None,
            Order::Unclear if self.pushed > 0.0 => None,
            Order::First if self.pushed > 0.0 => self.pan_first.as_ref().map(|_| ShareBasis::PanFirst),
            _ => self.forecast().filter(|_| self.pushed > 0.0).map(|forecast| match forecast.basis() {
                Basis::Litres => ShareBasis::Litres,
                Basis::Models => ShareBasis::Models,
                Basis::Balance => ShareBasis::Balance,
            }),
        }
    }

    /// New litres kept up to the last look, or by the exchange after the pan, by the balance alone.
    pub fn kept_by_balance(&self) -> Option<Estimate> {
        match &self.pan_first {
            _ if self.withheld.is_some() => None,
            Some(pan) => Some(pan.kept.litres),
            None => self.balance(),
        }
    }

    fn balance(&self) -> Option<Estimate> {
        let balance = self.assessment.balance.filter(|_| self.order == Order::Last);
        balance.map(|balance| balance.litres)
    }

    /// The forecast, where the pan was not changed before or in between.
    pub fn forecast(&self) -> Option<&Forecast> {
        let foretold = self.order == Order::Last || self.pushed <= 0.0;
        self.assessment.forecast.as_ref().filter(|_| foretold)
    }

    /// Whether all that was inside was old when the exchange began.
    pub fn begins_all_old(&self) -> bool {
        self.order == Order::Last
    }

    /// Whether the pan was surely changed before the exchange.
    pub fn has_pan_first(&self) -> bool {
        self.order == Order::First && self.pushed > 0.0
    }

    /// Whether more was pushed than the last look saw.
    pub fn goes_beyond_looks(&self) -> bool {
        let last = self.taken.iter().map(|seen| seen.look.litres.get()).fold(0.0, f64::max);
        self.pushed * self.out_for_in > last
    }

    /// New-fluid share inside after some litres pushed in, by the forecast.
    pub fn share_at(&self, litres: f64) -> Option<Estimate> {
        let fill = self.fill?;
        let kept = self.kept_at(litres)?.litres;
        self.sound(with_surplus(new_share(kept, fill), fill, self.surplus_at(litres)))
    }

    /// New-fluid share after some litres pushed in and then pan and refill as they are expected.
    pub fn share_after(&self, refill: &Refill, litres: f64) -> Option<Estimate> {
        let refill = Refill { surplus: self.surplus_at(litres), ..*refill };
        self.sound(new_share_after(&self.kept_at(litres)?, Fill::OnArrival(self.fill?), &refill))
    }

    /// New-fluid share inside now; absent before anything was pushed in.
    pub fn share_now(&self) -> Option<Estimate> {
        match &self.pan_first {
            _ if self.pushed <= 0.0 => None,
            Some(pan) => self.sound(with_surplus(pan.share(self.fill?), self.fill?, self.surplus)),
            None => self.share_at(self.pushed),
        }
    }

    /// New-fluid share after what was measured of pan, refill and level.
    pub fn share_after_done(&self, refill: &Refill) -> Option<Estimate> {
        match &self.pan_first {
            // All that ran out of the pan was old, and so were its litres before the exchange.
            Some(pan) if self.pushed > 0.0 => {
                let none = Estimate::known(0.0, 0.0);
                let refill = Refill { drained: none, carried_out: none, ..*refill };
                self.sound(new_share_after(&pan.kept, self.known_fill?, &refill))
            }
            _ => self.sound(new_share_after(&self.kept_at(self.pushed)?, self.known_fill?, refill)),
        }
    }

    /// New fluid inside over the litres pushed in; empty when no share may be printed.
    pub fn curve(&self) -> Vec<CurvePoint> {
        let Some(fill) = self.fill.filter(|_| self.pushed > 0.0 && self.basis().is_some()) else {
            return Vec::new();
        };
        let points: Vec<(f64, Estimate)> = match &self.pan_first {
            Some(pan) => {
                let known = self.known();
                let exchange = known.and_then(|known| self.exchange(known.pushed));
                exchange.map_or_else(Vec::new, |(exchange, looks)| {
                    let course = formula::course(&Exchange { looks: &looks, ..exchange }, fill, CURVE_STEPS);
                    course.iter().map(|point| (point.litres, pan.on_course(point, fill))).collect()
                })
            }
            None => self.forecast_course(fill),
        };
        let shown = |(out, share): &(f64, Estimate)| {
            let litres = self.as_pushed(*out);
            let share = self.sound(with_surplus(*share, fill, self.surplus_at(litres)))?;
            let (least, greatest) = share.interval95_within((0.0, 1.0));
            Some(CurvePoint { litres, least, share: share.value, greatest })
        };
        points.iter().filter_map(shown).collect()
    }

    /// The share over the litres that came out. Up to the last look it is the balance's own curve, led to where the
    /// forecast stands there; from there on, and below three spaced looks all of it, it is the forecast.
    fn forecast_course(&self, fill: Estimate) -> Vec<(f64, Estimate)> {
        let Some(forecast) = self.forecast() else { return Vec::new() };
        let end = self.pushed * self.out_for_in;
        let last = self
            .taken
            .iter()
            .map(|seen| seen.look.litres)
            .reduce(|one, other| if other > one { other } else { one });
        let balance = last.filter(|_| forecast.basis() == Basis::Balance).and_then(|last| {
            let (exchange, looks) = self.exchange(last)?;
            // At most all steps: the last look is at the end or before it.
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
            let steps = ((f64::from(CURVE_STEPS) * last.get() / end).round() as u32).clamp(1, CURVE_STEPS);
            Some((last.get(), steps, formula::course(&Exchange { looks: &looks, ..exchange }, fill, steps)))
        });
        let (from, before, mut points) = match balance {
            Some((last, steps, course)) => (last, steps, led_to(&course, forecast.share_at(last))),
            None => (0.0, 0, vec![(0.0, forecast.share_at(0.0))]),
        };
        if end > from {
            let steps = (CURVE_STEPS - before).max(1);
            points.extend((1..=steps).map(|step| {
                let out = from + (end - from) * f64::from(step) / f64::from(steps);
                (out, forecast.share_at(out))
            }));
        }
        points
    }

    /// The balance over the litres that came out up to some of them, with its looks.
    fn exchange(&self, pushed: Litres) -> Option<(Exchange<'static>, Vec<formula::Look>)> {
        let known = self.known()?;
        let looks = sorted(&self.taken, known.pushed).for_balance();
        let exchange = Exchange {
            looks: &[],
            pushed,
            hose: known.hose,
            litres_relative_uncertainty: self.display,
            reference_relative_uncertainty: 0.0,
            common_part: self.common_part,
        };
        Some((exchange, looks))
    }

    /// The share less what another fluid in the equipment takes of it, if it is a number.
    fn sound(&self, share: Estimate) -> Option<Estimate> {
        sound(less(share, self.foreign, self.fill))
    }

    fn kept_at(&self, litres: f64) -> Option<Retained> {
        if litres <= 0.0 {
            // Nothing was pushed in: all that is inside is old.
            let (none, old) = (Estimate::known(0.0, 0.0), Estimate::known(1.0, 0.0));
            return Some(Retained { litres: none, last_old: old, last_weight: 0.0 });
        }
        self.forecast().map(|forecast| forecast.kept_at(litres * self.out_for_in))
    }

    /// The surplus grew with the litres; of those still to come as much is expected out as in.
    fn surplus_at(&self, litres: f64) -> Estimate {
        let part = if self.pushed > 0.0 { (litres / self.pushed).clamp(0.0, 1.0) } else { 0.0 };
        self.surplus.scaled(part)
    }
}

/// The balance's curve with its end moved to `end`, and all before it in proportion.
fn led_to(course: &[formula::CoursePoint], end: Estimate) -> Vec<(f64, Estimate)> {
    let Some(last) = course.last() else { return Vec::new() };
    let more = end.value - last.new_share.value;
    let u = last.new_share.standard_uncertainty;
    let wider = if u > 0.0 { end.standard_uncertainty / u } else { 1.0 };
    let led = |point: &formula::CoursePoint| {
        let part = if last.litres > 0.0 { point.litres / last.litres } else { 0.0 };
        let share = point.new_share;
        let u = share.standard_uncertainty * (1.0 + (wider - 1.0) * part);
        (point.litres, Estimate::known(share.value + more * part, u))
    };
    course.iter().map(led).collect()
}

/// The share with the litres that came in beyond those that came out: `(V n + S) / (V + S)`.
fn with_surplus(share: Estimate, fill: Estimate, surplus: Estimate) -> Estimate {
    let whole = fill.value + surplus.value;
    let by_share = share.standard_uncertainty * fill.value / whole;
    let by_surplus = surplus.standard_uncertainty * fill.value * (1.0 - share.value) / (whole * whole);
    let value = (fill.value * share.value + surplus.value) / whole;
    Estimate::known(value.clamp(0.0, 1.0), by_share.hypot(by_surplus))
}

/// The estimate, if it is one: what is no number never reaches paper.
fn sound(estimate: Estimate) -> Option<Estimate> {
    (estimate.value.is_finite() && estimate.standard_uncertainty.is_finite()).then_some(estimate)
}
