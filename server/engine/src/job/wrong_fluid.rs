//! Fluid that does not belong inside and went in all the same: what is known of it, what was done since, what is left.
//!
//! What went in counts by the code stated with it, else by the container that was looked at before, else by the first
//! one that was looked at afterwards. Each step of the litre counter counts by the reading that ends it. How much is
//! left is computed from litres alone, or it is said why it is not known. Never here: what a gate makes of it.

mod left;

use self::left::Left;
use super::exchange::litres;
use super::fold::{Folded, Stated};
use super::put_in::{container_checks, last_before};
use super::{Context, Identity};
use crate::amount::{Amount, Read};
use crate::catalogue::same_code;
use crate::gates::opens_pan;
use crate::kind::Fact;
use crate::kind::decision::Decision;
use crate::kind::exchange_reading::ExchangeReading;
use crate::kind::fill::Fill;
use crate::kind::part_checked::PartChecked;
use crate::kind::variant_settled::VariantSettled;
use crate::site::density::weighed_litres;
use crate::text::{Sentence, number, sentence};

/// Key of the decision how it is put right.
pub(crate) const INSIDE: &str = "wrong-fluid-inside";
/// Key of the decision that it is put right.
pub(crate) const PUT_RIGHT: &str = "put-right";
/// A counter that shows tenths has not gone on by less; what is less is counted with the readings after it.
const COUNTER_STEP: f64 = 0.05 - 1e-9;

/// Fluid that does not belong inside.
#[derive(Debug, Clone)]
pub(crate) struct WrongFluid {
    /// Each fluid by its name, with litres as far as they were read.
    fluids: Vec<(String, f64)>,
    /// Of that, what the litre counter pushed in.
    pushed: Vec<(String, f64)>,
    /// The only fluid that may go in.
    own: String,
    /// The variant.
    label: String,
    /// False where something speaks against the variant itself.
    is_settled: bool,
    /// The facts with which it went in, by their places in the journal.
    pub went_in: Vec<u64>,
    /// What says that it is the wrong one: looks at containers and the variant, by their places in the journal.
    told_by: Vec<u64>,
    /// Whether the pan was drained since.
    drained: bool,
    /// Whether anything was done since that takes it out.
    worked_on: bool,
    /// Whether any of it was filled, and not pushed in.
    filled: bool,
    /// Whether a named person decided how it is put right.
    decided: bool,
    /// Who decided that it is put right, and why.
    put_right: Option<(Sentence, String)>,
    left: Left,
}

/// One step of the litre counter.
#[derive(Debug, Clone, Copy)]
struct Step<'a> {
    stated: &'a Stated,
    from: f64,
    to: f64,
}

/// Which fluid went in with a fact.
enum Which {
    Own,
    /// Another one: code, and the look that says so.
    Other(String, Option<u64>),
    NotKnown,
}

impl WrongFluid {
    /// What went in that does not belong inside; absent while nothing did, or nobody knows which fluid is the right one.
    pub fn of(context: &Context<'_>, folded: &Folded, identity: &Identity) -> Option<Self> {
        let variant = identity.variant.as_ref()?;
        let (_, own) = variant.fluid.as_ref()?;
        let looks: Vec<(&Stated, &PartChecked)> = container_checks(folded).collect();
        let foreign = |code: &str| !code.is_empty() && !variant.takes_fluid(code);
        let told = looks.iter().any(|(_, check)| foreign(&check.code));
        // Nearly every job: nothing that was read or filled is another fluid.
        if !told && !folded.each::<Fill>().any(|(_, fill)| foreign(&fill.fluid_code)) {
            return None;
        }
        let which = |stated: &Stated, stated_code: &str| {
            let look = if stated_code.is_empty() { looked_at(&looks, stated) } else { None };
            let code = look.map_or(stated_code, |(_, check)| check.code.as_str());
            match code {
                "" => Which::NotKnown,
                code if variant.takes_fluid(code) => Which::Own,
                code => Which::Other(code.to_owned(), look.map(|(seen, _)| seen.said_seq)),
            }
        };
        let mut wrong = Self {
            fluids: Vec::new(),
            pushed: Vec::new(),
            own: own.clone(),
            label: variant.label.clone(),
            is_settled: !identity.variant_contradicted,
            went_in: Vec::new(),
            told_by: settled_first(folded).into_iter().collect(),
            drained: false,
            worked_on: false,
            filled: false,
            decided: false,
            put_right: None,
            left: Left::default(),
        };
        let steps = steps(folded);
        let mut right_steps: Vec<&Stated> = Vec::new();
        for step in steps.iter().filter(|step| step.to > step.from) {
            match which(step.stated, "") {
                Which::Other(code, told_by) => {
                    wrong.add(context, &code, step.to - step.from, (step.stated, told_by));
                }
                Which::Own => right_steps.push(step.stated),
                Which::NotKnown => {}
            }
        }
        wrong.pushed.clone_from(&wrong.fluids);
        for stated in &folded.facts {
            let Fact::Fill(fill) = &stated.fact else { continue };
            if let Which::Other(code, told_by) = which(stated, &fill.fluid_code) {
                let litres = as_litres(context, &code, &fill.amount);
                wrong.add(context, &code, litres, (stated, told_by));
            }
        }
        if wrong.went_in.is_empty() {
            return None;
        }
        wrong.went_in.sort_unstable();
        let mut drains = folded.facts.iter().filter(|stated| opens_pan(&stated.fact));
        wrong.drained = drains.any(|stated| wrong.is_since(folded, stated));
        // The last of many steps tells it mostly.
        let mut steps_back = right_steps.iter().rev();
        wrong.worked_on = wrong.drained || steps_back.any(|stated| wrong.is_since(folded, stated));
        let filled = wrong.facts(folded).any(|stated| matches!(stated.fact, Fact::Fill(_)));
        wrong.filled = filled;
        wrong.decided = decisions(folded, INSIDE).any(|(stated, _)| wrong.knows(folded, stated));
        wrong.put_right = wrong.put_right(context, folded);
        wrong.left = left::of(context, folded, identity, (&wrong.went_in, &steps));
        Some(wrong)
    }

    fn add(
        &mut self,
        context: &Context<'_>,
        code: &str,
        litres: f64,
        (stated, told_by): (&Stated, Option<u64>),
    ) {
        let name = context.revision.fluid(code).map_or_else(|| code.to_owned(), |fluid| fluid.name.clone());
        match self.fluids.iter_mut().find(|(known, _)| same_code(known, &name)) {
            Some((_, sum)) => *sum += litres,
            None => self.fluids.push((name, litres)),
        }
        self.went_in.push(stated.seq);
        self.told_by.push(stated.said_seq);
        self.told_by.extend(told_by);
    }

    /// What went in: litres and names.
    pub fn what(&self) -> Sentence {
        let amount =
            |(name, litres): &(String, f64)| sentence::wrong_fluid_amount(name, number::litres(*litres, 1));
        sentence::wrong_fluid_amounts(self.fluids.iter().map(amount).collect::<Vec<_>>())
    }

    /// That it is inside, and what to do now; no fluid is named for it while it is not settled which one is right.
    pub fn inside(&self) -> Sentence {
        if self.is_settled {
            sentence::wrong_fluid_inside(&self.own, self.what())
        } else {
            sentence::wrong_fluid_inside_not_settled(&self.label, self.what())
        }
    }

    /// That it is inside while it is being put right.
    pub fn not_put_right(&self) -> Sentence {
        sentence::wrong_fluid_not_put_right(self.what())
    }

    /// That it went in, for good; and that a named person says it is put right, where one does.
    pub fn for_good(&self) -> Sentence {
        match self.put_right.clone().filter(|_| self.worked_on) {
            Some((person, reason)) => {
                sentence::wrong_fluid_was_put_right(&self.label, &self.own, person, reason, self.what())
            }
            None => sentence::wrong_fluid_went_in(&self.label, &self.own, self.what()),
        }
    }

    /// What the litre counter pushed in of it: each fluid by its name, with litres.
    pub fn pushed(&self) -> &[(String, f64)] {
        &self.pushed
    }

    /// How much of it is computed still to be inside, or why that is not known.
    pub fn left(&self) -> Sentence {
        self.left.sentence()
    }

    /// The only fluid that may go in.
    pub fn own(&self) -> &str {
        &self.own
    }

    /// The facts with which it went in.
    fn facts<'a>(&'a self, folded: &'a Folded) -> impl Iterator<Item = &'a Stated> {
        folded.facts.iter().filter(|stated| self.went_in.binary_search(&stated.seq).is_ok())
    }

    /// Whether a fact was stated after the last of it went in.
    fn is_since(&self, folded: &Folded, stated: &Stated) -> bool {
        self.facts(folded).all(|wrong| stated.is_after(wrong))
    }

    /// Whether anything was done since that takes it out: the pan drained, or the right fluid pushed through.
    pub fn is_worked_on(&self) -> bool {
        self.worked_on
    }

    /// Whether it is out of the pan as far as the engine needs: drained; or pushed in, not filled, and pushed out again; or
    /// a named person says that it is put right.
    pub fn is_out_of_pan(&self) -> bool {
        self.drained || (self.worked_on && !self.filled) || self.is_put_right()
    }

    /// Whether a named person decided how it is put right, or that it is: after the last of it went in, and knowing it.
    pub fn is_decided(&self) -> bool {
        self.decided || self.is_put_right()
    }

    /// Whether it stops the work no more: something took it out, and a named person decided that it is put right.
    pub fn is_over(&self) -> bool {
        self.worked_on && self.is_put_right()
    }

    /// Whether a named person decided that it is put right: knowing it, and after all fluid was moved.
    pub fn is_put_right(&self) -> bool {
        self.put_right.is_some()
    }

    fn put_right(&self, context: &Context<'_>, folded: &Folded) -> Option<(Sentence, String)> {
        let moved: Vec<&Stated> = folded.facts.iter().filter(|stated| moves(&stated.fact)).collect();
        let (stated, decision) = decisions(folded, PUT_RIGHT).rfind(|(stated, _)| {
            self.knows(folded, stated)
                && moved.iter().all(|moved| stated.seq > moved.said_seq && stated.is_after(moved))
        })?;
        Some((context.person(&stated.person), decision.reason.clone()))
    }

    /// Whether a decision was made with all of it known. What is typed later was not known before, whenever it was done.
    fn knows(&self, folded: &Folded, decision: &Stated) -> bool {
        let known = self.told_by.iter().all(|seq| decision.seq > *seq);
        known && self.is_since(folded, decision)
    }
}

/// The decisions of a point.
fn decisions<'a>(
    folded: &'a Folded,
    point: &'static str,
) -> impl DoubleEndedIterator<Item = (&'a Stated, &'a Decision)> {
    folded.each::<Decision>().filter(move |(_, decision)| decision.point == point)
}

/// Whether fluid goes in or out with it.
pub(crate) fn moves(fact: &Fact) -> bool {
    match fact {
        Fact::ExchangeReading(reading) => !reading.pushed_in.is_zero(),
        Fact::Fill(_) => true,
        other => opens_pan(other),
    }
}

/// The look at a container that tells which fluid went in: the last before, else the first afterwards.
fn looked_at<'a>(
    looks: &[(&'a Stated, &'a PartChecked)],
    worked: &Stated,
) -> Option<(&'a Stated, &'a PartChecked)> {
    last_before(looks.iter().copied(), worked).or_else(|| {
        let mut looks = looks.iter().copied();
        let first = looks.next()?;
        Some(looks.fold(first, |first, look| if first.0.is_after(look.0) { look } else { first }))
    })
}

/// Where the variant was first settled as it is now.
fn settled_first(folded: &Folded) -> Option<u64> {
    let (_, last) = folded.last::<VariantSettled>()?;
    let mut same = folded.each::<VariantSettled>().filter(|(_, it)| same_code(&it.code, &last.code));
    same.next().map(|(stated, _)| stated.said_seq)
}

/// The steps of the litre counter, in its order.
fn steps(folded: &Folded) -> Vec<Step<'_>> {
    let readings = folded.each::<ExchangeReading>();
    let mut readings: Vec<(&Stated, f64)> =
        readings.map(|(stated, reading)| (stated, litres(&reading.pushed_in))).collect();
    readings.sort_by(|(one, one_litres), (other, other_litres)| {
        one_litres.total_cmp(other_litres).then(one.seq.cmp(&other.seq))
    });
    let mut reached = 0.0;
    let step = |(stated, litres): (_, f64)| {
        let from = reached;
        if litres - from >= COUNTER_STEP {
            reached = litres;
        }
        Step { stated, from, to: reached }
    };
    readings.into_iter().map(step).collect()
}

/// Litres as they are poured in the bay.
fn as_litres(context: &Context<'_>, code: &str, amount: &Amount) -> f64 {
    match amount.read() {
        Read::Litres(litres) => litres,
        Read::Kilograms(kilograms) => weighed_litres(context.revision, code, None, kilograms),
    }
}
