//! May a step begin? Yes, or every reason against, all at once.
//!
//! What each gate needs is one declarative table. A go-ahead rests on the entries up to its own
//! time and ends with the next one; nothing here is stored. So far the gates exchange and refill
//! are known, and both need the settled variant and the right fluid in the container.

use crate::job::{Context, Folded, Identity, Recorded, fold};
use crate::kind::closing::Closing;
use crate::kind::drain::Drain;
use crate::kind::exchange_reading::ExchangeReading;
use crate::kind::fill::Fill;
use crate::kind::words::{DrainedFrom, FillPurpose};
use crate::text::{Sentence, sentence};
use crate::view::{LevelView, OpenPoint};

/// A gate that a station can ask about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Gate {
    /// Pushing new fluid in while the old comes out.
    Exchange,
    /// Refilling after the pan.
    Refill,
}

impl Gate {
    /// All gates, in the order of the work.
    pub const ALL: &'static [Self] = &[Self::Exchange, Self::Refill];

    /// The gate of this name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|gate| gate.name() == name)
    }

    /// Name of the gate.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Exchange => "exchange",
            Self::Refill => "refill",
        }
    }
}

/// Something that a gate needs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Need {
    /// The variant is settled and its fluid is known.
    SettledVariant,
    /// The container of the fresh fluid was compared with the variant.
    FluidCompared,
    /// No code contradicts the variant; there is no override.
    NoContradiction,
}

/// THE table: which gate needs what, in the order in which a person would do it.
const NEEDS: &[(Gate, &[Need])] = &[
    (Gate::Exchange, &[Need::NoContradiction, Need::SettledVariant, Need::FluidCompared]),
    (Gate::Refill, &[Need::NoContradiction, Need::SettledVariant, Need::FluidCompared]),
];

/// The answer of a gate.
#[derive(Debug, Clone, PartialEq)]
pub struct GoAhead {
    /// True: the step may begin.
    pub yes: bool,
    /// Every reason against; empty with yes.
    pub missing: Vec<Missing>,
    /// What a yes rests on.
    pub basis: Vec<Sentence>,
    /// The usual cautions for this step, whatever the answer.
    pub cautions: Vec<Sentence>,
}

/// One reason against.
#[derive(Debug, Clone, PartialEq)]
pub struct Missing {
    /// The sentence.
    pub text: Sentence,
    /// True when nobody can override it.
    pub stops: bool,
}

/// Asks a gate.
#[must_use]
pub fn may(context: &Context<'_>, entries: &[Recorded<'_>], gate: Gate) -> GoAhead {
    let folded = fold::fold(context, entries);
    let identity = Identity::of(context, &folded);
    let mut missing = missing(&identity, gate);
    if folded.last::<Closing>().is_some() {
        missing.push(Missing { text: sentence::gate_job_closed(), stops: false });
    }
    let basis = if missing.is_empty() { basis(&identity) } else { Vec::new() };
    GoAhead { yes: missing.is_empty(), missing, basis, cautions: cautions(gate) }
}

/// The usual cautions for the work behind a gate.
fn cautions(gate: Gate) -> Vec<Sentence> {
    let mut cautions = match gate {
        Gate::Exchange => vec![sentence::caution_line(), sentence::caution_engine()],
        Gate::Refill => vec![sentence::caution_hot_fluid(), sentence::caution_skin()],
    };
    cautions.push(sentence::caution_maker());
    cautions
}

/// Everything that a gate lacks of vehicle, variant and fluid.
pub(crate) fn missing(identity: &Identity, gate: Gate) -> Vec<Missing> {
    let needs = NEEDS.iter().filter(|(of, _)| *of == gate).flat_map(|(_, needs)| needs.iter());
    needs.flat_map(|need| lacking(identity, *need)).collect()
}

fn lacking(identity: &Identity, need: Need) -> Vec<Missing> {
    match need {
        Need::NoContradiction => {
            let stops = identity.contradictions.iter();
            stops.map(|contradiction| Missing { text: contradiction.text.clone(), stops: true }).collect()
        }
        Need::SettledVariant => {
            identity.open.iter().map(|text| Missing { text: text.clone(), stops: false }).collect()
        }
        Need::FluidCompared => {
            let fluid = identity.variant.as_ref().and_then(|variant| variant.fluid.as_ref());
            match fluid {
                // Asking to read the container again would hide that it was read and is wrong.
                Some((_, name)) if !identity.fluid_agrees && !identity.container_contradicts => {
                    vec![Missing { text: sentence::gate_fluid_not_compared(name), stops: false }]
                }
                _ => Vec::new(),
            }
        }
    }
}

fn basis(identity: &Identity) -> Vec<Sentence> {
    let Some(variant) = &identity.variant else { return Vec::new() };
    let mut basis = vec![sentence::gate_basis_variant(&variant.label)];
    basis.extend(variant.fluid.as_ref().map(|(_, name)| sentence::gate_basis_fluid(name)));
    basis
}

/// What is still to be done, in the order of the work; each point names the gate that waits for it.
pub(crate) fn open_points(folded: &Folded, identity: &Identity, level: &LevelView) -> Vec<OpenPoint> {
    if folded.last::<Closing>().is_some() {
        return Vec::new();
    }
    let mut points = Vec::new();
    let mut point = |gate: &'static str, text: Sentence| points.push(OpenPoint { gate, text });
    for missing in missing(identity, Gate::Exchange) {
        point(Gate::Exchange.name(), missing.text);
    }
    let drained = folded.each::<Drain>().any(|(_, drain)| drain.place == Some(DrainedFrom::Pan));
    let refilled = folded.each::<Fill>().any(|(_, fill)| fill.purpose == Some(FillPurpose::Refill));
    let mut exchange = folded.each::<ExchangeReading>().peekable();
    let begun = exchange.peek().is_some();
    let ended = exchange.any(|(_, reading)| reading.last);
    if begun && !ended && !drained {
        point("pan", sentence::open_exchange_not_ended());
    }
    if drained && !refilled {
        point(Gate::Refill.name(), sentence::open_refill());
    }
    if !level.attempts.iter().any(|attempt| attempt.valid) {
        point("level", sentence::open_level());
    }
    point("close", sentence::open_close());
    points
}
